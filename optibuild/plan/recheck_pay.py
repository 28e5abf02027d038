"""What drivers are paid, event by event as on a pay slip, and whether there are enough of them."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf

from optibuild.plan.recheck_margins import Margin, at_most
from optibuild.plan.recheck_tasks import whole_up
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Event


@dataclass(frozen=True)
class Slip:
    """What is paid for one truck's driving in one event: minutes by the clock, and money."""

    minutes: float
    usd: float


def slip(unit: Mounted, event: Event, worked_min: float, case: Case) -> Slip:
    """The slip of a truck that worked, drove and reloaded so many minutes: a hired one's rate for these; else
    wages for them, for getting ready, and for part of the idle rest, dearer by the share of overtime."""
    rate = unit.truck.hired_usd_per_min
    if rate is not None:
        return Slip(worked_min, worked_min * rate)
    money, shifts = case.money, drivers_in_turn(event, case)
    idle_share = 1.0 if money.paid == "storm" else money.standby
    minutes = (worked_min + idle_share * (event.duration_min - worked_min)
               + shifts * case.crew.start_minutes_min)
    on_duty = event.duration_min / shifts + case.crew.start_minutes_min
    late = max(0.0, on_duty - money.overtime_after_min) / on_duty
    wage = money.wage_usd_per_min + money.burden * money.wage_usd_per_min
    return Slip(minutes, wage * (minutes + late * minutes * money.overtime))


def drivers_in_turn(event: Event, case: Case) -> int:
    """Drivers of one truck in an event, none of them on longer than a shift."""
    shift = case.crew.shift_min
    return 1 if isinf(shift) else whole_up(event.duration_min / shift)


def driver_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """No more trucks are out than there are drivers for, in the event that takes most of them."""
    most = max((drivers_in_turn(event, case) for event in case.season if event.count > 0), default=1)
    yield at_most(len(units) * most, case.crew.drivers, "trucks")

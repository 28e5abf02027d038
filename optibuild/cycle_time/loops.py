"""One loop in a given order of stops: when it arrives and leaves, and where it best reloads."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from optibuild.cycle_time.reach import FILL_TOLERANCE, TIME_TOLERANCE_MIN
from optibuild.records.build import Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import ServiceTimes


@dataclass(frozen=True)
class LoopTimes:
    """The first round of a loop. `reloads` counts the one it ends with; `reload_min` are their fixed minutes
    (minutes by mass are part of the stops). `slack_min` is what the clock leaves beside the reserve."""

    arrive_min: tuple[float, ...]
    leave_min: tuple[float, ...]
    reload_before: tuple[bool, ...]
    duration_min: float
    drive_min: float
    reload_min: float
    distance_m: float
    reloads: int
    slack_min: float

    @property
    def meets_cycle_limit(self) -> bool:
        """Whether duration and reserve fit in the clock; equal is feasible."""
        return self.slack_min >= -TIME_TOLERANCE_MIN


@dataclass(frozen=True)
class Order:
    """An order of stops as plain numbers: places, minutes, material, deadlines; and the depot."""

    places: tuple[int, ...]
    minutes: tuple[float, ...]
    material_kg: tuple[float, ...]
    deadline_min: tuple[float, ...]
    depot: int
    reload_min: float
    fill_kg: float


def evaluate_loop(
    case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int, stops: Sequence[int]
) -> LoopTimes | None:
    """The least duration of a loop that makes these stops (indices into times.stops) in this order.

    `crewed` and `clock` index the axes C and K. None where no choice of reloads keeps fill and deadlines, or
    where a stop is impossible for the build; a loop longer than its clock has a negative slack.
    """
    order = _order(case, builds, times, crewed, clock, stops)
    before = least_reloads(order, times.travel.minutes)
    if before is None:
        return None
    return _walk(order, before, times, float(times.clocks_min[clock]) - case.solve.reserve_min)


def _order(
    case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int, stops: Sequence[int]
) -> Order:
    depot, sites = int(times.depot[crewed]), [times.stops[stop].site for stop in stops]
    return Order(
        tuple(len(case.depots) + site for site in sites),
        tuple(float(times.minutes[crewed, clock, stop]) for stop in stops),
        tuple(float(times.material_kg[stop]) for stop in stops),
        tuple(case.sites[site].deadline_min for site in sites), depot, case.depots[depot].reload_time_min,
        float(builds.usable_fill_kg[times.build[crewed]]),
    )


def least_reloads(order: Order, drive: Floats) -> tuple[bool, ...] | None:
    """Before which stops to reload so that the loop ends earliest; None where no way keeps its promises.

    Exact: for each stop that a reload may have come just before, the earliest leaving of every later stop;
    after a reload the truck is full, so nothing earlier matters but the time.
    """
    # what is known of each way so far: when it leaves, material used since it was full, where it reloaded
    best: list[tuple[float, float, tuple[bool, ...]]] = [(0.0, 0.0, ())]
    here = order.depot
    for n, place in enumerate(order.places):
        straight = [(leave + drive[here, place], used, (*before, False)) for leave, used, before in best]
        if n:
            leave, _, before = min(best)
            detour = drive[here, order.depot] + order.reload_min + drive[order.depot, place]
            straight.append((leave + detour, 0.0, (*before, True)))
        best = [
            (arrive + order.minutes[n], used + order.material_kg[n], before)
            for arrive, used, before in straight
            if used + order.material_kg[n] <= order.fill_kg * (1 + FILL_TOLERANCE)
            and arrive + order.minutes[n] <= order.deadline_min[n] + TIME_TOLERANCE_MIN
            and arrive + order.minutes[n] < inf
        ]
        if not best:
            return None
        here = place
    return min(best)[2]


def _walk(order: Order, before: tuple[bool, ...], times: ServiceTimes, available_min: float) -> LoopTimes:
    """Arrive and leave times of an order with its reloads."""
    drive, metres = times.travel.minutes, times.travel.metres
    clock = driven = distance = 0.0
    here, arrive, leave = order.depot, [], []
    for place, minutes, reload in zip(order.places, order.minutes, before, strict=True):
        way = ((here, order.depot), (order.depot, place)) if reload else ((here, place),)
        driven += sum(float(drive[leg]) for leg in way)
        distance += sum(float(metres[leg]) for leg in way)
        clock += sum(float(drive[leg]) for leg in way) + (order.reload_min if reload else 0.0)
        arrive.append(clock)
        clock += minutes
        leave.append(clock)
        here = place
    driven += float(drive[here, order.depot])
    distance += float(metres[here, order.depot])
    last = 1 if sum(order.material_kg) > 0 else 0
    duration = clock + float(drive[here, order.depot]) + last * order.reload_min
    reloads = sum(before) + last
    return LoopTimes(
        tuple(arrive), tuple(leave), before, duration, driven, reloads * order.reload_min, distance, reloads,
        available_min - duration,
    )

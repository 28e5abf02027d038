"""What a plan withstands with its loops as they are: heavier snowfall, wetter snow, slower roads, heavier
catalog weights. How far each may go, and what breaks first."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from optibuild.pipeline import verdicts
from optibuild.records import AxleLoads, Case, ChosenLoop, LoopTimes
from optibuild.records.drill import BrokenPromise, Endurance
from optibuild.stressing import At, at_clock, drive, wetter
from optibuild.written import Written

NOISE_MIN, NOISE = 1e-6, 1e-9
"""Minutes, and share of a rating, by which a limit may be missed."""
ICE_KG_PER_M3 = 917.0
"""Density beyond which there is no snow."""
PERCENT = 0.01


@dataclass(frozen=True)
class Change:
    """One way in which a winter or a catalog may be worse than planned.

    `make` gives the case changed by a share, `step` is the share that is always told, `most` the greatest
    tried for a case.
    """

    name: str
    step: float
    most: Callable[[Case], float]
    make: Callable[[Case, float], Case]


def heavier_snowfall(case: Case, share: float) -> Case:
    """More snow an hour by a share."""
    storm = case.storm
    return replace(case, storm=replace(
        storm, snowfall_rate_m_per_min=storm.snowfall_rate_m_per_min * (1.0 + share)))


def wetter_snow(case: Case, share: float) -> Case:
    """Denser snow by a share."""
    return wetter(case, case.storm.snow_density_kg_per_m3 * (1.0 + share))


def slower_travel(case: Case, share: float) -> Case:
    """Every drive at a speed lower by a share: over the ground, and by the table's times."""
    storm = case.storm
    return replace(case, storm=replace(
        storm, travel_speed_m_per_min=storm.travel_speed_m_per_min * (1.0 - share),
        slowdown=(1.0 + storm.slowdown) / (1.0 - share) - 1.0))


def heavier_items(case: Case, share: float) -> Case:
    """Curb weight, plow, empty spreader and ballast heavier by a share; people and material as they are."""
    by = 1.0 + share
    return replace(
        case,
        trucks=tuple(replace(row, curb_front_kg=row.curb_front_kg * by, curb_rear_kg=row.curb_rear_kg * by)
                     for row in case.trucks),
        plows=tuple(replace(row, blade_mass_kg=row.blade_mass_kg * by, mount_mass_kg=row.mount_mass_kg * by)
                    for row in case.plows),
        spreaders=tuple(replace(row, empty_mass_kg=row.empty_mass_kg * by) for row in case.spreaders),
        ballast=tuple(replace(row, unit_mass_kg=row.unit_mass_kg * by) for row in case.ballast))


WEIGHTS = "catalog weights"
CHANGES = (
    Change("snowfall rate", 0.25, lambda case: 3.0, heavier_snowfall),
    Change("snow density", 0.50,
           lambda case: min(3.0, max(0.0, ICE_KG_PER_M3 / case.storm.snow_density_kg_per_m3 - 1.0)),
           wetter_snow),
    Change("travel speed", 0.20, lambda case: 0.9, slower_travel),
    Change(WEIGHTS, 0.03, lambda case: 0.5, heavier_items),
)


def endurance(written: Written) -> tuple[Endurance, ...]:
    """How much of each change the plan withstands."""
    return tuple(_endurance(written, change) for change in CHANGES)


def _endurance(written: Written, change: Change) -> Endurance:
    """The greatest whole percent at which all promises hold, found by halving: every margin falls with the
    change or breaks on one side of it only."""
    def breaks(percent: int) -> tuple[BrokenPromise, ...]:
        return broken(written, change, percent * PERCENT)

    tried = int(change.most(written.made.case) / PERCENT + NOISE)
    step = min(change.step, tried * PERCENT)
    at_step = broken(written, change, step)
    if not breaks(tried):
        return Endurance(change.name, tried * PERCENT, tried * PERCENT, None, step, at_step)
    holds, fails = 0, tried
    while fails - holds > 1:
        middle = (holds + fails) // 2
        holds, fails = (holds, middle) if breaks(middle) else (middle, fails)
    return Endurance(change.name, holds * PERCENT, tried * PERCENT, breaks(fails)[0], step, at_step)


def broken(written: Written, change: Change, share: float) -> tuple[BrokenPromise, ...]:
    """Every promise that the plan's loops or builds break in the changed case, the worst share over first."""
    case = change.make(written.made.case, share)
    found = overloads(written, case) if change.name == WEIGHTS else late_loops(written, case)
    return tuple(sorted(found, key=lambda row: (-row.over / max(row.limit, NOISE), row.truck_no, row.at)))


def late_loops(written: Written, case: Case) -> list[BrokenPromise]:
    """Promises of time that the loops break in a changed case.

    A loop holds the clock it was planned with, or a longer one that all its stops allow, where that is
    better: it may then come round as rarely, and more snow lies.
    """
    at: dict[float, At] = {}
    found: list[BrokenPromise] = []
    for n, loop in enumerate(written.choice.loops):
        ways = []
        for clock in _clocks(written, loop):
            if clock not in at:
                at[clock] = at_clock(written, case, clock)
            ways.append(_late(written, n, loop, clock, drive(written, at[clock], loop)))
            if not ways[-1]:
                break
        found += min(ways, key=lambda rows: max((row.over for row in rows), default=0.0))
    return found


def _limits(written: Written, loop: ChosenLoop) -> list[float]:
    """The cycle limit of every stop of a loop; inf where it waits for the last round."""
    made = written.made
    return (made.problem.stop_limit_min[list(loop.stops)] + made.case.solve.reserve_min).tolist()


def _clocks(written: Written, loop: ChosenLoop) -> list[float]:
    """The clocks that a loop may hold, its own first and then the longer ones."""
    own = float(written.made.times.clocks_min[loop.clock])
    most = max(own, min(_limits(written, loop), default=own))
    return [clock for clock in written.made.times.clocks_min.tolist() if own <= clock <= most + NOISE_MIN]


def _late(written: Written, n: int, loop: ChosenLoop, clock: float, driven: LoopTimes) -> list[BrokenPromise]:
    """What a loop driven at a clock breaks."""
    truck, limits = written.plan.trucks[n].truck_no, _limits(written, loop)
    sites = [written.made.case.sites[written.made.times.stops[s].site] for s in loop.stops]
    rows = [("cycle limit", sites[int(np.argmin(limits))].id, clock, driven.duration_min)]
    rows += [("deadline", site.id, site.deadline_min, leave)
             for site, leave in zip(sites, driven.leave_min, strict=True) if leave is not None]
    if driven.end is not None:
        waiting = [site for site, s in zip(sites, loop.stops, strict=True) if _waits(written, s)]
        first = min(waiting, key=lambda site: site.end_within_min)
        rows.append(("end round", first.id, first.end_within_min, driven.end.duration_min))
    return [BrokenPromise(promise, truck, at, limit, minutes - limit, "min")
            for promise, at, limit, minutes in rows if minutes - limit > NOISE_MIN]


def _waits(written: Written, stop: int) -> bool:
    """Whether some work of a stop waits for the last round."""
    end = written.made.times.end
    return end is not None and isfinite(end.limit_min[stop])


def overloads(written: Written, case: Case) -> list[BrokenPromise]:
    """Promises of weight that the builds break in a changed case, with the ballast and fill they have."""
    rows = [int(written.made.times.build[loop.crewed]) for loop in written.choice.loops]
    told = verdicts(case, written.made.builds, sorted(set(rows)))
    return [one for n, row in enumerate(rows) for one in _overloaded(written, case, n, told[row].axle_loads)]


def _overloaded(written: Written, case: Case, n: int,
                loads: tuple[AxleLoads, ...]) -> Iterator[BrokenPromise]:
    """What one truck breaks: of each rating the corner that is over most, and each site too weak for it."""
    planned = written.plan.trucks[n]
    worst: dict[str, BrokenPromise] = {}
    for row in loads:
        for promise, limit, load, unit in _ratings(case, planned.truck, planned.plow is not None, row):
            over = load - limit if not promise.startswith("min") else limit - load
            if over > NOISE * limit and (promise not in worst or over > worst[promise].over):
                worst[promise] = BrokenPromise(promise, planned.truck_no, f"{row.state}, {row.crew}", limit,
                                               over, unit)
    yield from worst.values()
    gross = max(row.gross_kg for row in loads)
    sites = {site.id: site for site in case.sites}
    for name in sorted({stop.site for stop in planned.loop.stops}):
        most = sites[name].most_gross_kg
        if gross - most > NOISE * (most if isfinite(most) else 0.0):
            yield BrokenPromise("access: gross", planned.truck_no, name, most, gross - most, "kg")


def _ratings(case: Case, truck_id: str, has_plow: bool,
             row: AxleLoads) -> Iterator[tuple[str, float, float, str]]:
    """Every rating of a truck with its limit and its load in one state: kilograms, or shares of the weight.

    The least rear share is asked of the driver alone, the hopper at its emptiest, the plow raised.
    """
    truck = next(one for one in case.trucks if one.id == truck_id)
    limits = case.fit
    yield "front GAWR", truck.gawr_front_kg, row.front_kg, "kg"
    yield "rear GAWR", truck.gawr_rear_kg, row.rear_kg, "kg"
    yield "GVWR", truck.gvwr_kg, row.gross_kg, "kg"
    yield "front tire capacity", truck.tire_capacity_front_kg, row.front_kg, "kg"
    yield "rear tire capacity", truck.tire_capacity_rear_kg, row.rear_kg, "kg"
    yield "min front share", limits.min_front_share, row.front_kg / row.gross_kg, "share"
    if limits.max_front_share is not None:
        base = row.gross_kg if limits.front_share_of == "gross" else truck.curb_kg
        yield "max front share", limits.max_front_share, row.front_kg / base, "share"
    plow = "raised" if has_plow else "off"
    lightest = (f"{plow} empty", f"{plow} retained, ballast out")
    if limits.min_rear_share is not None and row.crew == "driver" and row.state in lightest:
        yield "min rear share", limits.min_rear_share, row.rear_kg / row.gross_kg, "share"

"""A written plan back to the arrays of the case it was made from: its builds, loops and items."""

from collections.abc import Callable

import numpy as np

from optibuild.cycle_time.clocks import SAME_MIN
from optibuild.cycle_time.earlier_loops import finder, kept_stops, same_builds
from optibuild.records.build import Builds, Ints
from optibuild.records.case import Case
from optibuild.records.loop import Choice, ChosenLoop, ServiceTimes
from optibuild.records.plan import Plan, PlannedStop, PlannedTruck

TABLES = ("trucks", "plows", "spreaders", "ballast")
"""Tables of items in the order of the item axis."""


def planned_builds(case: Case, builds: Builds, plan: Plan) -> Ints:
    """The fitting builds of the trucks, plows and spreaders that a plan puts together, F of them, by index
    [F]."""
    used = {truck.build for truck in plan.trucks}
    trucks = {truck.truck for truck in plan.trucks}
    index = [k for k, truck in enumerate(case.trucks) if truck.id in trucks]
    rows = builds.fitting[np.isin(builds.truck[builds.fitting], index)]
    return np.array([b for b in rows.tolist() if builds.name(b) in used], dtype=np.int64)


def planned_choice(case: Case, builds: Builds, times: ServiceTimes, plan: Plan) -> Choice:
    """What the program chose when it made a plan of this very case. ValueError where a loop is not there."""
    find = finder(case, times, plan)
    loops = tuple(_loop(case, builds, times, truck, find) for truck in plan.trucks)
    rows = {(row.table, row.id): row for row in plan.items}
    found = [rows.get((table, item.id)) for table in TABLES for item in getattr(case, table)]
    return Choice(loops, tuple(n for n, site in enumerate(plan.sites) if not site.served),
                  np.array([row.bought if row else 0 for row in found], dtype=np.int64),
                  np.array([row.owned_used if row else 0 for row in found], dtype=np.int64))


def _loop(case: Case, builds: Builds, times: ServiceTimes, truck: PlannedTruck,
          find: Callable[[PlannedStop], int | None]) -> ChosenLoop:
    kept = kept_stops(times, truck.loop.stops, find)
    crewed = same_builds(case, builds, times, truck)
    clock = np.flatnonzero(np.abs(times.clocks_min - truck.loop.cycle_limit_min) <= SAME_MIN)
    if not kept.whole or not crewed or not clock.size:
        raise ValueError(f"truck {truck.truck_no} of the plan is none of this case")
    return ChosenLoop(crewed[0], int(clock[0]), kept.stops, kept.reload_before,
                      () if times.end is None else kept.end_reload_before)

"""Loops of an earlier plan that can still be driven, though the tables may have changed since."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time.clocks import SAME_MIN
from optibuild.cycle_time.loops import drive_loop, evaluate_loop
from optibuild.cycle_time.visits import stop_limit_min
from optibuild.records.build import NONE, Builds
from optibuild.records.case import Case
from optibuild.records.catalog import Depot, Item
from optibuild.records.loop import ChosenLoop, ServiceTimes
from optibuild.records.loop_times import LoopTimes
from optibuild.records.plan import Plan, PlannedStop, PlannedTruck

GONE = -2
"""Index of what an earlier plan used and the case no longer has: no build has it."""


@dataclass(frozen=True)
class Kept:
    """What is left of an earlier loop: its stops that are still there and the reloads before them, [n] each.

    `whole` says that none is gone; where one is, the reloads may have lost their sense.
    """

    stops: tuple[int, ...]
    reload_before: tuple[bool, ...]
    end_reload_before: tuple[bool, ...]
    whole: bool


def earlier_loops(
    case: Case, builds: Builds, times: ServiceTimes, earlier: Plan
) -> tuple[tuple[ChosenLoop, ...], ...]:
    """For each truck of an earlier plan its loop as this case allows it, once for every build that is the
    same; none where its build or all its stops are gone, or a limit would be broken now.

    Builds are the same by the ids of what they are made of, the number of ballast units and the depot. A loop
    keeps those of its stops that are still there, each with the share of its site that it had (rounded up to
    whole parcels). It keeps its clock, or else takes the longest at which it breaks no limit.
    """
    find = finder(case, times, earlier)
    return tuple(tuple(_loops(case, builds, times, truck, kept_stops(times, truck.loop.stops, find)))
                 for truck in earlier.trucks)


def finder(case: Case, times: ServiceTimes, earlier: Plan) -> Callable[[PlannedStop], int | None]:
    """Gives the stop that an earlier one is now, None where it is gone."""
    stops: dict[tuple[str, str, int], int] = {
        (case.sites[stop.site].id, stop.work, stop.parcels): s for s, stop in enumerate(times.stops)}
    now = {site.id: int(parcels) for site, parcels in zip(case.sites, times.parcels, strict=True)}
    then = {row.id: row.parcels for row in earlier.sites if row.parcels > 0}

    def find(stop: PlannedStop) -> int | None:
        parcels = now.get(stop.site, 1)
        up = -(-stop.parcels * parcels // then.get(stop.site, parcels))
        return stops.get((stop.site, stop.work, up))

    return find


def kept_stops(times: ServiceTimes, stops: Sequence[PlannedStop],
          find: Callable[[PlannedStop], int | None]) -> Kept:
    """The stops that are still there, at each site the first."""
    kept: dict[int, tuple[int, bool, bool]] = {}
    for stop in stops:
        s, before = find(stop), stop.reload_before
        if s is not None:
            at_end = before if stop.end_reload_before is None else stop.end_reload_before
            kept.setdefault(times.stops[s].site, (s, before, at_end))
    rows = tuple(kept.values())
    return Kept(tuple(row[0] for row in rows), tuple(row[1] for row in rows), tuple(row[2] for row in rows),
                len(rows) == len(stops))


def _loops(case: Case, builds: Builds, times: ServiceTimes, truck: PlannedTruck,
           kept: Kept) -> Iterator[ChosenLoop]:
    """The loop with each build that is the truck's, at the first clock at which it breaks no limit."""
    if not kept.stops:
        return
    clocks = _clocks(case, times, truck.loop.cycle_limit_min, kept.stops)
    for crewed in same_builds(case, builds, times, truck):
        loops = (_loop(case, builds, times, crewed, clock, kept) for clock in clocks)
        found = next((loop for loop in loops if loop is not None), None)
        if found is not None:
            yield found


def same_builds(case: Case, builds: Builds, times: ServiceTimes, truck: PlannedTruck) -> list[int]:
    """The crewed builds made of what the truck was made of, at its depot."""
    ballast = truck.ballast[0] if truck.ballast else None
    b = times.build
    same = [builds.truck[b] == _row(case.trucks, truck.truck), builds.plow[b] == _row(case.plows, truck.plow),
            builds.spreader[b] == _row(case.spreaders, truck.spreader),
            builds.kit[b] == _row(case.ballast, ballast.id if ballast else None),
            builds.units[b] == (ballast.count if ballast else 0),
            times.depot == _row(case.depots, truck.depot)]
    return np.flatnonzero(np.all(same, axis=0)).tolist()


def _row(rows: Sequence[Item] | Sequence[Depot], name: str | None) -> int:
    """Where an id stands in its table; NONE for none."""
    return NONE if name is None else next((k for k, row in enumerate(rows) if row.id == name), GONE)


def _clocks(case: Case, times: ServiceTimes, was_min: float, stops: Sequence[int]) -> list[int]:
    """The clocks of loops in which all these stops may ride: the one that it had, then the longest first."""
    rows = [times.stops[s] for s in stops]
    limit = min(stop_limit_min(case.sites[row.site], row.work) for row in rows)
    allowed: list[int] = np.flatnonzero(times.clocks_min <= limit).tolist()
    return sorted(allowed, key=lambda k: (abs(times.clocks_min[k] - was_min) > SAME_MIN, -k))


def _loop(case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int,
          kept: Kept) -> ChosenLoop | None:
    """The loop at a clock, with its own reloads where these break no limit, else with those by which it is
    over first; None where a limit is broken all the same."""
    if not times.possible()[crewed, clock, list(kept.stops)].all():
        return None
    own = ChosenLoop(crewed, clock, kept.stops, kept.reload_before,
                     () if times.end is None else kept.end_reload_before)
    if kept.whole and _keeps_limits(drive_loop(case, builds, times, own)):
        return own
    best = evaluate_loop(case, builds, times, crewed, clock, kept.stops)
    if best is None or not _keeps_limits(best):
        return None
    last = best.reload_before if best.end is None else best.end.reload_before
    return ChosenLoop(crewed, clock, kept.stops, best.reload_before, () if times.end is None else last)


def _keeps_limits(driven: LoopTimes) -> bool:
    """Whether nothing is over: the limit of which the least share is left has some left, or just none."""
    return driven.binds.left >= 0.0

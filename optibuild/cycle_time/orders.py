"""The best order of a set of stops: every order is driven, or shown to be no better before it is whole."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from heapq import heappop, heappush
from itertools import product
from math import inf
from operator import le
from typing import NamedTuple

import numpy as np

from optibuild.cycle_time.loops import START, Round, Way, loop_times, onward, rounds_of
from optibuild.cycle_time.out_of_reach import TOOLS, out_of_reach
from optibuild.cycle_time.parcels import single_parcels
from optibuild.cycle_time.reach import TIME_TOLERANCE_MIN, setting_of
from optibuild.cycle_time.rests import Outlook, members, outlook
from optibuild.cycle_time.visits import stop_limit_min
from optibuild.errors import UsageError
from optibuild.records.build import Builds
from optibuild.records.case import Case
from optibuild.records.loop import ServiceTimes
from optibuild.records.loop_times import LoopReport, LoopTimes
from optibuild.records.shortfall import OutOfReach

MOST_EXACT = 12
"""Stops of which the best order is found: one more takes two to three times the time."""
SAME_DECIMALS = 9
"""Durations that agree to so many decimals of a minute are the same: noise does not choose."""


class Part(NamedTuple):
    """A loop so far: what each kind of round takes at least when it is whole [min], the stops made in their
    order, the set of those left, and the way of each round."""

    at_least_min: tuple[float, ...]
    order: tuple[int, ...]
    left: int
    ways: tuple[Way, ...]


Found = tuple[tuple[int, ...], tuple[tuple[bool, ...], ...]]
"""An order, and before which of its stops each kind of round reloads."""
Seen = defaultdict[tuple[int, ...], list[tuple[float, ...]]]
"""By the stops left and the place of each round: when parts got there and what they had used."""


def shortest(rounds: Sequence[Round]) -> Found | None:
    """The order and reloads with the shortest repeated round, and of those the one with the shortest last
    round.

    Exact over every order and every choice of reloads that keep fill, deadlines and the time of each round;
    None where none does. Of the parts of loops, the one that may become the shortest is driven on, so the
    first whole one is best. Of two parts with the same stops left and in the same places, one that is nowhere
    earlier and has nowhere used less cannot win. Raises UsageError beyond MOST_EXACT stops.
    """
    count = len(rounds[0].visits)
    if count > MOST_EXACT:
        raise UsageError(f"the best order is found for at most {MOST_EXACT} stops, and {count} are asked for")
    views, seen = [outlook(one) for one in rounds], Seen(list)
    parts = [Part((), (), (1 << count) - 1, (START,) * len(rounds))]
    while parts:
        part = heappop(parts)
        if not part.left:
            return part.order, tuple(way.reload_before for way in part.ways)
        for further in _driven_on(rounds, views, part, seen):
            heappush(parts, further)
    return None


def _driven_on(rounds: Sequence[Round], views: Sequence[Outlook], part: Part, seen: Seen) -> Iterator[Part]:
    """The part with one more stop, in every way that is not beaten and can still keep all limits."""
    for stop in members(part.left):
        left = part.left ^ (1 << stop)
        for ways in product(*(onward(one, way, stop) for one, way in zip(rounds, part.ways, strict=True))):
            if _beaten(left, ways, seen):
                continue
            whole = tuple(view.least_min(left, way) for view, way in zip(views, ways, strict=True))
            if max(whole) < inf:
                yield Part(tuple(round(least, SAME_DECIMALS) for least in whole), (*part.order, stop), left,
                           ways)


def _beaten(left: int, ways: tuple[Way, ...], seen: Seen) -> bool:
    """Whether a part seen before is as good; one that is not beaten is seen from now on."""
    spent = tuple(figure for way in ways for figure in (way.leave_min, way.used_kg))
    others = seen[left, *(way.here for way in ways)]
    if any(all(map(le, other, spent)) for other in others):
        return True
    others[:] = [other for other in others if not all(map(le, spent, other))] + [spent]
    return False


def loop_report(
    case: Case, builds: Builds, times: ServiceTimes, build: int, sites: Sequence[str]
) -> LoopReport:
    """The best loop of one build, by index, over whole sites, by id, each with all works that it asks for.

    It holds the longest clock within their cycle limits at which all limits are kept (less snow falls in a
    shorter one), or the longest there is, and starts at the depot from which it is shortest. Raises
    UsageError beyond MOST_EXACT sites.
    """
    index = {site.id: n for n, site in enumerate(case.sites)}
    stops = [_whole_site(case, times, index[site]) for site in dict.fromkeys(sites)]
    limit = min(stop_limit_min(case.sites[times.stops[s].site], times.stops[s].work) for s in stops)
    longest = int(np.searchsorted(times.clocks_min, limit + TIME_TOLERANCE_MIN, side="right")) - 1
    first: LoopReport | None = None
    for clock in range(longest, -1, -1):
        report, keeps_all = _at_clock(case, builds, times, build, clock, stops)
        if keeps_all:
            return report
        first = first if first and first.loop else report if report.loop or not first else first
    assert first is not None
    if first.loop:
        return first
    away = _out_of_reach(case, builds, build, float(times.clocks_min[longest])) if builds.fits[build] else ()
    return LoopReport(build, longest, None, None, tuple(row for row in away if row.site in sites))


def _at_clock(
    case: Case, builds: Builds, times: ServiceTimes, build: int, clock: int, stops: Sequence[int]
) -> tuple[LoopReport, bool]:
    """The best loop of these stops at a clock, from any depot, and whether it keeps all limits."""
    found = [(*tried, crewed) for crewed in np.flatnonzero(times.build == build).tolist()
             if (tried := _from_depot(case, builds, times, crewed, clock, stops)) is not None]
    if not found:
        return LoopReport(build, clock, None, None, ()), False
    against, loop, crewed = min(found, key=lambda one: one[0])
    return LoopReport(build, clock, crewed, loop, ()), against[0] == 0 and loop.in_time


def _whole_site(case: Case, times: ServiceTimes, n: int) -> int:
    """The stop that does all parcels of a site with all its works."""
    return next(s for s, stop in enumerate(times.stops)
                if (stop.site, stop.parcels, stop.work) == (n, times.parcels[n], case.sites[n].work))


def _from_depot(
    case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int, stops: Sequence[int]
) -> tuple[tuple[float, ...], LoopTimes] | None:
    """The best loop of a crewed build with what speaks against it, worst first: limits left out, minutes."""
    rounds = rounds_of(case, builds, times, crewed, clock, stops)
    for left_out, looser in enumerate(_loosened(rounds)):
        found = shortest(looser)
        if found is not None:
            loop = loop_times(rounds, stops, *found)
            return (left_out, loop.duration_min, loop.end.duration_min if loop.end else 0.0), loop
    return None


def _loosened(rounds: Sequence[Round]) -> Iterator[tuple[Round, ...]]:
    """The rounds with fewer and fewer limits: without the clock, which the shortest loop keeps if any does;
    without the time of the last round; without deadlines."""
    first, *last = rounds
    first = replace(first, within_min=inf)
    yield first, *last
    last = [replace(one, within_min=inf) for one in last]
    if last:
        yield first, *last
    visits = tuple(visit and visit._replace(deadline_min=inf) for visit in first.visits)
    if visits != first.visits:
        yield replace(first, visits=visits), *last


def _out_of_reach(case: Case, builds: Builds, build: int, clock_min: float) -> tuple[OutOfReach, ...]:
    """The whole sites that this build cannot do within the clock, each taken alone."""
    whole = replace(case, sites=tuple(replace(site, parcels=1, split_works=False) for site in case.sites))
    setting = replace(setting_of(whole, builds, np.array([build])), clocks_min=np.array([clock_min]))
    lacking = {f"no build with a {tools} fits": f"needs a {tools}" for tools in TOOLS.values()}
    return tuple(replace(row, reason=lacking.get(row.reason, row.reason), remedies=())
                 for row in out_of_reach(setting, builds, single_parcels(whole)))

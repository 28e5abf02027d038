"""Some builds, one truck each, planned again for a plan's sites so that the least is late."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from math import isfinite

import numpy as np

from optibuild.explain.lenient import NOISE_MIN, Lenient, with_fleet
from optibuild.pipeline import Column, LoopOutcome, Progress, solve
from optibuild.records import ChosenLoop, LoopTimes, Work
from optibuild.records.drill import LateStop, PartlyServed, Replanned
from optibuild.stressing import drive, in_order

Tell = Callable[[Progress], None] | None
NOISE = 1e-6
MOST_ORDERED = 6
"""Stops of a loop that comes too late to a deadline up to which every order is driven."""


@dataclass(frozen=True)
class Again:
    """A fleet planned again: what it says, and its loops on the axes of `Lenient.problem`."""

    said: Replanned
    loops: tuple[ChosenLoop, ...]


def planned_again(of: Lenient, fleet: Counter[int], known: Sequence[ChosenLoop], trucks: Sequence[int],
                  crewed: Sequence[int], seconds: float, progress: Tell) -> Again:
    """The least late plan of a fleet, found within so many seconds, beginning with the `known` loops.
    KeyboardInterrupt where the user ended the search.

    `trucks` are the numbers of the fleet's trucks and `crewed` their crewed builds.
    """
    if not fleet.total():
        everything = tuple(of.written.made.case.sites[n].id for n in of.sites)
        return Again(Replanned((), everything, (), 0.0, 0.0, 0.0, True), ())
    problem, rows = with_fleet(of, fleet)
    begin = [replace(loop, crewed=rows.index(loop.crewed)) for loop in known if loop.crewed in rows]
    found = solve(replace(of.written.made.case, question="cover"), replace(problem, time_limit_s=seconds),
                  progress, begin)
    if found.stopped == "interrupted":
        raise KeyboardInterrupt
    chosen = sorted((one for one, count in found.loops for _ in range(count)), key=lambda one: one.key)
    loops = tuple(_outside(one, rows) for one in chosen)
    free = list(zip(crewed, trucks, strict=True))
    late: list[LateStop] = []
    total = 0.0
    for loop in loops:
        mine = next(pair for pair in free if pair[0] == loop.crewed)
        free.remove(mine)
        stops = _soonest(of, loop, mine[1])
        total += _total_min(stops)
        late += [row for row, _ in stops]
    late.sort(key=lambda row: (-row.late_min - row.deadline_late_min - row.end_late_min, row.site, row.work,
                               row.truck_no))
    return Again(_said(of, found, tuple(late), total), loops)


def in_place(of: Lenient, loop: ChosenLoop, crewed: int) -> list[ChosenLoop]:
    """A loop of the lenient program as another build drives it in its order; nothing where it cannot."""
    found = _timed(of, replace(loop, crewed=crewed), [int(of.of[s]) for s in loop.stops])
    return [] if found is None else [found[1]]


def squeezed_in(of: Lenient, rest: Sequence[ChosenLoop], lost: ChosenLoop) -> list[ChosenLoop]:
    """The loops of a lenient program with the stops of a lost one put in, one after another, each where the
    least more is late; a stop that no loop can take is left out."""
    loops = list(rest)
    for stop in (int(of.of[s]) for s in lost.stops):
        best: tuple[float, int, ChosenLoop] | None = None
        for k, loop in enumerate(loops):
            stops = [int(of.of[s]) for s in loop.stops]
            if of.written.made.times.stops[stop].site in [of.written.made.times.stops[s].site for s in stops]:
                continue
            before = float(of.problem.stop_usd[loop.crewed, loop.clock, list(loop.stops)].sum())
            for n in range(len(stops) + 1):
                found = _timed(of, loop, [*stops[:n], stop, *stops[n:]])
                if found is not None and (best is None or found[0] - before < best[0] - NOISE_MIN):
                    best = found[0] - before, k, found[1]
        if best is not None:
            loops[best[1]] = best[2]
    return loops


def _timed(of: Lenient, loop: ChosenLoop, stops: Sequence[int]) -> tuple[float, ChosenLoop] | None:
    """What is late, as counted, in a loop over these stops of `times` at its best clock, and the loop."""
    best: tuple[float, ChosenLoop] | None = None
    for clock, at in enumerate(of.at):
        other = in_order(of.written, at, replace(loop, clock=clock), stops)
        driven = None if other is None else drive(of.written, at, other)
        if other is None or driven is None or driven.duration_min > of.clocks_min[clock] + NOISE_MIN:
            continue
        own = tuple(s for n, stop in enumerate(stops) if (
            s := _in_step(of, stop, driven.leave_min[n] or 0.0, _end_min(driven))) is not None)
        if len(own) < len(stops):
            continue
        late = float(of.problem.stop_usd[loop.crewed, clock, list(own)].sum())
        if best is None or late < best[0]:
            best = late, replace(other, stops=own)
    return best


def _in_step(of: Lenient, stop: int, leave_min: float, end_min: float) -> int | None:
    """The stop of the lenient program that is late by the fewest steps and still late enough."""
    ways = [int(s) for s in np.flatnonzero(of.of == stop)
            if leave_min <= of.problem.deadline_min[s] + NOISE_MIN
            and end_min <= of.end_limit_min[stop] + of.later_min[s] + NOISE_MIN]
    return min(ways, key=lambda s: float(of.later_min[s]), default=None)


def _outside(one: Column, rows: list[int]) -> ChosenLoop:
    return ChosenLoop(rows[one.build], one.clock, one.stops, one.reload_before, one.end_reload_before)


def _said(of: Lenient, found: LoopOutcome, late: tuple[LateStop, ...], total_min: float) -> Replanned:
    """What was found, with what is proved of it told apart from what is left out."""
    missing = float(of.problem.missed_usd.max()) * len(found.missed)
    counted = 0.0 if found.objective is None else max(0.0, found.objective - missing)
    proved = found.proof == "proved best"
    bound = counted if proved else max(0.0, found.bound - missing) if isfinite(found.bound) else None
    away = tuple(of.written.made.case.sites[of.sites[g]].id for g in found.missed)
    return Replanned(late, away, _partly(of, found), total_min, counted, bound, proved)


def _partly(of: Lenient, found: LoopOutcome) -> tuple[PartlyServed, ...]:
    """The works that remain of sites that are missed though some of their works are done."""
    problem, case = of.problem, of.written.made.case
    done = np.zeros(problem.need.size)
    for one, count in found.loops:
        for t, amount in one.covers:
            done[t] += count * amount
    rows: list[PartlyServed] = []
    for g in found.missed:
        site, works = case.sites[of.sites[g]], np.flatnonzero(problem.group == g)
        names: tuple[Work, ...] = ("plow", "deice") if works.size > 1 else (site.work,)
        rows += [PartlyServed(site.id, name, round(problem.need[t] - done[t]), round(problem.need[t]))
                 for name, t in zip(names, works.tolist(), strict=True)
                 if done[works].any() and problem.need[t] - done[t] > NOISE]
    return tuple(rows)


Late = list[tuple[LateStop, float]]
"""Late stops, each with its share of its site."""


def _total_min(rows: Late) -> float:
    """Minutes late, a part of a site by its share; of deadline and last round the later one."""
    return sum(share * (row.late_min + max(row.deadline_late_min, row.end_late_min)) for row, share in rows)


def _soonest(of: Lenient, loop: ChosenLoop, truck_no: int) -> Late:
    """What is late in a loop as driven, its stops in the order in which least is: the search counts by steps,
    within which one order is as good as another to it."""
    written, at = of.written, of.at[loop.clock]
    shares = {int(of.of[s]): float(of.share[s]) for s in loop.stops}
    own = replace(loop, stops=tuple(int(of.of[s]) for s in loop.stops))
    best = driven_late(of, own, shares, truck_no)
    if len(own.stops) > MOST_ORDERED or not any(row.deadline_late_min for row, _ in best):
        return best
    for order in permutations(own.stops):
        other = in_order(written, at, own, order)
        if other is None or drive(written, at, other).duration_min > of.clocks_min[loop.clock] + NOISE_MIN:
            continue
        rows = driven_late(of, other, shares, truck_no)
        if _total_min(rows) < _total_min(best) - NOISE_MIN:
            best = rows
    return best


def driven_late(of: Lenient, loop: ChosenLoop, shares: dict[int, float], truck_no: int) -> Late:
    """The late stops of a loop (stops of the plan's `times`) as it is driven; `shares` of their sites, by
    stop."""
    written = of.written
    driven = drive(written, of.at[loop.clock], loop)
    rows = []
    for n, s in enumerate(loop.stops):
        stop = written.made.times.stops[s]
        late = _over(driven.duration_min, of.limit_min[s])
        by_deadline = _over(driven.leave_min[n] or 0.0, of.deadline_min[s])
        at_end = _over(_end_min(driven), of.end_limit_min[s])
        if max(late, by_deadline, at_end) > 0.0:
            limit = float(of.limit_min[s])
            rows.append((LateStop(
                written.made.case.sites[stop.site].id, stop.work, stop.parcels, truck_no,
                limit if isfinite(limit) else None, driven.duration_min, late, by_deadline, at_end),
                shares[s]))
    return rows


def _end_min(driven: LoopTimes) -> float:
    return driven.duration_min if driven.end is None else driven.end.duration_min


def _over(minutes: float, limit: float) -> float:
    """Minutes beyond a limit, noise aside."""
    over = minutes - float(limit)
    return over if over > NOISE_MIN else 0.0

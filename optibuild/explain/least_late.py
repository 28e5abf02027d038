"""Some builds, one truck each, planned again for a plan's sites so that the least is late.

The cycle limits are lifted and longer clocks are added; a stop in a loop whose clock is beyond its limit pays
the minutes between. Deadlines and the time of the last round are loosened step by step: each step is a stop
of its own, at a price. A site that is left out pays more than all that could be late.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from math import inf, isfinite

import numpy as np

from optibuild.pipeline import Column, LoopOutcome, LoopProblem, Progress, solve
from optibuild.records import ChosenLoop, LoopTimes
from optibuild.records.drill import LateStop, Replanned
from optibuild.stressing import At, Written, at_clock, drive, in_order

Tell = Callable[[Progress], None] | None
LONGEST = 2.0
"""The longest clock, as a multiple of the longest promise."""
STEPS = 32
"""Steps of equal length up to the longest clock, of which those beyond the shortest limit are clocks."""
LATER = (0, 1, 2, 4, 8, 16, STEPS)
"""Steps by which a deadline may be missed, and the last round too long."""
MOST_ORDERED = 6
"""Stops of a loop that comes too late to a deadline up to which every order is driven."""
NOISE_MIN = 1e-6
"""What a loop takes longer than it may by no more than this is in time."""


@dataclass(frozen=True)
class Loosened:
    """A plan's sites and builds with every promise of time at a price.

    Axis B of `problem` is that of the plan's `times`; every build may be had any number of times. Its stop s
    is the stop `of[s]` of `times`, whose deadline and last round may be late by `later_min[s]`; it is the
    `share[s]` of its site. `at` has the minutes at every clock.
    """

    plan: Written
    problem: LoopProblem
    at: tuple[At, ...]
    step_min: float
    of: np.ndarray
    later_min: np.ndarray
    share: np.ndarray
    limit_min: np.ndarray
    deadline_min: np.ndarray
    end_limit_min: np.ndarray
    sites: tuple[int, ...]

    @property
    def clocks_min(self) -> np.ndarray:
        """What a loop of each clock may take [K]."""
        return self.problem.cycle_limit_min


def loosened(plan: Written) -> Loosened:
    """The sites that a plan serves, with longer clocks and every promise of time at a price in minutes."""
    base, slack = plan.problem, plan.case.solve.reserve_min
    limit = np.asarray(base.stop_limit_min + slack, dtype=np.float64)
    end = base.end_round
    end_limit = np.full(limit.shape, inf) if end is None else end.limit_min + slack
    promised = [float(one) for one in np.concatenate([limit, end_limit, base.deadline_min]) if isfinite(one)]
    far = LONGEST * max(promised, default=float(plan.times.clocks_min[-1]))
    step = far / STEPS
    clocks = _clocks(plan.times.clocks_min, step, float(limit.min(initial=inf)))
    at = tuple(at_clock(plan, plan.case, tau, tau) for tau in clocks.tolist())
    served = tuple(n for n, site in enumerate(plan.plan.sites) if site.served)
    stops = [(s, step * later) for s, stop in enumerate(plan.times.stops) if stop.site in served
             for later in (LATER if isfinite(min(base.deadline_min[s], end_limit[s])) else (0,))]
    of = np.array([s for s, _ in stops], dtype=np.int64)
    later_min = np.array([later for _, later in stops])
    works = np.flatnonzero(np.isin(base.group, served))
    share = _shares(base, of, works)
    late = np.maximum(0.0, clocks[:, None] - limit[of]) + later_min
    problem = replace(
        base.without_money(), cycle_limit_min=clocks,
        minutes=_stacked([one.times.minutes for one in at], of, None if end is None else end.only),
        stop_limit_min=np.full(of.size, inf), deadline_min=base.deadline_min[of] + later_min,
        place=base.place[of], amount=base.amount[np.ix_(of, works)], need=base.need[works],
        drive_usd_per_min=np.zeros((base.start.size, clocks.size)),
        drive_usd_per_m=np.zeros((base.start.size, clocks.size)),
        stop_usd=np.broadcast_to(share * late, (base.start.size, *late.shape)).copy(),
        material_kg=base.material_kg[of], group=np.searchsorted(served, base.group[works]),
        missed_usd=np.full(len(served), 1.0 + _most_late(plan, of, share * late.max(axis=0, initial=0.0))),
        budget_usd=inf, most_loops=inf, worth=np.zeros(len(served)), most_missed_worth=inf, constant_usd=0.0,
        gap=0.0, end_round=end and replace(
            end, minutes=_stacked([one.times.end.minutes for one in at if one.times.end], of, None),
            material_kg=end.material_kg[of], limit_min=end_limit[of] + later_min, only=end.only[of],
            drive_usd_per_min=np.zeros((base.start.size, clocks.size)),
            drive_usd_per_m=np.zeros((base.start.size, clocks.size))))
    return Loosened(plan, problem, at, step, of, later_min, share, limit, base.deadline_min, end_limit,
                    served)


def _clocks(own_min: np.ndarray, step_min: float, shortest_min: float) -> np.ndarray:
    """The case's own clocks, which limits are met by exactly, and equal steps beyond the shortest limit up to
    the longest clock."""
    new = [step_min * n for n in range(1, STEPS + 1) if step_min * n > shortest_min]
    return np.array(sorted([*own_min.tolist(),
                            *(tau for tau in new if np.abs(own_min - tau).min() > NOISE_MIN)]))


def _stacked(minutes: Sequence[np.ndarray], of: np.ndarray, zero: np.ndarray | None) -> np.ndarray:
    """Minutes [C, 1, S] of each clock as one array over the problem's stops; 0 where `zero` [S]."""
    whole = np.concatenate(minutes, axis=1)
    return np.asarray((whole if zero is None else np.where(zero, 0.0, whole))[:, :, of])


def _shares(base: LoopProblem, of: np.ndarray, works: np.ndarray) -> np.ndarray:
    """What share of its site each stop is: of its parcels and works."""
    count = np.bincount(base.group[works], minlength=int(base.group.max(initial=-1)) + 1)
    weight = np.zeros(base.need.size)
    weight[works] = 1.0 / base.need[works] / count[base.group[works]]
    return np.asarray(base.amount[of] @ weight)


def _most_late(plan: Written, of: np.ndarray, most_min: np.ndarray) -> float:
    """More than can be late at all sites together, each in as many parts as it has."""
    most = np.zeros(len(plan.case.sites))
    for s, late in zip(of.tolist(), most_min.tolist(), strict=True):
        stop = plan.times.stops[s]
        parts = float(plan.times.parcels[stop.site]) * 2.0
        most[stop.site] = max(most[stop.site], parts * late)
    return float(most.sum())


def with_fleet(of: Loosened, fleet: Counter[int]) -> tuple[LoopProblem, list[int]]:
    """The program with these crewed builds only, each used no more often than it is there, and their places
    on the axis B of `of.problem`."""
    rows = sorted(row for row, count in fleet.items() if count > 0)
    whole, none = of.problem, np.zeros(len(rows))
    end = whole.end_round
    problem = replace(
        whole, minutes=whole.minutes[rows], start=whole.start[rows], end=whole.end[rows],
        fixed_usd=none, drive_usd_per_min=whole.drive_usd_per_min[rows],
        drive_usd_per_m=whole.drive_usd_per_m[rows], stop_usd=whole.stop_usd[rows],
        fill_kg=whole.fill_kg[rows], reload_min=whole.reload_min[rows], uses=np.eye(len(rows)),
        price_usd=none, annual_usd=none, owned=none, upkeep_usd=none,
        available=np.array([float(fleet[row]) for row in rows]), most_loops=float(fleet.total()),
        end_round=end and replace(end, minutes=end.minutes[rows],
                                  drive_usd_per_min=end.drive_usd_per_min[rows],
                                  drive_usd_per_m=end.drive_usd_per_m[rows]))
    return problem, rows


@dataclass(frozen=True)
class Again:
    """A fleet planned again: what it says, and its loops on the axes of `Loosened.problem`."""

    said: Replanned
    loops: tuple[ChosenLoop, ...]


def planned_again(of: Loosened, fleet: Counter[int], known: Sequence[ChosenLoop], trucks: Sequence[int],
                  crewed: Sequence[int], seconds: float, progress: Tell) -> Again:
    """The least late plan of a fleet, found within so many seconds, beginning with the `known` loops.

    `trucks` are the numbers of the fleet's trucks and `crewed` their crewed builds.
    """
    if not fleet.total():
        everything = tuple(of.plan.case.sites[n].id for n in of.sites)
        return Again(Replanned((), everything, 0.0, 0.0, 0.0, True), ())
    problem, rows = with_fleet(of, fleet)
    begin = [replace(loop, crewed=rows.index(loop.crewed)) for loop in known if loop.crewed in rows]
    found = solve(replace(of.plan.case, question="cover"), replace(problem, time_limit_s=seconds), progress,
                  begin)
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


def in_place(of: Loosened, loop: ChosenLoop, crewed: int) -> list[ChosenLoop]:
    """A loop of the loosened program as another build drives it in its order; nothing where it cannot."""
    found = _timed(of, replace(loop, crewed=crewed), [int(of.of[s]) for s in loop.stops])
    return [] if found is None else [found[1]]


def squeezed_in(of: Loosened, rest: Sequence[ChosenLoop], lost: ChosenLoop) -> list[ChosenLoop]:
    """The loops of a loosened program with the stops of a lost one put in, one after another, each where the
    least more is late; a stop that no loop can take is left out."""
    loops = list(rest)
    for stop in (int(of.of[s]) for s in lost.stops):
        best: tuple[float, int, ChosenLoop] | None = None
        for k, loop in enumerate(loops):
            stops = [int(of.of[s]) for s in loop.stops]
            if of.plan.times.stops[stop].site in [of.plan.times.stops[s].site for s in stops]:
                continue
            before = float(of.problem.stop_usd[loop.crewed, loop.clock, list(loop.stops)].sum())
            for n in range(len(stops) + 1):
                found = _timed(of, loop, [*stops[:n], stop, *stops[n:]])
                if found is not None and (best is None or found[0] - before < best[0] - NOISE_MIN):
                    best = found[0] - before, k, found[1]
        if best is not None:
            loops[best[1]] = best[2]
    return loops


def _timed(of: Loosened, loop: ChosenLoop, stops: Sequence[int]) -> tuple[float, ChosenLoop] | None:
    """What is late, as counted, in a loop over these stops of `times` at its best clock, and the loop."""
    best: tuple[float, ChosenLoop] | None = None
    for clock, at in enumerate(of.at):
        other = in_order(of.plan, at, replace(loop, clock=clock), stops)
        driven = None if other is None else drive(of.plan, at, other)
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


def _in_step(of: Loosened, stop: int, leave_min: float, end_min: float) -> int | None:
    """The stop of the loosened program that is late by the fewest steps and still late enough."""
    ways = [int(s) for s in np.flatnonzero(of.of == stop)
            if leave_min <= of.problem.deadline_min[s] + NOISE_MIN
            and end_min <= of.end_limit_min[stop] + of.later_min[s] + NOISE_MIN]
    return min(ways, key=lambda s: float(of.later_min[s]), default=None)


def _outside(one: Column, rows: list[int]) -> ChosenLoop:
    return ChosenLoop(rows[one.build], one.clock, one.stops, one.reload_before, one.end_reload_before)


def _said(of: Loosened, found: LoopOutcome, late: tuple[LateStop, ...], total_min: float) -> Replanned:
    """What was found, with what is proved of it told apart from what is left out."""
    missing = float(of.problem.missed_usd.max()) * len(found.missed)
    counted = 0.0 if found.objective is None else max(0.0, found.objective - missing)
    proved = found.proof == "proved best"
    bound = counted if proved else max(0.0, found.bound - missing) if isfinite(found.bound) else None
    away = tuple(of.plan.case.sites[of.sites[g]].id for g in found.missed)
    return Replanned(late, away, total_min, counted, bound, proved)


Late = list[tuple[LateStop, float]]
"""Late stops, each with its share of its site."""


def _total_min(rows: Late) -> float:
    """Minutes late, a part of a site by its share; of deadline and last round the later one."""
    return sum(share * (row.late_min + max(row.deadline_late_min, row.end_late_min)) for row, share in rows)


def _soonest(of: Loosened, loop: ChosenLoop, truck_no: int) -> Late:
    """What is late in a loop as driven, its stops in the order in which least is: the search counts by steps,
    within which one order is as good as another to it."""
    plan, at = of.plan, of.at[loop.clock]
    shares = {int(of.of[s]): float(of.share[s]) for s in loop.stops}
    own = replace(loop, stops=tuple(int(of.of[s]) for s in loop.stops))
    best = driven_late(of, own, shares, truck_no)
    if len(own.stops) > MOST_ORDERED or not any(row.deadline_late_min for row, _ in best):
        return best
    for order in permutations(own.stops):
        other = in_order(plan, at, own, order)
        if other is None or drive(plan, at, other).duration_min > of.clocks_min[loop.clock] + NOISE_MIN:
            continue
        rows = driven_late(of, other, shares, truck_no)
        if _total_min(rows) < _total_min(best) - NOISE_MIN:
            best = rows
    return best


def driven_late(of: Loosened, loop: ChosenLoop, shares: dict[int, float], truck_no: int) -> Late:
    """The late stops of a loop (stops of the plan's `times`) as it is driven."""
    plan = of.plan
    driven = drive(plan, of.at[loop.clock], loop)
    rows = []
    for n, s in enumerate(loop.stops):
        stop = plan.times.stops[s]
        late = _over(driven.duration_min, of.limit_min[s])
        by_deadline = _over(driven.leave_min[n] or 0.0, of.deadline_min[s])
        at_end = _over(_end_min(driven), of.end_limit_min[s])
        if max(late, by_deadline, at_end) > 0.0:
            limit = float(of.limit_min[s])
            rows.append((LateStop(
                plan.case.sites[stop.site].id, stop.work, stop.parcels, truck_no,
                limit if isfinite(limit) else None, driven.duration_min, late, by_deadline, at_end),
                shares[s]))
    return rows


def _end_min(driven: LoopTimes) -> float:
    return driven.duration_min if driven.end is None else driven.end.duration_min


def _over(minutes: float, limit: float) -> float:
    """Minutes beyond a limit, noise aside."""
    over = minutes - float(limit)
    return over if over > NOISE_MIN else 0.0

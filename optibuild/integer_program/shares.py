"""A bound before any loop is priced: what each stop must pay at the least, whichever loop it rides in.

The minutes of a loop's stops fit into its clock. So the stops of a loop can share what the loop costs before
it drives: each pays for the part of the clock that it takes, and these parts add up to 1 at the most. What a
stop pays at the least, over all builds and clocks, its works may be worth: no loop then costs less than its
works are worth, which makes these worths duals (a knapsack that may cut its pieces). Items, budget, drivers
and worth that is missed are priced by column generation over imaginary loops that are full of one stop: they
need no kernel, and every round of it proves a bound.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.pricer import Duals
from optibuild.integer_program.problem import (
    FILL_TOLERANCE,
    TIME_TOLERANCE_MIN,
    Bools,
    EndRound,
    Floats,
    Ints,
    LoopProblem,
)
from optibuild.integer_program.relaxation import Relaxation

MOST_ROUNDS = 12
"""Rounds of column generation over imaginary loops."""
CLOSE = 2e-3
"""Share of the bound that is not worth another round."""
ROUNDING = 1e-9
"""What sums in another order may differ by, as a share of a loop."""
LEAST_SHARE = 1e-4
"""Share of a loop that a stop takes at the least in an imaginary loop, which repeats it so often."""


@dataclass(frozen=True)
class Prices:
    """What sharing proves: a `bound` [USD] by the `works`' duals [T], and the problem `priced`: with the
    prices of items, budget, drivers and missed worth paid by loops and misses, and without their rows. A
    bound of the priced problem plus its constant is one of the problem, its own constant left out."""

    bound: float
    works: Floats
    priced: LoopProblem


@dataclass(frozen=True)
class _Drives:
    """What a loop through a stop drives at the least [F, S], in one of two ways of telling: each stop by
    itself (`by_stop`), or all of the way out to the farthest stop and home (`once`), of which every stop pays
    its share."""

    by_stop_min: Floats
    once_min: Floats
    by_stop_m: Floats
    once_m: Floats


@dataclass(frozen=True)
class _Sharing:
    """The part of a loop that each stop takes, and what it pays besides; inf and 0 where it is impossible.
    A table for each clock [F, S]."""

    usd: list[Floats]
    part: list[Floats]

    def least(self, own: Floats) -> tuple[Ints, Ints, Floats]:
        """Build (its place among F) and clock where each stop pays least, and what it pays [S], in loops that
        cost `own` [F] before they drive."""
        stops = np.arange(self.usd[0].shape[1])
        rows = []
        for usd, part in zip(self.usd, self.part, strict=True):
            pays = usd + own[:, None] * part
            at = pays.argmin(axis=0)
            rows.append((at, pays[at, stops]))
        clock = np.argmin([pays for _, pays in rows], axis=0)
        return (np.array([at for at, _ in rows])[clock, stops], clock,
                np.array([pays for _, pays in rows])[clock, stops])


def prices(problem: LoopProblem, builds: Ints) -> Prices | None:
    """The best that sharing proves, of a problem in which only `builds` [B] are needed; None where money may
    be earned by driving or there is nothing to drive with."""
    if problem.may_cost_less_than_nothing or not builds.size or not problem.place.size:
        return None
    year = problem.fixed_usd[builds] + problem.uses[builds] @ problem.annual_usd
    sharing = _best_sharing(problem, builds, year)
    found = _full_loops(problem, builds, sharing, year)
    if not found:
        return None
    relaxation = Relaxation(problem, 10.0 * (max(one.cost_usd for one in found) + 1.0))
    best: Prices | None = None
    for _ in range(MOST_ROUNDS):
        relaxation.add(found)
        relaxation.solve()
        duals = relaxation.duals()
        *_, pays = sharing.least(duals.own[builds])
        proved = relaxation.duals(0.0, duals.works - _affordable(problem, duals, pays))
        if best is None or proved.bound > best.bound:
            best = _priced(problem, relaxation, proved)
        if duals.bound - best.bound <= CLOSE * abs(best.bound):
            break
        found = _full_loops(problem, builds, sharing, duals.own[builds])
    return best


def _affordable(problem: LoopProblem, duals: Duals, pays: Floats) -> Floats:
    """Duals of works [T] lowered until those of no stop's works are more than it pays."""
    short = np.divide(pays, duals.gain, out=np.ones(pays.size), where=duals.gain > pays)
    kept = np.where(problem.amount > 0, short[:, None], 1.0).min(axis=0, initial=1.0)
    return duals.works * kept


def _priced(problem: LoopProblem, relaxation: Relaxation, duals: Duals) -> Prices:
    """The problem at these duals of all rows but the works'."""
    none = np.zeros(0)
    worth = relaxation.dual("worth") if np.isfinite(problem.most_missed_worth) else 0.0
    missed = problem.missed_usd - worth * problem.worth if worth else problem.missed_usd
    return Prices(duals.bound, duals.works, replace(
        problem, fixed_usd=duals.own, missed_usd=missed, uses=np.zeros((problem.start.size, 0)),
        price_usd=none, annual_usd=none, owned=none, upkeep_usd=none, available=none, budget_usd=inf,
        most_loops=inf, most_missed_worth=inf, constant_usd=relaxation.duals(1.0).bound))


def _full_loops(problem: LoopProblem, builds: Ints, sharing: _Sharing, own: Floats) -> list[Column]:
    """For each stop the imaginary loop full of it that is cheapest for what it does."""
    at, clocks, pays = sharing.least(own)
    made = []
    for stop in np.flatnonzero(np.isfinite(pays)):
        k, clock = int(at[stop]), int(clocks[stop])
        build, part = int(builds[k]), max(LEAST_SHARE, float(sharing.part[clock][k, stop]))
        made.append(Column(
            build, clock, (int(stop),), (False,), (), 0.0, 0.0, 0.0, 0.0, 0,
            float(problem.own_cost_usd[build] + sharing.usd[clock][k, stop] / part),
            float(problem.own_price_usd[build]),
            tuple((int(t), float(problem.amount[stop, t] / part))
                  for t in np.flatnonzero(problem.amount[stop]))))
    return made


def _best_sharing(problem: LoopProblem, builds: Ints, own: Floats) -> _Sharing:
    """The way to share by which works are worth most in loops that cost `own` [F] before they drive."""
    size = np.maximum(problem.amount.sum(axis=1), 1e-9)
    best, most = None, -inf
    for sharing in _sharings(problem, builds):
        *_, pays = sharing.least(own)
        each = np.where(problem.amount > 0, (pays / size)[:, None], inf).min(axis=0)
        worth = float(each[np.isfinite(each)] @ problem.need[np.isfinite(each)])
        if worth > most:
            best, most = sharing, worth
    assert best is not None
    return best


def _sharings(problem: LoopProblem, builds: Ints) -> Iterator[_Sharing]:
    """Ways to share: by what a loop has to give, or by all of that alike; and by two ways of telling what it
    drives."""
    gives = len(problem.rounds) * (1 if problem.may_reload else 2)
    mixes: list[list[int]] = [[k] for k in range(gives)] + ([[*range(gives)]] if gives > 1 else [])
    for drives in (_around(problem, builds), _between(problem, builds)):
        for mixed in mixes:
            made = _Sharing([], [])
            for clock in range(problem.cycle_limit_min.size):
                parts = np.array(_parts(problem, builds, drives, clock))
                fits = _fits(problem, builds, clock) & (parts <= 1.0 + ROUNDING).all(axis=0)
                part = np.where(fits, parts[mixed].mean(axis=0), 0.0)
                made.part.append(part)
                made.usd.append(np.where(fits, _usd(problem, builds, drives, clock, part), inf))
            yield made


def _fits(problem: LoopProblem, builds: Ints, clock: int) -> Bools:
    """Which stops a build can make at a clock, each within one fill [F, S]."""
    fits: Bools = problem.possible[builds, clock] & problem.allowed[clock]
    for kind in problem.rounds:
        fits = fits & (_fills(problem, kind, builds) <= 1.0)
    return fits


def _around(problem: LoopProblem, builds: Ints) -> _Drives:
    """Out to the farthest stop and home: minutes are closed under shortest paths, meters perhaps."""
    def around(matrix: Floats) -> Floats:
        return (matrix[problem.start[builds]][:, problem.place]
                + matrix[problem.place][:, problem.end[builds]].T)

    once, none = around(problem.travel_min), np.zeros((builds.size, problem.place.size))
    if problem.triangle:
        return _Drives(none, once, none, around(problem.distance_m))
    return _Drives(none, once, _ways_in(problem, problem.distance_m, builds), none)


def _between(problem: LoopProblem, builds: Ints) -> _Drives:
    """The shortest way into each stop, from another or from the start; and home from the nearest one."""
    home = problem.travel_min[problem.place][:, problem.end[builds]].min(axis=0)[:, None]
    none = np.zeros((builds.size, problem.place.size))
    return _Drives(_ways_in(problem, problem.travel_min, builds), none + home,
                   _ways_in(problem, problem.distance_m, builds), none)


def _ways_in(problem: LoopProblem, matrix: Floats, builds: Ints) -> Floats:
    """The least of a matrix of drives into each stop [F, S]."""
    apart = matrix[np.ix_(problem.place, problem.place)]
    apart = np.where(problem.place[:, None] == problem.place, inf, apart)
    return np.minimum(apart.min(axis=0), matrix[problem.start[builds]][:, problem.place])


def _parts(problem: LoopProblem, builds: Ints, drives: _Drives, clock: int) -> list[Floats]:
    """For each thing that a loop has to give, the part that each stop takes of it at the least [F, S] (inf =
    more than there is): time of either round, and the fill where that is not filled again."""
    made = []
    for kind in problem.rounds:
        takes = kind.minutes[builds, clock] + drives.by_stop_min + (
            _reloads(problem, kind, builds) * problem.reload_min[builds, None])
        left = _longest(problem, kind, clock) + TIME_TOLERANCE_MIN - drives.once_min
        part = np.divide(takes, left, out=np.full(takes.shape, inf), where=np.isfinite(takes) & (left > 0))
        made.append(np.where(_stands_in(problem, kind), part, 0.0))
        if not problem.may_reload:
            made.append(_fills(problem, kind, builds))
    return made


def _longest(problem: LoopProblem, kind: LoopProblem | EndRound, clock: int) -> Floats:
    """The most minutes that a round with a stop may take [S]."""
    plain = np.full(problem.place.size, problem.cycle_limit_min[clock])
    if not isinstance(kind, EndRound):
        return plain
    latest = kind.limit_min[problem.has_end_work].max(initial=-inf)
    return np.where(problem.has_end_work, kind.limit_min, np.maximum(plain, latest))


def _stands_in(problem: LoopProblem, kind: LoopProblem | EndRound) -> Bools:
    """The stops that a kind of round makes [S]."""
    return np.ones(problem.place.size, bool) if isinstance(kind, EndRound) else problem.repeated


def _fills(problem: LoopProblem, kind: LoopProblem | EndRound, builds: Ints) -> Floats:
    """The part of a fill that each stop uses [F, S] (inf where there is none)."""
    room = problem.fill_kg[builds, None] * (1.0 + FILL_TOLERANCE)
    wet = np.broadcast_to(kind.material_kg, (builds.size, problem.place.size))
    return np.divide(wet, room, out=np.where(wet > 0, inf, 0.0), where=room > 0)


def _reloads(problem: LoopProblem, kind: LoopProblem | EndRound, builds: Ints) -> Floats:
    """Reloads that each stop makes necessary [F, S]: a loop that uses material ends with one."""
    return np.minimum(_fills(problem, kind, builds), 1.0 if problem.may_reload else 0.0)


def _usd(problem: LoopProblem, builds: Ints, drives: _Drives, clock: int, part: Floats) -> Floats:
    """What each stop pays [F, S] for itself, for its reloads and drives, and for its part of those that the
    loop makes once."""
    paid = problem.stop_usd[builds, clock]
    for kind in problem.rounds:
        reload_min = _reloads(problem, kind, builds) * problem.reload_min[builds, None]
        minutes = reload_min + drives.by_stop_min + drives.once_min * part
        meters = drives.by_stop_m + drives.once_m * part
        driven = (kind.drive_usd_per_min[builds, clock, None] * minutes
                  + kind.drive_usd_per_m[builds, clock, None] * meters)
        paid = paid + np.where(_stands_in(problem, kind), driven, 0.0)
    return paid

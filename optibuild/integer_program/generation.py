"""Column generation: loops of negative reduced cost until a sweep over all builds and clocks finds none."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from math import inf

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.envelopes import Node
from optibuild.integer_program.labelling import PRICE
from optibuild.integer_program.pricer import AT_ONCE, Duals, Pricer
from optibuild.integer_program.problem import (
    FILL_TOLERANCE,
    TIME_TOLERANCE_MIN,
    Bools,
    EndRound,
    Floats,
    LoopProblem,
)
from optibuild.integer_program.relaxation import Relaxation
from optibuild.integer_program.runs import Found, exact, quick

WORTH_FORGETTING = 2e-4
"""Loops that come back to a place are forbidden while that raises the bound by this share; what is left only
makes the bound a little lower."""


MOST_QUIET = 4
"""Rounds without a new loop after which a build is priced only by the sweep."""
ENOUGH_BUILDS = 12
"""Builds with new loops after which a sweep stops for the relaxation to be solved again."""


class OutOfTime(Exception):
    """The time limit passed inside column generation, or labels ran out: no bound follows."""


class Generation:
    """A relaxation with its pricer: `converge` makes its duals prove a bound."""

    def __init__(self, problem: LoopProblem, first: list[Column], out_of_time: Callable[[], bool],
                 tell: Callable[[], None]) -> None:
        self.problem = problem
        self.out_of_time = out_of_time
        self.tell = tell
        self.step = 1e-9 * max(1.0, sum(one.cost_usd for one in first))
        self.relaxation = Relaxation(problem, 10.0 * (max(one.cost_usd for one in first) + 1.0))
        self.relaxation.add(first)
        self.pricer = Pricer(problem)
        self.active = dict.fromkeys(one.build for one in first)
        self.relaxation.solve()
        self.duals = self.relaxation.duals()

    def bound(self) -> float:
        """What the converged duals prove: loops may still have reduced costs of -step."""
        most = min(self.problem.most_loops, float(self.problem.need.sum()))
        return self.duals.bound - most * self.step

    def cover(self) -> bool:
        """Converge with every work covered; False where even fractions of loops cannot."""
        relaxation = self.relaxation
        self.converge()
        while relaxation.uncovered > 1e-7:
            relaxation.weigh(0.0)
            self.converge()
            possible = relaxation.uncovered <= 1e-7
            relaxation.weigh(1.0)
            if not possible:
                return False
            relaxation.raise_penalty(10.0 * relaxation.penalty)
            self.converge()
        return True

    def converge(self) -> None:
        """Add loops until none has a negative reduced cost."""
        quiet: dict[int, int] = {}
        before = -inf
        while True:
            if self.out_of_time():
                raise OutOfTime
            self.relaxation.solve()
            self.duals = duals = self.relaxation.duals()
            new = self._price_active(duals, quiet) or self._sweep(duals, quiet)
            if not new:
                worth = duals.bound - before > WORTH_FORGETTING * abs(duals.bound)
                if not worth or not self._forget_cycles():
                    return
                before = duals.bound
            self.tell()

    def _price_active(self, duals: Duals, quiet: dict[int, int]) -> int:
        """Price, quickly, the builds that gave loops of late; how many new loops."""
        builds = [b for b in self.active if quiet.get(b, 0) < MOST_QUIET and b in self.pricer.leaves]
        clocks = range(self.problem.cycle_limit_min.size)
        pairs = [(self.pricer.leaves[b], k) for b in builds for k in clocks]
        found = self._price(pairs, duals, proving=False)
        for b in builds:
            quiet[b] = 0 if b in found else quiet.get(b, 0) + 1
        return sum(found.values())

    def _sweep(self, duals: Duals, quiet: dict[int, int]) -> int:
        """Search the tree of builds; stops early once enough new loops are in hand."""
        found: dict[int, int] = {}
        for batch in batched(self.pricer.promising(duals, -self.step, PRICE), AT_ONCE):
            if self.out_of_time():
                raise OutOfTime
            found |= self._price(batch, duals, proving=True)
            if len(found) >= ENOUGH_BUILDS:
                break
        self.active |= dict.fromkeys(found)
        quiet.update(dict.fromkeys(found, 0))
        return sum(found.values())

    def _price(self, pairs: Sequence[tuple[Node, int]], duals: Duals, proving: bool) -> dict[int, int]:
        """Best loops of single builds at clocks into the relaxation; how many are new, by build."""
        new: dict[int, int] = {}
        searched = self.pricer.threads.map(lambda one: self._search(one[0], one[1], duals, proving), pairs)
        for (node, clock), found in zip(pairs, searched, strict=True):
            if found is not None and found.ends.size:
                build = int(node.builds[0])
                loops = [column(self.problem, build, clock, *found.loop(k)) for k in range(found.ends.size)]
                added = self.relaxation.add(loops)
                if added:
                    new[build] = new.get(build, 0) + added
        return new

    def _search(self, node: Node, clock: int, duals: Duals, proving: bool) -> Found | None:
        """Best loops of one build at one clock. The exact search runs only to prove, where the quick one
        finds nothing."""
        view = self.pricer.view(node, clock, duals, PRICE)
        if view is None:
            return None
        found = quick(view, PRICE, -self.step)
        if proving and not found.ends.size:
            found = exact(view, PRICE, -self.step)
            if not found.complete and not found.ends.size:
                raise OutOfTime
        return found

    def _forget_cycles(self) -> bool:
        """Forbid the cycles in the loops in use; whether there were any."""
        bad = [one for one, _ in self.relaxation.loops_used() if not elementary(self.problem, one)]
        for one in bad:
            self.pricer.remember(_cycles([int(self.problem.place[s]) for s in one.stops]))
        self.relaxation.forbid(bad)
        return bool(bad)


def batched(pairs: Iterable[tuple[Node, int]], size: int) -> Iterator[list[tuple[Node, int]]]:
    """Runs of up to `size` of an iterable."""
    source = iter(pairs)
    while batch := list(islice(source, size)):
        yield batch


def first_columns(problem: LoopProblem) -> list[Column]:
    """For every stop, its cheapest loop with no other stop, over all builds and clocks."""
    end = problem.end_round
    plain_min, usd = _alone(problem, problem)
    bad = ((plain_min > problem.cycle_limit_min[None, :, None] + TIME_TOLERANCE_MIN)
           | _late(problem)) & problem.repeated
    usd = np.where(problem.repeated, usd, 0.0)
    if end is not None:
        end_min, end_usd = _alone(problem, end)
        bad |= end_min > end.limit_min + TIME_TOLERANCE_MIN
        usd = usd + end_usd
    for kind in problem.rounds:
        bad |= (kind.material_kg > problem.fill_kg[:, None] * (1 + FILL_TOLERANCE))[:, None, :]
    cost = problem.own_cost_usd[:, None, None] + usd + problem.stop_usd
    cost = np.where(bad | ~problem.allowed | ~problem.possible, inf, cost)
    made = []
    for stop in range(problem.place.size if problem.start.size else 0):
        build, clock = divmod(int(np.argmin(cost[:, :, stop])), problem.cycle_limit_min.size)
        if np.isfinite(cost[build, clock, stop]):
            made.append(column(problem, build, clock, (stop,), (False,), (False,) if end else ()))
    return made


def _alone(problem: LoopProblem, kind: LoopProblem | EndRound) -> tuple[Floats, Floats]:
    """Minutes of a kind of round with one stop and no other, and money of its driving [B, K, S]."""
    def drive(matrix: Floats) -> Floats:
        return matrix[problem.start][:, problem.place] + matrix[problem.place][:, problem.end].T

    wet = (kind.material_kg > 0) & problem.may_reload
    driven = drive(problem.travel_min) + np.where(wet[None, :], problem.reload_min[:, None], 0.0)
    usd = (kind.drive_usd_per_min[:, :, None] * driven[:, None, :]
           + kind.drive_usd_per_m[:, :, None] * drive(problem.distance_m)[:, None, :])
    return driven[:, None, :] + kind.minutes, usd


def _late(problem: LoopProblem) -> Bools:
    """Which stops end after their deadline even if they come first [B, K, S]."""
    out = problem.travel_min[problem.start][:, problem.place]
    return out[:, None, :] + problem.minutes > problem.deadline_min + TIME_TOLERANCE_MIN


def elementary(problem: LoopProblem, one: Column) -> bool:
    """Whether a loop visits each place at most once."""
    return len({int(problem.place[s]) for s in one.stops}) == len(one.stops)


def _cycles(places: list[int]) -> list[tuple[int, ...]]:
    """Stretches of a loop that begin and end at the same place."""
    last: dict[int, int] = {}
    found = []
    for k, place in enumerate(places):
        if place in last:
            found.append(tuple(places[last[place]:k]))
        last[place] = k
    return found

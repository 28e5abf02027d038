"""Bounds while no sweep over all builds has ended: from shares at once, then from sweeps of another kind.

Such a sweep prices the builds once, at duals near those that are known to prove a bound, and where it finds a
loop that would pay, it makes the loop's works worth less until it does not. Worth less, a work makes no other
loop better: what was looked at before needs no other look, and at the end the duals prove a bound.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from math import inf

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.envelopes import Node
from optibuild.integer_program.generation import LONG, Generation
from optibuild.integer_program.labelling import PRICE
from optibuild.integer_program.pricer import AT_ONCE, Duals, OutOfTime, Pricer, batched
from optibuild.integer_program.problem import Floats, LoopProblem
from optibuild.integer_program.relaxation import Relaxation
from optibuild.integer_program.runs import Found, exact
from optibuild.integer_program.shares import Prices, prices

WIDTH = 0.08
"""By what share works may be worth more than is known in a sweep: half as much after one that took too long,
and little by little more again."""
SHARE, LATE_SHARE, LATE = 0.08, 0.3, 0.6
"""Share of the time so far that sweeps may take, and from which share of all the time it is the other."""
LEAST, GROWS = 0.01, 3.0
"""Share of all the time that a sweep must have, and how much longer than the one before it may take."""

Pair = tuple[Node, int]
"""A single build and a clock."""


class Early:
    """What is known of a bound before column generation has converged [USD]: `go_on` makes it better."""

    def __init__(self, problem: LoopProblem, generation: Generation) -> None:
        self.time_used = generation.time_used
        self.spent, self.needs, self.width = 0.0, LEAST, WIDTH
        found = prices(problem, generation.fleet)
        self.bound = found.bound if found else -inf
        self.sweeps: Sweeps | None = None
        if found and problem.need.sum() >= LONG:
            self.sweeps = Sweeps(problem, generation, found)

    def go_on(self, loops: Callable[[], Iterable[Column]]) -> None:
        """Another sweep, where its time has come, at duals that these loops allow."""
        used = self.time_used()
        given = (LATE_SHARE if used > LATE else SHARE) * used - self.spent
        if self.sweeps is None or used >= 1.0 or given < self.needs:
            return
        ended = self.sweeps.sweep(loops(), self.width, min(1.0, used + given))
        took = self.time_used() - used
        self.spent += took
        self.needs = max(LEAST, GROWS * took if ended else given)
        self.width = min(WIDTH, 1.25 * self.width) if ended else 0.5 * self.width
        self.bound = self.sweeps.bound


class Sweeps:
    """Sweeps at the prices that sharing found, each of which may raise the `bound` [USD]."""

    def __init__(self, problem: LoopProblem, generation: Generation, found: Prices) -> None:
        self.problem = problem
        self.priced = found.priced
        self.step = generation.step
        self.bound, self.works = found.bound, found.works
        self.until = inf
        self.pricer = Pricer(self.priced, lambda: generation.time_used() >= self.until,
                             among=generation.fleet)
        self.pricer.threads = generation.pricer.threads  # which keep their room for labels
        self.relaxation = Relaxation(self.priced, 1.0)

    def sweep(self, loops: Iterable[Column], width: float, until: float) -> bool:
        """One sweep at duals that these loops of the problem allow, none of a work above what it is known to
        be worth by more than a share `width`; whether it ended before a share of the time was used."""
        dearer = self.priced.own_cost_usd - self.problem.own_cost_usd
        self.relaxation.add([replace(one, cost_usd=one.cost_usd + float(dearer[one.build]), price_usd=0.0)
                             for one in loops])
        self.relaxation.limit_worth((1.0 + width) * self.works)
        self.relaxation.solve()
        self.until = until
        try:
            duals = self._swept()
        except OutOfTime:
            return False
        proved = duals.bound + self.priced.constant_usd - float(self.priced.need.sum()) * self.step
        if proved > self.bound:
            self.bound, self.works = proved, duals.works
        return True

    def _swept(self) -> Duals:
        """Duals under which no loop has a negative reduced cost."""
        less = np.zeros(self.priced.need.size)
        duals = [self.relaxation.duals()]
        for pairs in batched(self.pricer.promising(lambda: duals[-1], -self.step), AT_ONCE):
            while loops := self._paying(pairs, duals[-1]):
                reduced = [duals[-1].reduced_cost(self.priced, one) for one in loops]
                lower = self._lowered(loops, reduced, duals[-1].works)
                if not lower.any():
                    raise OutOfTime
                less += lower
                duals.append(self.relaxation.duals(0.0, less))
                self.relaxation.add(loops)
        return duals[-1]

    def _lowered(self, loops: list[Column], reduced: list[float], works: Floats) -> Floats:
        """By how much less each work must be worth [T] for these loops to have no negative reduced cost.

        No loop would pay if its works were worth what is known: what is above that is lowered, alike for the
        works of a loop; and where a loop that comes back to a place would pay even so, all that is left.
        """
        less = np.zeros(works.size)
        for missing, one in sorted(zip(reduced, loops, strict=True), key=lambda row: (row[0], row[1].key)):
            which = [work for work, _ in one.covers]
            amounts = np.array([amount for _, amount in one.covers])
            missing += float(amounts @ less[which])
            for known in (self.works[which], 0.0):
                above = np.maximum(0.0, works[which] - less[which] - known)
                total = float(amounts @ above)
                if missing < 0.0 < total:
                    less[which] += above * min(1.0, -missing / total)
                    missing += total
        return less

    def _paying(self, pairs: list[Pair], duals: Duals) -> list[Column]:
        """Loops of negative reduced cost of these builds and clocks; OutOfTime where labels ran out before
        any was found."""
        searched = self.pricer.side_by_side(lambda pair: self._search(*pair, duals), pairs)
        return [column(self.priced, int(node.builds[0]), clock, *found.loop(k))
                for (node, clock), found in zip(pairs, searched, strict=True) if found is not None
                for k in range(found.ends.size)]

    def _search(self, node: Node, clock: int, duals: Duals) -> Found | None:
        view = self.pricer.view(node, clock, duals, PRICE, -self.step)
        found = None if view is None else exact(view, PRICE, -self.step)
        if self.pricer.out_of_time() or found and not found.complete and not found.ends.size:
            raise OutOfTime
        return found

"""Plans by neighborhoods; where the budget leaves none at hand, first at prices that stand for it."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from math import inf, isfinite

from optibuild.integer_program.columns import Column, column, keep_undominated
from optibuild.integer_program.diving import dive
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.master import Chosen, Extras, choose, tally
from optibuild.integer_program.neighborhoods import Neighborhoods
from optibuild.integer_program.problem import Ints, LoopProblem
from optibuild.integer_program.trimming import plan_of

RATES = (0.1, 0.4, 1.6)
"""What a USD of price costs besides, where a plan is sought that the budget allows: as little as does it."""
LEFT_OVER = 30.0
"""Parcels and sites that rounding leaves to a neighborhood."""
MOST_SECONDS = 3.0
"""Time of an integer program over the loops so far."""


class Planning:
    """A first plan of a problem, and the `loops` met on the way, for the search."""

    def __init__(self, problem: LoopProblem, builds: Ints, time_used: Callable[[], float]) -> None:
        self.problem = problem
        self.builds = builds
        self.time_used = time_used
        self.loops: dict[object, Column] = {}

    def plans(self, plan: Chosen | None, generation: Generation, near: bool,
              likely: Callable[[], Iterable[int]]) -> Iterator[Chosen]:
        """Plans, one after another: by neighborhoods, then by rounding the relaxation, with `likely` builds.
        Where loops `near` the best are at hand they stand for neighborhoods."""
        if plan is None and isfinite(self.problem.budget_usd):
            yield from filter(None, [self.affordable(generation.relaxation.columns)])
        elif plan is not None and not near:
            yield from self.better(plan)
        generation.take(list(self.loops.values()))
        generation.approach()
        yield from filter(None, [self.rounded(generation, likely())])

    def better(self, plan: Chosen, likely: Iterable[int] = ()) -> Iterator[Chosen]:
        """Ever better plans from one: each loop is once in a neighborhood; with `likely` builds, each is the
        middle of one until that helps no more."""
        parts = Neighborhoods(self.problem, self.builds, plan, self.time_used)
        parts.seen.update(likely)
        parts.loops = self.loops  # which others may look at on the way
        yield from parts.rounds() if parts.seen else parts.round()
        self._learn(parts, parts.plan)

    def rounded(self, generation: Generation, likely: Iterable[int]) -> Chosen | None:
        """A plan of loops that the relaxation runs nearly whole and of others, of `likely` builds, for what
        they leave; None where there is none."""
        kept = dive(generation, LEFT_OVER)
        parts = Neighborhoods(self.problem, self.builds, tally(self.problem, kept, ()), self.time_used)
        parts.seen.update(likely)
        plan = parts.completed(kept)
        self._learn(parts, parts.plan)
        return plan

    def affordable(self, first: list[Column]) -> Chosen | None:
        """A plan that the budget allows, from loops that cover every work; None where none is found.

        Where prices cost besides, plans are cheaper to buy: the rate is raised until one is within the
        budget, or loops of several rates make one together.
        """
        start: tuple[Column, ...] = ()
        for rate in RATES:
            dear = replace(self.problem, budget_usd=inf,
                           annual_usd=self.problem.annual_usd + rate * self.problem.price_usd)
            plan = (plan_of(dear, [_as_in(dear, one) for one in start]) if start
                    else choose(dear, [_as_in(dear, one) for one in first], Extras(), MOST_SECONDS)[0])
            if plan is None:
                return None
            parts = Neighborhoods(dear, self.builds, plan, self.time_used, quick=True)
            try:
                for _ in parts.round():
                    pass  # no look at what is between
            finally:  # out of time, its loops may still make a plan
                self._learn(parts, parts.plan)
            plan = parts.plan
            start = tuple(one for one, n in plan.times for _ in range(n))
            found = plan_of(self.problem, [_as_in(self.problem, one) for one in start]) or choose(
                self.problem, keep_undominated(self.problem, list(self.loops.values())), Extras(),
                MOST_SECONDS)[0]
            if found:
                return found
        return None

    def _learn(self, parts: Neighborhoods, plan: Chosen) -> None:
        for one in (*parts.loops.values(), *(one for one, _ in plan.times)):
            self.loops[one.key] = _as_in(self.problem, one)


def _as_in(problem: LoopProblem, one: Column) -> Column:
    """The same loop with another problem's money."""
    return column(problem, one.build, one.clock, one.stops, one.reload_before, one.end_reload_before)

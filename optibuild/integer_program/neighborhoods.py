"""A good plan early: the loops of one neighborhood after another are planned anew as a problem of their own.

From a loop for every stop this makes a plan; from a plan a better one. What it learns of loops and of builds
worth a look is handed to the search.
"""

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np

from optibuild.integer_program.columns import Column, keep_undominated
from optibuild.integer_program.cycles import elementary
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.master import Chosen, Extras, choose, tally
from optibuild.integer_program.parts import Part, Times, part
from optibuild.integer_program.problem import Ints, LoopProblem
from optibuild.integer_program.singles import first_columns
from optibuild.integer_program.trimming import merged, undone

ENOUGH_UNITS = 24.0
"""Parcels and sites in a neighborhood: what can be planned very well in a second or two."""
MOST_BUILDS = 160
"""Builds that a neighborhood is planned with, once it is known which are worth it."""
WORTH_A_LOOK = 0.02
"""Share of a loop's mean cost up to which its reduced cost makes its build worth a look elsewhere."""
MOST_POOL, WELL, ROUGHLY = 2_500, (2.0, 0.002), (1.0, 0.01)
"""Loops in the integer program of a neighborhood; its time [s] and gap, and where it must be quick."""


class Neighborhoods:
    """A plan that is made better by parts; `loops` generated on the way, `seen` builds worth a look.

    Where it must be `quick`, not all builds are searched for each part.
    """

    def __init__(self, problem: LoopProblem, builds: Ints, plan: Chosen,
                 time_used: Callable[[], float], quick: bool = False) -> None:
        self.problem = problem
        self.quick = quick
        self.builds = builds
        self.plan = plan
        self.time_used = time_used
        self.seen: Counter[int] = Counter()
        self.loops: dict[object, Column] = {}
        around = problem.travel_min + problem.travel_min.T
        self.apart = around[np.ix_(problem.place, problem.place)]

    def round(self) -> Iterator[Chosen]:
        """Plan neighborhoods anew until every loop of the plan was in one; the plan after each."""
        pending = self._units(self.plan.times)
        while pending:
            near = self._near(pending)
            pending = [one for one in pending if one not in near]
            self._plan_anew(near)
            yield self.plan

    def rounds(self) -> Iterator[Chosen]:
        """Plan the neighborhood of one loop after another anew until none gets better; the plan after each.
        """
        tried: set[frozenset[object]] = set()
        while True:
            units = self._units(self.plan.times)
            nears = (self._near([one, *units[:k], *units[k + 1:]]) for k, one in enumerate(units))
            named = ((frozenset(one.key for one in near), near) for near in nears)
            name, near = next((pair for pair in named if pair[0] not in tried), (None, []))
            if name is None:
                return
            tried.add(name)
            self._plan_anew(near)
            yield self.plan

    def _units(self, times: Times) -> list[Column]:
        """Loops, each as often as it is run, the farthest out first."""
        problem = self.problem
        units = [one for one, n in times for _ in range(n)]
        out = {one.key: problem.travel_min[problem.start[one.build], problem.place[list(one.stops)]].min()
               for one in units}
        return sorted(units, key=lambda one: (-out[one.key], one.key))

    def _near(self, pending: list[Column]) -> list[Column]:
        """The first loop with its nearest ones, until they hold enough."""
        seed = list(pending[0].stops)
        gaps = [float(np.mean(self.apart[np.ix_(seed, list(one.stops))])) for one in pending]
        order = sorted(range(1, len(pending)), key=lambda k: (gaps[k], k))
        near, units = [], 0.0
        for k in [0, *order]:
            near.append(pending[k])
            units += sum(amount for _, amount in pending[k].covers)
            if units >= ENOUGH_UNITS:
                break
        return near

    def _plan_anew(self, near: list[Column]) -> None:
        """Plan the works of these loops anew; keep what costs less."""
        problem, plan = self.problem, self.plan
        left = Counter(one for one, n in plan.times for _ in range(n))
        left.subtract(near)
        kept = tuple((one, n) for one, n in left.items() if n > 0)
        groups = np.unique(problem.group[[work for one in near for work, _ in one.covers]])
        groups = np.union1d(groups, np.array(plan.missed, np.int64))
        made = part(problem, groups, self._worth_a_look(), kept, plan.missed)
        if not made.problem.need.size:
            better: Chosen | None = tally(problem, kept, tuple(set(plan.missed) - set(groups.tolist())))
        else:
            better = self._solved(made, kept)
        if better is not None and better.objective < plan.objective - 1e-9:
            self.plan = better

    def completed(self, kept: Times) -> Chosen | None:
        """The plan of these loops and of others for what they leave; None where there is none."""
        groups = undone(self.problem, kept)
        if not groups.size:
            return tally(self.problem, kept, ())
        return self._solved(part(self.problem, groups, self._worth_a_look(), kept, ()), kept)

    def _worth_a_look(self) -> Ints:
        """The builds to plan with: all at first, then those whose loops came near to being used."""
        if not self.seen:
            return self.builds
        return np.array(sorted(build for build, _ in self.seen.most_common(MOST_BUILDS)), np.int64)

    def _solved(self, made: Part, kept: Times) -> Chosen | None:
        """The whole plan with a part planned well; None where there is none."""
        first = first_columns(made.problem)
        if not first:
            return None
        generation = Generation(made.problem, first, self.time_used, lambda: None, proving=not self.quick)
        if not generation.cover():
            return None
        columns = [one for one in generation.relaxation.columns if elementary(made.problem, one)]
        reduced = [generation.duals.reduced_cost(made.problem, one) for one in columns]
        order = np.argsort(reduced, kind="stable")
        pool = keep_undominated(made.problem, [columns[k] for k in order[:MOST_POOL]])
        seconds, gap = ROUGHLY if self.quick else WELL
        left = (1.0 - self.time_used()) * self.problem.time_limit_s
        chosen, _ = choose(made.problem, pool, Extras(), min(seconds, left), gap)
        self._learn(made, [(columns[k], reduced[k]) for k in order])
        if chosen is None:
            return None
        missed = tuple(int(made.groups[g]) for g in chosen.missed)
        again = tuple((made.outside(one), n) for one, n in chosen.times)
        still = tuple(g for g in self.plan.missed if g not in made.groups)
        return tally(self.problem, merged((*kept, *again)), (*still, *missed))

    def _learn(self, made: Part, loops: list[tuple[Column, float]]) -> None:
        """Remember loops that came near to being used, and their builds."""
        within = WORTH_A_LOOK * float(np.mean([one.cost_usd for one, _ in loops[:20]]))
        near = [made.outside(one) for one, reduced in loops if reduced <= within]
        self.loops.update((one.key, one) for one in near)
        self.seen.update({one.build for one in near})

"""The search: branches on counts, each closed by its bound or by the list of loops that could still matter.

A branch is a relaxation converged by column generation. Where a total that must be whole (loops, uses of an
item) is not, the branch is split there; otherwise every loop within the gap is listed and the integer program
over that list settles it. At any time the least bound of the branches not settled is a bound of the whole.
"""

import heapq
import time
from collections.abc import Callable, Sequence
from functools import partial
from math import inf

import numpy as np

from optibuild.integer_program.branching import Branch, split, totals
from optibuild.integer_program.columns import Column, keep_undominated
from optibuild.integer_program.compiled import ready
from optibuild.integer_program.cuts import eligible, violated
from optibuild.integer_program.cycles import elementary
from optibuild.integer_program.early import Early
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.listing import Room, list_loops
from optibuild.integer_program.master import Chosen, Extras, choose
from optibuild.integer_program.outcome import PROVED_GAP, LoopOutcome, Progress, Stopped, proof, relative_gap
from optibuild.integer_program.planning import Planning
from optibuild.integer_program.pool import ALL, SOME, Programs, look, plan, settled
from optibuild.integer_program.pricer import Duals, OutOfTime
from optibuild.integer_program.problem import Floats, LoopProblem
from optibuild.integer_program.singles import first_columns
from optibuild.integer_program.trimming import plan_of, trimmed

KEPT_SHARE = 0.1
"""Share of the time limit kept for an integer program over the loops at hand when time runs out."""
IN_NEED = 0.5
"""Share of the time after which a search without a plan makes one of the loops at hand."""
MOST_CUTS = 120
"""Subset-row cuts in one relaxation."""
MOST_NEAR = 1_000
"""Loops of least reduced cost at the root that another search may begin with."""
MOST_KNOWN = 5_000
"""Generated loops in an integer program whose only purpose is a better plan."""
LIKELY = 1_000
"""Loops of least reduced cost whose builds neighborhoods are planned with after the root."""
ENOUGH_TIME = 0.85
"""Share of the time after which neighborhoods are left for other ways."""
MUCH, ROOM = 0.2, 0.4
"""Share of what is open that asks for another sweep; of the time left that one may take for it or a list."""
QUICK, SOON = 0.1, 0.25
"""Shares of the time left that a sweep may have taken for pools of loops, and for a split of the root."""
MANY = 70
"""Parcels and sites from which a plan is made of neighborhoods first."""
NEARLY = 0.01
"""Gap after a first list up to which a longer one is tried before cuts."""
FIRST_REACH, LEAST_SHARE, FIRST_SHARE, FAR = 0.4, 0.02, 0.0225, 0.004
"""Shares of the reach (at the most, at the least) and of a loop's mean cost within which loops are listed
first, and the gap from which it pays: a better plan makes the reach shorter."""
NEAR = 0.1
"""Share of a loop's mean cost up to which loops are in the first integer program, which is soon solved."""
SHORT, LONG = Room(4_000, 3_000_000), Room(60_000, 60_000_000)
"""Room for a list where the branch could still be split, and where it could not."""


def solve(problem: LoopProblem, progress: Callable[[Progress], None] | None = None,
          known: Sequence[Column] = (), near: Sequence[Column] = ()) -> LoopOutcome:
    """The least-cost loops that cover every work, with a proven bound.

    `known` loops, of an earlier plan perhaps, are there from the start, and so are those `near` the best of
    a like problem. Where there is no plan the outcome says so; Ctrl-C and the time limit keep the best.
    """
    ready(problem.end_round is not None)
    search = Search(problem, progress, known, near)
    try:
        stopped = search.run()
    except OutOfTime:
        stopped = search.last_choice()
    except KeyboardInterrupt:
        stopped = "interrupted"
    return search.outcome(stopped)


class Search:
    """One solve: its column generation, the best plan, the open branches and the bound."""

    def __init__(self, problem: LoopProblem, progress: Callable[[Progress], None] | None,
                 known: Sequence[Column] = (), near: Sequence[Column] = ()) -> None:
        self.problem = problem
        self.known, self.near = tuple(known), tuple(near)
        self.progress = progress
        self.started = time.monotonic()
        self.best: Chosen | None = None
        self.generation: Generation | None = None
        self.early: Early | None = None
        self.met: dict[object, Column] = {}
        self.least = -inf if problem.may_cost_less_than_nothing else 0.0
        self.open: list[Branch] = [Branch(self.least, 0, fresh=True)]
        self.current: Branch | None = None
        self.unsettled = inf
        self.branches = 1
        self.in_need = False
        self.root: Duals | None = None
        self.root_bound = -inf

    @property
    def best_cost(self) -> float:
        """Objective of the best plan so far (inf without one)."""
        return self.best.objective if self.best else inf

    @property
    def bound(self) -> float:
        """No plan costs less than this [USD]."""
        branches = [branch.bound for branch in (*self.open, self.current) if branch]
        return min(self.best_cost, max(self.least, min([self.unsettled, *branches])))

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return self.problem.time_limit_s - (time.monotonic() - self.started)

    def _time_used(self) -> float:
        """Share used of the time, but for what is kept for a last integer program."""
        given = (1.0 - KEPT_SHARE) * self.problem.time_limit_s
        return (time.monotonic() - self.started) / given if given > 0 else inf

    def _took(self) -> float:
        """What a sweep took, as a share of the time left."""
        return self._made().sweep_took / max(1e-9, 1.0 - self._time_used())

    def _tell(self) -> None:
        """Tell how far it is, before the root is known by early bounds, which are made better on the way."""
        if self.early and self.root is None:
            self.early.go_on(lambda: [*self._made().relaxation.columns, *self.met.values()])
            self.least = max(self.least, self.early.bound)
        if self.best is None and self.generation and not self.in_need and self._time_used() > IN_NEED:
            self.in_need = True
            self._choose(self._known(inf), Extras(), IN_NEED * KEPT_SHARE)
        if self.progress:
            constant = self.problem.constant_usd
            columns = len(self.generation.relaxation.columns) if self.generation else 0
            self.progress(Progress(columns, self.bound + constant, self.best_cost + constant,
                                   time.monotonic() - self.started))

    def _gap(self, bound: float) -> float:
        return relative_gap(self.best_cost + self.problem.constant_usd, bound + self.problem.constant_usd)

    def _settled(self, bound: float, gap: float) -> bool:
        """Whether nothing above a bound could improve the best plan by more than a relative gap."""
        return self.best is not None and self._gap(bound) <= max(gap, PROVED_GAP)

    def run(self) -> Stopped:
        """Settle branches, lowest bound first, until the asked gap is met; says why it ended."""
        problem = self.problem
        if problem.need.size == 0:
            self.best, self.open = choose(problem, [], Extras(), 1.0)[0], []
            return "proved"
        first = list({one.key: one for one in (*first_columns(problem), *self.known)}.values())
        must = (problem.need > 0) & np.isinf(problem.missed_usd[problem.group])
        if set(np.flatnonzero(must).tolist()) - {t for one in first for t, _ in one.covers}:
            self.open = []
            return "no plan exists"
        self._keep(plan_of(problem, list(self.known)) if self.known else None)
        self._choose(first, Extras(), 0.1)
        if not first:
            self.open = []
            return "proved" if self.best else "no plan exists"
        self.generation = Generation(problem, first, self._time_used, self._tell, lambda: self.best_cost)
        self.early = Early(problem, self.generation)
        self._tell()
        self._plan_by_parts()
        while self.open:
            self.current = heapq.heappop(self.open)
            if self._settled(self.current.bound, problem.gap):
                break
            self._settle(self.current)
            self.current = None
            self._tell()
        if self.best is None:
            return "no plan exists" if self.unsettled == inf else "time limit"
        if self._settled(self.bound, PROVED_GAP):
            return "proved"
        return "gap reached" if self._settled(self.bound, problem.gap) else "time limit"

    def last_choice(self) -> Stopped:
        """Out of time: the best plan among the loops at hand."""
        if self.generation:
            self.generation.take(list(self.met.values()))
            self._plan(self._known(inf), 0.8)
        return "time limit"

    def _plan_by_parts(self) -> None:
        """Plans made of parts, where there is too much to do for one; their loops for the search."""
        generation = self._made()
        generation.take(list(self.near))
        planning = Planning(self.problem, generation.fleet, self._time_used)
        self.met = planning.loops
        if self.problem.need.sum() >= MANY:
            for plan in planning.plans(self.best, generation, bool(self.near), self._likely):
                self._keep(plan)
                self._tell()
        generation.take(list(planning.loops.values()))

    def _likely(self) -> set[int]:
        """Builds worth a look in neighborhoods."""
        return {one.build for one in self._known(self._reach())[:LIKELY]}

    def _keep(self, chosen: Chosen | None) -> None:
        """Keep a plan that costs less."""
        if chosen and chosen.objective < self.best_cost:
            self.best = trimmed(self.problem, chosen)

    def _converged(self, branch: Branch) -> bool:
        """Converge a branch; False where it has no plan, or another is known to be worth a look sooner."""
        generation = self._made()
        generation.relaxation.fix(branch.fixed)
        if branch.duals:
            generation.resume(branch.duals)
            return True
        if self.best is None:
            generation.approach()
            self._choose(self._known(NEAR * self._mean()), Extras(), 0.1)
        if not generation.cover():
            return False
        branch.bound, branch.duals = max(branch.bound, self.least, generation.bound()), generation.duals
        if branch.fresh and self.open and self.open[0].bound < branch.bound:
            heapq.heappush(self.open, branch)
            return False
        if branch.number == 0:
            self.root, self.root_bound = generation.duals, generation.bound()
            self.near = self.near or tuple(self._known(inf)[:MOST_NEAR])
            self._plan(self._known(min(NEAR * self._mean(), self._reach())), 0.1)
        return True

    def _settle(self, branch: Branch) -> None:
        """Close a branch by its bound, split it, or list what could still matter."""
        if not self._converged(branch):
            return
        early = branch.number == 0 and self._took() <= SOON  # no way tells more, where sweeps are quick
        ways = (
            lambda: self._close(branch),
            lambda: early and self._split(branch, totals(self.problem)[:1], fresh=True),
            lambda: self._refine(branch),
            lambda: branch.fresh and self._try(branch),
            lambda: self._look(branch, *SOME),
            lambda: self._improve(branch),
            lambda: self._look(branch, *ALL),
            lambda: self._cut(branch),
            lambda: self._list(branch, SHORT),
            lambda: self._split(branch, totals(self.problem)),
            lambda: self._list(branch, LONG),
        )
        if not any(way() for way in ways):
            self.unsettled = min(self.unsettled, branch.bound)

    def _close(self, branch: Branch) -> bool:
        """Close a branch whose bound leaves nothing to gain."""
        if not self._settled(branch.bound, self.problem.gap):
            return False
        self.unsettled = min(self.unsettled, branch.bound)
        return True

    def _refine(self, branch: Branch) -> bool:
        """Converge once more where that may prove much of what is open; whether that closes the branch."""
        generation = self._made()
        much = MUCH * (self.best_cost - branch.bound)
        if branch.fresh and self._took() < ROOM and generation.would_gain() > much:
            generation.cover()
            branch.bound = max(branch.bound, generation.bound())
        return self._close(branch)

    def _made(self) -> Generation:
        assert self.generation is not None
        return self.generation

    def _known(self, slack: float) -> list[Column]:
        """Loops generated so far that are likeliest to be in a better plan, of no more reduced cost."""
        generation = self._made()
        reduced = [(generation.duals.reduced_cost(self.problem, one), k)
                   for k, one in enumerate(generation.relaxation.columns) if elementary(self.problem, one)]
        likely = sorted(row for row in reduced if row[0] <= slack)[:MOST_KNOWN]
        return [generation.relaxation.columns[k] for _, k in likely]

    def _choose(self, some: list[Column], extras: Extras, share: float, more: Sequence[Column] = ()) -> float:
        """Integer program over these loops, for a share of the time left; keeps a better plan; its bound."""
        loops = keep_undominated(self.problem, [*some, *more])
        chosen, bound = choose(self.problem, loops, extras, share * max(1.0, self.left_s))
        self._keep(chosen)
        return bound

    def _plan(self, columns: list[Column], share: float) -> None:
        """A better plan among these loops, looked for during a share of the time left."""
        plan(self._made(), columns, self.best_cost, self._choose, share)

    def _try(self, branch: Branch) -> bool:
        """List loops of small reduced cost, or plan with those at hand; whether that closes the branch."""
        if self._took() <= ROOM:
            return self._list(branch, SHORT, trial=True)
        self._plan(self._known(self._reach()), 0.2)
        return self._close(branch)

    def _look(self, branch: Branch, most: int, programs: Programs) -> bool:
        """Cut over a list of loops, priced by looking, where listing is quick, and plan with those likeliest
        to be used; whether that closes the branch."""
        if not branch.fresh or self.best is None or self._took() > QUICK:
            return False
        proved = look(self._made(), lambda: self.best_cost, self._choose, QUICK * self.left_s, most, programs)
        branch.bound = max(branch.bound, proved)
        return self._close(branch)

    def _improve(self, branch: Branch) -> bool:
        """Plan neighborhoods anew, while that helps, with the builds that the root makes likely; whether the
        better plan closes the branch."""
        if branch.fresh and self.best is not None:
            generation = self._made()
            planning = Planning(self.problem, generation.fleet, self._time_used)
            for plan in planning.better(self.best, self._likely()):
                self._keep(plan)
                self._tell()
                if self._settled(branch.bound, self.problem.gap) or self._time_used() > ENOUGH_TIME:
                    break
        return self._close(branch)

    def _cut(self, branch: Branch) -> bool:
        """Raise the bound by subset-row cuts while they pay; whether that closes the branch."""
        generation = self._made()
        relaxation = generation.relaxation
        works = eligible(self.problem)
        while not self._settled(branch.bound, self.problem.gap) and len(relaxation.extras.cuts) < MOST_CUTS:
            before = branch.bound
            found = violated(works, relaxation.loops_used(), set(relaxation.extras.cuts), 12)
            if not found:
                break
            relaxation.cut(found)
            generation.converge()
            branch.bound = max(branch.bound, generation.bound())
            self._tell()
            if branch.bound - before <= 0.03 * (self.best_cost - branch.bound):
                break
        self._choose(self._known(self._reach()), Extras(relaxation.extras.cuts), 0.15)
        return self._close(branch)

    def _split(self, branch: Branch, totals: list[Floats], fresh: bool = False) -> bool:
        """Split a branch at the first total that is not whole; whether there is one."""
        sides = split(branch, self._made().relaxation, totals, self.branches, fresh)
        self.open = sorted([*self.open, *sides])  # which is a heap
        self.branches += len(sides)
        return bool(sides)

    def _list(self, branch: Branch, room: Room, trial: bool = False) -> bool:
        """List every loop that could be in a better plan of this branch and settle it by the integer program
        over the list; False where the list is too long, or a first part of it leaves a `trial` far off."""
        generation = self._made()
        within = 0.05 * abs(branch.bound) + 1.0
        if self.best is not None:
            within = self._reach()
            if self._gap(branch.bound) > FAR:
                first = max(LEAST_SHARE * within, FIRST_SHARE * self._mean())
                within = min(FIRST_REACH * within, first)
        while True:
            listed, complete = list_loops(self.problem, generation.pricer, generation.duals, within, room)
            if not complete:
                return False
            more = self._known(self._reach()) if within < self._reach() else []
            limit = settled(generation, listed, self.best_cost, partial(self._choose, more=more),
                            0.3 if trial else 0.9)
            branch.bound = max(branch.bound, min(limit, generation.bound() + within))
            if within >= self._reach():
                if trial and not self._settled(branch.bound, self.problem.gap):
                    return False  # its integer program had little time
                self.unsettled = min(self.unsettled, branch.bound)
                return True
            if trial and self._gap(branch.bound) > NEARLY:
                return False
            wider = 4.0 * within if within < 1e6 * (abs(branch.bound) + 1.0) else inf
            within = min(wider, self._reach())

    def _mean(self) -> float:
        """What a loop costs, about."""
        used = sum(value for _, value in self._made().relaxation.loops_used())
        return abs(self._made().duals.bound) / max(1.0, used)

    def _reach(self) -> float:
        """Reduced cost beyond which no loop can be in a better plan, by what the duals at hand prove."""
        return self.best_cost - self._made().bound() + self._made().step

    def outcome(self, stopped: Stopped) -> LoopOutcome:
        """What is known when the search ends."""
        problem, best, none = self.problem, self.best, np.zeros(self.problem.price_usd.size)
        constant, bound = problem.constant_usd, self.bound
        gap = self._gap(bound) if best and np.isfinite(bound) else None
        return LoopOutcome(
            proof(best, gap, problem.gap), stopped,
            best.objective + constant if best else None, bound + constant, gap,
            best.times if best else (), best.missed if best else (),
            best.bought if best else none, best.owned_used if best else none,
            self.root.works if self.root else np.zeros(problem.need.size),
            self.root.lifted(problem) if self.root else none, self.root_bound + constant,
            len(self.generation.relaxation.columns) if self.generation else 0,
            time.monotonic() - self.started, self.near)

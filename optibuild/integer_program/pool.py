"""Every loop that a better plan could use, at hand: loops are priced by looking, so cuts cost nothing more.

Through the kernel each subset-row cut makes labels longer, and a few dozen are all that pays. Over a list of
loops that is complete within a reduced cost any number of them can be had.

What it proves: a plan that does nothing twice and whose loops are all in the list costs at least the pool's
bound, any other that does nothing twice at least the listing's bound plus that reduced cost (`listing`); and
where there may be cuts, doing something twice never costs less (`cuts`). As the bound rises, loops that no
better plan can use are forgotten.

Listing the columns that matter and going on with them alone: Contardo, Martinelli 2014, Discrete Optimization
12:129-146; Baldacci, Christofides, Mingozzi 2008, Mathematical Programming 115:351-385.
"""

import time
from collections.abc import Callable
from math import ceil, floor, inf

import numpy as np

from optibuild.integer_program.branching import WHOLE
from optibuild.integer_program.columns import Column
from optibuild.integer_program.cuts import Cut, eligible, violated
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.listing import Room, list_loops
from optibuild.integer_program.master import Extras
from optibuild.integer_program.pricer import Duals
from optibuild.integer_program.problem import Floats
from optibuild.integer_program.relaxation import Fixed, Relaxation

AT_FIRST, MOST_ADDED = 1_000, 400
"""Loops in the relaxation at first, and those that come into it at once."""
MOST_NEW, MOST_CUTS = 30, 600
"""Cuts of one round, and in all."""
LITTLE, PATIENCE = 0.01, 3
"""Share of what is left to prove that a round of cuts must bring, and rounds in a row that need not."""
FIRST_REACH, GROWTH, WORTH_ANOTHER, MOST_LABELS = 0.4, 3.5, 1.15, 60_000_000
"""The share of the reach within which loops are listed first; the power of the reduced cost that the length
of a list grows with, about; by how much wider the next list must be; labels on the way."""

Programs = tuple[tuple[int, float], ...]
SOME: tuple[int, Programs] = (50_000, ((1_000, 0.1), (1_500, 0.1)))
ALL: tuple[int, Programs] = (150_000, ((4_000, 0.4),))
"""Loops in a pool and, of those, in one integer program after another with its share of the time left: at
first for a better plan, later to prove it."""
Choose = Callable[[list[Column], Extras, float], float]
"""An integer program over loops, with further rows, for a share of the time left: its bound."""


def settled(generation: Generation, loops: list[Column], best: float, choose: Choose, share: float) -> float:
    """What plans made of these loops alone cost at the least [USD], if less than the `best`: by cuts, where
    there may be any, and then by an integer program over what they leave, for a share of the time left."""
    if best == inf or eligible(generation.problem).size < 3:
        return choose(loops, generation.relaxation.extras, share)
    pool = Pool(generation, loops, best)
    pool.raise_bound(generation.out_of_time)
    pool.settle(len(pool.loops), share, choose)
    return pool.bound


def plan(generation: Generation, loops: list[Column], best: float, choose: Choose, share: float) -> None:
    """Look for a plan below the `best` [USD] among these loops by an integer program, cut first where that
    may be, with about as many loops as the relaxation runs: it ends the sooner, but where items or money are
    what is hard."""
    if best == inf or generation.pricer.rowed or eligible(generation.problem).size < 3:
        choose(loops, Extras(), share)
        return
    pool = Pool(generation, loops, best)
    pool.raise_bound(lambda: False)
    pool.round_nearer()
    choose(pool.loops, pool.extras, share)


def look(generation: Generation, best: Callable[[], float], choose: Choose, seconds: float, most: int,
         programs: Programs) -> float:
    """Cut over about so many loops, listed in about so many seconds at the converged duals, and plan with
    those likeliest to be used; a bound of every plan. `choose` may lower what `best` gives."""
    if eligible(generation.problem).size < 3:
        return -inf
    loops, within = widest(generation, best() - generation.bound() + generation.step, most, seconds)
    if within < 0:
        return -inf
    pool = Pool(generation, loops, best())
    pool.raise_bound(generation.out_of_time)
    for count, share in programs:
        pool.settle(count, share, choose)
        pool.aim(best())
        generation.tell()
    return min(pool.bound, generation.bound() + within)


def widest(generation: Generation, reach: float, most: int, seconds: float) -> tuple[list[Column], float]:
    """Every loop within the reach at the converged duals, or about as many as asked (fewer where they would
    take more seconds), with the reduced cost that they are complete within: -inf, and none, where even few
    are too many."""
    loops: list[Column] = []
    within, wider = -inf, FIRST_REACH * reach
    while True:
        started = time.monotonic()
        found, complete = list_loops(generation.problem, generation.pricer, generation.duals, wider,
                                     Room(2 * most, MOST_LABELS))
        if not complete:
            return loops, within
        loops, within = found, wider
        could = len(loops) * seconds / max(1e-3, time.monotonic() - started)
        wider = min(reach, within * (max(1.0, min(most, could)) / max(1, len(loops))) ** (1.0 / GROWTH))
        if wider < min(reach, WORTH_ANOTHER * within) or within >= reach:
            return loops, within


class Pool:
    """A list of loops with a relaxation of its own over them; `bound` of every plan made of these alone that
    does nothing twice.

    `target` is the cost that a plan must be below to be of interest: `bound` is never more, for loops and
    counts of loops are left out that only dearer plans could have.
    """

    def __init__(self, generation: Generation, loops: list[Column], target: float) -> None:
        self.problem = problem = generation.problem
        self.loops = loops
        self.target = target
        self.bound = -inf
        self.relaxation = Relaxation(problem, generation.relaxation.penalty)
        self.fixed: Fixed = tuple((self.relaxation.count(one.weight), one.low, one.high)
                                  for one in generation.relaxation.extras.counts)
        self.relaxation.fix(self.fixed)
        self.does = np.zeros((len(loops), problem.need.size))
        for k, one in enumerate(loops):
            for work, amount in one.covers:
                self.does[k, work] = amount
        self.build = np.array([one.build for one in loops], np.int64)
        self.driving = np.array([one.cost_usd for one in loops]) - problem.own_cost_usd[self.build]
        self.counted: dict[Cut, np.ndarray] = {}
        self.duals = generation.duals
        self.reduced = self._priced(self.duals)
        self._add(AT_FIRST)

    @property
    def extras(self) -> Extras:
        """Rows that every better plan keeps: the cuts that bind now, and the count of loops."""
        priced = [cut for cut, dual in zip(self.duals.cuts, self.duals.cut_duals, strict=True) if dual]
        return Extras(tuple(priced), self.relaxation.extras.counts)

    def likely(self, most: int) -> list[Column]:
        """The loops of least reduced cost."""
        return [self.loops[k] for k in np.argsort(self.reduced, kind="stable")[:most]]

    def aim(self, target: float) -> None:
        """Look for plans below a lower cost; forget the loops that none of them can use."""
        self.target = min(self.target, target)
        self._raise(self.bound)

    def settle(self, most: int, share: float, choose: Choose) -> None:
        """Plan with at most so many loops; where these are all there are, what is proved of them holds."""
        every = len(self.loops) <= most
        limit = choose(self.likely(most), self.extras, share)
        if every:
            self.bound = min(self.target, max(self.bound, limit))

    def raise_bound(self, out_of_time: Callable[[], bool]) -> None:
        """Cut while that pays."""
        works, idle = eligible(self.problem), 0
        self._converge()
        self._raise(self._proved())
        self._round_count()
        while self.bound < self.target and not out_of_time():
            relaxation, before = self.relaxation, self.bound
            known = relaxation.extras.cuts
            found = violated(works, relaxation.loops_used(), set(known), MOST_NEW)
            if not found or len(known) >= MOST_CUTS:
                return
            relaxation.cut(found)
            self._converge()
            self._raise(self._proved())
            idle = idle + 1 if self.bound - before < LITTLE * (self.target - before) else 0
            if idle == PATIENCE:
                return

    def _converge(self) -> None:
        """Solve the relaxation over all loops of the pool."""
        while True:
            self.relaxation.solve()
            self.duals = self.relaxation.duals()
            self.reduced = self._priced(self.duals)
            if not self._add(MOST_ADDED, -1e-9):
                return

    def _priced(self, duals: Duals) -> Floats:
        """Reduced cost of every loop."""
        reduced = duals.weight * self.driving + duals.own[self.build] - self.does @ duals.works
        for cut, dual in zip(duals.cuts, duals.cut_duals, strict=True):
            if dual:
                if cut not in self.counted:
                    self.counted[cut] = (self.does[:, list(cut)].sum(axis=1) // 2).astype(np.int8)
                reduced -= dual * self.counted[cut]
        return np.asarray(reduced)

    def _add(self, most: int, below: float = inf) -> int:
        """The loops of least reduced cost into the relaxation; how many are new."""
        order = np.argsort(self.reduced, kind="stable")[:most]
        return self.relaxation.add([self.loops[k] for k in order if self.reduced[k] < below])

    def _proved(self) -> float:
        """What the duals prove, noise in the reduced costs taken off."""
        most = min(self.problem.most_loops, float(self.problem.need.sum()))
        return self.duals.bound + most * min(0.0, float(self.reduced.min(initial=0.0)))

    def _raise(self, bound: float) -> None:
        """Take in what the present duals prove, and forget the loops that they allow no better plan."""
        self.bound = min(self.target, max(self.bound, bound))
        stays = self.reduced <= self.target - self._proved() + 1e-9
        self.relaxation.forbid([self.loops[k] for k in np.flatnonzero(~stays)])
        self.loops = [self.loops[k] for k in np.flatnonzero(stays)]
        self.does, self.build, self.driving = self.does[stays], self.build[stays], self.driving[stays]
        self.reduced = self.reduced[stays]
        self.counted = {cut: counts[stays] for cut, counts in self.counted.items()}

    def _part_run(self) -> float | None:
        """The number of loops that the relaxation runs, where it is not whole and nothing is left undone."""
        total = sum(value for _, value in self.relaxation.loops_used())
        whole = abs(total - round(total)) <= WHOLE
        return None if whole or self.relaxation.uncovered > WHOLE else total

    def _round_count(self) -> None:
        """Where the number of loops is not whole and no better plan has fewer (or none has more), say so."""
        total = self._part_run()
        if total is None:
            return
        k = self.relaxation.count(np.ones(self.problem.start.size))
        fewer, more = (k, -inf, float(floor(total))), (k, float(ceil(total)), inf)
        for side, other in ((fewer, more), (more, fewer)):
            self.relaxation.fix((*self.fixed, side))
            self._converge()
            if self._proved() >= self.target:
                self.fixed = (*self.fixed, other)
                break
        self.relaxation.fix(self.fixed)
        self._converge()
        self._raise(self._proved())

    def round_nearer(self) -> None:
        """Ask for a whole number of loops, the nearer one or what lies beyond; then nothing is proved."""
        total = self._part_run()
        if total is not None:
            low, high = (-inf, float(floor(total))) if total % 1.0 < 0.5 else (float(ceil(total)), inf)
            k = self.relaxation.count(np.ones(self.problem.start.size))
            self.relaxation.fix((*self.fixed, (k, low, high)))

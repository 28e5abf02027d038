"""At which share of its price an item would enter the relaxation of a problem.

One set of duals gives only a bound on that, for the relaxation of a covering has many best duals. So the
relaxation is solved at lower prices. Its least cost over the share of the price is concave where no budget
counts prices: what is in use at one share says up to which share that still pays, and there it is solved
anew, first over the loops at hand, then with all there are, until nothing pays. The last share is exact from
both sides. Under a budget the price is a figure of a row too, and what is left of the shares is halved until
it is narrow.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.compiled import ready
from optibuild.integer_program.cycles import elementary
from optibuild.integer_program.generation import MOST_SPREAD, Generation
from optibuild.integer_program.pricer import OutOfTime
from optibuild.integer_program.problem import LoopProblem
from optibuild.integer_program.singles import first_columns
from optibuild.integer_program.spreading import spread

STEP_USD = 1e-6
"""Reduced costs above -STEP_USD count as none."""
NOISE = 1e-8
"""Share of its least cost by which the relaxation falls at the least where an item has entered."""
NARROW = 1e-5
"""Width of the shares left, under a budget, at which the search ends."""
MOST_BEGUN_WITH = 2_500
"""Loops that the relaxation at other prices begins with."""
PLENTY = 1e9
"""More of an item than any plan uses."""


@dataclass(frozen=True)
class Entry:
    """The greatest `share` of its price at which an item enters the relaxation; None where it does not even
    for nothing. 1 where it is in use there at its price as it is. `settled` is False where time ran out.
    """

    item: int
    share: float | None
    settled: bool


def at_share(problem: LoopProblem, item: int, share: float) -> LoopProblem:
    """The problem with one item at a share of its price: what it costs a year beside its upkeep, and what is
    paid for it, are that share of what they were."""
    annual, price = problem.annual_usd.copy(), problem.price_usd.copy()
    annual[item] = problem.upkeep_usd[item] + share * (annual[item] - problem.upkeep_usd[item])
    price[item] *= share
    return replace(problem, annual_usd=annual, price_usd=price)


def entries(problem: LoopProblem, items: Sequence[int], known: Sequence[Column], seconds: float,
            tell: Callable[[], None] = lambda: None) -> tuple[Entry, ...]:
    """When each of these items would enter; nobody may own any, and a plan must exist, else ValueError.

    Loops of the problem that are `known` save time, as those of its plan do. `tell` is called between steps.
    """
    ready(problem.end_round is not None)
    end = time.monotonic() + seconds
    watch = Watch(lambda: time.monotonic() >= end, tell)
    found: list[Entry] = []
    loops = [*first_columns(problem), *known]
    if not loops:
        return tuple(Entry(item, None, True) for item in items)
    try:
        whole = _converged(problem, loops, watch)
        for item in items:
            found.append(Entry(item, _Shares(problem, item, whole, watch).entering(), True))
    except OutOfTime:
        pass
    return (*found, *(Entry(item, None, False) for item in items[len(found):]))


@dataclass(frozen=True)
class Watch:
    """Whether time is up, and whom to tell between steps."""

    out_of_time: Callable[[], bool]
    tell: Callable[[], None]


def _made(problem: LoopProblem, loops: Sequence[Column], watch: Watch) -> Generation:
    """The relaxation of a problem over some loops, to be converged with nothing taken off its duals.

    Labels remember every place, so that all relaxations are over the same loops: those that come back to no
    place.
    """
    made = Generation(problem, list({one.key: one for one in loops}.values()),
                      lambda: float(watch.out_of_time()), watch.tell)
    made.shrink, made.step = 0.0, STEP_USD
    made.pricer.near[:] = True
    return made


def _converged(problem: LoopProblem, loops: Sequence[Column], watch: Watch) -> Generation:
    made = _made(problem, loops, watch)
    if not made.cover():
        raise ValueError("the problem has no plan")
    return made


class _Shares:
    """The relaxation of a problem at shares of the price of one item, from the one that is converged at its
    full price."""

    def __init__(self, problem: LoopProblem, item: int, whole: Generation, watch: Watch) -> None:
        # counted, it keeps a build that uses more of it from beating one that uses less, at any share
        counted = np.where(np.arange(problem.available.size) == item,
                           np.minimum(problem.available, PLENTY), problem.available)
        self.problem = replace(problem, available=counted)
        self.item = item
        self.cost_usd = _cost_usd(whole)
        self.noise_usd = NOISE * max(1.0, abs(self.cost_usd))
        start = at_share(self.problem, item, 0.0)
        self.made = _made(start, [_measured(start, one) if problem.uses[one.build, item] else one
                                  for one in _likeliest(whole)], watch)
        self.made.pricer.threads = whole.pricer.threads  # which keep their room for labels
        users = self.made.fleet[problem.uses[self.made.fleet, item] > 0]
        orders = self.made.relaxation.best_orders(MOST_SPREAD)
        self.made.take(spread(start, orders, users, self.made.duals, inf) if users.size else [])

    def entering(self) -> float | None:
        """The greatest share at which the relaxation costs less than at the full price."""
        budgeted = isfinite(self.problem.budget_usd)
        low, high = 0.0, 1.0
        fall, slope = self._fall(low)
        if fall <= self.noise_usd:
            return None
        while high - low > NARROW:
            ahead = low + fall / slope
            if ahead >= high and not budgeted:
                return high
            share = ahead if ahead < high else (low + high) / 2
            further = self._fall(share)
            if further[0] > self.noise_usd:
                low, (fall, slope) = share, further
            elif budgeted:
                high = share
            else:
                return share
        return low

    def _fall(self, share: float) -> tuple[float, float]:
        """By how much less the relaxation costs at a share [USD], and how much of that each further share of
        the price takes back [USD]: over the loops at hand, or over all where it does not fall there."""
        self._price(at_share(self.problem, self.item, share))
        relaxation = self.made.relaxation
        relaxation.solve()
        if self.cost_usd - _cost_usd(self.made) <= self.noise_usd:
            self.made.cover()
        units = sum(value * float(self.problem.uses[one.build, self.item])
                    for one, value in relaxation.loops_used())
        a_year = float(self.problem.annual_usd[self.item] - self.problem.upkeep_usd[self.item])
        a_unit = a_year - relaxation.duals().budget * float(self.problem.price_usd[self.item])
        return self.cost_usd - _cost_usd(self.made), units * a_unit

    def _price(self, problem: LoopProblem) -> None:
        """Go on with the item at another price."""
        self.made.problem = self.made.pricer.problem = self.made.relaxation.problem = problem
        relaxation = self.made.relaxation
        for k, one in enumerate(relaxation.columns):
            if problem.uses[one.build, self.item]:
                priced, at = _measured(problem, one), relaxation.loop_at[k]
                relaxation.columns[k], relaxation.costs[at] = priced, priced.cost_usd
                relaxation.highs.changeColCost(at, priced.cost_usd)
                if isfinite(problem.budget_usd):
                    relaxation.highs.changeCoeff(relaxation.row_of["budget"], at, priced.price_usd)


def _likeliest(whole: Generation) -> list[Column]:
    """The loops of least reduced cost of a relaxation; more are found anew where they are missed."""
    relaxation = whole.relaxation
    order = np.argsort(relaxation.reduced[relaxation.loop_at], kind="stable")[:MOST_BEGUN_WITH]
    return [relaxation.columns[k] for k in order if elementary(whole.problem, relaxation.columns[k])]


def _measured(problem: LoopProblem, one: Column) -> Column:
    """The same loop with its cost and price in a problem."""
    return column(problem, one.build, one.clock, one.stops, one.reload_before, one.end_reload_before)


def _cost_usd(made: Generation) -> float:
    """What the relaxation costs [USD]."""
    relaxation = made.relaxation
    return float(np.dot(relaxation.costs, relaxation.values))

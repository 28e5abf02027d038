"""Column generation: loops of negative reduced cost until a sweep over all builds and clocks finds none."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from math import inf

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.cycles import cycles, elementary
from optibuild.integer_program.envelopes import Node
from optibuild.integer_program.labelling import PRICE
from optibuild.integer_program.lowering import lowered
from optibuild.integer_program.pricer import AT_ONCE, Duals, OutOfTime, Pricer, batched
from optibuild.integer_program.problem import LoopProblem
from optibuild.integer_program.relaxation import Relaxation
from optibuild.integer_program.runs import Found, exact, quick
from optibuild.integer_program.spreading import spread

WORTH_FORGETTING = 2e-4
"""Loops that come back to a place are forbidden while that raises the bound by this share."""
SPARE, OPEN, FAR = 0.85, 0.15, 0.3
"""Shares by which a sweep lowers the duals: of what they prove more than enough; where sweeps are long, of
what is open between them and the best plan, if that is less than `FAR` and so no plan of single stops."""
LONG = 45
"""Parcels and sites from which they are, where rows tell builds apart, and a bound may not come of itself."""
STALLED, PATIENCE = 5e-4, 3
"""Share of its value by which the relaxation must fall for another round without a sweep; rounds in a row
that need not do so, where nothing is to be proved."""
CALM, HURRY, HURRIED_SHRINK = 0.6, 3.0, 0.08
"""Share of the time after which bounds are sought in a hurry (after a sweep: how many more end in time),
and how much duals are lowered then."""
LITTLE, CYCLES = 0.01, 0.25
"""Share of all loops in use up to which those that come back to a place are left alone, or this share of what
is open, if that is more."""
MOST_QUIET = 4
"""Rounds without a new loop after which a build is priced only by the sweep."""
REPAIRED, HARDLY = 0.05, 5e-4
"""Share of what is open that works may be made worth less by instead; at most this share of the bound."""
MOST_REPAIRS = 12
"""Times that works are made worth less before another round of generation is tried."""
ENOUGH_LOOPS = 400
"""New loops of active builds after which the relaxation is solved again."""
ENOUGH_BUILDS = 60
"""Builds with new loops after which a sweep stops for the relaxation to be solved again."""
MOST_SPREAD = 100
"""Known orders of stops, those of the loops of least reduced cost, that are tried on all builds."""

Pair = tuple[int, int]
"""A build and a clock."""


class Generation:
    """A relaxation with its pricer: `converge` makes its duals prove a bound."""

    def __init__(self, problem: LoopProblem, first: list[Column], time_used: Callable[[], float],
                 tell: Callable[[], None], enough: Callable[[], float] = lambda: inf,
                 proving: bool = True) -> None:
        self.problem = problem
        self.proving = proving
        self.enough = enough
        self.time_used = time_used
        self.tell = tell
        self.step = 1e-9 * max(1.0, sum(one.cost_usd for one in first))
        self.relaxation = Relaxation(problem, 10.0 * (max(one.cost_usd for one in first) + 1.0))
        self.relaxation.add(first)
        self.shrink = min(2e-3, max(1e-4, 0.2 * problem.gap))
        self.unproved, self.exactly = True, False
        self.sweep_took = 0.0
        self.pricer = Pricer(problem, self.out_of_time)
        self.fleet = np.array(sorted(self.pricer.leaves), np.int64)
        self.active = dict.fromkeys((one.build, one.clock) for one in first)
        self.relaxation.solve()
        self.duals = self.relaxation.duals()

    def out_of_time(self) -> bool:
        """Whether the time for generating loops is used."""
        return self.time_used() >= 1.0

    def bound(self) -> float:
        """What the converged duals prove: loops may still have reduced costs of -step."""
        most = min(self.problem.most_loops, float(self.problem.need.sum()))
        return self.duals.bound - most * self.step

    def would_gain(self) -> float:
        """By how much more another sweep might prove [USD], with duals lowered for what is open now."""
        at_hand, self.duals = self.duals, self.relaxation.duals()
        again, self.duals = self.relaxation.duals(self._shrink()), at_hand
        return again.bound - at_hand.bound

    def resume(self, duals: Duals) -> None:
        """Go on from duals that were converged under the same counts."""
        self.relaxation.solve()
        self.duals = duals

    def approach(self) -> None:
        """Converge as far as the quick ways do, which proves nothing."""
        proving, self.proving = self.proving, False
        self.converge()
        self.proving = proving

    def cover(self) -> bool:
        """Converge with every work covered, or with a bound that is `enough`; False where even fractions of
        loops cannot cover."""
        relaxation = self.relaxation
        self.exactly = False
        self.converge()
        while relaxation.uncovered > 1e-7 and self.bound() < self.enough():
            self.exactly = True  # with duals lowered the penalty could be raised for ever
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
        """Add loops until none has a negative reduced cost; where nothing is to be proved, until the quick
        ways find little. OutOfTime where the clock ended it."""
        quiet: dict[Pair, int] = {}
        before, value, stalled = -inf, inf, 0
        while True:
            if self.out_of_time():
                raise OutOfTime
            self.relaxation.solve()
            self.duals = duals = self.relaxation.duals()
            new, value, last = 0, duals.bound, value
            stalled = 0 if last - value > STALLED * abs(value) else stalled + 1
            if not stalled or not self.proving and stalled <= PATIENCE:
                new = self._price_active(duals, quiet) + self._spread(duals, quiet)
            if not new and value < self.enough() and self.relaxation.stiffen():
                last = value = inf
                continue
            if not new and self.proving:
                new = self._prove(value, quiet)
            if not new:
                gained = self.duals.bound - before
                worth = self._open() > 0 and gained > WORTH_FORGETTING * abs(self.duals.bound)
                if self.relaxation.weight:
                    self.unproved = False
                if not worth or not self._time_for(2) or not self._forget_cycles():
                    return
                before = self.duals.bound
            self.tell()

    def _prove(self, value: float, quiet: dict[Pair, int]) -> int:
        """A sweep at lowered duals, made to prove a bound where it finds little; how many loops are left that
        ask for another round. What the relaxation costs is its `value`."""
        shrink = self._shrink()
        self.duals = self.relaxation.duals(shrink)
        new, negative = self._sweep(self.duals, quiet)
        if new and negative is not None and shrink:
            repaired = self._repaired(shrink, negative)
            if repaired is not None and not repaired.bound < self.enough() <= value:
                self.duals, new = repaired, 0
        return new

    def _shrink(self) -> float:
        """By what share the works' duals are lowered for a sweep: as much as leaves enough proved, or little
        of what stays open; more as time runs out before there was any bound, for a sweep that finds nothing
        gives one, if a lower one. Nothing where it is asked whether any plan exists."""
        if self.exactly or not self.relaxation.weight:
            return 0.0
        calm = (1.0 - self.time_used()) / (HURRY * self.sweep_took or 1.0 - CALM)
        late = min(1.0, max(0.0, 1.0 - calm)) if self.unproved else 0.0
        still, duals = self._open(), self.duals
        long = self.pricer.rowed and self.problem.need.sum() >= LONG
        given = -SPARE * still if still < 0 else OPEN * still if long and still < FAR else 0.0
        paid = max(1.0, float(duals.works @ self.problem.need))
        return max(self.shrink, given * abs(duals.bound) / paid) + HURRIED_SHRINK * late

    def _time_for(self, sweeps: int) -> bool:
        return sweeps * self.sweep_took < 1.0 - self.time_used()

    def _open(self) -> float:
        """What lies between the duals' bound and enough, as a share of the bound."""
        return (self.enough() - self.duals.bound) / max(1.0, abs(self.duals.bound))

    def take(self, loops: list[Column]) -> None:
        """Take in loops from elsewhere, and price their builds and clocks from now on."""
        self.relaxation.add(loops)
        self.active |= dict.fromkeys(sorted({(one.build, one.clock) for one in loops}))

    def _spread(self, duals: Duals, quiet: dict[Pair, int]) -> int:
        """Known orders of stops to the builds they suit best; how many new loops."""
        orders = self.relaxation.best_orders(MOST_SPREAD)
        found = spread(self.problem, orders, self.fleet, duals, -self.step)
        added = self.relaxation.add(found)
        if added:
            self._awake({(one.build, one.clock) for one in found}, quiet)
        return added

    def _awake(self, pairs: Iterable[Pair], quiet: dict[Pair, int]) -> None:
        """Let these builds and clocks be priced in every round."""
        for pair in sorted(pairs):
            self.active[pair], quiet[pair] = None, 0

    def _price_active(self, duals: Duals, quiet: dict[Pair, int]) -> int:
        """Price, quickly, builds and clocks that gave loops of late, in turn, until enough new loops are in
        hand; how many."""
        pairs = [pair for pair in self.active
                 if quiet.get(pair, 0) < MOST_QUIET and pair[0] in self.pricer.leaves]
        new = 0
        for batch in batched(pairs, AT_ONCE):
            if self.out_of_time():
                raise OutOfTime
            found = self.price([(self.pricer.leaves[b], k) for b, k in batch], duals, proving=False)
            for pair in batch:
                quiet[pair] = 0 if pair in found else quiet.get(pair, 0) + 1
                self.active[pair] = self.active.pop(pair)  # last in turn now
            new += sum(found.values())
            if new >= ENOUGH_LOOPS:
                break
        return new

    def _repaired(self, shrink: float, negative: list[tuple[Node, int]]) -> Duals | None:
        """Duals under which no loop has a negative reduced cost, where a sweep found few such builds and
        clocks: works that their loops share are worth less. None where it costs too much and time is left.

        Worth less, a work makes no other loop better, so only these builds need another look.
        """
        less = np.zeros(self.problem.need.size)
        duals = self.relaxation.duals(shrink)
        little = max(shrink, min(HARDLY, REPAIRED * self._open())) * abs(duals.bound)
        allowed = little if self._time_for(1) else inf
        for _ in range(MOST_REPAIRS):
            if not negative:
                return duals
            searched = self._searched(negative, duals, True)
            found = [(pair, part) for pair, part in zip(negative, searched, strict=True) if part is not None]
            negative = [pair for pair, part in found if part.floor < -self.step]
            loops = [column(self.problem, int(pair[0].builds[0]), pair[1], *part.loop(k))
                     for pair, part in found for k in range(part.ends.size)]
            lower = lowered(loops, [duals.reduced_cost(self.problem, one) for one in loops], duals.works)
            less += lower
            if negative and (not lower.any() or float(less @ self.problem.need) > allowed):
                return None
            duals = self.relaxation.duals(shrink, less)
        return None

    def _sweep(self, duals: Duals, quiet: dict[Pair, int]) -> tuple[int, list[tuple[Node, int]] | None]:
        """Search the tree of builds; stops early once enough new loops are in hand. How many new loops, and
        every build and clock with a negative loop (None where it stopped early)."""
        found: dict[Pair, int] = {}
        negative: list[tuple[Node, int]] = []
        started, short = self.time_used(), False
        for batch in batched(self.pricer.promising(lambda: duals, -self.step, every=False), AT_ONCE):
            if self.out_of_time():
                raise OutOfTime
            searched = self.price(batch, duals, proving=True)
            self._awake(((int(node.builds[0]), clock) for node, clock in batch), quiet)
            found |= searched
            negative += [(node, clock) for node, clock in batch if (int(node.builds[0]), clock) in searched]
            if short := len(found) >= ENOUGH_BUILDS:
                break
            before = self.time_used()
            self.tell()
            started += self.time_used() - before  # who is told may make use of the time
        self.sweep_took = max(self.sweep_took, self.time_used() - started)
        return sum(found.values()), None if short else negative

    def price(self, pairs: list[tuple[Node, int]], duals: Duals, proving: bool) -> dict[Pair, int]:
        """Best loops of single builds at clocks into the relaxation; how many are new, by build and clock."""
        new: dict[Pair, int] = {}
        for (node, clock), found in zip(pairs, self._searched(pairs, duals, proving), strict=True):
            if found is not None and found.ends.size:
                build = int(node.builds[0])
                loops = [column(self.problem, build, clock, *found.loop(k)) for k in range(found.ends.size)]
                if added := self.relaxation.add(loops):
                    new[build, clock] = added
        return new

    def _searched(self, pairs: list[tuple[Node, int]], duals: Duals, proving: bool) -> list[Found | None]:
        return self.pricer.side_by_side(lambda one: self._search(*one, duals, proving), pairs)

    def _search(self, node: Node, clock: int, duals: Duals, proving: bool) -> Found | None:
        """Best loops of one build at one clock, found quickly or exactly."""
        view = self.pricer.view(node, clock, duals, PRICE, -self.step)
        if view is None:
            return None
        if not proving:
            return quick(view, PRICE, -self.step)
        found = exact(view, PRICE, -self.step)
        if not found.complete and not found.ends.size:
            raise OutOfTime
        return found if found.complete else replace(found, floor=-inf)

    def _forget_cycles(self) -> bool:
        """Forbid the cycles in the loops in use; whether there were any."""
        used = self.relaxation.loops_used()
        bad = [one for one, _ in used if not elementary(self.problem, one)]
        share = sum(value for one, value in used if one in bad) / max(1.0, sum(value for _, value in used))
        still = self._open()
        if share < max(LITTLE, CYCLES * still if still < FAR else 0.0):
            return False
        for one in bad:
            self.pricer.remember(cycles([int(self.problem.place[s]) for s in one.stops]))
        self.relaxation.forbid(bad)
        return bool(bad)

"""The search: relaxation by column generation, then the list of loops that could still matter, then the
integer program over that list."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from math import inf

import numpy as np

from optibuild.integer_program.columns import Column, column, keep_undominated
from optibuild.integer_program.cuts import eligible, violated
from optibuild.integer_program.envelopes import Duals, Node, Pricer
from optibuild.integer_program.labelling import PRICE, quick, run
from optibuild.integer_program.listing import list_loops
from optibuild.integer_program.master import Chosen, Relaxation, choose
from optibuild.integer_program.outcome import PROVED_GAP, LoopOutcome, Stopped, relative_gap
from optibuild.integer_program.problem import Floats, LoopProblem

MOST_CUTS = 150
"""Subset-row cuts in one relaxation."""
MOST_LISTED = 60_000
"""Loops that one integer program may hold."""


@dataclass(frozen=True)
class Progress:
    """Where the search stands, for whoever watches: columns, bound and best cost so far."""

    columns: int
    bound: float
    best: float
    seconds: float


class OutOfTime(Exception):
    """The time limit passed inside column generation."""


def solve(problem: LoopProblem, progress: Callable[[Progress], None] | None = None) -> LoopOutcome:
    """The least-cost loops that cover every work, with a proven bound.

    Raises nothing for a problem without a plan: the outcome says so. Ctrl-C and the time limit keep the best.
    """
    search = Search(problem, progress)
    stopped: Stopped
    try:
        stopped = search.run()
    except OutOfTime:
        stopped = "time limit"
    except KeyboardInterrupt:
        stopped = "interrupted"
    return search.outcome(stopped)


class Search:
    """One solve: its relaxation, its pricer, the best plan and the bound."""

    def __init__(self, problem: LoopProblem, progress: Callable[[Progress], None] | None) -> None:
        self.problem = problem
        self.progress = progress
        self.started = time.monotonic()
        self.bound = -inf
        self.best: Chosen | None = None
        self.relaxation: Relaxation | None = None
        self.duals = Duals(np.zeros(problem.need.size), np.zeros(problem.price_usd.size))
        self.listed: list[Column] = []

    # what the search knows
    @property
    def best_cost(self) -> float:
        """Objective of the best plan so far (inf without one)."""
        return self.best.objective if self.best else inf

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return self.problem.time_limit_s - (time.monotonic() - self.started)

    def out_of_time(self) -> bool:
        """Whether the time limit has passed."""
        return self.left_s <= 0

    def tell(self) -> None:
        """Report progress."""
        if self.progress:
            columns = len(self.relaxation.columns) if self.relaxation else 0
            constant = self.problem.constant_usd
            self.progress(Progress(columns, self.bound + constant, self.best_cost + constant,
                                   time.monotonic() - self.started))

    def offer(self, chosen: Chosen | None) -> None:
        """Take a plan if it beats the best."""
        if chosen and chosen.objective < self.best_cost:
            self.best = chosen

    def close_enough(self, gap: float) -> bool:
        """Whether the best plan is within a relative gap of the bound."""
        return self.best is not None and self._gap() <= max(gap, PROVED_GAP)

    def _gap(self) -> float:
        return relative_gap(self.best_cost + self.problem.constant_usd, self.bound + self.problem.constant_usd)

    # the stages
    def run(self) -> Stopped:
        """All stages; says why it ended."""
        problem = self.problem
        if problem.need.size == 0:
            self.best, self.bound = choose(problem, [], (), 1.0)[0], 0.0
            return "proved"
        first = first_columns(problem)
        if (set(range(problem.need.size)) - {t for one in first for t, _ in one.covers}
                - set(np.flatnonzero(np.isfinite(problem.missed_usd[problem.group])))):
            self.bound = inf
            return "no plan exists"
        self.bound = -inf if problem.may_cost_less_than_nothing else 0.0
        scale = max(one.cost_usd for one in first) + 1.0
        self.step = 1e-9 * max(1.0, sum(one.cost_usd for one in first))
        self.relaxation = Relaxation(problem, 10.0 * scale)
        self.relaxation.add(first)
        self.pricer = Pricer(problem)
        self.active = dict.fromkeys(one.build for one in first)
        if not self._cover_in_relaxation():
            self.bound = inf
            return "no plan exists"
        return self._close()

    def _cover_in_relaxation(self) -> bool:
        """Converge with every work covered; False where even fractions of loops cannot."""
        relaxation = self.relaxation
        assert relaxation is not None
        self._converge()
        for _ in range(6):
            if relaxation.uncovered <= 1e-7:
                break
            relaxation.weigh(0.0)
            self._converge()
            possible = relaxation.uncovered <= 1e-7
            relaxation.weigh(1.0)
            if not possible:
                return False
            relaxation.raise_penalty(10.0 * relaxation.penalty)
            self._converge()
        self._take_bound()
        return True

    def _take_bound(self) -> None:
        """What the converged duals prove."""
        assert self.relaxation is not None
        most = min(self.problem.most_loops, float(self.problem.need.sum()))
        self.bound = max(self.bound, self.relaxation.dual_bound(self.duals) - most * self.step)
        self.tell()

    def _converge(self) -> None:
        """Add loops of negative reduced cost until a full sweep over all builds and clocks finds none."""
        relaxation, pricer = self.relaxation, self.pricer
        assert relaxation is not None
        quiet: dict[int, int] = {}
        while True:
            if self.out_of_time():
                raise OutOfTime
            relaxation.solve()
            self.duals = duals = relaxation.duals()
            own = duals.own_part(self.problem)
            new = self._price_active(duals, own, quiet)
            if not new:
                new = self._sweep(duals, own, quiet)
            if not new and not self._forget_cycles():
                return
            self.tell()

    def _price_active(self, duals: Duals, own: Floats, quiet: dict[int, int]) -> int:
        """Price, quickly, the builds that gave loops of late; how many new loops."""
        new = 0
        for build in [b for b in self.active if quiet.get(b, 0) < 4 and b in self.pricer.leaves]:
            found = sum(self._price(self.pricer.leaves[build], clock, duals, own, exact=False)
                        for clock in range(self.problem.cycle_limit_min.size))
            quiet[build] = 0 if found else quiet.get(build, 0) + 1
            new += found
        return new

    def _sweep(self, duals: Duals, own: Floats, quiet: dict[int, int]) -> int:
        """Search the tree of builds; stops early once enough new loops are in hand."""
        new, builds = 0, set()
        for node, clock in self.pricer.promising(duals, own, -self.step, PRICE):
            if self.out_of_time():
                raise OutOfTime
            found = self._price(node, clock, duals, own, exact=True)
            if found:
                build = int(node.builds[0])
                self.active[build] = None
                quiet[build] = 0
                new += found
                builds.add(build)
                if len(builds) >= 12:
                    break
        return new

    def _price(self, node: Node, clock: int, duals: Duals, own: Floats, exact: bool) -> int:
        """Best loops of one build at one clock into the relaxation; how many are new. The exact search runs
        only where it is asked for and the quick one finds nothing."""
        assert self.relaxation is not None
        view = self.pricer.view(node, clock, duals, own, PRICE)
        if view is None:
            return 0
        found = quick(view, PRICE, -self.step)
        if exact and not found.ends.size:
            found = run(view, PRICE, -self.step)
            if not found.complete and not found.ends.size:
                raise OutOfTime  # labels ran out: this build's best loop is not known, so no bound follows
        build = int(node.builds[0])
        return self.relaxation.add([column(self.problem, build, clock, *found.loop(k))
                                    for k in range(found.ends.size)])

    def _forget_cycles(self) -> bool:
        """Forbid the cycles in the loops in use; whether there were any."""
        assert self.relaxation is not None
        bad = [one for one, _ in self.relaxation.loops_used() if not elementary(self.problem, one)]
        for one in bad:
            self.pricer.remember(_cycles([int(self.problem.place[s]) for s in one.stops]))
        self.relaxation.forbid(bad)
        return bool(bad)

    def _close(self) -> Stopped:
        """Integer programs over longer and longer lists until the plan is proved or time is up."""
        problem, relaxation = self.problem, self.relaxation
        assert relaxation is not None
        self._choose(self._known(), 0.25)
        self._cut()
        root = self.bound
        within = self._gap_to(root) / 4 if self.best else 0.02 * abs(root) + self.step
        while not self.out_of_time():
            if self.close_enough(problem.gap):
                return "proved" if self.close_enough(PROVED_GAP) else "gap reached"
            within = min(within, self._gap_to(root))
            listed, complete = list_loops(problem, self.pricer, self.duals, within, MOST_LISTED, self.out_of_time)
            self.listed = listed
            limit = self._choose(listed + self._known(), 0.9)
            if complete:
                self.bound = max(self.bound, min(limit, root + within, self.best_cost))
            self.tell()
            if complete and within >= self._gap_to(root):
                if self.close_enough(PROVED_GAP):
                    return "proved"
                if self.best is None and limit == inf and within == inf:
                    self.bound = inf
                    return "no plan exists"
            elif not complete:
                break
            within = min(4 * within, self._gap_to(root)) if within < 1e3 * (abs(root) + 1) else inf
        if self.close_enough(problem.gap):
            return "proved" if self.close_enough(PROVED_GAP) else "gap reached"
        return "time limit"

    def _known(self) -> list[Column]:
        """Loops generated so far that could be in a better plan."""
        assert self.relaxation is not None
        return [one for one in self.relaxation.columns if elementary(self.problem, one)
                and self.duals.reduced_cost(self.problem, one) <= self._gap_to(self.bound)]

    def _cut(self) -> None:
        """Raise the bound by subset-row cuts while they pay."""
        relaxation = self.relaxation
        assert relaxation is not None
        works = eligible(self.problem)
        before = -inf
        while not self.close_enough(self.problem.gap) and len(relaxation.cuts) < MOST_CUTS:
            if self.bound - before <= 0.02 * max(0.0, self.best_cost - self.bound) and before > -inf:
                break
            before = self.bound
            found = violated(works, relaxation.loops_used(), set(relaxation.cuts), 12)
            if not found:
                break
            relaxation.cut(found)
            self._converge()
            self._take_bound()
            self._choose(self._known(), 0.1)

    def _gap_to(self, root: float) -> float:
        """Reduced cost beyond which no loop can be in a better plan."""
        return self.best_cost - root + self.step

    def _choose(self, columns: list[Column], share: float) -> float:
        """Integer program over these loops, for a share of the time left; its bound."""
        chosen, bound = choose(self.problem, keep_undominated(self.problem, columns),
                               self.relaxation.cuts if self.relaxation else (), share * max(1.0, self.left_s))
        self.offer(chosen)
        self.tell()
        return bound

    def outcome(self, stopped: Stopped) -> LoopOutcome:
        """What is known when the search ends."""
        problem = self.problem
        best = self.best
        gap = self._gap() if best and np.isfinite(self.bound) else None
        constant = problem.constant_usd
        lifted = np.where(problem.held, -self.duals.items,
                          problem.annual_usd - self.duals.budget * problem.price_usd - self.duals.items)
        return LoopOutcome(
            "none" if best is None else "proved best" if gap == 0.0 else
            "within the asked gap" if gap is not None and gap <= problem.gap else "best found",
            stopped, best.objective + constant if best else None,
            (min(self.bound, self.best_cost) if best else self.bound) + constant, gap,
            best.times if best else (), best.missed if best else (),
            best.bought if best else np.zeros(problem.price_usd.size),
            best.owned_used if best else np.zeros(problem.price_usd.size),
            self.duals.works, lifted, len(self.relaxation.columns) if self.relaxation else 0,
            time.monotonic() - self.started)


def first_columns(problem: LoopProblem) -> list[Column]:
    """For every stop, its cheapest loop with no other stop, over all builds and clocks."""
    out = problem.travel_min[problem.start][:, problem.place]
    home = problem.travel_min[problem.place][:, problem.end].T
    metres = problem.distance_m[problem.start][:, problem.place] + problem.distance_m[problem.place][:, problem.end].T
    wet = (problem.material_kg > 0) & problem.may_reload
    reload_min = np.where(wet[None, :], problem.reload_min[:, None], 0.0)
    drive = (out + home + reload_min)[:, None, :]
    late = out[:, None, :] + problem.minutes > problem.deadline_min + 1e-6
    over = problem.material_kg[None, :] > problem.fill_kg[:, None] * (1 + 1e-9)
    bad = (late | over[:, None, :] | ~problem.allowed[None, :, :]
           | (drive + problem.minutes > problem.cycle_limit_min[None, :, None] + 1e-6))
    with np.errstate(invalid="ignore"):
        cost = (problem.own_cost_usd[:, None, None] + problem.drive_usd_per_min[:, :, None] * drive
                + problem.drive_usd_per_m[:, :, None] * metres[:, None, :] + problem.stop_usd)
    cost = np.where(bad | ~np.isfinite(problem.minutes), inf, cost)
    made = []
    for stop in range(problem.place.size):
        build, clock = divmod(int(np.argmin(cost[:, :, stop])), problem.cycle_limit_min.size)
        if np.isfinite(cost[build, clock, stop]):
            made.append(column(problem, build, clock, (stop,), (False,)))
    return made


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

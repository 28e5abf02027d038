"""Pricing: which builds may have a loop below a cutoff at given duals, and what the kernel sees of them."""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.cuts import Cut, coefficient, table
from optibuild.integer_program.envelopes import Node, grow, regrow
from optibuild.integer_program.labelling import EXISTS, LIST
from optibuild.integer_program.labels import EndView
from optibuild.integer_program.picking import places_of, remembered, usable_stops, ways
from optibuild.integer_program.problem import Bools, Floats, Ints, LoopProblem
from optibuild.integer_program.runs import Ahead, Found, View, exact, run, stop_keys

MOST_LISTED = 3_000_000
"""Labels in the list of one build at one clock."""
AT_ONCE = 16
"""Groups searched before it is looked again at what they gave."""
_One = TypeVar("_One")
_Made = TypeVar("_Made")


@dataclass(frozen=True)
class Duals:
    """What the relaxation's rows are worth: `works` [T], and so each stop, `gain` [S]; `own` [B], a loop's
    reduced cost before it drives; `cut_duals` of the subset-row `cuts`; `items` [I] and `budget` for
    explanations. `weight` scales money (0 in the search for any plan at all). `bound` is proved once no loop
    has a negative reduced cost."""

    works: Floats
    gain: Floats
    own: Floats
    cuts: tuple[Cut, ...]
    cut_duals: Floats
    items: Floats
    budget: float
    weight: float
    bound: float

    def reduced_cost(self, problem: LoopProblem, one: Column) -> float:
        """Reduced cost of a loop."""
        gains = sum(amount * self.works[work] for work, amount in one.covers)
        cuts = sum(dual * coefficient(cut, one.covers)
                   for cut, dual in zip(self.cuts, self.cut_duals, strict=True) if dual)
        driving = self.weight * (one.cost_usd - problem.own_cost_usd[one.build])
        return float(driving + self.own[one.build] - gains - cuts)

    def lifted(self, problem: LoopProblem) -> Floats:
        """Duals of items [I, USD/year], with a year's cost and the budget's price where nobody owns one."""
        bought = problem.annual_usd - self.budget * problem.price_usd - self.items
        return np.where(problem.held, -self.items, bought)


class OutOfTime(Exception):
    """The time limit passed inside column generation, or labels ran out: no bound follows."""


class Pricer:
    """Finds loops below a cutoff of reduced cost, over all builds and clocks."""

    def __init__(self, problem: LoopProblem, out_of_time: Callable[[], bool], remembered: int = 12,
                 among: Ints | None = None) -> None:
        self.problem = problem
        self.out_of_time = out_of_time
        self.rowed = bool(problem.held.any() or problem.scarce.any() or np.isfinite(problem.budget_usd))
        trees = grow(problem, among)
        self.roots = [trees for _ in problem.cycle_limit_min]
        self.leaves = {int(leaf.builds[0]): leaf for root in trees for leaf in _leaves(root)}
        self.near = _nearest(problem, remembered)
        self.keys = stop_keys(problem.place.size)
        starts, ends = set(problem.start.tolist()), set(problem.end.tolist())
        self.out = {start: problem.travel_min[start, problem.place] for start in starts}
        self.home = {end: problem.travel_min[problem.place, end] for end in ends}
        self.workers = int(os.environ.get("OPTIBUILD_THREADS", min(4, os.cpu_count() or 1)))
        self.threads = ThreadPoolExecutor(self.workers)

    def side_by_side(self, do: Callable[[_One], _Made], over: list[_One]) -> list[_Made]:
        """Do the same for each, on several threads: each takes the next one, for handing over costs more than
        a short run. The compiled kernel leaves Python's lock, so threads pay."""
        waiting = iter(enumerate(over))  # the lock lets each item be taken once
        made: list[_Made] = [None] * len(over)  # type: ignore[list-item]

        def take(_: int) -> None:
            for k, one in waiting:
                made[k] = do(one)

        list(self.threads.map(take, range(self.workers)))
        return made

    def view(self, node: Node, clock: int, duals: Duals, mode: int, cutoff: float) -> View | None:
        """The kernel's input for a group at a clock; None where it has no loop below the cutoff for want of
        stops."""
        problem, money, end = self.problem, duals.weight, self.problem.end_round
        plain, last, limit = node.paces[0], node.paces[-1], float(problem.cycle_limit_min[clock])
        first = node.builds[0]
        depots = int(problem.start[first]), int(problem.end[first])
        fixed = float(duals.own[node.builds].min())
        # a stop that takes more than it gives never helps, but for being the only one
        only_gainful = mode != LIST and problem.triangle and fixed >= max(0.0, cutoff)
        stops, cost = usable_stops(
            problem.allowed[clock], last.minutes[clock], plain.minutes[clock], node.stop_usd[clock],
            duals.gain, money, only_gainful, self.out[depots[0]], self.home[depots[1]], limit,
            problem.deadline_min, end and end.only, end and end.limit_min)
        if not stops.size:
            return None
        places, local, loss = places_of(problem.place, stops, cost, len(problem.travel_min), problem.triangle)
        roads = [ways(places, *depots, problem.travel_min, problem.distance_m,
                      money * pace.drive_usd_per_min[clock], money * pace.drive_usd_per_m[clock])
                 for pace in node.paces]
        drives = [drive for _, drive in roads]
        reload_usd = [money * float(pace.drive_usd_per_min[clock]) * node.reload_min for pace in node.paces]
        near, every = remembered(self.near, places)
        minutes = last.minutes[clock, stops]
        end_round = _end_view(problem, stops, minutes, drives[-1], reload_usd[-1])
        return View(
            stops, self.keys[stops], limit, plain.minutes[clock, stops], cost, problem.material_kg[stops],
            problem.deadline_min[stops], local, roads[0][0], drives[0], node.fill_kg, node.reload_min,
            reload_usd[0], problem.may_reload, fixed, every, near, loss,
            table(problem, duals.cuts, duals.cut_duals, stops), end_round,
            _ahead(problem, limit, minutes, local, drives, end_round))

    def promising(self, now: Callable[[], Duals], cutoff: float,
                  every: bool = True) -> Iterator[tuple[Node, int]]:
        """Single builds and clocks that may have a loop below the `cutoff`; all others provably have none, by
        the duals `now`, of which those of works may fall on the way. OutOfTime where the clock ended it. Not
        `every`: of builds that another beats at these duals none is looked at, for if it has one, so has the
        other.

        Groups are looked at a few at once, in a fixed order, so threads never change what is found.
        """
        pending = [(root, clock) for clock, roots in enumerate(self._trees(now(), every)) for root in roots]
        while pending:
            if self.out_of_time():
                raise OutOfTime
            batch, pending = pending[-AT_ONCE:][::-1], pending[:-AT_ONCE]
            groups = [(node, clock) for node, clock in batch if node.halves]
            yield from ((node, clock) for node, clock in batch if not node.halves)
            for node, clock in self._may_hold(groups, now(), cutoff):
                pending.extend((half, clock) for half in node.halves)

    def _may_hold(self, pairs: list[tuple[Node, int]], duals: Duals, cutoff: float) -> list[tuple[Node, int]]:
        """Those of some groups and clocks that may have a loop below the cutoff."""
        holds = self.side_by_side(lambda pair: self._holds(*pair, duals, cutoff), pairs)
        return [pair for pair, may in zip(pairs, holds, strict=True) if may]

    def _holds(self, node: Node, clock: int, duals: Duals, cutoff: float) -> bool:
        """Whether a group may have a loop below the cutoff (also where labels ran out)."""
        view = self.view(node, clock, duals, EXISTS, cutoff)
        if view is None:
            return False
        found = exact(view, EXISTS, cutoff)
        return bool(found.ends.size) or not found.complete

    def listed(self, pairs: list[tuple[Node, int]], duals: Duals, within: float,
               labels: int) -> list[Found | None]:
        """Every loop of each pair within a reduced cost; None where it can make no stop, or where the list of
        another one grew too long. OutOfTime where the clock cut any short."""
        given_up: list[bool] = []

        def listed(pair: tuple[Node, int]) -> Found | None:
            view = None if given_up else self.view(*pair, duals, LIST, within)
            if view is None:
                return None
            found = run(view, LIST, within)
            if not found.complete:
                found = run(view, LIST, within, most_labels=min(labels, MOST_LISTED))
            if not found.complete or self.out_of_time():
                given_up.append(True)
            return found

        lists = self.side_by_side(listed, pairs)
        if self.out_of_time():
            raise OutOfTime
        return lists

    def _trees(self, duals: Duals, every: bool) -> list[list[Node]]:
        """The trees of each clock. Builds are grouped anew by what they cost now, where rows of items or
        money tell them apart: groups of like cost are told to hold nothing sooner."""
        problem = self.problem
        if not self.rowed:
            return self.roots
        grown: dict[bytes, list[Node]] = {}
        trees = []
        for roots in self.roots:
            builds = np.sort(np.concatenate([np.zeros(0, np.int64), *(root.builds for root in roots)]))
            if builds.tobytes() not in grown:
                grown[builds.tobytes()] = regrow(problem, builds, duals.own, every)
            trees.append(grown[builds.tobytes()])
        return trees

    def remember(self, cycles: list[tuple[int, ...]]) -> None:
        """Make the places within each cycle remember its ends, so that no later loop may hold it."""
        for cycle in cycles:
            self.near[list(cycle), cycle[0]] = True


def batched(every: Iterable[_One], size: int) -> Iterator[list[_One]]:
    """Runs of up to `size` of an iterable."""
    source = iter(every)
    while batch := list(islice(source, size)):
        yield batch


def _leaves(node: Node) -> list[Node]:
    return [leaf for half in node.halves for leaf in _leaves(half)] if node.halves else [node]


def _nearest(problem: LoopProblem, count: int) -> np.ndarray:
    """near[v, u]: whether a label at v goes on remembering u: the `count` nearest places, and v itself."""
    both_ways = problem.travel_min + problem.travel_min.T
    near = np.zeros(both_ways.shape, bool)
    stops = np.unique(problem.place)
    order = np.argsort(both_ways[np.ix_(stops, stops)], axis=1, kind="stable")[:, : count + 1]
    near[stops[:, None], stops[order]] = True
    near[stops, stops] = True
    return near


def _end_view(problem: LoopProblem, stops: Ints, minutes: Floats, drive: Floats,
              reload_usd: float) -> EndView | None:
    """The kernel's input for the end round; None where the problem has none of its own."""
    end = problem.end_round
    if end is None:
        return None
    latest = float(end.limit_min[stops[problem.has_end_work[stops]]].max(initial=-np.inf))
    return EndView(minutes, end.material_kg[stops], end.limit_min[stops], end.only[stops], drive, reload_usd,
                   latest)


def _ahead(problem: LoopProblem, limit: float, minutes: Floats, place: Ints, drives: list[Floats],
           end: EndView | None) -> Ahead:
    """What no loop can do better, on the clock of the round that makes every stop.

    With an end round that is the money of its drives and what the plain round drives at the least.
    """
    least = drives if problem.triangle else [_by_start(drive) for drive in drives]
    if end is None:
        return Ahead(limit, minutes, least[0])
    surely = np.ones(len(drives[0]), bool)
    surely[place[end.only]] = False
    return Ahead(max(limit, end.latest), minutes, least[1] + _plain_part(least[0], surely))


def _by_start(drive: Floats) -> Floats:
    """The cheaper of a drive straight and by the start, as it goes where the truck reloads."""
    least = np.minimum(drive, drive[:, -2, None] + drive[None, -2, :])
    least[:, -1] = drive[:, -1]
    return least


def _plain_part(drive: Floats, surely: Bools) -> Floats:
    """The least that the plain round pays for a drive of the end round, where each of the places `surely`
    stands in both: from wherever it comes to a place that it does not drive past, and home from there."""
    apart = drive + np.diag(np.full(len(drive), np.inf))
    part = np.where(surely[:, None], drive, apart[:-1].min(axis=0))
    part[:, ~surely] = 0.0
    part[~surely, -1] = 0.0
    return part

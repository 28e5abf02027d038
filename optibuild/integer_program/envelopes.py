"""Builds in a tree of groups, each group priced as one imaginary build at least as good as any member.

At given duals the imaginary build has the least fixed part, the element-wise least minutes and costs, and the
largest fill of its members, so each member's loop is a loop of it at no higher reduced cost: where the group
has no loop below the cutoff, no member has.
"""

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.cuts import Cut, coefficient, table
from optibuild.integer_program.labelling import EXISTS, LIST, View, exact, quick, stop_keys
from optibuild.integer_program.problem import Floats, Ints, LoopProblem


@dataclass(frozen=True)
class Duals:
    """What the relaxation's rows are worth: `works` [T]; `own` [B], a loop's reduced cost before it drives;
    `cut_duals` of the subset-row `cuts`; `items` [I] and `budget` for explanations. `weight` scales money (0
    in the search for any plan at all). `bound` is proved once no loop has a negative reduced cost."""

    works: Floats
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


@dataclass(frozen=True)
class Node:
    """A group of builds: the arrays of its imaginary build, and its halves (none for a single build)."""

    builds: Ints
    minutes: Floats
    stop_usd: Floats
    drive_usd_per_min: Floats
    drive_usd_per_m: Floats
    fill_kg: float
    reload_min: float
    halves: tuple["Node", ...]


def grow(problem: LoopProblem) -> list[Node]:
    """One tree for each pair of start and end."""
    pairs = np.stack([problem.start, problem.end], axis=1)
    roots = []
    for pair in np.unique(pairs, axis=0):
        members = np.flatnonzero((pairs == pair).all(axis=1))
        members = members[np.isfinite(problem.minutes[members]).any(axis=(1, 2))]
        if members.size:
            members = undominated(problem, members)
            roots.append(_node(problem, members, _features(problem, members)))
    return roots


def undominated(problem: LoopProblem, builds: Ints) -> Ints:
    """Of builds with one start and end, those that no other matches or beats in everything that counts.

    The beaten one's loops can all be run by the other at no higher cost or price, with no more of an item
    that can run out, so leaving it out never changes the optimum. Of equals the first stays.
    """
    rowed = problem.held | problem.scarce
    price = problem.own_price_usd if np.isfinite(problem.budget_usd) else np.zeros(problem.start.size)
    whole = np.concatenate([
        np.stack([problem.own_cost_usd, price, -problem.fill_kg, problem.reload_min], axis=1)[builds],
        problem.uses[builds][:, rowed], problem.drive_usd_per_min[builds], problem.drive_usd_per_m[builds],
        problem.minutes[builds].reshape(builds.size, -1), problem.stop_usd[builds].reshape(builds.size, -1)],
        axis=1)
    kept: list[int] = []
    for b in np.lexsort((builds, whole[:, 0])):
        rivals = whole[kept]
        if not kept or not (rivals <= whole[b]).all(axis=1).any():
            kept.append(int(b))
    return builds[np.sort(kept)]


def _features(problem: LoopProblem, builds: Ints) -> Floats:
    """What tells builds apart, scaled: what they can do, how fast, cost and fill [builds, 4]."""
    minutes = problem.minutes[builds]
    can = np.isfinite(minutes)
    speed = np.where(can, minutes, 0.0).sum(axis=(1, 2)) / np.maximum(can.sum(axis=(1, 2)), 1)
    fill = np.minimum(problem.fill_kg[builds], problem.material_kg.sum())
    cost = np.log1p(problem.own_cost_usd[builds])
    return np.stack([can.mean(axis=(1, 2)) * 4.0, np.log1p(speed), cost, np.log1p(fill) / 8.0], axis=1)


def _node(problem: LoopProblem, builds: Ints, features: Floats) -> Node:
    if builds.size == 1:
        only = int(builds[0])
        return Node(builds, problem.minutes[only], problem.stop_usd[only], problem.drive_usd_per_min[only],
                    problem.drive_usd_per_m[only], float(problem.fill_kg[only]),
                    float(problem.reload_min[only]), ())
    axis = int(np.argmax(np.ptp(features, axis=0)))
    order = np.argsort(features[:, axis], kind="stable")
    cut = builds.size // 2
    halves = tuple(_node(problem, builds[part], features[part]) for part in (order[:cut], order[cut:]))
    a, b = halves
    return Node(
        np.concatenate([a.builds, b.builds]), np.minimum(a.minutes, b.minutes),
        np.minimum(a.stop_usd, b.stop_usd), np.minimum(a.drive_usd_per_min, b.drive_usd_per_min),
        np.minimum(a.drive_usd_per_m, b.drive_usd_per_m), max(a.fill_kg, b.fill_kg),
        min(a.reload_min, b.reload_min), halves)


AT_ONCE = 16
"""Groups searched side by side: the compiled kernel leaves Python's lock, so threads pay."""


class Pricer:
    """Finds loops below a cutoff of reduced cost, over all builds and clocks."""

    def __init__(self, problem: LoopProblem, remembered: int = 12) -> None:
        self.problem = problem
        self.roots = grow(problem)
        self.leaves = {int(leaf.builds[0]): leaf for root in self.roots for leaf in _leaves(root)}
        self.near = _nearest(problem, remembered)
        self.keys = stop_keys(problem.place.size)
        self.threads = ThreadPoolExecutor(min(4, os.cpu_count() or 1))

    def view(self, node: Node, clock: int, duals: Duals, mode: int) -> View | None:
        """The kernel's input for a group at a clock; None where it can make no stop at all."""
        problem = self.problem
        money = duals.weight
        minutes = node.minutes[clock]
        can = problem.allowed[clock] & np.isfinite(minutes)
        cost = money * np.where(can, node.stop_usd[clock], 0.0) - problem.amount @ duals.works
        fixed = float(duals.own[node.builds].min())
        if mode != LIST and problem.triangle and fixed >= 0.0:
            can &= cost < 0.0  # a stop that takes more than it gives never helps, but for being the only one
        start, end = int(problem.start[node.builds[0]]), int(problem.end[node.builds[0]])
        usable = np.flatnonzero(can)
        where = problem.place[usable]
        out, home = problem.travel_min[start, where], problem.travel_min[where, end]
        usable = usable[(out + minutes[usable] + home <= problem.cycle_limit_min[clock] + 1e-6)
                        & (out + minutes[usable] <= problem.deadline_min[usable] + 1e-6)]
        if not usable.size:
            return None
        places, local = np.unique(problem.place[usable], return_inverse=True)
        legs = np.ix_(np.append(places, [start, end]), np.append(places, [start, end]))
        travel = np.ascontiguousarray(problem.travel_min[legs])
        drive = money * (node.drive_usd_per_min[clock] * travel
                         + node.drive_usd_per_m[clock] * problem.distance_m[legs])
        loss = np.full(places.size, np.inf)
        if problem.triangle:
            loss[:] = 0.0
            np.maximum.at(loss, local, np.maximum(0.0, -cost[usable]))
        return View(
            usable, self.keys[usable], float(problem.cycle_limit_min[clock]), minutes[usable], cost[usable],
            problem.material_kg[usable], problem.deadline_min[usable], local.astype(np.int64), travel, drive,
            node.fill_kg, node.reload_min, money * node.drive_usd_per_min[clock] * node.reload_min,
            problem.may_reload, fixed, _pack(np.ones((places.size,) * 2, bool)),
            _pack(self.near[np.ix_(places, places)]), loss,
            table(problem, duals.cuts, duals.cut_duals, usable))

    def promising(self, duals: Duals, cutoff: float, mode: int) -> Iterator[tuple[Node, int]]:
        """Single builds and clocks that may have a loop below the cutoff; all others provably have none.

        Groups are looked at a few at once, in a fixed order, so threads never change what is found.
        """
        pending = [(root, clock) for clock in range(self.problem.cycle_limit_min.size) for root in self.roots]
        while pending:
            batch, pending = pending[-AT_ONCE:][::-1], pending[:-AT_ONCE]
            groups = [(node, clock) for node, clock in batch if node.halves]
            yield from ((node, clock) for node, clock in batch if not node.halves)
            holds = self.threads.map(lambda one: self._may_hold(one[0], one[1], duals, cutoff, mode), groups)
            for (node, clock), may in zip(groups, holds, strict=True):
                if may:
                    pending.extend((half, clock) for half in node.halves)

    def _may_hold(self, node: Node, clock: int, duals: Duals, cutoff: float, mode: int) -> bool:
        """Whether a group may have a loop below the cutoff (also where labels ran out)."""
        view = self.view(node, clock, duals, mode)
        if view is None:
            return False
        if quick(view, EXISTS, cutoff).ends.size:
            return True
        found = exact(view, EXISTS, cutoff)
        return bool(found.ends.size) or not found.complete

    def remember(self, cycles: list[tuple[int, ...]]) -> None:
        """Make the places within each cycle remember its ends, so that no later loop may hold it."""
        for cycle in cycles:
            self.near[list(cycle), cycle[0]] = True


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


def _pack(remember: np.ndarray) -> np.ndarray:
    """Rows of booleans as 64-bit words."""
    words = (remember.shape[1] + 63) // 64
    padded = np.zeros((remember.shape[0], words * 64), bool)
    padded[:, : remember.shape[1]] = remember
    return np.packbits(padded, axis=1, bitorder="little").view(np.uint64)

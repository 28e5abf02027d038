"""Builds in a tree of groups, each group priced as one imaginary build at least as good as any member.

At given duals the imaginary build has the least fixed part, the element-wise least minutes and costs, and the
largest fill of its members, so each member's loop is a loop of it at no higher reduced cost: where the group
has no loop below the cutoff, no member has.
"""

from dataclasses import dataclass

import numpy as np

from optibuild.integer_program.dominance import undominated
from optibuild.integer_program.problem import EndRound, Floats, Ints, LoopProblem


@dataclass(frozen=True)
class Pace:
    """A build in one kind of round: minutes of stops [K, S], money of driving [K] (USD/min, USD/m)."""

    minutes: Floats
    drive_usd_per_min: Floats
    drive_usd_per_m: Floats

    @classmethod
    def of(cls, kind: LoopProblem | EndRound, build: int) -> "Pace":
        """That of a build of the problem."""
        return cls(kind.minutes[build], kind.drive_usd_per_min[build], kind.drive_usd_per_m[build])

    def or_better(self, other: "Pace") -> "Pace":
        """The least of both, element by element."""
        return Pace(np.minimum(self.minutes, other.minutes),
                    np.minimum(self.drive_usd_per_min, other.drive_usd_per_min),
                    np.minimum(self.drive_usd_per_m, other.drive_usd_per_m))


@dataclass(frozen=True)
class Node:
    """A group of builds [B]: the arrays of its imaginary build, `stop_usd` [K, S], and its halves (none for a
    single build).

    `paces` follow `LoopProblem.rounds`: the last one is of the round that makes every stop.
    """

    builds: Ints
    paces: tuple[Pace, ...]
    stop_usd: Floats
    fill_kg: float
    reload_min: float
    halves: tuple["Node", ...]


def grow(problem: LoopProblem, among: Ints | None = None) -> list[Node]:
    """One tree for each pair of start and end, over the builds (`among` these [B]) that no other beats."""
    return regrow(problem, worth_keeping(problem, among), problem.own_cost_usd)


def worth_keeping(problem: LoopProblem, among: Ints | None = None) -> Ints:
    """Builds [B], `among` some or all, that can make some stop and that no other beats; a plan needs none of
    the rest."""
    able = np.flatnonzero(problem.possible.any(axis=(1, 2))) if among is None else among
    kept = [undominated(problem, members) for members in _by_ends(problem, able)]
    return np.sort(np.concatenate([np.zeros(0, np.int64), *kept]))


def regrow(problem: LoopProblem, builds: Ints, own: Floats, every: bool = True) -> list[Node]:
    """One tree for each pair of start and end, over some builds, that cost `own` [B] before they drive: over
    `every` one, or those that none beats at that cost."""
    ended = _by_ends(problem, builds)
    kept = ended if every else [undominated(problem, members, own) for members in ended]
    return [_node(problem, members, _features(problem, members, own)) for members in kept]


def _by_ends(problem: LoopProblem, builds: Ints) -> list[Ints]:
    """The builds of each pair of start and end."""
    pairs = np.stack([problem.start, problem.end], axis=1)[builds]
    return [builds[(pairs == pair).all(axis=1)] for pair in np.unique(pairs, axis=0)]


def _features(problem: LoopProblem, builds: Ints, own: Floats) -> Floats:
    """What tells builds apart, scaled: what they can do, how fast, cost and fill [builds, 4]."""
    minutes = problem.rounds[-1].minutes[builds]
    can = np.isfinite(minutes)
    speed = np.where(can, minutes, 0.0).sum(axis=(1, 2)) / np.maximum(can.sum(axis=(1, 2)), 1)
    fill = np.minimum(problem.fill_kg[builds], problem.material_kg.sum())
    cost = np.log1p(np.maximum(0.0, own[builds]))
    return np.stack([can.mean(axis=(1, 2)) * 4.0, np.log1p(speed), cost, np.log1p(fill) / 8.0], axis=1)


def _node(problem: LoopProblem, builds: Ints, features: Floats) -> Node:
    if builds.size == 1:
        only = int(builds[0])
        return Node(builds, tuple(Pace.of(kind, only) for kind in problem.rounds), problem.stop_usd[only],
                    float(problem.fill_kg[only]), float(problem.reload_min[only]), ())
    axis = int(np.argmax(np.ptp(features, axis=0)))
    order = np.argsort(features[:, axis], kind="stable")
    cut = builds.size // 2
    halves = tuple(_node(problem, builds[part], features[part]) for part in (order[:cut], order[cut:]))
    a, b = halves
    return Node(
        np.concatenate([a.builds, b.builds]),
        tuple(one.or_better(other) for one, other in zip(a.paces, b.paces, strict=True)),
        np.minimum(a.stop_usd, b.stop_usd), max(a.fill_kg, b.fill_kg), min(a.reload_min, b.reload_min),
        halves)

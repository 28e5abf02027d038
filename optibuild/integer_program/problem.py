"""The program's input as plain arrays: builds, clocks, stops, works, places, items. No truck in sight."""

from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

TIME_TOLERANCE_MIN = 1e-6
"""A loop or a stop that is late by no more than this is in time [min]."""
FILL_TOLERANCE = 1e-9
"""Share of the fill by which material may exceed it."""


@dataclass(frozen=True)
class EndRound:
    """The round that ends a storm, where some work is done in it alone: the second clock of a loop.

    A loop is one order of stops driven in two kinds of round. A plain round drives past the stops that are
    made `only` [S] at the end and keeps cycle limit and deadlines; the end round makes all stops and takes
    at most the least `limit_min` [S] of them (inf = no work of the end), with neither cycle limit nor
    deadlines. Each has its own material and its own reloads, and ends with a reload if it used material; a
    round without stops takes no time and does not drive.

    `minutes` [B, K, S] (inf exactly where the stop is impossible) and `material_kg` [S] are the stop's in
    this round, `drive_usd_per_min`, `drive_usd_per_m` [B, K] the money of driving (and fixed reload minutes)
    in it; the problem's own are those of the plain rounds, where an `only` stop has no minutes, material or
    deadline.
    """

    minutes: Floats
    material_kg: Floats
    limit_min: Floats
    only: Bools
    drive_usd_per_min: Floats
    drive_usd_per_m: Floats


@dataclass(frozen=True)
class LoopProblem:
    """Which loops to run, with which builds, so that every work is covered at least cost.

    Axes: B builds, K clocks (cycle limits), S stops, T works, P places, G groups of works, I items.

    `minutes` [B, K, S] of a stop (inf = impossible); a stop may ride in a loop whose cycle limit is no longer
    than its `stop_limit_min` [S]; its end is due by `deadline_min` [S]. `place` [S]: at most one stop a place
    and loop. `amount` [S, T] of each work that a stop does, `need` [T]. `travel_min`, `distance_m` [P, P],
    minutes closed under shortest paths. `start`, `end` [B] are places. A loop that uses `material_kg` [S] may
    go by its start and reload (`reload_min` [B]) and ends with a reload, where `may_reload`; otherwise its
    material stays within `fill_kg` [B]. `group` [T] and `missed_usd` [G] (inf = must be served): works of a
    group are missed as a whole. `uses` [B, I] items with `price_usd`, `annual_usd`, `owned`, `upkeep_usd`,
    `available` [I] (upkeep_usd <= annual_usd). No more than `most_loops` are run. `most_missed_worth` bounds
    the sum of `worth` [G] over missed groups; `constant_usd` is added to objective and bound. `end_round` is
    there where some work is done at a storm's end alone.
    """

    cycle_limit_min: Floats
    minutes: Floats
    stop_limit_min: Floats
    deadline_min: Floats
    place: Ints
    amount: Floats
    need: Floats
    travel_min: Floats
    distance_m: Floats
    start: Ints
    end: Ints
    fixed_usd: Floats
    drive_usd_per_min: Floats
    drive_usd_per_m: Floats
    stop_usd: Floats
    material_kg: Floats
    fill_kg: Floats
    reload_min: Floats
    may_reload: bool
    group: Ints
    missed_usd: Floats
    uses: Floats
    price_usd: Floats
    annual_usd: Floats
    owned: Floats
    upkeep_usd: Floats
    available: Floats
    budget_usd: float = inf
    most_loops: float = inf
    worth: Floats = field(default_factory=lambda: np.zeros(0))
    most_missed_worth: float = inf
    constant_usd: float = 0.0
    gap: float = 0.005
    time_limit_s: float = 120.0
    seed: int = 1
    end_round: EndRound | None = None

    def __post_init__(self) -> None:
        builds, clocks, stops = self.minutes.shape
        works, items = self.need.size, self.price_usd.size
        _check_shapes(self, {
            "cycle_limit_min": (clocks,), "stop_limit_min": (stops,), "deadline_min": (stops,),
            "place": (stops,), "amount": (stops, works), "start": (builds,), "end": (builds,),
            "fixed_usd": (builds,), "drive_usd_per_min": (builds, clocks),
            "drive_usd_per_m": (builds, clocks), "stop_usd": (builds, clocks, stops),
            "material_kg": (stops,), "fill_kg": (builds,), "reload_min": (builds,), "group": (works,),
            "uses": (builds, items), "annual_usd": (items,), "owned": (items,), "upkeep_usd": (items,),
            "available": (items,), "distance_m": self.travel_min.shape,
        })
        if (self.upkeep_usd > self.annual_usd).any():
            raise ValueError("keeping an owned item must not cost more a year than a bought one")
        if self.end_round is not None:
            self._check_end(self.end_round)

    def _check_end(self, end: EndRound) -> None:
        builds, clocks, stops = self.minutes.shape
        _check_shapes(end, {
            "minutes": (builds, clocks, stops), "material_kg": (stops,), "limit_min": (stops,),
            "only": (stops,), "drive_usd_per_min": (builds, clocks), "drive_usd_per_m": (builds, clocks)})
        at_end = end.only
        if (self.minutes[:, :, at_end].any() or self.material_kg[at_end].any()
                or np.isfinite(self.deadline_min[at_end]).any()):
            raise ValueError("a stop of the end round only has minutes, material or a deadline in the others")
        if min(self.drive_usd_per_min.min(initial=0.0), self.drive_usd_per_m.min(initial=0.0)) < 0:
            raise ValueError("the plain rounds must not earn money by driving")

    @cached_property
    def rounds(self) -> tuple["LoopProblem | EndRound", ...]:
        """The kinds of round of a loop, by what they share: `minutes`, `material_kg`, `drive_usd_per_min`,
        `drive_usd_per_m`. The last one makes every stop."""
        return (self,) if self.end_round is None else (self, self.end_round)

    @cached_property
    def possible(self) -> Bools:
        """Which stops a build can make at a clock [B, K, S]."""
        return np.isfinite(self.rounds[-1].minutes)

    @cached_property
    def repeated(self) -> Bools:
        """Stops made in every round [S]."""
        return np.ones(self.place.size, bool) if self.end_round is None else ~self.end_round.only

    @cached_property
    def has_end_work(self) -> Bools:
        """Stops that are another thing in the end round than in the plain ones [S]."""
        end = self.end_round
        if end is None:
            return np.zeros(self.place.size, bool)
        return (end.only | np.isfinite(end.limit_min) | (end.material_kg != self.material_kg)
                | (end.minutes != self.minutes).any(axis=(0, 1)))

    def without_money(self) -> "LoopProblem":
        """The same problem with loops and items that cost nothing."""
        end = self.end_round and replace(
            self.end_round, drive_usd_per_min=0.0 * self.end_round.drive_usd_per_min,
            drive_usd_per_m=0.0 * self.end_round.drive_usd_per_m)
        return replace(
            self, fixed_usd=0.0 * self.fixed_usd, drive_usd_per_min=0.0 * self.drive_usd_per_min,
            drive_usd_per_m=0.0 * self.drive_usd_per_m, stop_usd=np.zeros_like(self.stop_usd),
            annual_usd=0.0 * self.annual_usd, upkeep_usd=0.0 * self.upkeep_usd, end_round=end)

    @cached_property
    def allowed(self) -> Bools:
        """Which stops may ride in a loop of each clock [K, S]."""
        return self.stop_limit_min[None, :] >= self.cycle_limit_min[:, None]

    @cached_property
    def held(self) -> Bools:
        """Items somebody owns: they get a row and variables for bought and owned ones used [I]."""
        return self.owned > 0

    @cached_property
    def scarce(self) -> Bools:
        """Items nobody owns that can run out: they get a row [I]."""
        return (self.owned == 0) & np.isfinite(self.available)

    @cached_property
    def own_cost_usd(self) -> Floats:
        """Cost of a loop before it drives: fixed, and a year of the items nobody owns [B]."""
        return self.fixed_usd + self.uses @ np.where(self.held, 0.0, self.annual_usd)

    @cached_property
    def own_price_usd(self) -> Floats:
        """What is paid for the items of a build that nobody owns [B]."""
        return self.uses @ np.where(self.held, 0.0, self.price_usd)

    @cached_property
    def may_cost_less_than_nothing(self) -> bool:
        """Whether some part of a loop's cost is negative."""
        driving = [money for kind in self.rounds for money in (kind.drive_usd_per_min, kind.drive_usd_per_m)]
        parts = (self.own_cost_usd, self.upkeep_usd, self.stop_usd, *driving)
        return any(bool((part < 0).any()) for part in parts)

    @cached_property
    def triangle(self) -> bool:
        """Whether leaving out a place never lengthens a drive, in minutes and in meters."""
        return _obeys_triangle(self.travel_min) and _obeys_triangle(self.distance_m)


def _check_shapes(of: LoopProblem | EndRound, wanted: dict[str, tuple[int, ...]]) -> None:
    for name, shape in wanted.items():
        if getattr(of, name).shape != shape:
            raise ValueError(f"{name} has shape {getattr(of, name).shape}, expected {shape}")


def _obeys_triangle(matrix: Floats) -> bool:
    slack = 1e-9 * max(1.0, float(matrix.max(initial=0.0)))
    return all(bool((matrix <= matrix[:, via, None] + matrix[None, via, :] + slack).all())
               for via in range(len(matrix)))

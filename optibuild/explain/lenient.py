"""The sites and builds of a plan with every promise of time at a price in minutes.

The cycle limits are lifted and longer clocks are added; a stop in a loop whose clock is beyond its limit pays
the minutes between. Deadlines and the time of the last round are loosened step by step: each step is a stop
of its own, at a price. A site that is left out pays more than all that could be late.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np

from optibuild.pipeline import LoopProblem
from optibuild.stressing import At, at_clock
from optibuild.written import Written

LONGEST = 2.0
"""The longest clock, as a multiple of the longest promise. A site that takes longer is left out."""
STEPS = 32
"""Steps of equal length up to the longest clock, of which those beyond the shortest limit are clocks."""
LATER = (0, 1, 2, 4, 8, 16, STEPS)
"""Steps by which a deadline may be missed, and the last round too long."""
NOISE_MIN = 1e-6
"""What a loop takes longer than it may by no more than this is in time."""


@dataclass(frozen=True)
class Lenient:
    """A plan's sites and builds with every promise of time at a price.

    Axis B of `problem` is that of the plan's `times`; every build may be had any number of times. Its stop s
    is the stop `of` [S] of `times`, whose deadline and last round may be late by `later_min` [S]; it is the
    `share` [S] of its site. `at` has the minutes at every clock.
    """

    written: Written
    problem: LoopProblem
    at: tuple[At, ...]
    step_min: float
    of: np.ndarray
    later_min: np.ndarray
    share: np.ndarray
    limit_min: np.ndarray
    deadline_min: np.ndarray
    end_limit_min: np.ndarray
    sites: tuple[int, ...]

    @property
    def clocks_min(self) -> np.ndarray:
        """What a loop of each clock may take [K]."""
        return self.problem.cycle_limit_min

    @property
    def horizon_min(self) -> float:
        """The longest round looked at."""
        return float(self.clocks_min[-1])


def lenient(written: Written) -> Lenient:
    """The sites that a plan serves, with longer clocks and every promise of time at a price in minutes."""
    base, reserve = written.made.problem, written.made.case.solve.reserve_min
    limit = np.asarray(base.stop_limit_min + reserve, dtype=np.float64)
    end = base.end_round
    end_limit = np.full(limit.shape, inf) if end is None else end.limit_min + reserve
    step = _step_min([limit, end_limit, base.deadline_min], float(written.made.times.clocks_min[-1]))
    clocks = _clocks(written.made.times.clocks_min, step, float(limit.min(initial=inf)))
    at = tuple(at_clock(written, written.made.case, clock, clock) for clock in clocks.tolist())
    served = tuple(n for n, site in enumerate(written.plan.sites) if site.served)
    of, later_min = _late_stops(written, served, np.minimum(base.deadline_min, end_limit), step)
    works = np.flatnonzero(np.isin(base.group, served))
    share = _shares(base, of, works)
    late = np.maximum(0.0, clocks[:, None] - limit[of]) + later_min
    free = np.zeros((base.start.size, clocks.size))
    problem = replace(
        base.without_money(), cycle_limit_min=clocks,
        minutes=_stacked([one.times.minutes for one in at], of, None if end is None else end.only),
        stop_limit_min=np.full(of.size, inf), deadline_min=base.deadline_min[of] + later_min,
        place=base.place[of], amount=base.amount[np.ix_(of, works)], need=base.need[works],
        drive_usd_per_min=free, drive_usd_per_m=free,
        stop_usd=np.broadcast_to(share * late, (base.start.size, *late.shape)).copy(),
        material_kg=base.material_kg[of], group=np.searchsorted(served, base.group[works]),
        missed_usd=np.full(len(served), 1.0 + _most_late(written, of, share * late.max(axis=0, initial=0.0))),
        budget_usd=inf, most_loops=inf, worth=np.zeros(len(served)), most_missed_worth=inf, constant_usd=0.0,
        gap=0.0, end_round=end and replace(
            end, minutes=_stacked([one.times.end.minutes for one in at if one.times.end], of, None),
            material_kg=end.material_kg[of], limit_min=end_limit[of] + later_min, only=end.only[of],
            drive_usd_per_min=free, drive_usd_per_m=free))
    return Lenient(written, problem, at, step, of, later_min, share, limit, base.deadline_min, end_limit,
                    served)


def _step_min(promises_min: Sequence[np.ndarray], longest_min: float) -> float:
    """The step of clocks beyond the shortest limit: STEPS of them are LONGEST times the longest promise, or
    times the longest clock where nothing is promised."""
    promised = [one for one in np.concatenate(promises_min).tolist() if isfinite(one)]
    return LONGEST * max(promised, default=longest_min) / STEPS


def _late_stops(written: Written, served: Sequence[int], due_min: np.ndarray,
                step_min: float) -> tuple[np.ndarray, np.ndarray]:
    """The stops at the sites served, once for every number of steps that each may be late, and those minutes;
    only what is due by some minute [S] may be late."""
    stops = [(s, step_min * later) for s, stop in enumerate(written.made.times.stops) if stop.site in served
             for later in (LATER if isfinite(due_min[s]) else (0,))]
    return (np.array([s for s, _ in stops], dtype=np.int64),
            np.array([later for _, later in stops], dtype=np.float64))


def _clocks(own_min: np.ndarray, step_min: float, shortest_min: float) -> np.ndarray:
    """The case's own clocks, which limits are met by exactly, and equal steps beyond the shortest limit up to
    the longest clock."""
    new = [step_min * n for n in range(1, STEPS + 1) if step_min * n > shortest_min]
    return np.array(sorted([*own_min.tolist(),
                            *(clock for clock in new if np.abs(own_min - clock).min() > NOISE_MIN)]))


def _stacked(minutes: Sequence[np.ndarray], of: np.ndarray, zero: np.ndarray | None) -> np.ndarray:
    """Minutes [C, 1, S] of each clock as one array over the problem's stops; 0 where `zero` [S]."""
    whole = np.concatenate(minutes, axis=1)
    return np.asarray((whole if zero is None else np.where(zero, 0.0, whole))[:, :, of])


def _shares(base: LoopProblem, of: np.ndarray, works: np.ndarray) -> np.ndarray:
    """What share of its site each stop is: of its parcels and works."""
    count = np.bincount(base.group[works], minlength=int(base.group.max(initial=-1)) + 1)
    weight = np.zeros(base.need.size)
    weight[works] = 1.0 / base.need[works] / count[base.group[works]]
    return np.asarray(base.amount[of] @ weight)


def _most_late(written: Written, of: np.ndarray, most_min: np.ndarray) -> float:
    """More than can be late at all sites together, each in as many parts as it has."""
    most = np.zeros(len(written.made.case.sites))
    for s, late in zip(of.tolist(), most_min.tolist(), strict=True):
        stop = written.made.times.stops[s]
        parts = float(written.made.times.parcels[stop.site]) * 2.0
        most[stop.site] = max(most[stop.site], parts * late)
    return float(most.sum())


def with_fleet(of: Lenient, fleet: Counter[int]) -> tuple[LoopProblem, list[int]]:
    """The program with these crewed builds only, each used no more often than it is there, and their places
    on the axis B of `of.problem`."""
    rows = sorted(row for row, count in fleet.items() if count > 0)
    whole, none = of.problem, np.zeros(len(rows))
    end = whole.end_round
    problem = replace(
        whole, minutes=whole.minutes[rows], start=whole.start[rows], end=whole.end[rows],
        fixed_usd=none, drive_usd_per_min=whole.drive_usd_per_min[rows],
        drive_usd_per_m=whole.drive_usd_per_m[rows], stop_usd=whole.stop_usd[rows],
        fill_kg=whole.fill_kg[rows], reload_min=whole.reload_min[rows], uses=np.eye(len(rows)),
        price_usd=none, annual_usd=none, owned=none, upkeep_usd=none,
        available=np.array([float(fleet[row]) for row in rows]), most_loops=float(fleet.total()),
        end_round=end and replace(end, minutes=end.minutes[rows],
                                  drive_usd_per_min=end.drive_usd_per_min[rows],
                                  drive_usd_per_m=end.drive_usd_per_m[rows]))
    return problem, rows

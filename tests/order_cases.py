"""Questions of one loop in plain arrays, given or drawn from a seed, and their answers by trying all."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import inf
from typing import Any

import numpy as np
from loop_problems import closed
from times_case import FULL, SITE, plain_builds, plain_case

from optibuild.records import Builds, Case, Depot, LoopTimes, ServiceTimes, SolveSettings, Stop, Travel
from optibuild.records.loop import EndTimes

LATE_MIN, OVERFULL = 1e-6, 1e-9


@dataclass(frozen=True)
class Round:
    """One kind of round, written out: which stops it makes, their minutes, dry deicer and deadlines [S], and
    the most it may take (inf where it is only to be short)."""

    makes: np.ndarray
    minutes: np.ndarray
    dry_kg: np.ndarray
    deadline_min: np.ndarray
    most_min: float = inf


@dataclass(frozen=True)
class Question:
    """One build with its stops. `drive` [P, P] is between places: the depots, then the site of each stop.

    `end` is the last round; `end_limit_min` [S] is inf at stops that do not wait for it.
    """

    drive: np.ndarray
    plain: Round
    end: Round | None = None
    end_limit_min: np.ndarray | None = None
    depot: int = 0
    fill_kg: float = inf
    strength: float = 1.0
    reload_min: float = 0.0
    limit_min: float = 60.0
    reserve_min: float = 0.0

    @property
    def count(self) -> int:
        return len(self.plain.minutes)

    @property
    def rounds(self) -> tuple[Round, ...]:
        """The kinds of round of the loop."""
        return (self.plain,) if self.end is None else (self.plain, self.end)


def given(drive: Any, minutes: list[float], dry_kg: list[float] | None = None,
          deadline_min: list[float] | None = None, **changes: Any) -> Question:
    """A question of one kind of round at the depot 0."""
    count = len(minutes)
    plain = Round(np.ones(count, bool), np.array(minutes, float),
                  np.zeros(count) if dry_kg is None else np.array(dry_kg, float),
                  np.full(count, inf) if deadline_min is None else np.array(deadline_min, float))
    return Question(np.array(drive, float), plain, **changes)


def with_end(asked: Question, only: list[bool], minutes: list[float], dry_kg: list[float],
             limit_min: list[float]) -> Question:
    """The question with a last round beside; stops that `only` it makes leave the others."""
    count, skipped = asked.count, np.array(only)
    end = Round(np.ones(count, bool), np.array(minutes, float), np.array(dry_kg, float), np.full(count, inf),
                min(limit_min) - asked.reserve_min)
    return replace(asked, plain=replace(asked.plain, makes=~skipped), end=end,
                   end_limit_min=np.array(limit_min, float))


def seeded(seed: int, count: int) -> Question:
    """A question in which, by chance, there are reloads, deadlines, one-way roads, two depots and a last
    round; in half of them every figure is a whole number, so that ways tie."""
    rng = np.random.default_rng([20_253, seed])
    whole = seed % 2 == 0
    figures: Callable[[Any], np.ndarray] = np.rint if whole else np.asarray
    depots = int(rng.integers(1, 3))
    at = rng.integers(0, 20, (depots + count, 2)).astype(float)
    one_way = rng.uniform(1.0, 1.6, (depots + count, depots + count)) if rng.random() < 0.5 else 1.0
    drive = closed(figures(np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) * one_way))
    minutes, dry = figures(rng.uniform(0, 12, count)), figures(rng.uniform(20, 100, count))
    wet = rng.random(count) < rng.choice([0.0, 0.5, 1.0])
    due = 20 + (minutes.sum() + 15 * count) * rng.uniform(0.15, 1.0, count)
    asked = given(
        drive, minutes.tolist(), np.where(wet, dry, 0.0).tolist(),
        np.where(rng.random(count) < 0.35, figures(due), inf).tolist(), depot=int(rng.integers(0, depots)),
        strength=float(rng.choice([1.0, 0.25])), reload_min=float(figures(rng.uniform(0, 9))),
        limit_min=float(rng.integers(30, 200)), reserve_min=float(rng.choice([0.0, 5.0])))
    asked = replace(asked, fill_kg=float(rng.choice([110.0, 160.0, 250.0])) / asked.strength)
    return _ended(rng, asked, dry, figures) if rng.random() < 0.6 else asked


def _ended(rng: np.random.Generator, asked: Question, dry: np.ndarray,
           figures: Callable[[Any], np.ndarray]) -> Question:
    """Some stops wait for the last round with a work, some altogether."""
    count = asked.count
    waits = rng.random(count) < 0.6
    waits[0] = True
    only = waits & (rng.random(count) < 0.5)
    longer = np.where(waits, figures(rng.uniform(1, 6, count)), 0.0)
    plain = replace(asked.plain, dry_kg=np.where(waits, 0.0, asked.plain.dry_kg))
    limit = 25 + asked.plain.minutes.sum() + longer.sum() + count * rng.uniform(8, 25, count)
    return with_end(replace(asked, plain=plain), only.tolist(), (asked.plain.minutes + longer).tolist(),
                    np.where(waits, dry, asked.plain.dry_kg).tolist(),
                    np.where(waits, figures(limit), inf).tolist())


def arrays(asked: Question) -> tuple[Case, Builds, ServiceTimes]:
    """The question as the records that the engine takes: one crewed build, one clock, a stop a site."""
    depots = len(asked.drive) - asked.count
    waits = np.zeros(asked.count, bool) if asked.end_limit_min is None else np.isfinite(asked.end_limit_min)
    sites = tuple(replace(SITE, id=f"s{n}", deadline_min=float(due), deice_when="end" if late else "each")
                  for n, (due, late) in enumerate(zip(asked.plain.deadline_min, waits, strict=True)))
    case = plain_case(
        sites=sites, travel=(), solve=SolveSettings(reserve_min=asked.reserve_min),
        depots=tuple(Depot(f"depot {n}", 45.0, -90.0, asked.reload_min, 150.0) for n in range(depots)))
    return case, plain_builds(FULL, fill_kg=asked.fill_kg), _service_times(asked, case)


def _service_times(asked: Question, case: Case) -> ServiceTimes:
    count, plain = asked.count, asked.plain
    by_stop = np.zeros((1, 1, count))
    places = tuple(place.id for place in (*case.depots, *case.sites))
    end = None
    if asked.end is not None and asked.end_limit_min is not None:
        end = EndTimes(asked.end.minutes[None, None], asked.end.dry_kg, asked.end_limit_min, ~plain.makes)
    return ServiceTimes(
        build=np.array([0]), depot=np.array([asked.depot]), clocks_min=np.array([asked.limit_min]),
        stops=tuple(Stop(n, 1, "both" if made else "deice") for n, made in enumerate(plain.makes)),
        parcels=np.ones(count, dtype=np.int64),
        minutes=np.where(plain.makes, plain.minutes, 0.0)[None, None], plow_min=by_stop, deice_min=by_stop,
        material_kg=np.where(plain.makes, plain.dry_kg, 0.0), strength=np.array([asked.strength]),
        season_stop_min=by_stop, season_reload_min=by_stop,
        paid_stop_min=by_stop, paid_reload_min=by_stop,
        season_material_kg=by_stop[0], travel=Travel(places, asked.drive, 1000.0 * asked.drive),
        slowest=np.zeros((1, 1, count), dtype=np.int64), out_of_reach=(), end=end)


Driven = tuple[int, float, float]
"""A round so far: the place of the truck, its clock, and the dry deicer used since it was full."""


def driven_on(asked: Question, one: Round, so_far: Driven, stop: int, reload: bool) -> Driven | None:
    """One more stop, step by step; None where fill or deadline forbid it."""
    here, clock, used = so_far
    if not one.makes[stop]:
        return None if reload else so_far
    if reload:
        clock, here, used = clock + asked.drive[here, asked.depot] + asked.reload_min, asked.depot, 0.0
    place = len(asked.drive) - asked.count + stop
    clock += asked.drive[here, place] + one.minutes[stop]
    used += one.dry_kg[stop]
    late = clock > one.deadline_min[stop] + LATE_MIN
    overfull = used > asked.fill_kg * asked.strength * (1 + OVERFULL)
    return None if late or overfull or clock == inf else (place, float(clock), float(used))


def finished(asked: Question, one: Round, so_far: Driven) -> float:
    """Minutes of a whole round: driven home, and reloaded if it used any deicer."""
    here, clock, _ = so_far
    last = asked.reload_min if one.dry_kg[one.makes].any() else 0.0
    return float(clock + asked.drive[here, asked.depot] + last)


def least_min(asked: Question, one: Round, order: tuple[int, ...]) -> float:
    """The least minutes of a round in this order, over every choice of reloads; inf where none will do."""
    best = inf
    for reloads in product((False, True), repeat=len(order)):
        so_far: Driven | None = (asked.depot, 0.0, 0.0)
        for stop, reload in zip(order, reloads, strict=True):
            so_far = driven_on(asked, one, so_far, stop, reload) if so_far else None
        best = min(best, finished(asked, one, so_far) if so_far else inf)
    return best


def best_of_all(asked: Question, reloads: bool = True) -> tuple[float, ...] | None:
    """Minutes of the rounds in the best of all orders, with all choices of reloads in each (or none at all);
    None where no order keeps all limits."""
    return min(all_orders(asked, reloads), default=None)


def all_orders(asked: Question, reloads: bool = True) -> Iterator[tuple[float, ...]]:
    """The least minutes of each round, order by order, where all limits are kept."""
    start = tuple([(asked.depot, 0.0, 0.0)] for _ in asked.rounds)
    for least in _orders(asked, start, tuple(range(asked.count)), (False, True) if reloads else (False,)):
        if all(minutes <= one.most_min + LATE_MIN for minutes, one in zip(least, asked.rounds, strict=True)):
            yield least


def _orders(asked: Question, so_far: tuple[list[Driven], ...], left: tuple[int, ...],
            choices: tuple[bool, ...]) -> Iterator[tuple[float, ...]]:
    """The least minutes of each round in every order of the stops left, of all the ways driven so far."""
    if not left:
        yield tuple(round(min(finished(asked, one, way) for way in ways), 7)
                    for one, ways in zip(asked.rounds, so_far, strict=True))
    for stop in left:
        further = tuple([on for way in ways for reload in choices
                         if (on := driven_on(asked, one, way, stop, reload)) is not None]
                        for one, ways in zip(asked.rounds, so_far, strict=True))
        if all(further):
            yield from _orders(asked, further, tuple(n for n in left if n != stop), choices)


def recounted(asked: Question, loop: LoopTimes) -> tuple[float, ...]:
    """Minutes of the loop's rounds driven step by step as it says; AssertionError where it breaks a limit or
    says another time of arriving or leaving."""
    told = (loop,) if loop.end is None else (loop, loop.end)
    assert sorted(loop.stops) == list(range(asked.count)) and len(told) == len(asked.rounds)
    whole = []
    for one, times in zip(asked.rounds, told, strict=True):
        way: Driven | None = (asked.depot, 0.0, 0.0)
        for n, stop in enumerate(loop.stops):
            way = driven_on(asked, one, way, stop, times.reload_before[n]) if way else None
            assert way, f"stop {stop} cannot be made so"
            arrive, leave = times.arrive_min[n], times.leave_min[n]
            assert (arrive is not None) == (leave is not None) == one.makes[stop]
            if arrive is not None and leave is not None:
                assert abs(leave - way[1]) < LATE_MIN and abs(leave - arrive - one.minutes[stop]) < LATE_MIN
        whole.append(finished(asked, one, way) if way else inf)
    return tuple(whole)

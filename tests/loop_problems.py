"""Builders of small LoopProblems: drawn from a seed with every kind of limit, or empty but for what a test
fills in."""

from dataclasses import dataclass, replace
from math import inf
from typing import Any

import numpy as np

from optibuild.integer_program import EndRound, LoopProblem


@dataclass(frozen=True)
class Shape:
    """What a seeded problem may hold; `whole` makes every figure a whole number."""

    most_sites: int = 6
    most_builds: int = 4
    most_clocks: int = 3
    most_stops: int = 11
    whole: bool = False


SMALL = Shape()


def closed(minutes: np.ndarray) -> np.ndarray:
    """A matrix of drives closed under shortest paths."""
    for via in range(len(minutes)):
        minutes = np.minimum(minutes, minutes[:, via, None] + minutes[None, via, :])
    return minutes


def simple(minutes: np.ndarray, travel: np.ndarray, limit_min: float, **changes: Any) -> LoopProblem:
    """One clock, one stop and one work a place, one depot (place 0), no items; `minutes` is [B, S].

    A minute of driving costs 1 USD and a build 100 USD, unless `changes` says otherwise.
    """
    builds, stops = minutes.shape
    parts: dict[str, Any] = {
        "cycle_limit_min": np.array([limit_min]), "minutes": minutes[:, None, :],
        "stop_limit_min": np.full(stops, inf), "deadline_min": np.full(stops, inf),
        "place": np.arange(1, stops + 1), "amount": np.eye(stops), "need": np.ones(stops),
        "travel_min": travel, "distance_m": np.zeros_like(travel),
        "start": np.zeros(builds, int), "end": np.zeros(builds, int), "fixed_usd": np.full(builds, 100.0),
        "drive_usd_per_min": np.ones((builds, 1)), "drive_usd_per_m": np.zeros((builds, 1)),
        "stop_usd": np.zeros((builds, 1, stops)), "material_kg": np.zeros(stops),
        "fill_kg": np.full(builds, inf), "reload_min": np.zeros(builds), "may_reload": True,
        "group": np.arange(stops), "missed_usd": np.full(stops, inf), "uses": np.zeros((builds, 0)),
        "price_usd": np.zeros(0), "annual_usd": np.zeros(0), "owned": np.zeros(0),
        "upkeep_usd": np.zeros(0), "available": np.zeros(0), "gap": 0.0,
        "time_limit_s": 900.0}
    return LoopProblem(**(parts | changes))


def seeded(seed: int, shape: Shape = SMALL) -> LoopProblem:
    """A small problem in which, by chance, anything a LoopProblem can say is said."""
    rng = np.random.default_rng([20_251, seed])
    sites = int(rng.integers(1, shape.most_sites + 1))
    builds = int(rng.integers(1, shape.most_builds + 1))
    clocks = int(rng.integers(1, shape.most_clocks + 1))
    depots = int(rng.integers(1, 3))
    stops = _stops(rng, sites, depots, shape)
    clock_min = np.sort(rng.choice([45.0, 60.0, 90.0, 120.0], clocks, replace=False))
    drives = _drives(rng, depots + sites)
    start = rng.integers(0, depots, builds)
    parts = dict(
        cycle_limit_min=clock_min, start=start,
        end=rng.integers(0, depots, builds) if rng.random() < 0.2 else start,
        may_reload=bool(rng.random() < 0.75), gap=0.0, seed=seed,
        **stops, **drives, **_service(rng, builds, clocks, stops),
        **_money(rng, builds, clocks, stops["place"].size), **_items(rng, builds), **_misses(rng, sites))
    return LoopProblem(**(_whole(parts) if shape.whole else parts))


def with_end(problem: LoopProblem, seed: int) -> LoopProblem:
    """The problem with work of a storm's end: each stop by chance as it is, with more to do in the end round,
    or made in that round only."""
    rng = np.random.default_rng([20_252, seed])
    count = problem.place.size
    kind = rng.choice(3, count, p=[0.4, 0.3, 0.3])
    more, only = kind == 1, kind == 2
    wet = problem.may_reload and rng.random() < 0.8
    money = {name: getattr(problem, name) * rng.uniform(0, 1, problem.drive_usd_per_min.shape)
             for name in ("drive_usd_per_min", "drive_usd_per_m")}
    end = EndRound(
        problem.minutes + np.where(more, rng.uniform(0, 12, count), 0.0),
        problem.material_kg + np.where((kind > 0) & wet, rng.uniform(0, 150, count), 0.0),
        np.where(kind > 0, rng.choice([45.0, 60.0, 80.0, 100.0, 150.0, inf], count), inf), only, **money)
    return replace(problem, minutes=np.where(only, 0.0, problem.minutes),
                   material_kg=np.where(only, 0.0, problem.material_kg),
                   deadline_min=np.where(only, inf, problem.deadline_min), end_round=end)


def _whole(parts: dict[str, Any]) -> dict[str, Any]:
    """The same in whole numbers; a meter's price would vanish, so meters are counted by the thousand."""
    thousands = {"distance_m": parts["distance_m"] / 1000, "drive_usd_per_m": parts["drive_usd_per_m"] * 1000}
    rounded = {name: np.rint(value) if isinstance(value, np.ndarray) and value.dtype.kind == "f" else value
               for name, value in (parts | thousands).items()}
    return rounded | {name: closed(rounded[name]) for name in ("travel_min", "distance_m")}


def _stops(rng: np.random.Generator, sites: int, depots: int, shape: Shape) -> dict[str, Any]:
    """Sites with one work or two split ones, in one parcel or more; every number of parcels is a stop."""
    rows: list[tuple[int, int, tuple[int, ...]]] = []
    need: list[float] = []
    group: list[int] = []
    for site in range(sites):
        spare = shape.most_stops - len(rows) - (sites - site)
        split = bool(rng.random() < 0.3 and spare >= 2)
        parcels = 2 if rng.random() < 0.25 and spare >= (5 if split else 1) else 1
        first = len(need)
        need += [float(parcels)] * (1 + split)
        group += [site] * (1 + split)
        works = [(first,), (first + 1,), (first, first + 1)] if split else [(first,)]
        rows += [(site, k, work) for work in works for k in range(1, parcels + 1)]
    amount = np.zeros((len(rows), len(need)))
    for row, (_, k, work) in enumerate(rows):
        amount[row, list(work)] = k
    site_of = np.array([site for site, *_ in rows])
    return {"place": depots + site_of, "amount": amount, "need": np.array(need), "group": np.array(group)}


def _drives(rng: np.random.Generator, places: int) -> dict[str, Any]:
    """Drives in a plane, some places on top of others; one way may be slower than the other."""
    at = rng.integers(0, 25, (places, 2)).astype(float)
    at[rng.random(places) < 0.15] = at[0]
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    one_way = rng.uniform(1.0, 1.6, (places, places)) if rng.random() < 0.4 else 1.0
    return {"travel_min": closed(apart * one_way),
            "distance_m": closed(apart * rng.uniform(400, 700, (places, places)))}


def _service(rng: np.random.Generator, builds: int, clocks: int, stops: dict[str, Any]) -> dict[str, Any]:
    """Minutes, cycle limits, deadlines and material of every stop; some stops take no time at all."""
    size, count = stops["amount"].sum(axis=1), stops["place"].size
    wet = (rng.random(count) < 0.6) & (rng.random() < 0.7)
    slow, growth = rng.uniform(0.5, 1.6, (builds, 1, 1)), 1 + 0.2 * np.arange(clocks)[None, :, None]
    minutes = slow * growth * size * rng.uniform(2, 14, count) * (rng.random(count) > 0.1)
    minutes = np.where(rng.random((builds, 1, count)) < 0.12, inf, minutes)
    return {
        "minutes": minutes,
        "stop_limit_min": rng.choice([60.0, 90.0, 120.0, inf], count),
        "deadline_min": np.where(rng.random(count) < 0.2, rng.uniform(25, 80, count), inf),
        "material_kg": np.where(wet, size * rng.uniform(50, 300, count), 0.0),
        "fill_kg": rng.choice([250.0, 400.0, 800.0, inf], builds), "reload_min": rng.uniform(0, 8, builds)}


def _money(rng: np.random.Generator, builds: int, clocks: int, stops: int) -> dict[str, Any]:
    return {"fixed_usd": rng.uniform(0, 200, builds),
            "drive_usd_per_min": rng.uniform(0, 4, (builds, clocks)),
            "drive_usd_per_m": rng.uniform(0, 0.01, (builds, clocks)),
            "stop_usd": rng.uniform(0, 80, (builds, clocks, stops))}


def _items(rng: np.random.Generator, builds: int) -> dict[str, Any]:
    """Items that builds share, some owned, some limited, under a budget or none, with drivers or none."""
    count = int(rng.integers(0, 4))
    uses = rng.integers(0, 3, (builds, count)).astype(float)
    annual = rng.uniform(50, 400, count)
    return {
        "uses": uses, "annual_usd": annual, "price_usd": annual * rng.uniform(2, 6, count),
        "upkeep_usd": annual * rng.uniform(0, 1, count),
        "owned": np.where(rng.random(count) < 0.35, rng.integers(1, 4, count), 0).astype(float),
        "available": np.where(rng.random(count) < 0.35, rng.integers(0, 5, count), inf).astype(float),
        "budget_usd": float(rng.integers(800, 6000)) if rng.random() < 0.4 else inf,
        "most_loops": float(rng.integers(1, 5)) if rng.random() < 0.35 else inf}


def _misses(rng: np.random.Generator, sites: int) -> dict[str, Any]:
    """Which sites may be left out, at what loss; in some problems only so much worth may be."""
    optional = rng.random(sites) < rng.choice([0.0, 0.4, 0.9])
    worth = rng.integers(1, 10, sites) * 50.0
    return {"missed_usd": np.where(optional, worth * rng.choice([0.0, 1.0, 3.0]), inf), "worth": worth,
            "most_missed_worth": float(rng.integers(0, 20) * 50) if rng.random() < 0.25 else inf,
            "constant_usd": float(-worth.sum()) if rng.random() < 0.25 else 0.0}

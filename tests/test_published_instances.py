"""Instances of the literature, solved to their published values. Costs are compared, never loops: ties are
common."""

import json
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from loop_problems import simple

from optibuild.integer_program import LoopProblem, Progress, solve

PUBLISHED = Path(__file__).parent / "data" / "published"
MIXES = {number: json.loads((PUBLISHED / f"fleet_size_and_mix_{number}.json").read_text())
         for number in (3, 4)}
PRIZE = json.loads((PUBLISHED / "two_trucks_most_prize.json").read_text())
LIMIT = json.loads((PUBLISHED / "loop_limit_50_customers.json").read_text())


def distances(points: list[dict[str, float]]) -> np.ndarray:
    """Straight distances between points."""
    at = np.array([(point["x"], point["y"]) for point in points])
    apart: np.ndarray = np.sqrt(((at[:, None] - at[None]) ** 2).sum(axis=2))
    return apart


def loads(instance: dict[str, Any]) -> dict[str, Any]:
    """What the instances with loads share: straight drives whose distance costs money, one fill a loop."""
    distance = distances([instance["depot"], *instance["customers"]])
    return {"distance_m": distance, "may_reload": False,
            "material_kg": np.array([row["load"] for row in instance["customers"]])}


def fleet_mix(number: int, variant: str) -> LoopProblem:
    """Loads are material, truck types are builds, distance costs money and takes no time."""
    parts, types = loads(MIXES[number]), MIXES[number]["types"]
    by_distance = [row["usd_a_distance"] if "distance" in variant else 1.0 for row in types]
    return simple(
        np.zeros((len(types), parts["material_kg"].size)), 0.0 * parts["distance_m"], inf, **parts,
        fixed_usd=np.array([row["usd_a_loop"] if "fixed" in variant else 0.0 for row in types]),
        drive_usd_per_min=np.zeros((len(types), 1)), drive_usd_per_m=np.array(by_distance)[:, None],
        fill_kg=np.array([row["load"] for row in types]))


PUBLISHED_USD = [(number, row["variant"], row["usd"]) for number, mix in MIXES.items()
                 for row in mix["least_cost"]]

@pytest.mark.parametrize(("number", "variant", "usd"), PUBLISHED_USD)
def test_fleet_size_and_mix(number: int, variant: str, usd: float) -> None:
    """The cheapest fleet mix for 20 customers is proved at its published cost, to the published cent, in
    three cost variants of two instances (Golden, Assad, Levy, Gheysens 1984; costs by distance from
    Taillard 1999)."""
    found = solve(fleet_mix(number, variant))
    assert found.objective == pytest.approx(usd, abs=0.0051)
    assert found.proof == "proved best"


def limited_loops() -> LoopProblem:
    """One type of truck; a loop takes its distance and 10 for each customer, and distance alone costs."""
    parts = loads(LIMIT)
    return simple(
        np.full((1, parts["material_kg"].size), LIMIT["service"]), parts["distance_m"], LIMIT["loop_limit"],
        **parts, fixed_usd=np.zeros(1), drive_usd_per_min=np.zeros((1, 1)), drive_usd_per_m=np.ones((1, 1)),
        fill_kg=np.array([LIMIT["load"]]), time_limit_s=300.0)


def test_least_distance_within_a_loop_limit() -> None:
    """For 50 customers with service times and a limit on every loop, stopped as soon as it is there or at its
    time limit: no plan shorter than the best known, 555.43, and the plan within 0.5 % of it, 558.2; the bound
    is not above it and at least 537, 3.3 % below (Christofides, Mingozzi, Toth 1979)."""
    least = LIMIT["least_distance"]

    def watch(report: Progress) -> None:
        if report.bound >= 537.0 and report.best <= 558.2:
            raise KeyboardInterrupt

    found = solve(limited_loops(), watch)
    assert found.objective is not None
    assert least - 0.005 <= found.objective <= 558.2
    assert 537.0 <= found.bound <= least + 0.005


def most_prize(loop_limit: float) -> LoopProblem:
    """Distance is time, loops end elsewhere than they start, and a customer left out loses its prize."""
    customers: list[dict[str, Any]] = PRIZE["customers"]
    travel = distances([*customers, PRIZE["start"], PRIZE["end"]])
    count = len(customers)
    return simple(
        np.zeros((1, count)), travel, loop_limit, place=np.arange(count), start=np.array([count]),
        end=np.array([count + 1]), fixed_usd=np.zeros(1), drive_usd_per_min=np.zeros((1, 1)),
        missed_usd=np.array([row["prize"] for row in customers]), most_loops=2.0)


@pytest.mark.parametrize(("loop_limit", "prize"),
                         [(row["loop_limit"], row["prize"]) for row in PRIZE["most_prize"]])
def test_most_prize_with_two_trucks(loop_limit: float, prize: float) -> None:
    """Two trucks collect exactly the published most prize within each of the eleven published loop limits,
    proved (Chao, Golden, Wasil 1996)."""
    found = solve(most_prize(loop_limit))
    offered = sum(row["prize"] for row in PRIZE["customers"])
    assert found.objective is not None
    assert offered - found.objective == pytest.approx(prize, abs=1e-6)
    assert found.proof == "proved best"

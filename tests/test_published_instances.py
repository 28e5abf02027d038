"""Instances of the literature, solved to their published values. Costs are compared, never loops: ties are
common."""

import json
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from loop_problems import simple

from optibuild.integer_program import LoopProblem, solve

PUBLISHED = Path(__file__).parent / "data" / "published"
MIX = json.loads((PUBLISHED / "fleet_size_and_mix_3.json").read_text())
PRIZE = json.loads((PUBLISHED / "two_trucks_most_prize.json").read_text())


def distances(points: list[dict[str, float]]) -> np.ndarray:
    """Straight distances between points."""
    at = np.array([(point["x"], point["y"]) for point in points])
    apart: np.ndarray = np.sqrt(((at[:, None] - at[None]) ** 2).sum(axis=2))
    return apart


def fleet_mix(variant: str) -> LoopProblem:
    """Loads are material, truck types are builds, distance costs money and takes no time."""
    types, customers = MIX["types"], MIX["customers"]
    distance = distances([MIX["depot"], *customers])
    by_distance = [row["usd_a_distance"] if "distance" in variant else 1.0 for row in types]
    return simple(
        np.zeros((len(types), len(customers))), 0.0 * distance, inf, distance_m=distance, may_reload=False,
        fixed_usd=np.array([row["usd_a_loop"] if "fixed" in variant else 0.0 for row in types]),
        drive_usd_per_min=np.zeros((len(types), 1)), drive_usd_per_m=np.array(by_distance)[:, None],
        material_kg=np.array([row["load"] for row in customers]),
        fill_kg=np.array([row["load"] for row in types]))


@pytest.mark.parametrize(("variant", "usd"), [(row["variant"], row["usd"]) for row in MIX["least_cost"]])
def test_fleet_size_and_mix(variant: str, usd: float) -> None:
    """The cheapest fleet mix for 20 customers is proved at its published cost, to the published cent, in
    all three cost variants (Golden, Assad, Levy, Gheysens 1984; costs by distance from Taillard 1999)."""
    found = solve(fleet_mix(variant))
    assert found.objective == pytest.approx(usd, abs=0.0051)
    assert found.proof == "proved best"


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

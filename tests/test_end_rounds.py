"""Loops with a round of their own at a storm's end: against enumeration, and by hand."""

from dataclasses import replace
from math import inf
from typing import Any

import numpy as np
import pytest
from loop_oracle import least_objective, recount
from loop_problems import seeded, simple, with_end

from optibuild.integer_program import EndRound, LoopOutcome, LoopProblem, solve

NEAR = np.array([[0.0, 10.0, 10.0], [10.0, 0.0, 5.0], [10.0, 5.0, 0.0]])
"""Two sites 10 min from the depot and 5 min apart."""


def pair(limit_min: float = 60.0, end: dict[str, Any] | None = None, **changes: Any) -> LoopProblem:
    """Two sites of 15 min each, `NEAR`; a loop costs 100 USD, a driven minute 1 USD in a round before the
    last and 1 USD in the last. In the last the second site takes 5 min more, in the others it is passed."""
    plain = simple(np.array([[15.0, 0.0]]), NEAR, limit_min, **changes)
    last = {"minutes": np.array([[[15.0, 20.0]]]), "material_kg": np.zeros(2),
            "limit_min": np.array([inf, 90.0]), "only": np.array([False, True]),
            "drive_usd_per_min": np.ones((1, 1)), "drive_usd_per_m": np.zeros((1, 1))}
    return replace(plain, end_round=EndRound(**(last | (end or {}))))


def loops(found: LoopOutcome) -> list[tuple[int, ...]]:
    return sorted(loop.stops for loop, _ in found.loops)


@pytest.mark.parametrize("seed", range(160))
def test_solved_as_by_enumeration(seed: int) -> None:
    """Every order, clock and choice of reloads of both kinds of round is tried: the least cost is the one
    found and proved, and no bound lies above it."""
    problem = with_end(replace(seeded(seed), gap=0.0), seed)
    best, found = least_objective(problem), solve(problem)
    if best is None or best == inf:
        assert found.objective is None and found.stopped == "no plan exists"
        return
    assert found.objective == pytest.approx(best) and found.proof == "proved best"
    assert found.bound <= best + 1e-6 * max(1.0, abs(best))
    assert recount(problem, found) == pytest.approx(best)


def test_the_seeds_hold_loops_that_pass_by_stops() -> None:
    """Among the seeds above, plans have loops whose rounds differ, some of them in where they reload."""
    found = [solve(with_end(replace(seeded(seed), gap=0.0), seed)) for seed in range(40)]
    chosen = [loop for one in found for loop, _ in one.loops]
    assert sum(loop.reload_before != loop.end_reload_before for loop in chosen) >= 2
    ended = [loop.end_duration_min > loop.duration_min for loop in chosen]
    assert sum(ended) >= 20


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_a_last_round_like_the_others_changes_nothing(seed: int) -> None:
    """With no work of its own the last round is as the others: with the driving money split between them, the
    least cost is that of one kind of round."""
    problem = replace(seeded(seed), gap=0.0)
    halves = {name: getattr(problem, name) / 2 for name in ("drive_usd_per_min", "drive_usd_per_m")}
    count = problem.place.size
    same = EndRound(problem.minutes, problem.material_kg, np.full(count, inf), np.zeros(count, bool),
                    **halves)
    split = replace(problem, end_round=same, **halves)
    one, two = solve(problem), solve(split)
    assert (one.objective is None) == (two.objective is None)
    if one.objective is not None:
        assert two.objective == pytest.approx(one.objective)


def test_the_rounds_before_the_last_drive_past() -> None:
    """One loop: rounds before the last drive 10 + 10 = 20 min and take 35 of 60; the last drives 25 and takes
    60 of 90. 100 + 20 + 25 = 145 USD; two loops would cost 200 USD and more."""
    found = solve(pair())
    assert found.objective == pytest.approx(145.0) and found.proof == "proved best"
    loop, = (loop for loop, _ in found.loops)
    assert (loop.duration_min, loop.end_duration_min) == pytest.approx((35.0, 60.0))


@pytest.mark.parametrize(("within", "usd"), [(60.0, 145.0), (59.99, 100 + 40 + 100 + 20)])
def test_the_last_round_ends_in_time(within: float, usd: float) -> None:
    """60 min of the last round may take 60 min, not 59.99: then one loop drives 20 + 20 min to the first
    site, another 20 min to the second in its last round alone."""
    assert solve(pair(end={"limit_min": np.array([inf, within])})).objective == pytest.approx(usd)


@pytest.mark.parametrize(("limit_min", "possible"), [(35.0, True), (34.99, False)])
def test_the_cycle_limit_binds_the_rounds_before(limit_min: float, possible: bool) -> None:
    """The cycle limit asks nothing of the last round, which takes 60 min: 35 min do for the others."""
    assert (solve(pair(limit_min)).objective is not None) is possible


def test_a_loop_of_the_last_round_alone() -> None:
    """Where the first site may be missed at no cost, a loop for the second has no other round: it drives 20
    min once, and a cycle limit of 1 min does not matter."""
    problem = pair(1.0, missed_usd=np.array([0.0, inf]))
    found = solve(problem)
    assert found.objective == pytest.approx(120.0) and found.missed == (0,)
    loop, = (loop for loop, _ in found.loops)
    assert (loop.duration_min, loop.end_duration_min) == pytest.approx((0.0, 40.0))


def test_a_reload_in_the_last_round_only() -> None:
    """Each site takes a whole fill of 200 kg in the last round, nothing before: that round reloads between
    them (10 + 4 + 10 for 5 min) and at its end, 10 + 15 + 24 + 20 + 10 + 4 = 83 min, 48 of them paid."""
    fills = {"fill_kg": np.full(1, 200.0), "reload_min": np.full(1, 4.0)}
    found = solve(pair(end={"material_kg": np.full(2, 200.0)}, **fills))
    assert found.objective == pytest.approx(100 + 20 + 10 + 24 + 10 + 4)
    loop, = (loop for loop, _ in found.loops)
    assert not any(loop.reload_before) and sorted(loop.end_reload_before) == [False, True]
    assert (loop.duration_min, loop.end_duration_min) == pytest.approx((35.0, 83.0))


def test_it_is_never_planned_without_what_does_it() -> None:
    """A work of the last round keeps its row: a build that cannot make the stop leaves no plan."""
    impossible = {"minutes": np.array([[[15.0, inf]]])}
    assert solve(pair(end=impossible)).stopped == "no plan exists"


def test_wrong_last_rounds_are_refused() -> None:
    """A stop of the last round alone has no minutes in the others, and rounds do not earn by driving."""
    with pytest.raises(ValueError, match="end round only"):
        pair(end={"only": np.array([True, True])})
    with pytest.raises(ValueError, match="shape"):
        pair(end={"material_kg": np.zeros(3)})

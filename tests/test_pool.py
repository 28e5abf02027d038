"""Loops priced by looking: what is proved over a list of loops holds, and what is forgotten was of no use."""

from math import inf

import numpy as np
import pytest
from loop_oracle import least_objective
from loop_problems import simple

from optibuild.integer_program import Column, LoopProblem, first_columns, pool, search, solve
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.listing import Room, list_loops
from optibuild.integer_program.master import choose

SITES = 7
SEEDS = range(40)
ROOM = Room(10_000, 1_000_000)


def crowded(seed: int) -> LoopProblem:
    """Seven sites in a plane with loads of which two or three fit; in every third problem few loops may be
    run. Fractions of loops do such work for less than whole ones, so cuts have something to do."""
    rng = np.random.default_rng([20_253, seed])
    at = rng.uniform(0, 40, (SITES + 1, 2))
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    return simple(
        np.full((2, SITES), 5.0), apart, 200.0, fixed_usd=np.array([8.0, 14.0]), may_reload=False,
        material_kg=rng.integers(28, 46, SITES).astype(float), fill_kg=np.array([75.0, 110.0]),
        most_loops=4.0 if seed % 3 == 0 else inf)


def least(loops: list[Column], most: float) -> float:
    """The least cost of doing every work with at most so many of these loops: by sets of works done."""
    done = np.full(2**SITES, inf)
    done[0] = 0.0
    masks = [sum(1 << work for work, _ in one.covers) for one in loops]
    for _ in range(int(min(most, SITES))):
        after = done.copy()
        for mask, one in zip(masks, loops, strict=True):
            to = np.arange(done.size) | mask
            np.minimum.at(after, to, done + one.cost_usd)
        done = after
    return float(done[-1])


def pooled(problem: LoopProblem, share: float) -> tuple[pool.Pool, float, list[Column]]:
    """A pool of the loops within a share of what lies between the root's bound and the best plan; the cost
    that plans with other loops come to at the least; its loops."""
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    assert generation.cover()
    target = least_objective(problem) + 1.0
    within = share * (target - generation.bound())
    loops, complete = list_loops(problem, generation.pricer, generation.duals, within, ROOM)
    assert complete
    made = pool.Pool(generation, loops, target)
    return made, generation.bound() + within, loops


@pytest.mark.parametrize("share", [0.3, 1.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_a_pool_proves(seed: int, share: float) -> None:
    """Before and after an integer program over it, a pool's bound is not above the least cost of its loops
    (found by sets of works done), nor, together with that of all other loops, above the enumerated optimum;
    and the loops that are left do the work as cheaply as all did, where that is of interest."""
    problem = crowded(seed)
    made, others, loops = pooled(problem, share)
    best, of_these = least_objective(problem), least(loops, problem.most_loops)
    made.raise_bound(lambda: False)
    for most in (2, 10_000):
        assert made.bound <= min(of_these, made.target) + 1e-6
        assert min(made.bound, others) <= best + 1e-6
        assert min(least(made.loops, problem.most_loops), made.target) == pytest.approx(
            min(of_these, made.target), abs=1e-6)
        made.settle(most, 60.0, lambda some, rows, seconds: choose(problem, some, rows, seconds)[1])
    assert made.bound == pytest.approx(min(of_these, made.target), abs=1e-5)


def test_loops_are_priced_alike_together_and_alone() -> None:
    """With cuts that have a price, the pool's reduced costs are those that each loop has by itself."""
    made, _, _ = pooled(crowded(18), 1.0)
    made.raise_bound(lambda: False)
    assert made.duals.cut_duals.min() < -0.1
    alone = [made.duals.reduced_cost(made.problem, one) for one in made.loops]
    assert made.reduced == pytest.approx(alone, abs=1e-9)


def test_pools_have_something_to_do() -> None:
    """Of the problems above, some get cuts, in many the number of loops is rounded, and in many more than
    half of a gap of 1 USD or more between relaxation and best plan is closed."""
    cut, rounded, closed = 0, 0, 0
    for seed in SEEDS:
        made, _, _ = pooled(crowded(seed), 1.0)
        made.relaxation.solve()
        root, best = made.relaxation.duals().bound, least_objective(crowded(seed))
        made.raise_bound(lambda: False)
        cut += bool(made.relaxation.extras.cuts)
        rounded += bool(made.fixed)
        closed += best - root > 1.0 and min(made.bound, best) - root > 0.5 * (best - root)
    assert cut >= 8 and rounded >= 20 and closed >= 20


@pytest.mark.parametrize("seed", SEEDS)
def test_planned_and_proved_by_pools_alone(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With every other way to close the root taken away, the plan costs what enumeration finds, and is
    proved."""
    for way in ("_try", "_improve", "_cut", "_list", "_split"):
        monkeypatch.setattr(search.Search, way, lambda *_, **__: False)
    monkeypatch.setattr(search, "QUICK", inf)
    problem = crowded(seed)
    best, found = least_objective(problem), solve(problem)
    assert found.objective == pytest.approx(best, abs=1e-6)
    assert found.proof == "proved best"


@pytest.mark.parametrize("most", [1, 3, 10, 10_000])
def test_lists_of_about_a_length(most: int) -> None:
    """A list as wide as asked for is complete within the width it tells: it holds as many loops as a list of
    that width made at once, never twice as many as asked; only one that may be long reaches all the way."""
    problem = crowded(1)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    generation.cover()
    loops, within = pool.widest(generation, 60.0, most, 1e9)
    whole, _ = list_loops(problem, generation.pricer, generation.duals, within, ROOM)
    assert len(loops) <= 2 * most
    assert {one.key for one in loops} == {one.key for one in whole}
    assert (within == 60.0) == (most == 10_000)

"""Loops priced by looking: what is proved over a list of loops holds, and what is forgotten was of no use."""

from collections.abc import Callable
from itertools import combinations
from math import inf

import numpy as np
import pytest
from loop_oracle import least_objective
from loop_problems import simple

from optibuild.integer_program import Column, LoopProblem, first_columns, pool, search, solve
from optibuild.integer_program.cuts import eligible
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.listing import Room, list_loops
from optibuild.integer_program.master import Extras, choose

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


def parted(seed: int) -> LoopProblem:
    """Five sites in such a plane; at two of them each of two works may be done by itself, or both at once."""
    rng = np.random.default_rng([20_254, seed])
    works = [(0,), (1,), (0, 1), (2,), (3,), (2, 3), (4,), (5,), (6,)]
    amount = np.array([[float(t in stop) for t in range(7)] for stop in works])
    kg = rng.integers(14, 46, 7).astype(float)
    return simple(
        5.0 * np.tile(amount.sum(axis=1), (2, 1)), crowded(seed).travel_min, 200.0,
        place=np.array([1, 1, 1, 2, 2, 2, 3, 4, 5]), amount=amount, need=np.ones(7), group=np.arange(7),
        missed_usd=np.full(7, inf), may_reload=False,
        fixed_usd=np.array([8.0, 14.0]), material_kg=amount @ kg, fill_kg=np.array([75.0, 110.0]),
        most_loops=4.0 if seed % 3 == 0 else inf)


def least(loops: list[Column], most: float, twice: bool = False) -> float:
    """The least cost of doing every work with at most so many of these loops, none of them `twice` or some:
    by sets of works done."""
    done = np.full(2**SITES, inf)
    done[0] = 0.0
    masks = [sum(1 << work for work, _ in one.covers) for one in loops]
    for _ in range(int(min(most, SITES))):
        after = done.copy()
        for mask, one in zip(masks, loops, strict=True):
            fits = np.full(done.size, True) if twice else np.arange(done.size) & mask == 0
            np.minimum.at(after, np.flatnonzero(fits) | mask, done[fits] + one.cost_usd)
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


@pytest.mark.parametrize("made_of", [crowded, parted])
@pytest.mark.parametrize("share", [0.3, 1.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_a_pool_proves(seed: int, share: float, made_of: Callable[[int], LoopProblem]) -> None:
    """Before and after an integer program over it, a pool's bound is not above the least cost of its loops
    where nothing is done twice (found by sets of works done), nor, together with that of all other loops,
    above the enumerated optimum; the loops that are left do the work as cheaply as all did, where that is of
    interest; and at the end no less is proved than what they cost where things may be done twice."""
    problem = made_of(seed)
    made, others, loops = pooled(problem, share)
    best, of_these = least_objective(problem), least(loops, problem.most_loops)
    made.raise_bound(lambda: False)
    for most in (2, 10_000):
        assert made.bound <= min(of_these, made.target) + 1e-6
        assert min(made.bound, others) <= best + 1e-6
        assert min(least(made.loops, problem.most_loops), made.target) == pytest.approx(
            min(of_these, made.target), abs=1e-6)
        made.settle(most, 60.0, lambda some, rows, seconds: choose(problem, some, rows, seconds)[1])
    assert made.bound >= min(least(loops, problem.most_loops, twice=True), made.target) - 1e-5
    assert share < 1.0 or made.bound == pytest.approx(best, abs=1e-5)


def test_loops_are_priced_alike_together_and_alone() -> None:
    """With cuts that have a price, the pool's reduced costs are those that each loop has by itself."""
    made, _, _ = pooled(crowded(18), 1.0)
    made.raise_bound(lambda: False)
    assert made.duals.cut_duals.min() < -0.1
    alone = [made.duals.reduced_cost(made.problem, one) for one in made.loops]
    assert made.reduced == pytest.approx(alone, abs=1e-9)


@pytest.mark.parametrize(("made_of", "many"), [(crowded, 20), (parted, 8)])
def test_pools_have_something_to_do(made_of: Callable[[int], LoopProblem], many: int) -> None:
    """Of the problems above, some get cuts, in many the number of loops is rounded, and in many more than
    half of a gap of 1 USD or more between relaxation and best plan is closed."""
    cut, rounded, closed = 0, 0, 0
    for seed in SEEDS:
        made, _, _ = pooled(made_of(seed), 1.0)
        made.relaxation.solve()
        root, best = made.relaxation.duals().bound, least_objective(made_of(seed))
        made.raise_bound(lambda: False)
        cut += bool(made.relaxation.extras.cuts)
        rounded += bool(made.fixed)
        closed += best - root > 1.0 and min(made.bound, best) - root > 0.5 * (best - root)
    assert cut >= 8 and rounded >= many and closed >= many


@pytest.mark.parametrize("seed", SEEDS)
def test_every_cut_there_can_be_keeps_a_best_plan(seed: int) -> None:
    """With all cuts of any three works the integer program over all loops still costs what enumeration
    finds."""
    problem = parted(seed)
    _, _, loops = pooled(problem, 1.0)
    every = Extras(tuple(combinations(range(7), 3)))
    assert choose(problem, loops, every, 60.0)[1] == pytest.approx(least_objective(problem), abs=1e-5)


def test_works_that_cuts_may_be_made_of() -> None:
    """Works 0 and 1 may be done by themselves or both at once. Work 3 is done with 2 or with 4, by neither of
    which the other is of no use. Work 6 is done with 5, which is needed twice."""
    works = [(0,), (1,), (0, 1), (2, 3), (3, 4), (5,), (5, 6)]
    amount = np.array([[float(t in stop) for t in range(7)] for stop in works])
    problem = simple(np.ones((1, 7)), np.ones((8, 8)) - np.eye(8), 99.0, amount=amount,
                     need=np.array([1.0, 1.0, 1.0, 1.0, 1.0, 2.0, 1.0]))
    assert eligible(problem).tolist() == [0, 1, 2, 4]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_plan_with_cuts_and_without_is_one_of_the_loops(seed: int) -> None:
    """A plan looked for among loops, with a whole number of loops asked for or not, costs no less than the
    least cost of those loops, and no more than the plan at hand."""
    problem = crowded(seed)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    assert generation.cover()
    loops = generation.relaxation.columns
    found: list[float] = []

    def kept(some: list[Column], rows: Extras, seconds: float) -> float:
        chosen, bound = choose(problem, some, rows, seconds)
        found.extend([chosen.objective] if chosen else [])
        return bound

    pool.plan(generation, loops, inf, kept, 60.0)
    first = least(loops, problem.most_loops, twice=True)
    assert found == pytest.approx([first], abs=1e-6)
    pool.plan(generation, loops, first + 5.0, kept, 60.0)
    assert all(usd >= first - 1e-6 for usd in found)


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

"""The integer program against slow, obvious answers, a second solver, and optima known by construction."""

from dataclasses import replace
from functools import cache
from math import inf, isfinite

import numpy as np
import pytest
import second_solver
from loop_oracle import least_objective, recount
from loop_problems import Shape, closed, seeded, simple

from optibuild.integer_program import LoopProblem, solve

SEEDS = (*range(260), 1648, 1737, 1790, 1876)
"""The last four have no plan because of their budget, drivers or the worth that may be missed."""


@cache
def enumerated(seed: int) -> float:
    """The objective of a seeded problem's best plan, by enumeration."""
    return least_objective(seeded(seed))


@pytest.mark.parametrize("seed", SEEDS)
def test_agrees_with_enumeration(seed: int) -> None:
    """On a small seeded problem the plan is proved best and costs what trying every loop and every cover
    gives, its loops summed afresh keep every promise at that cost; where no plan exists, it says so."""
    problem, best = seeded(seed), enumerated(seed)
    found = solve(problem)
    if best == inf:
        assert (found.objective, found.proof, found.stopped) == (None, "none", "no plan exists")
        return
    assert found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
    assert recount(problem, found) == pytest.approx(found.objective, rel=1e-9, abs=1e-6)
    assert (found.proof, found.stopped, found.gap) == ("proved best", "proved", 0.0)
    assert found.bound <= found.objective + 1e-9


def test_seeded_problems_hold_everything() -> None:
    """The seeded problems are worth solving: each thing a problem may say is said in at least fifteen of
    those that have a plan, and at least thirty have none."""
    solvable = [problem for seed in SEEDS if enumerated(seed) < inf for problem in [seeded(seed)]]
    assert len(SEEDS) - len(solvable) >= 30
    said = {
        "split works": lambda p: p.need.size > p.missed_usd.size, "parcels": lambda p: p.need.max() > 1,
        "owned": lambda p: (p.owned > 0).any(), "limited": lambda p: p.scarce.any(),
        "budget": lambda p: isfinite(p.budget_usd) and p.price_usd.size,
        "drivers": lambda p: isfinite(p.most_loops), "deadlines": lambda p: np.isfinite(p.deadline_min).any(),
        "reloads": lambda p: p.may_reload and p.material_kg.any(),
        "one fill": lambda p: not p.may_reload and p.material_kg.any(),
        "optional": lambda p: np.isfinite(p.missed_usd).any(),
        "worth": lambda p: isfinite(p.most_missed_worth),
        "one way slower": lambda p: (p.travel_min != p.travel_min.T).any(),
        "another end": lambda p: (p.start != p.end).any(),
        "on top": lambda p: (p.travel_min + np.eye(len(p.travel_min)) == 0).any(),
        "no minutes": lambda p: (p.minutes == 0).any(), "clocks": lambda p: p.cycle_limit_min.size > 1,
    }
    counts = {name: sum(bool(holds(problem)) for problem in solvable) for name, holds in said.items()}
    assert min(counts.values()) >= 15, counts


@pytest.mark.parametrize("seed", range(30))
def test_agrees_with_a_second_solver(seed: int) -> None:
    """On small problems of whole numbers a general constraint solver (OR-tools CP-SAT), given arcs instead
    of loops, proves the same objective."""
    problem = seeded(seed, Shape(most_sites=4, most_builds=2, most_clocks=2, most_stops=7, whole=True))
    found = solve(problem)
    assert (inf if found.objective is None else found.objective) == second_solver.least_objective(problem)


@pytest.mark.parametrize("seed", range(0, 60, 2))
@pytest.mark.parametrize("seconds", [0.0, 0.01, 120.0])
def test_bound_holds_wherever_the_search_stops(seed: int, seconds: float) -> None:
    """With a wide gap asked or hardly any time, the bound is still at most the enumerated optimum, the plan
    costs no less, and the gap is theirs and never negative."""
    found, best = solve(replace(seeded(seed), gap=0.5, time_limit_s=seconds)), enumerated(seed)
    slack = 1e-6 * max(1.0, abs(best)) if best < inf else 0.0
    assert found.bound <= best + slack
    if found.objective is None:
        assert found.proof == "none"
        return
    assert found.objective >= best - slack
    assert found.bound <= found.objective
    if found.gap is not None:
        claimed = (found.objective - found.bound) / max(abs(found.objective), 0.01)
        assert found.gap == pytest.approx(max(0.0, claimed), abs=1.1e-6)
        assert found.gap >= 0.0


@pytest.mark.parametrize("seed", range(30))
def test_loops_that_cost_nothing(seed: int) -> None:
    """Where loops and items cost nothing and only the worth of missed sites counts, as when value is asked
    first, ties are everywhere: the plan is proved at the enumerated objective all the same."""
    drawn = seeded(seed)
    free = {name: 0.0 * getattr(drawn, name) for name in (
        "fixed_usd", "drive_usd_per_min", "drive_usd_per_m", "stop_usd", "annual_usd", "upkeep_usd")}
    lost = np.where(np.arange(drawn.worth.size) % 3 == 0, inf, drawn.worth)
    problem = replace(drawn, **free, missed_usd=lost, constant_usd=-float(drawn.worth.sum()))
    found, best = solve(problem), least_objective(problem)
    if best == inf:
        assert found.stopped == "no plan exists"
        return
    assert found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
    assert found.proof == "proved best"


@pytest.mark.parametrize("seed", range(4))
def test_clusters_that_each_fill_a_loop(seed: int) -> None:
    """Far clusters whose work exactly fills one loop each: n clusters cost n loops out and back.

    Each of 7 clusters lies 50 min out, further from every other than the 0 min a full loop has left. Its 5
    sites take 60 min together; 50 + 60 + 50 is the cycle limit. A loop drives at least 100 min, so it serves
    at most 60 of the 420 min: seven loops at the least, each at 100 USD and 100 min of driving at 1 USD.
    """
    rng = np.random.default_rng(seed)
    clusters, sites = 7, 5
    angle = np.repeat(rng.permutation(clusters) * 2 * np.pi / clusters, sites)
    at = np.vstack([[0, 0], 50 * np.column_stack([np.cos(angle), np.sin(angle)])])
    travel = closed(np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)).round(9))
    cuts = np.sort([rng.choice(np.arange(5, 56), sites - 1, replace=False) for _ in range(clusters)])
    minutes = np.diff(cuts, axis=1, prepend=0, append=60).astype(float).ravel()
    slower = minutes * 1.5  # of no use, even at half the price: it cannot serve 60 min within a loop
    found = solve(simple(np.vstack([minutes, slower]), travel, 160.0, fixed_usd=np.array([100.0, 99.0])))
    assert found.objective == pytest.approx(clusters * 200.0, rel=1e-9)
    assert (found.proof, sum(times for _, times in found.loops)) == ("proved best", clusters)


@pytest.mark.parametrize("seed", range(4))
def test_a_loop_for_every_site(seed: int) -> None:
    """Sites too long to share a loop: the cost is the sum of each site's cheapest build, out and home.

    Every site takes 40 min or more of a 75 min loop. Build 0 has no limit; only three of build 1 can be
    bought, so it goes where it saves most.
    """
    rng = np.random.default_rng(seed)
    sites = 18
    travel = np.full((sites + 1, sites + 1), 10.0) - 10.0 * np.eye(sites + 1)
    at_site = rng.integers(1, 300, (2, 1, sites)).astype(float)
    found = solve(simple(np.full((2, sites), 40.0), travel, 75.0, stop_usd=at_site,
                         uses=np.array([[0.0], [1.0]]), price_usd=np.zeros(1), annual_usd=np.zeros(1),
                         owned=np.zeros(1), upkeep_usd=np.zeros(1), available=np.array([3.0])))
    dear, cheap = at_site[:, 0]
    savings = np.sort(np.maximum(0.0, dear - cheap))[::-1]
    assert found.objective == pytest.approx(sites * 120.0 + dear.sum() - savings[:3].sum(), rel=1e-9)
    assert found.proof == "proved best"


def shuffled(problem: LoopProblem, rng: np.random.Generator) -> LoopProblem:
    """The same problem with its stops, works and builds in another order."""
    s, t, b = (rng.permutation(n) for n in (problem.place.size, problem.need.size, problem.start.size))
    by_stop = {name: getattr(problem, name)[s]
               for name in ("stop_limit_min", "deadline_min", "place", "material_kg")}
    by_build = {name: getattr(problem, name)[b]
                for name in ("start", "end", "fixed_usd", "drive_usd_per_min", "drive_usd_per_m", "fill_kg",
                             "reload_min", "uses")}
    return replace(problem, **by_stop, **by_build, amount=problem.amount[np.ix_(s, t)], need=problem.need[t],
                   group=problem.group[t], minutes=problem.minutes[b][:, :, s],
                   stop_usd=problem.stop_usd[b][:, :, s])


@pytest.mark.parametrize("seed", range(1, 40, 2))
def test_order_of_rows_does_not_matter(seed: int) -> None:
    """Stops, works and builds in another order give the same objective; the same order, the same loops."""
    problem = seeded(seed)
    first, again = solve(problem), solve(problem)
    other = solve(shuffled(problem, np.random.default_rng(seed)))
    assert first.loops == again.loops
    assert (other.objective is None) == (first.objective is None)
    if first.objective is not None:
        assert other.objective == pytest.approx(first.objective, rel=1e-9, abs=1e-6)

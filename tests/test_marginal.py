"""What a plan would save without one of its sites: the bound that duals give, and the case solved again."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from loop_oracle import least_objective
from loop_problems import seeded, simple

from optibuild.integer_program import LoopProblem, most_saved_usd, solve


def without(problem: LoopProblem, group: int) -> LoopProblem:
    """The problem with one group left out for nothing."""
    nothing = np.where(np.arange(problem.missed_usd.size) == group, 0.0, 1.0)
    return replace(problem, missed_usd=np.where(nothing == 0.0, 0.0, problem.missed_usd),
                   worth=problem.worth * nothing[:problem.worth.size])


@pytest.mark.parametrize("seed", range(80))
def test_no_site_saves_more_than_the_duals_allow(seed: int) -> None:
    """On a small seeded problem with every kind of limit, no group of works, left out for nothing, lets the
    enumerated best plan cost less by more than the bound says."""
    problem = seeded(seed)
    found = solve(problem)
    if found.objective is None:
        assert least_objective(problem) == inf
        return
    most = most_saved_usd(problem, found)
    for group in range(problem.missed_usd.size):
        saved = found.objective - least_objective(without(problem, group))
        assert saved <= most[group] + 1e-6 * max(1.0, abs(found.objective))


def test_sites_of_a_truck_each_save_their_truck() -> None:
    """Two sites that no loop can join, each 10 min from the depot, 100 USD a loop and 1 USD a minute: each
    saves 100 + 20, and the duals say no more than that, pricing left to a tolerance."""
    drives = np.array([[0.0, 10.0, 10.0], [10.0, 0.0, 20.0], [10.0, 20.0, 0.0]])
    problem = simple(np.array([[30.0, 30.0]]), drives, 60.0)
    found = solve(problem)
    assert found.objective == pytest.approx(240.0)
    assert most_saved_usd(problem, found) == pytest.approx([120.0, 120.0], rel=1e-3)


def test_a_site_on_the_way_saves_nothing() -> None:
    """A site at the same spot as another and without minutes: leaving it out saves nothing, and either site
    of the two could go for nothing, so that their marginal costs do not sum to the cost of 120."""
    drives = np.array([[0.0, 10.0, 10.0], [10.0, 0.0, 0.0], [10.0, 0.0, 0.0]])
    problem = simple(np.array([[30.0, 0.0]]), drives, 60.0)
    found = solve(problem)
    assert found.objective == pytest.approx(120.0)
    saved = [found.objective - least_objective(without(problem, group)) for group in (0, 1)]
    assert saved == pytest.approx([0.0, 0.0])
    # the duals of both works make up the cost, so the bounds are on the safe side of the savings
    assert most_saved_usd(problem, found).sum() == pytest.approx(120.0, rel=1e-3)

"""Where the search splits, and that a side is told to be too dear without a proof that nothing covers."""

from dataclasses import fields, replace
from math import inf
from typing import Any

import numpy as np
import pytest
from loop_oracle import every_run, least_objective, plain
from loop_problems import seeded, simple

from optibuild.integer_program import LoopProblem, first_columns, search, solve
from optibuild.integer_program.branching import Branch, split, totals
from optibuild.integer_program.envelopes import regrow
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.problem import EndRound

NEAR = np.array([[0.0, 10, 10, 10], [10, 0, 10, 10], [10, 10, 0, 10], [10, 10, 10, 0]])
"""A depot and three places, ten minutes from each other."""


PER_BUILD = {"minutes", "start", "end", "fixed_usd", "drive_usd_per_min", "drive_usd_per_m", "stop_usd",
             "fill_kg"}
"""What a problem and its end round tell of each build, but for items and reloads."""


def two_of_three(**changes: object) -> LoopProblem:
    """Three stops of which a loop makes two: 10 + 20 + 10 + 20 + 10 of 75 minutes; a third would make it 100.

    A loop costs 100 and its drives a dollar a minute: 130 for two stops, 120 for one. Half of each of the
    three pairs does all work for 195; whole loops do it for 130 + 120 = 250.
    """
    return simple(np.full((1, 3), 20.0), NEAR, 75.0, fixed_usd=np.array([100.0]), **changes)


def converged(problem: LoopProblem, enough: float) -> Generation:
    made = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None, enough=lambda: enough)
    assert made.cover()
    return made


def test_the_root_and_its_sides_by_hand() -> None:
    """1.5 loops for 195 USD: the sides are at most one loop, and at least two."""
    made = converged(two_of_three(), inf)
    assert made.relaxation.duals().bound == pytest.approx(195.0)
    root = Branch(195.0, 0, fresh=True)
    below, above = split(root, made.relaxation, totals(made.problem), 1, False)[::-1]
    assert {side.fixed for side in (below, above)} == {((0, -inf, 1.0),), ((0, 2.0, inf),)}
    assert [(side.number, side.bound, side.fresh) for side in (above, below)] == [
        (1, 195.0, False), (2, 195.0, False)]


@pytest.mark.parametrize("fresh", [False, True])
@pytest.mark.parametrize(("low", "nearer"), [(0.7, "fewer"), (1.2, "more")])
def test_the_nearer_side_first_of_fresh_ones_the_other(fresh: bool, low: float, nearer: str) -> None:
    """A total of 1.05 or 1.8 (1.5 loops of a weight of 0.7 or 1.2) is nearer to 1 or 2."""
    made = converged(two_of_three(), inf)
    sides = split(Branch(195.0, 0), made.relaxation, [np.array([low])], 1, fresh)
    first = "fewer" if sides[0].fixed[0][2] < inf else "more"
    assert (first == nearer) != fresh


def test_a_whole_total_is_not_split() -> None:
    """1.5 loops of weight 2 are 3."""
    made = converged(two_of_three(), inf)
    assert split(Branch(195.0, 0), made.relaxation, [np.array([2.0])], 1, False) == []


def test_totals_are_loops_then_the_dearest_item() -> None:
    """Of items at 5, 90 and 40 USD a year the one at 90 comes first."""
    problem = two_of_three(uses=np.array([[3.0, 2.0, 1.0]]), price_usd=np.zeros(3),
                           annual_usd=np.array([5.0, 90.0, 40.0]), owned=np.zeros(3), upkeep_usd=np.zeros(3),
                           available=np.full(3, inf))
    assert [float(weight[0]) for weight in totals(problem)] == [1.0, 2.0, 1.0, 3.0]


def test_a_side_that_is_too_dear_is_closed_by_its_bound() -> None:
    """At most one loop makes two stops of the three. With a plan of 250 USD known that side ends with a bound
    that is enough and counts as possible; without a plan it is proved that nothing covers."""
    for enough, possible in ((250.0, True), (inf, False)):
        made = converged(two_of_three(), enough)
        side, = (one for one in split(Branch(195.0, 0), made.relaxation, totals(made.problem), 1, True)
                 if one.fixed[0][2] == 1.0)
        made.relaxation.fix(side.fixed)
        assert made.cover() is possible
        if possible:
            assert made.bound() >= 250.0


def with_slower_ones(problem: LoopProblem) -> LoopProblem:
    """Every build once more, a minute slower to reload and with other items."""
    builds = problem.start.size

    def again(part: LoopProblem | EndRound) -> dict[str, Any]:
        made = {one.name: getattr(part, one.name) for one in fields(part)}
        return {name: np.concatenate([figures, figures]) for name, figures in made.items()
                if name in PER_BUILD and isinstance(figures, np.ndarray) and len(figures) == builds}

    end = problem.end_round and replace(problem.end_round, **again(problem.end_round))
    changes = again(problem) | {
        "reload_min": np.concatenate([problem.reload_min, problem.reload_min + 1.0]),
        "uses": np.concatenate([problem.uses, problem.uses[:, ::-1]]), "end_round": end}
    return replace(problem, **changes)


@pytest.mark.parametrize("seed", range(120))
def test_none_beaten_at_the_duals_has_the_best_loop(seed: int) -> None:
    """Whatever builds cost before they drive, the cheapest loop for any amounts of work, from every start and
    end, is one of a build that no other beats at that cost: all loops of all builds are driven."""
    problem = with_slower_ones(seeded(seed))
    own = np.random.default_rng([seed, 7]).integers(0, 4, problem.start.size) * 25.0
    every = np.arange(problem.start.size)
    kept = {int(b) for root in regrow(problem, every, own, every=False) for b in root.builds}
    half = problem.start.size // 2
    slower = [b for b in every.tolist() if b >= half and own[b] >= own[b - half]]
    assert not kept & set(slower)
    best: dict[tuple[object, ...], float] = {}
    held: dict[tuple[object, ...], float] = {}
    for (build, *amounts), cost in every_run(plain(problem)).items():
        if build in every:
            loop = int(problem.start[build]), int(problem.end[build]), *amounts
            reduced = cost - float(problem.fixed_usd[build]) + float(own[build])
            best[loop] = min(best.get(loop, inf), reduced)
            if build in kept:
                held[loop] = min(held.get(loop, inf), reduced)
    assert held == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("seed", range(150))
def test_settled_by_splits_and_lists_alone(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Split at the number of loops first whatever a sweep takes, and with no way to a better plan but the
    lists of branches, the answer is that of enumeration."""
    for way in ("_try", "_look", "_improve", "_cut"):
        monkeypatch.setattr(search.Search, way, lambda *_, **__: False)
    monkeypatch.setattr(search, "SOON", inf)
    problem = seeded(seed)
    best, found = least_objective(problem), solve(problem)
    assert (found.objective is None) == (best == inf)
    if found.objective is not None:
        assert found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
        assert found.proof == "proved best"

"""The program as written out: the same in PuLP and in HiGHS, and one smallest text for each kind of row."""

from math import inf
from pathlib import Path
from typing import Any

import highspy
import numpy as np
import pytest
from loop_problems import seeded, simple

from optibuild.integer_program import LoopProblem, first_columns, program_text
from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.master import Extras, fixed_variables, integer_program
from optibuild.integer_program.relaxation import Relaxation

TEXTS = Path(__file__).parent / "data" / "lp"

NEAR = np.array([[0.0, 10.0, 12.0], [10.0, 0.0, 9.0], [12.0, 9.0, 0.0]])
ITEMS = {
    "uses": np.array([[1.0, 2.0]]), "price_usd": np.array([900.0, 3.0]), "annual_usd": np.array([300.0, 1.0]),
    "owned": np.zeros(2), "upkeep_usd": np.zeros(2), "available": np.full(2, inf)}
OWNED = ITEMS | {"owned": np.array([2.0, 0.0]), "upkeep_usd": np.array([40.0, 0.0])}

FAMILIES: dict[str, dict[str, Any]] = {
    "cover": {"missed_usd": np.array([inf, 500.0])},
    "owned": OWNED,
    "available": ITEMS | {"available": np.array([inf, 4.0])},
    "budget": OWNED | {"budget_usd": 1000.0},
    "loops": {"most_loops": 3.0},
    "worth": {"missed_usd": np.array([inf, 0.0]), "worth": np.array([700.0, 500.0]),
              "most_missed_worth": 400.0},
}
"""What makes each kind of row appear."""


def two_sites(**changes: Any) -> tuple[LoopProblem, list[Column]]:
    """Two sites of 5 and 7 min, and three loops: each alone, both together. Driving is 20, 24 and
    10 + 9 + 12 = 31 min at 1 USD, a build 100 USD: 120, 124 and 131 USD."""
    problem = simple(np.array([[5.0, 7.0]]), NEAR, 60.0, **changes)
    return problem, [column(problem, 0, 0, stops, (False,) * len(stops)) for stops in ((0,), (1,), (0, 1))]


@pytest.mark.parametrize("family", FAMILIES)
def test_smallest_program_of_each_row(family: str, tmp_path: Path) -> None:
    """The LP text of the smallest program with a kind of row is, byte by byte, the one worked out by hand:
    loops at 120, 124 and 131 USD, and more for a year of items nobody owns: 2 x 1 USD where the first item,
    at 300 USD, is owned, 302 USD where neither is."""
    problem, loops = two_sites(**FAMILIES[family])
    program_text(problem, loops, {"use_0": "north lot"}, str(tmp_path / "program.lp"))
    assert (tmp_path / "program.lp").read_bytes() == (TEXTS / f"{family}.lp").read_bytes()


def test_users_names_cannot_collide(tmp_path: Path) -> None:
    """Ids that a solver would clean into one name ("a b", "a-b", "a_b") stand in the legend only: the
    program's own names are generated, and the text below the legend is the same with and without it."""
    problem, loops = two_sites()
    legend = {"use_0": "a b", "use_1": "a-b", "use_2": "a_b"}
    for name, words in (("with", legend), ("without", {})):
        program_text(problem, loops, words, str(tmp_path / name))
    text, bare = (tmp_path / "with").read_text(), (tmp_path / "without").read_text()
    assert text == "\\ use_0: a b\n\\ use_1: a-b\n\\ use_2: a_b\n" + bare
    program, variables = integer_program(problem, loops)
    assert sorted(variables) == sorted(v.name for v in program.variables()) == ["use_0", "use_1", "use_2"]


def test_the_text_is_a_program_with_the_same_optimum(tmp_path: Path) -> None:
    """HiGHS reads the text back and finds the cheapest cover, both sites in one loop: 131 USD."""
    problem, loops = two_sites()
    program_text(problem, loops, {"use_0": "north lot"}, str(tmp_path / "program.lp"))
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    assert highs.readModel(str(tmp_path / "program.lp")) == highspy.HighsStatus.kOk
    highs.run()
    assert highs.getInfo().objective_function_value == pytest.approx(131.0)


Table = tuple[list[tuple[float, float]], list[tuple[float, float]], np.ndarray]
"""Row bounds, columns' cost and upper bound, and entries [rows, columns]."""


def relaxed_table(relaxation: Relaxation) -> Table:
    """The table of the relaxation as HiGHS holds it, without its slack columns."""
    lp = relaxation.highs.getLp()
    entries = np.zeros((lp.num_row_, lp.num_col_))
    starts = list(lp.a_matrix_.start_)
    for k in range(lp.num_col_):
        for at in range(starts[k], starts[k + 1]):
            entries[lp.a_matrix_.index_[at], k] = lp.a_matrix_.value_[at]
    kept = [k for k in range(lp.num_col_) if k not in relaxation.slack_at]
    bounds = list(zip(lp.row_lower_, lp.row_upper_, strict=True))
    return bounds, [(lp.col_cost_[k], lp.col_upper_[k]) for k in kept], entries[:, kept]


def pulp_table(problem: LoopProblem, loops: list[Column], extras: Extras, names: list[str]) -> Table:
    """The same of the PuLP program, its rows in the order of `names`."""
    program, variables = integer_program(problem, loops, extras)
    order = [v.name for v in fixed_variables(problem)] + [f"use_{k}" for k in range(len(loops))]
    made = {row.name: row for row in program.constraints()}
    assert sorted(made) == sorted(names)
    cost = {v.name: usd for v, usd in program.objective.items()}
    held = [{v.name: value for v, value in made[name].items()} for name in names]
    entries = np.array([[row.get(name, 0.0) for name in order] for row in held])
    bounds = [(-made[name].constant, inf) if made[name].sense == 1 else (-inf, -made[name].constant)
              for name in names]
    columns = [(cost.get(name, 0.0), inf if variables[name].upBound is None else variables[name].upBound)
               for name in order]
    return bounds, columns, entries


@pytest.mark.parametrize("seed", [4, 8, 9, 14, 22, 45, 60, 82, 201, 284])
def test_relaxation_and_integer_program_are_the_same(seed: int) -> None:
    """On seeded problems the relaxation in HiGHS and the integer program in PuLP hold the same rows with the
    same bounds and the same columns with the same costs, bounds and entries, whether a cut or a branch's
    count came before a loop or after it."""
    problem = seeded(seed)
    loops = first_columns(problem)
    assert len(loops) >= 2
    relaxation = Relaxation(problem, 1e6)
    relaxation.add(loops[:1])
    if problem.need.size >= 3:
        relaxation.cut([(0, 1, 2)])
    relaxation.fix(((relaxation.count(np.ones(problem.start.size)), 2.0, inf),))
    relaxation.add(loops[1:])
    bounds, columns, entries = relaxed_table(relaxation)
    others = pulp_table(problem, loops, relaxation.extras, [row.name for row in relaxation.rows])
    assert (bounds, columns) == others[:2]
    assert (entries == others[2]).all()
    assert (entries[-1, -len(loops):] == 1.0).all()

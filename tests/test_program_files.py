"""The program as a file, LP or MPS: both are the same program, and other programs read them."""

import re
from pathlib import Path

import highspy
import numpy as np
import pytest
from click.testing import CliRunner, Result
from loop_problems import simple

from optibuild.cli import main
from optibuild.integer_program import LoopProblem, program_text
from optibuild.integer_program.columns import Column, column

SMALL = Path(__file__).parent / "data" / "small"
NEAR = np.array([[0.0, 10.0, 12.0], [10.0, 0.0, 9.0], [12.0, 9.0, 0.0]])


def read(path: Path) -> highspy.Highs:
    """A program as HiGHS reads it, solved on one thread: all solvers of a process share their number."""
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    assert highs.readModel(str(path)) == highspy.HighsStatus.kOk
    highs.run()
    assert highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return highs


def names(highs: highspy.Highs) -> tuple[list[str], list[str]]:
    """The names of rows and columns, in the order of the alphabet."""
    lp = highs.getLp()
    return sorted(lp.row_names_), sorted(lp.col_names_)


def twice_each() -> tuple[LoopProblem, list[Column]]:
    """Two sites of 5 and 7 min that each need a work three times over, and three loops: each alone, both
    together, at 120, 124 and 131 USD (driving 20, 24 and 10 + 9 + 12 = 31 min at 1 USD, a build 100 USD)."""
    problem = simple(np.array([[5.0, 7.0]]), NEAR, 60.0, need=np.array([3.0, 3.0]))
    return problem, [column(problem, 0, 0, stops, (False,) * len(stops)) for stops in ((0,), (1,), (0, 1))]


@pytest.mark.parametrize("ending", [".lp", ".mps", ".MPS"])
def test_both_kinds_of_file_hold_the_program(ending: str, tmp_path: Path) -> None:
    """HiGHS reads the file and finds the cheapest cover, the loop of both sites three times, 3 x 131 = 393
    USD: a reader that takes whole numbers without a bound for 0 or 1 would find none. Rows and loops have
    their names."""
    problem, loops = twice_each()
    file = tmp_path / f"program{ending}"
    program_text(problem, loops, {"use_0": "north lot"}, str(file))
    # HiGHS knows the kind by its ending, in small letters
    highs = read(file.rename(tmp_path / f"read{ending.lower()}"))
    assert highs.getInfo().objective_function_value == pytest.approx(393.0)
    assert names(highs) == (["cover_0", "cover_1"], ["use_0", "use_1", "use_2"])


def test_the_legend_of_mps_is_a_comment(tmp_path: Path) -> None:
    """The first lines give what generated names stand for, in letters of any language, behind the asterisk
    that begins a comment in MPS; below stands the same text as without a legend."""
    problem, loops = twice_each()
    for name, words in (("with", {"use_0": "Nordplatz Süd", "cover_1": "a b"}), ("without", {})):
        program_text(problem, loops, words, str(tmp_path / f"{name}.mps"))
    text, bare = ((tmp_path / f"{name}.mps").read_text(encoding="utf-8") for name in ("with", "without"))
    assert text == "* use_0: Nordplatz Süd\n* cover_1: a b\n" + bare


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def test_the_command_writes_the_same_program_as_lp_and_as_mps(tmp_path: Path) -> None:
    """--program with either ending: the same names, legend and optimum, which is that of the plan."""
    files = [tmp_path / "loops.lp", tmp_path / "loops.mps"]
    for file in files:
        done = run("plan", SMALL, "--out", tmp_path / "plan", "--program", file)
        assert done.exit_code == 0, done.output
    lp, mps = map(read, files)
    assert names(lp) == names(mps)
    least = re.search(r'"objective_usd": ([0-9.]+)', (tmp_path / "plan" / "plan.json").read_text())
    assert least
    for highs in (lp, mps):
        assert highs.getInfo().objective_function_value == pytest.approx(float(least[1]), rel=1e-6)
    legends = [[line[2:] for line in file.read_text(encoding="utf-8").splitlines() if re.match(mark, line)]
               for file, mark in zip(files, (r"\\ \w+: ", r"\* \w+: "), strict=True)]
    assert legends[0] == legends[1]
    assert {line.partition(":")[0] for line in legends[0]} >= {"cover_0", "use_0"}


def test_only_a_program_of_ours_is_replaced(tmp_path: Path) -> None:
    """An .mps of ours is written anew; a file of that name without our legend is refused and stays."""
    ours, other = tmp_path / "ours.mps", tmp_path / "other.mps"
    for _ in range(2):
        assert run("plan", SMALL, "--out", tmp_path / "plan", "--program", ours).exit_code == 0
    other.write_text("NAME mine\n")
    done = run("plan", SMALL, "--out", tmp_path / "plan", "--program", other)
    assert done.exit_code == 2
    assert "name another file" in " ".join(done.stderr.split())
    assert other.read_text() == "NAME mine\n"

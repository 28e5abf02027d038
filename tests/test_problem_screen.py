"""How problems are told: on the screen, as JSON by every command, and where the streams are gone."""

import json
import shutil
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner

from optibuild.cli import main
from optibuild.errors import Place, Problem
from optibuild.report import problems_text

SMALL = Path(__file__).parent / "data" / "small"


def _problem(row: int, column: str = "area [acre]", file: str = "sites.csv", severity: str = "error",
             code: str = "value.range", **more: tuple[Place, ...]) -> Problem:
    places = (Place(file, "", row, column), *more.get("also", ()))
    return Problem(code, "title", f"row {row} is wrong", "Mend it.", places, "1", "2", severity)


def test_the_first_line_counts_errors_and_warnings() -> None:
    """Two errors and a warning are counted apart; one of a kind stands in the singular."""
    rows = (_problem(2), _problem(3, "lat"), _problem(4, "lon", severity="warning"))
    assert problems_text(rows).splitlines()[0] == "2 errors and 1 warning in the input"


def test_of_many_alike_the_first_five_are_shown() -> None:
    """42 of one code in one column: rows 2 to 6 are shown, 37 in rows 7 to 43 are counted."""
    rows = tuple(_problem(row) for row in range(43, 1, -1))
    text = problems_text(rows)
    assert [f"row {row} is wrong" in text for row in range(2, 9)] == [True] * 5 + [False] * 2
    assert "and 37 more like it (rows 7 to 43)" in text
    assert "--json" not in text


def test_no_more_than_forty_blocks_are_shown_and_errors_come_first() -> None:
    """60 columns with a warning each and one error in the last file: 39 warnings and the error are shown."""
    rows = (*(_problem(2, f"column{n:02}", severity="warning") for n in range(60)),
            _problem(9, file="zoo.csv"))
    text = problems_text(rows)
    assert text.count("row 2 is wrong") == 39 and "row 9 is wrong" in text
    assert text.endswith("and 21 more: optibuild check CASE --json lists all")


def test_problems_are_sorted_by_file_and_row() -> None:
    """Whatever their order, problems stand under their files, rows ascending; one without a place is last."""
    rows = (Problem("problems.many", "t", "more", "Mend."), _problem(3, file="b.csv"),
            _problem(9, file="a.csv"), _problem(2, file="a.csv"))
    text = problems_text(rows)
    found = [text.index(part) for part in ("a.csv", "row 2", "row 9", "b.csv", "row 3", "the case")]
    assert found == sorted(found)


def test_a_cell_of_a_workbook_is_named_as_a_spreadsheet_does() -> None:
    """A problem in a workbook names sheet and cell; a second place in another file is named whole."""
    row = Problem("id.unknown", "t", "no such id", "Mend it.",
                  (Place("case.xlsx", "sites", 14, "plow_every [h]", "E14"),
                   Place("trucks.csv", "", 3, "id", "A3"), Place("case.xlsx", "depots", 2, "id", "A2")))
    text = problems_text((row,))
    assert "  sites!E14, plow_every [h]: no such id" in text
    assert "see also: trucks.csv, row 3, id; depots!A2, id" in text


def test_the_screen_is_no_wider_than_eighty_columns() -> None:
    """Long values and ids without a blank are cut and wrapped."""
    place = Place("sites.csv", "", 2, "y" * 70)
    text = problems_text((Problem("value.id", "t", "x" * 200, "word " * 100, (place,), "z" * 2000),))
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("z") == 300


def test_ten_thousand_problems_are_told_at_once() -> None:
    """10,000 problems of 100 kinds in 100 columns are laid out in seconds at most."""
    rows = tuple(_problem(2 + n, f"c{n % 100}", code=f"code.c{n % 97}") for n in range(10_000))
    start = time.perf_counter()
    text = problems_text(rows)
    assert time.perf_counter() - start < 5.0
    assert text.startswith("10,000 errors") and len(text.splitlines()) < 300


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    """The small case with a plow of negative mass."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    text = (case / "plows.csv").read_text(encoding="utf-8")
    (case / "plows.csv").write_text(text.replace(",450,", ",-450,"), encoding="utf-8")
    return case


@pytest.mark.parametrize("command", ["check", "fit", "times", "plan"])
def test_every_command_tells_problems_as_json(command: str, bad: Path, tmp_path: Path) -> None:
    """With --json a case that cannot be used gives its problems on standard output alone, and exit 3."""
    options = ["--out", str(tmp_path / "out")] if command == "plan" else []
    done = CliRunner().invoke(main, [command, str(bad), "--json", *options])
    tree = json.loads(done.stdout)
    assert done.exit_code == 3 and done.stderr == ""
    assert tree["ok"] is False
    assert [problem["code"] for problem in tree["problems"]] == ["value.range"]
    assert not (tmp_path / "out").exists()


def _run(case: Path, command: str, tail: str) -> subprocess.CompletedProcess[str]:
    """A command in a shell of its own, with its streams redirected by `tail`."""
    line = f"{sys.executable} -m optibuild {command} {case} {tail}"
    return subprocess.run(["sh", "-c", line], capture_output=True, text=True, timeout=120, check=False)


def test_a_full_disk_is_told_as_such() -> None:
    """A result that cannot be written ends with exit 1 and says so, not as an unexpected failure."""
    done = _run(SMALL, "check", "> /dev/full")
    assert done.returncode == 1
    assert done.stderr.startswith("Error: the result cannot be written: No space left")


@pytest.mark.parametrize("command", ["", "--help", "fit --help", "--version"])
def test_help_on_a_full_disk_is_no_traceback(command: str) -> None:
    """Help and version that cannot be written end with exit 1 and one line."""
    done = subprocess.run(["sh", "-c", f"{sys.executable} -m optibuild {command} > /dev/full"],
                          capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("Error: the ") and done.stderr.count("\n") == 1


def test_a_closed_standard_output_is_told() -> None:
    """A result that goes nowhere ends with exit 1."""
    done = _run(SMALL, "check", ">&-")
    assert done.returncode == 1
    assert done.stderr == "Error: the result cannot be written: standard output is closed\n"


@pytest.mark.parametrize("tail", ["2>&-", "2>/dev/full"])
def test_a_plan_needs_no_standard_error(tail: str, tmp_path: Path) -> None:
    """With standard error closed or full a plan is made, written and printed as ever, with exit 0."""
    done = _run(SMALL, f"plan --out {tmp_path / 'plan'}", tail)
    assert done.returncode == 0 and "proved best" in done.stdout
    assert (tmp_path / "plan" / "plan.json").is_file()


def test_recheck_tells_problems_of_its_case_as_json(bad: Path, tmp_path: Path) -> None:
    """A plan whose case cannot be used any more gives the problems as JSON and exit 3."""
    assert CliRunner().invoke(main, ["plan", str(SMALL), "--out", str(tmp_path / "plan")]).exit_code == 0
    path = tmp_path / "plan" / "plan.json"
    tree = json.loads(path.read_text(encoding="utf-8"))
    tree["case"]["given_as"] = str(bad)
    tree["case"]["inputs"] = {name: sha256((bad / name).read_bytes()).hexdigest()
                              for name in tree["case"]["inputs"]}
    path.write_text(json.dumps(tree), encoding="utf-8")
    done = CliRunner().invoke(main, ["recheck", str(tmp_path / "plan"), "--json"])
    assert done.exit_code == 3
    assert [problem["code"] for problem in json.loads(done.stdout)["problems"]] == ["value.range"]

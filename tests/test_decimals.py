"""Semicolons and decimal commas: told apart by the file's own numbers, or reported; never guessed."""

import csv
import shutil
from pathlib import Path

import pytest

from optibuild.errors import Problem
from optibuild.inputs import check_case
from optibuild.records import Case

SMALL = Path(__file__).parent / "data" / "small"


def _rewritten(tmp_path: Path, separator: str, comma: bool) -> Path:
    """The small case as a spreadsheet of another country saves it."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "case"))
    for path in folder.glob("*.csv"):
        with open(path, newline="", encoding="utf-8") as file:
            rows = list(csv.reader(file))
        with open(path, "w", newline="", encoding="utf-8") as file:
            csv.writer(file, delimiter=separator).writerows(
                [[_local(cell) if comma else cell for cell in row] for row in rows])
    return folder


def _local(cell: str) -> str:
    """A number with its marks changed: 7,050.5 becomes 7.050,5; other cells stay."""
    return cell.translate(str.maketrans(",.", ".,")) if cell and not cell.strip("0123456789,.-") else cell


@pytest.mark.parametrize("separator", [";", "\t"])
def test_semicolons_and_tabs_with_decimal_points(separator: str, tmp_path: Path) -> None:
    """The separator is the one that finds the columns; 7,050 beside a point elsewhere is seven thousand."""
    folder = _rewritten(tmp_path, separator, comma=False)
    for path in folder.glob("*.csv"):
        if path.name != "trucks.csv":
            shutil.copy(SMALL / path.name, path)
    path = folder / "trucks.csv"
    text = path.read_text(encoding="utf-8")
    shown = text.replace(f"{separator}140{separator}", f"{separator}140.5{separator}")
    path.write_text(shown, encoding="utf-8")
    case, problems = check_case(folder)
    assert case is not None and case.trucks[0].wheelbase_m == pytest.approx(140.5 * 0.0254)
    assert case.trucks[0].gvwr_kg == pytest.approx(7050 * 0.45359237)
    assert [problem.code for problem in problems] == ["file.decimals"]


def test_decimal_commas_give_the_same_case_and_are_said(tmp_path: Path) -> None:
    """Where a number of a file shows a decimal comma, 7.050 is seven thousand there, and the user is told."""
    folder = _rewritten(tmp_path, ";", comma=True)
    for name in ("trucks", "plows", "spreaders"):
        path = folder / f"{name}.csv"
        heading, *lines = path.read_text(encoding="utf-8").splitlines()
        rows = [f"{heading};wear [USD/h]", *(f"{line};3,5" for line in lines)]
        path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    case, problems = check_case(folder)
    assert {problem.code for problem in problems} == {"file.decimals"}
    assert case is not None
    small = check_case(SMALL)[0]
    assert small is not None
    assert [truck.gvwr_kg for truck in case.trucks] == [truck.gvwr_kg for truck in small.trucks]
    assert case.sites == small.sites and case.depots == small.depots and case.season == small.season


def _one_column(tmp_path: Path, cells: list[str]) -> tuple[Case | None, tuple[Problem, ...]]:
    """The small case with materials.csv between semicolons, one row for each density."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "case"))
    rows = [f"m{n};{cell}" for n, cell in enumerate(cells)]
    (folder / "materials.csv").write_text("\n".join(["id;bulk_density [kg/m^3]", *rows]) + "\n")
    path = folder / "spreaders.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([lines[0] + ",material", *(line + ",m0" for line in lines[1:])]) + "\n")
    return check_case(folder)


@pytest.mark.parametrize(("cells", "read"), [
    (["1,250"], None), (["1.250"], None),
    (["1,250", "44,5"], [1.25, 44.5]), (["1.250", "44,5"], [1250, 44.5]),
    (["1,250", "44.5"], [1250, 44.5]), (["1.250", "44.5"], [1.25, 44.5]),
    (["1,250", "1.250,5"], [1.25, 1250.5]), (["1,250", "1,250.5"], [1250, 1250.5]),
    (["1,250", "0,500"], [1.25, 0.5]), (["1.250", "1250,500"], [1250, 1250.5]),
    (["44,5", "44.5"], [44.5, 44.5]), (["1,250", "44,5", "44.5"], None),
    (["1250", "960"], [1250, 960]), (["1,000,000,5"], None),
])
def test_each_number_has_one_reading_or_is_a_problem(cells: list[str], read: list[float] | None,
                                                     tmp_path: Path) -> None:
    """1,250 between semicolons: a thousand, one and a quarter, or a question, as the other numbers show."""
    case, problems = _one_column(tmp_path, cells)
    if read is None:
        assert case is None
        assert {problem.code for problem in problems} & {"value.ambiguous", "value.number"}
    else:
        assert case is not None
        assert [material.bulk_density_kg_per_m3 for material in case.materials] == pytest.approx(read)


def test_an_ambiguous_number_names_both_readings_and_how_to_write_each(tmp_path: Path) -> None:
    """The remedy shows what to type for a thousand and what for one and a quarter."""
    _, problems = _one_column(tmp_path, ["1,250"])
    assert [problem.code for problem in problems] == ["value.ambiguous"]
    assert "1250 or as 1.250" in problems[0].text and "Write 1250, or 1.2500." in problems[0].remedy


def test_between_commas_a_decimal_comma_is_refused(tmp_path: Path) -> None:
    """'44,5' in quotes is neither thousands nor a decimal of that file: the remedy says 44.5."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "case"))
    (folder / "depots.csv").write_text('id,lat,lon\nyard-depot,"44,5",-90.5\n')
    _, problems = check_case(folder)
    assert [problem.code for problem in problems] == ["value.number"] and "44.5" in problems[0].remedy

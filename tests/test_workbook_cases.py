"""A case as a workbook: the same case as the folder, its problems by cell, and the commands that take it."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from books import SMALL, small_book
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from optibuild.cli import main
from optibuild.inputs import check_case, read_case


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def test_a_case_as_workbook_is_the_case_as_folder(tmp_path: Path) -> None:
    """The small case read from one workbook differs in name, path and inputs only."""
    small_book().save(tmp_path / "book.xlsx")
    folder, book = read_case(SMALL), read_case(tmp_path / "book.xlsx")
    same = {"given_as": "", "inputs": (), "name": ""}
    assert replace(book, **same) == replace(folder, **same)  # type: ignore[arg-type]
    assert [name for name, _ in book.inputs] == ["book.xlsx"]


def test_a_table_of_a_folder_may_be_a_sheet(tmp_path: Path) -> None:
    """tables.trucks = "fleet.xlsx#Our trucks" reads that sheet, whatever else the workbook holds."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    book = small_book()
    book["trucks"].title = "Our trucks"
    book.save(case / "fleet.xlsx")
    (case / "trucks.csv").unlink()
    with open(case / "case.toml", "a", encoding="utf-8") as file:
        file.write('\n[tables]\ntrucks = "fleet.xlsx#our trucks"\n')
    assert read_case(case).trucks == read_case(SMALL).trucks


def test_a_workbook_may_name_a_file_beside_it(tmp_path: Path) -> None:
    """tables.trucks in the sheet case leads to ../trucks.csv, seen from the workbook's folder."""
    (tmp_path / "inner").mkdir()
    path = tmp_path / "inner" / "book.xlsx"
    small_book().save(path)
    shutil.move(shutil.copytree(SMALL, tmp_path / "copy") / "trucks.csv", tmp_path / "trucks.csv")
    book = load_workbook(path)
    del book["trucks"]
    book["case"].append(["tables.trucks", "../trucks.csv"])
    book.save(path)
    case = read_case(path)
    assert case.trucks == read_case(SMALL).trucks
    assert [name for name, _ in case.inputs] == ["../trucks.csv", "book.xlsx"]


def test_a_problem_names_the_cell_as_a_spreadsheet_does(tmp_path: Path) -> None:
    """A word under plow_every in the second row of sites is told at sites!J2; check --json carries it."""
    path = tmp_path / "book.xlsx"
    small_book().save(path)
    book = load_workbook(path)
    book["sites"]["J2"] = "often"
    book.save(path)
    _, problems = check_case(path)
    assert [str(problem.places[0]) for problem in problems] == ["book.xlsx, sites!J2, plow_every [h]"]
    ended = run("check", path, "--json")
    places = json.loads(ended.stdout)["problems"][0]["places"]
    assert ended.exit_code == 3 and (places[0]["sheet"], places[0]["cell"]) == ("sites", "J2")


def test_plan_and_recheck_take_a_workbook(tmp_path: Path) -> None:
    """A plan from a workbook is rechecked against it; where it has changed since, recheck ends 6."""
    path = tmp_path / "book.xlsx"
    small_book().save(path)
    assert run("plan", path, "--out", tmp_path / "plan").exit_code == 0
    assert run("recheck", tmp_path / "plan").exit_code == 0
    moved = shutil.move(path, tmp_path / "plan" / "book.xlsx")
    assert run("recheck", tmp_path / "plan").exit_code == 2
    assert run("recheck", tmp_path / "plan", "--case", moved).exit_code == 0
    book = load_workbook(moved)
    book["trucks"]["L2"] = 1
    book.save(moved)
    ended = run("recheck", tmp_path / "plan", "--case", moved)
    assert ended.exit_code == 6 and "book.xlsx" in ended.stderr


@pytest.mark.parametrize("option", ["--out", "--program"])
def test_a_plan_is_not_written_over_its_workbook(tmp_path: Path, option: str) -> None:
    """Neither the plan's folder nor the program may be the workbook that is read."""
    path = tmp_path / "book.xlsx"
    small_book().save(path)
    before = path.read_bytes()
    words = ["--out", path] if option == "--out" else ["--out", tmp_path / "plan", "--program", path]
    assert run("plan", path, *words).exit_code == 2
    assert path.read_bytes() == before


def test_a_plan_is_not_written_over_a_table_beside_its_workbook(tmp_path: Path) -> None:
    """Beside the workbook lie a plan and sites.csv, which the case reads: sites.csv is left as it is."""
    book = small_book()
    book.save(tmp_path / "book.xlsx")
    assert run("plan", tmp_path / "book.xlsx", "--out", tmp_path).exit_code == 0
    shutil.copy(SMALL / "sites.csv", tmp_path)
    del book["sites"]
    book["case"].append(["tables.sites", "sites.csv"])
    book.save(tmp_path / "book.xlsx")
    ended = run("plan", tmp_path / "book.xlsx", "--out", tmp_path)
    assert ended.exit_code == 2 and "sites.csv, which the case reads" in ended.stderr
    assert (tmp_path / "sites.csv").read_bytes() == (SMALL / "sites.csv").read_bytes()

"""`optibuild new`: a case to begin from that checks, is planned, and shows every column and key."""

import csv
import json
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from optibuild.cli import main
from optibuild.inputs import KEYS, TABLES, check_case, check_variants, read_case
from optibuild.inputs.declared.columns import columns_of
from optibuild.inputs.declared.declaration import NO_LIMIT
from optibuild.inputs.writing.folder import write_template

FORMS = ((), ("--workbook",))
EVENTS = ("dusting", "snowfall", "big-storm")


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def made(folder: Path, form: tuple[str, ...]) -> Path:
    """The case that `new` writes into a folder, in text tables or as a workbook."""
    assert run("new", folder, *form).exit_code == 0
    return folder / "case.xlsx" if form else folder


@pytest.mark.parametrize("form", FORMS, ids=["folder", "workbook"])
def test_new_case_checks_without_a_warning_and_is_proved_in_seconds(form: tuple[str, ...],
                                                                   tmp_path: Path) -> None:
    """A newcomer's three commands end well: new, check with nothing to say, plan with a proof."""
    case = made(tmp_path / "case", form)
    checked = run("check", case, "--json")
    assert checked.exit_code == 0 and json.loads(checked.stdout)["problems"] == []
    planned = run("plan", case, "--out", tmp_path / "plan")
    assert planned.exit_code == 0, planned.output
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert plan["outcome"]["proof"] == "proved best" and plan["recheck"]["passed"]
    assert plan["money"]["capital_usd"] <= plan["money"]["budget_usd"] == 160_000


def left_in(case: Path) -> list[str]:
    """What the one warning about a case names as left of the one to begin from."""
    problem, = [row for row in check_case(case)[1] if row.code == "doubt.template"]
    return problem.text.partition(": ")[2].split(", ")


def typed(file: Path, old: str, new: str) -> None:
    """One text of a file typed over."""
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize("table", ["trucks", "sites"])
def test_what_is_left_of_the_invented_case_is_told_once_somebody_types(table: str, tmp_path: Path) -> None:
    """With one figure of trucks or of sites typed over, one warning names every other table, and the keys
    that are the invented town's own; the remedy says what to do."""
    write_template(tmp_path)
    typed(tmp_path / f"{table}.csv", *{"trucks": ("39500", "39600"), "sites": ("15500", "15600")}[table])
    warning, = check_case(tmp_path)[1]
    assert left_in(tmp_path) == [*(name for name in TABLES if name != table), "case.name", "storm.pavement",
                                 "money.budget", "money.wage"]
    assert warning.remedy == "Type your own, or delete the table where it may be left out."


def test_a_sheet_is_as_new_wrote_it_as_a_file_is(tmp_path: Path) -> None:
    """In a workbook whose first site has another name, all other sheets are told."""
    case = made(tmp_path, FORMS[1])
    book = load_workbook(case)
    book["sites"]["B2"] = "Our Clinic"
    book.save(case)
    assert left_in(case)[:len(TABLES) - 1] == [name for name in TABLES if name != "sites"]


def test_rows_deleted_leave_invented_ones_and_rows_typed_do_not(tmp_path: Path) -> None:
    """Of five invented winters the last four are still invented; a season with one count of one's own, a
    table that is away and the keys of a case with its own name are no longer told."""
    write_template(tmp_path)
    typed(tmp_path / "trucks.csv", "39500", "39600")
    typed(tmp_path / "season.csv", "dusting,13", "dusting,13.1")
    typed(tmp_path / "case.toml", "Brackenford, four sites (invented)", "Ours")
    typed(tmp_path / "past_winters.csv", "2020-21,11,6,1,invented\n", "")
    (tmp_path / "contracts.csv").unlink()
    told = left_in(tmp_path)
    assert "past_winters" in told
    assert not {"trucks", "season", "contracts", "case.name", "money.budget"} & set(told)


def test_a_variation_of_the_invented_case_is_no_case_of_ones_own(tmp_path: Path) -> None:
    """Who tries variations on the untouched case, prices of trucks say, is told nothing."""
    write_template(tmp_path)
    (tmp_path / "variations.toml").write_text(
        '[[variation]]\nname = "dear"\nchange = [{ table = "trucks", column = "price", scale = "+5 %" }]\n',
        encoding="utf-8")
    variants, problems = check_variants(tmp_path)
    assert variants is not None and len(variants) == 2 and problems == ()


def test_new_tells_the_commands_that_come_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The two commands that are printed run as they stand, in a folder whose name has a blank too."""
    monkeypatch.chdir(tmp_path)
    told = run("new", "my case")
    lines = [shlex.split(line) for line in told.stdout.splitlines() if line.startswith("  optibuild")]
    assert [line[1] for line in lines] == ["check", "plan"]
    assert all(run(*line[1:]).exit_code == 0 for line in lines)


def test_workbook_and_text_tables_are_the_same_case(tmp_path: Path) -> None:
    """Both forms hold the same three trucks, four sites, keys and all."""
    text, book = (read_case(made(tmp_path / name, form)) for name, form in (("a", ()), ("b", FORMS[1])))
    assert (len(text.trucks), len(text.sites), len(text.plows), len(text.spreaders)) == (3, 4, 2, 2)
    for name in (*TABLES, "name", "question", "storm", "money", "crew", "fit", "solve", "bid", "assumptions"):
        assert getattr(text, name) == getattr(book, name)


@pytest.mark.parametrize("table", TABLES)
def test_new_tables_have_every_declared_column(table: str, tmp_path: Path) -> None:
    """Every column there is stands in the heading with its unit, in the order of the guide, and a note."""
    write_template(tmp_path)
    with open(tmp_path / f"{table}.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [*rows[0]] == [*(column.heading for column in columns_of(table, EVENTS)), "note"]
    assert all("invented" in row["note"] for row in rows)


def test_new_case_file_has_every_key_with_a_default(tmp_path: Path) -> None:
    """Each key that has a default stands in case.toml, with its default or the case's own value."""
    write_template(tmp_path)
    text = (tmp_path / "case.toml").read_text(encoding="utf-8")
    names = [name.rpartition(".")[2] for name, key in KEYS.items()
             if key.default not in (None, NO_LIMIT) and not name.startswith("assumptions.")]
    assert len(names) > 20
    assert not [name for name in names if f"\n{name} = " not in text]
    assert max(map(len, text.splitlines())) < 150


def test_new_workbook_helps_who_fills_it_in(tmp_path: Path) -> None:
    """Headings are bold and explained, needed ones colored; ids are text, words are offered."""
    write_template(tmp_path, as_workbook=True)
    book = load_workbook(tmp_path / "case.xlsx")
    assert book.sheetnames == ["case", *TABLES]
    sheet = book["sites"]
    by_name = {cell.value: cell for cell in sheet[1]}
    assert all(cell.font.bold and cell.comment.text for cell in by_name.values())
    assert "Latitude" in by_name["lat"].comment.text and "Needed." in by_name["lat"].comment.text
    assert by_name["area [acre]"].fill.fgColor.rgb != by_name["clear_width [ft]"].fill.fgColor.rgb
    assert sheet.freeze_panes == "A2"
    assert sheet["A2"].number_format == sheet.column_dimensions["A"].number_format == "@"
    offered = {str(row.sqref): row.formula1 for row in sheet.data_validations.dataValidation}
    work = by_name["work"].column_letter
    assert offered[f"{work}2:{work}10000"] == '"plow,deice,both"'
    assert [cell.value for cell in book["case"][1]] == ["key", "value", "note"]


@pytest.mark.parametrize("form", FORMS, ids=["folder", "workbook"])
def test_new_refuses_to_write_over_a_case(form: tuple[str, ...], tmp_path: Path) -> None:
    """A second `new` in the same folder ends with 2, names what is there, and leaves it."""
    case = made(tmp_path / "case", form)
    file = case if form else case / "sites.csv"
    file.write_bytes(b"mine")
    again = run("new", tmp_path / "case", *form)
    assert again.exit_code == 2 and file.name in again.stderr
    assert file.read_bytes() == b"mine"


def test_new_leaves_other_files_of_a_folder(tmp_path: Path) -> None:
    """A folder with other files is taken, and they stay."""
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    assert run("new", tmp_path).exit_code == 0
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {
        "letter.txt", "case.toml", *(f"{table}.csv" for table in TABLES)}


def test_new_takes_a_folder_and_no_workbook_name(tmp_path: Path) -> None:
    """`new case.xlsx` would make a folder of that name: it is refused, and says what to write."""
    refused = run("new", tmp_path / "case.xlsx")
    assert refused.exit_code == 2 and "--workbook" in refused.stderr
    assert [*tmp_path.iterdir()] == []


def test_new_in_a_place_that_is_a_file(tmp_path: Path) -> None:
    """Where DIR is a file, nothing is written and the command ends with 2."""
    (tmp_path / "case").write_text("mine", encoding="utf-8")
    assert run("new", tmp_path / "case").exit_code == 2
    assert (tmp_path / "case").read_text(encoding="utf-8") == "mine"


def test_new_writes_into_the_folder_one_stands_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`optibuild new .` writes here and names a place for the plan."""
    monkeypatch.chdir(tmp_path)
    result = run("new", ".")
    assert result.exit_code == 0 and "optibuild plan . --out plan" in result.output
    assert (tmp_path / "case.toml").is_file()

"""Writing a case: what is read again is the same case; whole or not at all, and never over a file."""

import csv
import os
import random
import zipfile
from collections.abc import Callable
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from optibuild.errors import UsageError
from optibuild.inputs import KEYS, OPTIONAL, TABLES, check_case, read_case, write_case
from optibuild.inputs.declared.columns import columns_of
from optibuild.inputs.declared.declaration import NO_LIMIT, Declaration
from optibuild.inputs.writing.figures import figure
from optibuild.inputs.writing.folder import write_new
from optibuild.neutral import bare, kept, neutral
from optibuild.records import Case
from optibuild.units import DIMENSIONS, allowed_units, conversion, quantity

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
SHIPPED = [SMALL, *sorted(path.parent for path in ROOT.glob("examples/*/case.toml"))]
KINDS = ("folder", "book.xlsx")
FORMULAS = ("=1+1", "+1", "-1", "@sum", "=cmd|' /c'!A1", "-", "#N/A", "#REF!")
AWKWARD = (*FORMULAS, "'quoted", 'a "b", c; d', "two\nlines", "two\r\nlines", "café 雪 😀", "007", "1e5",
           "TRUE", "12/3/2024", "NA", "_x0041_", "<&>", "a\tb", "''=x", "x" * 2000)
AWKWARD_IDS = ("007", "NA", "1e5", "café 雪", "a,b;c", 'a "b"', "'x", "TRUE", "12/3/2024", "#N/A", "_x000D_")
# a blank in one of these would be wrong beside the others
KEPT = ("work", "plow_every", "deice_every", "pay_by", "pay")


def same(case: Case) -> Case:
    """A case without where it was read from."""
    return replace(case, given_as="", inputs=())


def again(case: Case, path: Path) -> Case:
    """A case written and read again."""
    write_case(case, path)
    return same(read_case(path))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("folder", SHIPPED, ids=lambda path: path.name)
def test_shipped_case_written_is_the_same_case(folder: Path, kind: str, tmp_path: Path) -> None:
    """The small case and every example, written as text or workbook, read back as the same records."""
    case = read_case(folder)
    assert again(case, tmp_path / kind) == same(case)


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_written_has_no_problem_that_was_not_there(kind: str, tmp_path: Path) -> None:
    """The small case, which checks without a warning, still does so after it was written."""
    write_case(read_case(SMALL), tmp_path / kind)
    assert check_case(SMALL)[1] == () and check_case(tmp_path / kind)[1] == ()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("text", AWKWARD, ids=lambda text: ascii(text[:12]))
def test_awkward_words_come_back_as_typed(text: str, kind: str, tmp_path: Path) -> None:
    """Words that look like formulas, dates, numbers or errors, and other alphabets, stay themselves."""
    case = read_case(SMALL)
    case = replace(case, name=text, sites=(replace(case.sites[0], name=text), *case.sites[1:]),
                   trucks=(replace(case.trucks[0], description=text), *case.trucks[1:]))
    assert again(case, tmp_path / kind) == same(case)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", AWKWARD_IDS, ids=ascii)
def test_awkward_ids_come_back_as_typed(name: str, kind: str, tmp_path: Path) -> None:
    """An id that a spreadsheet would take for a number, date or error, or an odd one, stays itself."""
    case = read_case(SMALL)
    money = replace(case.money, fuel_usd_per_l=(*case.money.fuel_usd_per_l, (name, quantity(
        "4.1 USD/gal", "money_per_volume"))))
    case = replace(case, money=money, sites=(replace(case.sites[0], id=name), *case.sites[1:]),
                   trucks=(replace(case.trucks[0], id=name, fuel=name), *case.trucks[1:]))
    assert again(case, tmp_path / kind) == same(case)


def _typed_value(value: Any, declared: Declaration, unit: str, rng: random.Random) -> str:
    """A value of a record, a little smaller and with awkward digits, as a user would type it in a unit."""
    may_be_blank = not declared.needed and declared.name not in KEPT
    if value is None or value == inf or (may_be_blank and rng.random() < 0.1):
        return ""
    if declared.dimension == "yes_no":
        return "yes" if value else "no"
    if declared.dimension not in (*DIMENSIONS, "number"):
        return rng.choice(AWKWARD[8:]) if declared.dimension == "text" and rng.random() < 0.5 else f"{value}"
    if declared.name not in ("lat", "lon"):
        value *= 1 - 0.01 * rng.random()
    number = conversion(unit, declared.dimension).from_inner(value) if unit else value
    return f"{number:.{rng.randint(3, 17)}g}"


def _unit(declared: Declaration, rng: random.Random) -> str:
    # a rating of 0 L/100km has no figure in mi/gal, and angles have one unit
    return rng.choice(allowed_units(declared.dimension)) if declared.takes_unit else ""


def _typed_table(name: str, case: Case, rng: random.Random) -> list[list[str]]:
    rows: tuple[Any, ...] = getattr(case, name)
    columns = []
    for declared in (one for one in TABLES[name] if not one.or_dimension):
        unit = _unit(declared, rng)
        heading = f"{declared.name} [{unit}]" if unit else declared.name
        columns.append([heading, *(_typed_value(getattr(row, declared.field), declared, unit, rng)
                                   for row in rows)])
    if hasattr(rows[0], "resale_usd") and name != "ballast":
        unit = rng.choice(("%", "USD"))
        columns.append([f"resale [{unit}]", *(f"{rng.uniform(0, 40):.{rng.randint(2, 17)}g}" for _ in rows)])
    return [list(row) for row in zip(*columns, strict=True)]


def _typed_keys(rng: random.Random) -> str:
    lines = ['case.name = "awkward digits"', f'case.units = "{rng.choice(("us", "si"))}"']
    for key, declared in KEYS.items():
        usual = declared.default not in (None, NO_LIMIT)
        if declared.dimension in DIMENSIONS and usual and rng.random() < 0.8:
            unit = rng.choice(allowed_units(declared.dimension))
            inner = quantity(declared.default or "", declared.dimension) * (1 - 0.01 * rng.random())
            number = conversion(unit, declared.dimension).from_inner(inner)
            lines.append(f'{key} = "{number:.{rng.randint(2, 17)}g} {unit}"')
    return "\n".join(lines)


def _typed_case(folder: Path, seed: int) -> Case:
    """The small case typed anew by a careless hand: random units, digits, blanks and words."""
    rng = random.Random(seed)
    case = read_case(SMALL)
    folder.mkdir()
    for name in (name for name in TABLES if getattr(case, name)):
        with open(folder / f"{name}.csv", "w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(_typed_table(name, case, rng))
    (folder / "case.toml").write_text(_typed_keys(rng), encoding="utf-8")
    return read_case(folder)


@pytest.mark.parametrize("seed", range(25))
def test_typed_case_written_as_text_is_the_same_case(seed: int, tmp_path: Path) -> None:
    """Whatever units, digits and blanks a case was typed with, as text it reads back exactly equal."""
    case = _typed_case(tmp_path / "typed", seed)
    assert again(case, tmp_path / "folder") == same(case)


@pytest.mark.parametrize("seed", range(100, 108))
def test_typed_case_written_as_workbook_is_the_same_case(seed: int, tmp_path: Path) -> None:
    """The same for a workbook, whose number cells keep 16 digits only."""
    case = _typed_case(tmp_path / "typed", seed)
    assert again(case, tmp_path / "book.xlsx") == same(case)


@pytest.mark.parametrize(("unit", "kind"), [(unit, kind) for kind in DIMENSIONS
                                            for unit in allowed_units(kind)])
def test_figures_are_as_short_as_typed(unit: str, kind: str) -> None:
    """Figures of four digits in any unit, made inner values, come back with the same digits."""
    rng = random.Random(unit + kind)
    converts = conversion(unit, kind)
    for _ in range(200):
        typed = f"{rng.randint(1, 9999)}.{rng.choice(('', '5', '25', '04'))}".rstrip(".")
        assert figure(converts.to_inner(float(typed)), converts) == typed


def test_figure_has_every_digit_that_it_needs() -> None:
    """One third of a pound takes 16 digits to come back, and gets them."""
    pound = conversion("lb", "mass")
    assert figure(pound.to_inner(1 / 3), pound) == "0.3333333333333333"


def test_figure_is_none_where_the_unit_has_none() -> None:
    """A fuel use of 0 is no mi/gal; some masses lie between the floats that pounds give.

    Pounds from 4 to 4.4 lie 2^-50 apart, times 0.4536 is 4.03e-16; kilograms below 2 lie 2^-52 = 2.2e-16
    apart: nearly every other one is passed over.
    """
    assert figure(0.0, conversion("mi/gal", "fuel_use")) is None
    found = [figure(1.9 + k * 2.0 ** -52, conversion("lb", "mass")) for k in range(100)]
    assert 40 <= found.count(None) <= 50


@pytest.mark.parametrize("rest", ["", "1+1", "'", "=", "\n", "x y"])
@pytest.mark.parametrize("start", ["", "=", "+", "-", "@", "\t", "\r", "a", "7", "''"])
def test_neutral_text_is_no_formula_and_comes_back(start: str, rest: str) -> None:
    """No text begins like a formula once it is neutral, and reading gives the text back."""
    text = start + rest
    assert not neutral(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert bare(neutral(text)) == text
    assert bare(kept(text)) == text


def test_formulas_are_quoted_in_text_tables_and_numbers_are_not(tmp_path: Path) -> None:
    """In CSV a name =1+1 is written '=1+1 and a longitude of -90.5 stays a number."""
    case = read_case(SMALL)
    case = replace(case, sites=(replace(case.sites[0], name="=1+1"), *case.sites[1:]))
    write_case(case, tmp_path / "case")
    with open(tmp_path / "case" / "sites.csv", newline="", encoding="utf-8") as file:
        row = next(csv.DictReader(file))
    assert (row["name"], row["lon"]) == ("'=1+1", "-90.5")


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_of_a_workbook_is_a_formula(text: str, tmp_path: Path) -> None:
    """Names that look like formulas or errors are string cells, and the workbook holds no formula at all."""
    case = read_case(SMALL)
    case = replace(case, name=text, sites=tuple(replace(site, name=text) for site in case.sites))
    write_case(case, tmp_path / "book.xlsx")
    cell = load_workbook(tmp_path / "book.xlsx")["sites"]["B2"]
    assert (cell.value, cell.data_type) == (text, "s")
    with zipfile.ZipFile(tmp_path / "book.xlsx") as parts:
        assert not any(b"<f>" in parts.read(name) for name in parts.namelist())


def test_a_text_that_no_workbook_holds_is_refused(tmp_path: Path) -> None:
    """U+FFFE is no character of XML: the workbook is not written, the text tables are."""
    case = replace(read_case(SMALL), name="\ufffe")
    with pytest.raises(UsageError, match="no workbook"):
        write_case(case, tmp_path / "book.xlsx")
    assert [*tmp_path.iterdir()] == []
    assert again(case, tmp_path / "case") == same(case)


def test_a_blank_that_followed_its_row_stays_blank(tmp_path: Path) -> None:
    """A pass length that came from the area is not written out, so that a new area gives a new one."""
    case = read_case(SMALL)
    square = replace(case.sites[0], pass_length_m=case.sites[0].area_m2 ** 0.5)
    write_case(replace(case, sites=(square, *case.sites[1:])), tmp_path / "case")
    with open(tmp_path / "case" / "sites.csv", newline="", encoding="utf-8") as file:
        lengths = [row["pass_length [ft]"] for row in csv.DictReader(file)]
    assert lengths == ["", "180", "250", "200"]


def _tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
            for path in sorted(folder.rglob("*"))}


@pytest.mark.parametrize("there", ["sites.csv", "case.toml"])
def test_nothing_is_written_over(there: str, tmp_path: Path) -> None:
    """A folder that holds one of the names already is left as it was, and the name is told."""
    (tmp_path / there).write_text("mine", encoding="utf-8")
    before = _tree(tmp_path)
    with pytest.raises(UsageError, match=there):
        write_case(read_case(SMALL), tmp_path)
    assert _tree(tmp_path) == before


def test_a_link_that_leads_nowhere_is_not_written_through(tmp_path: Path) -> None:
    """A dangling link under one of the names counts as a file that is there."""
    (tmp_path / "book.xlsx").symlink_to(tmp_path / "elsewhere.xlsx")
    with pytest.raises(UsageError, match="book.xlsx"):
        write_case(read_case(SMALL), tmp_path / "book.xlsx")
    assert not (tmp_path / "elsewhere.xlsx").exists()


def _full(*_: Any, **__: Any) -> None:
    raise OSError(28, "No space left on device")


def _third(real: Callable[..., None]) -> Callable[..., None]:
    calls: list[int] = []

    def rename(*paths: Any) -> None:
        calls.append(1)
        if len(calls) == 3:
            _full()
        real(*paths)

    return rename


@pytest.mark.parametrize("failing", ["writing", "moving"])
@pytest.mark.parametrize("folder", ["new/deeper", "old"])
def test_a_failed_writing_leaves_nothing(failing: str, folder: str, tmp_path: Path,
                                         monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether the disk is full or the third file cannot be moved: files and folders are as before."""
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "mine.txt").write_text("mine", encoding="utf-8")
    before = _tree(tmp_path)
    if failing == "writing":
        monkeypatch.setattr(Path, "write_bytes", _full)
    else:
        monkeypatch.setattr(os, "rename", _third(os.rename))
    with pytest.raises(UsageError, match="No space left"):
        write_case(read_case(SMALL), tmp_path / folder)
    monkeypatch.undo()
    assert _tree(tmp_path) == before


def test_an_interrupted_writing_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while files are written is handed on, and nothing stays."""
    def interrupt(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_new(tmp_path / "case", {"a.csv": b"1"})
    assert [*tmp_path.iterdir()] == []


def test_every_table_is_written_with_every_column(tmp_path: Path) -> None:
    """A written case has all tables, the optional ones without rows too, and all declared columns."""
    write_case(read_case(SMALL), tmp_path / "case")
    for name in TABLES:
        columns = columns_of(name, ("light", "medium", "heavy"))
        with open(tmp_path / "case" / f"{name}.csv", newline="", encoding="utf-8") as file:
            headings = next(csv.reader(file))
        assert [heading.partition(" [")[0] for heading in headings] == [column.name for column in columns]
    assert "travel" in OPTIONAL and read_case(tmp_path / "case").travel == ()

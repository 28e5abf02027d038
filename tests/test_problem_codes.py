"""Every kind of problem is brought about once, by a small file of its own, and is told alone, in its place.

`data/bad/CODE` holds the files that replace those of the small case. What a text file cannot hold (other
encodings, workbooks, tables of absurd size) is made here.
"""

import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from zipfile import ZipFile

import pytest
from openpyxl import Workbook

from optibuild.inputs import CODES, check_case, check_variants
from optibuild.inputs.declared import problems

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
BAD = ROOT / "tests" / "data" / "bad"
DENSITY = "bulk_density [lb/ft^3]"
IN_BOOK = '[tables]\nmaterials = "book.xlsx"\n\n[storm]'
VARIATIONS = "variations.toml"
At = tuple[str, str, int, str]

# code -> file, sheet, row and column of the first place; the file replaces one of the small case
FILES: dict[str, At] = {
    "assumption.range": ("case.toml", "", 21, "assumptions.circuity"),
    "contract.band": ("contracts.csv", "", 4, "from_depth [in]"),
    "contract.cap": ("contracts.csv", "", 2, "cap"),
    "contract.twice": ("contracts.csv", "", 4, "form"),
    "doubt.budget": ("case.toml", "", 12, "money.budget"),
    "doubt.center": ("spreaders.csv", "", 3, "center [in]"),
    "doubt.curb": ("trucks.csv", "", 4, "curb_front [lb]"),
    "doubt.far": ("sites.csv", "", 2, "lat"),
    "doubt.fuel": ("case.toml", "", 13, "money.fuel.gass"),
    "doubt.heavy": ("plows.csv", "", 4, "blade_mass [lb]"),
    "doubt.narrow": ("sites.csv", "", 2, "clear_width [ft]"),
    "doubt.pay": ("case.toml", "", 5, "case.question"),
    "doubt.payload": ("trucks.csv", "", 2, "curb_front [lb]"),
    "doubt.template": ("case.toml", "", 0, ""),
    "doubt.traction": ("case.toml", "", 18, "assumptions.rolling"),
    "doubt.twice": ("plows.csv", "", 2, "mount_mass [lb]"),
    "doubt.unit": ("plows.csv", "", 2, "width [in]"),
    "doubt.unused": ("sites.csv", "", 2, "deice_when"),
    "doubt.value": ("sites.csv", "", 4, "area [acre]"),
    "doubt.work": ("plows.csv", "", 0, ""),
    "file.csv": ("materials.csv", "", 1, ""),
    "file.decimals": ("materials.csv", "", 0, ""),
    "file.missing": ("no.csv", "", 0, ""),
    "file.path": ("case.toml", "", 8, "tables.trucks"),
    "file.toml": ("case.toml", "", 3, ""),
    "file.unread": ("travels.csv", "", 0, ""),
    "file.workbook": ("book.xlsx", "", 0, ""),
    "heading.missing": ("trucks.csv", "", 1, "wheelbase"),
    "heading.twice": ("trucks.csv", "", 1, "size"),
    "heading.unknown": ("trucks.csv", "", 1, "sets"),
    "id.twice": ("trucks.csv", "", 3, "id"),
    "id.unknown": ("travel.csv", "", 2, "to"),
    "item.declining": ("plows.csv", "", 3, "resale [%]"),
    "item.hired": ("trucks.csv", "", 2, "price [USD]"),
    "item.lease": ("trucks.csv", "", 2, "lease [USD/year]"),
    "item.loan": ("trucks.csv", "", 3, "loan_years [year]"),
    "key.twice": ("case.toml", "", 14, "money.wage"),
    "key.unknown": ("case.toml", "", 12, "money.wages"),
    "row.long": ("ballast.csv", "", 2, ""),
    "row.short": ("ballast.csv", "", 2, ""),
    "site.limit": ("sites.csv", "", 4, "plow_every [h]"),
    "site.pay": ("sites.csv", "", 4, "pay [USD]"),
    "site.timed": ("sites.csv", "", 2, "timed_plow"),
    "spreader.center": ("spreaders.csv", "", 3, "center [in]"),
    "table.clocks": ("sites.csv", "", 4, "plow_every [h]"),
    "table.empty": ("depots.csv", "", 0, ""),
    "truck.curb": ("trucks.csv", "", 2, "gvwr [lb]"),
    "truck.curb_axle": ("trucks.csv", "", 2, "curb_rear [lb]"),
    "truck.ratings": ("trucks.csv", "", 2, "gvwr [lb]"),
    "truck.seat": ("trucks.csv", "", 2, "seat [in]"),
    "truck.seats": ("trucks.csv", "", 2, "seats"),
    "truck.turning": ("trucks.csv", "", 2, "turning_circle [in]"),
    "unit.missing": ("trucks.csv", "", 1, "gvwr"),
    "unit.unwanted": ("trucks.csv", "", 1, "seats [lb]"),
    "unit.wrong": ("trucks.csv", "", 1, "gvwr [lbs]"),
    "value.ambiguous": ("materials.csv", "", 2, "price [USD/ton]"),
    "value.control": ("trucks.csv", "", 2, "description"),
    "value.finite": ("trucks.csv", "", 2, "gvwr [lb]"),
    "value.id": ("trucks.csv", "", 2, "id"),
    "value.kind": ("case.toml", "", 15, "crew.occupants"),
    "value.long": ("trucks.csv", "", 2, "id"),
    "value.missing": ("trucks.csv", "", 2, "curb_front [lb]"),
    "value.number": ("trucks.csv", "", 2, "gvwr [lb]"),
    "value.range": ("trucks.csv", "", 2, "curb_front [lb]"),
    "value.whole": ("trucks.csv", "", 2, "seats"),
    "value.word": ("sites.csv", "", 3, "work"),
    "variation.blank": (VARIATIONS, "", 4, ""),
    "variation.circle": (VARIATIONS, "", 1, ""),
    "variation.copied": (VARIATIONS, "", 4, ""),
    "variation.form": (VARIATIONS, "", 3, ""),
    "variation.name": (VARIATIONS, "", 2, ""),
    "variation.nothing": (VARIATIONS, "", 5, ""),
    "variation.rows": (VARIATIONS, "", 3, ""),
    "variation.same": (VARIATIONS, "", 1, ""),
    "variation.twice": (VARIATIONS, "", 6, ""),
    "variation.unknown": (VARIATIONS, "", 3, ""),
    "winter.count": ("season.csv", "", 2, "count"),
    "winter.few": ("past_winters.csv", "", 0, ""),
}


def _windows(case: Path) -> None:
    text = (case / "sites.csv").read_text(encoding="utf-8").replace("Invented Bank", "Café")
    (case / "sites.csv").write_bytes(text.encode("cp1252"))


def _no_text(case: Path) -> None:
    (case / "materials.csv").write_bytes(b"\xff\xfei\x00d")


def _wide(case: Path) -> None:
    (case / "materials.csv").write_text(",".join(["note"] * 1001) + "\n", encoding="utf-8")


def _book(*cells: object, then: Callable[[Workbook], None] = lambda book: None) -> Callable[[Path], None]:
    """The table of materials as a workbook: `cells` are its only row."""
    def make(case: Path) -> None:
        book = Workbook()
        sheet = book.active
        assert sheet is not None
        sheet.title = "materials"
        sheet.append(["id", DENSITY, "price [USD/ton]"])
        sheet.append(list(cells) or ["salt", 75, 90])
        then(book)
        book.save(case / "book.xlsx")
        text = (case / "case.toml").read_text(encoding="utf-8")
        (case / "case.toml").write_text(text.replace("[storm]", IN_BOOK), encoding="utf-8")
    return make


def _renamed(book: Workbook) -> None:
    book["materials"].title = "material"


def _merged(book: Workbook) -> None:
    book["materials"].append(["sand", None, None])
    book["materials"].merge_cells("A2:A3")


def _hidden(book: Workbook) -> None:
    book["materials"].row_dimensions[2].hidden = True


def _padded(book: Workbook) -> None:
    book["materials"]["A2"].number_format = "000"


def _entities(case: Path) -> None:
    """A workbook whose first sheet declares an entity, which a reader would have to unfold."""
    _book()(case)
    with ZipFile(case / "book.xlsx") as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    with ZipFile(case / "book.xlsx", "w") as changed:
        for name, content in parts.items():
            declared = b'<!DOCTYPE worksheet [<!ENTITY a "75">]><worksheet'
            changed.writestr(name, content.replace(b"<worksheet", declared, 1))


def _whole_book(case: Path) -> None:
    """The small case as one workbook, with a sheet that nobody reads."""
    book = Workbook()
    keys = book.active
    assert keys is not None
    keys.title = "case"
    for row in (["key", "value"], ["case.question", "cover"], ["storm.pavement", "25 degF"]):
        keys.append(row)
    for table in sorted(case.glob("*.csv")):
        sheet = book.create_sheet(table.stem)
        sheet.append(["id"])
    book.create_sheet("travels").append(["from", "to", "time [min]"])
    book.save(case / "whole.xlsx")


def _many(case: Path) -> None:
    """Two sweeps of 100 values and every pair of them: 10,200 cases."""
    sweeps = (f'[[sweep]]\nname = "{key}"\nkey = "{key}"\nvalues = {[*range(1, 101)]}\n'
              for key in ("solve.seed", "crew.drivers"))
    grid = '[[combination]]\nname = "grid"\nof = ["solve.seed", "crew.drivers"]\n'
    (case / VARIATIONS).write_text("".join(sweeps) + grid, encoding="utf-8")


MADE: dict[str, tuple[Callable[[Path], None], At]] = {
    "file.encoding": (_windows, ("sites.csv", "", 2, "")),
    "file.text": (_no_text, ("materials.csv", "", 1, "")),
    "file.large": (_wide, ("materials.csv", "", 1, "")),
    "file.unsafe": (_entities, ("book.xlsx", "", 0, "")),
    "sheet.missing": (_book(then=_renamed), ("book.xlsx", "", 0, "")),
    "sheet.merged": (_book(then=_merged), ("book.xlsx", "materials", 0, "")),
    "sheet.hidden": (_book(then=_hidden), ("book.xlsx", "materials", 0, "")),
    "cell.formula": (_book("salt", "=70+5", 90), ("book.xlsx", "materials", 2, DENSITY)),
    "cell.error": (_book("salt", "#DIV/0!", 90), ("book.xlsx", "materials", 2, DENSITY)),
    "cell.date": (_book("salt", date(2026, 3, 1), 90), ("book.xlsx", "materials", 2, DENSITY)),
    "variation.many": (_many, (VARIATIONS, "", 9, "")),
    "cell.padded": (_book(7, 75, 90, then=_padded), ("book.xlsx", "materials", 2, "id")),
}
ELSEWHERE = ("problems.many", "sheet.unread")


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return shutil.copytree(SMALL, tmp_path / "case")


@pytest.mark.parametrize("code", sorted(FILES))
def test_a_bad_file_brings_about_its_own_problem_alone(code: str, case: Path) -> None:
    """The files of one code make that code, in its place, with what to do about it, and no other."""
    for file in (BAD / code).iterdir():
        shutil.copy(file, case)
    _told_alone(code, FILES[code], case)


@pytest.mark.parametrize("code", sorted(MADE))
def test_what_a_text_file_cannot_hold_is_told_alone(code: str, case: Path) -> None:
    """A file made for one code makes that code, in its place, and no other."""
    make, at = MADE[code]
    make(case)
    _told_alone(code, at, case)


def _told_alone(code: str, at: At, case: Path) -> None:
    read, found = (check_variants if (case / VARIATIONS).exists() else check_case)(case)
    assert {problem.code for problem in found} == {code}
    place = found[0].places[0]
    assert (place.file, place.sheet, place.row, place.column) == at
    assert found[0].severity == CODES[code].severity
    assert found[0].title and found[0].text and found[0].remedy
    assert (read is None) == (CODES[code].severity == "error")


def test_a_sheet_that_nobody_reads_is_told(case: Path) -> None:
    """In a workbook that is the case, a sheet with a misspelt table's name is told with the right one."""
    _whole_book(case)
    unread, = [problem for problem in check_case(case / "whole.xlsx")[1] if problem.code == "sheet.unread"]
    assert (unread.places[0].sheet, unread.severity) == ("travels", "warning")
    assert "'travel'" in unread.remedy


def test_more_problems_than_can_be_listed_are_counted(case: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for 2 problems, 3 wrong seats are told as two, and one that is not listed."""
    monkeypatch.setattr(problems, "MOST_PROBLEMS", 2)
    shutil.copy(BAD / "truck.seats" / "case.toml", case)
    found = check_case(case)[1]
    assert [problem.code for problem in found] == ["truck.seats", "truck.seats", "problems.many"]
    assert found[-1].text.startswith("1 more")


def test_every_code_has_its_file_and_every_file_its_code() -> None:
    """No code is declared that nothing brings about, and no folder of bad files is left over."""
    assert {*FILES, *MADE, *ELSEWHERE} == set(CODES)
    assert {folder.name for folder in BAD.iterdir()} == set(FILES)


def test_every_code_in_the_source_is_declared_and_used() -> None:
    """What the source names is declared, and what is declared the source uses."""
    trees = {code.partition(".")[0] for code in CODES}
    named = re.compile(rf'"((?:{"|".join(sorted(trees))})\.[a-z_]+)"')
    used: set[str] = set()
    for path in (ROOT / "optibuild" / "inputs").rglob("*.py"):
        used |= set(named.findall(path.read_text(encoding="utf-8").replace('Code("', "Code(")))
    assert used == set(CODES)


def test_titles_and_remedies_are_short_plain_sentences() -> None:
    """A title is one short phrase without a full stop, a remedy ends with one, none is longer than a line."""
    for row in CODES.values():
        assert row.title[0].isupper() and not row.title.endswith(".") and len(row.title) <= 60, row.code
        assert row.remedy.endswith(".") and len(row.remedy) <= 110, row.code
    assert len({row.title for row in CODES.values()}) == len(CODES)

"""Sheets of workbooks to tables: cells to text, what a sheet shows otherwise than it holds, names."""

import re
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from io import BytesIO
from random import Random
from typing import Any
from zipfile import ZipFile

import pytest
from books import book_of, parts_of, read, saved, sheet_xml, zipped
from openpyxl import Workbook, load_workbook
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.worksheet.worksheet import Worksheet

from optibuild.errors import Problem
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.files import SourceFile
from optibuild.inputs.reading.raw_table import Marked, RawTable
from optibuild.inputs.reading.workbook import Workbook as Book
from optibuild.inputs.reading.workbook import open_workbook
from optibuild.inputs.reading.workbook_guard import look
from optibuild.inputs.reading.workbook_parts import Styles
from optibuild.inputs.reading.workbook_sheet import look_slowly

SHEET1 = "xl/worksheets/sheet1.xml"
HEADING = '<c r="A1" t="inlineStr"><is><t>id</t></is></c>'


def one_sheet(*rows: Sequence[Any], then: Callable[[Worksheet], object] = lambda sheet: None) -> bytes:
    """The bytes of a workbook with the sheet `sites`."""
    book = book_of(rows)
    then(book.worksheets[0])
    return saved(book)


def by_hand(rows: str, after: str = "") -> bytes:
    """The bytes of a workbook whose sheet `sites` is written out as XML."""
    parts = parts_of({"sites": ""})
    return zipped({**parts, SHEET1: sheet_xml(rows, after).encode()})


def opened(content: bytes) -> Book:
    """A workbook as read, without any problem."""
    collector = Collector()
    book = open_workbook(SourceFile("book.xlsx", content, ""), collector)
    assert book is not None and not collector.problems
    return book


def table(content: bytes) -> tuple[RawTable, list[Problem]]:
    """The sheet `sites` as a table, and what was told of it."""
    found, problems = read(content)
    assert found is not None, problems
    return found, problems


def cell(value: object, number_format: str = "") -> str | Marked:
    """One cell as read, that stands under a heading."""
    def show(sheet: Worksheet) -> None:
        sheet["A2"].number_format = number_format or sheet["A2"].number_format

    return table(one_sheet(["id", "last"], [value, "x"], then=show))[0].rows[0][1][0]


def faults(found: str | Marked) -> tuple[str, str, str]:
    """The codes of what a cell cannot be: read at all, an id, a number."""
    if isinstance(found, str):
        return "", "", ""
    kinds = (found.unreadable, found.no_id, found.no_number)
    return tuple(fault.code if fault else "" for fault in kinds)  # type: ignore[return-value]


@pytest.mark.parametrize(("value", "text"), [
    ("yard", "yard"), (" a  b ", " a  b "), ("1,250", "1,250"), ("007", "007"), ("two\nlines", "two\nlines"),
    (7, "7"), (7.0, "7"), (-0.0, "0"), (7.5, "7.5"), (0.1, "0.1"), (1e-7, "1e-07"), (-93.5, "-93.5"),
    (123456789012345, "123456789012345"), (True, "TRUE"), (False, "FALSE"), (None, ""), ("TRUE", "TRUE")])
def test_plain_cells_become_the_text_somebody_would_type(value: object, text: str) -> None:
    """Texts stay as they are, whole numbers lose '.0', truths are words, an empty cell is an empty text."""
    assert cell(value) == text


def test_rich_text_is_read_as_its_letters() -> None:
    """A cell with one word in bold is the same text as without."""
    assert cell(CellRichText("main ", TextBlock(InlineFont(b=True), "yard"))) == "main yard"


@pytest.mark.parametrize(("value", "number_format", "shown"), [
    (7, "000", "007"), (12, "00000", "00012"), (1234, "00-00", "12-34"), (7, '"T-"0', "T-7"), (7, "0.00", ""),
    (1234, "#,##0", ""), (7, '0 "lb"', ""), (7, "0%", "")])
def test_a_number_shown_with_other_characters_is_no_id(value: int, number_format: str, shown: str) -> None:
    """What the sheet shows (007) is not what the cell holds (7), so it is a number but no id, and is told."""
    found = cell(value, number_format)
    assert isinstance(found, Marked) and faults(found) == ("", "cell.padded", "")
    assert found.text == str(value)
    assert f"shows {shown}" in str(found.no_id)


@pytest.mark.parametrize(("value", "number_format"), [
    (7, "0"), (7, "@"), (7, "[Red]0"), (7, "0_)"), (999, "#,##0"), (1234, "000"), (7, "0;-0")])
def test_a_number_shown_by_its_own_digits_is_an_id(value: int, number_format: str) -> None:
    """Colors, blanks and formats that change no digit of this number leave it a plain text."""
    assert cell(value, number_format) == str(value)


@pytest.mark.parametrize("number_format", ["0", "#", "0;-0", "[Red]0"])
def test_a_number_shown_rounded_is_no_id(number_format: str) -> None:
    """A cell holding 1.5 in a format for whole numbers shows 2: a number still, but no id."""
    found = cell(1.5, number_format)
    assert isinstance(found, Marked) and found.text == "1.5" and faults(found) == ("", "cell.padded", "")


def test_a_number_longer_than_a_cell_holds_is_no_id() -> None:
    """A sheet keeps 15 digits: an id of 18 typed as a number has lost its last ones."""
    assert faults(cell(123456789012345678)) == ("", "cell.padded", "")


@pytest.mark.parametrize(("value", "number_format", "percent"), [
    (0.2, "0%", "20 %"), (0.07, "0%", "7 %"), (0.0725, "0.00%", "7.25 %"), (1.0, "0%", "100 %"),
    (0, "0.0%", "0 %"), (1e18, "0%", "100000000000000000000 %"), (0.5, '[Blue]0%;"none"', "50 %")])
def test_a_share_in_percent_is_read_as_shown(value: float, number_format: str, percent: str) -> None:
    """0.07 shown as 7 % is exactly 7 %, with no digit of the float's error."""
    found = cell(value, number_format)
    assert isinstance(found, Marked) and found.percent == percent


def test_a_percent_sign_that_is_only_a_letter_counts_for_nothing() -> None:
    """The format 0 "%" shows 20 as '20 %' and does not multiply, so no percentage is read."""
    found = cell(20, '0 "%"')
    assert isinstance(found, Marked) and (found.percent, found.text) == ("", "20")


@pytest.mark.parametrize(("value", "text", "said"), [
    (date(2026, 3, 1), "2026-03-01", ""), (datetime(2026, 3, 1, 4, 30), "2026-03-01 04:30:00", ""),
    (time(1, 30), "01:30:00", "write 1.5 in a column of h, 90 in one of min"),
    (timedelta(hours=30), "1 day, 6:00:00", "write 30 in a column of h, 1800 in one of min")])
def test_a_date_is_neither_an_id_nor_a_number(value: object, text: str, said: str) -> None:
    """Dates, times and durations are refused as ids and numbers; of a duration the figures are told."""
    found = cell(value)
    assert isinstance(found, Marked) and faults(found) == ("", "cell.date", "cell.date")
    assert found.text == text and found.no_number is not None and said in found.no_number.hint


@pytest.mark.parametrize("shown", ["#N/A", "#REF!", "#DIV/0!", "#VALUE!", "#NAME?"])
def test_a_cell_that_shows_an_error_is_unreadable(shown: str) -> None:
    """An error is no blank cell: it has no value, and the message quotes it."""
    found = cell(shown)
    assert isinstance(found, Marked) and faults(found)[0] == "cell.error"
    assert shown in str(found.unreadable)


def test_an_error_in_the_last_cell_is_not_lost() -> None:
    """An error right of and below every value still belongs to the table."""
    found, _ = table(one_sheet(["id", "area"], ["a", 1], ["b", "#N/A"]))
    assert faults(found.rows[1][1][1])[0] == "cell.error"


def test_a_formula_without_a_value_is_unreadable_and_quoted_in_part() -> None:
    """No formula is worked out; of a long one the message quotes 40 characters."""
    found = cell("=" + "1+" * 100 + "1")
    assert isinstance(found, Marked) and faults(found)[0] == "cell.formula"
    assert "1+" * 20 + "..." in str(found.unreadable)
    assert "1+" * 21 not in str(found.unreadable)


@pytest.mark.parametrize(("written", "text"), [
    ('<c r="A2"><f>1+1</f><v>2</v></c>', "2"), ('<c r="A2" t="str"><f>"a"</f><v>a</v></c>', "a"),
    ('<c r="A2" t="b"><f>1&lt;2</f><v>1</v></c>', "TRUE"),
    ('<c r="A2"><f t="shared" si="0"/><v>7.5</v></c>', "7.5")])
def test_a_formula_with_its_value_is_that_value(written: str, text: str) -> None:
    """What the spreadsheet worked out and saved beside the formula is read like a typed cell."""
    found, problems = table(by_hand(f'<row r="1">{HEADING}</row><row r="2">{written}</row>'))
    assert found.rows == ((2, [text]),) and not problems


def test_a_formula_whose_value_is_an_empty_text_is_blank() -> None:
    """=IF(1,"","x") saved with an empty text shows nothing, and is read as nothing."""
    found, problems = table(by_hand(
        f'<row r="1">{HEADING}{HEADING.replace("A1", "B1").replace("id", "note")}</row>'
        '<row r="2"><c r="A2"><v>1</v></c><c r="B2" t="str"><f>IF(1,"","x")</f><v></v></c></row>'))
    assert found.rows in (((2, ["1"]),), ((2, ["1", ""]),)) and not problems


def test_row_numbers_are_those_of_the_sheet() -> None:
    """Blank rows count and are left out; blank columns at the end and a column of blank text are dropped."""
    found, _ = table(one_sheet(["id", "area", None, " "], ["a", 1], [None], [" ", ""], ["b", 2]))
    assert found.headings == ("id", "area")
    assert [(number, cells[:2]) for number, cells in found.rows] == [(2, ["a", "1"]), (5, ["b", "2"])]
    assert str(found.place(5, 1)) == "book.xlsx, sites!B5, area"


def test_a_table_that_begins_at_the_right_keeps_its_letters() -> None:
    """A sheet with nothing in column A has its first heading in B."""
    found, _ = table(one_sheet([None, "id"], [None, "a"]))
    assert found.headings == ("", "id")
    assert found.rows == ((2, ["", "a"]),)


@pytest.mark.parametrize(("rows", "said"), [(([],), "is empty"), (([None], ["id"], ["a"]), "row 1")])
def test_a_sheet_needs_headings_in_row_1(rows: tuple[list[object], ...], said: str) -> None:
    """An empty sheet, and one that begins further down, is no table; both are told as what they are."""
    found, problems = read(one_sheet(*rows))
    assert found is None and [problem.code for problem in problems] == ["heading.missing"]
    assert said in problems[0].text


def test_merged_cells_are_told_where_they_reach_into_the_table() -> None:
    """Of merged cells only the first has a value: B2:B3 is a problem, cells beside and below are none."""
    def merge(sheet: Worksheet) -> None:
        for area in ("B2:B3", "E1:F1", "A9:B9"):
            sheet.merge_cells(area)

    _, problems = table(one_sheet(["id", "area"], ["a", 1], ["b", None], then=merge))
    assert [(problem.code, str(problem.places[0])) for problem in problems] == [
        ("sheet.merged", "book.xlsx, sites!B2:B3")]


def test_what_is_hidden_is_read_and_told() -> None:
    """Rows 2 to 4 and 6, columns B to C and the sheet: one warning each; blank ones are not told."""
    def hide(sheet: Worksheet) -> None:
        for row in (2, 3, 4, 6, 9):
            sheet.row_dimensions[row].hidden = True
        sheet.column_dimensions.group("B", "C", hidden=True)
        sheet.column_dimensions["H"].hidden = True
        sheet.sheet_state = "hidden"
        assert sheet.parent is not None
        sheet.parent.create_sheet("notes")

    found, problems = table(one_sheet(["id", "x", "y"], *([name, 1, 2] for name in "abcde"), then=hide))
    assert len(found.rows) == 5
    assert {problem.code for problem in problems} == {"sheet.hidden"}
    assert sorted(problem.text for problem in problems) == [
        "hidden: columns B-C", "hidden: rows 2-4, 6", "the sheet 'sites' is hidden"]


def test_sheets_are_found_by_name_and_the_very_same_name_wins() -> None:
    """Letter case and blanks around a name are free; charts are no sheets."""
    book = Workbook()
    assert book.active is not None
    book.active.title = "Sites "
    book.create_sheet("trucks")
    book.create_sheet("Größe")
    book.create_chartsheet("picture")
    found = opened(saved(book))
    assert found.sheet_names == ("Sites ", "trucks", "Größe")
    assert [found.find(name) for name in ("sites", "Sites ", "TRUCKS", "GRÖSSE", "picture", "site")] == [
        "Sites ", "Sites ", "trucks", "Größe", None, None]


def test_sheets_that_hold_something_and_nobody_reads() -> None:
    """A sheet that is empty, known or begins with 'note' is not told."""
    book = Workbook()
    assert book.active is not None
    book.active.append(["only this is told"])
    for name in ("Notes 2026", "trucks", "empty"):
        book.create_sheet(name).append(["x"] if name != "empty" else [])
    found = opened(saved(book))
    assert found.unread(("case", "Trucks")) == ["Sheet"]


FORMATS = ("General", "0", "[Red]0", "000", "0.00", "#,##0", "0%")


def random_book(rng: Random, plain: bool) -> bytes:
    """A sheet of cells of every kind, or of plain ones only."""
    def fill(sheet: Worksheet) -> None:
        for row in range(2, rng.randint(3, 12)):
            for column in range(1, 7):
                value = rng.choice([None, "", "text ", "=1", 3, 1234, -2.5, 0.07, True, "#N/A", "=A1+1",
                                    date(2026, 1, row), time(2, row), "12"])
                if plain and (isinstance(value, date | time) or str(value)[:1] in ("=", "#")):
                    value = rng.choice([5, "word", None])
                sheet.cell(row, column, value)
                if not plain and isinstance(value, int | float):
                    sheet.cell(row, column).number_format = rng.choice(FORMATS)

    return one_sheet([f"h{n}" for n in range(6)], then=fill)


def by_openpyxl(content: bytes) -> list[list[tuple[str, tuple[str, str, str], str]]]:
    """The rows below the heading by another library: text, faults and percentage of each cell."""
    sheet = load_workbook(BytesIO(content))["sites"]
    rows = [[_told(one) for one in row] for row in sheet.iter_rows(min_row=2)]
    return [row for row in rows if any(text.strip() for text, _, _ in row)]


def _told(one: object) -> tuple[str, tuple[str, str, str], str]:
    value, shown, kind = one.value, one.number_format, one.data_type  # type: ignore[attr-defined]
    none = ("", "", "")
    if kind == "e":
        return value, ("cell.error", "", ""), ""
    if kind == "f":
        return value, ("cell.formula", "", ""), ""
    if isinstance(value, datetime):
        return str(value.date()), ("", "cell.date", "cell.date"), ""
    if isinstance(value, time):
        return str(value), ("", "cell.date", "cell.date"), ""
    if value is None or isinstance(value, str):
        return value or "", none, ""
    if isinstance(value, bool):
        return str(value).upper(), none, ""
    whole = value == int(value)
    text = str(int(value)) if whole else repr(value)
    padded = {"0": not whole, "[Red]0": not whole, "000": not (whole and value >= 100),
              "0.00": True, "0%": True, "#,##0": not (whole and abs(value) < 1000)}.get(shown, False)
    percent = {3: "300", 1234: "123400", -2.5: "-250", 0.07: "7", 5: "500"}[value] if shown == "0%" else ""
    return text, ("", "cell.padded" if padded else "", ""), f"{percent} %" if percent else ""


def _ours(content: bytes) -> list[list[tuple[str, tuple[str, str, str], str]]]:
    return [[(one, faults(one), "") if isinstance(one, str) else (one.text, faults(one), one.percent)
             for one in [*cells, *[""] * (6 - len(cells))]] for _, cells in table(content)[0].rows]


@pytest.mark.parametrize("seed", range(40))
def test_another_library_reads_the_same_cells(seed: int) -> None:
    """Cells of every kind in random places are read as openpyxl reads them, one by one."""
    content = random_book(Random(seed), plain=False)
    assert _ours(content) == by_openpyxl(content)


@pytest.mark.parametrize("seed", range(10))
def test_the_quick_look_and_the_slow_one_see_the_same(seed: int) -> None:
    """Of a sheet without anything special both say so, and how far its values reach."""
    content = random_book(Random(seed), plain=True)
    with ZipFile(BytesIO(content)) as parts:
        slow = look_slowly([parts.read(SHEET1)], Styles(), 1000)
    assert look(content).sheets[SHEET1] == slow
    assert not (slow.errors or slow.formulas or slow.styles or slow.merged)


def test_a_sheet_written_with_a_prefix_is_read_the_same() -> None:
    """Some programs write <x:c> for <c>: errors and merged cells in it are seen too."""
    part = sheet_xml(f'<row r="1">{HEADING}</row><row r="2"><c r="A2" t="e"><v>#N/A</v></c></row>',
                     '<mergeCells count="1"><mergeCell ref="A2:A3"/></mergeCells>')
    prefixed = re.sub("<(/?)", r"<\1x:", part).replace("xmlns=", "xmlns:x=")
    found, problems = table(zipped({**parts_of({"sites": ""}), SHEET1: prefixed.encode()}))
    assert faults(found.rows[0][1][0])[0] == "cell.error"
    assert [problem.code for problem in problems] == ["sheet.merged"]


def test_cells_without_addresses_stand_one_after_another() -> None:
    """The addresses of cells and rows may be left out (ECMA-376): the second cell of the second row is B2."""
    heading = HEADING.replace(' r="A1"', "")
    found, _ = table(by_hand(f'<row>{heading}{heading.replace("id", "area")}</row>'
                             '<row><c><v>5</v></c><c t="e"><v>#N/A</v></c></row>'))
    assert found.headings == ("id", "area")
    assert found.rows[0][1][0] == "5" and faults(found.rows[0][1][1])[0] == "cell.error"


def test_the_formulas_of_rules_belong_to_no_cell() -> None:
    """The rule of a colored cell has a formula, <xm:f>, behind all cells: the last cell stays a value."""
    rule = ('<extLst><ext xmlns:x14="urn:a" xmlns:xm="urn:b"><x14:cfRule><xm:f>A2&gt;1</xm:f></x14:cfRule>'
            '</ext></extLst>')
    rows = f'<row r="1">{HEADING}</row><row r="2"><c r="A2"><v>5</v></c></row>'
    found, problems = table(by_hand(rows, rule))
    assert found.rows == ((2, ["5"]),) and not problems

"""Ways in which people, spreadsheets and disks spoil a case that is one workbook."""

import csv
import re
import tomllib
from collections.abc import Callable, Sequence
from datetime import date, datetime, time
from io import BytesIO, StringIO
from random import Random
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from mutant_bases import BASES, Mutant
from mutations import ANY, HARMLESS, NASTY, edited
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.worksheet.worksheet import Worksheet
from slow_case import WORKBOOK, flat

from optibuild.inputs import KEYS, TABLES

BookMutation = Callable[[Random, Workbook], bool]
ByteMutation = Callable[[Random, bytes], bytes]
FORMATS = ("0%", "0.00%", "000", "00000", "0", "0.00", "#,##0", "yyyy-mm-dd", "m/d/yy", "h:mm", "[h]:mm",
           '0 "lb"', "$#,##0", "# ?/?", "0.00E+00", "0.0,", "@", "General", '"7"0', "[Red]0", "0;0;0",
           "mm-dd-yy", "#,##0.00")
ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?")
NUMBER = re.compile(r"-?[0-9][0-9,]*(\.[0-9]+)?")


def typed(text: str) -> Any:
    """A cell of a text file as somebody typing it into a spreadsheet leaves it."""
    if not NUMBER.fullmatch(text):
        return text or None
    number = float(text.replace(",", ""))
    return int(number) if number == int(number) else number


def grids(files: dict[str, bytes]) -> dict[str, list[list[Any]]]:
    """The sheets of a case: its tables, and its keys under key and value."""
    keys = flat(tomllib.loads(files["case.toml"].decode()))
    found: dict[str, list[list[Any]]] = {"case": [["key", "value"], *map(list, keys)]}
    for name, content in files.items():
        if name.endswith(".csv"):
            rows = csv.reader(StringIO(content.decode(), newline=""))
            found[name.removesuffix(".csv")] = [[typed(cell) for cell in row] for row in rows]
    return found


GRIDS = tuple(grids(base) for base in BASES[1:])


def book_of(sheets: dict[str, list[list[Any]]]) -> Workbook:
    """A workbook of these sheets."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


def a_table(rng: Random, book: Workbook) -> Worksheet:
    """Any sheet but `case`."""
    return rng.choice([sheet for sheet in book.worksheets if sheet.title != "case"])


def a_cell(rng: Random, sheet: Worksheet, first: int = 2) -> Cell:
    """Any cell below the heading."""
    return sheet.cell(rng.randint(first, max(first, sheet.max_row)), rng.randint(1, sheet.max_column))


def written(text: str) -> str:
    """A text without the characters that no workbook can hold."""
    return ILLEGAL_CHARACTERS_RE.sub("", text)


def put(cell: Cell, text: str) -> None:
    """A text in a cell, never a formula."""
    cell.value = written(text)
    if cell.value:
        cell.data_type = "s"


def cell_of_another_type(rng: Random, book: Workbook) -> bool:
    """A date, a time, a truth, a number, an error, a formula never calculated, a text, nothing."""
    cell = a_cell(rng, rng.choice(book.worksheets))
    kind = rng.randrange(5)
    if kind == 0:
        cell.value = rng.choice([date(2026, 11, 25), datetime(2026, 1, 7), time(7, 30), None])
    elif kind == 1:
        cell.value = rng.choice([0, -1, 7, 7.5, 1e15, 1e300, 0.1 + 0.2, 45000, 1250, 0.2, 1e-300])
    elif kind == 2:
        cell.value, cell.data_type = rng.choice(ERRORS), "e"
    elif kind == 3:
        cell.value = rng.choice(["=1+1", "=A1", '=HYPERLINK("x")'])
    else:
        put(cell, rng.choice(NASTY))
    return ANY


def cell_shown_otherwise(rng: Random, book: Workbook) -> bool:
    """A number format that shows another text than the number."""
    a_cell(rng, a_table(rng, book)).number_format = rng.choice(FORMATS)
    return ANY


def id_shown_otherwise(rng: Random, book: Workbook) -> bool:
    """A number where an id stands, shown with other digits than it has."""
    sheet = a_table(rng, book)
    cell = sheet.cell(rng.randint(2, sheet.max_row), 1)
    cell.value, cell.number_format = rng.choice([7, 12, 1.5, 2026, 0, 45000]), rng.choice(FORMATS)
    return ANY


def truth_in_a_cell(rng: Random, book: Workbook) -> bool:
    """TRUE or FALSE in a cell, as a spreadsheet takes the word where an id or a text was meant."""
    a_cell(rng, a_table(rng, book)).value = rng.choice([True, False])
    return ANY


def share_in_percent(rng: Random, book: Workbook) -> bool:
    """A share as a spreadsheet holds it: 0.2 shown as 20 %."""
    sheet = book["trucks"]
    column = sheet.max_column + 1
    sheet.cell(1, column, rng.choice(["snow_share [%]", "resale [%]"]))
    for row in range(2, sheet.max_row + 1):
        cell = sheet.cell(row, column, rng.randint(1, 100) / 100)
        cell.number_format = rng.choice(["0%", "0.00%", '0.0 "x"%'])
    return ANY


def numbers_as_text(rng: Random, book: Workbook) -> bool:
    """A sheet whose numbers are all stored as text."""
    for row in a_table(rng, book).iter_rows(min_row=2):
        for cell in row:
            if isinstance(cell.value, int | float):
                put(cell, rng.choice(["{}", " {} ", "{}\u00a0"]).format(cell.value))
    return HARMLESS


def hidden(rng: Random, book: Workbook) -> bool:
    """A hidden sheet, row or column."""
    sheet = a_table(rng, book)
    cell = a_cell(rng, sheet)
    if rng.random() < 0.3:
        sheet.sheet_state = rng.choice(["hidden", "veryHidden"])
    elif rng.random() < 0.5:
        sheet.row_dimensions[cell.row].hidden = True
    else:
        sheet.column_dimensions[cell.column_letter].hidden = True
    return HARMLESS


def merged(rng: Random, book: Workbook) -> bool:
    """Cells merged, which leaves only the first of them."""
    sheet = a_table(rng, book)
    cell = a_cell(rng, sheet, 1)
    sheet.merge_cells(start_row=cell.row, start_column=cell.column, end_row=cell.row + rng.randint(0, 1),
                      end_column=cell.column + rng.randint(0, 2))
    return ANY


def blank_rows(rng: Random, book: Workbook) -> bool:
    """Blank rows among the others, and cells that are formatted but blank far away."""
    sheet = a_table(rng, book)
    sheet.insert_rows(rng.randint(2, sheet.max_row + 1), rng.randint(1, 3))
    sheet.cell(sheet.max_row + 9, sheet.max_column + 9).number_format = rng.choice(FORMATS)
    return HARMLESS


def sheet_changed(rng: Random, book: Workbook) -> bool:
    """A sheet gone, renamed, twice, in another place, or with a row above its heading."""
    sheet = rng.choice(book.worksheets)
    kind = rng.randrange(5)
    if kind == 0:
        book.remove(sheet)
    elif kind == 1:
        sheet.title = rng.choice([sheet.title.upper(), f" {sheet.title}", f"note {sheet.title}", "x"])
    elif kind == 2:
        book.copy_worksheet(sheet)
    elif kind == 3:
        book.move_sheet(sheet, 2)
    else:
        sheet.insert_rows(1)
    return ANY


def heading_edited(rng: Random, book: Workbook) -> bool:
    """A slip in a heading, or something else in its cell."""
    sheet = a_table(rng, book)
    cell = sheet.cell(1, rng.randint(1, sheet.max_column))
    put(cell, rng.choice([edited(rng, str(cell.value)), str(cell.value).upper(), rng.choice(NASTY)]))
    if rng.random() < 0.2:
        cell.value = rng.choice([7, 0.5, True, date(2026, 11, 25), None])
    return ANY


def keys_changed(rng: Random, book: Workbook) -> bool:
    """A key more in the sheet `case`, its value of any type."""
    key = rng.choice([*KEYS, *(f"tables.{name}" for name in TABLES), "money.fuel.gas"])
    value = rng.choice([rng.choice(NASTY), rng.randint(0, 9), 0.25, True, False, date(2026, 11, 25), "5 %",
                        "8 mph", "30 min", "100 lb", "no", "si", f"{WORKBOOK}#sites", "profit", "40000 USD",
                        "$5,000"])
    sheet = book["case"]
    sheet.append([key, written(value) if isinstance(value, str) else value])
    sheet.cell(sheet.max_row, 2).number_format = rng.choice([*FORMATS, "0%", "General", "General"])
    return ANY


def formula_with_value(rng: Random, content: bytes) -> bytes:
    """A cell whose number a formula has given: the same number."""
    def edit(text: str) -> str:
        found = re.findall(r'<c r="[A-Z]+[0-9]+" t="n"><v>', text)
        old = rng.choice(found) if found else "no such cell"
        return text.replace(old, old.replace("<v>", "<f>1+1</f><v>"), 1)

    return _part_edited(rng, content, edit)


def xml_edited(rng: Random, content: bytes) -> bytes:
    """A slip in the XML of a sheet, as another program may leave it."""
    def edit(text: str) -> str:
        at = text.find("<sheetData>") + 1 + rng.randrange(max(1, len(text) - 200))
        near = text[at:at + 30]
        return text[:at] + edited(rng, near) + text[at + 30:]

    return _part_edited(rng, content, edit)


def _part_edited(rng: Random, content: bytes, edit: Callable[[str], str]) -> bytes:
    after = BytesIO()
    with ZipFile(BytesIO(content)) as old, ZipFile(after, "w") as new:
        name = rng.choice(sorted(name for name in old.namelist() if "sheets/" in name))
        for info in old.infolist():
            part = old.read(info)
            new.writestr(ZipInfo(info.filename), edit(part.decode()) if info.filename == name else part)
    return after.getvalue()


def zip_bytes(rng: Random, content: bytes) -> bytes:
    """Bytes of the file flipped, gone, or the file cut short; or a zip that is not compressed, flipped."""
    if rng.random() < 0.5:
        stored = BytesIO()
        with ZipFile(BytesIO(content)) as old, ZipFile(stored, "w", ZIP_STORED) as new:
            for info in old.infolist():
                new.writestr(ZipInfo(info.filename), old.read(info))
        content = stored.getvalue()
    changed = bytearray(content)
    at = rng.randrange(len(changed))
    changed[at:at + rng.randint(0, 3)] = rng.randbytes(rng.randint(0, 2))
    return bytes(changed[:at] if rng.random() < 0.2 else changed)


Ways = Sequence[tuple[int, BookMutation]]
BOOK_MUTATIONS: Ways = (
    (12, cell_of_another_type), (8, cell_shown_otherwise), (4, id_shown_otherwise), (4, share_in_percent),
    (2, numbers_as_text), (2, hidden), (1, merged), (1, blank_rows),
    (2, sheet_changed), (4, heading_edited), (6, keys_changed))
BYTE_MUTATIONS: tuple[ByteMutation, ...] = (formula_with_value, zip_bytes)
"""What is done to a workbook, how often, and to its bytes."""


def saved(book: Workbook) -> bytes:
    """The bytes of a workbook, the same whenever it is saved."""
    first, again = BytesIO(), BytesIO()
    book.save(first)
    with ZipFile(first) as old, ZipFile(again, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name != "docProps/core.xml":  # it holds the time of saving
                new.writestr(ZipInfo(name), old.read(name), ZIP_DEFLATED)
    return again.getvalue()


BOOKS = tuple({WORKBOOK: saved(book_of(sheets))} for sheets in GRIDS)


def mutant_book(seed: int, number: int, ways: Ways = BOOK_MUTATIONS,
                byte_ways: Sequence[ByteMutation] = BYTE_MUTATIONS, byte_share: float = 0.2) -> Mutant:
    """One spoiled workbook, the same for the same seed and number; a share of them in bytes, not in cells."""
    rng = Random(f"{seed}/book {number}")
    name = f"{seed}/book {number}"
    base, sheets = rng.choice(list(zip(BOOKS, GRIDS, strict=True)))
    if rng.random() < byte_share:
        change = rng.choice(byte_ways)
        return Mutant(name, (change.__name__,), {WORKBOOK: change(rng, base[WORKBOOK])}, base,
                      change is formula_with_value)
    book = book_of(sheets)
    chosen = rng.choices([row[1] for row in ways], [row[0] for row in ways])[0]
    harmless = chosen(rng, book)
    return Mutant(name, (chosen.__name__,), {WORKBOOK: saved(book)}, base, harmless)

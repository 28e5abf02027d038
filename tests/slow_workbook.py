"""Sheets of a workbook by openpyxl, cell by cell, as the text a user would have typed into a text file."""

import re
import warnings
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from io import BytesIO
from typing import Any
from xml.etree.ElementTree import ParseError, fromstring
from zipfile import ZipFile

from openpyxl import load_workbook
from openpyxl.cell import Cell
from slow_reader import NoTable, heading_of

from optibuild.inputs import KEYS, Declaration

NOT_READABLE = "\0"
"""The text of a cell that shows no value of its own: no column takes it."""
Grid = list[list[Cell]]
TYPES = ("n", "s", "b", "e", "d", "f", "str", "inlineStr")


class CannotTell(Exception):
    """Sound XML that openpyxl does not open, or a cell of no known type: nothing is known of the cells."""


@lru_cache(maxsize=4)
def sheets_of(content: bytes) -> dict[str, Grid]:
    """Every sheet's cells from A1 on, by the sheet's name in small letters."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            book = load_workbook(BytesIO(content), data_only=True)
        except Exception as error:  # whatever openpyxl raises, it could not read the book
            kind = CannotTell if _is_xml(content) else NoTable
            raise kind(f"openpyxl cannot open it: {error!r}") from None
    return {sheet.title.strip().casefold(): [list(row) for row in sheet.iter_rows(min_row=1, min_col=1)]
            for sheet in reversed(book.worksheets)}


def _is_xml(content: bytes) -> bool:
    """Whether every part of a workbook is well-formed XML."""
    with ZipFile(BytesIO(content)) as book:
        try:
            for name in book.namelist():
                fromstring(book.read(name))
        except (ParseError, LookupError):
            return False
    return True


def text_rows(cells: Sequence[Sequence[Cell]], columns: Mapping[str, Declaration]) -> list[list[str]]:
    """The cells of a sheet as text; what a number means may hang on the column it stands under."""
    headings = [_plain(cell) for cell in cells[0]]
    declared = [columns.get(heading_of(heading)[0]) for heading in headings]
    rows = [[_text(cell, column) for cell, column in zip(row, declared, strict=True)] for row in cells[1:]]
    width = max((index + 1 for row in [headings, *rows] for index, text in enumerate(row) if text), default=0)
    return [row[:width] for row in [headings, *rows]]


def key_values(cells: Sequence[Sequence[Cell]]) -> dict[str, str]:
    """The keys of the sheet `case` with their values as text."""
    headings = [heading_of(_plain(cell))[0] for cell in cells[0]]
    key, value = headings.index("key"), headings.index("value")
    return {name: _text(row[value], KEYS.get(name)) for row in cells[1:]
            if (name := _plain(row[key]).strip()) and _plain(row[value]).strip()}


def _text(cell: Cell, column: Declaration | None) -> str:
    """A cell as text. Under an id a number must be shown with the digits it has."""
    kind = column.dimension if column else ""
    if isinstance(cell.value, int | float) and not isinstance(cell.value, bool):
        if kind == "share" and "%" in re.sub(r'"[^"]*"|\\.|\[[^\]]*\]', "", str(cell.number_format)):
            return f"{100 * Decimal(repr(cell.value)):f} %"
        if kind in ("id", "item_id") and not _shown_plainly(cell.value, str(cell.number_format)):
            return NOT_READABLE
    if isinstance(cell.value, date | datetime | time) and kind in ("text", "word", "yes_no"):
        return str(cell.value)
    return _plain(cell)


def _shown_plainly(number: float, shown: str) -> bool:
    """Whether a number format shows a number with the digits it has, and no others."""
    shown = re.sub(r"\[[^\]]*\]", "", shown.partition(";")[0])
    if shown in ("General", "@"):
        return True
    if number != int(number):
        return False
    padded = shown and not shown.strip("0") and len(str(abs(int(number)))) >= len(shown)
    return bool(padded) or (shown == "#,##0" and abs(number) < 1000)


def _plain(cell: Cell) -> str:
    """A cell as a spreadsheet shows it in the format General."""
    value: Any = cell.value
    if cell.data_type not in TYPES:
        raise CannotTell(f"no such type of cells: {cell.data_type}")
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, date | datetime | time | timedelta) or cell.data_type == "e":
        return NOT_READABLE
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)

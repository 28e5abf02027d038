"""Tables as the sheets of one workbook: numbers as numbers, the unit in the heading, nothing calculated."""

import re
from collections.abc import Mapping
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from optibuild.report.tables import Cell, Column, Table

NARROWEST, WIDEST = 9, 44
PROPERTIES = "docProps/core.xml"
_TIME = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def workbook_bytes(tables: Mapping[str, Table], case_book: Any = None) -> bytes:
    """The workbook, a sheet for each table by its name, before those of `case_book`, a workbook of openpyxl
    that `inputs` made and that takes them in.

    Text is text, whatever it looks like. No time of day is in it, so that the same tables are the same bytes.
    """
    from openpyxl import Workbook

    book = case_book or Workbook()
    if case_book is None:
        book.remove(book.active)
    for place, (name, table) in enumerate(tables.items()):
        _fill(book.create_sheet(name, place), table)
    book.active = 0
    for sheet in book:
        sheet.sheet_view.tabSelected = sheet is book.active  # what is typed goes into all that are selected
    content = BytesIO()
    book.save(content)
    return _timeless(content.getvalue())


def _timeless(made: bytes) -> bytes:
    """The workbook without the time of day."""
    content = BytesIO()
    with ZipFile(BytesIO(made)) as parts, ZipFile(content, "w") as book:
        for name in parts.namelist():
            data = parts.read(name)
            book.writestr(ZipInfo(name), _TIME.sub(b"2000-01-01T00:00:00Z", data) if name == PROPERTIES
                          else data, ZIP_DEFLATED)
    return content.getvalue()


def _fill(sheet: Any, table: Table) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for index, column in enumerate(table.columns, start=1):
        _write(sheet.cell(1, index), column.title, column)
        sheet.cell(1, index).font = Font(bold=True)
        longest = len(column.title)
        for number, row in enumerate(table.rows, start=2):
            value = row[index - 1]
            if value is not None:
                _write(sheet.cell(number, index), value, column)
                longest = max(longest, _length(value, column))
        sheet.column_dimensions[get_column_letter(index)].width = min(WIDEST, max(NARROWEST, 2 + longest))
    sheet.freeze_panes = "A2"


def _length(value: Cell, column: Column) -> int:
    return len(value) if isinstance(value, str) else len(f"{value:,.{column.decimals or 0}f}")


def _write(cell: Any, value: Cell, column: Column) -> None:
    """A number with its decimals, or text in place; what XML cannot hold becomes a question mark, what reads
    like an escape stays itself (ECMA-376, ST_Xstring)."""
    if isinstance(value, str):
        cell.value = _ESCAPE.sub("_x005F_", _NOT_IN_XML.sub("?", value)).replace("\r", "_x000D_")
        cell.data_type = "s"  # else what begins with = would be calculated
        cell.quotePrefix = True
        return
    cell.value = value
    cell.number_format = "#,##0" + ("." + "0" * column.decimals if column.decimals else "")

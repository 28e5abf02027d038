"""Tables as the sheets of one workbook: numbers as numbers, the unit in the heading, nothing calculated."""

import re
from collections.abc import Mapping
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from optibuild.report.tables import Column, Table

NARROWEST, WIDEST = 9, 44
PROPERTIES = "docProps/core.xml"
_TIME = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def workbook_bytes(tables: Mapping[str, Table]) -> bytes:
    """The workbook, a sheet for each table by its name. Text is text, whatever it looks like."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, table in tables.items():
        _fill(book.create_sheet(name), table)
    content = BytesIO()
    book.save(content)
    return _timeless(content.getvalue())


def _timeless(made: bytes) -> bytes:
    """The workbook without the time of day, so that the same bid has the same bytes."""
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
        texts = [column.title]
        for number, row in enumerate(table.rows, start=2):
            value = row[index - 1]
            if value is not None:
                _write(sheet.cell(number, index), value, column)
                texts.append(str(value) if isinstance(value, str) else f"{value:,.{column.decimals or 0}f}")
        sheet.column_dimensions[get_column_letter(index)].width = min(
            WIDEST, max(NARROWEST, 2 + max(map(len, texts))))
    sheet.freeze_panes = "A2"


def _write(cell: Any, value: str | float, column: Column) -> None:
    if isinstance(value, str):
        cell.value = "".join(mark if mark.isprintable() else "?" for mark in value)
        cell.data_type = "s"  # else what begins with = would be calculated
        cell.quotePrefix = True
        return
    cell.value = value
    cell.number_format = "#,##0" + ("." + "0" * column.decimals if column.decimals else "")

"""A case to one workbook: needed columns marked, words to choose from, ids kept as text."""

import re
from collections.abc import Sequence
from io import BytesIO
from typing import Any

from optibuild.errors import UsageError
from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.keys import FUEL, KEYS
from optibuild.inputs.reading.case_file import CASE_COLUMNS
from optibuild.inputs.writing.text_settings import Settings
from optibuild.inputs.writing.text_tables import NOTE, TextColumn, TextTable
from optibuild.neutral import kept

CASE_SHEET = "case"
TEXT_FORMAT = "@"
LAST_ROW = 10_000
"""How far down a column offers its words."""
NARROWEST, WIDEST = 9, 44
NEEDED_FILL = "FFE699"
NOT_IN_XML = frozenset("\ufffe\uffff")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_FUEL_PREFIX = FUEL.name.removesuffix("NAME")


def workbook_bytes(tables: Sequence[TextTable], settings: Settings) -> bytes:
    """The workbook as a file."""
    content = BytesIO()
    workbook(tables, settings).save(content)
    return content.getvalue()


def workbook(tables: Sequence[TextTable], settings: Settings) -> Any:
    """The workbook: sheet `case` with the keys, then a sheet for each table. No cell holds a formula;
    UsageError for characters that no workbook can hold."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    _case_sheet(book.create_sheet(CASE_SHEET), settings)
    for table in tables:
        sheet = book.create_sheet(table.name)
        for index, column in enumerate(table.columns, start=1):
            _write_column(sheet, index, column)
        sheet.freeze_panes = "A2"
    return book


def _case_sheet(sheet: Any, settings: Settings) -> None:
    """The keys in a table: key, value, and what it means in a column that is not read."""
    declared = [KEYS.get(key, FUEL if key.startswith(_FUEL_PREFIX) else NOTE) for key in settings]
    notes = ["" if row is NOTE else row.meaning for row in declared]
    values = [_number(repr(value)) if isinstance(value, float) else value for value in settings.values()]
    filled: tuple[Sequence[str | int | float], ...] = ([*settings], values, notes)
    for index, (column, cells) in enumerate(zip((*CASE_COLUMNS, NOTE), filled, strict=True), start=1):
        _write_heading(sheet, index, column, column.name)
        for row, cell in enumerate(cells, start=2):
            _write_cell(sheet.cell(row, index), cell)
        _set_width(sheet, index, [column.name, *map(str, cells)])
    for row, words in enumerate(map(_words, declared), start=2):
        _offer(sheet, words, f"B{row}")
    sheet.freeze_panes = "A2"


def _write_column(sheet: Any, index: int, column: TextColumn) -> None:
    heading = _write_heading(sheet, index, column.declared, column.heading)
    letter = heading.column_letter
    if not column.is_number:
        # rows to come are typed as text too: 007 stays 007
        sheet.column_dimensions[letter].number_format = TEXT_FORMAT
    for row, text in enumerate(column.cells, start=2):
        _write_cell(sheet.cell(row, index), _number(text) if column.is_number and text else text)
    _set_width(sheet, index, [column.heading, *column.cells])
    _offer(sheet, _words(column.declared), f"{letter}2:{letter}{LAST_ROW}")


def _write_heading(sheet: Any, index: int, declared: Declaration, heading: str) -> Any:
    """A bold heading with what the column holds as its comment; a needed one is colored."""
    from openpyxl.comments import Comment
    from openpyxl.styles import Font, PatternFill

    cell = sheet.cell(1, index)
    # the id of an event may look like an error or an escape
    cell.value, cell.data_type = _escaped(heading), "s"
    cell.font = Font(bold=True)
    cell.comment = Comment(_about(declared), "optibuild", height=110, width=300)
    if declared.needed:
        cell.fill = PatternFill("solid", fgColor=NEEDED_FILL)
    return cell


def _about(declared: Declaration) -> str:
    """What a column means, its words or the figures that are usual, and what a blank cell means."""
    words, blank = " or ".join(_words(declared)), declared.derived or declared.default or ""
    needed = f"Needed; {blank}." if blank else "Needed."
    lines = (f"{declared.meaning[0].upper()}{declared.meaning[1:]}.", f"One of: {words}." if words else "",
             f"Usually {' to '.join(declared.likely)}." if declared.likely else "",
             needed if declared.needed else f"A blank means: {blank}." if blank else "")
    return "\n".join(filter(None, lines))


def _words(declared: Declaration) -> tuple[str, ...]:
    return ("yes", "no") if declared.dimension == "yes_no" else declared.choices


def _offer(sheet: Any, words: tuple[str, ...], cells: str) -> None:
    """A drop-down list. Other words are warned about and not refused: reading knows more spellings."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if words:
        listed = f'"{",".join(words)}"'
        offered = DataValidation("list", formula1=listed, allow_blank=True, errorStyle="warning",
                                 showErrorMessage=True)
        offered.add(cells)
        sheet.add_data_validation(offered)


def _number(text: str) -> float | str:
    """A figure as a number, or as its text where a workbook, which keeps 16 digits, would change it."""
    number = float(text)
    return number if float(f"{number:.16g}") == number else text


def _write_cell(cell: Any, value: str | int | float) -> None:
    """A number, or a text that stays text: what begins with = is no formula, #N/A no error."""
    if value == "":
        return
    if isinstance(value, str):
        if NOT_IN_XML & set(value):
            raise UsageError(f"{ascii(value)} holds characters that no workbook can hold")
        cell.number_format = TEXT_FORMAT
        cell.value = _escaped(kept(value))
        cell.data_type = "s"
    else:
        cell.value = value


def _escaped(text: str) -> str:
    """Carriage returns, and what reads like an escape, as spreadsheets write them (ECMA-376, ST_Xstring)."""
    return _ESCAPE.sub("_x005F_", text).replace("\r", "_x000D_")


def _set_width(sheet: Any, index: int, texts: Sequence[str]) -> None:
    longest = max(len(line) for text in texts for line in text.splitlines() or [""])
    letter = sheet.cell(1, index).column_letter
    sheet.column_dimensions[letter].width = min(max(longest + 2, NARROWEST), WIDEST)

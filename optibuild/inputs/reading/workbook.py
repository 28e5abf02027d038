"""A workbook .xlsx to raw tables. Formulas are never worked out, links never followed, macros never run.

The values come from a compiled reader; what it does not tell (number formats, errors, formulas without a
value, merged and hidden cells) was seen when the parts were looked through before.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.files import SourceFile
from optibuild.inputs.reading.raw_table import Cell, RawTable, is_blank
from optibuild.inputs.reading.workbook_cells import error_cell, formula_cell, value_cell
from optibuild.inputs.reading.workbook_guard import Looked, look
from optibuild.inputs.reading.workbook_notes import note_hidden, note_merged
from optibuild.inputs.reading.workbook_parts import Refused
from optibuild.inputs.reading.workbook_sheet import Sheet

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook


@dataclass(frozen=True)
class SheetRows:
    """A sheet as read: its rows from row 1, what is special in it, whether it is hidden."""

    name: str
    rows: Sequence[list[Cell]]
    details: Sheet
    hidden: bool = False


@dataclass(frozen=True)
class Workbook:
    """A workbook's name and its sheets, of which those that are charts do not count."""

    name: str
    sheets: tuple[SheetRows, ...]

    @property
    def sheet_names(self) -> tuple[str, ...]:
        """The names of the sheets as typed."""
        return tuple(sheet.name for sheet in self.sheets)

    def place(self) -> Place:
        """The workbook as a place."""
        return Place(self.name)

    def find(self, wanted: str) -> str | None:
        """The sheet of a name, letter case and blanks around it aside; one that is the very same wins."""
        folded = {name.strip().casefold(): name for name in reversed(self.sheet_names)}
        return wanted if wanted in self.sheet_names else folded.get(wanted.strip().casefold())

    def unread(self, known: Iterable[str]) -> list[str]:
        """Sheets that hold something and are none of the known ones; notes do not count."""
        read = {self.find(name) for name in known}
        return [sheet.name for sheet in self.sheets
                if sheet.name not in read and not sheet.name.strip().casefold().startswith("note")
                and not all(is_blank(cell) for row in sheet.rows for cell in row)]

    def table(self, name: str, collector: Collector) -> RawTable | None:
        """The table of a sheet; None, with a problem noted, where its first row is blank.

        Merged cells of the table are a problem each; hidden rows, columns or a hidden sheet are a warning.
        """
        sheet = next(sheet for sheet in self.sheets if sheet.name == name)
        rows = tuple((number, cells) for number, cells in enumerate(sheet.rows, start=1)
                     if not all(map(is_blank, cells)))
        if not rows or rows[0][0] != 1:
            said = f"row 1 of '{name}' is blank" if rows else f"the sheet '{name}' is empty"
            collector.add("heading.missing", said, Place(self.name, name, 1),
                          expected="column names in row 1", hint="Delete what stands above the headings.")
            return None
        width = max(_width(cells) for _, cells in rows)
        headings = tuple(_heading(cell) for cell in [*rows[0][1], *[""] * width][:width])
        body = tuple((number, cells[:width]) for number, cells in rows[1:])
        table = RawTable(self.name, headings, body, name)
        note_merged(table, sheet.details, collector)
        note_hidden(table, sheet.details, sheet.hidden, collector)
        return table


def open_workbook(source: SourceFile, collector: Collector) -> Workbook | None:
    """The sheets of a workbook; None, with a problem noted, where it is damaged, unsafe or too large."""
    try:
        looked = look(source.content)
        return Workbook(source.name, tuple(_sheets(source.content, looked)))
    except Refused as refused:
        collector.add(refused.code, f"'{source.name}' is not read: {refused.text}", Place(source.name),
                      expected=refused.expected)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:
        # the library raises errors of its own on damaged parts, and its panics are not even an Exception
        collector.add("file.workbook", f"'{source.name}' is not read: a part of it is damaged "
                      f"({str(error)[:80] or type(error).__name__})", Place(source.name),
                      expected="an .xlsx workbook, as a spreadsheet saves it")
    return None


def _sheets(content: bytes, looked: Looked) -> Iterable[SheetRows]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

    with CalamineWorkbook.from_filelike(BytesIO(content)) as book:
        for sheet in book.sheets_metadata:
            if sheet.typ == SheetTypeEnum.WorkSheet:
                details = looked.sheet(sheet.name)
                rows = _rows(book, sheet.name, details, list(looked.styles.special.values()))
                yield SheetRows(sheet.name, rows, details, sheet.visible != SheetVisibleEnum.Visible)


def _rows(book: "CalamineWorkbook", name: str, details: Sheet, formats: Sequence[str]) -> list[list[Cell]]:
    values = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    rows = [[value if type(value) is str else value_cell(value) for value in row] for row in values]
    _show(rows, values, details, formats)
    for at, shown in details.errors.items():
        _put(rows, at, error_cell(shown))
    for at, formula in details.formulas.items():
        if _is_free(rows, at):
            _put(rows, at, formula_cell(formula))
    return rows


def _show(rows: list[list[Cell]], values: Sequence[Sequence[Any]], details: Sheet,
          formats: Sequence[str]) -> None:
    """Numbers in a special format once more, with what the format makes of them."""
    for column, marks in details.styles.items():
        for cells, typed, mark in zip(rows, values, marks, strict=False):
            if mark and column <= len(cells):
                cells[column - 1] = value_cell(typed[column - 1], formats[mark - 1])


def _is_free(rows: list[list[Cell]], at: tuple[int, int]) -> bool:
    row, column = at
    return row > len(rows) or column > len(rows[row - 1]) or not rows[row - 1][column - 1]


def _put(rows: list[list[Cell]], at: tuple[int, int], cell: Cell) -> None:
    row, column = at
    rows.extend([] for _ in range(row - len(rows)))
    cells = rows[row - 1]
    cells.extend([""] * (column - len(cells)))
    cells[column - 1] = cell


def _width(cells: Sequence[Cell]) -> int:
    return next((index for index in range(len(cells), 0, -1) if not is_blank(cells[index - 1])), 0)


def _heading(cell: Cell) -> str:
    return (cell if isinstance(cell, str) else cell.text).strip()

"""A workbook .xlsx to raw tables. Formulas are never worked out, links never followed, macros never run.

Two readers give the same table: a compiled one for sheets of plain values, and openpyxl, which knows formulas,
errors, number formats, merged and hidden cells, for books that have any of these.
"""

import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from optibuild.errors import Place
from optibuild.inputs.files import SourceFile
from optibuild.inputs.problems import Collector
from optibuild.inputs.raw_table import Cell, RawTable, column_letters, is_blank
from optibuild.inputs.workbook_cells import error_cell, formula_cell, plain_cell, value_cell
from optibuild.inputs.workbook_guard import Refused, look


@dataclass(frozen=True)
class Sheet:
    """A sheet as read: its rows from row 1, ranges of merged cells, what is hidden in it or of it."""

    name: str
    rows: Sequence[Sequence[Cell]]
    merged: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()


@dataclass(frozen=True)
class Workbook:
    """A workbook's name and its sheets."""

    name: str
    sheets: tuple[Sheet, ...]

    @property
    def sheet_names(self) -> tuple[str, ...]:
        """The names of the sheets as typed."""
        return tuple(sheet.name for sheet in self.sheets)

    def place(self) -> Place:
        """The workbook as a place."""
        return Place(self.name)

    def find(self, wanted: str) -> str | None:
        """The sheet of a name, letter case and blanks around it aside."""
        folded = {name.strip().casefold(): name for name in reversed(self.sheet_names)}
        return wanted if wanted in self.sheet_names else folded.get(wanted.strip().casefold())

    def unread(self, known: Iterable[str]) -> list[str]:
        """Sheets that hold something and are none of the known ones; notes do not count."""
        read = {self.find(name) for name in known}
        return [sheet.name for sheet in self.sheets
                if sheet.name not in read and not sheet.name.strip().casefold().startswith("note")
                and any(not is_blank(cell) for row in sheet.rows for cell in row)]

    def table(self, name: str, collector: Collector) -> RawTable | None:
        """The table of a sheet; None, with a problem noted, where its first row is blank."""
        sheet = next(sheet for sheet in self.sheets if sheet.name == name)
        rows = [(number, list(cells)) for number, cells in enumerate(sheet.rows, start=1)
                if not all(map(is_blank, cells))]
        if not rows or rows[0][0] != 1:
            place = Place(self.name, name, 1)
            collector.add("heading.missing", "the first row is blank", place, expected="column names in row 1")
            return None
        width = _width([cells for _, cells in rows])
        headings = tuple(_heading(cell) for cell in rows[0][1][:width])
        table = RawTable(self.name, headings, tuple((number, cells[:width]) for number, cells in rows[1:]), name)
        _note(table, sheet, collector)
        return table


def open_workbook(source: SourceFile, collector: Collector) -> Workbook | None:
    """The sheets of a workbook; None, with a problem noted, where it is damaged, unsafe or too large."""
    try:
        looked = look(source.content)
        sheets = _careful(source.content) if looked.careful else _fast(source.content)
    except Refused as refused:
        collector.add(refused.code, f"'{source.name}' cannot be read: {refused.text}", Place(source.name),
                      expected=refused.expected)
        return None
    except Exception as error:
        # the libraries raise anything from KeyError to AttributeError on a damaged part
        collector.add("file.workbook", f"'{source.name}' cannot be read: a part of it is damaged "
                      f"({type(error).__name__})", Place(source.name), expected="a workbook with tables")
        return None
    return Workbook(source.name, sheets)


def _fast(content: bytes) -> tuple[Sheet, ...]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

    book = CalamineWorkbook.from_filelike(BytesIO(content))
    return tuple(
        Sheet(meta.name, [[plain_cell(value) for value in row]
                          for row in book.get_sheet_by_name(meta.name).to_python(skip_empty_area=False)],
              hidden=() if meta.visible == SheetVisibleEnum.Visible else ("the sheet",))
        for meta in book.sheets_metadata if meta.typ == SheetTypeEnum.WorkSheet)


def _careful(content: bytes) -> tuple[Sheet, ...]:
    values, formulas = _loaded(content, values=True), _loaded(content, values=False)
    return tuple(_careful_sheet(sheet, formulas[sheet.title]) for sheet in values.worksheets)


def _loaded(content: bytes, values: bool) -> Any:
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        # what openpyxl cannot keep (pictures, drop-down lists) is not read here either
        warnings.simplefilter("ignore")
        return load_workbook(BytesIO(content), data_only=values, keep_links=False)


def _careful_sheet(sheet: Any, formulas: Any) -> Sheet:
    rows = [[_careful_cell(cell, typed) for cell, typed in zip(row, typed_row, strict=True)]
            for row, typed_row in zip(sheet.iter_rows(), formulas.iter_rows(), strict=True)]
    return Sheet(sheet.title, rows, tuple(sorted(str(found) for found in sheet.merged_cells.ranges)),
                 tuple(_hidden(sheet)))


def _careful_cell(cell: Any, typed: Any) -> Cell:
    if cell.value is None and typed.data_type == "f":
        return formula_cell(str(getattr(typed.value, "text", typed.value)))
    if cell.data_type == "e":
        return error_cell(str(cell.value))
    return value_cell(cell.value, cell.number_format)


def _hidden(sheet: Any) -> Iterable[str]:
    if sheet.sheet_state != "visible":
        yield "the sheet"
    rows = sorted(number for number, row in sheet.row_dimensions.items() if row.hidden)
    if rows:
        yield f"rows {_spans(rows)}" if len(rows) > 1 else f"row {rows[0]}"
    columns = sorted({n for column in sheet.column_dimensions.values() if column.hidden
                      for n in range(column.min or 1, min(column.max or 1, sheet.max_column) + 1)})
    if columns:
        letters = ", ".join(column_letters(number - 1) for number in columns[:20])
        yield f"column{'s' if len(columns) > 1 else ''} {letters}"


def _spans(numbers: list[int]) -> str:
    """2, 3, 4, 9 as '2 to 4, 9'; at most ten spans."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    told = [f"{first} to {last}" if last > first else f"{first}" for first, last in spans]
    return ", ".join(told[:10]) + (", ..." if len(told) > 10 else "")


def _width(rows: Sequence[Sequence[Cell]]) -> int:
    """How many columns are left without the blank ones on the right; every row of a sheet is as long."""
    width = len(rows[0])
    while width and all(is_blank(row[width - 1]) for row in rows):
        width -= 1
    return width


def _heading(cell: Cell) -> str:
    return (cell if isinstance(cell, str) else cell.text).strip()


def _note(table: RawTable, sheet: Sheet, collector: Collector) -> None:
    """Merged cells are a problem, hidden ones a warning: what they hold is read like the rest."""
    for merged in sheet.merged:
        collector.add("sheet.merged", f"the cells {merged} are merged", Place(table.file, sheet.name, cell=merged),
                      expected="one value in every cell")
    for hidden in sheet.hidden:
        collector.add("sheet.hidden", f"{hidden} of '{sheet.name}' is hidden, and is read all the same"
                      if hidden.startswith(("the", "row ", "column ")) else
                      f"{hidden} of '{sheet.name}' are hidden, and are read all the same",
                      Place(table.file, sheet.name))

"""CSV text to rows of cells with the row numbers a spreadsheet shows."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import replace
from io import StringIO

from optibuild.errors import Place
from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.headings import split_heading
from optibuild.inputs.reading.raw_table import Cell, RawTable

SEPARATORS = ",;\t"
NAMES = {",": "commas", ";": "semicolons", "\t": "tabs"}
MOST_ROWS = 1_048_576
MOST_CELLS = 1000
"""The rows of a spreadsheet, and more columns than any table here has: beyond them reading stops."""
LONGEST_LINE = 1_000_000
MOST_LINES = 1000
"""Characters of a line and lines of a row: what keeps a row small in memory before its cells are counted."""


class _TooLarge(Exception):
    """A row that no table of a case has."""


def read_rows(name: str, text: str, columns: Sequence[Declaration], collector: Collector) -> RawTable | None:
    """Headings and rows of a CSV text; None, with a problem noted, where it is no such table.

    Cells stand between commas, semicolons or tabs: the mark that finds the most declared columns in the first
    row. A row with more cells than the heading is noted and left out: which cell is too many cannot be known.
    """
    separator = _separator(text[:LONGEST_LINE], columns)
    records = _records(name, text, separator, collector)
    if records is None:
        return None
    headings = tuple(cell.strip() for cell in records[0]) if records else ()
    if not any(headings):
        collector.add("file.csv", f"'{name}' has no heading in its first row", Place(name, row=1),
                      expected="column names in row 1", hint="Delete what stands above the headings.")
        return None
    table = RawTable(name, headings, (), separator=separator)
    return replace(table, rows=_body(table, records, collector))


def _separator(head: str, columns: Sequence[Declaration]) -> str:
    names = {declared.name for declared in columns}

    def known(mark: str) -> int:
        return sum(split_heading(cell)[0] in names for cell in _first_row(head, mark))

    return max(SEPARATORS, key=known)


def _first_row(head: str, mark: str) -> list[str]:
    try:
        return next(csv.reader(StringIO(head, newline=""), delimiter=mark), [])
    except csv.Error:
        return []


def _records(name: str, text: str, separator: str, collector: Collector) -> list[list[str]] | None:
    records: list[list[str]] = []
    try:
        lines = _Lines(text)
        for cells in csv.reader(lines, delimiter=separator, strict=True):
            lines.in_row = 0
            if len(cells) > MOST_CELLS:
                raise _TooLarge(f"more than {MOST_CELLS:,} cells")
            if len(records) == MOST_ROWS:
                raise _TooLarge(f"more than {MOST_ROWS:,} rows")
            records.append(cells)
    except _TooLarge as error:
        collector.add("file.large", f"'{name}' has {error}", Place(name, row=len(records) + 1),
                      expected="a table that a spreadsheet can show")
        return None
    except csv.Error as error:
        place = Place(name, row=len(records) + 1)
        collector.add("file.csv", f"'{name}' cannot be read as CSV: {error}", place,
                      expected=f"cells between {NAMES[separator]}, quotes closed")
        return None
    return records


class _Lines:
    """The lines of a text, for the csv module; stops a row before it fills the memory."""

    def __init__(self, text: str) -> None:
        self.lines = iter(StringIO(text, newline=""))
        self.in_row = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = next(self.lines)
        self.in_row += 1
        if len(line) > LONGEST_LINE:
            raise _TooLarge(f"a line of more than {LONGEST_LINE:,} characters")
        if self.in_row > MOST_LINES:
            raise _TooLarge(f"a row of more than {MOST_LINES:,} lines")
        return line


def _body(table: RawTable, records: list[list[str]],
          collector: Collector) -> tuple[tuple[int, list[Cell]], ...]:
    rows: list[tuple[int, list[Cell]]] = []
    short: list[int] = []
    width = len(table.headings)
    for number, cells in enumerate(records[1:], start=2):
        if len(cells) > width:
            collector.add("row.long", f"{len(cells)} cells under {width} headings", table.place(number),
                          value=cells[width], expected=f"at most {width} cells")
        elif any(cells) and not "".join(cells).isspace():
            rows.append((number, [*cells]))
            if len(cells) < width:
                short.append(number)
    if short:
        others = f", and so have {len(short) - 1} more" if len(short) > 1 else ""
        collector.add("row.short", f"fewer cells than the heading has{others}; the rest is read as blank",
                      table.place(short[0]), expected=f"{width} cells, as in the heading")
    return tuple(rows)

"""What is said of a sheet's merged and hidden cells."""

import re
from collections.abc import Sequence

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.raw_table import RawTable, column_letters, is_blank
from optibuild.inputs.reading.workbook_sheet import Sheet, column_number

_RANGE = re.compile(r"\$?([A-Za-z]+)\$?([0-9]+)")
_MOST_NAMED = 10


def note_merged(table: RawTable, details: Sheet, collector: Collector) -> None:
    """Every range of merged cells that reaches into the table: only its first cell has a value."""
    last = max((number for number, _ in table.rows), default=1)
    for merged in details.merged:
        corner = _RANGE.match(merged)
        if corner and int(corner.group(2)) <= last and column_number(corner.group(1)) <= len(table.headings):
            collector.add("sheet.merged", f"the cells {merged} are merged",
                          Place(table.file, table.sheet, cell=merged),
                          expected="a value of its own in every cell")


def note_hidden(table: RawTable, details: Sheet, hidden: bool, collector: Collector) -> None:
    """A warning for the sheet, for its rows and for its columns that are hidden and hold something."""
    filled = {number for number, _ in table.rows}
    rows = sorted(filled.intersection(details.hidden_rows))
    columns = sorted({number for first, last in details.hidden_columns
                      for number in range(first, min(last, len(table.headings)) + 1)
                      if _holds(table, number)})
    place = Place(table.file, table.sheet)
    if hidden:
        collector.add("sheet.hidden", f"the sheet '{table.sheet}' is hidden", place)
    if rows:
        collector.add("sheet.hidden", f"hidden: row{'s' * (len(rows) > 1)} {_spans(rows)}", place)
    if columns:
        told = _spans(columns, letters=True)
        collector.add("sheet.hidden", f"hidden: column{'s' * (len(columns) > 1)} {told}", place)


def _holds(table: RawTable, column: int) -> bool:
    return bool(table.headings[column - 1]) or any(
        column <= len(cells) and not is_blank(cells[column - 1]) for _, cells in table.rows)


def _spans(numbers: Sequence[int], letters: bool = False) -> str:
    """2, 3, 4, 9 as '2-4, 9', or as the letters of columns; at most ten spans."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    told = ["-".join(column_letters(end - 1) if letters else str(end) for end in sorted(set(span)))
            for span in spans]
    return ", ".join(told[:_MOST_NAMED]) + (", ..." if len(told) > _MOST_NAMED else "")

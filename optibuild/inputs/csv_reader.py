"""CSV text to rows of cells with the row numbers a spreadsheet shows."""

import csv
import io
from dataclasses import dataclass

from optibuild.errors import Place
from optibuild.inputs.files import SourceFile
from optibuild.inputs.problems import Collector


@dataclass(frozen=True)
class RawTable:
    """A table as text: its file, the headings, and the rows that are not blank."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, list[str]], ...]


def read_rows(source: SourceFile, collector: Collector) -> RawTable | None:
    """Headings and rows of a CSV file; None, with a problem noted, where it is no such file.

    A row with more cells than the heading is noted and left out: which cell is too many cannot be known.
    """
    records = _records(source, collector)
    if records is None:
        return None
    headings = tuple(cell.strip() for cell in records[0]) if records else ()
    if not any(headings):
        collector.add("file.csv", f"'{source.name}' has no heading in its first row",
                      Place(source.name, row=1), expected="column names in row 1")
        return None
    if len(headings) == 1 and any(mark in headings[0] for mark in ";\t"):
        collector.add("file.csv", f"'{source.name}' is separated by semicolons or tabs",
                      Place(source.name, row=1), expected="commas between the cells")
        return None
    return RawTable(source.name, headings, _body(source.name, headings, records, collector))


def _records(source: SourceFile, collector: Collector) -> list[list[str]] | None:
    records: list[list[str]] = []
    try:
        records.extend(csv.reader(io.StringIO(source.text, newline=""), strict=True))
    except csv.Error as error:
        collector.add("file.csv", f"'{source.name}' cannot be read as CSV: {error}",
                      Place(source.name, row=len(records) + 1),
                      expected="cells between commas, quotes closed")
        return None
    return records


def _body(file: str, headings: tuple[str, ...], records: list[list[str]],
          collector: Collector) -> tuple[tuple[int, list[str]], ...]:
    rows = []
    for number, cells in enumerate(records[1:], start=2):
        if len(cells) > len(headings):
            collector.add("row.long", f"{len(cells)} cells under {len(headings)} headings",
                          Place(file, row=number), value=cells[len(headings)],
                          expected=f"at most {len(headings)} cells")
        elif any(cell and not cell.isspace() for cell in cells):
            rows.append((number, cells))
    return tuple(rows)

"""Rows of text to rows of values in inner units, column by column."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from optibuild.errors import Place
from optibuild.inputs.declared.declaration import Declaration, blank_value, expected_words
from optibuild.inputs.declared.problems import Collector, Fault
from optibuild.inputs.reading.cells import cell_reader
from optibuild.inputs.reading.decimals import Decimals, decimals
from optibuild.inputs.reading.headings import Heading, match_headings
from optibuild.inputs.reading.raw_table import NO_NUMBER, Cell, RawTable, cell_text


@dataclass
class Row:
    """One row: its number and the values that could be read, by record field. Unreadable ones are absent."""

    number: int
    values: dict[str, Any]


@dataclass(frozen=True)
class Table:
    """A table as read: where from, the columns by record field, the rows, what the columns were to be."""

    raw: RawTable
    columns: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    rows: tuple[Row, ...] = ()
    declared: tuple[Declaration, ...] = ()

    def place(self, row: Row | None = None, field_name: str = "") -> Place:
        """Where a value of a row stands, or the table; a column that is not there is named by its name."""
        column, index = self.columns.get(field_name, (field_name, None))
        return self.raw.place(row.number if row else 0, index, column)

    def ids(self) -> list[str]:
        """The ids that could be read."""
        return [row.values["id"] for row in self.rows if "id" in row.values]

    @property
    def ids_known(self) -> bool:
        """Whether every row has a readable id, so that an id that is not among them is wrong."""
        return all("id" in row.values for row in self.rows)


def read_table(raw: RawTable, columns: Sequence[Declaration], collector: Collector) -> Table:
    """Every cell read, every problem noted, absent and blank cells filled with the declared defaults."""
    found = match_headings(raw, columns, collector)
    names: dict[str, tuple[str, int | None]] = {declared.field: (declared.name, None) for declared in columns}
    names |= {heading.declared.field: (heading.typed, heading.index) for heading in found}
    marks = _decimals(raw, found, collector)
    present = {heading.declared.name: heading for heading in found}
    values: dict[str, Sequence[Any]] = {}
    for declared in columns:
        heading = present.get(declared.name)
        if heading is None:
            values |= _absent(raw, declared, collector)
        elif heading.usable:
            values[declared.field] = _column(raw, heading, marks, collector)
    return Table(raw, names, _rows(raw, values), tuple(columns))


def _rows(raw: RawTable, values: Mapping[str, Sequence[Any]]) -> tuple[Row, ...]:
    if not values:
        return tuple(Row(number, {}) for number, _ in raw.rows)
    faulty = {name for name, column in values.items() if Fault in map(type, column)}
    rows = [Row(number, dict(zip(values, row, strict=True)))
            for (number, _), row in zip(raw.rows, zip(*values.values(), strict=True), strict=True)]
    for row in rows if faulty else ():
        for name in faulty:
            if isinstance(row.values[name], Fault):
                del row.values[name]
    return tuple(rows)


def _decimals(raw: RawTable, found: Sequence[Heading], collector: Collector) -> Decimals | None:
    """How a text file writes its decimals; None where commas stand between the cells, or it is no text."""
    if raw.separator == ",":
        return None
    indices = [heading.index for heading in found if heading.declared.dimension not in NO_NUMBER]
    cells = (cells[index] for _, cells in raw.rows for index in indices if index < len(cells))
    marks = decimals(cell.strip() for cell in cells if isinstance(cell, str))
    if marks.said():
        collector.add("file.decimals", marks.said(), raw.place(), expected="a decimal point")
    return marks


def _absent(raw: RawTable, declared: Declaration, collector: Collector) -> dict[str, Sequence[Any]]:
    """The column of a heading that is not there: the default in every row, or a problem."""
    if declared.needed:
        collector.add("heading.missing", f"the column '{declared.name}' is not there",
                      raw.place(1, column=declared.name), expected=declared.meaning)
        return {}
    return {declared.field: [blank_value(declared)] * len(raw.rows)}


def _column(raw: RawTable, heading: Heading, marks: Decimals | None, collector: Collector) -> list[Any]:
    """The values of a column, a Fault where a cell cannot be read."""
    index = heading.index
    cells = [cells[index] if index < len(cells) else "" for _, cells in raw.rows]
    read = _reader(heading, marks)
    values = {cell: _value_or_fault(cell, read) for cell in set(cells)}  # the same cell is read once
    faults = {cell: value for cell, value in values.items() if isinstance(value, Fault)}
    for (number, _), cell in zip(raw.rows, cells, strict=True) if faults else ():
        if cell in faults:
            text = cell if isinstance(cell, str) else cell.text
            collector.add_fault(faults[cell], raw.place(number, index), text.strip())
    return [values[cell] for cell in cells]


def _blank(declared: Declaration, expected: str) -> Any:
    """What a blank cell of a column holds, or the fault it is."""
    if not declared.needed or declared.derived:
        return blank_value(declared)
    return Fault("value.missing", f"'{declared.name}' is blank", expected)


def _reader(heading: Heading, marks: Decimals | None) -> Callable[[Cell], Any]:
    """A function from a cell to its value; it raises Fault."""
    declared = heading.declared
    read = cell_reader(declared, heading.dimension, heading.unit, heading.converts)
    expected = expected_words(declared, heading.unit, heading.converts, heading.dimension)
    blank = _blank(declared, expected)
    marked = marks is not None and declared.dimension not in NO_NUMBER

    def value(cell: Cell) -> Any:
        text = cell_text(cell, declared)
        if not text:
            return blank
        return read(marks.plain(text, expected) if marks and marked else text)

    return value


def _value_or_fault(cell: Cell, read: Callable[[Cell], Any]) -> Any:
    try:
        return read(cell)
    except Fault as fault:
        return fault

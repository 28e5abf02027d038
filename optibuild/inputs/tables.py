"""Rows of text to rows of values in inner units, column by column."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from optibuild.errors import Place, UnitError
from optibuild.inputs.cells import cell_reader, unit_of
from optibuild.inputs.csv_reader import RawTable
from optibuild.inputs.declaration import Declaration, blank_value, expected_words
from optibuild.inputs.problems import Collector, Fault, did_you_mean
from optibuild.units import Conversion, conversion

_HEADING = re.compile(r"([^\[\]]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?")


@dataclass
class Row:
    """One row: its number and the values that could be read, by record field. Unreadable ones are absent."""

    number: int
    values: dict[str, Any]


@dataclass(frozen=True)
class Table:
    """A table as read: where from, the headings as typed by record field, the rows."""

    file: str
    headings: dict[str, str] = field(default_factory=dict)
    rows: tuple[Row, ...] = ()

    def place(self, row: Row, field_name: str) -> Place:
        """Where a value of a row stands; a column that is not there is named by its field."""
        return Place(self.file, row=row.number, column=self.headings.get(field_name, field_name))

    def ids(self) -> list[str]:
        """The ids that could be read."""
        return [row.values["id"] for row in self.rows if "id" in row.values]

    @property
    def ids_known(self) -> bool:
        """Whether every row has a readable id, so that an id that is not among them is wrong."""
        return all("id" in row.values for row in self.rows)


@dataclass(frozen=True)
class _Heading:
    """A heading matched to its declaration, with what its unit says; `converts` None = unusable unit."""

    declared: Declaration
    typed: str
    index: int
    dimension: str = ""
    unit: str = ""
    converts: Conversion | None = None
    usable: bool = True


def read_table(raw: RawTable, columns: Sequence[Declaration], collector: Collector) -> Table:
    """Every cell read, every problem noted, absent and blank cells filled with the declared defaults."""
    found = _match_headings(raw, columns, collector)
    table = Table(raw.file, {declared.field: declared.name for declared in columns} | {
        heading.declared.field: heading.typed for heading in found}, tuple(Row(n, {}) for n, _ in raw.rows))
    present = {heading.declared.name: heading for heading in found}
    for declared in columns:
        heading = present.get(declared.name)
        if heading is None:
            _fill_absent(table, declared, collector)
        elif heading.usable:
            _read_column(table, raw, heading, collector)
    return table


def empty_table(file: str) -> Table:
    """An optional table that is not there."""
    return Table(file)


def _match_headings(raw: RawTable, columns: Sequence[Declaration], collector: Collector) -> list[_Heading]:
    by_name = {declared.name: declared for declared in columns}
    found: dict[str, _Heading] = {}
    for index, typed in enumerate(raw.headings):
        name, unit = _split_heading(typed)
        place = Place(raw.file, row=1, column=typed)
        if name.startswith("note") or (not typed and _blank_column(raw, index)):
            continue
        if name not in by_name:
            collector.add("heading.unknown", f"'{typed}' is no column of this table", place, value=typed,
                          expected=", ".join(by_name), hint=did_you_mean(name, by_name))
        elif name in found:
            collector.add("heading.twice", f"'{name}' is there twice", place, value=typed)
        else:
            found[name] = _with_unit(_Heading(by_name[name], typed, index), unit, place, collector)
    return list(found.values())


def _split_heading(typed: str) -> tuple[str, str | None]:
    match = _HEADING.fullmatch(typed)
    if not match:
        return typed, None
    return re.sub(r"\s+", "_", match.group(1).casefold()), match.group(2)


def _blank_column(raw: RawTable, index: int) -> bool:
    return not any(cells[index].strip() for _, cells in raw.rows if index < len(cells))


def _with_unit(heading: _Heading, unit: str | None, place: Place, collector: Collector) -> _Heading:
    declared = heading.declared
    if not declared.takes_unit:
        if unit is not None:
            collector.add("unit.unwanted", f"'{declared.name}' takes no unit", place, value=unit,
                          expected=f"the heading '{declared.name}'")
        return heading
    dimension = _dimension(declared, unit or "")
    try:
        converts = unit_of(unit or "", dimension, declared.name, f"'{declared.name} [unit]'")
    except Fault as fault:
        collector.add_fault(fault, place, heading.typed)
        return _Heading(declared, heading.typed, heading.index, usable=False)
    return _Heading(declared, heading.typed, heading.index, dimension, unit or "", converts)


def _dimension(declared: Declaration, unit: str) -> str:
    if not declared.or_dimension:
        return declared.dimension
    try:
        conversion(unit, declared.or_dimension)
    except UnitError:
        return declared.dimension
    return declared.or_dimension


def _fill_absent(table: Table, declared: Declaration, collector: Collector) -> None:
    if declared.needed:
        collector.add("heading.missing", f"the column '{declared.name}' is not there",
                      Place(table.file, row=1, column=declared.name), expected=declared.meaning)
        return
    name, value = declared.field, blank_value(declared)
    for row in table.rows:
        row.values[name] = value


def _read_column(table: Table, raw: RawTable, heading: _Heading, collector: Collector) -> None:
    declared, index, name = heading.declared, heading.index, heading.declared.field
    read = cell_reader(declared, heading.dimension, heading.unit, heading.converts)
    blank_allowed = not declared.needed or bool(declared.derived)
    blank = blank_value(declared)
    expected = expected_words(declared, heading.unit, heading.converts, heading.dimension)
    seen: dict[str, Any] = {}  # the same text many times over is read once
    for row, (_, cells) in zip(table.rows, raw.rows, strict=True):
        text = cells[index].strip() if index < len(cells) else ""
        if text in seen:
            row.values[name] = seen[text]
        elif text:
            _read_cell(row, name, text, read, table, collector)
            if name in row.values:
                seen[text] = row.values[name]
        elif blank_allowed:
            row.values[name] = blank
        else:
            collector.add("value.missing", f"'{declared.name}' is blank", table.place(row, name), value="",
                          expected=expected)


def _read_cell(row: Row, name: str, text: str, read: Callable[[str], Any], table: Table,
               collector: Collector) -> None:
    try:
        row.values[name] = read(text)
    except Fault as fault:
        collector.add_fault(fault, table.place(row, name), text)

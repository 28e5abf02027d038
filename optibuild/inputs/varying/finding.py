"""The columns of a table that a change names, and the rows that its `where` finds."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from math import isclose
from typing import Any

from optibuild.inputs.declared.declaration import Declaration, blank_value
from optibuild.inputs.declared.problems import Collector, Fault, did_you_mean
from optibuild.inputs.reading.cells import cell_reader
from optibuild.inputs.reading.headings import Heading, is_note, match_headings, split_heading
from optibuild.inputs.reading.raw_table import NO_NUMBER, Cell, RawTable, cell_text
from optibuild.inputs.varying.amounts import dimension_of, expected_of, typed_text

ANY = "*"
ABSENT = -1
"""The index of a column that the table does not have: its cells are blank."""
Where = tuple[tuple[str, tuple[Any, ...]], ...]


def declared_column(typed: str, table: str, columns: Sequence[Declaration]) -> Declaration:
    """The column of a name as typed, its unit or not; Fault where there is none."""
    name = split_heading(typed)[0]
    for declared in columns:
        if declared.name in (name, typed):
            return declared
    names = [declared.name for declared in columns]
    raise Fault("variation.unknown", f"the table '{table}' has no column '{typed}'", ", ".join(names),
                did_you_mean(name, names))


def heading_of(raw: RawTable, declared: Declaration, columns: Sequence[Declaration],
               unit: str = "") -> Heading:
    """The column in a table; one that is not there has the index ABSENT and the unit given."""
    for heading in _headings(raw.headings, tuple(columns)):
        if heading.declared is declared:
            return heading
    typed = f"{declared.name} [{unit or declared.usual}]" if declared.takes_unit else declared.name
    return replace(_headings((typed,), (declared,))[0], index=ABSENT)


@lru_cache(maxsize=1000)
def _headings(headings: tuple[str, ...], columns: tuple[Declaration, ...]) -> tuple[Heading, ...]:
    return tuple(match_headings(RawTable("", headings, ()), columns, Collector()))


def cell_of(cells: Sequence[Cell], index: int) -> Cell:
    """A cell of a row; one beyond its end is blank."""
    return cells[index] if 0 <= index < len(cells) else ""


def found_rows(raw: RawTable, table: str, columns: Sequence[Declaration], where: Where) -> list[int]:
    """The positions of the rows that have one of the values in every column; Fault for what is no value."""
    rows = [*range(len(raw.rows))]
    for typed, values in where:
        heading = _where_heading(raw, table, typed, columns)
        if not heading.usable:
            return []
        there = [_text(cell_of(cells, heading.index), heading) for _, cells in raw.rows]
        tests = [_test(value, heading, there) for value in values]
        rows = [row for row in rows if any(test(there[row]) for test in tests)]
    return rows


def said_values(raw: RawTable, typed: str, columns: Sequence[Declaration]) -> list[str]:
    """What stands in a column, for a hint."""
    heading = _where_heading(raw, "", typed, columns)
    return [text for text in dict.fromkeys(_text(cell_of(cells, heading.index), heading)
                                           for _, cells in raw.rows) if text]


def _where_heading(raw: RawTable, table: str, typed: str, columns: Sequence[Declaration]) -> Heading:
    """A column to look in: one of the table's, or one of the user's own notes."""
    name = split_heading(typed)[0]
    for index, heading in enumerate(raw.headings):
        if is_note(name) and split_heading(heading)[0] == name:
            return Heading(Declaration(name, "", "text"), heading, index)
    return heading_of(raw, declared_column(typed, table, columns), columns)


def _text(cell: Cell, heading: Heading) -> str:
    try:
        return cell_text(cell, heading.declared)
    except Fault:
        return ""


def _test(value: Any, heading: Heading, there: Sequence[str]) -> Callable[[str], bool]:
    """Whether the text of a cell is a value: as text, by a pattern with *, or by what both mean."""
    declared = heading.declared
    if isinstance(value, str) and not value.strip():
        return lambda text: not text
    if isinstance(value, str) and ANY in value and value.strip() not in there:
        if value.strip() != ANY and declared.dimension not in NO_NUMBER:
            raise Fault("value.number", f"'{value}': a pattern finds text, not numbers", expected_of(heading))
        pattern = re.compile(".*".join(map(re.escape, value.strip().split(ANY))), re.DOTALL)
        return lambda text: bool(text) and pattern.fullmatch(text) is not None
    wanted = typed_text(value, heading)
    if declared.dimension in ("id", "item_id", "text"):
        return lambda text: text == wanted
    read = cell_reader(declared, dimension_of(heading), heading.unit, heading.converts)
    meant, blank = read(wanted), blank_value(declared)
    return lambda text: _same(_read(text, read) if text else blank, meant)


def _read(text: str, read: Callable[[str], Any]) -> Any:
    try:
        return read(text)
    except Fault:
        return None


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, tuple) and isinstance(other, tuple):
        return one[0] == other[0] and _same(one[1], other[1])
    if isinstance(one, float | int) and isinstance(other, float | int):
        return isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
    return bool(one == other)

"""Rows and cells of a table as text, changed: set, added to, scaled, dropped, copied."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Collector, Fault, did_you_mean
from optibuild.inputs.reading.decimals import decimals
from optibuild.inputs.reading.headings import Heading, match_headings
from optibuild.inputs.reading.raw_table import NO_NUMBER, Cell, RawTable
from optibuild.inputs.varying.amounts import (
    old_number,
    product_text,
    said,
    sum_text,
    typed_text,
    unit_for,
)
from optibuild.inputs.varying.finding import (
    ABSENT,
    cell_of,
    declared_column,
    found_rows,
    heading_of,
    said_values,
)
from optibuild.inputs.varying.forms import Cells, Change

MOST_SAID = 3
"""Cells that are told one by one in the words for a change; the others are counted."""


@dataclass(frozen=True)
class Edited:
    """A table after a change: what changed in plain words, the numbers of its rows that did, and the ids of
    copied rows with those of their copies."""

    raw: RawTable
    said: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    copies: tuple[tuple[str, str], ...] = ()


def edited(raw: RawTable, change: Change, columns: Sequence[Declaration]) -> Edited:
    """A table after a change; Fault where the change cannot be made."""
    raw = _plain(raw, columns)
    found = found_rows(raw, change.table, columns, change.where)
    if not found:
        raise _no_row(raw, change, columns)
    if change.drop:
        names = _listed([_row_name(raw, columns, at) for at in found])
        gone, numbers = set(found), tuple(raw.rows[at][0] for at in found)
        kept = tuple(row for at, row in enumerate(raw.rows) if at not in gone)
        return Edited(replace(raw, rows=kept), (f"{change.table}: {names} dropped",), numbers)
    told: list[str] = []
    copies: list[tuple[str, str]] = []
    if change.copy is not None:
        raw, found = _copied(raw, change, found, columns, told, copies)
    changed = set(found) if change.copy is not None else set()
    for cells in change.cells:
        raw, touched = _cells(raw, change.table, cells, found, columns, told)
        changed |= touched
    return Edited(raw, tuple(told), tuple(raw.rows[at][0] for at in sorted(changed)), tuple(copies))


def _no_row(raw: RawTable, change: Change, columns: Sequence[Declaration]) -> Fault:
    if not raw.rows:
        why = "has no rows" if raw.headings else "is not there"
        return Fault("variation.rows", f"the table '{change.table}' {why}", "rows to change")
    hint = ""
    for typed, values in change.where:
        there = said_values(raw, typed, columns)
        for value in values if not hint else ():
            if str(value) not in there:
                hint = did_you_mean(str(value), there)
    where = ", ".join(f"{typed} = {' or '.join(map(str, values))}" for typed, values in change.where)
    return Fault("variation.rows", f"no row of '{change.table}' has {where}", "a row or more", hint)


def _plain(raw: RawTable, columns: Sequence[Declaration]) -> RawTable:
    """The same table with decimal points, so that a changed cell leaves no doubt about the others."""
    if raw.separator == ",":
        return raw
    indices = [heading.index for heading in match_headings(raw, columns, Collector())
               if heading.declared.dimension not in NO_NUMBER]
    marks = decimals(cell.strip() for _, cells in raw.rows for index in indices
                     if isinstance(cell := cell_of(cells, index), str))

    def plain(cell: Cell) -> Cell:
        try:
            return marks.plain(cell.strip(), "") if isinstance(cell, str) and cell else cell
        except Fault:
            return cell

    rows = tuple((number, [plain(cell) if at in indices else cell for at, cell in enumerate(cells)])
                 for number, cells in raw.rows)
    return replace(raw, rows=rows, separator=",")


def _row_name(raw: RawTable, columns: Sequence[Declaration], at: int) -> str:
    """The id of a row, or its number where the table has none."""
    number, cells = raw.rows[at]
    named = columns[0].field == "id" and _shown(cell_of(cells, heading_of(raw, columns[0], columns).index))
    return named or f"row {number}"


def _copied(raw: RawTable, change: Change, found: list[int], columns: Sequence[Declaration],
            told: list[str], copies: list[tuple[str, str]]) -> tuple[RawTable, list[int]]:
    """Copies of rows after the last row; their positions."""
    last = max(number for number, _ in raw.rows)
    identity = heading_of(raw, columns[0], columns)
    rows = list(raw.rows)
    for count, at in enumerate(found, start=1):
        cells, name = list(raw.rows[at][1]), _row_name(raw, columns, at)
        if change.copy and identity.index != ABSENT:
            copy = cells[identity.index] = change.copy.replace("{id}", name)
            copies.append((name, copy))
            told.append(f"{change.table}: {copy} copied from {name}")
        else:
            told.append(f"{change.table}: {name} copied")
        rows.append((last + count, cells))
    if len(told) > MOST_SAID:
        told[MOST_SAID:] = [f"{change.table}: {len(told) - MOST_SAID} more rows copied"]
    return replace(raw, rows=tuple(rows)), [*range(len(raw.rows), len(rows))]


def _cells(raw: RawTable, table: str, cells: Cells, found: Sequence[int], columns: Sequence[Declaration],
           told: list[str]) -> tuple[RawTable, set[int]]:
    """The cells of one column changed in some rows; the positions of those that are now something else."""
    declared = declared_column(cells.column, table, columns)
    heading = heading_of(raw, declared, columns, unit_for(declared, cells.value))
    if not heading.usable:
        return raw, set()
    texts = {at: _new(cell_of(raw.rows[at][1], heading.index), cells, heading) for at in found}
    new = {at: text for at, text in texts.items() if text is not None}
    before = {at: _shown(cell_of(raw.rows[at][1], heading.index)) for at in new}
    differing = [at for at in new if said(before[at], heading) != said(new[at], heading)]
    if not differing:
        return raw, set()
    unit = f" {heading.unit}" if heading.unit else ""
    told.append(f"{table}: {declared.name} of " + _listed([
        f"{_row_name(raw, columns, at)} {said(before[at], heading)} -> {said(new[at], heading)}"
        f"{unit if new[at] else ''}" for at in differing]))
    return _put(raw, heading, {at: new[at] for at in differing}), set(differing)


def _shown(cell: Cell) -> str:
    return (cell if isinstance(cell, str) else cell.percent or cell.text).strip()


def _new(cell: Cell, cells: Cells, heading: Heading) -> str | None:
    """The new text of a cell; None where it stays as it is."""
    if cells.how == "set":
        return typed_text(cells.value, heading)
    old = old_number(cell, heading)
    if old is None:
        return None
    change: Callable[[Decimal, Any, Heading], str] = sum_text if cells.how == "add" else product_text
    return change(old, cells.value, heading)


def _put(raw: RawTable, heading: Heading, new: dict[int, str]) -> RawTable:
    """A table with other cells in a column, which is added where it is not there."""
    headings, index = raw.headings, heading.index
    if index == ABSENT:
        headings, index = (*headings, heading.typed), len(headings)
    rows = list(raw.rows)
    for at, text in new.items():
        number, cells = rows[at]
        padded = [*cells, *[""] * (index + 1 - len(cells))]
        padded[index] = text
        rows[at] = (number, padded)
    return replace(raw, headings=headings, rows=tuple(rows))


def _listed(names: Sequence[str]) -> str:
    """Some of them, and how many more."""
    more = len(names) - MOST_SAID
    return ", ".join(names[:MOST_SAID]) + (f" and {more} more" if more > 0 else "")

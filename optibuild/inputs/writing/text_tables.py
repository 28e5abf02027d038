"""The tables of a case as text, and a case's records back to such tables."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf, nan, sqrt
from types import SimpleNamespace
from typing import Any

from optibuild.inputs.assemble import season_storms_min
from optibuild.inputs.checking.money import may_be_free
from optibuild.inputs.checking.winters import mean_counts
from optibuild.inputs.declared.columns import TABLES, columns_of, count_column
from optibuild.inputs.declared.declaration import Declaration, blank_value
from optibuild.inputs.reading.raw_table import NO_NUMBER
from optibuild.inputs.writing.figures import figure, nearest, shortest
from optibuild.records import Case
from optibuild.records.catalog import first_end_year
from optibuild.units import Conversion, allowed_units, conversion

NOTE = Declaration("note", "yours to use: columns that begin with note are not read", "text")


@dataclass(frozen=True)
class TextColumn:
    """One column to write: what it holds, its heading with the unit used, its cells; '' is a blank one."""

    declared: Declaration
    heading: str
    cells: tuple[str, ...]

    @property
    def is_number(self) -> bool:
        """Whether its cells hold numbers."""
        return self.declared.dimension not in NO_NUMBER


@dataclass(frozen=True)
class TextTable:
    """One table to write."""

    name: str
    columns: tuple[TextColumn, ...]

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The cells row by row."""
        return tuple(zip(*(column.cells for column in self.columns), strict=True))


# what a blank becomes where that depends on the row: such a cell stays blank and goes on following its row
FOLLOWS: dict[str, Callable[[Any], float | None]] = {
    "steer_angle_rad": lambda truck: nan if truck.turning_circle_m is None else truck.steer_angle_rad,
    "price_usd": lambda item: 0.0 if may_be_free(vars(item)) else nan,
    "owned_value_usd": lambda truck: nan if truck.value_falls else truck.price_usd / 2,
    "material_center_m": lambda spreader: spreader.center_m,
    "pass_length_m": lambda site: sqrt(site.area_m2),
    "deice_every_min": lambda site: nan if site.work == "plow" else site.plow_every_min,
    "pay_usd": lambda site: 0.0 if site.pay_by is None else nan,
}


def tables_of(case: Case) -> tuple[TextTable, ...]:
    """Every table of a case as text that reads back to the same records.

    A column is in its usual unit, or, where that has no exact figure for some cell, in another that it takes.
    Figures that no unit can give exactly, which no case that was read holds, are the nearest there are.
    """
    events = [event.id for event in case.season]
    return tuple(TextTable(name, tuple(_column(declared, rows) for declared in columns_of(name, events)))
                 for name, rows in ((name, _rows(name, case)) for name in TABLES))


def _rows(name: str, case: Case) -> Sequence[Any]:
    """The rows of a table, each with the fields of its columns. A count that is the winters' mean is blank,
    and goes on following them."""
    if name == "past_winters":
        fields = [count_column(event.id).field for event in case.season]
        return [SimpleNamespace(id=winter.id, **dict(zip(fields, winter.counts, strict=True)))
                for winter in case.past_winters]
    if name == "season" and case.past_winters:
        return [SimpleNamespace(**vars(event) | {"count": None if event.count == mean else event.count})
                for event, mean in zip(case.season, mean_counts(case.past_winters), strict=True)]
    if name in ("trucks", "plows", "spreaders"):
        return [_unfilled(item, season_storms_min(case.season)) for item in getattr(case, name)]
    return tuple(getattr(case, name))


def _unfilled(item: Any, storms_min: float) -> Any:
    """An item without hours a year that are those of the storms, and without a remaining life of half."""
    worked = None if item.worked_min_per_year == storms_min else item.worked_min_per_year
    half = first_end_year(item.life_year, item.worked_life_min, item.worked_min_per_year) / 2
    remaining = None if item.remaining_life_year == half else item.remaining_life_year
    return SimpleNamespace(**vars(item) | {"worked_min_per_year": worked, "remaining_life_year": remaining})


def _column(declared: Declaration, rows: Sequence[Any]) -> TextColumn:
    if declared.or_dimension:
        return _resale(declared, rows)
    values = [_own(declared, row) for row in rows]
    if not declared.takes_unit:
        return TextColumn(declared, declared.heading, tuple(plain_text(value, declared) for value in values))
    for unit in dict.fromkeys((declared.usual, *allowed_units(declared.dimension))):
        converts = conversion(unit, declared.dimension)
        cells = [_cell(value, declared, converts) for value in values]
        if None not in cells:
            return TextColumn(declared, f"{declared.name} [{unit}]", tuple(map(str, cells)))
    converts = conversion(declared.usual, declared.dimension)
    cells = [nearest(value, converts) if cell is None else cell for value, cell in
             zip(values, (_cell(value, declared, converts) for value in values), strict=True)]
    return TextColumn(declared, declared.heading, tuple(map(str, cells)))


def _own(declared: Declaration, row: Any) -> Any:
    """A row's value; None where a blank cell would become the same."""
    value = getattr(row, declared.field)
    follows = FOLLOWS.get(declared.field)
    return None if follows and follows(row) == value else value


def plain_text(value: Any, declared: Declaration) -> str:
    """A word, a name, a count or a bare number as typed; nothing for what is not given or has no limit."""
    if value is None or value == inf:
        return ""
    if declared.dimension == "yes_no":
        return "yes" if value else "no"
    if declared.dimension == "count":
        return str(int(value))
    return figure(value, Conversion(1.0)) or "" if declared.dimension == "number" else str(value)


def _cell(value: float | None, declared: Declaration, converts: Conversion) -> str | None:
    """The text of a cell; None where it has no exact figure, and a blank would not mean the same."""
    if value is None or value == inf:
        return ""
    exact = figure(value, converts)
    return "" if exact is None and value == blank_value(declared) else exact


def _resale(declared: Declaration, rows: Sequence[Any]) -> TextColumn:
    """Worth at the end of life: a share of each price where all are one exactly, else money."""
    cells = list(_shares(rows))
    if None not in cells:
        return TextColumn(declared, declared.heading, tuple(map(str, cells)))
    as_money = replace(declared, dimension=declared.or_dimension, or_dimension="", default=None, usual="")
    return replace(_column(as_money, rows), declared=declared)


def _shares(rows: Sequence[Any]) -> Iterator[str | None]:
    share = conversion("%", "share")
    for row in rows:
        price, resale = row.price_usd, row.resale_usd
        if price == 0:
            yield "" if resale == 0 else None
        elif resale > price:
            yield None
        else:
            yield shortest(resale, share.from_inner(resale / price), _share_of(price, share))


def _share_of(price: float, share: Conversion) -> Callable[[float], float]:
    return lambda number: share.to_inner(number) * price

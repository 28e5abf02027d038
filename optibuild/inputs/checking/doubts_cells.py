"""Single values outside the range that their column or key is declared to have."""

from collections.abc import Iterable, Mapping
from math import inf, isfinite
from typing import Any

from optibuild.errors import Place, UnitError
from optibuild.inputs.checking.doubts_scale import Scale, column_scale, scale
from optibuild.inputs.declared.declaration import PLAIN, Declaration
from optibuild.inputs.declared.keys import FUEL, KEYS
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Table
from optibuild.units import allowed_units, conversion, quantity

_NOISE = 1e-9
EDGE = 0.1
FEW = 1000.0
"""The part of a likely range, in orders of magnitude, that counts as its end: there a unit tells nothing. And
no site has so few square feet or meters: 400 acre is rather 4.00."""


def doubt_cells(tables: Mapping[str, Table], collector: Collector) -> None:
    """Every number of a column that lies outside the column's likely range."""
    for table in tables.values():
        for declared in table.declared:
            there = table.columns.get(declared.field, ("", None))[1] is not None
            if declared.likely and there:
                _doubt_column(table, declared, collector)


def _doubt_column(table: Table, declared: Declaration, collector: Collector) -> None:
    low, high = _range(declared)
    field = declared.field
    # most tables have few different values, and none that is doubted
    values = {row.values.get(field) for row in table.rows}
    doubted = {value for value in values if value is not None and (value < low or high < value < inf)}
    if doubted:
        typed = column_scale(table, field)
        for row in table.rows:
            if row.values.get(field) in doubted:
                _add(declared, row.values[field], typed, table.place(row, field), collector)


def doubt_keys(settings: Settings, collector: Collector) -> None:
    """Every key given that lies outside its likely range."""
    for key, declared, value in _given(settings):
        if declared.likely is None or value is None or not isfinite(value):
            continue
        low, high = _range(declared)
        if not low <= value <= high:
            unit = declared.likely[1].partition(" ")[2]
            _add(declared, value, scale(unit, declared.dimension), settings.place(key), collector, key)


def _given(settings: Settings) -> Iterable[tuple[str, Declaration, Any]]:
    prefix = FUEL.name.removesuffix("NAME")
    for key in settings.given:
        if key in settings.values:
            yield key, KEYS[key], settings.values[key]
        elif key.removeprefix(prefix) in settings.fuels and key.startswith(prefix):
            yield key, FUEL, settings.fuels[key.removeprefix(prefix)]


def _range(declared: Declaration) -> tuple[float, float]:
    """The likely range in inner units, widened by the noise of conversion."""
    ends = [quantity(text, declared.dimension) for text in declared.likely or ()]
    return min(ends) - _NOISE * abs(min(ends)), max(ends) + _NOISE * abs(max(ends))


def _add(declared: Declaration, value: float, typed: Scale, place: Place, collector: Collector,
         key: str = "") -> None:
    low, high = _range(declared)
    expected = f"{typed.span(low, high)}: {declared.because}"
    unit = _meant(typed.converts.from_inner(value), typed.unit, declared.dimension, low, high)
    if unit:
        meant = typed.said(conversion(unit, declared.dimension).to_inner(typed.converts.from_inner(value)))
        collector.add("doubt.unit", f"{key or declared.name} {typed.said(value)} looks like {unit}", place,
                      value=typed.said(value), expected=expected,
                      hint=f"Is it {typed.figure(value)} {unit}, that is {meant}?")
    else:
        collector.add("doubt.value", f"{key or declared.name} {typed.said(value)} looks mistyped", place,
                      value=typed.said(value), expected=expected)


def _meant(number: float, unit: str, dimension: str, low: float, high: float) -> str:
    """The other unit in which a number would lie well in the range; nothing where there is none."""
    few = dimension == "area" and number < FEW
    if few or dimension in PLAIN or dimension in ("share", "angle", "temperature"):
        return ""
    inward = (high / low) ** EDGE if low > 0 else 1.0
    low, high = low * inward, high / inward
    for other in allowed_units(dimension):
        try:
            meant = conversion(other, dimension).to_inner(number)
        except UnitError:
            continue
        if other != unit and low <= meant <= high:
            return other
    return ""

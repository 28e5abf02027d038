"""The keys of a case back to what a user would type."""

from collections.abc import Callable
from math import inf
from typing import Any

from optibuild.assumptions import BY_NAME
from optibuild.inputs.declared.declaration import Declaration, blank_value
from optibuild.inputs.declared.keys import FUEL, KEYS
from optibuild.inputs.writing.figures import nearest, shortest
from optibuild.inputs.writing.text_tables import plain_text
from optibuild.records import Case
from optibuild.units import Conversion, allowed_units, conversion, quantity

Settings = dict[str, str | int | float]
"""Key -> its value as typed: text with a unit, a word, a number."""
SECTIONS = ("storm", "money", "crew", "fit", "solve", "bid", "assumptions")
# a record's unit over the inner unit of its key: the search is timed in seconds
PER_INNER = {"solve.time_limit": 60.0}


def settings_of(case: Case) -> Settings:
    """Every key of a case that has a value; of the assumptions only those that differ or were replaced."""
    found: Settings = {"case.name": case.name, "case.question": case.question, "case.units": case.units}
    for key, declared in KEYS.items():
        section, _, name = key.partition(".")
        if declared is FUEL:
            found |= _fuels(case)
        elif section in SECTIONS:
            value = getattr(getattr(case, section), declared.field)
            if section == "assumptions" and name not in case.assumptions.overridden \
                    and value == _standard(name, case.units):
                continue
            typed = _typed(value, declared, PER_INNER.get(key, 1.0))
            found |= {} if typed is None else {key: typed}
    return found


def _standard(name: str, units: str) -> float:
    """What an assumption is where nothing else is said."""
    row = BY_NAME[name]
    text = row.si_default if units == "si" and row.si_default else row.default
    return quantity(text, row.dimension)


def _fuels(case: Case) -> Settings:
    prefix = FUEL.name.removesuffix("NAME")
    return {prefix + name: _quantity(price, FUEL, 1.0) or "" for name, price in case.money.fuel_usd_per_l}


def _typed(value: Any, declared: Declaration, per_inner: float) -> str | int | float | None:
    """A value as typed; None where the key is left out: no limit, or a default that no figure gives."""
    if value is None or value == inf:
        return None
    if declared.takes_unit:
        return _quantity(value, declared, per_inner)
    if declared.dimension == "count":
        return int(value)
    return float(value) if declared.dimension == "number" else plain_text(value, declared)


def _quantity(value: float, declared: Declaration, per_inner: float) -> str | float | None:
    for unit in dict.fromkeys((declared.usual, *allowed_units(declared.dimension))):
        converts = conversion(unit, declared.dimension)
        number = converts.from_inner(value / per_inner)
        exact = shortest(value, number, _reads(converts, per_inner))
        if exact is not None:
            return f"{exact} {unit}"
    if declared.dimension == "share":
        return value
    if declared.default is not None and per_inner * blank_value(declared) == value:
        return None
    return f"{nearest(value / per_inner, conversion(declared.usual, declared.dimension))} {declared.usual}"


def _reads(converts: Conversion, per_inner: float) -> Callable[[float], float]:
    return lambda number: per_inner * converts.to_inner(number)

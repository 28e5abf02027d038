"""The only place where units are known: text to a number in inner units, and back.

Inner units: kg, m, m^2, m^3, min, rad, degC, L (fuel), USD. Fuel and calendar years are dimensions of
their own, so that an area is no fuel use and a wage no yearly upkeep. A column's unit gives one `Conversion`,
applied to its cells; pint (own definitions, so that nothing outside the list below parses) supplies the
factor.
"""

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from optibuild.errors import UnitError

DEFINITIONS = """
meter = [length] = m
gram = [mass] = g
minute = [time] = min
dollar = [money] = USD
radian = []
fuel_liter = [fuel]
year = [calendar]
inch = 0.0254 * meter
foot = 0.3048 * meter
yard = 0.9144 * meter
mile = 1609.344 * meter
kilometer = 1000 * meter
centimeter = 0.01 * meter
millimeter = 0.001 * meter
acre = 4046.8564224 * meter ** 2
hectare = 10000 * meter ** 2
liter = 0.001 * meter ** 3
gallon = 3.785411784 * liter
fuel_gallon = 3.785411784 * fuel_liter
kilogram = 1000 * gram
tonne = 1000000 * gram
pound = 453.59237 * gram
short_ton = 2000 * pound
second = minute / 60
hour = 60 * minute
degree = 0.017453292519943295 * radian
percent = 0.01 * radian
one = 1 * radian
lane = 12 * foot
"""

# spelling a user may type (letter case and spaces free) -> pint expression over the definitions above
SPELLINGS: dict[str, str] = {
    "lb": "pound", "kg": "kilogram", "g": "gram", "t": "tonne", "ton": "short_ton",
    "in": "inch", "ft": "foot", "yd": "yard", "mi": "mile", "mm": "millimeter", "cm": "centimeter",
    "m": "meter", "km": "kilometer",
    "sq ft": "foot ** 2", "ft^2": "foot ** 2", "acre": "acre", "m^2": "meter ** 2", "ha": "hectare",
    "ft^3": "foot ** 3", "yd^3": "yard ** 3", "cu yd": "yard ** 3", "L": "liter", "gal": "gallon",
    "m^3": "meter ** 3",
    "s": "second", "min": "minute", "h": "hour", "year": "year",
    "mph": "mile / hour", "km/h": "kilometer / hour", "in/h": "inch / hour", "mm/h": "millimeter / hour",
    "lb/ft^3": "pound / foot ** 3", "kg/m^3": "kilogram / meter ** 3",
    "lb/min": "pound / minute", "kg/min": "kilogram / minute",
    "lb/1000 ft^2": "pound / (1000 * foot ** 2)", "g/m^2": "gram / meter ** 2",
    "lb/lane-mile": "pound / (lane * mile)",
    "mi/gal": "mile / fuel_gallon", "L/100km": "fuel_liter / (100 * kilometer)",
    "gal/h": "fuel_gallon / hour", "L/h": "fuel_liter / hour",
    "USD": "dollar", "USD/h": "dollar / hour", "USD/year": "dollar / year", "USD/ton": "dollar / short_ton",
    "USD/kg": "dollar / kilogram", "USD/gal": "dollar / fuel_gallon", "USD/L": "dollar / fuel_liter",
    "USD/mi": "dollar / mile", "USD/km": "dollar / kilometer",
    "deg": "degree", "%": "percent",
}
TEMPERATURES = {"degf": (5.0 / 9.0, -32.0 * 5.0 / 9.0), "degc": (1.0, 0.0)}

# dimension -> (inner unit as pint expression, unit shown in US cases, unit shown in SI cases)
DIMENSIONS: dict[str, tuple[str, str, str]] = {
    "mass": ("kilogram", "lb", "kg"),
    "length": ("meter", "in", "m"),
    "area": ("meter ** 2", "acre", "ha"),
    "volume": ("meter ** 3", "ft^3", "m^3"),
    "density": ("kilogram / meter ** 3", "lb/ft^3", "kg/m^3"),
    "time": ("minute", "min", "min"),
    "life": ("year", "year", "year"),
    "speed": ("meter / minute", "mph", "km/h"),
    "mass_rate": ("kilogram / minute", "lb/min", "kg/min"),
    "areal_rate": ("kilogram / meter ** 2", "lb/1000 ft^2", "g/m^2"),
    "fuel_use": ("fuel_liter / meter", "mi/gal", "L/100km"),
    "fuel_rate": ("fuel_liter / minute", "gal/h", "L/h"),
    "money": ("dollar", "USD", "USD"),
    "money_per_time": ("dollar / minute", "USD/h", "USD/h"),
    "money_per_year": ("dollar / year", "USD/year", "USD/year"),
    "money_per_mass": ("dollar / kilogram", "USD/ton", "USD/kg"),
    "money_per_volume": ("dollar / fuel_liter", "USD/gal", "USD/L"),
    "money_per_length": ("dollar / meter", "USD/mi", "USD/km"),
    "angle": ("radian", "deg", "deg"),
    "share": ("one", "%", "%"),
    "temperature": ("degc", "degF", "degC"),
}


@dataclass(frozen=True)
class Conversion:
    """inner = number * factor + offset, or factor / number where the unit counts the other way (mi/gal)."""

    factor: float
    offset: float = 0.0
    inverse: bool = False

    def to_inner(self, number: float) -> float:
        """A number in the user's unit as inner units."""
        if self.inverse:
            if number <= 0:
                raise UnitError("must be above zero")
            return self.factor / number
        return number * self.factor + self.offset

    def from_inner(self, value: float) -> float:
        """A value in inner units as a number in the user's unit."""
        return self.factor / value if self.inverse else (value - self.offset) / self.factor


@cache
def _registry() -> Any:
    """The pint registry over our own definitions (8 ms, so built on first use)."""
    import pint

    registry: Any = pint.UnitRegistry(None, cache_folder=None)
    registry.load_definitions(DEFINITIONS.strip().splitlines())
    return registry


def _squeeze(text: str) -> str:
    return re.sub(r"\s+", "", text).casefold()


_BY_SQUEEZED = {_squeeze(spelling): spelling for spelling in SPELLINGS}


@cache
def allowed_units(dimension: str) -> tuple[str, ...]:
    """The unit spellings a dimension takes, the shown ones first."""
    if dimension == "temperature":
        return ("degF", "degC")
    shown = DIMENSIONS[dimension][1:]
    others = [spelling for spelling in SPELLINGS if _fits(spelling, dimension)]
    return tuple(dict.fromkeys([*shown, *others]))


def _fits(spelling: str, dimension: str) -> bool:
    wanted = _registry().parse_units(DIMENSIONS[dimension][0]).dimensionality
    found = _registry().parse_expression(SPELLINGS[spelling]).dimensionality
    if dimension in ("share", "angle"):
        return spelling == {"share": "%", "angle": "deg"}[dimension]
    return bool(found == wanted or (dimension == "fuel_use" and found == (1 / _registry().parse_expression(
        DIMENSIONS[dimension][0])).dimensionality))


@cache
def conversion(unit: str, dimension: str) -> Conversion:
    """How a unit as typed becomes inner units; UnitError names what the dimension takes."""
    if dimension == "temperature":
        if _squeeze(unit) not in TEMPERATURES:
            raise UnitError(f"unit '{unit}' is not a temperature; allowed: degF, degC")
        factor, offset = TEMPERATURES[_squeeze(unit)]
        return Conversion(factor, offset)
    spelling = _BY_SQUEEZED.get(_squeeze(unit))
    if spelling is None or not _fits(spelling, dimension):
        kind = dimension.replace("_", " ")
        raise UnitError(f"unit '{unit}' is no unit of {kind}; allowed: {', '.join(allowed_units(dimension))}")
    inner = _registry().parse_expression(DIMENSIONS[dimension][0])
    typed = _registry().parse_expression(SPELLINGS[spelling])
    if dimension == "fuel_use" and typed.dimensionality != inner.dimensionality:
        return Conversion(float((1 / typed / inner).to_base_units().magnitude), inverse=True)
    return Conversion(float((typed / inner).to_base_units().magnitude))


_QUANTITY = re.compile(r"^\s*\$?\s*([+-]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", re.DOTALL)


def quantity(text: str, dimension: str) -> float:
    """A text such as '22 mph' or '5 %' as inner units; UnitError says what is wrong with it.

    Dimensions `count` and `number` take no unit; a share may be written without one ('0.05').
    """
    match = _QUANTITY.match(text)
    if not match:
        raise UnitError(f"'{text}' is not a number with a unit")
    number = float(match.group(1).replace(",", ""))
    unit = match.group(2)
    if number in (float("inf"), float("-inf")):
        raise UnitError(f"'{text}' is too large")
    if dimension in ("count", "number") or (dimension == "share" and not unit):
        if unit:
            raise UnitError(f"'{text}' takes no unit")
        return number
    if not unit:
        raise UnitError(f"'{text}' needs a unit: {', '.join(allowed_units(dimension))}")
    return conversion(unit, dimension).to_inner(number)


def shown_unit(dimension: str, system: str) -> str:
    """The unit in which a dimension is printed in a case of this unit system ('us' or 'si')."""
    _, us, si = DIMENSIONS[dimension]
    return us if system == "us" else si


def shown(value: float, dimension: str, system: str) -> float:
    """A value in inner units as the number to print in the case's units."""
    return conversion(shown_unit(dimension, system), dimension).from_inner(value)

"""Values in inner units back to figures as typed: the shortest that read back to exactly the same value."""

from collections.abc import Callable, Iterator
from math import inf, isfinite, nextafter

from optibuild.errors import UnitError
from optibuild.inputs.reading.workbook_cells import number_text
from optibuild.units import Conversion

MOST_DIGITS = 17
NEIGHBORS = 4
"""Digits that tell all floats apart; how far a product's rounding may have led from the number typed."""


def shortest(value: float, number: float, read: Callable[[float], float]) -> str | None:
    """The shortest figure near `number` that `read` takes to exactly `value`; None where there is none."""
    for candidate in _candidates(number):
        try:
            if read(candidate) == value:
                return number_text(candidate)
        except UnitError:
            continue
    return None


def _candidates(number: float) -> Iterator[float]:
    for digits in range(1, MOST_DIGITS + 1):
        yield float(f"{number:.{digits}g}")
    below = above = number
    for _ in range(NEIGHBORS):
        below, above = nextafter(below, -inf), nextafter(above, inf)
        yield below
        yield above


def figure(value: float, converts: Conversion) -> str | None:
    """A value in inner units as the shortest exact figure in a unit; None where the unit has none."""
    try:
        number = converts.from_inner(value)
    except ZeroDivisionError:
        return None
    return shortest(value, number, converts.to_inner) if isfinite(number) else None


def nearest(value: float, converts: Conversion) -> str:
    """A value in inner units as the nearest figure in a unit, where no figure is exact."""
    return number_text(converts.from_inner(value))

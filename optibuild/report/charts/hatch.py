"""Hatches as lines of their own: a browser that prints turns SVG patterns into pictures of dots, and ten bars
into tens of megabytes."""

from collections.abc import Callable, Iterator
from math import ceil

Point = tuple[float, float]
Line = tuple[Point, Point]
Box = tuple[float, float, float, float]
"""Left, right, top, bottom."""
APART = 4.5
"""Distance of lines of one direction in units of the picture; of crossed ones it is more."""
_ASLANT = APART * 2.0 ** 0.5


def hatched(kind: str, box: Box) -> list[Line]:
    """The lines of a hatch ("" for none, "/", "\\\\", "|", "-", "x") inside a box; y counts downward.

    Lines keep their places on the sheet whatever the box, so that hatches of neighbors go on.
    """
    return [line for line in HATCHED[kind](*box) if line[0] != line[1]]


def _marks(low: float, high: float, apart: float) -> Iterator[float]:
    """Multiples of a distance between two places."""
    first = ceil(low / apart)
    return (n * apart for n in range(first, int(high // apart) + 1))


def _rising(left: float, right: float, top: float, bottom: float, apart: float = _ASLANT) -> Iterator[Line]:
    for at in _marks(left + top, right + bottom, apart):
        low, high = max(left, at - bottom), min(right, at - top)
        yield (low, at - low), (high, at - high)


def _falling(left: float, right: float, top: float, bottom: float, apart: float = _ASLANT) -> Iterator[Line]:
    for at in _marks(left - bottom, right - top, apart):
        low, high = max(left, at + top), min(right, at + bottom)
        yield (low, low - at), (high, high - at)


def _upright(left: float, right: float, top: float, bottom: float) -> Iterator[Line]:
    return (((at, top), (at, bottom)) for at in _marks(left, right, APART))


def _lying(left: float, right: float, top: float, bottom: float) -> Iterator[Line]:
    return (((left, at), (right, at)) for at in _marks(top, bottom, APART))


def _crossed(left: float, right: float, top: float, bottom: float) -> Iterator[Line]:
    yield from _rising(left, right, top, bottom, 1.4 * _ASLANT)
    yield from _falling(left, right, top, bottom, 1.4 * _ASLANT)


HATCHED: dict[str, Callable[..., Iterator[Line]]] = {
    "": lambda *box: iter(()), "/": _rising, "\\": _falling, "|": _upright, "-": _lying, "x": _crossed}

"""Names beside the marks of a map, where there is room for them."""

from collections.abc import Sequence
from dataclasses import dataclass

from optibuild.report.console import display_width

STEPS = ((0.0, 0.0), *((x, y) for y in (-0.8, 0.8, -1.6, 1.6) for x in (0.0, 0.6, -0.6)), (0.8, 0.0),
         (-0.8, 0.0))
"""How far a mark may be moved, in its own widths and heights; the first that is free is taken."""
LETTER, LINE = 5.6, 11.0
"""Usual width of a letter and height of a line, in units of the marks."""


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Whether the two overlap."""
        return (self.left < other.right and other.left < self.right
                and self.top < other.bottom and other.top < self.bottom)


@dataclass(frozen=True)
class Named:
    """A name, and the marks it stands beside as a box around their spot (0, 0), in units of the marks."""

    text: str
    x: float
    y: float
    marks: Box


def apart(marks: Sequence[Named], taken: Sequence[Box]) -> list[tuple[float, float]]:
    """How far each mark is moved from its spot so that it covers no other, where a small step does that."""
    there, found = list(taken), []
    for mark in marks:
        tall = mark.marks.bottom - mark.marks.top + 1.0
        wide = mark.marks.right - mark.marks.left + 1.0
        steps = [(x * wide, y * tall) for x, y in STEPS]
        box = _around(mark, 1.0)
        step = next((step for step in steps if not any(_moved(box, step).meets(other) for other in there)),
                    (0.0, 0.0))
        there.append(_moved(box, step))
        found.append(step)
    return found


def _moved(box: Box, step: tuple[float, float]) -> Box:
    x, y = step
    return Box(box.left + x, box.top + y, box.right + x, box.bottom + y)


def beside(name: Named) -> list[tuple[float, float]]:
    """Where a name may stand: left end and base line, from its spot, in units of the marks."""
    wide, marks = LETTER * display_width(name.text), name.marks
    middle, base = 0.5 * (marks.left + marks.right - wide), 0.5 * (marks.top + marks.bottom) + 3.5
    return [(marks.right + 3.0, base), (marks.left - 3.0 - wide, base), (middle, marks.bottom + LINE - 1.0),
            (middle, marks.top - 3.5)]


def placed(names: Sequence[Named], scale: float, frame: Box) -> list[tuple[float, float] | None]:
    """A place for each name that has room where marks are drawn `scale` times as large; None where it has
    not. Earlier names go first."""
    taken = [_around(name, scale) for name in names]
    found: list[tuple[float, float] | None] = []
    for name in names:
        spot = next((spot for spot in beside(name) if _free(name, spot, scale, frame, taken)), None)
        if spot is not None:
            taken.append(_of(name, spot, scale))
        found.append(spot)
    return found


def _around(name: Named, scale: float) -> Box:
    marks = name.marks
    return Box(name.x + scale * marks.left, name.y + scale * marks.top, name.x + scale * marks.right,
               name.y + scale * marks.bottom)


def _of(name: Named, spot: tuple[float, float], scale: float) -> Box:
    left, base = spot
    return Box(name.x + scale * left, name.y + scale * (base - LINE + 2.0),
               name.x + scale * (left + LETTER * display_width(name.text)), name.y + scale * (base + 2.0))


def _free(name: Named, spot: tuple[float, float], scale: float, frame: Box, taken: Sequence[Box]) -> bool:
    box = _of(name, spot, scale)
    inside = (frame.left <= box.left and box.right <= frame.right and frame.top <= box.top
              and box.bottom <= frame.bottom)
    return inside and not any(box.meets(other) for other in taken)

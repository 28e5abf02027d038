"""Names beside the marks of a map, where there is room for them."""

from collections.abc import Sequence
from dataclasses import dataclass

from optibuild.report.console import display_width

STEPS = ((0.0, 0.0), *((x, y) for y in (-0.8, 0.8, -1.6, 1.6) for x in (0.0, 0.6, -0.6)),
         *((x, y) for y in (0.0, -0.9, 0.9, -2.4, 2.4) for x in (1.1, -1.1)))
"""How far a mark may be moved, in its own widths and heights; the first that is free is taken."""
LETTER, LINE = 5.6, 11.0
"""Usual width of a letter and height of a line, in units of the marks."""
BROAD, BROADER = "mwMW", 3.0
"""Letters that are so much wider."""
Line = tuple[tuple[float, float], tuple[float, float]]
"""A straight line from one place on the sheet to another."""


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


@dataclass(frozen=True)
class Place:
    """Where a name stands, from its spot in units of the marks: left end, base line, usual width. `anchor` is
    the end that stays where it is when the letters are wider or narrower than usual."""

    left: float
    base: float
    wide: float
    anchor: str

    @property
    def x(self) -> float:
        """The end, or the middle, that stays where it is."""
        return self.left + self.wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]


def apart(marks: Sequence[Named], taken: Sequence[Box], scale: float) -> list[tuple[float, float]]:
    """How far each mark, drawn `scale` times as large, is moved from its spot so that it covers no other,
    where a small step does that; in units of the marks."""
    there, found = list(taken), []
    for mark in marks:
        tall = mark.marks.bottom - mark.marks.top + 1.0
        wide = mark.marks.right - mark.marks.left + 1.0
        steps = [(x * wide, y * tall) for x, y in STEPS]
        box = _around(mark, scale)
        step = next((step for step in steps
                     if not any(_moved(box, step, scale).meets(other) for other in there)), (0.0, 0.0))
        there.append(_moved(box, step, scale))
        found.append(step)
    return found


def _moved(box: Box, step: tuple[float, float], scale: float) -> Box:
    x, y = scale * step[0], scale * step[1]
    return Box(box.left + x, box.top + y, box.right + x, box.bottom + y)


def beside(name: Named, scale: float, frame: Box, away: float) -> list[Place]:
    """Where a name may stand: beside the marks; below and above them in the middle, from their left end on or
    up to their right one, which none leaves the frame by that has room in it; a little lower or higher beside
    them. All are moved below and above by `away`."""
    wide, marks = _width(name.text), name.marks
    base = 0.5 * (marks.top + marks.bottom) + 3.5
    rows = (marks.bottom + LINE - 1.0 + away, marks.top - 3.5 - away)
    lefts = ((0.5 * (marks.left + marks.right - wide), "middle"), (marks.left, "start"),
             (marks.right - wide, "end"))
    sides = ((marks.right + 3.0, "start"), (marks.left - 4.0 - wide, "end"))
    least, most = (frame.left - name.x) / scale, (frame.right - name.x) / scale - wide
    return [*(Place(left, base, wide, anchor) for left, anchor in sides if not away),
            *(Place(min(max(left, least), most), row, wide, anchor) for left, anchor in lefts
              for row in rows),
            *(Place(left, base + down, wide, anchor) for down in (8.0 + away, -8.0 - away)
              for left, anchor in sides)]


def _width(text: str) -> float:
    return LETTER * display_width(text) + BROADER * sum(map(text.count, BROAD))


def placed(names: Sequence[Named], scale: float, frame: Box, taken: Sequence[Box] = (),
           lines: Sequence[Line] = ()) -> list[Place | None]:
    """A place for each name that has room where marks are drawn `scale` times as large; None where it has
    not. Earlier names go first; of the places that are free the one that the fewest lines cross is taken, one
    a line further from the marks only where there is no other."""
    there = [*taken, *(_around(name, scale) for name in names)]
    found: list[Place | None] = []
    for name in names:
        place = _free(name, scale, frame, there, lines, 0.0) or _free(name, scale, frame, there, lines, LINE)
        if place is not None:
            there.append(_of(name, place, scale))
        found.append(place)
    return found


def _crosses(box: Box, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Whether a straight line has a part within a box: what of it is left is clipped side by side."""
    first, last = 0.0, 1.0
    for low, high, at, to in ((box.left, box.right, start[0], end[0]),
                              (box.top, box.bottom, start[1], end[1])):
        if at == to:
            if not low < at < high:
                return False
            continue
        one, other = sorted(((low - at) / (to - at), (high - at) / (to - at)))
        first, last = max(first, one), min(last, other)
    return first < last


def _around(name: Named, scale: float) -> Box:
    marks = name.marks
    return Box(name.x + scale * marks.left, name.y + scale * marks.top, name.x + scale * marks.right,
               name.y + scale * marks.bottom)


def _of(name: Named, place: Place, scale: float) -> Box:
    return Box(name.x + scale * place.left, name.y + scale * (place.base - LINE + 2.0),
               name.x + scale * (place.left + place.wide), name.y + scale * (place.base + 2.0))


def _free(name: Named, scale: float, frame: Box, taken: Sequence[Box], lines: Sequence[Line],
          away: float) -> Place | None:
    """Of the places within the frame that cover nothing the one that the fewest lines cross."""
    boxes = [(_of(name, place, scale), place) for place in beside(name, scale, frame, away)]
    free = [(sum(_crosses(box, *line) for line in lines), k) for k, (box, _) in enumerate(boxes)
            if frame.left <= box.left and box.right <= frame.right and frame.top <= box.top
            and box.bottom <= frame.bottom and not any(box.meets(other) for other in taken)]
    return boxes[min(free)[1]][1] if free else None

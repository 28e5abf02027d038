"""Charts read back: what a picture shows, as numbers and words."""

from dataclasses import fields
from typing import Any, NamedTuple, TypeVar
from xml.etree import ElementTree as Tree

from optibuild.report.charts import Chart

WIDE, LEFT = 320.0, 4.0
"""The axes go from 4 to 324 of the 328 units across."""


R = TypeVar("R")


def record(kind: type[R], **known: Any) -> R:
    """A record of which charts look at these fields only; the others are None."""
    return kind(**dict.fromkeys((field.name for field in fields(kind)), None) | known)  # type: ignore[arg-type]


class Box(NamedTuple):
    """A rectangle, and the value that it carries."""

    x: float
    y: float
    width: float
    height: float
    value: float


def root(chart: Chart) -> Tree.Element:
    """The picture as a tree."""
    return Tree.fromstring(chart.svg)


def _group(chart: Chart, part: str) -> list[Tree.Element]:
    return [shape for group in root(chart).iter("g") if group.get("data-part") == part for shape in group]


def boxes(chart: Chart, part: str) -> list[Box]:
    """The boxes of a part, from above."""
    keys = ("x", "y", "width", "height", "data-value")
    return sorted((Box(*(float(shape.attrib[key]) for key in keys)) for shape in _group(chart, part)),
                  key=lambda box: (box.y, box.x))


def lines(chart: Chart, part: str) -> list[list[tuple[float, float]]]:
    """The corners of a part's lines."""
    return [list(zip(map(float, words[1::3]), map(float, words[2::3]), strict=True))
            for shape in _group(chart, part) for words in (shape.attrib["d"].split(),)]


def words(chart: Chart) -> list[str]:
    """Every text that is seen."""
    return [text.text or "" for text in root(chart).iter("text")]

"""Lying bars: for each row a line of words and below it its bar, full width, so that a phone can show it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from optibuild.report.charts.canvas import SIDE, Canvas, draw
from optibuild.report.charts.chart import Chart
from optibuild.report.charts.fragment import LETTER, WIDTH
from optibuild.report.charts.legend import Key
from optibuild.report.charts.palette import QUIET
from optibuild.report.tables import Table

ROW, BASE, TOP, BOTTOM = 34.0, 11.0, 16.0, 27.0
"""Height of a row; in it the baseline of its words and the edges of its bar."""
MORE = 20.0
"""Height of the line that says how many rows are left out."""
OVER = 3.0
"""By how much a mark sticks out of its bar."""


@dataclass(frozen=True)
class Span:
    """A piece of a bar: which part it is, from where to where."""

    part: int
    begin: float
    end: float


@dataclass(frozen=True)
class Row:
    """One bar with its name, what is said of it at the right, and where its mark is."""

    label: str
    note: str
    spans: tuple[Span, ...]
    mark: float | None = None
    whisker: tuple[float, float] | None = None


@dataclass(frozen=True)
class Bars:
    """What bars are about: names of the parts, of the mark and of the whisker (none: no such), the axis."""

    parts: tuple[str, ...]
    axis: str
    mark: str = ""
    whisker: str = ""


def stacked(values: Sequence[float]) -> tuple[Span, ...]:
    """Pieces laid end to end from 0; none for what is 0."""
    ends = [*accumulate(values)]
    return tuple(Span(part, end - value, end)
                 for part, (value, end) in enumerate(zip(values, ends, strict=True)) if value > 0.0)


def lying_bars(kind: str, title: str, alternative: str, table: Table, bars: Bars,
               rows: Sequence[Row]) -> Chart:
    """The chart of these rows, in their order; below them how many more the table has."""
    used = {span.part for row in rows for span in row.spans}
    keys = [Key(label, part) for part, label in enumerate(bars.parts) if part in used]
    if any(row.mark is not None for row in rows):
        keys.append(Key(bars.mark, line=True))
    if any(row.whisker for row in rows):
        keys.append(Key(bars.whisker, line=True))
    more = len(table.rows) - len(rows)
    return draw(kind, title, alternative, table, keys if len(keys) > 1 else (), _across(rows),
                ROW * len(rows) + (MORE if more else 0.0), lambda canvas: _paint(canvas, bars, rows, more))


def _across(rows: Sequence[Row]) -> tuple[float, float]:
    """From 0, or below it, to the farthest end."""
    ends = [0.0, *(at for row in rows for span in row.spans for at in (span.begin, span.end)),
            *(row.mark for row in rows if row.mark is not None),
            *(at for row in rows for at in row.whisker or ())]
    low, high = min(ends), max(ends)
    return (low, high) if high > low else (0.0, 1.0)


def _paint(canvas: Canvas, bars: Bars, rows: Sequence[Row], more: int) -> None:
    canvas.ticks(bars.axis)
    for n, row in enumerate(rows):
        taken = LETTER * len(row.note)
        canvas.text(canvas.left, ROW * n + BASE, row.label, room=WIDTH - 2.0 * SIDE - taken - 12.0)
        canvas.text(canvas.right, ROW * n + BASE, row.note, "right")
    for part, label in enumerate(bars.parts):
        spans = [(n, span) for n, row in enumerate(rows) for span in row.spans if span.part == part]
        canvas.boxes(part, label, [(span.begin, span.end, ROW * n + TOP, ROW * n + BOTTOM)
                                   for n, span in spans], [span.end - span.begin for _, span in spans])
    marks = [(n, row.mark) for n, row in enumerate(rows) if row.mark is not None]
    canvas.lines(bars.mark, [((at, ROW * n + TOP - OVER), (at, ROW * n + BOTTOM + OVER)) for n, at in marks],
                 [at for _, at in marks], 2.4)
    _whiskers(canvas, bars.whisker, rows)
    if more:
        canvas.text(canvas.left, ROW * len(rows) + BASE, f"and {more} more: in the figures below",
                    color=QUIET)


def _whiskers(canvas: Canvas, label: str, rows: Sequence[Row]) -> None:
    """A line between the ends of what is not known, with a cap at each."""
    middle, cap = 0.5 * (TOP + BOTTOM), 0.3 * (BOTTOM - TOP)
    found = [(ROW * n + middle, row.whisker) for n, row in enumerate(rows) if row.whisker]
    lines = [((low, y - cap), (low, y + cap), (low, y), (high, y), (high, y - cap), (high, y + cap))
             for y, (low, high) in found]
    canvas.lines(label, lines, [high - low for _, (low, high) in found], width=1.4)

"""The sheet that every chart is drawn on: one pair of axes measured in the units of the picture, a legend
above them, ticks below. Only here is the library that draws."""

import hashlib
import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import StringIO
from typing import Any

from optibuild.report.charts.chart import Chart, cut, plain
from optibuild.report.charts.fragment import LETTER, SIZE, WIDTH, Contents, fragment
from optibuild.report.charts.hatch import Box, hatched
from optibuild.report.charts.legend import Key, color, draw_legend, hatch, legend_rows, white
from optibuild.report.charts.palette import INK, QUIET, RULE
from optibuild.report.console import number
from optibuild.report.tables import Table

SIDE, SMALL = 4.0, 11.2
"""Room at either side; size of figures at the axes."""
LEGEND_ROW, AXIS = 18.0, 40.0
SETTINGS: Any = {"svg.fonttype": "none", "text.parse_math": False, "font.size": SIZE, "path.simplify": False,
            "legend.fontsize": SIZE, "text.color": INK}


@dataclass
class Canvas:
    """Axes `left` to `right` across and `height` down, and what has been drawn on them."""

    figure: Any
    axes: Any
    left: float
    right: float
    height: float
    contents: Contents = field(default_factory=Contents)

    @property
    def unit(self) -> float:
        """One unit of the picture in the measure across."""
        return (self.right - self.left) / (WIDTH - 2.0 * SIDE)

    def text(self, x: float, y: float, words: str, side: str = "left", room: float = WIDTH,
             **how: Any) -> None:
        """A text whose baseline is at `y`, cut to `room` units; the whole of it comes up on it."""
        whole = plain(words)
        shown = cut(whole, room / LETTER)
        self.axes.text(x, y, self.contents.place(shown, whole), ha=side, va="baseline", **how)

    def boxes(self, part: int, label: str, boxes: Sequence[Box], values: Sequence[float]) -> None:
        """Upright boxes of one color and hatch: across in the chart's own measure, down in units."""
        from matplotlib.collections import PolyCollection

        if boxes:
            corners = [((a, c), (b, c), (b, d), (a, d)) for a, b, c, d in boxes]
            # told twice, or else the library draws a single box as a mark, by reference
            self._add(PolyCollection(corners, facecolors=[color(part)] * 2, edgecolor="white", linewidth=0.8,
                                     zorder=2), label, values)
        lines = [line for a, b, c, d in boxes
                 for line in hatched(hatch(part), (a / self.unit, b / self.unit, c, d))]
        if lines:
            drawn = white([((x * self.unit, y), (u * self.unit, v)) for (x, y), (u, v) in lines])
            drawn.set(clip_on=False, zorder=2.5, gid=self._group(f"{label}, hatch", ()))
            self.axes.add_artist(drawn)

    def lines(self, label: str, lines: Sequence[Sequence[tuple[float, float]]], values: Sequence[float],
              width: float = 2.0) -> None:
        """Lines in ink with a white rim, so that they stand out from any color."""
        from matplotlib.collections import LineCollection

        if lines:
            self._add(LineCollection(lines, colors="white", linewidths=width + 2.0, zorder=3), "", ())
            drawn = LineCollection(lines, colors=INK, linewidths=width, zorder=4)
            self._add(drawn, label, values)

    def _add(self, shapes: Any, label: str, values: Sequence[float]) -> None:
        shapes.set_clip_on(False)
        if label:
            shapes.set_gid(self._group(label, values))
        self.axes.add_collection(shapes, autolim=False)

    def _group(self, label: str, values: Sequence[float]) -> str:
        """What a group of shapes is, and the id by which it is found again."""
        name = f"group{len(self.contents.groups)}"
        self.contents.groups[name] = (plain(label), values)
        return name

    def ticks(self, title: str, begin: float | None = None, whole: bool = False) -> None:
        """Round figures (`whole` ones) below the axes from `begin` on, lines up from them, and what they
        measure."""
        from matplotlib.ticker import MaxNLocator

        first, noise = self.left if begin is None else begin, 1e-6 * (self.right - self.left)
        spots = [float(spot) for spot in MaxNLocator(5, steps=[1, 2, 2.5, 5, 10], integer=whole).tick_values(
            first, self.right) if first - noise <= spot <= self.right + noise]
        for spot, said in zip(spots, map(rounded(spots), spots), strict=True):
            self.axes.vlines(spot, 0.0, self.height, colors=QUIET if spot == 0.0 else RULE, linewidths=0.8,
                             zorder=1, clip_on=False)
            self.text(spot, self.height + 15.0, said, self._side(spot, said), fontsize=SMALL)
        self.text(self.right, self.height + 31.0, title, "right", fontsize=SMALL, color=QUIET)

    def levels(self, values: Sequence[float], down: Callable[[float], float]) -> None:
        """Lines across at round values, each with its figure above it at the left; `down` gives their
        place."""
        told = rounded(values)
        for value in values:
            self.axes.hlines(down(value), self.left, self.right, colors=RULE, linewidths=0.8, zorder=1,
                             clip_on=False)
            self.text(self.left, down(value) - 3.0, told(value), fontsize=SMALL)

    def _side(self, spot: float, said: str) -> str:
        """How a figure stands at its tick so that it does not run off the picture."""
        half = 0.5 * LETTER * len(said) - SIDE
        near = half * self.unit
        return "left" if spot - self.left < near else "right" if self.right - spot < near else "center"


def rounded(spots: Sequence[float]) -> Callable[[float], str]:
    """How ticks are written: with no more decimals than tell them apart."""
    decimals = next((few for few in range(6) if all(
        abs(spot - round(spot, few)) < 1e-6 * max(map(abs, spots), default=1.0) for spot in spots)), 6)
    return lambda spot: number(spot, decimals)


@contextmanager
def _quiet() -> Iterator[None]:
    """The library's own defaults with our settings, whatever the user's are, and no word of where it keeps
    its fonts."""
    log = logging.getLogger("matplotlib")
    before = log.level
    log.setLevel(logging.ERROR)
    try:
        import matplotlib

        with matplotlib.rc_context():
            matplotlib.rcdefaults()
            with matplotlib.rc_context(SETTINGS):
                yield
    finally:
        log.setLevel(before)


def draw(kind: str, title: str, alternative: str, table: Table, keys: Sequence[Key],
         across: tuple[float, float], height: float, paint: Callable[[Canvas], None]) -> Chart:
    """A chart `height` units high between legend and ticks, on which `paint` draws.

    The ids in it begin with `kind` and a digest of the words, so that a page may hold many charts and the
    same chart is the same bytes.
    """
    digest = hashlib.sha256("\n".join((title, alternative)).encode()).hexdigest()
    with _quiet():
        from matplotlib.backends.backend_svg import FigureCanvasSVG
        from matplotlib.figure import Figure

        columns, rows = legend_rows(keys)
        top, told = rows * LEGEND_ROW + 4.0, StringIO()
        tall = top + height + AXIS
        figure = Figure(figsize=(WIDTH / 72.0, tall / 72.0))
        figure.patch.set_visible(False)
        axes = figure.add_axes((SIDE / WIDTH, AXIS / tall, 1.0 - 2.0 * SIDE / WIDTH, height / tall))
        axes.set(xlim=across, ylim=(height, 0.0))
        axes.set_axis_off()
        canvas = Canvas(figure, axes, *across, height)
        if keys:
            draw_legend(figure, canvas.contents, keys, columns, SIDE / WIDTH)
        paint(canvas)
        FigureCanvasSVG(figure).print_svg(told, metadata={"Date": None})
    svg = fragment(told.getvalue(), f"{kind}-{digest[:8]}", title, alternative, canvas.contents)
    return Chart(svg, title, alternative, table)

"""Colors, hatches and lines of shapes, and the legend that names them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from optibuild.report.charts.chart import cut, plain
from optibuild.report.charts.fragment import LETTER, WIDTH, Contents
from optibuild.report.charts.hatch import Line, hatched
from optibuild.report.charts.palette import COLORS, HATCHES, INK
from optibuild.report.console import display_width

LONGEST = 50
"""Columns of an entry."""


@dataclass(frozen=True)
class Key:
    """One entry of a legend: a color with its hatch, or a `line`."""

    label: str
    part: int = 0
    line: bool = False


def color(part: int) -> str:
    """The color of a part."""
    return COLORS[part % len(COLORS)]


def hatch(part: int) -> str:
    """The hatch of a part."""
    return HATCHES[part % len(HATCHES)]


def white(lines: Sequence[Line]) -> Any:
    """White lines as one path."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    corners = [corner for line in lines for corner in line]
    return PathPatch(Path(corners, [Path.MOVETO, Path.LINETO] * len(lines)), fill=False, edgecolor="white",
                     linewidth=1.0)


def _swatches() -> Any:
    """What draws a legend's entry of a color with its hatch."""
    from matplotlib.legend_handler import HandlerPatch
    from matplotlib.patches import Patch, Rectangle

    class Swatch(HandlerPatch):
        def create_artists(self, legend: Any, orig_handle: Any, xdescent: float, ydescent: float,
                           width: float, height: float, fontsize: float, trans: Any) -> list[Any]:
            part = int(orig_handle.get_label())
            lines = [((x, height - y), (u, height - v))
                     for (x, y), (u, v) in hatched(hatch(part), (0.0, width, 0.0, height))]
            found = [Rectangle((0.0, 0.0), width, height, facecolor=color(part), linewidth=0.0),
                     *([white(lines)] if lines else [])]
            for shape in found:
                shape.set_transform(trans)
            return found

    return {Patch: Swatch()}


def legend_rows(keys: Sequence[Key]) -> tuple[int, int]:
    """Columns and rows of a legend: as many columns as the widest entry leaves room for."""
    widest = max((display_width(key.label) for key in keys), default=0) * LETTER + 34.0
    columns = max(1, min(len(keys), int((WIDTH - 2.0) // widest)))
    return columns, ceil(len(keys) / columns)


def draw_legend(figure: Any, contents: Contents, keys: Sequence[Key], columns: int, left: float) -> None:
    """The entries at the upper left of a figure."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles = [Line2D([], [], color=INK, linewidth=2.0) if key.line else
               Patch(label=str(key.part)) for key in keys]
    labels = [contents.place(cut(plain(key.label), LONGEST), plain(key.label)) for key in keys]
    figure.legend(handles, labels, handler_map=_swatches(), loc="upper left", ncols=columns,
                  bbox_to_anchor=(left, 1.0), frameon=False, borderpad=0.0, borderaxespad=0.0,
                  labelspacing=0.5, handlelength=1.6, handleheight=0.9, handletextpad=0.5, columnspacing=1.2)

"""Variations side by side, and the map of the size that leads."""

from collections.abc import Sequence
from math import ceil

from optibuild.records.comparison import Compared, Comparison, SizeCell, SizeMap
from optibuild.report.charts.canvas import SIDE, SMALL, Canvas, draw
from optibuild.report.charts.chart import Chart, foremost, named, shown_of
from optibuild.report.charts.fragment import LETTER, WIDTH
from optibuild.report.charts.hatch import Box
from optibuild.report.charts.legend import Key
from optibuild.report.charts.lying_bars import Bars, Row, Span, lying_bars
from optibuild.report.console import clean, display_width, number, usd
from optibuild.report.tables import Column, Table, dollars
from optibuild.report.vary_tables import ASKED, cells_table, in_order, verdict_words

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CELL, STRIP = 34.0, 12.0
NAMES, NARROW = 96.0, 24.0
"""Height of a row of cells and of its colored strip; room for names at the left; cells that take small
letters."""
LEAST_TOLD_USD = 0.5


# ---- costs


def variation_costs(found: Comparison) -> Chart | None:
    """What each case costs, or covers, or earns, the least cost first, with a line to what no plan can beat;
    None where no case has a plan. Cases that ask another question than the base have no bar."""
    if not found.rows:
        return None
    base = found.rows[0]
    asked, sign = ASKED[base.question]
    rows = [row for row in in_order(found.rows, "cost") if row.question == base.question]
    if all(row.objective_usd is None for row in rows):
        return None
    shown = foremost(rows, lambda row: -_least(row))
    table = Table((Column("case"), dollars(asked), dollars(f"{asked} at {'least' if sign > 0 else 'most'}"),
                   Column("against the base")),
                  tuple((row.name, _times(row.objective_usd, sign), _times(row.bound_usd, sign),
                         verdict_words(row, base.question)) for row in rows))
    lost = ", sites left out counted with what they would pay" if sign > 0 else ""
    told = (f"A bar for each case: {asked} of its plan{lost}. A line leads to what no plan of the case can "
            "beat.")
    bars = Bars((asked,), f"{asked}, USD a season", whisker="to what no plan can beat")
    title = _title(rows, base, asked, sign) + shown_of(shown, rows, "best cases")
    return lying_bars("variations", title, told, table, bars, [_bar(row, base, sign) for row in shown])


def _least(row: Compared) -> float:
    return float("inf") if row.objective_usd is None else row.objective_usd


def _times(value: float | None, sign: float) -> float | None:
    return None if value is None else sign * value


def _title(rows: Sequence[Compared], base: Compared, asked: str, sign: float) -> str:
    best = min(rows, key=_least)
    if best is base or best.difference.verdict == "equal":
        return f"No variation is better than the base: {asked} {usd(sign * _least(best))}."
    sure = " (not sure: the ranges overlap)" if best.difference.verdict == "undecided" else ""
    beside = "" if base.objective_usd is None else f" against {usd(sign * base.objective_usd)} in the base"
    return f"The best is {named(best.name)}: {asked} {usd(sign * _least(best))}{beside}{sure}."


def _bar(row: Compared, base: Compared, sign: float) -> Row:
    if row.objective_usd is None:
        return Row(row.name, f"no plan ({row.stopped})", ())
    value = sign * row.objective_usd
    note: str = number(value, 0)
    ends: tuple[float, float] | None = None
    if row.bound_usd is not None and abs(row.bound_usd - row.objective_usd) > LEAST_TOLD_USD:
        bound = sign * row.bound_usd
        note = f"{note}, at {'least' if sign > 0 else 'most'} {number(bound, 0)}"
        ends = _ordered(value, bound)
    sure = ", undecided" if row is not base and row.difference.verdict == "undecided" else ""
    return Row(row.name, note + sure, (Span(0, *_ordered(0.0, value)),) if value else (), whisker=ends)


def _ordered(one: float, other: float) -> tuple[float, float]:
    return min(one, other), max(one, other)


# ---- sizes


def size_map(found: SizeMap) -> Chart | None:
    """Which size of truck leads in each cell of a two-way sweep, by color, hatch and letter; `?` where that
    is not proved. None without cells."""
    if not found.cells:
        return None
    sizes = [size for size in found.sizes if any(size in cell.leading for cell in found.cells)]
    keys = [Key(f"{_letter(found, size)} {clean(size)}", found.sizes.index(size)) for size in sizes]
    told = (f"A grid of answers: {named(found.down)} downward, {named(found.across)} across. Each cell has "
            "the color, hatch and letter of the size of which its plan has most trucks, of several where "
            "they are as many; ? says that this is not proved, - that the plan has no trucks or there is "
            "none.")
    return draw("sizes", _leader(found, sizes), told, cells_table(found), keys, (0.0, WIDTH - 2.0 * SIDE),
                CELL * len(found.down_values), lambda canvas: _paint(canvas, found))


def _letter(found: SizeMap, size: str) -> str:
    return LETTERS[found.sizes.index(size) % len(LETTERS)]


def _leader(found: SizeMap, sizes: Sequence[str]) -> str:
    if not sizes:
        return f"No cell of {named(found.down)} by {named(found.across)} has a plan with trucks."
    wins = {size: sum(size in cell.leading for cell in found.cells) for size in sizes}
    most = max(sizes, key=lambda size: wins[size])
    return (f"{named(most)} leads in {wins[most]} of {len(found.cells)} cells of {named(found.down)} by "
            f"{named(found.across)}.")


def _paint(canvas: Canvas, found: SizeMap) -> None:
    wide = (canvas.right - NAMES) / len(found.across_values)
    rows = {value: n for n, value in enumerate(found.down_values)}
    columns = {value: n for n, value in enumerate(found.across_values)}
    for value, n in rows.items():
        canvas.text(0.0, CELL * n + 20.0, value, room=NAMES - 6.0)
    _across(canvas, found, wide)
    corner = [(NAMES + wide * columns[cell.across], CELL * rows[cell.down], cell) for cell in found.cells]
    for part, size in enumerate(found.sizes):
        boxes = [_strip(x, y, wide, cell, size) for x, y, cell in corner if size in cell.leading]
        canvas.boxes(part, size, boxes, [1.0] * len(boxes))
    for x, y, cell in corner:
        canvas.text(x + 0.5 * wide, y + STRIP + 15.0, _said(found, cell), "center", wide,
                    fontsize=12.0 if wide > NARROW else 9.0)


def _strip(x: float, y: float, wide: float, cell: SizeCell, size: str) -> Box:
    """A size's piece of a cell's strip, of as many pieces as sizes lead together."""
    piece = (wide - 2.0) / len(cell.leading)
    begin = x + 1.0 + piece * cell.leading.index(size)
    return begin, begin + piece, y + 1.0, y + 1.0 + STRIP


def _said(found: SizeMap, cell: SizeCell) -> str:
    letters = "".join(_letter(found, size) for size in cell.leading) or "-"
    return letters if cell.decided else f"{letters}?"


def _across(canvas: Canvas, found: SizeMap, wide: float) -> None:
    """Values below the grid, only every so many of them where they would touch; the names of both sweeps."""
    widest = max(map(display_width, found.across_values))
    every = ceil(min(widest, 14) * LETTER / wide + 1e-9)
    for n, value in enumerate(found.across_values):
        if n % every == 0:
            canvas.text(NAMES + wide * (n + 0.5), canvas.height + 15.0, value, "center", every * wide,
                        fontsize=SMALL)
    canvas.text(0.0, canvas.height + 31.0, f"down: {clean(found.down)}; across: {clean(found.across)}",
                fontsize=SMALL)

"""A frontier: the contract value that can be covered, against budget, drivers or snowfall rate."""

from collections.abc import Sequence
from typing import NamedTuple

from optibuild.records.frontier import Frontier, FrontierKey, FrontierStep
from optibuild.report.charts.canvas import SMALL, Canvas, draw
from optibuild.report.charts.chart import Chart
from optibuild.report.charts.hatch import Box
from optibuild.report.charts.legend import Key
from optibuild.report.console import number, usd
from optibuild.report.tables import Column, Table, Units, count, dollars

HEIGHT, TITLE = 220.0, 36.0
FIGURES = 0.2
"""Room at the left for the figures of the contract value, as a share of the whole width."""
LEAST_TOLD_USD = 0.5
BEYOND = 0.08
"""The last step is drawn on by such a share of the whole width, but by a whole driver."""


class Reach(NamedTuple):
    """A piece of the frontier: from where to where, what is covered there, and what cannot be exceeded."""

    begin: float
    end: float
    covered_usd: float
    most_usd: float


def frontier_steps(found: Frontier, units: Units) -> Chart | None:
    """The steps, with a hatched band where more is neither found nor ruled out; None without steps."""
    if not found.steps:
        return None
    pieces = _pieces(found, units)
    column = _column(found.key, units)
    table = Table((column, dollars("contract value"), dollars("at most, up to the next"), dollars("capital"),
                   count("trucks"), count("sites")), tuple(
        (_value(row, found.key, units), row.contract_value_usd, row.bound_usd, row.capital_usd, row.trucks,
         len(row.sites)) for row in found.steps))
    told = (f"A line of {_counted(len(found.steps), 'step')}: the contract value covered, against "
            f"{column.title}. Above it a hatched band, where a plan that covers more is neither found nor "
            "ruled out.")
    band = any(_open(piece) for piece in pieces)
    keys = (Key("covered by a plan", line=True), Key("neither found nor ruled out", 1)) if band else ()
    begin, end = min(piece.begin for piece in pieces), max(piece.end for piece in pieces)
    return draw("frontier", _title(found, column, units), told, table, keys,
                (begin - FIGURES * (end - begin), end), HEIGHT,
                lambda canvas: _paint(canvas, pieces, column.title, begin, found.key == "drivers"))


def _column(key: FrontierKey, units: Units) -> Column:
    depth = units.depth("").unit
    return {"budget": dollars("budget"), "drivers": count("drivers"),
            "rate": Column("snowfall rate", f"{depth}/h", 2)}[key]


def _value(step: FrontierStep, key: FrontierKey, units: Units) -> float:
    return _shown(step.value, key, units)


def _shown(value: float, key: FrontierKey, units: Units) -> float:
    """A value of the key as shown; a rate by the hour."""
    return (units.deep(60.0 * value) or 0.0) if key == "rate" else value


def _title(found: Frontier, column: Column, units: Units) -> str:
    last = found.steps[-1]
    at = number(_value(last, found.key, units), column.decimals or 0)
    needs = {"budget": f"takes a budget of {at} USD",
             "drivers": f"takes {_counted(round(last.value), 'driver')}",
             "rate": f"holds up to {at} {column.unit} of snow"}[found.key]
    return (f"At the most {number(last.contract_value_usd, 0)} of {usd(found.offered_usd)} of contract value "
            f"is covered; that {needs}.")


def _counted(number_of: int, word: str) -> str:
    return f"{number_of} {word}{'' if number_of == 1 else 's'}"


def _pieces(found: Frontier, units: Units) -> list[Reach]:
    """Each step up to the next one. A snowfall rate is easier the less it is, so that its steps run back."""
    starts = [_value(row, found.key, units) for row in found.steps]
    wide = (max(starts) - min(starts)) or abs(starts[0]) or 1.0
    beyond = {"budget": BEYOND * wide, "drivers": 1.0, "rate": -BEYOND * wide}[found.key]
    ends = [*starts[1:], max(0.0, starts[-1] + beyond)]
    return [Reach(min(a, b), max(a, b), row.contract_value_usd, max(row.bound_usd, row.contract_value_usd))
            for a, b, row in zip(starts, ends, found.steps, strict=True)]


def _open(piece: Reach) -> bool:
    return piece.most_usd > piece.covered_usd + LEAST_TOLD_USD


def _paint(canvas: Canvas, pieces: Sequence[Reach], axis: str, begin: float, whole: bool) -> None:
    from matplotlib.ticker import MaxNLocator

    canvas.ticks(axis, begin, whole)
    top = max(piece.most_usd for piece in pieces) or 1.0
    high = max(top, float(MaxNLocator(4).tick_values(0.0, top)[-1]))

    def down(value: float) -> float:
        """Where a sum of money stands, in units of the picture from above."""
        return canvas.height - (canvas.height - TITLE) * value / high

    canvas.levels([spot for spot in MaxNLocator(4).tick_values(0.0, high) if 0.0 < spot <= high], down)
    canvas.text(canvas.left, 10.0, "contract value [USD]", fontsize=SMALL)
    bands = [one for one in pieces if _open(one)]
    boxes: list[Box] = [(one.begin, one.end, down(one.most_usd), down(one.covered_usd)) for one in bands]
    canvas.boxes(1, "neither found nor ruled out", boxes, [one.most_usd - one.covered_usd for one in bands])
    line = [(at, down(one.covered_usd)) for one in sorted(pieces) for at in (one.begin, one.end)]
    canvas.lines("covered by a plan", [line], [pieces[-1].covered_usd])

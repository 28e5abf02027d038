"""What every chart is: a picture, the finding as its title, the same in words, and the figures behind it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from optibuild.report.console import clean, display_width
from optibuild.report.tables import Table

MOST_ROWS = 30
"""Rows that a picture shows; the table behind it has them all."""
LONGEST = 60
"""Columns of a name in a title."""
ALONE, AGAIN = "\u2068", "\u2069"
Row = TypeVar("Row")


@dataclass(frozen=True)
class Chart:
    """`svg` goes into an HTML page as it is: no style, script or reference that a strict policy would forbid.

    `title` says the finding, `alternative` what the picture shows. Both are text, not markup.
    """

    svg: str
    title: str
    alternative: str
    table: Table


def foremost(rows: Sequence[Row], key: Callable[[Row], float]) -> list[Row]:
    """The rows with the greatest keys, at most `MOST_ROWS`, in the order they came in."""
    kept = sorted(range(len(rows)), key=lambda n: (-key(rows[n]), n))[:MOST_ROWS]
    return [rows[n] for n in sorted(kept)]


def shown_of(shown: Sequence[object], rows: Sequence[object], which: str) -> str:
    """A sentence that says which rows are left out of the picture; nothing where none are."""
    return "" if len(shown) == len(rows) else f" Shown are the {len(shown)} of {len(rows)} {which}."


def named(text: str) -> str:
    """A text of the user's inside a sentence of ours: its direction does not turn what stands around it."""
    return f"{ALONE}{cut(clean(text), LONGEST)}{AGAIN}"


def plain(text: str) -> str:
    """Text without characters that would not be seen; what `named` put around a part of it stays."""
    return "".join(mark if mark in (ALONE, AGAIN) else clean(mark) for mark in text)


def cut(text: str, width: float) -> str:
    """A text no wider than so many columns, with an ellipsis where something is missing."""
    if display_width(text) <= width:
        return text
    kept = ""
    for mark in text:
        if display_width(kept + mark) > width - 1:
            break
        kept += mark
    return kept.rstrip() + "…"


def share(part: float, whole: float) -> str:
    """A share in whole percent."""
    return f"{round(100.0 * part / whole)} %" if whole else "0 %"

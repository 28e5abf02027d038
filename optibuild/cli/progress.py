"""The progress of a search: one line on standard error, rewritten while it runs, only on a terminal."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import isfinite
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optibuild.pipeline import Progress

WIDTH = 79


@contextmanager
def shown_progress() -> Iterator["Callable[[Progress], None] | None"]:
    """Gives what to tell progress to, or None where nobody watches; clears the line at the end."""
    if not sys.stderr.isatty():
        yield None
        return
    try:
        yield _show
    finally:
        _write("")


def _show(at: "Progress") -> None:
    _write(progress_line(at.columns, at.best, at.bound, at.seconds))


def progress_line(columns: int, best: float, bound: float, seconds: float) -> str:
    """Where the search stands, in one line."""
    gap = (f"{100 * max(0.0, best - bound) / max(abs(best), 0.01):.2f} %"
           if isfinite(best) and isfinite(bound) else "-")
    return (f"{seconds:6.1f} s  {columns:,} loops  best {_money(best)}  bound {_money(bound)}  gap {gap}")


def _money(value: float) -> str:
    return f"{value:,.0f} USD" if isfinite(value) else "-"


def _write(line: str) -> None:
    sys.stderr.write(f"\r{line[:WIDTH]:<{WIDTH}}\r{line[:WIDTH]}")
    sys.stderr.flush()

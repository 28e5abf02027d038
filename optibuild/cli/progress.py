"""What happens while a search runs: one line on a terminal's standard error, and Ctrl-C kept for it."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import isfinite
from time import monotonic
from typing import TYPE_CHECKING, Any

from optibuild.cli.streams import STAGES, live, rewrite, screen_width

if TYPE_CHECKING:
    from optibuild.pipeline import Progress
    from optibuild.records import Case

EVERY_S = 0.1
MOST_PERCENT = 1000
SIZES = {1e6: "M", 1e3: "k", 1.0: ""}


class Watcher:
    """Told of progress by the search: rewrites the line, hands on a Ctrl-C where the search can take it.

    `must` of the `sites` have to be served.
    """

    def __init__(self, to_terminal: bool, sites: int, must: int) -> None:
        self.to_terminal = to_terminal
        self.sites, self.must = sites, must
        self.searching = False
        self.interrupted = False
        self.drawn = 0.0

    def __call__(self, at: "Progress") -> None:
        """Called right before the search, and by it between its steps."""
        self.searching = True
        if self.interrupted:
            raise KeyboardInterrupt
        if self.to_terminal and monotonic() - self.drawn > EVERY_S:
            self.drawn = monotonic()
            covered = covered_sites(isfinite(at.best), self.sites, self.must)
            rewrite(progress_line(covered, at.columns, at.best, at.bound, at.seconds))

    def on_signal(self, *_: Any) -> None:
        """Before the search Ctrl-C ends the command. In it, the first is noted, for compiled code must not be
        left halfway; the second is as usual."""
        if self.interrupted or not self.searching:
            raise KeyboardInterrupt
        self.interrupted = True


@contextmanager
def watched(case: "Case") -> Iterator[Callable[["Progress"], None]]:
    """Gives what to tell progress to; puts Ctrl-C and the terminal's line back in order at the end."""
    watcher = Watcher(live(), len(case.sites), sum(site.must_serve for site in case.sites))
    main_thread = threading.current_thread() is threading.main_thread()
    STAGES.info("program loaded")
    before = signal.signal(signal.SIGINT, watcher.on_signal) if main_thread else None
    try:
        yield watcher
    finally:
        if main_thread:
            signal.signal(signal.SIGINT, before)
        if watcher.drawn:
            rewrite("")


def covered_sites(planned: bool, sites: int, must: int) -> str:
    """How many sites of all are covered: none before there is a plan; then those that must be, `+` where
    others may be too."""
    return f"{must if planned else 0}{'+' if planned and must < sites else ''}/{sites}"


def progress_line(covered: str, columns: int, best: float, bound: float, seconds: float) -> str:
    """Where the search stands, in one line that the terminal has room for; money is in USD, and long numbers
    are shortened where the line would be too long."""
    ends = f"{seconds:6.1f} s  {covered} sites  ", f"  gap {_gap(best, bound)}"
    middles = (f"{columns:,} loops  best {_whole(best, ' USD')}  bound {_whole(bound, ' USD')}",
               f"{columns:,} loops  best {_whole(best)}  bound {_whole(bound)}",
               f"{_short(columns)} loops  best {_short(best)}  bound {_short(bound)}")
    lines = [middle.join(ends) for middle in middles]
    room = screen_width() - 1
    return next((line for line in lines if len(line) <= room), lines[-1][:room])


def _gap(best: float, bound: float) -> str:
    if not (isfinite(best) and isfinite(bound)):
        return "-"
    percent = 100.0 * max(0.0, best - bound) / max(abs(best), 0.01)
    return f"{percent:.2f} %" if percent < MOST_PERCENT else f"over {MOST_PERCENT} %"


def _whole(value: float, unit: str = "") -> str:
    return f"{value:,.0f}{unit}" if isfinite(value) else "-"


def _short(value: float) -> str:
    """A number to four digits: thousands k, millions M."""
    if not isfinite(value):
        return "-"
    size = next((size for size in (1e6, 1e3) if abs(value) >= size), 1.0)
    return f"{value / size:.4g}{SIZES[size]}"

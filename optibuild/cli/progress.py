"""What happens while a search runs: one line on a terminal's standard error, and Ctrl-C kept for it."""

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import isfinite
from time import monotonic
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optibuild.pipeline import Progress

WIDTH = 79
EVERY_S = 0.1


class Watcher:
    """Told of progress by the search: rewrites the line, hands on a Ctrl-C where the search can take it."""

    def __init__(self, to_terminal: bool) -> None:
        self.to_terminal = to_terminal
        self.interrupted = False
        self.drawn = 0.0

    def __call__(self, at: "Progress") -> None:
        """Called by the search between its steps."""
        if self.interrupted:
            raise KeyboardInterrupt
        if self.to_terminal and monotonic() - self.drawn > EVERY_S:
            self.drawn = monotonic()
            _write(progress_line(at.columns, at.best, at.bound, at.seconds))

    def on_signal(self, *_: Any) -> None:
        """First Ctrl-C: noted, for compiled code must not be left halfway. Second: as usual."""
        if self.interrupted:
            raise KeyboardInterrupt
        self.interrupted = True


@contextmanager
def watched() -> Iterator[Callable[["Progress"], None]]:
    """Gives what to tell progress to; puts Ctrl-C and the terminal's line back in order at the end."""
    watcher = Watcher(sys.stderr.isatty())
    main_thread = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, watcher.on_signal) if main_thread else None
    try:
        yield watcher
    finally:
        if main_thread:
            signal.signal(signal.SIGINT, before)
        if watcher.drawn:
            _write("")
            sys.stderr.write("\r")


def progress_line(columns: int, best: float, bound: float, seconds: float) -> str:
    """Where the search stands, in one line."""
    gap = (f"{100 * max(0.0, best - bound) / max(abs(best), 0.01):.2f} %"
           if isfinite(best) and isfinite(bound) else "-")
    return f"{seconds:6.1f} s  {columns:,} loops  best {_money(best)}  bound {_money(bound)}  gap {gap}"


def _money(value: float) -> str:
    return f"{value:,.0f} USD" if isfinite(value) else "-"


def _write(line: str) -> None:
    sys.stderr.write(f"\r{line[:WIDTH]:<{WIDTH}}")
    sys.stderr.flush()

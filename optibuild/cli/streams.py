"""Standard output, which must take the result, and standard error, which may be gone: how much it is told."""

import contextlib
import errno
import os
import sys
from logging import INFO, Handler, LogRecord, getLogger
from shutil import get_terminal_size
from time import time
from typing import Any

import click

from optibuild.errors import OptibuildError

STAGES = getLogger("optibuild.stages")
"""What every stage says when it has ended; nobody listens but for --verbose."""
LOUDNESS = "optibuild.loudness"
WIDEST, SLIMMEST = 80, 30


def say(text: str, nl: bool = True) -> None:
    """Print a result; OptibuildError where it cannot be written, as on a full disk."""
    if sys.stdout is None:
        raise OptibuildError("the result cannot be written: standard output is closed")
    try:
        click.echo(text, nl=nl)
    except OSError as error:
        if error.errno == errno.EPIPE:
            raise
        drop_output()
        raise OptibuildError(f"the result cannot be written: {error.strerror or error}") from None


def note(text: str) -> None:
    """Tell something beside the result, but for --quiet."""
    if loudness() != "quiet":
        complain(text)


def complain(text: str) -> None:
    """Tell what went wrong; without a standard error that takes it, nobody is told."""
    with contextlib.suppress(OSError):
        click.echo(text, err=True)


def loudness() -> str:
    """`quiet`, `verbose` or, where neither is asked, nothing."""
    context = click.get_current_context(silent=True)
    return context.meta.get(LOUDNESS, "") if context else ""


def live() -> bool:
    """Whether a line that is written over and over can be shown."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb" and loudness() != "quiet"


def rewrite(line: str) -> None:
    """Put a line in place of the one before it on standard error; an empty one clears it."""
    room = screen_width() - 1
    sys.stderr.write(f"\r{line[:room]:<{room}}{'' if line else chr(13)}")
    sys.stderr.flush()


def screen_width() -> int:
    """Columns that a text may take."""
    return min(WIDEST, max(SLIMMEST, get_terminal_size().columns))


class _Seconds(Handler):
    """Tells each stage when it has ended, with the seconds since the one before."""

    def __init__(self) -> None:
        super().__init__()
        self.since = time()

    def emit(self, record: LogRecord) -> None:
        if live():
            rewrite("")
        complain(f"{record.created - self.since:7.2f} s  {record.getMessage()}")
        self.since = record.created


def _set(context: click.Context, option: click.Parameter, given: bool) -> None:
    """Quiet or verbose from here to the end of the command."""
    if not given:
        return
    if context.meta.setdefault(LOUDNESS, option.name) != option.name:
        raise click.UsageError("--quiet and --verbose cannot be asked at once")
    if option.name == "verbose" and not STAGES.handlers:
        STAGES.setLevel(INFO)
        STAGES.addHandler(seconds := _Seconds())
        context.find_root().call_on_close(lambda: STAGES.removeHandler(seconds))


def loudness_options() -> list[click.Option]:
    """--quiet and --verbose, which every command and the group before it take."""
    shared: dict[str, Any] = {"is_flag": True, "expose_value": False, "callback": _set}
    return [
        click.Option(["-q", "--quiet"], help="No notes and no progress; results and errors only.", **shared),
        click.Option(["-v", "--verbose"], help="Tell every stage with its seconds, and where an unexpected "
                                               "failure happened.", **shared)]


def drop_output() -> None:
    """What could not be written is given up, or Python would try again at its end and fail once more."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def open_missing() -> None:
    """A standard error that is closed leads nowhere, and its number is not left to the next file opened."""
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115

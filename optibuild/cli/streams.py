"""Standard output, which must take the result, and standard error, which may be gone."""

import contextlib
import errno
import os
import sys

import click

from optibuild.errors import OptibuildError


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
    """Tell something beside the result; without a standard error that takes it, nobody is told."""
    with contextlib.suppress(OSError):
        click.echo(text, err=True)


def drop_output() -> None:
    """What could not be written is given up, or Python would try again at its end and fail once more."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def open_missing() -> None:
    """A standard error that is closed leads nowhere, and its number is not left to the next file opened."""
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115

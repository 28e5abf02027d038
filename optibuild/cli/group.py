"""The command group: help, version, and how errors end a command."""

import errno
import os
import sys
from typing import Any

import click

from optibuild.cli.streams import drop_output, note, open_missing, say
from optibuild.errors import InputProblems, OptibuildError

TRACEBACK = "OPTIBUILD_TRACEBACK"
FIRST = "First: optibuild check CASE, a folder with case.toml and its tables."


class Commands(click.Group):
    """A group whose commands end with the error's own exit code and never with a traceback."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run; a character that the terminal cannot show is escaped instead of ending the command."""
        open_missing()
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="backslashreplace")
        try:
            return super().main(*args, **extra)
        except OSError as error:
            # what click itself prints, as help does
            if error.errno != errno.ENOSPC:
                raise
            drop_output()
            note(f"Error: the text cannot be written: {error.strerror}")
            sys.exit(OptibuildError.exit_code)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command and turn what it raises into a message and an exit code."""
        try:
            return super().invoke(ctx)
        except OptibuildError as error:
            note(_words(error))
            ctx.exit(error.exit_code)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            if os.environ.get(TRACEBACK) or getattr(error, "errno", None) in (errno.EPIPE, errno.ENOSPC):
                raise
            note(f"unexpected failure: {type(error).__name__}: {error}")
            note(f"Set {TRACEBACK}=1 to see where.")
            ctx.exit(OptibuildError.exit_code)


def _words(error: OptibuildError) -> str:
    from optibuild.report import paragraph, problems_text

    if isinstance(error, InputProblems):
        return problems_text(error.problems)
    return paragraph(f"Error: {error}", indent="  ")


@click.group(cls=Commands, invoke_without_command=True, no_args_is_help=False,
             context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="optibuild", message="optibuild %(version)s")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Choose trucks, plows, spreaders and ballast for snow and ice control, and the loops they drive.

    A case is a folder with case.toml and tables. Results go to standard output, notes to standard error.

    Exit codes: 0 done; 1 unexpected failure; 2 wrong usage; 3 problems in the input; 4 no plan exists;
    5 stopped before any plan; 6 recheck failed or inputs changed.
    """
    if ctx.invoked_subcommand is None:
        say(f"{ctx.get_help()}\n\n{FIRST}")

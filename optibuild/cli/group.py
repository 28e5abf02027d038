"""The command group: help, version, completion, and how errors end a command."""

import errno
import json
import sys
from dataclasses import asdict
from traceback import format_exc
from typing import Any

import click
from click.shell_completion import get_completion_class

from optibuild.cli.streams import (
    STAGES,
    complain,
    drop_output,
    loudness,
    loudness_options,
    open_missing,
    say,
    screen_width,
)
from optibuild.errors import InputProblems, OptibuildError, StoppedWithoutPlan, UsageError

JSON = "optibuild.json"
FIRST = """First:
  optibuild new my-case                   write a small case, then change it
  optibuild check my-case                 list what is wrong in it
  optibuild plan my-case --out my-plan    plan it; open my-plan/report.html"""
INTERRUPTED = "interrupted before there was a result; the same command begins anew"
SHELLS = ("bash", "zsh", "fish")


class Commands(click.Group):
    """A group whose commands end with the error's own exit code and never with a traceback."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run; a character that the terminal cannot show is escaped instead of ending the command."""
        open_missing()
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="backslashreplace")
        try:
            return super().main(*args, terminal_width=screen_width() - 2, **extra)
        except OSError as error:
            # what click itself prints, as help does
            if error.errno != errno.ENOSPC:
                raise
            drop_output()
            complain(f"Error: the text cannot be written: {error.strerror}")
            sys.exit(OptibuildError.exit_code)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Note whether JSON is asked before anything can be refused."""
        ctx.meta[JSON] = "--json" in args
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command and turn what it raises into a message and an exit code."""
        try:
            return super().invoke(ctx)
        except (click.exceptions.Exit, click.Abort):
            raise
        except click.ClickException as error:
            # click tells it on standard error, with the usage
            _as_json(ctx, UsageError(error.format_message()))
            raise
        except (Exception, KeyboardInterrupt) as error:
            if getattr(error, "errno", None) in (errno.EPIPE, errno.ENOSPC):
                raise
            told = error if isinstance(error, OptibuildError) else _unforeseen(error)
            if not (_as_json(ctx, told) and isinstance(told, InputProblems)):
                complain(_words(told))
            ctx.exit(told.exit_code)
        finally:
            STAGES.info("end")


def _unforeseen(error: BaseException) -> OptibuildError:
    """What no command foresaw: Ctrl-C, or a defect, whose place is told where it is asked for."""
    if isinstance(error, KeyboardInterrupt):
        return StoppedWithoutPlan(INTERRUPTED, True)
    if loudness() == "verbose":
        complain(format_exc())
    return OptibuildError(f"unexpected failure: {type(error).__name__}: {error}. This is a defect of "
                          "optibuild: report it, with what --verbose tells of it")


def _as_json(ctx: click.Context, error: OptibuildError) -> bool:
    """The error as the result, where that is asked as JSON and can be written; whether it was."""
    if not ctx.meta[JSON]:
        return False
    problems = error.problems if isinstance(error, InputProblems) else ()
    try:
        say(json.dumps({"ok": False, "exit_code": error.exit_code, "error": str(error),
                        "problems": [asdict(row) for row in problems]}, indent=1, ensure_ascii=False))
    except OptibuildError:
        return False
    return True


def _words(error: OptibuildError) -> str:
    from optibuild.report import paragraph, problems_text

    if isinstance(error, InputProblems):
        return problems_text(error.problems)
    return paragraph(f"Error: {error}", indent="  ")


def _completion(ctx: click.Context, _: click.Parameter, shell: str | None) -> None:
    """Print what makes a shell complete commands, and end."""
    made = get_completion_class(shell) if shell else None
    if made is not None:
        say(made(ctx.command, {}, "optibuild", "_OPTIBUILD_COMPLETE").source())
        ctx.exit()


@click.group(cls=Commands, invoke_without_command=True, no_args_is_help=False,
             context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="optibuild", message="optibuild %(version)s")
@click.option("--completion", type=click.Choice(SHELLS), metavar="SHELL", is_eager=True, expose_value=False,
              callback=_completion, help="Print what lets bash, zsh or fish complete commands and options.")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Choose trucks, plows, spreaders and ballast for snow and ice control, and the loops they drive.

    A case is a folder with case.toml and tables. Results go to standard output, notes and errors to standard
    error. With --json an error is JSON too.

    Exit codes: 0 done; 1 unexpected failure; 2 wrong usage; 3 problems in the input; 4 no plan exists;
    5 ended before there was a result, as by Ctrl-C; 6 recheck failed or inputs changed.

    Example: optibuild new my-case
    """
    if ctx.invoked_subcommand is None:
        say(f"{ctx.get_help()}\n\n{FIRST}")


main.params += loudness_options()

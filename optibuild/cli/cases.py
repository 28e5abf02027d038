"""What the commands share: the CASE argument, --json, opening a case, naming the nearest id."""

import json
from collections.abc import Iterable
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, TypeVar

import click

from optibuild.cli.streams import STAGES, note, say
from optibuild.errors import InputProblems, Problem, UsageError

if TYPE_CHECKING:
    from optibuild.records import Case, Variant

T = TypeVar("T")
MOST_NAMED = 5

case_argument = click.argument("case", type=click.Path())
json_option = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")


def open_case(path: str) -> "Case":
    """The case, with its warnings told on standard error; InputProblems with all that is wrong in it."""
    from optibuild.inputs import check_case

    return _usable(*check_case(path))


def open_variants(path: str) -> "tuple[Variant, ...]":
    """The case and its variations likewise; UsageError without variations.toml."""
    from optibuild.inputs import check_variants

    return _usable(*check_variants(path))


def _usable(read: T | None, problems: tuple[Problem, ...]) -> T:
    STAGES.info("case read")
    if read is None:
        raise InputProblems(problems)
    if problems:
        from optibuild.report import problems_text

        note(problems_text(problems) + "\n")
    return read


def say_json(tree: Any) -> None:
    """Print a tree as JSON on standard output."""
    say(json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False, default=_number))


def _number(value: Any) -> Any:
    """A numpy number as Python's own."""
    return value.item()


def known(kind: str, asked: str, there: Iterable[str], where: str = "the case") -> str:
    """The name asked for; UsageError naming the nearest, or some, where there is no such name."""
    names = list(dict.fromkeys(there))
    if asked in names:
        return asked
    close = get_close_matches(asked, names, n=1, cutoff=0.4)
    there_are = ", ".join([*names[:MOST_NAMED], *(["..."] if len(names) > MOST_NAMED else [])]) or "none"
    hint = f"did you mean '{close[0]}'?" if close else f"there are {there_are}"
    raise UsageError(f"{where} has no {kind} '{asked}'; {hint}")

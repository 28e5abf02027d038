"""What must hold of every spoiled case, whatever was done to it."""

import json
import os
import unicodedata
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from pathlib import Path
from unittest.mock import patch

from click.testing import CliRunner
from mutant_bases import Mutant
from slow_case import WORKBOOK, differences

from optibuild.cli import main
from optibuild.errors import Problem, UsageError
from optibuild.inputs import CODES, check_case, write_case
from optibuild.records import Case

UNPRINTED = ("Cc", "Cf", "Zl", "Zp")
"""Kinds of characters (Unicode, general category) that steer a terminal, hide, or turn the line round."""


@dataclass(frozen=True)
class Seen:
    """What `check_case` made of a mutant: its case if accepted, its problems, and what does not hold."""

    case: Case | None
    problems: tuple[Problem, ...]
    faults: list[str]


def look_at(made: Mutant, path: Path) -> Seen:
    """A mutant that lies at a path: no error but UsageError, sound problems, no value misread."""
    try:
        case, problems = check_case(path)
    except UsageError as error:
        return Seen(None, (), [] if _gone(made) else [f"UsageError: {error}"])
    except Exception as error:  # any other is what this looks for
        return Seen(None, (), [f"{type(error).__name__}: {error}"])
    faults = [*_about(problems, case)]
    if case is not None:
        faults += differences(case, made.files)
    elif made.harmless:
        faults += [f"harmless, but refused: {problem}" for problem in problems if problem.severity == "error"]
    return Seen(case, problems, faults)


def _gone(made: Mutant) -> bool:
    """Whether there is no case any more."""
    return "case.toml" not in made.files and WORKBOOK not in made.files


def _about(problems: tuple[Problem, ...], case: Case | None) -> Iterator[str]:
    """What is wrong with the problems themselves."""
    if (case is None) != any(problem.severity == "error" for problem in problems):
        yield "a case without an error is refused, or one with an error accepted"
    if [problem.places for problem in problems] != sorted(problem.places for problem in problems):
        yield "the problems are not sorted by place"
    for problem in problems:
        if problem.code not in CODES or not (problem.text and problem.remedy and problem.places):
            yield f"no code, text, remedy or place: {problem!r}"


def unprinted(problems: tuple[Problem, ...]) -> list[str]:
    """The problems that say something with characters that cannot be printed, in words."""
    return [repr(problem) for problem in problems
            if _unprinted(f"{problem.text}{problem.remedy}{problem.expected or ''}")]


def _unprinted(text: str) -> bool:
    return any(unicodedata.category(letter) in UNPRINTED for letter in text)


def ends_rightly(made: Mutant, path: Path, case: Case | None) -> Iterator[str]:
    """Exit codes: `check` ends with 0 or 3, or 2 without a case; `plan` of a wrong case writes nothing."""
    wanted = 2 if _gone(made) else 3 if case is None else 0
    told = CliRunner().invoke(main, ["check", str(path), "--json"])
    if told.exit_code != wanted:
        yield f"check --json ends with {told.exit_code}: {told.output:.300}"
    elif wanted != 2 and json.loads(told.stdout)["ok"] is not (case is not None):
        yield "check --json says otherwise"
    said = CliRunner().invoke(main, ["check", str(path)])
    if said.exit_code != wanted or "Traceback" in said.output:
        yield f"check ends with {said.exit_code}: {said.output:.300}"
    if _unprinted(said.output.replace("\n", "")):
        yield f"check prints control characters: {said.output!r:.500}"
    if case is None:
        out = path.parent / "no-plan-here"
        planned = CliRunner().invoke(main, ["plan", str(path), "--out", str(out)])
        if planned.exit_code != wanted or out.exists():
            yield f"plan ends with {planned.exit_code}, or wrote something"


def is_written_whole(case: Case, folder: Path) -> Iterator[str]:
    """A case written as folder and as workbook reads the same again; a disk that fills up leaves nothing."""
    for name in ("folder", "book.xlsx"):
        write_case(case, folder / name)
        again, problems = check_case(folder / name)
        if again is None:
            errors = [str(problem) for problem in problems if problem.severity == "error"]
            yield f"written as {name} it is refused: {errors}"
        elif replace(again, given_as="", inputs=()) != replace(case, given_as="", inputs=()):
            yield f"written as {name} it reads otherwise: {_otherwise(again, case)}"
        yield from _fails_whole(case, folder / "full" / name)


def _otherwise(again: Case, case: Case) -> list[str]:
    pairs = {field.name: (getattr(again, field.name), getattr(case, field.name)) for field in fields(Case)}
    return [f"{name}: {one!r:.300}, not {other!r:.300}" for name, (one, other) in pairs.items()
            if one != other and name not in ("given_as", "inputs")]


def _fails_whole(case: Case, path: Path) -> Iterator[str]:
    """What a write leaves that fails at its last file."""
    renames = [0]

    def full(old: Path, new: Path) -> None:
        renames[0] += 1
        if path.suffix or renames[0] > 3:
            raise OSError(28, "No space left on device")
        os.replace(old, new)

    with patch("os.rename", full), suppress(UsageError):
        write_case(case, path)
        yield f"{path.name} is written on a full disk"
    if path.parent.exists():
        yield f"a failing write of {path.name} leaves {sorted(path.parent.rglob('*'))}"

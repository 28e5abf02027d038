"""The one error tree, and the record that says what is wrong with an input.

Every error knows its exit code. A `Problem` is not an error: it is one row of a list that is shown
whole, so that a user mends a case in one go.
"""

from dataclasses import dataclass


class OptibuildError(Exception):
    """Base of every error a user may see. `exit_code` is what the command ends with."""

    exit_code = 1


class UsageError(OptibuildError):
    """The command was called wrongly, or the case is not there."""

    exit_code = 2


class UnitError(OptibuildError):
    """A text is not a number with a unit of the wanted dimension."""

    exit_code = 3


class TooLarge(OptibuildError):
    """A case was read, and its arrays would not fit in memory."""

    exit_code = 3


class UnusableTiming(OptibuildError):
    """A site was timed with a truck and a plow that cannot plow it."""

    exit_code = 3


class StoppedWithoutPlan(OptibuildError):
    """The search was stopped before it had any plan; `interrupted` says that the user stopped it."""

    exit_code = 5

    def __init__(self, message: str, interrupted: bool = False) -> None:
        self.interrupted = interrupted
        super().__init__(message)


class RecheckFailed(OptibuildError):
    """A plan does not keep what it promises, or its inputs are no longer those it was made from."""

    exit_code = 6


@dataclass(frozen=True, order=True)
class Place:
    """Where a problem stands: file, sheet of a workbook, row as a spreadsheet counts, heading, cell."""

    file: str = ""
    sheet: str = ""
    row: int = 0
    column: str = ""
    cell: str = ""

    def __str__(self) -> str:
        return ", ".join(filter(None, (self.file, self.within())))

    def within(self) -> str:
        """The place inside its file: `row 14, plow_every [h]`; in a workbook `sites!E14, plow_every [h]`."""
        where = f"row {self.row}" if self.row else ""
        if self.sheet and self.cell:
            where = f"{self.sheet}!{self.cell}"
        elif self.sheet:
            where = ", ".join(filter(None, (self.sheet, where)))
        return ", ".join(filter(None, (where, self.column)))


@dataclass(frozen=True)
class Problem:
    """One thing wrong (or doubtful) in the input: a stable code, where, what was found, what was expected."""

    code: str
    title: str
    text: str
    remedy: str
    places: tuple[Place, ...] = ()
    value: str | None = None
    expected: str | None = None
    severity: str = "error"

    def __str__(self) -> str:
        where = "; ".join(str(place) for place in self.places)
        return f"{where}: {self.text}" if where else self.text


class InputProblems(OptibuildError):
    """The input cannot be used; carries every problem found in one run."""

    exit_code = 3

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        count = sum(problem.severity == "error" for problem in problems)
        super().__init__(f"{count} problem{'s' if count != 1 else ''} in the input")

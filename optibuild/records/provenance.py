"""Which plan it is that something was told of."""

from dataclasses import dataclass

from optibuild.records.plan import Outcome, PlannedCase


@dataclass(frozen=True)
class OfCase:
    """The case that something was told of: its name, and its files (path to sha256)."""

    name: str
    inputs: dict[str, str]


@dataclass(frozen=True)
class OfPlan:
    """The plan that something was told of, by its case (with the sha256 of every file) and its outcome, and
    the version of the program that told it."""

    version: str
    case: PlannedCase
    outcome: Outcome

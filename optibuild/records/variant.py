"""A case changed by name."""

from dataclasses import dataclass

from optibuild.records.case import Case


@dataclass(frozen=True)
class Variant:
    """A case with some changes, and what they are.

    `changed` says every change in plain words, in the user's units. `at` is where it stands in the sweeps it
    comes from: (name of the sweep, value as typed), one for each.
    """

    name: str
    changed: tuple[str, ...]
    at: tuple[tuple[str, str], ...]
    case: Case

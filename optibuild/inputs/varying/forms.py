"""What variations.toml may hold: variations, sweeps and combinations, and the changes that they make.

A change finds rows of a table and sets, adds to or scales cells of a column, drops the rows, or copies them;
or it replaces the table. A sweep is one change, or one key, that takes several values; a combination takes
every value of one sweep with every value of the others.
"""

from dataclasses import dataclass
from typing import Any

from optibuild.errors import Place
from optibuild.inputs.declared.columns import TABLES
from optibuild.inputs.declared.problems import printable

BASE = "base"
HOW = ("set", "add", "scale")


@dataclass(frozen=True)
class SetKey:
    """A key of the case and its new value; a blank one leaves the key out. `swept`: a value of a sweep."""

    key: str
    value: Any
    place: Place
    swept: bool = False


@dataclass(frozen=True)
class Cells:
    """What is done to the cells of a column: `how` is one of `HOW`."""

    column: str
    how: str
    value: Any


@dataclass(frozen=True)
class Change:
    """A change to rows of a table. `copy`: the id of the copies, or "" where the table has no ids."""

    table: str
    place: Place
    where: tuple[tuple[str, tuple[Any, ...]], ...] = ()
    cells: tuple[Cells, ...] = ()
    drop: bool = False
    copy: str | None = None
    swept: bool = False


Step = SetKey | Change


@dataclass(frozen=True)
class Written:
    """A variation, sweep or combination as written; of the last three fields each kind has its own.

    `steps` of a variation, in order; `options` of a sweep, each a value as typed and its step; `axes` of a
    combination: names, of which each axis takes one.
    """

    kind: str
    name: str
    place: Place
    inherit: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    options: tuple[tuple[str, Step], ...] = ()
    axes: tuple[tuple[str, ...], ...] = ()


def shown(value: Any) -> str:
    """A value as typed, for names."""
    return str(value).lower() if isinstance(value, bool) else printable(str(value).strip()) or "blank"


def has_ids(table: str) -> bool:
    """Whether the first column of a table names its rows."""
    return TABLES[table][0].field == "id"

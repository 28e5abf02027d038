"""The column guide: what every column, key and default figure is, which units there are."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

UNITS = "units"
"""The name under which the kinds of figures are asked for."""


@dataclass(frozen=True)
class Span:
    """A range from `low` to `high` in `unit` ("" where none is taken). `high` is None where the unit has no
    greatest number."""

    low: float
    high: float | None
    unit: str
    above_low: bool = False
    below_high: bool = False


@dataclass(frozen=True)
class Entry:
    """One column, key or default figure.

    `headings` is how it is typed in a US case, a second way where its unit may be of another kind; `blank` is
    what a blank or an absence means; `allowed` has a range for each heading that holds a figure; `likely` is
    the range outside which a value is warned about, `because` why; `source` is that of a default figure.
    """

    name: str
    headings: tuple[str, ...]
    holds: str
    needed: bool
    blank: str
    meaning: str
    allowed: tuple[Span, ...]
    likely: Span | None = None
    because: str = ""
    source: str = ""


@dataclass(frozen=True)
class Section:
    """One table, the keys of case.toml, or the default figures; `about` says in a sentence or two what it is,
    `absent` what it is called when nothing is typed: a blank or a default."""

    name: str
    title: str
    about: str
    may_be_absent: bool
    absent: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class UnitKind:
    """A kind of figure and the units it takes, those first in which US and SI cases are printed."""

    kind: str
    units: tuple[str, ...]


@dataclass(frozen=True)
class Guide:
    """Everything a user may type into a case."""

    sections: tuple[Section, ...]
    units: tuple[UnitKind, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """What may be asked for: every section, and the units."""
        return (*(section.name for section in self.sections), *((UNITS,) if self.units else ()))

    def only(self, names: Iterable[str]) -> "Guide":
        """The named parts alone, in the guide's order."""
        asked = set(names)
        return replace(self, sections=tuple(one for one in self.sections if one.name in asked),
                       units=self.units if UNITS in asked else ())

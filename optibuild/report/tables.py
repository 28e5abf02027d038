"""Tables as the screens and the CSV files show them: columns with a unit, rows of text and numbers."""

from dataclasses import dataclass

from optibuild.records import MoneyByKind, PlannedMoney
from optibuild.units import conversion, shown, shown_unit

Cell = str | float | None

ROAD_UNITS = {"us": "mi", "si": "km"}
"""Unit of driven distance, for which the inches of other lengths would not do."""
SNOW_UNITS = {"us": "in", "si": "cm"}
"""Unit of the depth of snow."""
KINDS = ("owning", "labor", "fuel", "wear", "material")
"""What money is spent on in a season."""


def by_kind(money: PlannedMoney | MoneyByKind) -> dict[str, float]:
    """Money by kind [USD]."""
    return dict(zip(KINDS, (money.owning_usd, money.labor_usd, money.fuel_usd, money.wear_usd,
                            money.material_usd), strict=True))


@dataclass(frozen=True)
class Column:
    """A heading, its unit, and how many decimals the screen shows (None: text)."""

    heading: str
    unit: str = ""
    decimals: int | None = None

    @property
    def title(self) -> str:
        """The heading as in the input tables: 'rated fill [lb]'."""
        return f"{self.heading} [{self.unit}]" if self.unit else self.heading


@dataclass(frozen=True)
class Table:
    """Columns and rows; every row has a cell for every column, None where nothing applies."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def without_empty(table: Table) -> Table:
    """The table without the columns in which nothing stands."""
    kept = [k for k in range(len(table.columns)) if any(row[k] is not None for row in table.rows)]
    return Table(tuple(table.columns[k] for k in kept),
                 tuple(tuple(row[k] for k in kept) for row in table.rows))


@dataclass(frozen=True)
class Units:
    """Values in inner units as numbers in the units of a case ('us' or 'si')."""

    system: str

    def mass(self, heading: str) -> Column:
        """A column of masses."""
        return Column(heading, shown_unit("mass", self.system), 0)

    def road(self, heading: str) -> Column:
        """A column of driven distances."""
        return Column(heading, ROAD_UNITS[self.system], 1)

    def depth(self, heading: str) -> Column:
        """A column of depths of snow."""
        return Column(heading, SNOW_UNITS[self.system], 2)

    def deep(self, value: float | None) -> float | None:
        """A depth [m] as shown; None stays so."""
        return None if value is None else conversion(SNOW_UNITS[self.system], "length").from_inner(value)

    def kg(self, value: float) -> float:
        """A mass [kg] as shown."""
        return shown(value, "mass", self.system)

    def meters_driven(self, value: float) -> float:
        """A driven distance [m] as shown."""
        return conversion(ROAD_UNITS[self.system], "length").from_inner(value)

    def any(self, value: float, unit: str) -> tuple[float, str]:
        """A value in the inner unit `unit` and its unit as shown; what has no dimension stays as it is."""
        dimension = {"kg": "mass", "m": "length", "share": "share"}.get(unit)
        if dimension is None:
            return value, unit
        return shown(value, dimension, self.system), shown_unit(dimension, self.system)


def minutes(heading: str) -> Column:
    """A column of minutes."""
    return Column(heading, "min", 1)


def dollars(heading: str) -> Column:
    """A column of money."""
    return Column(heading, "USD", 0)


def count(heading: str) -> Column:
    """A column of whole numbers."""
    return Column(heading, "", 0)

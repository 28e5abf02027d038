"""A column's own unit, for saying values and ranges as the user typed them."""

from dataclasses import dataclass

from optibuild.inputs.declared.declaration import PLAIN
from optibuild.inputs.reading.headings import split_heading
from optibuild.inputs.reading.tables import Table
from optibuild.units import Conversion, conversion, shown_unit


@dataclass(frozen=True)
class Scale:
    """The unit of a column or key, and how its numbers become inner units."""

    unit: str
    converts: Conversion

    def figure(self, value: float, digits: int = 6) -> str:
        """A value in inner units as the number a user would type."""
        return f"{float(f'{self.converts.from_inner(value):.{digits}g}'):,.10g}"

    def said(self, value: float) -> str:
        """A value in inner units with its unit."""
        return f"{self.figure(value)} {self.unit}".rstrip()

    def span(self, low: float, high: float) -> str:
        """The range from `low` to `high` in inner units, about, in words; a unit that counts the other way
        (mi/gal) turns it round."""
        first, last = (high, low) if self.converts.inverse else (low, high)
        return f"{self.figure(first, 3)} to {self.figure(last, 3)} {self.unit}".rstrip()


def scale(unit: str, dimension: str) -> Scale:
    """The scale of a unit; a dimension without units has plain numbers."""
    plain = dimension in PLAIN
    return Scale("" if plain else unit, Conversion(1.0) if plain else conversion(unit, dimension))


def column_scale(table: Table, field: str) -> Scale:
    """The scale of a table's column: the unit in its heading, or the usual one where it has no heading."""
    declared = next(row for row in table.declared if row.field == field)
    typed, index = table.columns.get(field, ("", None))
    if declared.dimension in PLAIN:
        return scale("", declared.dimension)
    unit = split_heading(typed)[1] if index is not None else shown_unit(declared.dimension, "us")
    return scale(unit or "", declared.dimension)

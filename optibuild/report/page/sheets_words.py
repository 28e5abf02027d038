"""What the sheets to hand out are made of, and figures in words, in the units of a case."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

from optibuild.records import Case, PlannedTruck, Spreader
from optibuild.report.console import number
from optibuild.report.page.blocks import Grid, Lines, Words
from optibuild.report.tables import Units
from optibuild.units import conversion, shown, shown_unit

WRITE = ""
"""A cell to write in."""
NEAR = "Less left than catalog weights may be off ({} %): weigh before you rely on it."
FALLING = {"us": ("in/h", 2), "si": ("mm/h", 1)}
"""Unit and decimals of a rate of snowfall."""


@dataclass(frozen=True)
class Blanks:
    """Words with room to write behind each."""

    words: Sequence[str]
    kind: ClassVar[str] = "blanks"


@dataclass(frozen=True)
class Sheet:
    """One sheet, on a page of its own in print: its kind and anchor, whom it is for, what stands on it."""

    kind: Literal["truck", "driver", "site"]
    name: str
    reader: str
    title: str
    said: str
    blocks: Sequence[Words | Lines | Grid | Blanks]


def amount(value: float, dimension: str, case: Case, decimals: int) -> str:
    """A value in inner units with its unit, as '400 kg'."""
    unit = shown_unit(dimension, case.units).replace("^3", "\u00b3")
    return f"{number(shown(value, dimension, case.units), decimals)} {unit}"


def length(m: float, case: Case) -> str:
    """A length on a truck in words: to a tenth of an inch or a centimeter."""
    return amount(m, "length", case, 1 if case.units == "us" else 2)


def depth(m: float, case: Case) -> str:
    """A depth of snow in words."""
    units = Units(case.units)
    return f"{number(units.deep(m) or 0.0, 1)} {units.depth('').unit}"


def in_minutes(value: float) -> str:
    """A time in words."""
    return f"{number(value, 0)} min"


def spreader_of(truck: PlannedTruck, case: Case) -> Spreader | None:
    """The spreader on a truck; None where there is none."""
    return next((row for row in case.spreaders if row.id == truck.spreader), None)


def vessel(spreader: Spreader) -> str:
    """What holds the material, in a word."""
    return "tank" if spreader.kind == "tank" else "hopper"


def snowfall(case: Case) -> str:
    """The rate of snowfall of the design storm in words."""
    unit, decimals = FALLING[case.units]
    rate = conversion(unit, "speed").from_inner(case.storm.snowfall_rate_m_per_min)
    return f"{number(rate, decimals)} {unit}"


def near_words(truck: PlannedTruck, case: Case) -> str:
    """What to do where less is left of an axle or gross rating than catalog weights may be off; else
    nothing."""
    off = case.assumptions.catalog_uncertainty
    near = any(float(getattr(row, f"{part}_margin_kg")) < off * float(getattr(row, f"{part}_kg"))
               for row in truck.axle_loads for part in ("front", "rear", "gross"))
    return NEAR.format(number(100.0 * off, 1).removesuffix(".0")) if near else ""


def fill_lines(truck: PlannedTruck, case: Case) -> Lines | None:
    """The rated fill by weight and by how full the hopper is, level; None without a spreader."""
    spreader = spreader_of(truck, case)
    if spreader is None:
        return None
    material = case.material(spreader)
    volume = truck.rated_fill_kg / material.bulk_density_kg_per_m3
    share = volume / spreader.volume_m3
    said = (f"{amount(truck.rated_fill_kg, 'mass', case, 0)} of {material.id}: "
            f"{amount(volume, 'volume', case, 2)}, {number(100.0 * share, 0)} % of the {vessel(spreader)}'s "
            f"{amount(spreader.volume_m3, 'volume', case, 2)} (level, at "
            f"{amount(material.bulk_density_kg_per_m3, 'density', case, 0)}; wet material weighs more)")
    return Lines([("Rated fill", said)], {"fill-kg": truck.rated_fill_kg, "fill-m3": volume,
                                            "fill-share": share})

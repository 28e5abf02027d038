"""Units: what is typed becomes inner units by the published factors, and nonsense is refused."""

import pytest

from optibuild.assumptions import ASSUMPTIONS, BY_NAME
from optibuild.errors import UnitError
from optibuild.units import DIMENSIONS, SPELLINGS, allowed_units, conversion, quantity, shown, shown_unit

# factors of NIST SP 811, from memory; the compound ones by hand from them
FACTORS = [
    ("1 lb", "mass", 0.45359237), ("1 ton", "mass", 907.18474), ("1 t", "mass", 1000.0),
    ("1 g", "mass", 0.001),
    ("1 in", "length", 0.0254), ("1 ft", "length", 0.3048), ("1 yd", "length", 0.9144),
    ("1 mi", "length", 1609.344), ("1 cm", "length", 0.01), ("1 mm", "length", 0.001),
    ("1 km", "length", 1000.0),
    ("1 acre", "area", 4046.8564224), ("1 ha", "area", 10000.0), ("1 sq ft", "area", 0.09290304),
    ("1 yd^3", "volume", 0.764554857984), ("1 cu yd", "volume", 0.764554857984),
    ("1 gal", "volume", 0.003785411784), ("1 ft^3", "volume", 0.028316846592), ("1 L", "volume", 0.001),
    ("60 s", "time", 1.0), ("1 h", "time", 60.0), ("1 year", "life", 1.0),
    ("1 mph", "speed", 26.8224), ("6 km/h", "speed", 100.0), ("1 in/h", "speed", 0.0254 / 60),
    ("60 mm/h", "speed", 0.001),
    ("1 lb/ft^3", "density", 16.018463373960142), ("1 lb/min", "mass_rate", 0.45359237),
    # 1000 ft^2 = 92.90304 m^2; a lane of 12 ft over a mile = 3.6576 m x 1609.344 m
    ("1 lb/1000 ft^2", "areal_rate", 0.45359237 / 92.90304), ("1 g/m^2", "areal_rate", 0.001),
    ("1 lb/lane-mile", "areal_rate", 0.45359237 / (3.6576 * 1609.344)),
    ("10 L/100km", "fuel_use", 0.0001), ("10 mi/gal", "fuel_use", 3.785411784 / 16093.44),
    ("60 gal/h", "fuel_rate", 3.785411784), ("60 L/h", "fuel_rate", 1.0),
    ("5 USD", "money", 5.0), ("60 USD/h", "money_per_time", 1.0), ("7 USD/year", "money_per_year", 7.0),
    ("907.18474 USD/ton", "money_per_mass", 1.0), ("2 USD/kg", "money_per_mass", 2.0),
    ("3.785411784 USD/gal", "money_per_volume", 1.0), ("1 USD/L", "money_per_volume", 1.0),
    ("1609.344 USD/mi", "money_per_length", 1.0), ("1 USD/km", "money_per_length", 0.001),
    ("180 deg", "angle", 3.141592653589793), ("5 %", "share", 0.05), ("0.05", "share", 0.05),
    ("5 degF", "temperature", -15.0), ("-40 degF", "temperature", -40.0), ("-15 degC", "temperature", -15.0),
    ("1.3", "number", 1.3), ("12", "count", 12.0),
]


@pytest.mark.parametrize(("text", "dimension", "inner"), FACTORS)
def test_a_unit_is_worth_its_published_factor(text: str, dimension: str, inner: float) -> None:
    """Each unit that may be typed converts by the factor of NIST SP 811 (from memory) or by hand from it."""
    assert quantity(text, dimension) == pytest.approx(inner, rel=1e-12, abs=1e-12)


def test_every_spelling_belongs_to_a_dimension() -> None:
    """No unit is listed that no column or key could take."""
    taken = {unit for dimension in DIMENSIONS for unit in allowed_units(dimension)}
    assert taken == {*SPELLINGS, "degF", "degC"}


def test_letter_case_and_spaces_are_free() -> None:
    """'LB', ' L / 100 km ' and 'Degf' are the units they look like."""
    assert quantity("1 LB", "mass") == pytest.approx(0.45359237)
    assert quantity("10 l / 100 KM", "fuel_use") == pytest.approx(0.0001)
    assert quantity("32 Degf", "temperature") == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("text", "dimension"), [
    ("7 in", "mass"), ("7", "mass"), ("7 lbf", "mass"), ("heavy", "mass"), ("", "mass"), ("7 lb lb", "mass"),
    ("0 mi/gal", "fuel_use"), ("5 m^2", "fuel_use"), ("25 USD/h", "money_per_year"), ("25 USD/year",
                                                                                     "money_per_time"),
    ("3 lb", "count"), ("5 deg", "share"), ("5 %", "angle"), ("5 deg", "temperature"), ("1e999 lb", "mass"),
    ("nan lb", "mass"), ("2 year", "time"), ("7 __import__('os')", "mass"),
])
def test_a_unit_of_another_kind_is_refused(text: str, dimension: str) -> None:
    """A missing, unknown or foreign unit raises UnitError and nothing else."""
    with pytest.raises(UnitError):
        quantity(text, dimension)


def test_a_refused_unit_names_the_right_ones() -> None:
    """The message lists what the dimension takes, the shown units first."""
    with pytest.raises(UnitError, match="allowed: lb, kg, g, t, ton"):
        conversion("feet", "mass")


@pytest.mark.parametrize("dimension", DIMENSIONS)
@pytest.mark.parametrize("system", ["us", "si"])
def test_showing_undoes_reading(dimension: str, system: str) -> None:
    """A number typed in the shown unit is printed as the number it was."""
    typed = f"17.5 {shown_unit(dimension, system)}"
    assert shown(quantity(typed, dimension), dimension, system) == pytest.approx(17.5, rel=1e-12)


def test_assumptions_are_named_once_and_can_be_read() -> None:
    """Every default figure has its own name and field, a source and a value of its dimension not below 0."""
    assert len(BY_NAME) == len(ASSUMPTIONS) == len({row.field for row in ASSUMPTIONS})
    for row in ASSUMPTIONS:
        assert row.source and quantity(row.default, row.dimension) >= 0


def test_occupant_mass_is_the_published_one() -> None:
    """49 CFR 567.4(g)(3): 150 lb for each seating position; EU 1230/2012, Annex I: 75 kg."""
    row = BY_NAME["occupant_mass"]
    assert quantity(row.default, "mass") == pytest.approx(68.0388555)
    assert quantity(str(row.si_default), "mass") == 75

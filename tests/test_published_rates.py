"""Published figures of area, speed, snow and deicer that minutes and material rest on."""

import shutil
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest
from seeded_cases import SMALL
from times_case import ASSUMED, FULL, SITE, plain_builds, plain_case

from optibuild.assumptions import BY_NAME
from optibuild.cycle_time import effective_width_m, explain_stop, material_kg, side_minutes, strips
from optibuild.inputs import check_case
from optibuild.units import conversion, quantity, shown

FOOT, MILE, POUND, ACRE = 0.3048, 1609.344, 0.45359237, 4046.8564224


def area_rate(speed: float, width: float, efficiency: float) -> float:
    """Area a minute of ten passes of 500 m without turns or overlap [m^2/min]."""
    width_m = effective_width_m(np.array(width), np.array(0.0), 0.0)
    count = strips(np.array(10 * width), np.array(inf), width_m)
    return float(10 * width * 500 / (side_minutes(count, np.array(500.0), speed, np.array(0.0)) / efficiency))


def test_capacity_is_the_same_in_both_systems_of_units() -> None:
    """10 mph, 8 ft and 0.7 give 6.7879 acre/h (S·W·E/8.25) and 2.74696 ha/h (S·W·E/10): exact units,
    formula of Iowa State University Extension, Ag Decision Maker A3-24."""
    rate = 60 * area_rate(quantity("10 mph", "speed"), quantity("8 ft", "length"), 0.7)
    assert conversion("acre", "area").from_inner(rate) == pytest.approx(6.7879, abs=5e-5)
    assert conversion("ha", "area").from_inner(rate) == pytest.approx(2.74696, abs=5e-6)


def test_a_lane_mile_in_other_units() -> None:
    """A 12 ft lane-mile is 63,360 ft^2, 1.4545 acre, 5,886 m^2 (exact units)."""
    area = quantity("12 ft", "length") * quantity("1 mi", "length")
    assert conversion("sq ft", "area").from_inner(area) == pytest.approx(63_360)
    assert conversion("acre", "area").from_inner(area) == pytest.approx(1.4545, abs=5e-5)
    assert area == pytest.approx(5886, abs=0.5)


def test_passes_at_several_speeds_are_summed_not_averaged() -> None:
    """Four passes of a quarter mile at 10 mph and 0.75 take 8.0 min (US Navy NAVEDTRA 14081, Equipment
    Operator Basic, grader estimates); three strips of 30 km, each passed twice at 6, 8 and 10 km/h, take
    94.0 h, not the 90.0 h of a teaching page that averages the speeds."""
    one = side_minutes(np.array(4.0), np.array(0.25 * MILE), 10 * MILE / 60, np.array(0.0)) / 0.75
    assert one == pytest.approx(8.0)
    speeds = (6, 8, 10)
    minutes = sum(side_minutes(np.array(6.0), np.array(30_000.0), kmh * 1000 / 60, np.array(0.0)) / 0.75
                  for kmh in speeds)
    assert minutes / 60 == pytest.approx(94.0)


@pytest.mark.parametrize(("run_m", "efficiency"), [(50, 0.4), (100, 0.6), (200, 0.8)])
def test_turns_of_half_a_minute_give_the_published_efficiency(run_m: float, efficiency: float) -> None:
    """At 8 km/h with 30 s a turn, runs of 50, 100 and 200 m leave about 0.4, 0.6 and 0.8 of the time for work
    (teaching page on graders, task efficiency by length of run), within 0.07."""
    speed = 8000 / 60
    with_turns, without = (side_minutes(np.array(10.0), np.array(run_m), speed, np.array(turn))
                           for turn in (0.5, 0.0))
    assert without / with_turns == pytest.approx(efficiency, abs=0.07)


@pytest.mark.parametrize(("pounds", "kilograms"), [(5, 80.1), (12, 192.2), (25, 400.5), (40, 640.7)])
def test_snow_densities_in_both_units(pounds: float, kilograms: float) -> None:
    """1 lb/ft^3 is 16.0185 kg/m^3 (exact units): 5 is light snow, 40 wet (structural engineers' note)."""
    assert quantity(f"{pounds} lb/ft^3", "density") == pytest.approx(kilograms, abs=0.05)


def test_settled_snow_lies_in_its_published_range() -> None:
    """The default of settled snow, and no more than its range without a warning, is 200 to 300 kg/m^3 and a
    little above (snow texts, from memory; settled pack about 30 % of water)."""
    row = BY_NAME["settled_density"]
    low, high = (quantity(text or "", "density") for text in (row.low, row.high))
    assert low == 200 and 300 <= high <= 500 and quantity(row.default, "density") == 300


def test_ten_inches_at_a_ratio_of_thirteen() -> None:
    """Snow at a snow-to-liquid ratio of 13 weighs 1000/13 = 76.9 kg/m^3, 4.80 lb/ft^3 (mean of the United
    States: Baxter, Graves, Moore, Weather and Forecasting 20(5), 2005): 10 in on 1,000 ft^2 4,000 lb."""
    density = 1000 / 13
    assert conversion("lb/ft^3", "density").from_inner(density) == pytest.approx(4.80, abs=0.005)
    case = plain_case(sites=(replace(SITE, area_m2=1000 * FOOT**2, pass_length_m=20 * FOOT, parcels=1),))
    storm = replace(case.storm, snow_density_kg_per_m3=density, snowfall_rate_m_per_min=10 * 0.0254 / 60)
    sheet = {label: value for label, value, _ in explain_stop(
        replace(case, storm=storm, assumptions=ASSUMED), plain_builds(FULL), 0, 0, 60.0)}
    assert float(sheet["snow on it"]) / POUND == pytest.approx(4000, rel=2e-3)


@pytest.mark.parametrize(("speed", "warned"), [("14 mph", False), ("15 mph", True), ("36 mph", True)])
def test_plowing_faster_than_published_warns(speed: str, warned: bool, tmp_path: Path) -> None:
    """Lots are plowed at 4 to 14 mph (motor graders, performance handbook ed. 47: 4 to 13 mph; above that
    streets begin): faster is warned about at its key, and still read."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "case"))
    with open(folder / "case.toml", "a", encoding="utf-8") as file:
        file.write(f'\n[assumptions]\nplow_speed = "{speed}"\n')
    case, problems = check_case(folder)
    assert case is not None
    assert case.assumptions.plow_speed_m_per_min == pytest.approx(quantity(speed, "speed"))
    assert any(row.code == "assumption.range" for row in problems) is warned


def test_brine_on_a_lot_as_published() -> None:
    """20,000 ft^2 at 0.5 gal/1000 ft^2 take 10 gal of brine (Minnesota Stormwater Manual, worked example): at
    9.80 lb a gallon and 23 % (Lange's Handbook, 15th ed., Table 5.13) that is a rate of 1.127 lb of dry salt
    on 1000 ft^2, and 98.0 lb of brine."""
    rate = quantity(f"{0.5 * 9.80 * 0.23} lb/1000 ft^2", "areal_rate")
    dry = material_kg(np.array(20_000 * FOOT**2), np.array(rate))
    assert shown(float(dry) / 0.23, "mass", "us") / 9.80 == pytest.approx(10.0)


def test_rates_of_two_lanes_are_twice_those_of_one() -> None:
    """250 lb on a two-lane mile, 24 ft wide, are 125 lb a lane-mile of 12 ft; a road of 18 ft takes three
    quarters (Minnesota Snow and Ice Control Field Handbook, p. 15)."""
    rate = quantity("125 lb/lane-mile", "areal_rate")
    for width, pounds in ((24, 250.0), (18, 187.5), (12, 125.0)):
        assert material_kg(np.array(width * FOOT * MILE), np.array(rate)) / POUND == pytest.approx(pounds)


@pytest.mark.parametrize(("yards", "tons"), [(1, 1.1), (2, 2.2), (3, 3.2), (4, 4.3), (5, 5.4), (10, 10.8),
                                             (20, 21.6)])
def test_salt_by_the_cubic_yard(yards: int, tons: float) -> None:
    """Salt of 80 lb/ft^3 weighs 1.08 tons a cubic yard (Minnesota Stormwater Manual, conversions; its own row
    for 5 cubic yards prints 6.4, a slip for 5.4)."""
    mass = quantity(f"{yards} yd^3", "volume") * quantity("80 lb/ft^3", "density")
    assert conversion("ton", "mass").from_inner(mass) == pytest.approx(tons, abs=0.05)


def test_a_load_of_salt_covers_twelve_acres() -> None:
    """1.5 cubic yards, 3,240 lb, at 6 lb/1000 ft^2 cover 540,000 ft^2 or 12.40 acre (arithmetic from the two
    sources above and the DuPage River / Salt Creek Workgroup's table)."""
    rate = quantity("6 lb/1000 ft^2", "areal_rate")
    assert material_kg(np.array(540_000 * FOOT**2), np.array(rate)) / POUND == pytest.approx(3240)
    assert pytest.approx(12.40, abs=0.005) == 540_000 * FOOT**2 / ACRE

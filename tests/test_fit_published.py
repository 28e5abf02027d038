"""Published values that a fit rests on beside the worked examples of test_fit.py: payload and reserve, crew,
shares, tires, ratings of the catalog, and turning geometry. In pounds where not said."""

import shutil
from dataclasses import replace
from math import degrees, radians
from pathlib import Path

import numpy as np
import pytest
from fit_cases import LB, fit_case, judged, kit, lb, plow, spreader, truck

from optibuild.cycle_time import (
    center_radius_m,
    radius_from_circle_m,
    steer_angle_rad,
    swept_circle_m,
)
from optibuild.fit import axle_loads
from optibuild.inputs import check_case, read_case
from optibuild.units import quantity

SMALL = Path(__file__).parent / "data" / "small"


@pytest.mark.parametrize(("limit", "people", "person", "left"), [
    (1400, 5, 150, 650), (1000, 2, 150, 700), (1000, 5, 150, 250), (1000, 5, 200, 0),
])
def test_cargo_is_the_load_limit_less_the_people(limit: int, people: int, person: int, left: int) -> None:
    """The steps of the placard, e.g. 1,400 - 5 x 150 = 650 lb (49 CFR 575.6, in owners' manuals 2005-2009),
    where only the gross rating binds."""
    case = fit_case([truck(gvwr=5000 + limit)], spreaders=[spreader(empty=0, holds=5000)], occupants=people)
    case = replace(case, assumptions=replace(case.assumptions, occupant_mass_kg=person * LB))
    builds = judged(case)
    # with nothing left the full hopper is the empty one
    assert builds.fits[0] and builds.binds[0] == f"GVWR, off {'full' if left else 'empty'}"
    assert lb(builds.rated_fill_kg[0]) == pytest.approx(left, abs=1e-6)


@pytest.mark.parametrize(("people", "left"), [(2, 317), (5, 113)])
def test_cargo_in_kilograms_as_printed(people: int, left: int) -> None:
    """453 - 136 = 317 and 453 - 340 = 113 kg with 68 kg a person (owners' manuals, SI copies)."""
    base = truck(curb=(3000 / LB, 2000 / LB), gvwr=5453 / LB)
    case = fit_case([base], spreaders=[spreader(empty=0, holds=5000)], occupants=people)
    case = replace(case, assumptions=replace(case.assumptions, occupant_mass_kg=68.0))
    assert judged(case).rated_fill_kg[0] == pytest.approx(left)


def test_the_front_reserve_is_what_the_plow_may_add() -> None:
    """Reserve = front GAWR less the front axle with fuel and passengers (owners' manuals, plow section, from
    2009): 4,670 - 3,680 = 990 takes the plow that adds 980, 4,670 - 3,700 = 970 does not."""
    for front, reserve, fits in ((3680, 990, True), (3700, 970, False)):
        # the seat on the front axle: its 150 lb are part of the front axle's weight
        wheels = truck(curb=(front - 150, 3000), gawr=(4670, 6000), wheelbase=120, bumper=20, seat=0)
        case = fit_case([wheels], [plow(blade=700, ahead=28)], occupants=1)
        builds = judged(case)
        assert 4670 - lb(builds.front_kg[0, 2, 0]) == pytest.approx(reserve)
        assert bool(builds.fits[0]) is fits
        assert 4670 - lb(builds.front_kg[0, 0, 0]) == pytest.approx(reserve - 980)


@pytest.mark.parametrize(("units", "pounds", "kilograms"), [("us", 450.0, 204.1), ("si", 496.0, 225.0)])
def test_three_people_weigh_what_their_rule_says(units: str, pounds: float, kilograms: float,
                                                 tmp_path: Path) -> None:
    """Three at 150 lb are 450 lb, 204.1 kg (49 CFR 567.4); three at 75 kg are 225 kg, 496.0 lb (EU 1230/2012,
    annex I, part A): what the full crew weighs more than none on the trucks of a case that is read."""
    folder = shutil.copytree(SMALL, tmp_path / "case")
    text = (folder / "case.toml").read_text().replace("occupants = 1", "occupants = 3")
    (folder / "case.toml").write_text(text.replace("[case]", f'[case]\nunits = "{units}"'))
    full, none = (judged(replace(case, crew=replace(case.crew, occupants=people)))
                  for case in [read_case(folder)] for people in (3, 0))
    more = (full.front_kg + full.rear_kg)[0, 2, 1] - (none.front_kg + none.rear_kg)[0, 2, 0]
    ballast = full.ballast_kg[0] - none.ballast_kg[0]
    assert more - ballast == pytest.approx(kilograms, abs=0.05)
    assert lb(more - ballast) == pytest.approx(pounds, abs=0.05)


def test_a_steered_axle_keeps_a_fifth_of_the_weight() -> None:
    """With 7,500 kg in all, a fifth is 1,500: 1,900 in front of 5,600 behind is 25.33 %, allowed; 1,400 of
    6,100 is 18.67 %, not (EU 1230/2012, annex I, part C, rear axle at its own maximum)."""
    for front, rear, share in ((1900, 5600, 0.2533), (1400, 6100, 0.1867)):
        case = fit_case([truck(curb=(front / LB, rear / LB))], [plow(blade=0)], min_front_share=0.2)
        builds = judged(case)
        told = builds.front_kg[0, 2, 0] / (builds.front_kg[0, 2, 0] + builds.rear_kg[0, 2, 0])
        assert told == pytest.approx(share, abs=5e-5)
        assert bool(builds.fits[0]) is (share > 0.2)
    (reason, *_) = builds.reasons[0]
    assert (reason.rating, reason.unit, reason.limit) == ("min front share", "share", 0.2)
    assert reason.load == pytest.approx(0.1867, abs=5e-5)


def test_ballast_keeps_a_quarter_on_the_rear_axle() -> None:
    """ASABE EP562 (2005) asks 25 % of the gross reaction on a loader's rear axle. By hand, 6,200 in front and
    1,800 behind, ballast at 1.2 wheelbases: (0.25·8,000 - 1,800)/(1.2 - 0.25) = 210.526 lb, so 211 units of a
    pound; at 210.526 the axles carry 6,157.89 and 2,052.63, a quarter."""
    case = fit_case(
        [truck(curb=(6200, 1800), wheelbase=100, bed_end=0)],
        [plow(blade=0)],
        ballast=[kit(unit=1, center=20, most=500)],
        min_rear_share=0.25,
    )
    builds = judged(case)
    assert (bool(builds.fits[0]), int(builds.units[0])) == (True, 211)
    exact = replace(case.ballast[0], unit_mass_kg=0.2 / 0.95 * 1000 * LB, most_units=1)
    builds = judged(replace(case, ballast=(exact,)))
    assert lb(builds.ballast_kg[0]) == pytest.approx(210.526, abs=0.001)
    assert lb(builds.front_kg[0, 2, 0]) == pytest.approx(6157.89, abs=0.01)
    assert lb(builds.rear_kg[0, 2, 0]) == pytest.approx(2052.63, abs=0.01)


def test_two_tires_carry_their_sum_where_the_axle_may_carry_more() -> None:
    """Two steer tires rated 7,000 lb carry 14,000, even where 20,000 are allowed (a state's guide to truck
    weights): 14,000 fits, a pound more does not."""
    for front, fits in ((14_000, True), (14_001, False)):
        case = fit_case([truck(curb=(front, 9000), gawr=(20_000, 20_000), tires=(2 * 7000, 20_000))],
                        [plow(blade=0)])
        builds = judged(case)
        assert bool(builds.fits[0]) is fits
    assert {reason.rating for reason in builds.reasons[0]} == {"front tire capacity"}


@pytest.mark.parametrize(("front", "rear", "codes"), [(4800, 6400, []), (4800, 5100, ["truck.ratings"])])
def test_axle_ratings_below_the_gross_rating_are_refused(front: int, rear: int, codes: list[str],
                                                         tmp_path: Path) -> None:
    """Axle ratings may sum to more than the GVWR, never to less (NHTSA, 6 May 1974 and 23 April 1980):
    4,800 + 6,400 on 10,000 is read, 4,800 + 5,100 is an error."""
    folder = shutil.copytree(SMALL, tmp_path / "case")
    rows = (folder / "trucks.csv").read_text()
    assert '"7,050","3,900","4,150"' in rows
    (folder / "trucks.csv").write_text(rows.replace('"7,050","3,900","4,150"', f"10000,{front},{rear}"))
    _, problems = check_case(folder)
    assert [row.code for row in problems if row.severity == "error"] == codes


def test_pounds_become_the_printed_kilograms() -> None:
    """Every bound of the letter classes A to H in 49 CFR 565.15, table II, but the first, 3,000 lb: 1,360 is
    printed where 1,360.78 rounds to 1,361."""
    printed = {3000: 1361, 4000: 1814, 5000: 2268, 6000: 2722, 7000: 3175, 8000: 3629, 9000: 4082,
               10_000: 4536}
    assert {bound: round(quantity(f"{bound} lb", "mass")) for bound in printed} == printed


def test_the_plow_example_in_kilograms_and_what_it_takes_off_the_rear() -> None:
    """318 kg, 122 cm ahead of 305 cm: 318·427/305 = 445.2 kg in front (printed 445), and 127.2 kg off the
    rear axle (light-truck owner's manuals 1999-2019; the rear follows)."""
    assert axle_loads(318, -1.22, 3.05).tolist() == pytest.approx([445.2, -127.2], abs=0.01)


def test_a_car_of_known_ratio_splits_its_weight() -> None:
    """5,091 lb on 109.5 in with a front to rear ratio of 1.22 has its center at 49.324 in and carries
    2,797.76 and 2,293.24 lb (Jazar, Vehicle Dynamics 2008, chapter 2, exercise 4; by hand: 5,091·1.22/2.22
    and 109.5/2.22)."""
    front, rear = axle_loads(5091, 49.324, 109.5)
    assert (front, rear) == (pytest.approx(2797.76, abs=0.1), pytest.approx(2293.24, abs=0.1))
    assert front / rear == pytest.approx(1.22, abs=1e-4)


DESIGN_VEHICLES = [
    # wheelbase, width, largest steer angle, then radii: outer front wheel, center line, inside; feet
    (11, 7, 31.6, 23.8, 21.0, 14.4),
    (20, 8, 31.8, 41.8, 38.0, 28.4),
    (25, 8, 31.8, 51.2, 47.4, 36.4),
]


@pytest.mark.parametrize(("wheelbase", "width", "angle", "outer", "center", "inside"), DESIGN_VEHICLES)
def test_design_vehicles_turn_as_published(wheelbase: float, width: float, angle: float, outer: float,
                                           center: float, inside: float) -> None:
    """Passenger car, 30 ft and 40 ft single-unit truck (TxDOT Roadway Design Manual, table 4-1; wheelbases of
    AASHTO; angles and widths from memory): wheelbase/sin(angle) is the center line's radius, the angle comes
    back from it, and the outer corner sweeps the design turning radius within 0.4 ft. The rows stay in order,
    inside below center below outer, which one published copy exchanges."""
    base, steer = np.array(wheelbase), np.array(radians(angle))
    found = float(center_radius_m(base, steer))
    assert found == pytest.approx(center, abs=0.05)
    assert degrees(float(steer_angle_rad(base, np.array(center)))) == pytest.approx(angle, abs=0.05)
    swept = float(swept_circle_m(base, steer, np.array(width), np.array(0.0))) / 2
    assert swept == pytest.approx(outer, abs=0.4)
    # the inner rear wheel runs half the width inside the middle of the rear axle
    assert np.sqrt(found**2 - wheelbase**2) - width / 2 == pytest.approx(inside, abs=0.15)
    assert inside < found < swept


def test_a_raised_plow_widens_only_the_circle_between_walls() -> None:
    """The turning diameter of SAE J695, 2·(wheelbase/sin(angle) + offset): 3.670 m, 35 degrees and 0.10 m are
    12.997 m, and from that circle the angle comes back. What hangs ahead widens the swept circle alone."""
    circle, track = 12.997, 2 * 0.10
    radius = radius_from_circle_m(np.array(circle), np.array(track))
    angle = steer_angle_rad(np.array(3.670), radius)
    assert degrees(float(angle)) == pytest.approx(35.0, abs=0.01)
    bare, plowing = (float(swept_circle_m(np.array(3.670), angle, np.array(2.0), np.array(reach)))
                     for reach in (0.9, 1.9))
    assert plowing > bare > circle

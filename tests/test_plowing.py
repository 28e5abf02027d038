"""Plowing minutes: windrows, full blades, traction, timed sites, and how they answer to depth and size."""

from dataclasses import replace
from math import cos, inf, pi, radians

import numpy as np
import pytest
from times_case import ASSUMED, EVENTS, FULL, PLOW, SITE, SPREADER, TRUCK, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import (
    clocks,
    empty_kg,
    empty_rear_kg,
    explain_stop,
    plow_model_min,
    pushable_kg,
    service_times,
    strips,
    windrow_section_m2,
    working_rates,
)
from optibuild.errors import UnusableTiming
from optibuild.fit import fit_builds, state_loads
from optibuild.inputs import read_case
from optibuild.records import NONE, SLOWEST, Ballast, Case, Leg, ServiceTimes
from optibuild.units import quantity

FOOT, INCH, ACRE = 0.3048, 0.0254, 4046.8564224
SHAPES = ["side", "end"]
TURN = pi * 6 / 100
"""Half a circle of 6 m at 100 m/min, where the lot is wider than the circle."""


def deep_site(**changes: object) -> Case:
    """The plain site with a cycle limit of 240 min, in which 0.12 m of snow fall."""
    return plain_case(sites=(replace(SITE, plow_every_min=240.0, work="plow", **changes),))


def times_of(case: Case, *parts: tuple[int, int, int]) -> ServiceTimes:
    builds = plain_builds(*(parts or (FULL,)))
    return service_times(case, builds, season_rounds(case, clocks(case)))


def minutes(case: Case, depth_m: float, truck: int = 0, plow: int = 0) -> float:
    """Plowing the first site whole with a truck and a plow alone."""
    found = plow_model_min(case, 0, truck, plow, depth_m)
    assert found is not None
    return found


# ---- by hand


def test_snow_beyond_the_windrows_by_hand() -> None:
    """To the side, what two windrows along the edges do not hold goes away in full blades."""
    # 1500 m^2 x 0.12 m x 100 kg/m^3 = 18,000 kg; a windrow 0.75^2/2 = 0.28125 m^2; two of 100 m at 300 kg/m^3
    # hold 16,875 kg; 1,125 kg are left, and a blade carries 0.8 x 3 x 0.75^2 x 300 = 405 kg
    blades = 1125 / 405
    # full after 405/(3 x 0.12 x 100) = 11.25 m; mean push (100 + 11.25)/2 = 55.625 m
    push = 55.625 / 200 + 55.625 / 100 + 2 * 0.05
    expected = (5 * (0.5 + TURN) + blades * push) / 0.5
    times = times_of(deep_site())
    assert times.clocks_min[-1] == 240.0
    assert times.plow_min[0, -1, 0] == pytest.approx(expected)
    sheet = {label: value for label, value, _ in explain_stop(deep_site(), plain_builds(FULL), 0, 0, 240.0)}
    assert sheet["snow on it"] == pytest.approx(18_000)
    assert sheet["held by its share of the windrows"] == pytest.approx(16_875)
    assert sheet["full blades to push"] == pytest.approx(blades)
    assert sheet["plowing"] == pytest.approx(expected)
    assert sheet["a full blade"] == pytest.approx(405)
    # 2700 + 75 + 50 + 200 kg with the hopper empty, all wheels driven: (0.15 - 0.03) x 3025 / 0.3
    assert sheet["the truck can push, empty"] == pytest.approx(1210)
    assert sheet["left of the cycle limit"] == pytest.approx(240 - 22 - 3 - expected)


def test_half_a_site_has_half_of_its_edges() -> None:
    """A stop at one of two parcels has half the snow beyond the windrows: the edges are the site's."""
    both, half = (times_of(deep_site(parcels=n)).plow_min[0, -1, 0] for n in (1, 2))
    # 7.5 m across in 3 strips; half of the 1,125 kg
    push = 55.625 / 200 + 55.625 / 100 + 2 * 0.05
    assert half == pytest.approx((3 * (0.5 + TURN) + 1125 / 2 / 405 * push) / 0.5)
    assert half < both


def test_to_the_end_the_longer_of_strips_and_full_blades_by_hand() -> None:
    """At little depth every strip is pushed whole; at more, full blades there and back take longer."""
    case = deep_site(snow_goes="end")
    # 5 strips of 100 m: 100/200 + 100/100 + 0.1 = 1.6 min each, over 0.5
    assert minutes(case, 0.001) == pytest.approx(5 * 1.6 / 0.5)
    # 0.12 m: 18,000 kg in 44.44 blades, mean push 55.625 m
    assert minutes(case, 0.12) == pytest.approx(
        18_000 / 405 * (55.625 / 200 + 55.625 / 100 + 0.1) / 0.5)


def test_a_truck_that_slips_pushes_less_by_hand() -> None:
    """A rear-drive truck carries what its rear wheels can push, here less than its blade holds."""
    rear = replace(TRUCK, drive="rear")
    case = replace(deep_site(snow_goes="end"), trucks=(TRUCK, rear), ballast=(
        Ballast("bag", "", 100.0, -0.2, 5, price_usd=0.0, life_year=5.0),),
        assumptions=replace(ASSUMED, mu_snow=0.1))
    none, bare = np.array([NONE, NONE]), (np.array([0, 1]), np.array([0, 0]))
    # gross 2700 + 75 (driver) + 50 (mount) = 2825 kg; rear 1200 + 75 x 1.6/3 - 50 x 1/3 = 1223.33 kg
    # all: (0.1 - 0.03) x 2825 / 0.3 = 659.17 kg; rear: (122.333 - 84.75)/0.3 = 125.28 kg
    pushed = pushable_kg(case, *bare, none, none, np.array([0, 0]))
    assert pushed == pytest.approx([0.07 * 2825 / 0.3, (0.1 * (1200 + 40 - 50 / 3) - 84.75) / 0.3])
    # 2 bags of 100 kg at 3 + 1.2 - 0.2 = 4 m: 266.67 kg more on the rear axle, 200 kg more in all
    loaded = pushable_kg(case, *bare, none, np.array([0, 0]), np.array([2, 2]))
    assert loaded - pushed == pytest.approx([0.07 * 200 / 0.3, (0.1 * 200 * 4 / 3 - 6) / 0.3])
    capacity = float(pushed[1])
    fill = capacity / (3 * 0.12 * 100)
    push = (100 + fill) / 2
    assert minutes(case, 0.12, truck=1) == pytest.approx(
        18_000 / capacity * (push / 200 + push / 100 + 0.1) / 0.5)
    assert minutes(case, 0.12, truck=0) == pytest.approx(minutes(deep_site(snow_goes="end"), 0.12))


def test_wheels_that_cannot_move_the_truck_cannot_plow() -> None:
    """Where driven wheels grip less than the truck rolls, it plows nothing and reaches no site."""
    case = replace(deep_site(), assumptions=replace(ASSUMED, mu_snow=0.02))
    assert plow_model_min(case, 0, 0, 0, 0.05) is None
    assert not times_of(case).possible().any()


def test_windrow_sections_by_hand() -> None:
    """A windrow is as high as the blade at a slope of one to one, or what the truck pushes over the width:
    0.75^2/2 = 0.28125 m^2, and 180 kg / (3 m x 300 kg/m^3) = 0.2 m^2."""
    section = windrow_section_m2(np.array(3.0), np.array(0.75), np.array([405.0, 180.0]), 300.0)
    assert section == pytest.approx([0.28125, 0.2])


def test_passes_are_never_wider_than_the_lot() -> None:
    """A pass clears the blade's width, or the clear width where that is narrower: 15 m at 3 m take 5 passes,
    in a lot 2.5 m clear 6, in one 1 m clear 15."""
    counts = strips(np.array(15.0), np.array([20.0, 2.5, 1.0]), np.array(3.0))
    assert counts.tolist() == [5, 6, 15]


# ---- timed sites


def timed_case(**timed: object) -> Case:
    given = {"timed_min": 20.0, "timed_truck": "truck", "timed_plow": "plow", "timed_depth_m": 0.03} | timed
    return plain_case(sites=(replace(SITE, plow_every_min=240.0, deice_every_min=240.0, **given),))


def test_a_timed_site_takes_what_was_timed() -> None:
    """The timed truck and plow take the timed minutes at the timed depth; every other depth, build and the
    season change in the same ratio, other works do not."""
    plain, timed = (times_of(timed_case(**given)) for given in (
        {"timed_min": None, "timed_truck": None, "timed_plow": None, "timed_depth_m": None}, {}))
    model = 5 * (0.5 + TURN) / 0.5
    # the clock of 60 min has 0.03 m of snow
    assert plain.clocks_min[0] == 60.0 and plain.plow_min[0, 0, 0] == pytest.approx(model)
    assert timed.plow_min[0, 0, 0] == pytest.approx(20.0)
    assert timed.plow_min == pytest.approx(plain.plow_min * 20 / model)
    # 10 events of min(240/60, 0.1/0.025) + 1 = 5 pushes of 0.02 m, which the windrows hold as they do 0.03 m
    longer = timed.season_stop_min[0, 0, 0] - plain.season_stop_min[0, 0, 0]
    assert longer == pytest.approx(50 * (20 - model))
    assert timed.deice_min == pytest.approx(plain.deice_min)
    sheet = {label: value for label, value, _ in explain_stop(timed_case(), plain_builds(FULL), 0, 0, 60.0)}
    assert sheet["timed minutes over the model's"] == pytest.approx(20 / model)


def test_a_timing_of_what_cannot_plow_is_refused() -> None:
    """A site timed with a blade no wider than the overlap names site, truck and plow."""
    case = replace(timed_case(), assumptions=replace(ASSUMED, overlap_m=3.0))
    with pytest.raises(UnusableTiming, match=r"site was timed with truck\+plow"):
        times_of(case)


# ---- published values and practice


def test_full_blades_to_clear_an_acre_inch() -> None:
    """An acre-inch of snow is 3,630 ft^3 (134.4 yd^3; arithmetic on exact units), which at 10:1 weighs 22,661
    lb; a straight blade 8 ft x 29 in holding 37.38 ft^3 (SAE J1265, factor from memory) of the same density
    takes 3,630/37.38 = 97.1 full pushes."""
    blade = replace(PLOW, width_m=8 * FOOT, height_m=29 * INCH)
    site = replace(SITE, area_m2=ACRE, snow_goes="end", pass_length_m=200 * FOOT)
    case = replace(plain_case(plows=(blade,), sites=(site,)), assumptions=replace(
        ASSUMED, settled_density_kg_per_m3=100.0, overlap_m=0.3))
    sheet = {label: value for label, value, _ in explain_stop(
        replace(case, storm=replace(case.storm, snowfall_rate_m_per_min=INCH / 60)), plain_builds(FULL), 0, 0,
        60.0)}
    assert sheet["full blades to push"] == pytest.approx(3630 / 37.38, rel=1e-3)
    assert sheet["snow on it"] / 0.45359237 == pytest.approx(22_661, rel=2e-3)  # 10:1 is 6.243 lb/ft^3 there


def test_acres_an_hour_by_depth_lie_in_the_band_of_practice() -> None:
    """Pickups with 7.5 to 9.5 ft blades plow about 0.5 to 2 acres an hour (common practice, no source): the
    default figures give that at 1 to 2 in on a lot of 0.7 acre, fall with depth, and at 4 in stay above half
    of its lower end."""
    case = read_case("tests/data/small")
    sizes = ((7.5, 29), (8.0, 31), (8.5, 32), (9.0, 33), (9.5, 34))
    plows = tuple(replace(case.plows[0], id=str(width), width_m=width * FOOT, height_m=height * INCH,
                          blade_mass_kg=200.0) for width, height in sizes)
    lot = replace(case.sites[0], area_m2=0.7 * ACRE, pass_length_m=175 * FOOT, clear_width_m=60 * FOOT)
    case = replace(case, plows=plows, sites=(lot,))
    rates = working_rates(case, fit_builds(case), 0, np.array([1, 2, 3, 4]) * INCH)
    acres = np.array([[row.to_side, row.to_end] for row in rates]) / ACRE
    assert [row.plow for row in rates] == [str(width) for width, _ in sizes]
    assert np.all(np.diff(acres, axis=2) < 0)
    assert np.all((acres[:, :, :2] > 0.5) & (acres[:, :, :2] < 2.2)) and np.all(acres[:, :, 3] > 0.3)


# ---- how minutes answer


@pytest.mark.parametrize("shape", SHAPES)
def test_minutes_never_fall_with_depth_and_never_jump(shape: str) -> None:
    """Minutes rise with depth without a jump, through where windrows fill and where blades fill."""
    case = deep_site(snow_goes=shape, area_m2=1600.0)
    depths = np.linspace(0.001, 0.4, 4000)
    found = np.array([minutes(case, depth) for depth in depths])
    steps = np.diff(found)
    assert np.all(steps >= -1e-9) and found[-1] > 2 * found[0]
    # in 0.1 mm no more than 13.5 kg fall on it, a thirtieth of a blade, whose push takes less than 4 min
    assert steps.max() < 13.5 / 405 * 4


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(12))
def test_minutes_fall_with_speed_width_and_clear_width_and_rise_with_area(shape: str, seed: int) -> None:
    """Of two plowings that differ in one figure, that with more area, a narrower blade, a narrower lot, a
    slower truck or less grip is never the faster (all-wheel drive: the blade limits, not the wheels)."""
    rng = np.random.default_rng([5, seed])
    site = replace(SITE, area_m2=float(rng.uniform(300, 6000)), pass_length_m=float(rng.uniform(20, 120)),
                   clear_width_m=float(rng.uniform(2, 30)), snow_goes=shape)
    depth = float(rng.uniform(0.01, 0.2))
    case = plain_case(sites=(site,), plows=(replace(PLOW, angle_rad=radians(30)),))
    base, more = minutes(case, depth), float(rng.uniform(1.01, 1.6))

    def changed(**fields: object) -> float:
        return minutes(replace(case, sites=(replace(site, **fields),)), depth)

    assert changed(area_m2=site.area_m2 * more) >= base - 1e-9
    assert changed(clear_width_m=site.clear_width_m / more) >= base - 1e-9
    fast = replace(ASSUMED, plow_speed_m_per_min=200.0 * more, reverse_speed_m_per_min=100.0 * more)
    assert minutes(replace(case, assumptions=fast), depth) < base
    grip = replace(ASSUMED, mu_snow=0.15 / more)
    assert minutes(replace(case, assumptions=grip), depth) >= base - 1e-9
    wheels = replace(TRUCK, drive="rear")
    assert minutes(replace(case, trucks=(wheels,)), depth) >= base - 1e-9


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(8))
def test_a_wider_blade_that_turns_as_wide_is_never_slower(shape: str, seed: int) -> None:
    """In an open lot a wider blade of the same height never takes more minutes, at any depth."""
    rng = np.random.default_rng([6, seed])
    site = replace(SITE, area_m2=float(rng.uniform(500, 9000)), clear_width_m=1000.0, snow_goes=shape)
    widths = np.sort(rng.uniform(1.8, 3.6, 8))
    case = plain_case(sites=(site,), plows=tuple(replace(PLOW, width_m=width) for width in widths))
    depth = float(rng.uniform(0.01, 0.2))
    found = [minutes(case, depth, plow=n) for n in range(len(widths))]
    assert np.all(np.diff(found) <= 1e-9)


@pytest.mark.parametrize("shape", SHAPES)
def test_lighter_snow_and_higher_blades_help(shape: str) -> None:
    """Denser snow takes more minutes, a higher blade fewer, once snow is more than the edges hold."""
    case = deep_site(snow_goes=shape)
    wet = replace(case, storm=replace(case.storm, snow_density_kg_per_m3=200.0))
    high = replace(case, plows=(replace(PLOW, height_m=0.9),))
    assert minutes(wet, 0.12) > minutes(case, 0.12) > minutes(high, 0.12)


def test_ballast_helps_wheels_that_slip() -> None:
    """Each bag over the rear axle of a rear-drive truck adds to what it pushes."""
    case = replace(plain_case(), trucks=(replace(TRUCK, drive="rear"),), ballast=(
        Ballast("bag", "", 50.0, -1.0, 8, price_usd=0.0, life_year=5.0),))
    bags = np.arange(8)
    same = np.zeros(8, dtype=np.int64)
    pushed = pushable_kg(case, same, same, np.full(8, NONE), same, bags)
    assert np.all(np.diff(pushed) > 0)


@pytest.mark.parametrize("path", ["tests/data/small", "examples/contract-bid", "examples/fleet-budget"])
def test_empty_loads_are_those_of_the_fit(path: str) -> None:
    """Gross and rear axle of every build, off empty with the driver alone, are what the fit engine says."""
    case = read_case(path)
    builds = fit_builds(case)
    parts = (builds.truck, builds.plow, builds.spreader, builds.kit, builds.units)
    loads = state_loads(case, builds, np.arange(len(builds)))[:, 2, 0]
    assert empty_kg(case, *parts) == pytest.approx(loads.sum(axis=1))
    assert empty_rear_kg(case, *parts) == pytest.approx(loads[:, 1])


def test_what_limits_is_what_takes_longest() -> None:
    """Long runs, tight turns and deep snow are told apart."""
    def limited(**changes: object) -> str:
        return SLOWEST[int(times_of(deep_site(**changes)).slowest[0, -1, 0])]

    assert limited(pass_length_m=400.0) == "strips"
    assert limited(pass_length_m=5.0, clear_width_m=3.0, area_m2=60.0) == "turning"
    assert limited(area_m2=9000.0, parcels=1) == "carrying"
    assert limited(snow_goes="end") == "carrying"


def test_units_of_the_tables_change_no_minute(tmp_path: object) -> None:
    """The same site in feet and in meters takes the same minutes: 8 ft = 2.4384 m, 0.5 acre = 2023.43 m^2."""
    us, si = (replace(SITE, area_m2=quantity(area, "area"), pass_length_m=quantity(length, "length"))
              for area, length in (("0.5 acre", "150 ft"), ("2023.4282112 m^2", "45.72 m")))
    for shape in SHAPES:
        found = [minutes(plain_case(sites=(replace(site, snow_goes=shape),)), 0.08) for site in (us, si)]
        assert found[0] == pytest.approx(found[1], rel=1e-12)


def test_season_pushes_meet_their_own_depth() -> None:
    """Over a season each event is plowed at the depth its pushes meet, by hand: 0.1 m in five pushes."""
    case = plain_case(season=EVENTS[:1])
    # 10 events of min(240/60, 0.1/0.025) + 1 = 5 pushes of 0.02 m, each with 2 min of deicing and 3 to look
    assert times_of(case).season_stop_min[0, 0, 0] == pytest.approx(50 * (minutes(case, 0.02) + 2.0 + 3.0))


def test_the_same_blade_on_a_shorter_wheelbase_leads_more_in_a_tight_lot_at_depth() -> None:
    """The lead of the shorter wheelbase grows as the lot narrows, whatever the snow (common practice, no
    source)."""
    trucks = tuple(replace(TRUCK, wheelbase_m=wheelbase) for wheelbase in (3.0, 4.0))
    width = 100 * 8 * 3 * cos(0.0)

    def lead(clear: float) -> float:
        site = replace(SITE, clear_width_m=clear, area_m2=width)
        case = plain_case(trucks=trucks, sites=(site,))
        return minutes(case, 0.1, truck=1) - minutes(case, 0.1, truck=0)

    assert 0 < lead(30.0) < lead(12.0) < lead(6.0)
    assert inf > lead(6.0)


def test_spreaders_carry_weight_that_helps_to_push() -> None:
    """An empty hopper behind the cab loads a rear-drive truck's wheels: it pushes more than without."""
    case = plain_case(trucks=(replace(TRUCK, drive="rear"),), spreaders=(SPREADER,))
    one = np.array([0])
    bare, with_hopper = (pushable_kg(case, one, one, np.array([n]), np.array([NONE]), one) for n in (NONE, 0))
    assert with_hopper > bare


def verdict(case: Case, part: tuple[int, int, int] = FULL, clock_min: float = 60.0, **figures: float) -> str:
    """What the time sheet says first."""
    return str(explain_stop(case, plain_builds(part, **figures), 0, 0, clock_min)[0][1])


def test_the_sheet_says_first_whether_it_can_be_done() -> None:
    """Each thing that stands in the way is named, and all of them where there are several."""
    case = plain_case(sites=(replace(SITE, parcels=1),))
    assert verdict(case) == "yes"
    assert verdict(case, (0, NONE, 0)) == "no: no plow"
    assert verdict(case, (0, 0, NONE)) == "no: no spreader"
    assert verdict(case, fill_kg=14.9) == "no: fill"
    assert verdict(case, clock_min=30.0) == "no: cycle limit"
    assert verdict(replace(case, assumptions=replace(ASSUMED, mu_snow=0.02))) == (
        "no: its plow cannot push: blade or grip")
    due = replace(case, sites=(replace(SITE, parcels=1, deadline_min=20.0, most_width_m=2.5),))
    assert verdict(due) == "no: access, deadline"
    away = replace(case, travel=(Leg("depot", "site", None, None, False), Leg("site", "depot", 12.0, None)))
    assert verdict(away) == "no: no way there and back"


def test_rates_by_depth_keep_a_timed_site_s_own_scale() -> None:
    """A site timed at twice the model's minutes, with snow to the side, is half as fast to the end too."""
    site = replace(SITE, snow_goes="side")
    case = plain_case(sites=(site,))
    model = minutes(case, 0.05)
    timed = replace(case, sites=(replace(site, timed_min=2 * model, timed_truck="truck", timed_plow="plow",
                                         timed_depth_m=0.05),))
    plain_rates, timed_rates = (working_rates(one, plain_builds(FULL), 0, [0.05])[0] for one in (case, timed))
    assert timed_rates.to_side[0] == pytest.approx(plain_rates.to_side[0] / 2)
    assert timed_rates.to_end[0] == pytest.approx(plain_rates.to_end[0] / 2)


def test_plows_that_cannot_push_are_told_apart_from_none() -> None:
    """Where every plow slips, what is out of reach says so; without any plow it asks for one."""
    case = plain_case(assumptions=replace(ASSUMED, mu_snow=0.02))
    assert times_of(case).out_of_reach[0].reason == "no plow can push the snow"
    assert times_of(case, (0, NONE, 0)).out_of_reach[0].reason == "no build with a plow and a spreader fits"

"""Minutes of plowing, turning, deicing, driving and whole loops."""

from dataclasses import replace
from math import cos, hypot, inf, pi, radians, sqrt, tan

import numpy as np
import pytest
from times_case import ASSUMED, FULL, LEGS, PLOW, SITE, SPREADER, TRUCK, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import (
    blade_capacity_m3,
    clocks,
    design_depth_m,
    effective_width_m,
    evaluate_loop,
    explain_stop,
    fill_length_m,
    great_circle_m,
    material_kg,
    radius_from_circle_m,
    service_times,
    side_minutes,
    spreading_speed_m_per_min,
    strips,
    table_rate_kg_per_m2,
    travel,
    turn_min,
)
from optibuild.records import NONE, SLOWEST, Case, Depot, Leg, ServiceTimes, Stop
from optibuild.units import quantity, shown

FOOT, MILE, POUND, ACRE = 0.3048, 1609.344, 0.45359237, 4046.8564224
MPH = MILE / 60


def degc(degf: float) -> float:
    return (degf - 32) * 5 / 9


def times_of(case: Case, *parts: tuple[int, int, int], **figures: float) -> ServiceTimes:
    builds = plain_builds(*(parts or (FULL,)), **figures)
    return service_times(case, builds, season_rounds(case, clocks(case)))


def site_case(**changes: object) -> Case:
    return plain_case(sites=(replace(SITE, **changes),))


def one_minute(case: Case, *parts: tuple[int, int, int]) -> float:
    """Plowing minutes of the first build at the first stop, at the longest clock."""
    return float(times_of(case, *parts).plow_min[0, -1, 0])


# ---- published values: area, strips, blades


@pytest.mark.parametrize(("width_ft", "mph", "efficiency", "acres_per_h", "tolerance"), [
    (40, 6, .70, 20.4, .06), (60, 6, .68, 29.7, .06), (60, 12, .68, 59.3, .06), (80, 6, .68, 39.6, .06),
    (80, 12, .68, 79.1, .06), (15, 5, .63, 5.7, .06), (20, 6, .63, 9.2, .06), (30, 6, .60, 13.1, .06),
    (36, 5, .60, 13.1, .06), (45, 5, .60, 16.4, .06), (10, 5, .63, 3.8, .06), (15, 6, .63, 6.9, .06),
    (30, 5, 1.0, 18.2, .06), (30, 5, .80, 14.5, .06), (30, 5, .60, 10.9, .05),
])
def test_plowing_without_turns_or_overlap_is_field_capacity(
    width_ft: float, mph: float, efficiency: float, acres_per_h: float, tolerance: float
) -> None:
    """With no turns and no overlap the plowing rule gives the published effective field capacities (Iowa
    State University Extension, Ag Decision Maker A3-24, Table 1; the last three rows: extension engineer's
    article on efficiency and capacity)."""
    width, length, passes = width_ft * FOOT, 500.0, 10
    count = strips(np.array(passes * width), np.array(inf), effective_width_m(width, 0.0, 0.0))
    minutes = side_minutes(count, length, mph * MPH, 0.0) / efficiency
    assert passes * width * length / ACRE / minutes * 60 == pytest.approx(acres_per_h, abs=tolerance)


@pytest.mark.parametrize(("width", "at_30", "at_45"), [
    (2.2, 1.9, 1.6), (2.5, 2.2, 1.8), (2.8, 2.4, 2.0), (3.05, 2.6, 2.2), (3.1, 2.7, 2.2), (3.4, 2.9, 2.4),
    (3.7, 3.2, 2.6), (4.0, 3.5, 2.8), (4.3, 3.7, 3.0), (4.9, 4.2, 3.5),
])
def test_effective_width_at_an_angle(width: float, at_30: float, at_45: float) -> None:
    """The width of an angled blade, angle from straight across, is the published one
    (equipment productivity sheet 15A-20, graders, effective blade lengths, rounded there to 0.1 m)."""
    assert effective_width_m(width, radians(30), 0.0) == pytest.approx(at_30, abs=0.05)
    assert effective_width_m(width, radians(45), 0.0) == pytest.approx(at_45, abs=0.05)


def test_passes_of_an_eight_foot_blade() -> None:
    """An 8 ft blade at 30 degrees with 0.5 ft overlap needs 47 passes on 300 ft and does 3.74 acre/h at 8 mph
    and 0.6 (arithmetic from the published field capacity and effective width: 8·6.428·0.6/8.25)."""
    width = effective_width_m(8 * FOOT, radians(30), 0.5 * FOOT)
    assert width / FOOT == pytest.approx(6.428, abs=0.001)
    assert strips(np.array(300 * FOOT), np.array(inf), width) == 47
    minutes = side_minutes(np.array(47.0), 400 * FOOT, 8 * MPH, 0.0) / 0.6
    assert 47 * width * 400 * FOOT / ACRE / minutes * 60 == pytest.approx(3.74, abs=0.01)


@pytest.mark.parametrize(("length_ft", "efficiency"), [(200, .587), (400, .740)])
def test_turn_time_lowers_efficiency_on_short_runs(length_ft: float, efficiency: float) -> None:
    """A 12 s turn after each run at 8 mph leaves run/(run + turn) of the time for plowing: 17.05/29.05 s on
    200 ft (arithmetic on the turn-time model of field efficiency)."""
    with_turns = side_minutes(np.array(10.0), length_ft * FOOT, 8 * MPH, 0.2)
    without = side_minutes(np.array(10.0), length_ft * FOOT, 8 * MPH, 0.0)
    assert without / with_turns == pytest.approx(efficiency, abs=0.001)


def test_blade_capacity_and_the_run_that_fills_it() -> None:
    """A straight blade 8 ft x 29 in carries 1.0584 m^3 (SAE J1265, 0.8·W·H^2, the factor from memory) and is
    full after 14.0 ft of 4 in snow (arithmetic: 37.38 ft^3 / (8 ft · 1/3 ft))."""
    capacity = blade_capacity_m3(8 * FOOT, 29 / 12 * FOOT)
    assert capacity == pytest.approx(1.0584, abs=0.0005)
    assert fill_length_m(capacity, 8 * FOOT, 4 / 12 * FOOT) / FOOT == pytest.approx(14.0, abs=0.05)


def test_snow_of_one_cycle() -> None:
    """At 1 in/h a 4 h loop comes back to 4 in, at 25.4 mm/h a 2 h loop to 50.8 mm (North Manheim Township
    public notice: rate times cycle time), and never to less than the least plowable depth."""
    case = plain_case(storm=replace(plain_case().storm, snowfall_rate_m_per_min=0.0254 / 60))
    assert design_depth_m(case, np.array([240.0, 120.0])) == pytest.approx([4 * 0.0254, 0.0508])
    assert design_depth_m(case, np.array([1.0])) == pytest.approx([0.01])


# ---- published values: turning


def test_four_direction_changes_take_a_fifth_of_a_minute() -> None:
    """A lot a third as wide as the circle costs four direction changes of 3 s more, 0.20 min (loader
    handbook, ed. 47: four direction changes with turning about 0.20 min)."""
    tight = turn_min(np.array(6.0), np.array(15.0), np.array(5.0), 100.0, 0.05)
    wide = turn_min(np.array(6.0), np.array(15.0), np.array(15.0), 100.0, 0.05)
    assert tight - wide == pytest.approx(0.20)


def test_turning_circle_and_steer_angle_agree() -> None:
    """A truck given by its turning circle plows like the same truck given by its steer angle:
    3 m / sin 30 degrees = 6 m = half of 13.7 m less half of 1.7 m."""
    assert radius_from_circle_m(13.7, 1.7) == pytest.approx(6.0)
    by_circle = replace(TRUCK, turning_circle_m=13.7, steer_angle_rad=0.1)
    tight = replace(SITE, clear_width_m=10.0)
    other = one_minute(plain_case(trucks=(by_circle,), sites=(tight,)))
    assert other == pytest.approx(one_minute(plain_case(sites=(tight,))))


def test_turn_around_by_hand() -> None:
    """The swept circle 2·sqrt((3/tan 30 + 1.5)^2 + (3 + 1 + 0.5)^2) = 16.14 m against a clear width of 10 m
    adds 2·0.614·0.05 min to half a circle of 6 m at 100 m/min, after each of 5 strips."""
    circle = 2 * hypot(3 / tan(radians(30)) + 1.5, 4.5)
    turn = pi * 6 / 100 + 2 * (circle / 10 - 1) * 0.05
    # 15 m across in 5 strips of 3 m; a run 100 m at 200 m/min; job efficiency 0.5
    assert one_minute(site_case(clear_width_m=10.0)) == pytest.approx(5 * (0.5 + turn) / 0.5)


# ---- published values: deicing


@pytest.mark.parametrize(("per_lane_mile", "per_1000_ft2"), [
    (25, .4), (50, .8), (75, 1.2), (100, 1.6), (125, 2.0), (150, 2.4), (175, 2.8), (200, 3.2), (225, 3.5),
    (250, 3.9), (275, 4.3), (300, 4.7), (350, 5.5),
])
def test_lane_mile_rates_as_areal_rates(per_lane_mile: float, per_1000_ft2: float) -> None:
    """Rates a lane-mile become the published rates per 1000 ft^2 (Minnesota Stormwater Manual, Winter Parking
    Lot and Sidewalk Maintenance, conversions; rounded there to 0.1)."""
    rate = quantity(f"{per_lane_mile} lb/lane-mile", "areal_rate")
    assert shown(rate, "areal_rate", "us") == pytest.approx(per_1000_ft2, abs=0.06)


@pytest.mark.parametrize(("per_1000_ft2", "per_lane_mile"), [
    (.5, 32), (.75, 48), (1, 63), (1.25, 79), (1.5, 95), (1.75, 111), (2, 127), (2.25, 143), (2.5, 159),
    (2.75, 174), (3, 190), (3.25, 206), (5, 317),
])
def test_areal_rates_as_lane_mile_rates(per_1000_ft2: float, per_lane_mile: float) -> None:
    """Rates per 1000 ft^2 become the published rates a lane-mile (same conversions, rounded to 1 lb)."""
    a_lane_mile = quantity("1 lb/lane-mile", "areal_rate")
    rate = quantity(f"{per_1000_ft2} lb/1000 ft^2", "areal_rate")
    assert rate / a_lane_mile == pytest.approx(per_lane_mile, abs=0.7)


@pytest.mark.parametrize(("degf", "lb_per_1000_ft2"), [
    (31, 3), (30, 5), (27, 5), (25, 6), (22, 6), (20, 7), (17, 7), (15, 8), (10, 8), (5, 8), (0, 8),
])
def test_salt_rate_by_pavement_temperature(degf: float, lb_per_1000_ft2: float) -> None:
    """The rate is the published one, on a shared boundary that of the colder row (DuPage River / Salt Creek
    Workgroup, Parking Lot Deicing guidance)."""
    expected = lb_per_1000_ft2 * POUND / (1000 * FOOT**2)
    assert table_rate_kg_per_m2(degc(degf)) == pytest.approx(expected)


def test_salt_for_a_parking_lot() -> None:
    """80,000 ft^2 at 22 F take 480 lb (same guidance)."""
    kg = material_kg(80_000 * FOOT**2, table_rate_kg_per_m2(degc(22)))
    assert kg / POUND == pytest.approx(480)


@pytest.mark.parametrize(("lb_per_mile", "lb_per_min", "mph"), [(600, 200, 20), (250, 62.5, 15)])
def test_discharge_limits_spreading_speed(lb_per_mile: float, lb_per_min: float, mph: float) -> None:
    """A discharge keeps a rate a mile up to the published speed, lb/mile = lb/min · 60/mph (Minnesota Snow
    and Ice Control Field Handbook, calibration), and a slower truck keeps its own speed."""
    rate = lb_per_mile * POUND / MILE / 4.0  # on a width of 4 m
    assert spreading_speed_m_per_min(lb_per_min * POUND, rate, 4.0, 100 * MPH) == pytest.approx(mph * MPH)
    assert spreading_speed_m_per_min(lb_per_min * POUND, rate, 4.0, 5 * MPH) == pytest.approx(5 * MPH)


def lane_mile_case(trucks: int) -> Case:
    """120 lane-miles (12 ft wide) shared by some trucks: 25 mph, 0.8, 250 lb a lane-mile, 15 min a reload."""
    lane_mile = 12 * FOOT * MILE
    site = replace(
        SITE, area_m2=120 * lane_mile, work="deice", plow_every_min=None, deice_every_min=120.0,
        parcels=trucks, deice_rate_kg_per_m2=250 * POUND / lane_mile, stop_time_min=0.0,
    )
    spreader = replace(SPREADER, spread_width_m=12 * FOOT, discharge_kg_per_min=1e9)
    return plain_case(
        sites=(site,), spreaders=(spreader,), depots=(Depot("depot", 45.0, -90.0, 15.0, inf),),
        travel=(Leg("depot", "site", 7.5, None), Leg("site", "depot", 7.5, None)),
        assumptions=replace(ASSUMED, spreading_efficiency=0.8, spreading_speed_m_per_min=25 * MPH),
    )


@pytest.mark.parametrize(("trucks", "hours"), [(4, 2.0), (5, 1.7), (6, 1.5), (7, 1.357)])
def test_reload_is_in_the_cycle_and_equal_is_feasible(trucks: int, hours: float) -> None:
    """Four trucks share 120 lane-miles in loops of exactly 2 h and may, more trucks are faster: lane-miles /
    trucks / 20 mph + 0.25 h deadhead + 0.25 h reload (arithmetic on the transit-manual fleet rule)."""
    case, builds = lane_mile_case(trucks), plain_builds(FULL, fill_kg=12_000 * POUND)
    times = times_of(case, FULL, fill_kg=12_000 * POUND)
    loop = evaluate_loop(case, builds, times, 0, len(times.clocks_min) - 1, [0])
    assert loop is not None and loop.in_time and loop.reloads == 1
    assert loop.duration_min == pytest.approx(60 * hours, abs=0.05)


def test_too_few_trucks_for_the_cycle() -> None:
    """Three trucks need 2.5 h on the same 120 lane-miles (40/20 + 0.25 + 0.25) and may not: neglecting reload
    and deadhead, 6 h / 2 h would have called them enough."""
    times = times_of(lane_mile_case(3), FULL, fill_kg=12_000 * POUND)
    assert times.stops[0].parcels == 1 and not times.possible()[:, :, 0].any()
    assert times.out_of_reach[0].reason == "cycle limit"
    assert times.out_of_reach[0].over_by == pytest.approx(30.0)


# ---- stops by hand


def test_minutes_of_a_stop_by_hand() -> None:
    """A stop is stop time + plow + deice + reloading by mass, each as worked by hand."""
    times = times_of(plain_case())
    # 15 m across in 5 strips of 3 m: run 100/200 min, turn pi·6/100 min (circle 16.1 m within 20 m), over 0.5
    plow = 5 * (0.5 + pi * 6 / 100) / 0.5
    # 1500 m^2 · 0.01 = 15 kg; 10 kg/min over 0.05 kg/m keeps 200 m/min; 1500/(5·200)/0.75 = 2 min; 15/150
    # = 0.1
    assert times.stops == (Stop(0, 1, "both"),) and times.parcels.tolist() == [1]
    assert times.plow_min[0, 0, 0] == pytest.approx(plow)
    assert times.deice_min[0, 0, 0] == pytest.approx(2.0)
    assert times.material_kg.tolist() == pytest.approx([15.0])
    assert times.minutes[0, 0, 0] == pytest.approx(3.0 + plow + 2.0 + 0.1)
    assert SLOWEST[times.slowest[0, 0, 0]] == "strips"


def test_stacking_at_the_end_by_hand() -> None:
    """Where snow goes to the end, full blades or strips, whichever are more, each push there and back."""
    case = site_case(snow_goes="end", area_m2=300.0, work="plow")
    # depth at 60 min: 0.03 m; capacity 0.8·3·0.75^2·300 = 405 kg; a strip gathers 3·0.03·100 = 9 kg/m: 45
    # m to fill; mean push (100 + 45)/2 = 72.5 m; snow 300·0.03·100 = 900 kg = 2.22 blades against 1 strip
    push = 72.5 / 200 + 72.5 / 100 + 2 * 0.05
    assert times_of(case).plow_min[0, 0, 0] == pytest.approx(900 / 405 * push / 0.5)
    assert SLOWEST[times_of(case).slowest[0, 0, 0]] == "carrying"


def test_season_minutes_by_hand() -> None:
    """A season's minutes count pushes for plowing, and rounds for deicing, stop time and material."""
    times = times_of(plain_case())
    plow = 5 * (0.5 + pi * 6 / 100) / 0.5
    # snow: min(240/60, 0.1/0.025) + clean-up = 5 pushes and rounds, 10 times; dusting: below the trigger,
    # 1 round
    assert times.season_material_kg[0, 0] == pytest.approx(70 * 15.0)
    assert times.season_stop_min[0, 0, 0] == pytest.approx(50 * plow + 70 * 2.0 + 70 * 3.0)
    assert times.season_reload_min[0, 0, 0] == pytest.approx(7.0)


def test_split_works_offer_each_work_alone() -> None:
    """A site with split works has stops for both works and for each, the others only for their own work."""
    times = times_of(site_case(split_works=True, parcels=2))
    assert [(stop.work, stop.parcels) for stop in times.stops] == [
        ("both", 1), ("both", 2), ("plow", 1), ("plow", 2), ("deice", 1), ("deice", 2)]
    assert times.plow_min[0, 0, 4] == 0.0 and times.deice_min[0, 0, 2] == 0.0


def test_builds_do_only_the_works_they_are_equipped_for() -> None:
    """A build without a spreader plows but does not deice, one without a plow the other way round."""
    case = site_case(split_works=True, parcels=1)
    able = times_of(case, FULL, (0, 0, NONE), (0, NONE, 0)).possible().any(axis=1)
    assert able.tolist() == [[True, True, True], [False, True, False], [False, False, True]]


def test_a_stop_rides_only_in_loops_within_its_cycle_limit() -> None:
    """The grid of clocks reaches the longest limit, and a stop is possible in none beyond its own."""
    other = replace(SITE, id="other", plow_every_min=150.0, deice_every_min=150.0)
    case = plain_case(sites=(SITE, other))
    times = times_of(case)
    assert times.clocks_min.tolist() == [60.0, 120.0, 150.0]
    assert times.possible()[0].tolist() == [[True, True], [False, True], [False, True]]


@pytest.mark.parametrize(("pass_length", "parcels"), [(100.0, 1), (800.0, 2), (1600.0, 3)])
def test_parcels_are_the_least_that_the_build_can_do(pass_length: float, parcels: int) -> None:
    """A site is cut into the fewest parts of which one fits: 60 min less 22 of driving and 3 of stop time
    leave 35 min for strips of (pass/200 + 0.188)/0.5 min."""
    # 6 strips (18 m): 100 m 1.377 min -> 8.3; 800 m 8.377 min -> 50.3 > 35 but 3 strips 25.1;
    # 1600 m 16.377 min: 3 strips 49.1 > 35, 2 strips 32.8
    case = site_case(area_m2=18 * pass_length, pass_length_m=pass_length, work="plow")
    assert times_of(case, (0, 0, NONE)).parcels.tolist() == [parcels]


def test_parcels_are_sized_for_the_smallest_useful_build() -> None:
    """A second, narrower plow that can do one of the most parcels makes the parcels smaller for all; one that
    can do none of them does not count."""
    narrow = replace(PLOW, width_m=1.5)
    case = site_case(area_m2=18 * 800.0, pass_length_m=800.0, work="plow")
    both = replace(case, plows=(PLOW, narrow))
    # 1.5 m strips of 800 m still take 8.377 min, 4 of them fit 35 min: 18 m in thirds is 4 strips
    assert times_of(both, (0, 0, NONE), (0, 1, NONE)).parcels.tolist() == [3]
    useless = replace(case, plows=(PLOW, replace(PLOW, width_m=0.2)))
    # 12 parcels of 1.5 m are 8 strips of 0.2 m: 67 min
    assert times_of(useless, (0, 0, NONE), (0, 1, NONE)).parcels.tolist() == [2]


def test_material_of_a_stop_stays_within_the_fill() -> None:
    """A stop that takes more than the rated fill is cut into parcels that do not: 15 kg with 6 kg a load."""
    times = times_of(plain_case(), fill_kg=6.0)
    assert times.parcels.tolist() == [3]
    assert times.possible()[0, 0].tolist() == [True, False, False]


def test_deadline_counts_driving_and_is_met_when_equal() -> None:
    """A first service ends 10 min of driving and the stop after the start; a deadline at that minute is kept,
    one a thousandth earlier is not."""
    stop = 3.0 + 5 * (0.5 + pi * 6 / 100) / 0.5 + 2.0 + 0.1
    assert times_of(site_case(deadline_min=10 + stop, parcels=1)).possible().any()
    late = times_of(site_case(deadline_min=10 + stop - 0.001, parcels=1))
    assert late.out_of_reach[0].reason == "deadline"
    assert late.out_of_reach[0].over_by == pytest.approx(0.001)


def test_reserve_is_kept_in_every_loop() -> None:
    """A reserve that takes up what the clock leaves is feasible, one beyond is not."""
    left = 60 - (22 + 8 + 3 + 5 * (0.5 + pi * 6 / 100) / 0.5 + 2.0 + 0.1)
    solve = plain_case().solve
    for reserve, able in ((left, True), (left + 0.001, False)):
        case = plain_case(solve=replace(solve, reserve_min=reserve), sites=(replace(SITE, parcels=1),))
        assert times_of(case).possible().any() == able


@pytest.mark.parametrize(("limit", "reason", "over", "unit"), [
    ({"most_gross_kg": 3900.0}, "access: gross", 100.0, "kg"),
    ({"most_width_m": 2.9}, "access: width", 0.1, "m"),
    ({"most_turning_circle_m": 16.0}, "access: turning circle",
     2 * sqrt((3 / tan(radians(30)) + 1.5) ** 2 + 4.5**2) - 16, "m"),
])
def test_access_gives_its_reason(limit: dict[str, float], reason: str, over: float, unit: str) -> None:
    """A build too heavy, too wide or turning too wide for a site is kept out, with reason and amount."""
    times = times_of(site_case(**limit))
    assert not times.possible().any()
    row = times.out_of_reach[0]
    assert (row.site, row.work, row.reason, row.unit) == ("site", "both", reason, unit)
    assert row.nearest == "truck+plow+spreader"
    assert row.over_by == pytest.approx(over)


def test_access_exactly_at_the_limit_is_allowed() -> None:
    """A build as wide and as heavy as the site allows may enter."""
    assert times_of(site_case(most_width_m=3.0, most_gross_kg=4000.0)).possible().all()


def test_out_of_reach_for_want_of_a_tool_or_a_fill() -> None:
    """Without any spreader the reason names it; with one whose load is too small it names the missing
    fill."""
    bare = times_of(plain_case(), (0, 0, NONE)).out_of_reach[0]
    assert (bare.reason, bare.nearest) == ("no build with a plow and a spreader fits", None)
    # a twelfth of 15 kg is 1.25 kg
    short = times_of(plain_case(), fill_kg=1.0).out_of_reach[0]
    assert (short.reason, short.unit) == ("fill", "kg")
    assert short.over_by == pytest.approx(0.25)


def test_no_fitting_build_at_all() -> None:
    """A case in which nothing fits still gives its stops, and says what is missing."""
    builds = replace(plain_builds(FULL), fits=np.array([False]))
    case = plain_case()
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    assert times.minutes.shape == (0, 1, 1) and len(times.out_of_reach) == 1


def test_every_build_stands_at_every_depot() -> None:
    """With two depots each build counts twice, each time with its own roads and reloading."""
    depots = (*plain_case().depots, Depot("far", 46.0, -90.0, 8.0, 15.0))
    legs = (Leg("far", "site", 30.0, None), Leg("site", "far", 30.0, None))
    case = plain_case(depots=depots, travel=(*LEGS, *legs))
    times = times_of(case, FULL, (0, 0, NONE))
    assert times.build.tolist() == [0, 0, 1, 1] and times.depot.tolist() == [0, 1, 0, 1]
    # from the far depot 30 + 30 + 8 min of driving and reloading are more than the hour
    assert times.possible()[:, 0, 0].tolist() == [True, False, False, False]
    assert times.season_reload_min[:2, 0, 0] == pytest.approx([7.0, 70.0])


# ---- travel and loops


def test_a_quarter_of_the_meridian() -> None:
    """From the equator to the pole is a quarter of the circumference of a sphere of 6371.0088 km."""
    meters = great_circle_m(np.array([0.0, 90.0]), np.array([0.0, 0.0]))
    assert meters[0, 1] == pytest.approx(pi / 2 * 6_371_008.8)


def test_roads_are_longer_than_the_straight_way() -> None:
    """Without a travel table minutes are great-circle distance x 1.3 at the travel speed."""
    far = replace(SITE, lat_deg=45.0 + 0.1)
    ways = travel(plain_case(sites=(far,), travel=()))
    meters = 1.3 * radians(0.1) * 6_371_008.8
    assert ways.meters[0, 1] == pytest.approx(meters)
    assert ways.minutes[1, 0] == pytest.approx(meters / 500.0)


def test_legs_rule_their_own_direction_and_detours_win() -> None:
    """A leg counts one way only, one without a distance takes its time at the travel speed, and a faster way
    round replaces a slow leg with its meters."""
    others = tuple(replace(SITE, id=name) for name in "ab")
    case = plain_case(sites=others, travel=(
        Leg("depot", "a", 10.0, None), Leg("depot", "b", 30.0, 1000.0), Leg("a", "b", 5.0, 4000.0),
        Leg("b", "depot", 40.0, 1.0)))
    ways = travel(case)
    assert ways.minutes[0].tolist() == [0.0, 10.0, 15.0]
    assert ways.meters[0].tolist() == [0.0, 5000.0, 9000.0]  # 10 min at 500 m/min; then 4000 more
    # a stands where the depot stands: back from b through a (0 min by the great circle) beats 40 min
    assert ways.minutes[2, 0] == 0.0


def test_the_time_sheet_adds_up() -> None:
    """The lines of the sheet end in the same minutes as the arrays and name what limits each work."""
    case, builds = plain_case(), plain_builds(FULL)
    sheet = {label: value for label, value, _ in explain_stop(case, builds, 0, 0, 60.0)}
    stop = 3.0 + 5 * (0.5 + pi * 6 / 100) / 0.5 + 2.0 + 0.1
    assert sheet["strips"] == 5 and sheet["plowing is limited by"] == "strips"
    assert sheet["spreading is limited by"] == "discharge"
    assert sheet["the whole stop"] == pytest.approx(stop)
    assert sheet["left of the cycle limit"] == pytest.approx(60 - 22 - 8 - stop)


# ---- invariants


@pytest.mark.parametrize("snow_goes", ["side", "end"])
def test_more_area_never_takes_less(snow_goes: str) -> None:
    """A larger area of the same pass length never takes fewer minutes, in an open lot or a tight one."""
    areas = np.linspace(100, 5000, 60)
    for clear in (60.0, 7.0, 2.5):
        minutes = [one_minute(site_case(area_m2=area, snow_goes=snow_goes, clear_width_m=clear, parcels=1))
                   for area in areas]
        assert all(np.diff(minutes) >= -1e-9) and minutes[-1] > minutes[0]


@pytest.mark.parametrize("snow_goes", ["side", "end"])
def test_more_snow_never_takes_less(snow_goes: str) -> None:
    """A deeper cycle never takes fewer minutes, and in the end takes more."""
    deep = site_case(snow_goes=snow_goes, plow_every_min=600.0, deice_every_min=600.0)
    minutes = times_of(deep).plow_min[0, :, 0]
    assert all(np.diff(minutes) >= 0) and minutes[-1] > minutes[0]


@pytest.mark.parametrize("seed", range(10))
def test_a_wider_blade_is_never_slower_in_the_open(seed: int) -> None:
    """In an open lot, where no turn is tight, a wider blade never takes more minutes, side or end."""
    rng = np.random.default_rng(seed)
    case = site_case(area_m2=float(rng.uniform(500, 9000)), clear_width_m=1000.0, parcels=1,
                     snow_goes=str(rng.choice(["side", "end"])))
    widths = np.sort(rng.uniform(1.8, 3.6, 8))
    wide = replace(case, plows=tuple(replace(PLOW, width_m=width) for width in widths))
    minutes = times_of(wide, *((0, n, NONE) for n in range(8))).plow_min[:, -1, 0]
    assert all(np.diff(minutes) <= 1e-9)


def test_faster_is_faster() -> None:
    """A higher plowing speed takes fewer minutes, and double the job efficiency exactly half."""
    base = one_minute(plain_case())
    assert one_minute(plain_case(assumptions=replace(ASSUMED, plow_speed_m_per_min=220.0))) < base
    assert one_minute(plain_case(assumptions=replace(ASSUMED, job_efficiency=1.0))) == pytest.approx(base / 2)


def test_a_narrower_lot_is_never_faster_to_turn_in() -> None:
    """The turn-around never gets shorter as the clear width shrinks, and grows once the circle exceeds it."""
    turns = turn_min(np.array(6.0), np.array(16.0), np.linspace(40, 4, 50), 100.0, 0.05)
    assert all(np.diff(turns) >= 0) and turns[0] == turns[20] and turns[-1] > turns[0]


@pytest.mark.parametrize("angle", [0.0, radians(30)])
def test_a_shorter_wheelbase_leads_more_in_a_tight_lot(angle: float) -> None:
    """With the same blade the shorter wheelbase is never slower, and its lead is larger in a tight lot than
    in an open one (common practice, no source)."""
    trucks = tuple(replace(TRUCK, wheelbase_m=wheelbase) for wheelbase in (3.0, 3.4, 4.0))
    case = plain_case(trucks=trucks, plows=(replace(PLOW, angle_rad=angle),))

    def minutes(clear: float) -> np.ndarray:
        site = replace(SITE, clear_width_m=clear, area_m2=100 * 8 * 3 * cos(angle), parcels=1)
        return times_of(replace(case, sites=(site,)), *((n, 0, NONE) for n in range(3))).plow_min[:, -1, 0]

    open_lot, tight_lot = minutes(30.0), minutes(12.0)
    assert all(np.diff(open_lot) > 0) and all(np.diff(tight_lot) > 0)
    assert all(np.diff(tight_lot) > np.diff(open_lot))

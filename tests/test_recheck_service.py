"""The recheck's minutes, material and roads one at a time, each against arithmetic written out here.

Trucks and figures are those of `small_plan`: blade 3 wide, 2.4 at its angle, 0.5 high, overlap 0.4; plowing
at 200 m/min, backing at 100, a change of direction 0.05 min; settled snow 300 kg/m^3, fallen 100.
"""

from dataclasses import replace
from math import inf, pi, sqrt
from typing import Any

import pytest
import small_plan as sp

from optibuild.plan import recheck
from optibuild.plan.recheck_plowing import modelled_min, plow_min, pushable_kg
from optibuild.plan.recheck_roads import circuity, fastest_roads
from optibuild.plan.recheck_season import stop_season
from optibuild.plan.recheck_service import deice_min, material_kg, stop_min
from optibuild.plan.recheck_tasks import Task
from optibuild.plan.recheck_trucks import Mounted, mounted
from optibuild.records import Case, Leg, Site

UNIT = mounted(sp.PLAN, sp.CASE)[0]
REAR = replace(UNIT, truck=replace(sp.TRUCK, drive="rear"))
# 100 long, 4800 m^2, snow to the side: half of it is 24 wide; the truck's circle is 15.
WIDE = replace(sp.LOT_A, pass_length_m=100, clear_width_m=12)


def figures(**changes: Any) -> Case:
    """The case with other figures in place of its assumptions."""
    return replace(sp.CASE, assumptions=replace(sp.CASE.assumptions, **changes))


def plowing(site: Site, share: float = 1.0, unit: Mounted = UNIT) -> Task:
    """Plowing a share of a site."""
    return Task(unit, site, share, 90, True, False)


def test_side_with_more_snow_than_its_edges_hold() -> None:
    """What the windrows do not hold is pushed away blade by blade, beside the passes."""
    passes = 12  # 24 wide, 2.4 - 0.4 = 2 a pass
    turn = 0.1 + 2 * (15 / 12 - 1) * 0.05  # half a circle, and back and fill in a clear width of 12
    along = passes * (100 / 200 + turn)
    assert along == pytest.approx(7.5)
    snow = 2400 * 0.03 * 100
    edges = 0.5 * 2 * (0.5**2 / 2) * 100 * 300  # half of what the whole site's edges hold
    assert snow - edges == pytest.approx(7200 - 3750)
    full_after = 180 / (3 * 0.03 * 100)
    push = (100 + full_after) / 2
    assert push == pytest.approx(60)
    away = 3450 / 180 * (60 / 200 + 60 / 100 + 2 * 0.05)
    minutes = (along + away) / 0.5
    assert minutes == pytest.approx(53 + 1 / 3)
    assert plow_min(plowing(WIDE, 0.5), 0.03, sp.CASE) == pytest.approx(minutes)


def test_side_whose_edges_hold_the_snow() -> None:
    """At 0.015 deep 3600 of snow lie within the 3750 that the edges hold: passes alone, 7.5 min of them."""
    assert plow_min(plowing(WIDE, 0.5), 0.015, sp.CASE) == pytest.approx(7.5 / 0.5)


def test_side_too_short_to_fill_the_blade() -> None:
    """0.01 deep the blade would fill after 60 but the passes are 50: 1050 of 4800 of snow go 50 at a time."""
    short = replace(WIDE, pass_length_m=50)
    along = 48 * (50 / 200 + 0.125)  # 96 wide
    away = (4800 - 2 * 0.125 * 50 * 300) / 180 * (50 / 200 + 50 / 100 + 0.1)
    assert plow_min(plowing(short), 0.01, sp.CASE) == pytest.approx((along + away) / 0.5)


def test_cutting_a_side_makes_no_new_edges() -> None:
    """A quarter of the site, 12 wide, takes 6 passes and half of the 53 1/3 min of half the site."""
    assert plow_min(plowing(WIDE, 0.25), 0.03, sp.CASE) == pytest.approx((53 + 1 / 3) / 2)


def test_clear_width_narrower_than_the_blade_counts_passes() -> None:
    """In lanes of 1.5 the 24 of half the site take 16 passes, not the 12 of a blade that clears 2."""
    narrow = replace(WIDE, clear_width_m=1.5)
    turn = 0.1 + 2 * (15 / 1.5 - 1) * 0.05
    assert plow_min(plowing(narrow, 0.5), 0.015, sp.CASE) == pytest.approx(16 * (0.5 + turn) / 0.5)


def test_end_limited_by_what_the_blade_carries() -> None:
    """3600 of snow are 20 blades of 180, each pushed 35 on the mean; 10 passes of 50 would take less."""
    carrying = 20 * (35 / 200 + 35 / 100 + 0.1)
    passing = 10 * (50 / 200 + 50 / 100 + 0.1)  # 24 wide, 3 - 0.4 = 2.6 a pass
    assert (carrying, passing) == (pytest.approx(12.5), pytest.approx(8.5))
    assert plow_min(plowing(sp.LOT_B), 0.03, sp.CASE) == pytest.approx(12.5 / 0.5)


def test_end_limited_by_its_passes() -> None:
    """0.015 deep the 1800 of snow are 10 blades that fill after 40, so 45 on the mean: less than 10 passes of
    50."""
    carrying = 10 * (45 / 200 + 45 / 100 + 0.1)
    assert carrying == pytest.approx(7.75)
    assert plow_min(plowing(sp.LOT_B), 0.015, sp.CASE) == pytest.approx(8.5 / 0.5)


# Rear 1280 of gross 2670 off empty with the driver: 0.1 x 1280 - 0.03 x 2670 = 47.9, over 0.479: 100.
SLIPPERY = figures(mu_snow=0.1, sliding=0.479)


def test_traction_of_rear_and_all_drive() -> None:
    """The driven axles grip, the whole truck rolls: with the ballast and the empty hopper aboard."""
    assert pushable_kg(UNIT, sp.CASE) == pytest.approx((0.15 * 2670 - 0.03 * 2670) / 0.3)
    assert pushable_kg(REAR, sp.CASE) == pytest.approx((0.15 * 1280 - 0.03 * 2670) / 0.3)
    assert pushable_kg(REAR, SLIPPERY) == pytest.approx(100)
    alone = replace(sp.CASE, crew=replace(sp.CASE.crew, occupants=0))  # 80 less, 40 of them on the rear axle
    assert pushable_kg(REAR, alone) == pytest.approx((0.15 * 1240 - 0.03 * 2590) / 0.3)


def test_end_limited_by_traction() -> None:
    """A rear-drive truck pushes 100 at a time, not the 180 that its blade holds."""
    full_after = 100 / (3 * 0.03 * 100)
    push = (50 + full_after) / 2
    carrying = 3600 / 100 * (push / 200 + push / 100 + 0.1)
    assert carrying == pytest.approx(20.1)
    assert plow_min(plowing(sp.LOT_B, unit=REAR), 0.03, SLIPPERY) == pytest.approx(20.1 / 0.5)


def test_side_limited_by_traction() -> None:
    """It leaves smaller windrows, 100 over 300 x 3, and carries 100 at a time of what is left."""
    edges = 0.5 * 2 * (100 / (300 * 3)) * 100 * 300
    push = (100 + 100 / 9) / 2
    away = (7200 - edges) / 100 * (push / 200 + push / 100 + 0.1)
    assert plow_min(plowing(WIDE, 0.5, REAR), 0.03, SLIPPERY) == pytest.approx((7.5 + away) / 0.5)


def test_truck_that_slips_cannot_plow() -> None:
    """0.06 x 1280 is less than the 0.03 x 2670 it takes to roll: nothing is pushed in any time."""
    assert pushable_kg(REAR, figures(mu_snow=0.06)) == 0
    assert plow_min(plowing(sp.LOT_B, unit=REAR), 0.03, figures(mu_snow=0.06)) == inf


def test_overlap_wider_than_the_blade_cannot_plow() -> None:
    """An overlap of 2.5 leaves a blade of 2.4 at its angle nothing to clear, but 0.5 of one put straight."""
    assert plow_min(plowing(WIDE), 0.03, figures(overlap_m=2.5)) == inf
    assert plow_min(plowing(sp.LOT_B), 0.03, figures(overlap_m=2.5)) < inf


def timed(site: Site, minutes: float, depth_m: float) -> Site:
    """The site with one timing of the light truck and the blade."""
    return replace(site, timed_min=minutes, timed_truck="light", timed_plow="blade", timed_depth_m=depth_m)


def test_timed_site_scales_every_plowing_there() -> None:
    """Timed at twice what the model says 0.04 deep, everything takes twice as long: less snow, and a half."""
    modelled = 4800 / 180 * (32.5 / 200 + 32.5 / 100 + 0.1) / 0.5  # full after 15
    assert modelled == pytest.approx(31 + 1 / 3)
    site = timed(sp.LOT_B, 2 * modelled, 0.04)
    assert plow_min(plowing(site), 0.04, sp.CASE) == pytest.approx(2 * modelled)
    assert plow_min(plowing(site), 0.03, sp.CASE) == pytest.approx(2 * 25)
    half = max(5 * 0.85, 10 * 0.625) / 0.5  # 12 wide is 5 passes; 1800 of snow are 10 blades
    assert plow_min(plowing(site, 0.5), 0.03, sp.CASE) == pytest.approx(2 * half)


def test_timed_site_in_the_season() -> None:
    """Two heavy events of 3 pushes, 0.04 deep: 2 x 31 1/3 min each and 3 to arrive, which nobody timed."""
    season = stop_season(plowing(timed(sp.LOT_B, 50, 0.03)), sp.CASE)
    assert season.work_min == pytest.approx(6 * (2 * (31 + 1 / 3) + 3))


def test_timed_truck_is_taken_without_spreader_and_ballast() -> None:
    """The truck and plow alone have 1000 + 40 - 10 = 1030 on the driven rear axle and 2440 in all, so they
    push 100; with hopper and bags 1280 and 2670, so the build at work pushes more."""
    case = replace(figures(mu_snow=0.1, sliding=0.298), trucks=(REAR.truck,))
    alone = (0.1 * 1030 - 0.03 * 2440) / 0.298
    assert alone == pytest.approx(100)
    by_model = 20.1 / 0.5  # as in the end limited by traction
    pushed = (0.1 * 1280 - 0.03 * 2670) / 0.298
    push = (50 + pushed / 9) / 2
    at_work = 3600 / pushed * (push / 200 + push / 100 + 0.1) / 0.5
    job = plowing(timed(sp.LOT_B, 30, 0.03), unit=REAR)
    assert plow_min(job, 0.03, case) == pytest.approx(at_work * 30 / by_model)
    assert modelled_min(job, 0.03, case) == pytest.approx(at_work)


def test_timing_that_the_model_cannot_do_leaves_no_minutes() -> None:
    """Alone it rolls at 73.2 and grips 0.07 x 1030 = 72.1; at work it could push: no figure comes of that."""
    case = replace(figures(mu_snow=0.07), trucks=(REAR.truck,))
    job = plowing(timed(sp.LOT_B, 30, 0.03), unit=REAR)
    assert modelled_min(job, 0.03, case) < inf
    assert plow_min(job, 0.03, case) == inf


def test_brine_of_a_quarter_dry_deicer() -> None:
    """0.05 of dry deicer is 0.2 of brine a square meter: four times the mass, and slower where the discharge
    limits."""
    case = replace(sp.CASE, materials=(replace(sp.CASE.materials[0], strength=0.25),))
    job = Task(UNIT, sp.LOT_A, 0.5, 90, True, True)
    assert material_kg(job, -4, case) == pytest.approx(2400 * 0.05 / 0.25)
    speed = min(250, 60 / (0.2 * 6))
    assert speed == pytest.approx(50)
    minutes = 2400 / (6 * 50) / 0.8
    assert deice_min(job, -4, case) == pytest.approx(minutes)
    assert stop_min(job, case) == pytest.approx(3 + 15 + minutes + 480 / 240)
    # 10 light and 2 heavy events of 1 and 4 rounds at 90 min
    assert stop_season(job, case).material_kg == pytest.approx((10 + 2 * 4) * 480)


def test_brine_fills_the_hopper_sooner() -> None:
    """480 of brine are 80 more than a fill of 400, though their 120 of deicer would fit."""
    case = replace(sp.CASE, materials=(replace(sp.CASE.materials[0], strength=0.25),))
    found = {row.name: row for row in recheck(sp.PLAN, case).checks}
    assert found["fill between reloads"].worst == pytest.approx(400 - 480)
    assert found["material"].worst == pytest.approx(120 - 480)


def roads(**changes: Any) -> dict[tuple[str, str], tuple[float, float]]:
    """Minutes and meters between yard and lots a and b, with the storm or the legs changed."""
    legs = changes.pop("travel", sp.CASE.travel)
    case = replace(sp.CASE, travel=legs, storm=replace(sp.CASE.storm, **changes))
    found = fastest_roads(case, {"yard", "a", "b"})
    return {pair: (road.minutes, road.least_m) for pair, road in found.items()}


def test_storm_slows_the_legs_given() -> None:
    """A leg of 4 min takes 6 in a storm that slows by half; straight ways are driven at its speed already."""
    slow = roads(slowdown=0.5)
    assert slow["yard", "a"] == (pytest.approx(6), pytest.approx(2000))
    assert slow["yard", "b"] == (pytest.approx(6), pytest.approx(3600))
    # 9 x 1.5 = 13.5 directly, 6 + 6 by the yard
    assert slow["a", "b"] == (pytest.approx(12), pytest.approx(5600))


def test_leg_without_a_distance_is_as_long_as_it_takes_unslowed() -> None:
    """4 min at 600 m/min are 2400 m, however slow the storm."""
    legs = (Leg("yard", "a", 4, None), *sp.CASE.travel[1:])
    assert roads(travel=legs, slowdown=0.5)["yard", "a"] == (pytest.approx(6), pytest.approx(2400))


def test_no_way_is_gone_round() -> None:
    """Where the yard has no way to b one goes by a, 4 + 9 min; back there is the straight way of 6."""
    for time in (None, 1.0):  # a time says nothing where nobody gets through
        found = roads(travel=(*sp.CASE.travel, Leg("yard", "b", time, None, passable=False)))
        assert found["yard", "b"] == (pytest.approx(13), pytest.approx(7000))
        assert found["b", "yard"] == (pytest.approx(6), pytest.approx(3600))


def test_place_without_any_way_is_never_reached() -> None:
    """With no way to b from anywhere its minutes are without end, and so are those of a plan that goes."""
    legs = (*sp.CASE.travel[:2], *(Leg(end, "b", None, None, passable=False) for end in ("yard", "a", "c")))
    assert roads(travel=legs)["a", "b"][0] == inf
    found = {row.name for row in recheck(sp.PLAN, replace(sp.CASE, travel=legs)).checks if not row.passed}
    assert {"arrivals", "loop totals", "loop within its cycle limit"} <= found


def test_circuity_fitted_to_the_legs_given() -> None:
    """Legs 1.2 and 1.5 times their great circles make sqrt(1.2 x 1.5), which then winds every straight way.

    Yard and b lie on one meridian, an arc of 3600/1.3; a leg of no distance says nothing.
    """
    arc = 3600 / 1.3
    legs = (Leg("yard", "b", 50, 1.2 * arc), Leg("b", "yard", 50, 1.5 * arc), Leg("yard", "a", 50, None))
    case = replace(sp.CASE, travel=legs, storm=replace(sp.CASE.storm, fit_circuity=True))
    assert circuity(case) == pytest.approx(sqrt(1.8))
    assert circuity(replace(case, storm=sp.CASE.storm)) == 1.3
    assert circuity(replace(case, travel=legs[2:])) == 1.3
    # one degree of the mean Earth's meridian (IUGG), north from the yard to lot c
    degree = 6_371_008.8 * pi / 180
    road = fastest_roads(case, {"yard", "c"})["yard", "c"]
    assert road.least_m == pytest.approx(degree * sqrt(1.8))
    assert road.minutes == pytest.approx(degree * sqrt(1.8) / 600)

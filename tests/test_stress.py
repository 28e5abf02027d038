"""What a plan withstands: break points worked out by hand, and every percent evaluated with the recheck."""

from dataclasses import replace
from functools import cache
from math import inf

import pytest
from drill_cases import CASE, fleet_case, fleet_plan, hand_plan
from seeded_cases import small_case

from optibuild.explain.stress import (
    CHANGES,
    Change,
    broken,
    endurance,
    heavier_items,
    heavier_snowfall,
    slower_travel,
    wetter_snow,
)
from optibuild.pipeline import make_plan, recheck
from optibuild.records import Case, Plan, PlannedTruck
from optibuild.records.drill import Endurance
from optibuild.written import among_its_builds

TIMES = {"loop within its cycle limit", "deadlines", "end round within its time"}
WEIGHTS = {"front GAWR", "rear GAWR", "GVWR", "tire capacity", "axle shares", "access: gross"}
BY_NAME = {change.name: change for change in CHANGES}


def of(case: Case, plan: Plan | None = None) -> dict[str, Endurance]:
    """What the plan of a case withstands, by the change."""
    return {row.change: row for row in endurance(among_its_builds(case, plan or hand_plan(case)))}


# ---- by hand: see `drill_cases`


def test_slower_roads_break_the_longest_loop_first() -> None:
    """{q, p} takes 38 min beside 20 of driving: 38 + 20/(1 - x) reaches 60 at x = 1/11, so it holds to 9 %
    and at 10 % takes 38 + 22.222 = 60.222. At 20 % it takes 63, and r is done at 6.25 + 30 = 36.25 of 36."""
    row = of(CASE)["travel speed"]
    assert row.holds == pytest.approx(0.09)
    assert row.first is not None
    assert (row.first.promise, row.first.limit, row.first.unit) == ("cycle limit", 60, "min")
    assert row.first.over == pytest.approx(20 / 0.9 - 22)
    assert row.step == pytest.approx(0.20)
    assert {(one.promise, one.at): one.over for one in row.broken} == {
        ("cycle limit", row.first.at): pytest.approx(3.0), ("deadline", "r"): pytest.approx(0.25)}
    assert row.broken[0].promise == "cycle limit"


def test_without_plowing_snow_breaks_nothing() -> None:
    """Salting takes the same minutes in any snow: everything holds as far as is tried, rates to four times
    theirs, densities of 100 kg/m^3 to 400."""
    found = of(CASE)
    for name in ("snowfall rate", "snow density"):
        assert (found[name].holds, found[name].tried) == (pytest.approx(3.0), pytest.approx(3.0))
        assert found[name].first is None and not found[name].broken


def test_no_snow_is_denser_than_ice() -> None:
    """Snow of 600 kg/m^3 is tried to 917, which is 52 % more."""
    case = replace(CASE, storm=replace(CASE.storm, snow_density_kg_per_m3=600))
    assert of(case)["snow density"].tried == pytest.approx(0.52)


def test_heavier_items_break_the_rear_axle() -> None:
    """Rear axle, hopper full, two aboard: 1000 + 150 of truck and hopper, 80 of people and 500 x 1.125 of
    salt (its volume is full) are 1792.5 of 1800: one percent more, 11.5 kg, is 4 over; three percent 27. The
    fill stays as it is."""
    row = of(CASE)["catalog weights"]
    assert row.holds == 0.0 and row.first is not None
    assert (row.first.promise, row.first.limit, row.first.unit) == ("rear GAWR", 1800, "kg")
    assert row.first.over == pytest.approx(4.0)
    assert "full" in row.first.at
    assert [(one.promise, one.truck_no, one.over) for one in row.broken] == [
        ("rear GAWR", 1, pytest.approx(27.0)), ("rear GAWR", 2, pytest.approx(27.0))]


def test_a_reserve_on_axles_is_kept_by_all_and_stands_more_weight() -> None:
    """With 50 kg kept free of every rating no axle has less left, and the rear axle of 1750 breaks when 1150
    x share passes 50: at 4.35 %, so it holds to 4 %."""
    case = replace(CASE, fit=replace(CASE.fit, axle_reserve_kg=50.0))
    plan = hand_plan(case)
    left = [margin for truck in plan.trucks for row in truck.axle_loads
            for margin in (row.front_margin_kg, row.rear_margin_kg, row.gross_margin_kg)]
    assert min(left) == pytest.approx(50.0)
    assert of(case)["catalog weights"].holds == pytest.approx(0.04)


def test_a_reserve_in_loops_is_kept_by_all_and_stands_slower_roads() -> None:
    """With 5 min in reserve the narrow spreader no longer does q and p (58 + 5 > 60), the wide one does in
    55: 35 + 20/(1 - x) reaches 60 at 20 %, where it still holds; without a reserve it breaks beyond 9 %.
    r is done at 30 + 5/(1 - x), 36 at x = 1/6: it breaks first, beyond 16 %."""
    case = replace(CASE, solve=replace(CASE.solve, reserve_min=5.0))
    plan = hand_plan(case)
    assert all(truck.loop.duration_min + 5 <= truck.loop.cycle_limit_min + 1e-6 for truck in plan.trucks)
    row = of(case)["travel speed"]
    assert row.holds == pytest.approx(0.16) and row.holds > of(CASE)["travel speed"].holds
    assert row.first is not None and (row.first.promise, row.first.at) == ("deadline", "r")
    (only,) = row.broken
    assert (only.promise, only.over) == ("deadline", pytest.approx(0.25))


def test_a_site_that_bears_no_more_breaks() -> None:
    """A lot p that bears 3300 kg: 2300 + 150 + 160 + 500 = 3110 loaded, 190 left of 2450 of items: 7.76 %.
    The rear axle, made stronger, does not break before."""
    trucks = (replace(CASE.trucks[0], gawr_rear_kg=2500, gvwr_kg=3600),)
    sites = tuple(replace(site, most_gross_kg=3300) if site.id == "p" else site for site in CASE.sites)
    case = replace(CASE, trucks=trucks, sites=sites)
    row = of(case)["catalog weights"]
    assert row.holds == pytest.approx(0.07) and row.first is not None
    assert (row.first.promise, row.first.at, row.first.limit) == ("access: gross", "p", 3300)
    assert row.first.over == pytest.approx(3110 + 0.08 * 2450 - 3300)


def test_a_loop_may_come_round_as_rarely_as_its_sites_allow() -> None:
    """A loop to r alone that is planned with a clock of 60 though r allows 90 and has no deadline: 36.5 +
    10/(1 - x) with the narrow spreader passes 60 at 57 %, and 90 at 81.3 %; it holds until then."""
    sites = tuple(replace(site, deice_every_min=90.0, deadline_min=inf) if site.id == "r" else site
                  for site in CASE.sites)
    case = replace(CASE, sites=sites)
    plan = hand_plan(case)
    of_r = next(truck for truck in plan.trucks if [stop.site for stop in truck.loop.stops] == ["r"])
    assert of_r.spreader == "narrow"
    hurried = tuple(replace(truck, loop=replace(truck.loop, cycle_limit_min=60.0))
                    if truck is of_r else truck for truck in plan.trucks)
    own = among_its_builds(case, replace(plan, trucks=hurried))
    for share, breaks in ((0.57, False), (0.81, False), (0.82, True)):
        found = broken(own, BY_NAME["travel speed"], share)
        assert any(one.truck_no == of_r.truck_no for one in found) == breaks


# ---- the changes themselves


def test_changes_change_what_they_say() -> None:
    """A quarter more snow an hour; half as dense again; a leg at 20 % less speed takes 1/0.8 of its time; 3 %
    more on curb, blade and hopper, none on ratings."""
    case = small_case()
    assert heavier_snowfall(case, 0.25).storm.snowfall_rate_m_per_min == pytest.approx(
        1.25 * case.storm.snowfall_rate_m_per_min)
    assert wetter_snow(case, 0.5).storm.snow_density_kg_per_m3 == pytest.approx(
        1.5 * case.storm.snow_density_kg_per_m3)
    slow = slower_travel(replace(case, storm=replace(case.storm, slowdown=0.5)), 0.2).storm
    assert slow.travel_speed_m_per_min == pytest.approx(0.8 * case.storm.travel_speed_m_per_min)
    assert 1 + slow.slowdown == pytest.approx(1.5 / 0.8)
    heavy = heavier_items(case, 0.03)
    assert heavy.trucks[0].curb_kg == pytest.approx(1.03 * case.trucks[0].curb_kg)
    assert heavy.plows[0].blade_mass_kg == pytest.approx(1.03 * case.plows[0].blade_mass_kg)
    assert heavy.spreaders[0].empty_mass_kg == pytest.approx(1.03 * case.spreaders[0].empty_mass_kg)
    assert heavy.trucks[0].gvwr_kg == case.trucks[0].gvwr_kg


def test_what_was_timed_takes_longer_in_wetter_snow() -> None:
    """The freight yard, pushed to its end, timed at 40 min with a known truck and plow: snow twice as dense
    takes more pushes, at most twice as many, so the time stands for more than 40 and at most 80."""
    case = small_case()
    sites = tuple(replace(site, timed_min=40.0, timed_truck="tqt", timed_plow="p80", timed_depth_m=0.1)
                  if site.id == "yard" else site for site in case.sites)
    changed = wetter_snow(replace(case, sites=sites), 1.0)
    timed = next(site.timed_min for site in changed.sites if site.id == "yard")
    assert timed is not None and 40.0 < timed <= 80.0


# ---- by evaluating every percent with the recheck, which shares no formula with the engines


@cache
def several(seed: int) -> tuple[Case, Plan, dict[str, Endurance]] | None:
    """A seeded case, its plan, and what it withstands; None where there is one truck only."""
    case, plan = fleet_case(seed), fleet_plan(seed)
    return None if plan is None else (case, plan, of(case, plan))


def at_clocks(case: Case, truck: PlannedTruck) -> list[PlannedTruck]:
    """A truck with its loop at every clock of the case that it and its sites allow: limits that are asked,
    and whole hours."""
    asked = {limit for site in case.sites for limit in site.cycle_limits_min}
    clocks = asked | {60.0 * n for n in range(1, int(max(asked) / 60) + 1)}
    sites = {stop.site for stop in truck.loop.stops}
    most = min(site.cycle_limit_min for site in case.sites if site.id in sites)
    return [replace(truck, loop=replace(truck.loop, cycle_limit_min=clock))
            for clock in sorted(clocks) if truck.loop.cycle_limit_min <= clock <= most]


def keeps(plan: Plan, case: Case, change: Change, percent: int) -> bool:
    """Whether the recheck finds all promises of every truck, at some clock of its loop, kept in the changed
    case; reserves are no promise."""
    free = replace(case, solve=replace(case.solve, reserve_min=0.0), fit=replace(case.fit, axle_reserve_kg=0))
    changed = change.make(free, percent / 100)
    wanted = WEIGHTS if change.name == "catalog weights" else TIMES

    def kept(truck: PlannedTruck) -> bool:
        rows = [row for row in recheck(replace(plan, trucks=(truck,)), changed).checks if row.name in wanted]
        assert len(rows) == len(wanted)
        return all(row.passed for row in rows)

    return all(any(kept(one) for one in at_clocks(case, truck)) for truck in plan.trucks)


@pytest.mark.parametrize("name", BY_NAME)
def test_break_points_are_where_the_recheck_says(name: str) -> None:
    """On seeded cases every percent from 0 to two beyond the break point, and every tenth up to the greatest
    tried, is kept or broken as the recheck finds by its own formulas."""
    change, compared, breaking = BY_NAME[name], 0, 0
    for seed in range(8):
        made = several(seed)
        if made is None:
            continue
        case, plan, withstood = made
        row = withstood[name]
        holds, tried = round(100 * row.holds), round(100 * row.tried)
        for percent in sorted({*range(0, min(holds + 3, tried + 1)), *range(0, tried + 1, 10)}):
            assert keeps(plan, case, change, percent) == (percent <= holds), (seed, percent)
        compared, breaking = compared + 1, breaking + (row.first is not None)
    assert compared >= 3 and breaking >= 2


def test_loops_stand_the_slower_roads_that_their_reserve_is_enough_for() -> None:
    """The small case with 15 min in every loop: each keeps them, and where the speed is 1 - x of what it was
    driving takes drive x / (1 - x) more, which 15 min are enough for up to x = 15 / (15 + drive)."""
    case = small_case()
    spared = replace(case, solve=replace(case.solve, reserve_min=15.0))
    plan = make_plan(spared)
    assert all(truck.loop.duration_min + 15 <= truck.loop.cycle_limit_min + 1e-6 for truck in plan.trucks)
    own = among_its_builds(spared, plan)
    share = min(15 / (15 + truck.loop.drive_min) for truck in plan.trucks)
    late = broken(own, BY_NAME["travel speed"], share - 1e-9)
    assert not [one for one in late if one.promise == "cycle limit"]

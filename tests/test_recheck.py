"""The recheck: a plan worked out by hand passes, and every planted fault is caught by its check."""

from dataclasses import replace
from math import asin, pi
from typing import Any

import pytest
import small_plan as sp

from optibuild.plan import recheck
from optibuild.plan.recheck_items import annual_usd
from optibuild.plan.recheck_roads import fastest_roads, great_circle_m
from optibuild.plan.recheck_season import rounds
from optibuild.plan.recheck_service import deice_rate_kg_per_m2
from optibuild.records import Case, Check, Leg, Plan, PlannedEndRound, Shortfall, SitePrice


def failed(plan: Plan, case: Case) -> dict[str, Check]:
    """The checks that a plan fails, by name."""
    return {row.name: row for row in recheck(plan, case).checks if not row.passed}


def test_hand_made_plan_passes() -> None:
    """A plan whose every number was worked out by hand keeps every promise."""
    assert failed(sp.PLAN, sp.CASE) == {}
    assert recheck(sp.PLAN, sp.CASE).passed


def test_margins_are_those_worked_out_by_hand() -> None:
    """Worst margins are rating less reserve less load; 90 min less the loop's 79 and 10 in reserve."""
    found = {row.name: row for row in recheck(sp.PLAN, sp.CASE).checks}
    assert found["front GAWR"].worst == pytest.approx(1750 - 5 - 1730)
    assert found["rear GAWR"].worst == pytest.approx(1800 - 5 - 1770)
    assert found["GVWR"].worst == pytest.approx(3400 - 5 - 3390)
    assert found["GVWR"].where == "truck 1, raised full, full"
    assert found["loop within its cycle limit"].worst == pytest.approx(90 - 79 - 10)
    assert found["deadlines"].worst == pytest.approx(80 - 70)
    assert found["budget"].worst == pytest.approx(21_000 - 20_210.2)
    assert found["cost without a site"].worst == pytest.approx(0, abs=1e-9)
    other = {row.name: row for row in recheck(sp.with_site_row(0, marginal_most_usd=None), sp.CASE).checks}
    assert other["cost without a site"].worst == pytest.approx(500 - (1178.156 - 766.02))


LOADS = "stated axle loads"
ROWS = "site rows"
COSTS, PRICES, WITHOUT = "cost of each site", "price of each site", "cost without a site"

# What the plan says wrongly, with every check that must catch it and no other.
PLAN_FAULTS: dict[str, tuple[Plan, set[str]]] = {
    "fill 6 kg more: gross one over": (sp.with_truck(1, rated_fill_kg=406), {"GVWR", LOADS}),
    "an axle load a kilogram light": (sp.with_truck(1, axle_loads=(
        replace(sp.LOADS[0], front_kg=1689), *sp.LOADS[1:])), {LOADS}),
    "a margin that counts the reserve": (sp.with_truck(1, axle_loads=(
        replace(sp.LOADS[0], front_margin_kg=55), *sp.LOADS[1:])), {LOADS}),
    "a load state left out": (sp.with_truck(2, axle_loads=sp.LOADS[1:]), {LOADS}),
    "ballast lighter than its bags": (sp.with_truck(2, ballast=(
        replace(sp.PLAN.trucks[1].ballast[0], mass_kg=79),)), {"ballast"}),
    "plowing stated a minute short": (sp.with_stop(2, 0, plow_min=24), {"service minutes"}),
    "deicing stated short": (sp.with_stop(1, 0, deice_min=2.0), {"service minutes"}),
    "a plowing time that is no number": (sp.with_stop(1, 0, plow_min=float("nan")), {"service minutes"}),
    "material stated short": (sp.with_stop(1, 0, material_kg=119), {"material"}),
    "arrival a minute early": (sp.with_stop(2, 1, arrive_min=48), {"arrivals"}),
    "leaving a minute early": (sp.with_stop(2, 0, leave_min=33), {"arrivals"}),
    "a deadline that is not the site's": (sp.with_stop(1, 0, deadline_min=90), {"arrivals"}),
    "a reload not counted": (sp.with_loop(2, reloads=1), {"loop totals"}),
    "duration without the last reload": (sp.with_loop(1, duration_min=29), {"loop totals"}),
    "driving stated short": (sp.with_loop(1, drive_min=7), {"loop totals"}),
    "an untrue site row": (sp.with_site_row(1, works=()), {ROWS}),
    "a revisit time too short": (sp.with_site_row(1, works=(
        replace(sp.PLAN.sites[1].works[0], revisit_min=60),)), {ROWS}),
    "a must-serve site left out": (sp.with_site_row(1, served=False), {
        "coverage", "contract value", "cost and objective", COSTS, PRICES, WITHOUT}),
    "a served site without service": (sp.with_site_row(2, served=True), {
        "coverage", "contract value", "cost and objective", COSTS, PRICES}),
    "a site row missing": (replace(sp.PLAN, sites=sp.PLAN.sites[:2]), {"coverage", "cost and objective"}),
    "a stop twice as large as the site": (sp.with_stop(2, 0, parcels=2), {
        "service minutes", "arrivals", "loop totals", "loop within its cycle limit", "deadlines", "stops",
        ROWS, "truck hours", "truck seasons", "season by kind", "cost and objective", COSTS, PRICES,
        WITHOUT}),
    "a purchase too many": (sp.with_item(1, bought=3),
                            {"items used", "budget", "capital and owning", "cost and objective", COSTS,
                             WITHOUT}),
    "an owned one counted as bought": (sp.with_item(3, owned_used=3, bought=1), {
        "capital and owning", "truck seasons", "cost and objective", COSTS, PRICES, WITHOUT}),
    "an owned one that is not there": (sp.with_item(0, owned_used=2, bought=0), {
        "stock", "capital and owning", "truck seasons", "cost and objective", COSTS, PRICES}),
    "a price too low": (sp.with_item(1, price_usd=4000), {"item prices"}),
    "a yearly cost without resale": (sp.with_item(0, annual_usd=(10_000 * 0.14641 / 0.4641 + 200) / 2),
                                     {"item prices"}),
    "a wrong capital": (sp.with_money(capital_usd=20_000), {"capital and owning"}),
    "a wrong owning": (sp.with_money(owning_usd=sp.OWNING_USD - 1), {"capital and owning"}),
    "a wrong budget": (sp.with_money(budget_usd=None), {"capital and owning"}),
    "hours without the start": (sp.with_truck(1, season=replace(sp.SEASON_1, hours=530 / 60)),
                                {"truck hours"}),
    "a truck's season a dollar off": (sp.with_truck(2, season=replace(sp.SEASON_2, usd=1177.156)),
                                      {"truck seasons"}),
    "a wrong sum of labor": (sp.with_money(labor_usd=1111), {"season by kind"}),
    "a wrong season": (sp.with_money(season_usd=sp.SEASON_USD + 1), {"season by kind"}),
    "a wrong contract value": (sp.with_money(contract_value_usd=3200), {"contract value"}),
    "a wrong cost": (sp.with_outcome(cost_usd=sp.COST_USD - 1), {"cost and objective"}),
    "an objective that forgets the site left out": (
        sp.with_outcome(objective_usd=sp.COST_USD, bound_usd=0.99 * sp.COST_USD), {"cost and objective"}),
    "a bound above the objective": (sp.with_outcome(bound_usd=1.01 * sp.OBJECTIVE_USD, gap=-0.01),
                                    {"bound", "proof"}),
    "a wrong gap": (sp.with_outcome(gap=0.005), {"gap"}),
    "no gap beside a bound": (sp.with_outcome(gap=None), {"gap", "proof"}),
    "a proof that the gap does not bear": (sp.with_outcome(proof="proved best"), {"proof"}),
    "less proved than the gap bears": (sp.with_outcome(proof="best found"), {"proof"}),
    "a search that ended proved": (sp.with_outcome(stopped="proved"), {"proof"}),
    "a plan where none exists": (sp.with_outcome(stopped="no plan exists"), {"proof"}),
    "a gap that was not asked": (sp.with_outcome(asked_gap=0.05), {"proof"}),
    "no gap that was asked": (sp.with_outcome(asked_gap=None), {"proof"}),
    "something missing beside a plan": (replace(sp.PLAN, shortfall=Shortfall((), None, (), ())), {"proof"}),
    "a site's cost a dollar short": (sp.with_site_row(0, cost_usd=sp.COST_A - 1), {COSTS}),
    "a dollar of cost at the wrong site": (replace(sp.PLAN, sites=(
        replace(sp.PLAN.sites[0], cost_usd=sp.COST_A + 1), replace(sp.PLAN.sites[1], cost_usd=sp.COST_B - 1),
        sp.PLAN.sites[2])), {COSTS}),
    "a cost of a site left out": (sp.with_site_row(2, cost_usd=0.0), {COSTS}),
    "no cost of a site served": (sp.with_site_row(1, cost_usd=None), {COSTS}),
    "a season's price without the margin": (sp.with_site_row(0, price=SitePrice(
        None, sp.PRICE_A / 12, sp.COST_A * 1.12)), {PRICES}),
    "a price for each of too few events": (sp.with_site_row(1, price=SitePrice(
        sp.PRICE_B / 6, sp.PRICE_B / 3, sp.PRICE_B)), {PRICES}),
    "a price for each of too many pushes": (sp.with_site_row(1, price=SitePrice(
        sp.PRICE_B / 8, sp.PRICE_B / 2, sp.PRICE_B)), {PRICES}),
    "a price for a push of a site that is deiced": (sp.with_site_row(0, price=SitePrice(
        sp.PRICE_A / 8, sp.PRICE_A / 12, sp.PRICE_A)), {PRICES}),
    "no price of a site served": (sp.with_site_row(0, price=None), {PRICES}),
    "a price of a site left out": (sp.with_site_row(2, price=SitePrice(None, None, 0.0)), {PRICES}),
    "less saved without a site than its truck costs": (
        sp.with_site_row(0, marginal_most_usd=sp.SAVED_A - 1), {WITHOUT}),
    "less saved without a site than its stop costs": (
        sp.with_site_row(1, marginal_most_usd=sp.SAVED_B - 1), {WITHOUT}),
    "something saved by a site left out": (sp.with_site_row(2, marginal_most_usd=1.0), {WITHOUT}),
    "an assumption that the case does not have": (replace(sp.PLAN, assumptions=(
        replace(sp.PLAN.assumptions[0], value=81), *sp.PLAN.assumptions[1:])), {"assumptions"}),
    "an assumption in another unit": (replace(sp.PLAN, assumptions=(
        replace(sp.PLAN.assumptions[0], unit="lb"), *sp.PLAN.assumptions[1:])), {"assumptions"}),
    "an assumption said to be the user's": (replace(sp.PLAN, assumptions=(
        replace(sp.PLAN.assumptions[0], overridden=True), *sp.PLAN.assumptions[1:])), {"assumptions"}),
    "an assumption left out": (replace(sp.PLAN, assumptions=sp.PLAN.assumptions[1:]), {"assumptions"}),
    "a purchase listed twice": (replace(sp.PLAN, items=(*sp.PLAN.items, sp.PLAN.items[1])), {"names"}),
    "a truck number used twice": (sp.with_truck(2, truck_no=1), {"names"}),
    "a truck nobody sells": (sp.with_truck(1, truck="heavy"), {"names"}),
    "a build named after another plow": (sp.with_truck(1, build="light+wing+hopper"), {"names"}),
    "a stop at an unknown site": (sp.with_stop(1, 0, site="z"), {"names"}),
    "an item of an unknown table": (sp.with_item(0, table="carts"), {"names"}),
    "deicing said to wait for the end": (sp.with_stop(1, 0, deice_when="end"), {"stops"}),
    "an end round that no work waits for": (
        sp.with_loop(1, end_round=PlannedEndRound(240, 34, 8, 5, 4000, 1)), {"end round totals"}),
    "an arrival in no end round": (sp.with_stop(1, 0, end_arrive_min=4), {"end round arrivals"}),
    "a reload in no end round": (sp.with_stop(2, 1, end_reload_before=True), {"end round arrivals"}),
}


@pytest.mark.parametrize("fault", PLAN_FAULTS)
def test_untrue_statement_is_caught_by_its_check(fault: str) -> None:
    """One wrong statement in the plan fails exactly the checks that are about it."""
    plan, expected = PLAN_FAULTS[fault]
    assert set(failed(plan, sp.CASE)) == expected


def of_truck(**changes: Any) -> Case:
    """The case with its truck changed."""
    return replace(sp.CASE, trucks=(replace(sp.TRUCK, **changes),))


def of_fit(**changes: Any) -> Case:
    """The case with its own limits on axle shares changed."""
    return replace(sp.CASE, fit=replace(sp.CASE.fit, **changes))


def with_spreader(**changes: Any) -> Case:
    """The case with its spreader changed."""
    return replace(sp.CASE, spreaders=(replace(sp.HOPPER, **changes),))


def with_plow(**changes: Any) -> Case:
    """The case with its plow changed."""
    return replace(sp.CASE, plows=(replace(sp.PLOW, **changes),))


def with_ballast(**changes: Any) -> Case:
    """The case with its ballast kit changed."""
    return replace(sp.CASE, ballast=(replace(sp.SANDBAG, **changes),))


def with_reserve(minutes: float) -> Case:
    """The case with another slack kept in every loop."""
    return replace(sp.CASE, solve=replace(sp.CASE.solve, reserve_min=minutes))


# A limit set just below what the plan does: the check, the case, the worst margin, its place.
CASE_FAULTS: dict[str, tuple[str, Case, float, str]] = {
    "front axle a kilogram over": ("front GAWR", of_truck(gawr_front_kg=1734), -1,
                                   "truck 1, raised empty, full"),
    "rear axle a kilogram over": ("rear GAWR", of_truck(gawr_rear_kg=1774), -1, "truck 1, off full, full"),
    "gross a kilogram over": ("GVWR", of_truck(gvwr_kg=3394), -1, "truck 1, raised full, full"),
    "front tires": ("tire capacity", of_truck(tire_capacity_front_kg=1729), -1,
                    "truck 1, raised empty, full, front"),
    "rear tires": ("tire capacity", of_truck(tire_capacity_rear_kg=1769), -1,
                   "truck 1, off full, full, rear"),
    "too light in front": ("axle shares", of_fit(min_front_share=0.45), 1340 / 3070 - 0.45,
                           "truck 1, off full, driver, front"),
    "too heavy in front": ("axle shares", of_fit(max_front_share=0.58), 0.58 - 1690 / 2910,
                           "truck 1, raised empty, driver, front at most"),
    "too heavy in front for its curb weight": (
        "axle shares", of_fit(max_front_share=0.75, front_share_of="curb"), 0.75 - 1730 / 2300,
        "truck 1, raised empty, full, front at most"),
    "too light behind": ("axle shares", of_fit(min_rear_share=0.42), 1220 / 2910 - 0.42,
                         "truck 1, raised empty, driver, rear"),
    "a hopper too small": ("rated fill", with_spreader(volume_m3=0.3), 375 - 400, "truck 1"),
    "a fill not worth carrying": ("rated fill", replace(sp.CASE, assumptions=replace(
        sp.CASE.assumptions, least_useful_fill_kg=401)), -1, "truck 1"),
    "more bags than the kit has": ("ballast", with_ballast(most_units=1), -1, "truck 1, sandbag"),
    "a plow the maker forbids": ("attachments allowed", of_truck(plow_allowed=False), -1, "truck 1"),
    "a plow for heavier trucks": ("min GVWR", with_plow(min_gvwr_kg=3500), -100, "truck 1, blade"),
    "a hopper longer than the bed": ("bed length", with_spreader(length_m=2.5), 2.4 - 2.5, "truck 1"),
    "a site that bears less": ("access: gross", sp.case_site(0, most_gross_kg=3389), -1,
                               "truck 1, stop 1 at a"),
    "a gate too narrow": ("access: width", sp.case_site(0, most_width_m=2.3), 2.3 - 2.4,
                          "truck 1, stop 1 at a"),
    "no room to turn": ("access: turning circle", sp.case_site(0, most_turning_circle_m=14), -1,
                        "truck 1, stop 1 at a"),
    "a minute too late": ("loop within its cycle limit", with_reserve(12), -1, "truck 2"),
    "plowed too seldom": ("cycle limit of every stop", sp.case_site(1, plow_every_min=80), -10,
                          "truck 2, stop 1 at b"),
    "deiced too seldom": ("cycle limit of every stop", sp.case_site(0, deice_every_min=80), -10,
                          "truck 2, stop 2 at a"),
    "after the deadline": ("deadlines", sp.case_site(0, deadline_min=69), -1, "truck 2, stop 2 at a"),
    "more than the hopper holds": ("fill between reloads", sp.case_site(0, deice_rate_kg_per_m2=0.2),
                                   400 - 480, "truck 1, load 1"),
    "fewer parcels than the plan says": ("parcels", sp.case_site(0, parcels=1), -1, "site a"),
    "an optional site that must be served": ("coverage", sp.case_site(2, must_serve=True), -1,
                                             "site c, served"),
    "a work nobody asked": ("stops", sp.case_site(1, work="deice", deice_every_min=90), -1,
                            "truck 2, stop 1 at b, work"),
    "none for sale": ("stock", with_plow(available=1), -1, "plows blade, bought"),
    "none owned": ("stock", with_spreader(owned=0), -1, "spreaders hopper, owned"),
    "a smaller budget": ("budget", replace(sp.CASE, money=replace(sp.CASE.money, budget_usd=20_000)), -210.2,
                         "capital"),
    "one driver": ("drivers", replace(sp.CASE, crew=replace(sp.CASE.crew, drivers=1)), -1, "trucks"),
    "a slower road": ("loop distance", replace(sp.CASE, travel=(
        Leg("yard", "a", 4, 2500), *sp.CASE.travel[1:])), -500, "truck 1"),
}


@pytest.mark.parametrize("fault", CASE_FAULTS)
def test_broken_promise_is_caught_with_its_margin_and_place(fault: str) -> None:
    """A limit just below what the plan does is caught by its check, by how much and where."""
    name, case, margin, where = CASE_FAULTS[fault]
    found = failed(sp.PLAN, case)[name]
    assert found.worst == pytest.approx(margin, abs=1e-9)
    assert found.where == where


def test_build_without_a_plow_needs_its_rear_share_too() -> None:
    """Off, empty, driver alone: front 1300 - 20 + 40, rear 1000 + 150 + 100 + 40, so 1290 of 2610 behind."""
    bare = sp.with_truck(1, plow=None, build="light+-+hopper")
    found = failed(replace(bare, trucks=bare.trucks[:1]), of_fit(min_rear_share=0.5))["axle shares"]
    assert found.worst == pytest.approx(1290 / 2610 - 0.5)
    assert found.where == "truck 1, off empty, driver, rear"


def test_rating_met_exactly_is_kept() -> None:
    """A load equal to its rating less the reserve passes: 1730 + 5 = 1735."""
    assert "front GAWR" not in failed(sp.PLAN, of_truck(gawr_front_kg=1735))


def test_loop_that_just_fits_is_kept() -> None:
    """A loop of 79 min with 11 in reserve fits into 90."""
    assert "loop within its cycle limit" not in failed(sp.PLAN, with_reserve(11))


def test_missing_stop_is_a_parcel_short() -> None:
    """Without truck 1's stop one of the two parcels of lot a is done by nobody."""
    found = failed(sp.with_loop(1, stops=()), sp.CASE)["coverage"]
    assert (found.worst, found.where) == (-1, "site a, plow")


def test_forgotten_reload_empties_the_hopper() -> None:
    """Three parcels of 120 kg without a reload between are 60 kg more than a fill of 300."""
    stop = replace(sp.PLAN.trucks[1].loop.stops[1], reload_before=False)
    plan = sp.with_truck(2, rated_fill_kg=300, loop=replace(sp.LOOP_2, stops=(stop, stop, stop)))
    found = failed(plan, sp.CASE)["fill between reloads"]
    assert (found.worst, found.where) == (pytest.approx(300 - 360), "truck 2, load 1")


def test_work_without_its_attachment_is_impossible() -> None:
    """A truck without a plow cannot plow in any time, nor one without a spreader spread."""
    bare = failed(sp.with_truck(2, plow=None, build="light+-+hopper"), sp.CASE)
    dry = failed(sp.with_truck(2, spreader=None, build="light+blade+-", rated_fill_kg=0), sp.CASE)
    assert {"service minutes", "arrivals", "loop within its cycle limit"} <= set(bare) & set(dry)


def test_crew_counts_on_both_axles() -> None:
    """A third person of 80 kg puts 40 more on each axle: 25 over in front, 15 behind, 75 in all."""
    case = replace(sp.CASE, crew=replace(sp.CASE.crew, occupants=3))
    found = failed(sp.PLAN, case)
    worst = [found[name].worst for name in ("front GAWR", "rear GAWR", "GVWR")]
    assert worst == pytest.approx([15 - 40, 25 - 40, 5 - 80])


def test_pay_for_the_whole_storm() -> None:
    """Paid by the storm each truck has 12 starts of 30 min, 10 storms of 180 and 2 of 270: 2700 min."""
    case = replace(sp.CASE, money=replace(sp.CASE.money, paid="storm"))
    found = failed(sp.PLAN, case)
    assert found["truck hours"].worst == pytest.approx(890 / 60 - 45)
    assert found["truck seasons"].worst == pytest.approx(445 - 1350)


OBJECTIVES = {"value": -sp.VALUE_USD, "profit": sp.COST_USD - sp.VALUE_USD}


@pytest.mark.parametrize("question", OBJECTIVES)
def test_objective_follows_the_question(question: Any) -> None:
    """`value` seeks the largest contract value, `profit` cost less contract value."""
    best = OBJECTIVES[question]
    marginals = {"profit": (sp.SAVED_A, 500.0, None), "value": (None, None, None)}[question]
    plan = replace(sp.with_outcome(objective_usd=best, bound_usd=best - 0.01 * abs(best)),
                   case=replace(sp.PLAN.case, question=question),
                   sites=tuple(replace(row, marginal_most_usd=usd)
                               for row, usd in zip(sp.PLAN.sites, marginals, strict=True)))
    assert failed(plan, replace(sp.CASE, question=question)) == {}
    off = replace(plan, outcome=replace(plan.outcome, objective_usd=best + 1))
    assert "cost and objective" in failed(off, replace(sp.CASE, question=question))


def test_no_interest_spreads_the_loss_evenly() -> None:
    """Without interest half a truck of 10,000, worth 1,000 after 4 years, costs (2,250 + 200)/2 a year."""
    assert annual_usd(sp.TRUCK, 0.0) == pytest.approx((9000 / 4 + 200) / 2)


def test_published_capital_recovery() -> None:
    """10,000 worth 1,000 after 4 years at 10 % costs 2,939.24 a year (course note on engineering economy)."""
    truck = replace(sp.TRUCK, upkeep_usd_per_year=0, snow_share=1.0)
    assert annual_usd(truck, 0.10) == pytest.approx(2939.24, abs=0.005)


NOTHING = replace(
    sp.with_outcome(proof="none", stopped="no plan exists", objective_usd=None, bound_usd=None, gap=None,
                    cost_usd=None), trucks=(), items=(), sites=(), money=None)


PROMISES: dict[str, dict[str, Any]] = {
    "trucks": {"trucks": sp.PLAN.trucks}, "items": {"items": sp.PLAN.items},
    "sites": {"sites": sp.PLAN.sites},
    "a proof": {"outcome": replace(NOTHING.outcome, proof="best found")},
    "no time": {"outcome": replace(NOTHING.outcome, stopped="time limit")},
    "a bound": {"outcome": replace(NOTHING.outcome, bound_usd=0.0)}}


@pytest.mark.parametrize("promise", PROMISES)
def test_plan_without_money_promises_nothing(promise: str) -> None:
    """A shortfall has no money, trucks, items, sites and figures, and passes; with any of them it does not,
    nor where it does not say that no plan exists."""
    assert recheck(NOTHING, sp.CASE).passed
    assert not recheck(replace(NOTHING, **PROMISES[promise]), sp.CASE).passed


@pytest.mark.parametrize(("degf", "rate"),
                         [(31, 3), (30, 5), (26, 5), (25, 6), (20, 7), (15, 8), (6, 8), (-5, 8)])
def test_published_deicing_rate(degf: float, rate: float) -> None:
    """Rates [lb/1000 ft^2] of the DuPage River / Salt Creek Workgroup; a boundary is the colder row's."""
    found = deice_rate_kg_per_m2(sp.LOT_C, (degf - 32) * 5 / 9)
    assert found == pytest.approx(rate * 0.45359237 / 92.90304)


def test_great_circle_of_a_quarter_of_the_earth() -> None:
    """From the equator to the pole is a quarter of the circle of mean radius 6,371,008.8 m (IUGG)."""
    assert great_circle_m(0, 20, 90, 0) == pytest.approx(6_371_008.8 * pi / 2)


def test_travel_takes_the_faster_way_round() -> None:
    """From b to a the user's 12 min lose to 6 min to the yard and 4 on, 3600 + 2000 m."""
    road = fastest_roads(sp.CASE, {"a", "b", "yard"})["b", "a"]
    assert road.minutes == pytest.approx(10)
    assert (road.least_m, road.most_m) == (pytest.approx(5600), pytest.approx(5600))


def test_ways_that_tie_may_differ_in_distance() -> None:
    """Where the direct way takes the same 10 min as the way round, either distance is right."""
    case = replace(sp.CASE, travel=(*sp.CASE.travel[:3], Leg("b", "a", 10, 6000)))
    road = fastest_roads(case, {"a", "b"})["b", "a"]
    assert (road.least_m, road.most_m) == (pytest.approx(5600), pytest.approx(6000))


def test_turning_circle_wins_over_the_steer_angle() -> None:
    """A curb circle of 13.7 with a track of 1.7 has the radius 6 of the angle, whatever angle is given."""
    assert failed(sp.PLAN, of_truck(turning_circle_m=13.7, steer_angle_rad=asin(0.5))) == {}


def test_circle_tighter_than_the_wheelbase_cannot_be_driven() -> None:
    """No steer angle gives a radius below the wheelbase: the truck reaches no site that limits its circle."""
    found = failed(sp.PLAN, of_truck(turning_circle_m=8.0))
    assert {"access: turning circle", "service minutes"} <= set(found)


def test_snow_below_every_trigger_needs_no_round_where_nothing_is_deiced() -> None:
    """An event of 0.02 m calls nobody out where triggers are 0.03 and 0.06 and only plowing is contracted."""
    case = replace(sp.CASE, sites=(replace(sp.LOT_A, work="plow"), sp.LOT_B))
    assert [rounds(event, 90, case) for event in case.season] == [0, 4]


def test_without_a_trigger_the_clock_decides() -> None:
    """With a trigger of 0 a loop of 60 min goes round as often as the hours say, and once to clean up."""
    case = sp.case_site(0, trigger_m=0.0)
    assert [rounds(event, 60, case) for event in case.season] == [3 + 1, 5 + 1]


def test_every_check_can_fail() -> None:
    """Each check of the list is failed by one of the faults planted here; `test_recheck_end` has those of the
    end round's own time and fill."""
    faults: list[tuple[Plan, Case]] = [(plan, sp.CASE) for plan, _ in PLAN_FAULTS.values()]
    faults += [(sp.PLAN, case) for _, case, _, _ in CASE_FAULTS.values()]
    caught: set[str] = set().union(*(failed(plan, case) for plan, case in faults))
    elsewhere = {"end round within its time", "end round fill between reloads"}
    assert caught | elsewhere == {row.name for row in recheck(sp.PLAN, sp.CASE).checks}

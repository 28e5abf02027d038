"""Money of trucks and sites by kind: by hand on the small case, and summed on cases with all kinds of pay."""

from dataclasses import astuple, replace
from functools import cache
from math import fsum

import pytest
import small_plan as sp
from seeded_cases import small_case
from test_pay import dear_case

from optibuild.pipeline import make_plan
from optibuild.plan import recheck
from optibuild.records import Plan

EXACT = 1e-9
MILE_M, START_MIN = 1609.344, 30.0


@cache
def small() -> Plan:
    """The plan of the small case: its second truck plows the bank and the yard, and spreads nothing."""
    return make_plan(small_case())


def yearly(price: float, resale: float, years: int) -> float:
    """Capital recovery with salvage at 7 %, (P - S)(A/P) + Si, as engineering-economy tables have it."""
    grown = 1.07 ** years
    return (price - resale) * 0.07 * grown / (grown - 1) + resale * 0.07


def test_money_of_a_truck_that_plows_is_that_of_a_pocket_calculator() -> None:
    """Truck 2, ht+p80 with 12 bags, loops of at most 180 min: 2, 4 and 6 rounds in a light, medium and heavy
    event (0.5, 1 and more snow than 1 in asks for, never more than fit, and one to clean up), 12 x 2 + 6 x 4
    + 2 x 6 = 60 a season, 20 times 30 min to get ready. Wage 24 and a quarter on top: 0.5 a minute. What is
    paid beside road and getting ready is work: 3 gal/h at 3.50, 4 USD/h of wear of the truck, 2 of the plow;
    on the road 0.55/15 + 0.45/20 gal and 0.12 USD a mile."""
    truck = small().trucks[1]
    assert truck.build == "ht+p80+-" and truck.loop.cycle_limit_min == 180 and truck.ballast[0].count == 12
    found, paid = truck.season.by_kind, 60.0 * truck.season.hours
    worked, miles = paid - 20 * START_MIN - 60 * truck.loop.drive_min, 60 * truck.loop.distance_m / MILE_M
    assert found.labor_usd == pytest.approx(0.5 * paid)
    assert found.fuel_usd == pytest.approx(3.5 * (3 * worked / 60 + miles * (0.55 / 15 + 0.45 / 20)))
    assert found.wear_usd == pytest.approx((4 + 2) * worked / 60 + 0.12 * miles)
    assert found.material_usd == 0
    # a truck lasts 8 years and keeps a fifth, plow and bag 7 and 5 years, 15 % and nothing
    assert found.owning_usd == pytest.approx(
        yearly(38_000, 7_600, 8) + 1_500 + yearly(6_500, 975, 7) + 250 + 12 * yearly(8, 0, 5))


def test_trucks_and_sites_have_the_same_money_of_each_kind() -> None:
    """In the small plan the trucks' money and the sites' are each kind by kind that of the plan; a truck's
    work and a site's cost are their sums, and the bank, which is only plowed, has no material."""
    plan = small()
    assert plan.money is not None
    whole = (plan.money.owning_usd, plan.money.labor_usd, plan.money.fuel_usd, plan.money.wear_usd,
             plan.money.material_usd)
    trucks = [row.season.by_kind for row in plan.trucks]
    sites = {row.id: row.by_kind for row in plan.sites if row.by_kind is not None}
    for rows in (trucks, list(sites.values())):
        assert [fsum(kind) for kind in zip(*map(astuple, rows), strict=True)] == pytest.approx(
            whole, rel=EXACT)
    assert [row.season.usd for row in plan.trucks] == pytest.approx(
        [one.usd - one.owning_usd for one in trucks], rel=EXACT)
    assert [row.cost_usd for row in plan.sites] == pytest.approx(
        [row.usd for row in sites.values()], rel=EXACT)
    assert sites["bank"].material_usd == 0 < sites["clinic"].material_usd


@pytest.mark.parametrize("seed", [3, 7])
def test_money_by_kind_is_that_of_the_pay_slips(seed: int) -> None:
    """With loans, hire, standby, shifts, overtime and waste drawn, the plan's figures are those that the
    recheck adds up event by event from pay slips (a plan that differs is never made), and the kinds of all
    trucks together are the plan's money."""
    plan = make_plan(dear_case(seed))
    assert plan.money is not None and plan.trucks
    for kind in ("owning_usd", "labor_usd", "fuel_usd", "wear_usd", "material_usd"):
        together = fsum(getattr(row.season.by_kind, kind) for row in plan.trucks)
        assert together == pytest.approx(getattr(plan.money, kind), rel=EXACT), kind


@pytest.mark.parametrize("kind", ["owning_usd", "labor_usd", "fuel_usd", "wear_usd", "material_usd"])
def test_a_dollar_of_another_kind_is_caught(kind: str) -> None:
    """A dollar more of one kind in truck 1 or in lot a fails the check of trucks or of sites, and no other;
    the plan by hand passes."""
    assert recheck(sp.PLAN, sp.CASE).passed
    season = sp.PLAN.trucks[0].season
    more = {kind: getattr(season.by_kind, kind) + 1.0}
    truck = sp.with_truck(1, season=replace(season, by_kind=replace(season.by_kind, **more)))
    more = {kind: getattr(sp.KINDS_A, kind) + 1.0}
    site = sp.with_site_row(0, by_kind=replace(sp.KINDS_A, **more))
    for plan, check in ((truck, "truck seasons"), (site, "cost of each site")):
        assert [row.name for row in recheck(plan, sp.CASE).checks if not row.passed] == [check]

"""What is missing where no plan exists: the least budget, the drivers, the work out of reach."""

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from optibuild import read_case, shortfall
from optibuild.explain import shows_no_plan
from optibuild.pipeline import make_plan
from optibuild.records import Case

SMALL = read_case(Path(__file__).parent / "data" / "small")
CHEAPEST_USD = 38_000.0 + 5_000.0 + 2_500.0
"""The cheapest truck, plow and spreader: the clinic is plowed and deiced, so no fleet costs less."""


def with_budget(usd: float, case: Case = SMALL) -> Case:
    """The case with a budget."""
    return replace(case, money=replace(case.money, budget_usd=usd))


def with_drivers(drivers: float, case: Case = SMALL) -> Case:
    """The case with a number of drivers, and its optional site made binding."""
    sites = tuple(replace(site, must_serve=True) for site in case.sites)
    return replace(case, sites=sites, crew=replace(case.crew, drivers=drivers))


def test_least_budget_is_the_price_of_the_cheapest_fleet() -> None:
    """Far too little money: the least budget is that of the cheapest truck, plow and spreader, proved."""
    found = shortfall(with_budget(1_000))
    assert found.least_budget is not None
    assert found.least_budget.usd == pytest.approx(CHEAPEST_USD)
    assert found.least_budget.bound_usd == pytest.approx(CHEAPEST_USD)
    assert found.least_budget.proved
    assert shows_no_plan(with_budget(1_000), found)


def test_least_budget_agrees_with_trying() -> None:
    """A plan exists at the least budget and none a dollar below it."""
    assert make_plan(with_budget(CHEAPEST_USD)).trucks
    assert make_plan(with_budget(CHEAPEST_USD - 1)).outcome.stopped == "no plan exists"


@pytest.mark.parametrize("question", ["value", "profit"])
def test_least_budget_does_not_depend_on_the_question(question: str) -> None:
    """The budget that serves the must-serve sites is the same whatever is optimized."""
    case = replace(with_budget(1_000), question=question)
    least = shortfall(case).least_budget
    assert least is not None
    assert least.usd == pytest.approx(CHEAPEST_USD)


def test_enough_money_is_no_shortfall() -> None:
    """A budget above the least one proves nothing."""
    case = with_budget(CHEAPEST_USD + 1)
    assert not shows_no_plan(case, shortfall(case))


def test_owned_items_lower_the_least_budget() -> None:
    """Owning the cheapest truck leaves plow and spreader to buy."""
    trucks = tuple(replace(row, owned=1) if row.id == "ht" else row for row in SMALL.trucks)
    least = shortfall(with_budget(1_000, replace(SMALL, trucks=trucks))).least_budget
    assert least is not None
    assert least.usd == pytest.approx(5_000.0 + 2_500.0)


def test_too_few_drivers_are_named_with_the_number_needed() -> None:
    """With every site binding one driver is too few and two are enough, as trying shows."""
    assert make_plan(with_drivers(1)).outcome.stopped == "no plan exists"
    assert make_plan(with_drivers(2)).trucks
    (row,) = shortfall(with_drivers(1)).looser
    assert (row.what, row.now, row.needed) == ("drivers", 1, 2)
    assert shortfall(with_drivers(2)).looser == ()


def test_work_out_of_reach_comes_before_money() -> None:
    """A bank whose cycle limit is 6 min lies 1.11 km x 1.3 away: 2.45 min out, 3 min to look, 2.45 min home
    leave no time to plow; no budget would help, so none is told."""
    sites = tuple(replace(site, plow_every_min=6.0) if site.id == "bank" else site for site in SMALL.sites)
    case = with_budget(1_000, replace(SMALL, sites=sites))
    found = shortfall(case)
    (row,) = found.unreachable
    assert (row.site, row.work, row.reason, row.unit) == ("bank", "plow", "cycle limit", "min")
    assert row.over_by is not None and row.over_by > 2 * 2.44 + 3 - 6
    assert found.least_budget is None
    assert shows_no_plan(case, found)


def test_no_limits_no_shortfall() -> None:
    """Without budget and drivers there is nothing to be short of."""
    found = shortfall(with_budget(inf))
    assert (found.unreachable, found.least_budget, found.leave_out, found.looser) == ((), None, (), ())

"""What is missing where no plan exists: the least budget, the drivers, the work out of reach."""

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from optibuild import read_case, shortfall
from optibuild.explain import loosening, shortfalls, shows_no_plan
from optibuild.explain.asking import Tried
from optibuild.explain.looser_sites import LooserSites
from optibuild.pipeline import make_plan
from optibuild.records import Case, LeastBudget, Looser, LostValue, Shortfall
from optibuild.report import plan_text

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
    row = shortfall(with_drivers(1)).looser[0]
    assert (row.what, row.now, row.needed, row.way) == ("drivers", 1, 2, "limits")
    assert row.confirmed and row.not_enough == 1
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


def test_looser_cycle_limits_prove_nothing() -> None:
    """Rows that would help do not show that no plan exists; a limit proved too tight does, and so does
    contract value proved lost."""
    helps = Looser("all cycle limits", 1.0, 1.2, "times", not_enough=1.1, way="all cycle limits")
    none = Shortfall((), None, (), ())
    assert not shows_no_plan(SMALL, none)
    assert not shows_no_plan(SMALL, replace(none, looser=(helps,)))
    short = Looser("drivers", 1, 2, "drivers", not_enough=1)
    assert shows_no_plan(SMALL, replace(none, looser=(short,)))
    assert not shows_no_plan(SMALL, replace(none, looser=(replace(short, not_enough=None),)))
    assert shows_no_plan(SMALL, replace(none, lost_value=LostValue(9_000, 100, False, (), True)))
    assert not shows_no_plan(SMALL, replace(none, lost_value=LostValue(9_000, 0, False, (), True)))


def test_an_interrupted_search_keeps_what_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the user ends the search for what would help, limits and sites to leave out stay told."""
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(shortfalls, "common_factor", stop)
    found = shortfall(with_budget(1_000))
    assert found.least_budget is not None and found.leave_out and found.ended_early
    assert not any("cycle" in row.what for row in found.looser)
    told = " ".join(plan_text(replace(make_plan(with_budget(1_000)), shortfall=found), SMALL).split())
    assert "ended early: more may be missing" in told
    assert "No longer cycle limits were found" not in told
    monkeypatch.setattr(shortfalls, "limits_needed", stop)
    found = shortfall(with_budget(1_000))
    assert found == Shortfall((), None, (), (), ended_early=True)
    told = " ".join(plan_text(replace(make_plan(with_budget(1_000)), shortfall=found), SMALL).split())
    assert "ended early" in told and "No single limit" not in told


def test_a_factor_found_before_the_user_ended_the_search_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ended while single limits are looked for, the factor on all of them is still told; to the end, the
    search does not say that it was ended."""
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    row = Looser("all cycle limits", 1.0, 1.2, "times", way="all cycle limits")
    monkeypatch.setattr(shortfalls, "common_factor", lambda case: (row,))
    monkeypatch.setattr(shortfalls, "single_limits", stop)
    found = shortfall(with_budget(1_000))
    assert row in found.looser and found.ended_early
    monkeypatch.setattr(shortfalls, "single_limits", lambda *_: ((), None))
    assert not shortfall(with_budget(1_000)).ended_early


def test_limits_proved_not_to_do_are_not_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Single limits that solving again shows not to be enough are not offered."""
    chosen = LooserSites({0: 200.0}, 1)
    monkeypatch.setattr(loosening, "tried", lambda case, seconds: Tried(case, False))
    assert loosening._each_least(SMALL, chosen) == ()
    monkeypatch.setattr(loosening, "tried", lambda case, seconds: Tried(case, None))
    assert [row.confirmed for row in loosening._each_least(SMALL, chosen)] == [False]


TOLD = Shortfall(
    (), LeastBudget(45_500, 45_000, False, 30_000.4, 29_500, False, True), ("bank", "clinic"),
    (Looser("available", 1, 2, "units", True, "p80", 1.0),
     Looser("drivers", 1, 3, "drivers", True, None, 1.0),
     Looser("drivers", 1, 4, "drivers", False, None, None, "drivers"),
     Looser("all cycle limits", 1.0, 1.25, "times", True, None, 1.24, "all cycle limits"),
     Looser("cycle limit", 180, 200, "min", True, "bank", 199.0, "single cycle limits"),
     Looser("cycle limit", 120, 131, "min", True, "clinic", None, "single cycle limits")),
    LostValue(9_001, 9_001, True, ("clinic",), True), 2)


def test_the_screen_says_what_was_solved_and_what_is_a_bound() -> None:
    """Every row is a sentence that says whether it was solved again and what was proved; no line is longer
    than 80 columns."""
    case = with_budget(40_000)
    text = plan_text(replace(make_plan(with_budget(1_000)), shortfall=TOLD), case)
    assert max(map(len, text.splitlines())) <= 80
    told = " ".join(text.split())
    for said in (
            "It takes 1 more of p80: available = 2 instead of 1.",
            "It takes 3 drivers; the case allows 1. Proved: more than 1.",
            "A budget of 45,500 USD is enough, and it takes at least 45,000 USD. The budget is 40,000 USD, "
            "short by at least 5,000 USD. A plan within it costs 30,000 USD a season, and no plan within it "
            "less than 29,500 USD.",
            "All of this is needed together. Solved again so, and rechecked: a plan exists.",
            "Leave out bank and clinic (must_serve = no): 9,001 USD of contract value a season (the least, "
            "proved). A site without pay counts 1 USD. Solved again so",
            "More drivers, all else as it is. It takes 4 drivers; the case allows 1. Fewer may do. Not "
            "confirmed by solving again.",
            "Make every cycle limit 1.25 times as long (1.24 times is proved not to do). Solved again so",
            "Make single cycle limits longer, the fewest sites on the grid of clocks: bank at 200 min "
            "instead of 180 min (199 min proved not to do) and clinic at 131 min instead of 120 min (less "
            "may do)."):
        assert said in told, said


def test_sums_are_rounded_so_that_they_stay_true() -> None:
    """What is enough is rounded up, what is proved not to be down, so that the whole numbers told keep what
    they say; where fewer sites may do, that is said."""
    budget = LeastBudget(45_500.2, 45_000.8, False, 30_000.0, 29_500.9, False, True)
    rows = (Looser("cycle limit", 180, 200.04, "min", True, "bank", 199.96, "single cycle limits"),
            Looser("cycle limit", 120, 131, "min", True, "clinic", None, "single cycle limits"))
    found = replace(TOLD, least_budget=budget, looser=rows, least_sites=1)
    told = " ".join(plan_text(replace(make_plan(with_budget(1_000)), shortfall=found),
                              with_budget(40_000)).split())
    for said in ("A budget of 45,501 USD is enough, and it takes at least 45,000 USD.",
                 "short by at least 5,000 USD", "no plan within it less than 29,500 USD",
                 "Make single cycle limits longer (fewer sites may do): bank at 200.1 min instead of 180 min "
                 "(199.9 min proved not to do) and"):
        assert said in told, said
    proved = replace(budget, usd=45_500.2, bound_usd=45_500.2, proved=True)
    told = " ".join(plan_text(replace(make_plan(with_budget(1_000)), shortfall=replace(
        found, least_budget=proved)), with_budget(40_000)).split())
    assert "is 45,501 USD. The budget is 40,000 USD, short by 5,501 USD." in told


def test_the_screen_says_that_no_pay_is_lost_and_that_longer_limits_do_not_help() -> None:
    """Where nothing that is left out has pay, no contract value is told; a bound between two whole dollars is
    rounded down; where no longer cycle limits were found, it says so."""
    lost = LostValue(2, 1.7, False, ("bank", "clinic"), True)
    found = replace(TOLD, looser=(), lost_value=lost)
    told = " ".join(plan_text(replace(make_plan(with_budget(1_000)), shortfall=found), SMALL).split())
    assert ("Leave out bank and clinic (must_serve = no): none of them has pay, so that each counts 1 USD "
            "(proved: at least 1 USD). Solved again so") in told
    assert "No longer cycle limits were found, up to a day, that would do by themselves." in told


def test_sites_without_pay_count_one_dollar_each() -> None:
    """Nothing can be bought for 1,000 USD, so every binding site is left out: the bank pays 9,000 USD a
    season, the clinic 16,000, the school 220 an event in 12 + 6 + 2 = 20 events; without its pay the school
    counts 1 USD."""
    found = shortfall(with_budget(1_000))
    assert found.leave_out == ("bank", "clinic", "school")
    usd = 9_000 + 16_000 + 20 * 220
    assert found.lost_value == LostValue(pytest.approx(usd), pytest.approx(usd), True, (), True)
    sites = tuple(replace(site, pay_by=None, pay_usd=0.0) if site.id == "school" else site
                  for site in SMALL.sites)
    lost = shortfall(with_budget(1_000, replace(SMALL, sites=sites))).lost_value
    assert lost == LostValue(pytest.approx(25_001), pytest.approx(25_001), True, ("school",), True)

"""Cases without a plan whose cause was planted: it is named, and what is said to help does, as enumeration
shows."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import combinations
from math import inf, isfinite
from typing import Any

import numpy as np
import pytest
from loop_oracle import answers, least_objective
from seeded_cases import seeded_case

from optibuild import shortfall
from optibuild.explain import shows_no_plan
from optibuild.integer_program import LoopProblem
from optibuild.pipeline import stages
from optibuild.records import Case, Looser, Shortfall, Site

SEEDS = range(5)


def base(seed: int) -> Case:
    """Three sites of one parcel each, all binding, with two trucks, two plows and two spreaders and nothing
    that runs out; some pay nothing."""
    case = seeded_case(seed, crew=replace(seeded_case(seed).crew, drivers=inf))
    rng = np.random.default_rng([20_260, seed])
    free: dict[str, Any] = {table: tuple(replace(row, owned=0, available=inf) for row in getattr(case, table))
                            for table in ("trucks", "plows", "spreaders", "ballast")}
    sites = tuple(replace(site, must_serve=True, split_works=False, parcels=1,
                          area_m2=min(site.area_m2, 3_000.0),
                          pay_usd=site.pay_usd if rng.random() < 0.7 else 0.0) for site in case.sites)
    gone = int(rng.integers(0, 4))
    return replace(case, sites=sites[:gone] + sites[gone + 1:], money=replace(case.money, budget_usd=inf),
                   **free)


def nothing(problem: LoopProblem, **changes: Any) -> LoopProblem:
    """The program in which nothing costs anything, no limit but those of time is left, and `changes`."""
    zero = {name: np.zeros_like(getattr(problem, name)) for name in (
        "fixed_usd", "drive_usd_per_min", "drive_usd_per_m", "stop_usd", "annual_usd", "upkeep_usd")}
    return replace(problem, **{**zero, "budget_usd": inf, "most_loops": inf, **changes})


@cache
def problem_of(seed: int) -> LoopProblem:
    """The program of the base case."""
    return stages(base(seed)).problem


@cache
def least_usd(seed: int) -> float:
    """The least capital that serves all, enumerated."""
    problem = problem_of(seed)
    return least_objective(nothing(problem, annual_usd=problem.price_usd))


@cache
def least_trucks(seed: int) -> int:
    """The fewest trucks that serve all, enumerated."""
    problem = problem_of(seed)
    return round(least_objective(nothing(problem, fixed_usd=np.ones_like(problem.fixed_usd))))


def value_lost(case: Case) -> float:
    """The least contract value to leave out, a site without pay counting 1 USD, enumerated."""
    problem = stages(case).problem
    value = np.where(problem.worth > 0, problem.worth, 1.0)
    return least_objective(nothing(problem, missed_usd=value, budget_usd=problem.budget_usd,
                                   most_loops=problem.most_loops))


def has_plan(case: Case) -> bool:
    """Whether any plan exists, enumerated."""
    problem = stages(case).problem
    return bool(answers(nothing(problem, budget_usd=problem.budget_usd, most_loops=problem.most_loops)))


def with_drivers(case: Case, drivers: float) -> Case:
    """The case with a number of drivers."""
    return replace(case, crew=replace(case.crew, drivers=drivers))


def with_budget(case: Case, usd: float) -> Case:
    """The case with a budget."""
    return replace(case, money=replace(case.money, budget_usd=usd))


def with_limits(case: Case, change: Callable[[int, float], float]) -> Case:
    """The case with every cycle limit changed, by the number of its site."""
    def changed(n: int, site: Site) -> Site:
        return replace(site, **{name: change(n, limit) for name in ("plow_every_min", "deice_every_min")
                                if (limit := getattr(site, name)) is not None})

    return replace(case, sites=tuple(changed(n, site) for n, site in enumerate(case.sites)))


def leaves_out_the_least(case: Case, found: Shortfall) -> bool:
    """Whether the sites to leave out are worth what enumeration says, and the rest has a plan."""
    lost = found.lost_value
    worth = dict(zip([site.id for site in case.sites], stages(case).problem.worth.tolist(), strict=True))
    named = sum(worth[site] or 1.0 for site in found.leave_out)
    kept = replace(case, sites=tuple(site for site in case.sites if site.id not in found.leave_out))
    return (lost is not None and lost.proved and lost.confirmed
            and lost.usd == pytest.approx(named) == pytest.approx(value_lost(case))
            and set(lost.counted_as_one) == {site for site, usd in worth.items() if not usd}
            and (not kept.sites or has_plan(kept)))


def of_way(found: Shortfall, way: str) -> list[Looser]:
    """The rows of one way to a plan."""
    return [row for row in found.looser if row.way == way]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_budget_a_dollar_short(seed: int) -> None:
    """A budget 1 USD below the enumerated least: that least is named, proved and confirmed, with the least
    season cost within it, as enumerated; nothing else is called short."""
    case = with_budget(base(seed), least_usd(seed) - 1.0)
    found = shortfall(case)
    least = found.least_budget
    assert least is not None
    assert (least.usd, least.bound_usd) == (pytest.approx(least_usd(seed)), pytest.approx(least_usd(seed)))
    assert least.proved and least.confirmed and least.cost_proved
    assert least.cost_usd == pytest.approx(least_objective(replace(
        problem_of(seed), budget_usd=least_usd(seed) + 1e-6)))
    assert least.cost_bound_usd == pytest.approx(least.cost_usd)
    assert not of_way(found, "limits")
    assert shows_no_plan(case, found)
    assert leaves_out_the_least(case, found)


@pytest.mark.parametrize("seed", SEEDS)
def test_one_driver_too_few(seed: int) -> None:
    """One driver fewer than the enumerated fewest trucks: their number is named, proved and confirmed."""
    case = with_drivers(base(seed), least_trucks(seed) - 1)
    found = shortfall(case)
    (row,) = of_way(found, "limits")
    assert (row.what, row.now, row.needed) == ("drivers", least_trucks(seed) - 1, least_trucks(seed))
    assert row.confirmed and row.not_enough == row.now
    assert found.least_budget is None and shows_no_plan(case, found)
    assert leaves_out_the_least(case, found)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_item_one_short(seed: int) -> None:
    """With one kind of truck, one fewer of it than the enumerated fewest trucks: it is named with the number,
    proved and confirmed; where drivers are limited to the fewest trucks nothing else is called short."""
    kind = base(seed).trucks[-1]
    case = replace(base(seed), trucks=(kind,))
    problem = stages(case).problem
    fewest = least_objective(nothing(problem, fixed_usd=np.ones_like(problem.fixed_usd)))
    assert isfinite(fewest)
    owned = int(fewest > 1)
    case = replace(with_drivers(case, fewest),
                   trucks=(replace(kind, owned=owned, available=fewest - 1 - owned),))
    assert not has_plan(case)
    found = shortfall(case)
    (row,) = of_way(found, "limits")
    assert (row.what, row.of, row.now, row.needed) == (
        "available", kind.id, fewest - 1 - owned, fewest - owned)
    assert row.confirmed and row.not_enough == row.now
    assert shows_no_plan(case, found)
    assert leaves_out_the_least(case, found)


def too_tight(case: Case) -> Case:
    """The case at the largest share of its cycle limits at which it has no plan."""
    shares = (with_limits(case, lambda _, limit, share=share: share * limit)
              for share in (1.0, 0.75, 0.5, 0.35, 0.25))
    return next(tight for tight in shares if not has_plan(tight))


def least_longer_limits(tight: Case) -> bool:
    """Whether a plan exists with the factor that is named and none with 0.01 less; likewise with the limits
    of the single sites named, and none with a minute less at any of them; with one site fewer there is none
    even at twice the longest limit; where no factor is named there is none even at a day. False only there;
    AssertionError where it is not so. All by enumeration."""
    found = shortfall(tight)
    assert not found.unreachable
    longest = max(limit for site in tight.sites for limit in site.cycle_limits_min)
    if not of_way(found, "all cycle limits"):
        assert not has_plan(with_limits(tight, lambda _, limit: 24 * 60 / longest * limit))
        return False
    (common,) = of_way(found, "all cycle limits")
    assert common.confirmed and common.not_enough == pytest.approx(common.needed - 0.01)
    assert has_plan(with_limits(tight, lambda _, limit: common.needed * limit))
    assert not has_plan(with_limits(tight, lambda _, limit: common.not_enough * limit))
    single = {row.of: row for row in of_way(found, "single cycle limits")}
    assert single and found.least_sites == len(single)

    def at(site: str | None, less: float) -> Case:
        needed = {n: single[one.id].needed - less * (one.id == site) for n, one in enumerate(tight.sites)
                  if one.id in single}
        return with_limits(tight, lambda n, limit: max(limit, needed.get(n, 0.0)))

    assert has_plan(at(None, 0.0))
    for site, row in single.items():
        assert row.confirmed and row.not_enough is not None
        assert not has_plan(at(site, row.needed - row.not_enough))
        assert row.needed - row.not_enough <= 1.0
    for some in combinations(range(len(tight.sites)), len(single) - 1):
        assert not has_plan(with_limits(
            tight, lambda n, limit, some=some: max(limit, 2 * longest * (n in some))))
    return True


@pytest.mark.parametrize("seed", SEEDS)
def test_cycle_limits_too_tight_for_the_fleet(seed: int) -> None:
    """A driver fewer than it takes, or where one is enough the largest share of the time that is too short
    for one: the least factor and the least single limits are named and confirmed."""
    drivers = max(1, least_trucks(seed) - (least_trucks(seed) > 1))
    assert least_longer_limits(too_tight(with_drivers(base(seed), drivers)))


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_cycle_limits_too_tight_with_works_of_the_last_round(seed: int) -> None:
    """The same for one driver, where deicing waits for the last round, works may be split, and the bank comes
    in two parcels; in the second case no cycle limit helps."""
    case = base(seed)
    sites = tuple(replace(site, parcels=2 if site.id == "bank" else 1, split_works=site.work == "both",
                          deice_when="end" if site.deiced else "each") for site in case.sites)
    tight = too_tight(with_drivers(replace(case, sites=sites), 1))
    assert least_longer_limits(tight) is (seed != 1)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_lot_that_no_build_can_reach(seed: int) -> None:
    """A lot that no truck may enter is named, whatever else is short, and nothing else is."""
    case = with_budget(with_drivers(base(seed), 1), 1_000.0)
    closed = seed % len(case.sites)
    sites = tuple(replace(site, most_width_m=1.0) if n == closed else site
                  for n, site in enumerate(case.sites))
    case = replace(case, sites=sites)
    found = shortfall(case)
    assert {(row.site, row.reason) for row in found.unreachable} == {(sites[closed].id, "access: width")}
    assert (found.least_budget, found.leave_out, found.looser, found.lost_value) == (None, (), (), None)
    assert shows_no_plan(case, found)


@pytest.mark.parametrize("seed", SEEDS)
def test_drivers_and_budget_short_together(seed: int) -> None:
    """Neither drivers nor budget are enough: the drivers are those that it takes whatever the budget, and the
    least budget is that of as many, as enumerated; both together are confirmed."""
    fewest, problem = least_trucks(seed), problem_of(seed)
    usd = least_objective(nothing(problem, annual_usd=problem.price_usd, most_loops=fewest))
    case = with_budget(with_drivers(base(seed), fewest - 1), usd - 500.0)
    found = shortfall(case)
    (row,) = of_way(found, "limits")
    assert (row.what, row.needed, row.confirmed) == ("drivers", fewest, True)
    assert found.least_budget is not None and found.least_budget.confirmed
    assert found.least_budget.usd == pytest.approx(usd)
    assert has_plan(with_budget(with_drivers(case, fewest), usd + 1e-6))


@pytest.mark.parametrize("seed", SEEDS)
def test_further_drivers_instead_of_money(seed: int) -> None:
    """Where the fewest trucks are not the cheapest, a budget below theirs asks for the enumerated fewest
    trucks within it instead, confirmed; where they are, no number of drivers is offered."""
    fewest, problem = least_trucks(seed), problem_of(seed)
    usd = least_objective(nothing(problem, annual_usd=problem.price_usd, most_loops=fewest)) - 1.0
    trucks = least_objective(nothing(problem, fixed_usd=np.ones_like(problem.fixed_usd), budget_usd=usd))
    found = shortfall(with_budget(with_drivers(base(seed), fewest), usd))
    rows = of_way(found, "drivers")
    assert [(row.needed, row.confirmed, row.not_enough) for row in rows] == (
        [(trucks, True, trucks - 1)] if isfinite(trucks) else [])


@pytest.mark.parametrize("seed", SEEDS)
def test_one_more_of_an_item_instead_of_money(seed: int) -> None:
    """Of two trucks alike but in price there is one too few of the cheaper for the enumerated least capital:
    that one is offered besides money, confirmed and proved least."""
    cheap = base(seed).trucks[-1]
    dear = replace(cheap, id="dear", price_usd=2.0 * cheap.price_usd)
    problem = stages(replace(base(seed), trucks=(cheap,))).problem
    usd = least_objective(nothing(problem, annual_usd=problem.price_usd))
    trucks = least_objective(nothing(problem, fixed_usd=np.ones_like(problem.fixed_usd),
                                     budget_usd=usd + 1e-6))
    case = with_budget(replace(base(seed), trucks=(replace(cheap, available=trucks - 1), dear)), usd + 1e-6)
    found = shortfall(case)
    assert found.least_budget is not None and found.least_budget.bound_usd > usd + 1.0
    (row,) = of_way(found, "items")
    assert (row.of, row.now, row.needed) == (cheap.id, trucks - 1, trucks)
    assert row.confirmed and row.not_enough == row.now
    assert not of_way(found, "limits")

"""From which share of its price on an item enters the relaxation: by hand, and by a linear program of another
solver's front end over every loop there is."""

from collections.abc import Mapping
from dataclasses import replace
from math import inf, isfinite

import numpy as np
import pytest
from loop_oracle import Key, every_run, plain
from loop_problems import Shape, seeded, simple, with_end
from scipy.optimize import linprog

from optibuild.integer_program import Entry, LoopProblem, entries

TINY = Shape(most_sites=4, most_builds=4, most_clocks=2, most_stops=7)
SECONDS = 600.0
STEP = 1e-3
"""Share of the price by which it is set above and below."""
NOISE = 1e-7
WAY = np.array([[0.0, 10.0], [10.0, 0.0]])
"""One site 10 min from the depot."""


def at(problem: LoopProblem, item: int, share: float) -> LoopProblem:
    """The problem with the part of an item's yearly cost that is above its upkeep, and its price, at a
    share."""
    annual, price = problem.annual_usd.copy(), problem.price_usd.copy()
    annual[item] = share * annual[item] + (1.0 - share) * problem.upkeep_usd[item]
    price[item] = share * price[item]
    return replace(problem, annual_usd=annual, price_usd=price)


def relaxed(p: LoopProblem, runs: Mapping[Key, float]) -> float:
    """Least cost of fractions of all loops: variables are loops, groups missed, items bought, owned ones
    used."""
    groups, items = p.missed_usd.size, p.price_usd.size
    can_miss = np.isfinite(p.missed_usd)
    cost = [*runs.values(), *np.where(can_miss, p.missed_usd, 0.0), *p.annual_usd, *p.upkeep_usd]
    high = [*[inf] * len(runs), *can_miss.astype(float), *p.available, *p.owned]
    first = len(runs) + groups
    rows, most = [], []
    for work, need in enumerate(p.need):
        row = np.zeros(len(cost))
        row[:len(runs)] = [-amounts[work] for _, amounts in runs]
        row[len(runs) + p.group[work]] = -need
        rows.append(row)
        most.append(-need)
    for item in range(items):
        row = np.zeros(len(cost))
        row[:len(runs)] = [p.uses[build, item] for build, _ in runs]
        row[[first + item, first + items + item]] = -1.0
        rows.append(row)
        most.append(0.0)
    paid, counted = np.zeros(len(cost)), np.zeros(len(cost))
    paid[first:first + items] = p.price_usd
    counted[:len(runs)] = 1.0
    for row, limit in ((paid, p.budget_usd), (counted, p.most_loops)):
        if isfinite(limit):
            rows.append(row)
            most.append(limit)
    found = linprog(cost, np.array(rows), np.array(most), bounds=[(0.0, None if most_ == inf else most_)
                                                                 for most_ in high], method="highs")
    assert found.status == 0, found.message
    return float(found.fun)


def priced(seed: int) -> LoopProblem:
    """A seeded problem in which every build has a truck of its own to be bought and two share attachments,
    all sites can be missed at a loss, and by chance items run out, money and drivers are few, and work waits
    for a storm's end."""
    rng = np.random.default_rng([20_253, seed])
    drawn = seeded(seed, TINY)
    builds = drawn.start.size
    uses = np.hstack([np.eye(builds), rng.integers(0, 3, (builds, 2))])
    count = builds + 2
    upkeep = rng.uniform(0, 60, count)
    annual = upkeep + rng.uniform(50, 500, count)
    problem = replace(
        drawn, uses=uses, annual_usd=annual, upkeep_usd=upkeep, price_usd=annual * rng.uniform(2, 6, count),
        owned=np.where(np.arange(count) == count - 1, float(rng.integers(0, 3)), 0.0),
        available=np.where(rng.random(count) < 0.2, 1.0, inf),
        missed_usd=rng.uniform(500, 3000, drawn.missed_usd.size), worth=np.zeros(0), most_missed_worth=inf,
        budget_usd=float(rng.integers(800, 6000)) if rng.random() < 0.3 else inf)
    return with_end(problem, seed) if rng.random() < 0.25 else problem


def found_in(problem: LoopProblem) -> tuple[Entry, ...]:
    """The entry of every item that nobody owns."""
    return entries(problem, np.flatnonzero(problem.owned == 0).tolist(), (), SECONDS)


@pytest.mark.parametrize("seed", range(100))
def test_relaxation_falls_below_the_entry_price_and_not_above(seed: int) -> None:
    """For every item of a small seeded problem the linear program over all its loops costs less a thousandth
    of the price below the entry price than at the full price, and the same a thousandth above; for an item
    that does not enter it costs the same at a price of nothing."""
    problem = priced(seed)
    runs = every_run(plain(problem))
    for one in found_in(problem):
        assert one.settled
        whole = relaxed(problem, runs)
        least = NOISE * max(1.0, abs(whole))
        if one.share is None:
            assert relaxed(at(problem, one.item, 0.0), runs) >= whole - least
            continue
        assert relaxed(at(problem, one.item, max(0.0, one.share - STEP)), runs) < whole - least
        assert relaxed(at(problem, one.item, min(1.0, one.share + STEP)), runs) >= whole - least


def test_seeds_hold_items_of_every_kind() -> None:
    """Among the seeded problems are items that enter below their price, at it and not at all, with a budget
    and without one, so that the test above tries each."""
    kinds = set()
    for seed in range(40):
        problem = priced(seed)
        shares = [one.share for one in found_in(problem)]
        kinds |= {(isfinite(problem.budget_usd), share is None, share is not None and share > 1.0 - STEP)
                  for share in shares}
    assert len(kinds) == 6


@pytest.mark.parametrize(("units", "share"), [(1, 0.2), (2, 0.1)])
def test_entry_by_hand(units: int, share: float) -> None:
    """A site 10 min away at 1 USD a minute: a build without the item costs 100 + 20, one with it 90 + 20 and
    50 USD a year for each unit. It pays once the units cost no more than 10 together: at a fifth of the
    price, or a tenth where it takes two."""
    problem = simple(np.array([[30.0], [30.0]]), WAY, 60.0, fixed_usd=np.array([100.0, 90.0]),
                     uses=np.array([[0.0], [units]]), price_usd=np.array([500.0]),
                     annual_usd=np.array([50.0]), owned=np.zeros(1), upkeep_usd=np.zeros(1),
                     available=np.full(1, inf))
    assert found_in(problem) == (Entry(0, pytest.approx(share), True),)


def test_upkeep_is_not_given_away() -> None:
    """The same, but 45 of the 50 USD a year are upkeep, which falls with no price: above the 10 USD that the
    item is worth, so that it does not enter even for nothing."""
    problem = simple(np.array([[30.0], [30.0]]), WAY, 60.0, fixed_usd=np.array([100.0, 90.0]),
                     uses=np.array([[0.0], [1.0]]), price_usd=np.array([500.0]), annual_usd=np.array([50.0]),
                     owned=np.zeros(1), upkeep_usd=np.full(1, 45.0), available=np.full(1, inf))
    assert found_in(problem) == (Entry(0, None, True),)


def test_budget_makes_a_low_price_worth_more() -> None:
    """Missing the site costs 1000; a truck costs 100 + 20 and 100 a year for its item. The first item costs
    1000 to buy, and 500 are there: a dollar is worth 780/1000. The second costs 2000: at a share s it saves
    880 - 100 s for 2000 s dollars, more than that once 880 > (100 + 1560) s."""
    problem = simple(np.array([[30.0], [30.0]]), WAY, 60.0, uses=np.eye(2), missed_usd=np.array([1000.0]),
                     price_usd=np.array([1000.0, 2000.0]), annual_usd=np.full(2, 100.0), owned=np.zeros(2),
                     upkeep_usd=np.zeros(2), available=np.full(2, inf), budget_usd=500.0)
    second = found_in(problem)[1]
    assert second.share == pytest.approx(880 / 1660, abs=2e-5)


def test_item_in_use_enters_at_its_price() -> None:
    """The item of the only build is in use at its full price."""
    problem = simple(np.array([[30.0]]), WAY, 60.0, uses=np.ones((1, 1)), price_usd=np.array([500.0]),
                     annual_usd=np.array([50.0]), owned=np.zeros(1), upkeep_usd=np.zeros(1),
                     available=np.full(1, inf))
    assert found_in(problem) == (Entry(0, 1.0, True),)


def test_no_time_settles_nothing() -> None:
    """Without time no entry is told, and none is denied."""
    problem = simple(np.array([[30.0]]), WAY, 60.0, uses=np.ones((1, 1)), price_usd=np.array([500.0]),
                     annual_usd=np.array([50.0]), owned=np.zeros(1), upkeep_usd=np.zeros(1),
                     available=np.full(1, inf))
    assert entries(problem, [0], (), 0.0) == (Entry(0, None, False),)

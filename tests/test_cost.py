"""A season's work and prices."""

from dataclasses import replace
from math import fsum, inf, pi
from pathlib import Path

import numpy as np
import pytest
from times_case import FULL, SITE, SPREADER, plain_builds, plain_case

from optibuild.cost import (
    combined_l_per_m,
    contract_value_usd,
    loop_costs,
    price_usd,
    season_rounds,
    shares,
)
from optibuild.cycle_time import clocks, service_times
from optibuild.inputs import read_case
from optibuild.records import NONE, Case, Event, LoopCosts

ROOT = Path(__file__).parents[1]
INCH = 0.0254


# ---- the season


def event_case(*events: Event, **site: object) -> Case:
    return plain_case(season=events, sites=(replace(SITE, **site),))


def test_pushes_of_a_storm() -> None:
    """9 in in 9 h with a 2 in trigger are floor(9/2) = 4 pushes and a clean-up, 5; the event counts once
    (arithmetic on the contract forms of contractors' own pages)."""
    case = event_case(Event("storm", 1, 540, 9 * INCH, -5), trigger_m=2 * INCH, work="plow", pay_usd=1.0)
    rounds = season_rounds(case, np.array([60.0]))
    assert rounds.pushes[0, 0, 0] == 5
    assert rounds.depth_m[0, 0, 0] == pytest.approx(9 / 5 * INCH)
    assert contract_value_usd(case).tolist() == [1.0]
    by_push = event_case(*case.season, trigger_m=2 * INCH, work="plow", pay_by="push", pay_usd=1.0)
    assert contract_value_usd(by_push).tolist() == [5.0]


def test_a_long_clock_holds_fewer_pushes() -> None:
    """In 9 h a loop of 4 h goes round 3 times, so 3 pushes and the clean-up; without clean-up 3."""
    case = event_case(Event("storm", 1, 540, 9 * INCH, -5), trigger_m=2 * INCH, plow_every_min=240.0)
    assert season_rounds(case, np.array([240.0])).pushes[0, 0, 0] == 4
    bare = replace(case, money=replace(case.money, cleanup_round=False))
    assert season_rounds(bare, np.array([240.0])).pushes[0, 0, 0] == 3


def test_snow_at_and_below_the_trigger() -> None:
    """Snow exactly at the trigger is plowed, a little less is not, in floats as they come."""
    exact = Event("at", 1, 60, 3 * 0.1 * INCH, -5)  # 0.30000000000000004 in
    less = Event("below", 1, 60, 0.299 * INCH, -5)
    rounds = season_rounds(event_case(exact, less, trigger_m=0.3 * INCH, work="plow"), np.array([60.0]))
    assert rounds.pushes[:, 0, 0].tolist() == [2.0, 0.0]
    assert rounds.rounds[:, 0].tolist() == [2.0, 0.0]


def test_deicing_goes_round_without_plowing() -> None:
    """Below every trigger a deiced case still goes round once, with no clean-up, and no push."""
    rounds = season_rounds(event_case(Event("frost", 1, 180, 0.0, -5)), np.array([60.0]))
    assert rounds.rounds.tolist() == [[1.0]] and rounds.pushes.tolist() == [[[0.0]]]


def test_zero_trigger_plows_round_the_clock() -> None:
    """With a trigger of zero every round of the event is a push: 180/60, and the clean-up."""
    rounds = season_rounds(event_case(Event("sleet", 1, 180, 0.01, -5), trigger_m=0.0), np.array([60.0]))
    assert rounds.rounds.tolist() == [[4.0]] and rounds.pushes.tolist() == [[[4.0]]]
    assert rounds.depth_m.tolist() == [[[0.01]]]  # 0.0025 m a push, but no push below the least depth


def test_rounds_follow_the_least_trigger_of_the_case() -> None:
    """A loop goes round by the most demanding site, which another site's pushes do not follow."""
    eager = replace(SITE, id="eager", trigger_m=0.0125)
    case = plain_case(season=(Event("snow", 1, 600, 0.05, -5),), sites=(SITE, eager))
    rounds = season_rounds(case, np.array([60.0]))
    assert rounds.rounds.tolist() == [[5.0]]  # 0.05/0.0125 + 1
    assert rounds.pushes[0, 0].tolist() == [3.0, 5.0]  # 0.05/0.025 + 1


# ---- loops


def costs_of(case: Case) -> LoopCosts:
    builds, rounds = plain_builds(FULL, (0, 0, NONE)), season_rounds(case, clocks(case))
    return loop_costs(case, builds, service_times(case, builds, rounds), rounds)


def test_combined_fuel_economy() -> None:
    """27.7 city and 36.9 highway mi/gal are 31.2 together, and 15 and 20 are 16.90, the harmonic mean and
    not the arithmetic 17.25 (40 CFR 600 App. II(a)(2))."""
    assert 1 / combined_l_per_m(1 / 27.7, 1 / 36.9) == pytest.approx(31.2, abs=0.05)
    assert 1 / combined_l_per_m(1 / 15, 1 / 20) == pytest.approx(16.90, abs=0.005)


def test_a_mile_of_road_costs_what_a_mile_does() -> None:
    """Fuel and road wear of every truck of the catalog of at most 8,500 lb lie between a half and three times
    of 0.37 USD/mi, the standard mileage rate of 2025 without its depreciation (IR-2024-312: 0.70, of which
    0.33)."""
    case = read_case(ROOT / "examples" / "contract-bid")
    money, light = case.money, [truck for truck in case.trucks if truck.gvwr_kg <= 8500 * 0.45359237]
    for truck in light:
        fuel = combined_l_per_m(truck.city_l_per_m, truck.highway_l_per_m) * money.fuel_price(truck.fuel)
        assert 0.185 <= 1609.344 * (fuel + money.road_wear_usd_per_m) <= 1.11
    assert light


def test_loop_costs_by_hand() -> None:
    """Every part of a loop's money, worked by hand for 50 pushes and 70 rounds a season."""
    found, plow = costs_of(plain_case()), 5 * (0.5 + pi * 6 / 100) / 0.5
    # labor 0.4·1.25 = 0.5; fuel 0.1·1; wear 0.05 + 0.03 + 0.02; stop: plow 50, deice 2·70, stop time 3·70
    # min; reloading 1050 kg / 150 = 7 min of labor; 1050 kg at 0.1
    minutes = 50 * plow + 70 * 5
    assert found.stop_usd[0, 0, 0] == pytest.approx(minutes * (0.5 + 0.1 + 0.1) + 7 * 0.5 + 105)
    assert found.stop_usd[1, 0, 0] == inf
    assert found.drive_usd_per_min[:, 0] == pytest.approx([35, 35])
    assert found.drive_usd_per_m[:, 0] == pytest.approx([70 * (1e-4 + 5e-5)] * 2)
    assert found.fixed_usd == pytest.approx([30 * 30 * 0.5] * 2)
    assert found.work_wear_usd_per_min == pytest.approx([0.10, 0.08])
    assert found.material_usd_per_kg == pytest.approx([0.1, 0.0])
    assert found.season_rounds == pytest.approx([70])


def test_paid_by_the_storm() -> None:
    """When whole storms are paid, minutes cost no labor and a loop costs all hours of the events it goes
    out in."""
    case = plain_case(money=replace(plain_case().money, paid="storm"))
    found, plow = costs_of(case), 5 * (0.5 + pi * 6 / 100) / 0.5
    assert found.fixed_usd[0] == pytest.approx(0.5 * (10 * (240 + 30) + 20 * (120 + 30)))
    assert found.drive_usd_per_min[0, 0] == 0
    assert found.stop_usd[0, 0, 0] == pytest.approx((50 * plow + 350) * 0.2 + 105)


def test_events_without_a_round_cost_nothing() -> None:
    """A plowing case pays nobody for the events that stay below its trigger."""
    found = costs_of(plain_case(sites=(replace(SITE, work="plow"),)))
    assert found.fixed_usd[0] == pytest.approx(0.5 * 10 * 30)
    assert found.season_rounds == pytest.approx([50])


def test_spreader_price_does_not_touch_the_season() -> None:
    """Owning stays out of a loop's season money: a dearer spreader changes none of it."""
    dear = plain_case(spreaders=(replace(SPREADER, price_usd=50_000.0),))
    assert costs_of(dear).stop_usd[0, 0, 0] == costs_of(plain_case()).stop_usd[0, 0, 0]


# ---- bids


@pytest.mark.parametrize(("overhead", "margin", "price"), [
    (.25, 0.0, 250_000), (0.0, .20, 250_000), (.35, 0.0, 200_000 / (1 - .35 / 1.35)), (0.0, 0.0, 200_000),
])
def test_margin_is_on_the_price(overhead: float, margin: float, price: float) -> None:
    """200,000 at 25 % on cost and at a 20 % margin on price are both 250,000, and 35 % on cost is a margin of
    25.9 % (engineering reference and construction accounting pages on markup and margin)."""
    money = replace(plain_case().money, overhead=overhead, profit_margin=margin)
    assert price_usd(200_000, money) == pytest.approx(price)


def test_margin_of_a_whole_price_is_refused() -> None:
    """No price leaves a margin of 100 %."""
    with pytest.raises(ValueError, match="margin"):
        price_usd(1.0, replace(plain_case().money, profit_margin=1.0))


@pytest.mark.parametrize(("changes", "times"), [
    ({"pay_by": "season"}, 1), ({"pay_by": None}, 0), ({"pay_by": "event"}, 30),
    ({"pay_by": "event", "work": "plow"}, 10), ({"pay_by": "push"}, 50),
    ({"pay_by": "push", "plow_every_min": 120.0, "deice_every_min": 120.0}, 30),
])
def test_contract_value(changes: dict[str, object], times: float) -> None:
    """A contract pays for the season, for the events with any service (30 deiced, 10 plowed), or for the
    pushes at the site's own cycle limit (10 events of 4 + 1, or of 2 + 1 in loops of 2 h)."""
    assert contract_value_usd(plain_case(sites=(replace(SITE, **changes),))) == pytest.approx([100 * times])


def test_shares_sum_to_the_last_bit() -> None:
    """Shares follow their weights and sum to the whole exactly, on seeded sums, and equally without
    weights."""
    rng = np.random.default_rng(7)
    for _ in range(500):
        total, weights = float(rng.uniform(-1e6, 1e6)), rng.uniform(0, 100, int(rng.integers(1, 40))).tolist()
        split = shares(total, weights)
        assert fsum(split) == total
        assert split == pytest.approx([total * weight / sum(weights) for weight in weights], abs=1e-6)
    assert shares(9.0, [0.0, 0.0, 0.0]) == (3.0, 3.0, 3.0) and shares(5.0, []) == ()

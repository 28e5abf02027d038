"""A plan for two sites and what it costs, every number of which is worked out by hand, to bid for.

One truck of `small_plan` drives from the yard to lot b, on to lot a and home. Lengths m, masses kg, times
min, money USD.

A round: 6 out, 28 at b (25 plowing, 3 to arrive), 10 on, 28 at a (15 plowing, 2.5 salting 120 kg, 0.5 to
reload them, 10 to arrive), 4 home, 5 to reload = 81 of 90. Both sites take 28 min: each bears half of what is
shared. Driving and the fixed reload are 25 min and 3600 + 5600 + 2000 = 11,200 m a round.

Rates: a paid minute 0.4 x 1.25 = 0.5; of work 0.2 x 2 fuel and 0.05 + 0.03 + 0.02 wear, so 1.0 a minute
worked; a meter 0.000155 x 2 + 0.0001 = 0.00041; a kilogram of salt 0.1.
Driving a round: 25 x 0.5 + 11,200 x 0.00041 = 12.5 + 4.592 = 17.092. Getting ready: 30 x 0.5 = 15 an event.

A light event (0.02 m, below every trigger) is one round in which a is salted.
  a: 12.5 min of work + 12 of salt + 0.5 min x 0.5 = 24.75; b nothing. Shared 15 + 17.092 = 32.092.
A heavy one (0.12 m in 270 min) is min(3, 0.12/0.03) + 1 = 4 rounds; a is pushed 4 times and salted 4 times,
b, with its trigger of 0.06, is pushed min(3, 2) + 1 = 3 times, 31 1/3 min each (as in `small_plan`).
  a: 4 (15 + 12.5) = 110 + 48 + 2 x 0.5 = 159; b: 3 (31 1/3 + 3) = 103. Shared 15 + 4 x 17.092 = 83.368.
Ten light and two heavy ones: a 247.5 + 318 = 565.5, b 206, shared 320.92 + 166.736 = 487.656.

Owning: the truck is owned: 200 x 0.5 = 100. Blade 1484.1, hopper 302.82 as in `small_plan`, one sandbag
1.4641. All 1888.3841. The truck is worth 4641 and lasts 4 years: 4641 x 0.14641/0.4641 x 0.5 = 732.05.
"""

from dataclasses import replace
from functools import cache

import small_plan as sp

from optibuild.bidding import price_bid
from optibuild.records import (
    Bid,
    Case,
    Leg,
    MoneyByKind,
    Plan,
    PlannedBallast,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    ServedWork,
    SitePrice,
    TruckSeason,
    Winter,
)

INCH = 0.0254
LOT_A = replace(sp.LOT_A, area_m2=2400, parcels=1, stop_time_min=10, pay_by=None, pay_usd=0)
LOT_B = replace(sp.LOT_B, parcels=1, pay_by=None, pay_usd=0)
CASE: Case = replace(
    sp.CASE, sites=(LOT_A, LOT_B), trucks=(replace(sp.TRUCK, owned_value_usd=4641, remaining_life_year=4),),
    spreaders=(replace(sp.HOPPER, owned=0),), ballast=(replace(sp.SANDBAG, owned=0),),
    travel=(*sp.CASE.travel[:3], Leg("b", "a", 10, 5600)),
    solve=replace(sp.CASE.solve, reserve_min=0),
    past_winters=(Winter("dry", (4, 0)), Winter("mean", (10, 2)), Winter("wet", (16, 4))))
LOOP = PlannedLoop(90, 81, 20, 5, 11_200, 1, (
    PlannedStop("b", 1, "plow", 6, 34, 25, 0, 0, None, False),
    PlannedStop("a", 1, "both", 44, 72, 15, 2.5, 120, 80, False, "each")))
OWNING_USD, HELD_USD = 1888.3841, 732.05
SEASON_USD = 565.5 + 206 + 487.656
FIXED = (OWNING_USD + HELD_USD) / 2
LIGHT = {"a": 24.75 + 16.046, "b": 16.046}
HEAVY = {"a": 159 + 41.684, "b": 103 + 41.684}
COST = {site: FIXED + 10 * LIGHT[site] + 2 * HEAVY[site] for site in ("a", "b")}
PRICE = {site: usd * 1.12 / 0.85 for site, usd in COST.items()}
# paid 12 x 30 + 18 x 25 + 345 + 206 + 9 = 1370 min; 551 min of work and 201,600 m
# At a 345 min and 9 to reload, at b 206 min; all else 685 - 177 - 103 = 405 of labor and the road, by halves.
KINDS = {"a": MoneyByKind(OWNING_USD / 2, 177 + 405 / 2, 138 + 62.496 / 2, 34.5 + 20.16 / 2, 216),
         "b": MoneyByKind(OWNING_USD / 2, 103 + 405 / 2, 82.4 + 62.496 / 2, 20.6 + 20.16 / 2, 0)}
MONEY = PlannedMoney(4641 + 928.2 + 4.641, 21_000, OWNING_USD, 685, 220.4 + 62.496, 55.1 + 20.16, 216,
                     SEASON_USD, 0)
# GVWR less reserve 3395, empty with two aboard 2300 + 300 + 150 + 40 + 160 = 2950: a rated fill of 445, of
# which -445 x 0.45/3.6 = -55.625 rides in front; the bag of `small_plan` that is not here 10 and -50
LOADS = tuple(
    replace(row, front_kg=row.front_kg + front, rear_kg=row.rear_kg + rear,
            gross_kg=row.gross_kg + front + rear,
            front_margin_kg=row.front_margin_kg - front, rear_margin_kg=row.rear_margin_kg - rear,
            gross_margin_kg=row.gross_margin_kg - front - rear)
    for row in sp.LOADS
    for front, rear in ((10 - 5.625, -50 + 50.625) if row.state.endswith("full") else (10, -50),))
PLAN: Plan = replace(
    sp.PLAN,
    outcome=replace(sp.PLAN.outcome, cost_usd=OWNING_USD + SEASON_USD, objective_usd=OWNING_USD + SEASON_USD,
                    bound_usd=0.99 * (OWNING_USD + SEASON_USD)),
    items=(PlannedItem("light", "trucks", 0, 1, 10_000, sp.TRUCK_YEAR),
           PlannedItem("blade", "plows", 1, 0, 4641, sp.PLOW_YEAR),
           PlannedItem("hopper", "spreaders", 1, 0, 928.2, sp.HOPPER_YEAR),
           PlannedItem("sandbag", "ballast", 1, 0, 4.641, 1.4641)),
    trucks=(replace(sp.PLAN.trucks[0], ballast=(PlannedBallast("sandbag", 1, 40),), rated_fill_kg=445,
                    axle_loads=LOADS, loop=LOOP, season=TruckSeason(1370 / 60, SEASON_USD, MoneyByKind(
                        OWNING_USD, 685, 282.896, 75.26, 216))),),
    # without the capital of the truck, which only a price recovers
    sites=(PlannedSite("a", True, 1, (ServedWork("both", 1, 1, 90, 81),), COST["a"] - HELD_USD / 2,
                       SitePrice(None, PRICE["a"] / 12, PRICE["a"]), by_kind=KINDS["a"]),
           PlannedSite("b", True, 1, (ServedWork("plow", 1, 1, 90, 81),), COST["b"] - HELD_USD / 2,
                       SitePrice(PRICE["b"] / 6, PRICE["b"] / 2, PRICE["b"]), by_kind=KINDS["b"])),
    money=MONEY)

PAID: Case = replace(CASE, sites=(replace(LOT_A, pay_by="push", pay_usd=300),
                            replace(LOT_B, pay_by="event", pay_usd=150)))

WINTERS = ((4, 0), (10, 2), (16, 4))
SNOW = 0.12 / INCH
# what is billed in a light and in a heavy event
UNITS = {"a": {"push": (0, 4), "event": (1, 1), "inch": (0, SNOW), "hour": (12.5 / 60, 110 / 60)},
         "b": {"push": (0, 3), "event": (0, 1), "inch": (0, SNOW), "hour": (0, 103 / 60)}}


@cache
def bid(case: Case = CASE) -> Bid:
    """The bid for the plan worked out above."""
    return price_bid(case, PLAN)

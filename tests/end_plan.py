"""A case whose deicing waits for the last round, and its plan of one truck, worked out by hand.

Trucks, money and season are those of `small_plan`. Lengths m, masses kg, times min, money USD.
"""

from dataclasses import replace
from typing import Any

import small_plan as sp

from optibuild.records import (
    Case,
    Leg,
    MoneyByKind,
    Outcome,
    Plan,
    PlannedBallast,
    PlannedEndRound,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    ServedWork,
    SitePrice,
    TruckSeason,
)

# Lot a is one parcel of small_plan's: plowed in every round, deiced in the last. Lot c is only deiced, at 0.3
# a square meter, in the last round; its deadline of 40 min is that of no round. Lot b is only plowed.
LOT_A = replace(sp.LOT_A, area_m2=2400, deice_when="end", end_within_min=105)
LOT_C = replace(sp.LOT_C, deice_when="end", end_within_min=120, deice_rate_kg_per_m2=0.3, deadline_min=40,
                must_serve=True)
CASE: Case = replace(sp.CASE, sites=(LOT_A, sp.LOT_B, LOT_C), travel=(
    Leg("yard", "a", 4, 2000), Leg("a", "yard", 4, 2000), Leg("a", "b", 9, 5000), Leg("b", "a", 12, 6000),
    Leg("a", "c", 5, 3000), Leg("c", "a", 5, 3000), Leg("yard", "c", 3, 1500), Leg("c", "yard", 3, 1500),
    Leg("c", "b", 7, 4000), Leg("b", "c", 7, 4000)))

# Minutes of lots a and b as in small_plan: plowing 15 and 25, salt 120 in 2.5 and 0.5 to reload it.
# Lot c: 1000 x 0.3 = 300 of salt; speed 60 / (0.3 x 6) = 100/3; 1000 / (6 x 100/3) / 0.8 = 6.25 min; 300/240
#   = 1.25 min to reload it. The whole stop 3 + 6.25 + 1.25 = 10.5 min.
# A plain round: 4 out, 3 + 15 at a = 22, 9 on to b = 31, 3 + 25 there = 59, 6 home = 65; nothing is spread.
#   Driving 4 + 9 + 6 = 19 min, 2000 + 5000 + 3600 = 10,600 m.
# The end round: 4 out, 21 at a = 25; 420 of salt are more than a fill of 400, so 4 to the yard = 29, 5 to
#   reload = 34, 3 to c = 37, 10.5 there = 47.5, 7 on to b = 54.5, 28 there = 82.5, 6 home = 88.5, 5 to reload
#   = 93.5. Driving 4 + 4 + 3 + 7 + 6 = 24 min, 2000 + 2000 + 1500 + 4000 + 3600 = 13,100 m.
# With 10 in reserve 75 of 90 and 103.5 of the 105 that lot a promises: longer than the loop's cycle limit.
END_ROUND = PlannedEndRound(105, 93.5, 24, 10, 13_100, 2)
LOOP = PlannedLoop(90, 65, 19, 0, 10_600, 0, (
    PlannedStop("a", 1, "both", 4, 22, 15, 2.5, 120, 80, False, "end", 4, 25, False),
    PlannedStop("c", 1, "deice", None, None, 0, 6.25, 300, None, False, "end", 37, 47.5, True),
    PlannedStop("b", 1, "plow", 31, 59, 25, 0, 0, None, False, None, 54.5, 82.5, False)), END_ROUND)

# Season: 10 light events (below every trigger, but salt is asked) of 1 round, 2 heavy ones of min(3, 4) + 1
#   = 4. The last of each is an end round: 12, after 2 x 3 = 6 plain ones.
#   Lot a: pushed 2 x 4 times, 15 each; deiced 12 times, 2.5 each; come to 10 + 2 x 4 = 18 times, 3 each:
#   120 + 30 + 54 = 204 min; salt 12 x 120 = 1440, 6 min. Lot c: 12 (3 + 6.25) = 111 min; salt 3600, 15 min.
#   Lot b as in small_plan 206 min.
#   Paid: 12 x 30 + 6 x 19 + 12 (24 + 10) + 204 + 111 + 206 + 6 + 15 = 1424 min; labor at 0.5: 712.
#   Meters: 6 x 10,600 + 12 x 13,100 = 220,800. Fuel (521 x 0.2 + 220,800 x 0.000155) x 2 = 276.848; wear
#   52.1 + 22.08 = 74.18; salt 5040 x 0.1 = 504.
SEASON_USD = 712 + 276.848 + 74.18 + 504
# One truck, hopper and two bags are owned; the blade is bought.
OWNING_USD = 200 * 0.5 + sp.PLOW_YEAR + 10
COST_USD = OWNING_USD + SEASON_USD
# Sites: at a 204 + 3 + 144 = 351, at c 111 + 7.5 + 360 = 478.5, at b 206; all else, 12 x 30 x 0.5 + (6 x 19 +
#   12 x 34) x 0.5 + 220,800 x 0.00041 = 531.528 and what is owned, by 21, 10.5 and 28 min of the end round.
#   Lots a and c see 12 events, lot b 6 pushes in 2.
COST = {"a": 351 + 6 / 17 * (531.528 + OWNING_USD), "c": 478.5 + 3 / 17 * (531.528 + OWNING_USD),
        "b": 206 + 8 / 17 * (531.528 + OWNING_USD)}
PRICE = {site: usd * 1.12 / 0.85 for site, usd in COST.items()}
#   By kind: a 210 min paid, 204 worked, salt 144; c 126 and 111, 360; b 206; all else 522 min and 180,
#   220,800 x 0.00031 = 68.448, 22.08.
KINDS = {"a": MoneyByKind(6 / 17 * OWNING_USD, 105 + 6 / 17 * 441, 81.6 + 6 / 17 * 68.448,
                          20.4 + 6 / 17 * 22.08, 144),
         "b": MoneyByKind(8 / 17 * OWNING_USD, 103 + 8 / 17 * 441, 82.4 + 8 / 17 * 68.448,
                          20.6 + 8 / 17 * 22.08, 0),
         "c": MoneyByKind(3 / 17 * OWNING_USD, 63 + 3 / 17 * 441, 44.4 + 3 / 17 * 68.448,
                          11.1 + 3 / 17 * 22.08, 360)}
# Lot a is pushed 8 times at 300, lot b in 2 events at 150, lot c pays 500.
VALUE_USD = 2400 + 300 + 500

PLAN: Plan = replace(
    sp.PLAN,
    outcome=Outcome("within the asked gap", "gap reached", COST_USD, 0.99 * COST_USD, 0.01, COST_USD, 1.5,
                    0.02),
    items=(PlannedItem("light", "trucks", 0, 1, 10_000, sp.TRUCK_YEAR),
           PlannedItem("blade", "plows", 1, 0, 4641, sp.PLOW_YEAR),
           PlannedItem("hopper", "spreaders", 0, 1, 928.2, sp.HOPPER_YEAR),
           PlannedItem("sandbag", "ballast", 0, 2, 4.641, 1.4641)),
    trucks=(PlannedTruck(1, "light+blade+hopper", "light", "blade", "hopper",
                         (PlannedBallast("sandbag", 2, 80),), "yard", 400, 0, sp.LOADS, LOOP,
                         TruckSeason(1424 / 60, SEASON_USD,
                                     MoneyByKind(OWNING_USD, 712, 276.848, 74.18, 504))),),
    sites=(PlannedSite("a", True, 1, (ServedWork("both", 1, 1, 90, 65),), COST["a"],
                       SitePrice(None, PRICE["a"] / 12, PRICE["a"]), by_kind=KINDS["a"]),
           PlannedSite("b", True, 1, (ServedWork("plow", 1, 1, 90, 65),), COST["b"],
                       SitePrice(PRICE["b"] / 6, PRICE["b"] / 2, PRICE["b"]), by_kind=KINDS["b"]),
           PlannedSite("c", True, 1, (ServedWork("deice", 1, 1, None, None),), COST["c"],
                       SitePrice(None, PRICE["c"] / 12, PRICE["c"]), by_kind=KINDS["c"])),
    money=PlannedMoney(4641, 21_000, OWNING_USD, 712, 276.848, 74.18, 504, SEASON_USD, VALUE_USD))


def with_loop(**changes: Any) -> Plan:
    """The plan with its loop changed."""
    return replace(PLAN, trucks=(replace(PLAN.trucks[0], loop=replace(LOOP, **changes)),))


def with_end_round(**changes: Any) -> Plan:
    """The plan with its end round changed."""
    return with_loop(end_round=replace(END_ROUND, **changes))


def with_stop(index: int, **changes: Any) -> Plan:
    """The plan with one stop changed."""
    stops = list(LOOP.stops)
    stops[index] = replace(stops[index], **changes)
    return with_loop(stops=tuple(stops))


def with_works(index: int, **changes: Any) -> Plan:
    """The plan with what one site is said to get changed."""
    sites = list(PLAN.sites)
    sites[index] = replace(sites[index], works=(replace(sites[index].works[0], **changes),))
    return replace(PLAN, sites=tuple(sites))


def case_site(index: int, **changes: Any) -> Case:
    """The case with one site changed."""
    sites = list(CASE.sites)
    sites[index] = replace(sites[index], **changes)
    return replace(CASE, sites=tuple(sites))

"""A case of two trucks and three sites, and its plan, every number of which is worked out by hand.

Lengths m, masses kg, times min, money USD. The truck: wheelbase 3.6, sine of the steer angle 0.6 (tangent
0.75). The plow: 3.0 wide, cosine of its angle 0.8. Turning speed is 60 pi a minute, so that half a circle
of radius 6 takes 0.1 min.
"""

import re
from dataclasses import fields, replace
from math import asin, degrees, inf, pi
from typing import Any

from optibuild.records import (
    Assumptions,
    AxleLoads,
    Ballast,
    Case,
    Crew,
    Depot,
    Event,
    FitLimits,
    Leg,
    Material,
    Money,
    MoneyByKind,
    Outcome,
    Plan,
    PlannedBallast,
    PlannedCase,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    Plow,
    ServedWork,
    Site,
    SitePrice,
    SolveSettings,
    Spreader,
    Storm,
    Truck,
    TruckSeason,
    UsedAssumption,
)

TRUCK = Truck("light", "", "half-ton", 3400, 1750, 1800, 1300, 1000, 3.6, 0.6, 1.2, 2.4, 1.8, 3, 2.0, 1.7,
              asin(0.6), None, "all", True, inf, inf, "gas", 0.0002, 0.0001, 0.2, 0.05,
              price_usd=10_000, life_year=4, resale_usd=1_000, upkeep_usd_per_year=200, snow_share=0.5,
              owned=1)
PLOW = Plow("blade", "", "straight", 3.0, 0.5, asin(0.6), 240, 60, 0.3, 0, 0.03,
            price_usd=4641, life_year=4, upkeep_usd_per_year=20)
HOPPER = Spreader("hopper", "", "hopper", 150, 0.4, -1.2, -0.75, 6, 60, "salt", 2.0, 0, 0.02,
                  price_usd=928.2, life_year=4, upkeep_usd_per_year=10, owned=1)
SANDBAG = Ballast("sandbag", "", 40, -0.3, 10, price_usd=4.641, life_year=4, owned=4)
YARD = Depot("yard", 45.0, -90.0, 5, 240)

# Yard and lot b lie on one meridian: an arc of 3600/1.3 on the mean radius 6,371,008.8 (IUGG) makes 3600 of
# road.
B_LAT = 45.0 + degrees(3600 / 1.3 / 6_371_008.8)
LOT_A = Site("a", "Lot a", 45.0, -90.02, 4800, 200, 6, "side", "both", 90, 90, "each", 240, False, 80, 0.03,
             0.05, 3, None, None, None, None, 3400, 2.5, 15.5, None, True, "push", 300)
LOT_B = Site("b", "Lot b", B_LAT, -90.0, 1200, 50, 20, "end", "plow", 90, None, "each", 240, False, inf, 0.06,
             None, 3, None, None, None, None, inf, inf, inf, None, True, "event", 150)
LOT_C = Site("c", "Lot c", 46.0, -90.0, 1000, 50, 20, "side", "deice", None, 90, "each", 240, False, inf,
             0.03, None, 3, None, None, None, None, inf, inf, inf, None, False, "season", 500)

CASE = Case(
    name="tiny", question="cover", units="si", given_as="tiny", trucks=(TRUCK,), plows=(PLOW,),
    spreaders=(HOPPER,), ballast=(SANDBAG,), materials=(Material("salt", 1250, 0.1),), depots=(YARD,),
    sites=(LOT_A, LOT_B, LOT_C),
    season=(Event("light", 10, 180, 0.02, -2), Event("heavy", 2, 270, 0.12, -6)),
    travel=(Leg("yard", "a", 4, 2000), Leg("a", "yard", 4, 2000), Leg("a", "b", 9, 5000),
            Leg("b", "a", 12, 6000)),
    storm=Storm(0.03 / 90, 100, -4, 600),
    money=Money(21_000, 0.4, 0.25, "working", True, (("gas", 2.0),), 0.0001, 0.10, 0.12, 0.15),
    crew=Crew(2, 2, 30), fit=FitLimits(0.20, None, "gross", 0.40, 5.0), solve=SolveSettings(0.02, 60, 1, 10),
    assumptions=Assumptions(80, 150, 0.02, 200, 100, 60 * pi, 250, 0.05, 0.4, 0.5, 0.8, 60, 12, 0.01, 300,
                            0.15, 0.03, 0.3, 1.3),
)


def _loads(state: str, crew: str, front: float, rear: float) -> AxleLoads:
    return AxleLoads(state, crew, front, rear, front + rear, 1750 - front, 1800 - rear, 3400 - front - rear)


# On wheelbase 3.6, to the front axle and to the rear one:
#   curb 1300, 1000; mount 60 at -0.6: 70, -10; blade 240 at -0.9: 300, -60; a person 80 at 1.8: 40, 40
#   hopper 150 at 3.6: 0, 150; two bags of 40 at 4.5: -20, 100; fill 400 at 4.05: -50, 450
# off empty, driver: 1300 + 70 - 20 + 40 = 1390 and 1000 - 10 + 150 + 100 + 40 = 1280
LOADS = (
    _loads("raised empty", "driver", 1690, 1220), _loads("raised empty", "full", 1730, 1260),
    _loads("raised full", "driver", 1640, 1670), _loads("raised full", "full", 1680, 1710),
    _loads("off empty", "driver", 1390, 1280), _loads("off empty", "full", 1430, 1320),
    _loads("off full", "driver", 1340, 1730), _loads("off full", "full", 1380, 1770),
)

# Circle: 2 sqrt((3.6/0.75 + 2.4/2)^2 + (3.6 + 0.6 + 0.3)^2) = 2 sqrt(6^2 + 4.5^2) = 15.
# Off empty with the driver 2670 on four driven wheels: (0.15 - 0.03) 2670 / 0.3 = 1068 of snow can be pushed;
#   the blade holds 0.8 x 3 x 0.5^2 x 300 = 180 (SAE J1265, its 0.8 from memory), which is less.
# Lot a, one of 2 parcels, 2400 m^2: turn 0.1 + 2 (15/6 - 1) 0.05 = 0.25; width 2400/200 = 12, 2.4 - 0.4 = 2
#   a pass, 6 passes; 6 (200/200 + 0.25) / 0.5 = 15 min. Both edges of the site hold 2 x 0.5^2/2 x 200 x 300
#   = 15,000, half of it the parcel's: more than its snow, at most 2400 x 0.03 x 100, so none is stacked.
#   Salt 2400 x 0.05 = 120; speed min(250, 60 / (0.05 x 6)) = 200; 2400 / (6 x 200) / 0.8 = 2.5 min; 120/240
#   = 0.5 min to reload it. The whole stop 3 + 15 + 2.5 + 0.5 = 21 min.
# Lot b at 90 min x 0.03/90 = 0.03 deep: the blade is full after 180/9 = 20 m; mean push (50 + 20)/2 = 35;
#   1200 x 0.03 x 100 = 3600 of snow is 20 pushes of 35/200 + 35/100 + 0.1 = 0.625: 12.5. Its width 24 takes
#   ceil(24/2.6) = 10 whole pushes of 50/200 + 50/100 + 0.1 = 0.85: 8.5, less. 12.5/0.5 = 25 min. The whole
#   stop 28 min.
# Truck 1: 4 out, 21 at a, 4 home, 5 to reload = 34.
# Truck 2: 6 out, 28 at b, 6 to the yard, 5 to reload, 4 out, 21 at a, 4 home, 5 to reload = 79.
LOOP_1 = PlannedLoop(60, 34, 8, 5, 4000, 1, (
    PlannedStop("a", 1, "both", 4, 25, 15, 2.5, 120, 80, False, "each"),))
LOOP_2 = PlannedLoop(90, 79, 20, 10, 11_200, 2, (
    PlannedStop("b", 1, "plow", 6, 34, 25, 0, 0, None, False),
    PlannedStop("a", 1, "both", 49, 70, 15, 2.5, 120, 80, True, "each")))

# Season: 10 light events (0.02 m, below every trigger, deiced in one round) and 2 heavy ones (0.12 m).
#   Rounds of a heavy event: at 60 min min(5, 4) + 1 = 5, at 90 min min(3, 4) + 1 = 4; lot b, with trigger
#   0.06, is pushed min(3, 2) + 1 = 3 times, 0.04 deep each. Rounds a season: truck 1 10 + 10 = 20, truck 2
#   10 + 8 = 18.
#   Lot a, truck 1: 10 x 15 + 20 (2.5 + 3) = 260 min, salt 2400, 10 min; truck 2: 8 x 15 + 18 x 5.5 = 219 min,
#   salt 2160, 9 min. Lot b: full after 180/12 = 15 m, mean push 32.5, 4800/180 pushes of
#   32.5/200 + 32.5/100 + 0.1 = 0.5875, over 0.5: 31 1/3 min; 6 (31 1/3 + 3) = 206 min.
#   Paid: truck 1 12 x 30 + 20 x 13 + 260 + 10 = 890 min; truck 2 360 + 18 x 30 + 206 + 219 + 9 = 1334 min.
#   Labor at 0.4 x 1.25 = 0.5: 445 and 667. Road fuel 0.55 x 0.0002 + 0.45 x 0.0001 = 0.000155 a meter;
#   fuel (260 x 0.2 + 80,000 x 0.000155) x 2 = 128.8 and (425 x 0.2 + 201,600 x 0.000155) x 2 = 232.496.
#   Wear 260 x 0.1 + 8 = 34 and 42.5 + 20.16 = 62.66. Salt 240 and 216.
SEASON_USD = 847.8 + 1178.156

# Capital recovery at 10 % over 4 years: 0.1 x 1.4641 / 0.4641 of what is lost, 10 % of what is left.
TRUCK_YEAR = (9000 * 0.14641 / 0.4641 + 100 + 200) * 0.5
PLOW_YEAR = 1464.1 + 20
HOPPER_YEAR = 292.82 + 10
OWNING_USD = TRUCK_YEAR + 200 * 0.5 + 2 * PLOW_YEAR + HOPPER_YEAR + 10
COST_USD = OWNING_USD + SEASON_USD
# Either truck has half of all that is owned or bought.
SEASON_1 = TruckSeason(890 / 60, 847.8, MoneyByKind(OWNING_USD / 2, 445, 128.8, 34, 240))
SEASON_2 = TruckSeason(1334 / 60, 1178.156, MoneyByKind(OWNING_USD / 2, 667, 232.496, 62.66, 216))
# Lot a is pushed 2 x 4 = 8 times at 300, lot b in 2 events at 150; lot c, left out, would have paid 500.
VALUE_USD = 2400 + 300
OBJECTIVE_USD = COST_USD + 500


# Sites. A minute at work costs 0.5 + 0.4 of fuel + 0.1 of wear = 1, one of reloading 0.5, a meter 0.00041.
#   Truck 1 at a: 260 min and 2400 of salt, 260 + 5 + 240 = 505; all else of its season is 180 to get ready
#   + 20 x 13 x 0.5 + 80,000 x 0.00041 = 342.8.
#   Truck 2 at b 206, at a 219 + 4.5 + 216 = 439.5; all else 180 + 18 x 30 x 0.5 + 201,600 x 0.00041 =
#   532.656, of which b bears 28 of 49 min and a 21. Either truck has half of all that is owned or bought.
#   A price is 1.12/0.85 of the cost; nothing owned is worth anything. Lot a sees 12 events, lot b 6 pushes
#   in 2 events.
COST_A = 505 + 342.8 + OWNING_USD / 2 + 439.5 + 3 / 7 * (532.656 + OWNING_USD / 2)
COST_B = 206 + 4 / 7 * (532.656 + OWNING_USD / 2)
PRICE_A, PRICE_B = COST_A * 1.12 / 0.85, COST_B * 1.12 / 0.85
#   By kind: truck 2 at b 206 min, 103 of labor, 82.4 of fuel, 20.6 of wear; at a 219 and 9 to reload, 114,
#   87.6 and 21.9, and salt 216; all else 667 - 103 - 114 = 450, 201,600 x 0.00031 = 62.496, 20.16.
KINDS_A = MoneyByKind(5 / 7 * OWNING_USD, 445 + 114 + 3 / 7 * 450, 128.8 + 87.6 + 3 / 7 * 62.496,
                      34 + 21.9 + 3 / 7 * 20.16, 456)
KINDS_B = MoneyByKind(2 / 7 * OWNING_USD, 103 + 4 / 7 * 450, 82.4 + 4 / 7 * 62.496, 20.6 + 4 / 7 * 20.16, 0)
# Without lot a truck 1 stays at home: one truck, blade and hopper less are bought. Truck 2 is at b alone:
#   180 + 206 + 18 x 12 x 0.5 + 129,600 x 0.00041 = 547.136.
# Without lot b truck 2 is at a alone, without the reload before: 180 + 439.5 + 18 x 13 x 0.5
#   + 72,000 x 0.00041 = 766.02.
SAVED_A = 847.8 + 1178.156 - 547.136 + TRUCK_YEAR + PLOW_YEAR + HOPPER_YEAR
SAVED_B = 1178.156 - 766.02


def _truck(number: int, loop: PlannedLoop, season: TruckSeason) -> PlannedTruck:
    return PlannedTruck(number, "light+blade+hopper", "light", "blade", "hopper",
                        (PlannedBallast("sandbag", 2, 80),), "yard", 400, 0, LOADS, loop, season)


def assumed(figures: Assumptions) -> tuple[UsedAssumption, ...]:
    """Every default figure as a plan tells it: a field's name, its unit taken off the end."""
    told = []
    for field in fields(figures):
        if field.name != "overridden":
            name, _, unit = re.fullmatch(r"(.+?)(_(kg_per_m3|m_per_min|min|kg|m))?", field.name).groups("")
            told.append(UsedAssumption(name, float(getattr(figures, field.name)), unit.replace("_per_", "/"),
                                       "from memory", False))
    return tuple(told)


PLAN = Plan(
    format="optibuild-plan/1", version="0.1.0", solver={"HiGHS": "1.15.1"},
    case=PlannedCase("tiny", "cover", "tiny", {"trucks.csv": "00"}),
    outcome=Outcome("within the asked gap", "gap reached", OBJECTIVE_USD, 0.99 * OBJECTIVE_USD, 0.01,
                    COST_USD, 1.5, 0.02),
    items=(PlannedItem("light", "trucks", 1, 1, 10_000, TRUCK_YEAR),
           PlannedItem("blade", "plows", 2, 0, 4641, PLOW_YEAR),
           PlannedItem("hopper", "spreaders", 1, 1, 928.2, HOPPER_YEAR),
           PlannedItem("sandbag", "ballast", 0, 4, 4.641, 1.4641)),
    trucks=(_truck(1, LOOP_1, SEASON_1), _truck(2, LOOP_2, SEASON_2)),
    sites=(PlannedSite("a", True, 2, (ServedWork("both", 1, 1, 60, 34), ServedWork("both", 1, 2, 90, 79)),
                       COST_A, SitePrice(None, PRICE_A / 12, PRICE_A), SAVED_A, KINDS_A),
           PlannedSite("b", True, 1, (ServedWork("plow", 1, 2, 90, 79),), COST_B,
                       SitePrice(PRICE_B / 6, PRICE_B / 2, PRICE_B), 500, KINDS_B),
           PlannedSite("c", False, 1, (), None, None)),
    money=PlannedMoney(10_000 + 9282 + 928.2, 21_000, OWNING_USD, 1112, 361.296, 96.66, 456, SEASON_USD,
                       VALUE_USD),
    shortfall=None, recheck=None,
    assumptions=assumed(CASE.assumptions), cautions=("Weigh the truck.",),
)


def with_truck(number: int, **changes: Any) -> Plan:
    """The plan with one truck changed."""
    trucks = tuple(replace(row, **changes) if row.truck_no == number else row for row in PLAN.trucks)
    return replace(PLAN, trucks=trucks)


def with_loop(number: int, **changes: Any) -> Plan:
    """The plan with one loop changed."""
    return with_truck(number, loop=replace(PLAN.trucks[number - 1].loop, **changes))


def with_stop(number: int, index: int, **changes: Any) -> Plan:
    """The plan with one stop of one loop changed."""
    stops = list(PLAN.trucks[number - 1].loop.stops)
    stops[index] = replace(stops[index], **changes)
    return with_loop(number, stops=tuple(stops))


def with_item(index: int, **changes: Any) -> Plan:
    """The plan with one item row changed."""
    items = list(PLAN.items)
    items[index] = replace(items[index], **changes)
    return replace(PLAN, items=tuple(items))


def with_site_row(index: int, **changes: Any) -> Plan:
    """The plan with one site row changed."""
    sites = list(PLAN.sites)
    sites[index] = replace(sites[index], **changes)
    return replace(PLAN, sites=tuple(sites))


def with_money(**changes: Any) -> Plan:
    """The plan with its money changed."""
    assert PLAN.money is not None
    return replace(PLAN, money=replace(PLAN.money, **changes))


def with_outcome(**changes: Any) -> Plan:
    """The plan with its outcome changed."""
    return replace(PLAN, outcome=replace(PLAN.outcome, **changes))


def case_site(index: int, **changes: Any) -> Case:
    """The case with one site changed."""
    sites = list(CASE.sites)
    sites[index] = replace(sites[index], **changes)
    return replace(CASE, sites=tuple(sites))

"""What a loop costs a season beside owning its items: a cost for each stop, for driving, and fixed."""

from collections.abc import Callable

import numpy as np

from optibuild.cost.pay import fixed_minutes, standby, wage_usd_per_min
from optibuild.records.build import Builds, Floats, Ints, column
from optibuild.records.case import Case, Money
from optibuild.records.catalog import Material, Truck
from optibuild.records.loop import LoopCosts, SeasonRounds, ServiceTimes

CITY_SHARE, HIGHWAY_SHARE = 0.55, 0.45


def combined_l_per_m(city_l_per_m: float, highway_l_per_m: float) -> float:
    """Fuel of road travel [L/m]: 0.55·city + 0.45·highway. Source: 40 CFR 600 App. II(a)(2)."""
    return CITY_SHARE * city_l_per_m + HIGHWAY_SHARE * highway_l_per_m


def _road_fuel_usd_per_m(truck: Truck, money: Money) -> float:
    return combined_l_per_m(truck.city_l_per_m, truck.highway_l_per_m) * money.fuel_price(truck.fuel)


def working_usd_per_min(money: Money) -> float:
    """Labor of a minute worked, beside what is paid anyway [USD/min]; 0 where whole storms are paid."""
    return wage_usd_per_min(money) * (1 - standby(money))


def fixed_labor_usd(case: Case, rounds: SeasonRounds) -> tuple[float, float]:
    """Labor of one truck a season that its rounds do not change, in USD and in minutes by the clock: getting
    ready, and standby over whole events."""
    minutes = fixed_minutes(case) * (rounds.rounds > 0).any(axis=1)
    return (float(rounds.as_paid.count @ minutes) * wage_usd_per_min(case.money),
            float(rounds.count @ minutes))


def _gather(values: list[float], index: Ints) -> Floats:
    """Values of catalog rows by index; the index NONE (-1) takes 0."""
    return np.array([*values, 0.0])[index]


def _trucks(case: Case, index: Ints, value: Callable[[Truck], float]) -> Floats:
    return _gather([value(truck) for truck in case.trucks], index)


def material_usd_per_kg(material: Material) -> float:
    """Dry deicer that is used [USD/kg]: (price + delivery)/(1 - waste), over its share in the material."""
    bought = (material.price_usd_per_kg + material.delivery_usd_per_kg) / (1 - material.waste)
    return bought / material.strength


def loop_costs(case: Case, builds: Builds, times: ServiceTimes, rounds: SeasonRounds) -> LoopCosts:
    """Money of a loop's parts over an expected season, and the rates it is made of; axes as in LoopCosts.

    `stop_usd` is inf where the stop is impossible for the build. A hired truck costs its rate for the minutes
    that it works, drives or reloads, in place of wages, fuel and wear of the truck; its attachments wear as
    any. As in the FEMA Schedule of Equipment Rates (2010), standby is no part of such a rate's hours.
    """
    money, every = case.money, np.ones(len(times.build))
    truck, plow, spreader = (axis[times.build] for axis in (builds.truck, builds.plow, builds.spreader))
    hire = _trucks(case, truck, lambda row: row.hired_usd_per_min or 0.0)
    own = _trucks(case, truck, lambda row: float(row.hired_usd_per_min is None))
    wage = own * working_usd_per_min(money)
    work_fuel = own * _trucks(case, truck, lambda row: row.work_fuel_l_per_min * money.fuel_price(row.fuel))
    wear = own * _trucks(case, truck, lambda row: row.wear_usd_per_min)
    wear = wear + column(case.plows, "wear_usd_per_min")[plow]
    wear = wear + column(case.spreaders, "wear_usd_per_min")[spreader]
    road_fuel = own * _trucks(case, truck, lambda row: _road_fuel_usd_per_m(row, money))
    material = _gather([material_usd_per_kg(case.material(row)) for row in case.spreaders], spreader)
    (turns, last), (paid_turns, paid_last) = season_turns(case, rounds), season_turns(case, rounds.as_paid)
    road_wear = own * money.road_wear_usd_per_m
    fixed_usd, fixed_min = fixed_labor_usd(case, rounds)
    return LoopCosts(
        fixed_usd=own * fixed_usd,
        drive_usd_per_min=np.outer(wage, paid_turns) + np.outer(hire, turns),
        drive_usd_per_m=np.outer(road_fuel + road_wear, turns),
        stop_usd=stop_usd(times, wage + hire, work_fuel + wear, material), labor_usd_per_min=wage + hire,
        work_fuel_usd_per_min=work_fuel, work_wear_usd_per_min=wear, travel_fuel_usd_per_m=road_fuel,
        road_wear_usd_per_m=road_wear, material_usd_per_kg=material, season_rounds=turns,
        end_drive_usd_per_min=np.outer(wage, paid_last) + np.outer(hire, last),
        end_drive_usd_per_m=np.outer(road_fuel + road_wear, last), end_rounds=last,
        fixed_paid_min=own * fixed_min, paid_share=every - own * standby(money),
    )


def season_turns(case: Case, rounds: SeasonRounds) -> tuple[Floats, Floats]:
    """Expected rounds a season, and of these the last ones of their events, told apart where works wait for
    them [K, K]; else all are alike and none is told as the last."""
    turns = rounds.count @ rounds.rounds
    waits = any(site.deiced_at_end for site in case.sites)
    last = rounds.count @ np.minimum(rounds.rounds, 1.0) * waits
    return turns - last, last


def stop_usd(times: ServiceTimes, labor: Floats, working: Floats, material: Floats) -> Floats:
    """A season of each stop [C, K, S]: work and reloading as paid, fuel and wear of the work, material;
    inf if impossible.

    `labor` and `working`, the fuel and wear [C, USD/min], `material` [C, USD/kg].
    """
    alike = times.paid_stop_min is times.season_stop_min
    usd = times.season_stop_min * (working + labor if alike else working)[:, None, None]
    if not alike:
        usd += times.paid_stop_min * labor[:, None, None]
    usd += labor[:, None, None] * times.paid_reload_min
    usd += material[:, None, None] * times.season_material_kg
    usd[~np.isfinite(times.minutes)] = np.inf
    return usd

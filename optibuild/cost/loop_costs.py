"""What a loop costs a season beside owning its items: a cost for each stop, for driving, and fixed."""

from collections.abc import Callable

import numpy as np

from optibuild.records.build import Builds, Floats, Ints
from optibuild.records.case import Case, Money
from optibuild.records.catalog import Truck
from optibuild.records.loop import LoopCosts, SeasonRounds, ServiceTimes

CITY_SHARE, HIGHWAY_SHARE = 0.55, 0.45


def combined_l_per_m(city_l_per_m: float, highway_l_per_m: float) -> float:
    """Fuel of road travel [L/m]: 0.55·city + 0.45·highway. Source: 40 CFR 600 App. II(a)(2)."""
    return CITY_SHARE * city_l_per_m + HIGHWAY_SHARE * highway_l_per_m


def _road_fuel_usd_per_m(truck: Truck, money: Money) -> float:
    return combined_l_per_m(truck.city_l_per_m, truck.highway_l_per_m) * money.fuel_price(truck.fuel)


def paid_usd_per_min(money: Money) -> float:
    """Wage with its burden [USD/min]."""
    return money.wage_usd_per_min * (1 + money.burden)


def working_usd_per_min(money: Money) -> float:
    """Labor of a minute worked [USD/min]; 0 where whole storms are paid."""
    return paid_usd_per_min(money) if money.paid == "working" else 0.0


def fixed_labor_usd(case: Case, rounds: SeasonRounds) -> float:
    """Labor of one truck a season that its rounds do not change [USD]: start minutes, or whole storms too."""
    storm = np.array([event.duration_min for event in case.season]) * (case.money.paid == "storm")
    out = (rounds.rounds > 0).any(axis=1)
    minutes = rounds.count * (storm + case.crew.start_minutes_min)
    return float(minutes[out].sum()) * paid_usd_per_min(case.money)


def _gather(values: list[float], index: Ints) -> Floats:
    """Values of catalog rows by index; the index NONE (-1) takes 0."""
    return np.array([*values, 0.0])[index]


def _trucks(case: Case, index: Ints, value: Callable[[Truck], float]) -> Floats:
    return _gather([value(truck) for truck in case.trucks], index)


def loop_costs(case: Case, builds: Builds, times: ServiceTimes, rounds: SeasonRounds) -> LoopCosts:
    """Money of a loop's parts over an expected season, and the rates it is made of; axes as in LoopCosts.

    `stop_usd` is inf where the stop is impossible for the build.
    """
    money, every = case.money, np.ones(len(times.build))
    truck, plow, spreader = (axis[times.build] for axis in (builds.truck, builds.plow, builds.spreader))
    labor = working_usd_per_min(money)
    work_fuel = _trucks(case, truck, lambda row: row.work_fuel_l_per_min * money.fuel_price(row.fuel))
    wear = _trucks(case, truck, lambda row: row.wear_usd_per_min)
    wear = wear + _gather([row.wear_usd_per_min for row in case.plows], plow)
    wear = wear + _gather([row.wear_usd_per_min for row in case.spreaders], spreader)
    road_fuel = _trucks(case, truck, lambda row: _road_fuel_usd_per_m(row, money))
    dry_usd = [case.material(row).price_usd_per_kg / case.material(row).strength for row in case.spreaders]
    material = _gather(dry_usd, spreader)
    turns, last = season_turns(case, rounds)
    road = road_fuel + money.road_wear_usd_per_m
    return LoopCosts(
        fixed_usd=every * fixed_labor_usd(case, rounds), drive_usd_per_min=np.outer(every, labor * turns),
        drive_usd_per_m=np.outer(road, turns),
        stop_usd=stop_usd(times, labor, labor + work_fuel + wear, material), labor_usd_per_min=every * labor,
        work_fuel_usd_per_min=work_fuel, work_wear_usd_per_min=wear, travel_fuel_usd_per_m=road_fuel,
        road_wear_usd_per_m=every * money.road_wear_usd_per_m, material_usd_per_kg=material,
        season_rounds=turns, end_drive_usd_per_min=np.outer(every, labor * last),
        end_drive_usd_per_m=np.outer(road, last), end_rounds=last,
    )


def season_turns(case: Case, rounds: SeasonRounds) -> tuple[Floats, Floats]:
    """Expected rounds a season, and of these the last ones of their events, told apart where works wait for
    them [K, K]; else all are alike and none is told as the last."""
    turns = rounds.count @ rounds.rounds
    waits = any(site.deiced_at_end for site in case.sites)
    last = rounds.count @ np.minimum(rounds.rounds, 1.0) * waits
    return turns - last, last


def stop_usd(times: ServiceTimes, labor: float, working: Floats, material: Floats) -> Floats:
    """A season of each stop [C, K, S, USD]: working minutes, reloading by mass, material; inf if impossible.

    `labor` [USD/min], `working` [C, USD/min] with labor in it, `material` [C, USD/kg].
    """
    usd = times.season_stop_min * working[:, None, None]
    usd += labor * times.season_reload_min
    usd += material[:, None, None] * times.season_material_kg
    usd[~np.isfinite(times.minutes)] = np.inf
    return usd

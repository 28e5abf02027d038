"""A season's money, added up again from hours, meters and kilograms."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf

from optibuild.plan.recheck_items import capital_usd, owning_usd
from optibuild.plan.recheck_loops import Driven
from optibuild.plan.recheck_margins import SAME, Margin, same
from optibuild.plan.recheck_pay import slip
from optibuild.plan.recheck_season import pushes, rounds, stop_event, stop_season
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Event, MoneyByKind, Plan, PlannedMoney, Site

KINDS = ("owning", "labor", "fuel", "wear", "material")


@dataclass(frozen=True)
class Season:
    """Paid hours and money of one truck over an expected season, owning apart [h, USD]."""

    hours: float
    labor_usd: float
    fuel_usd: float
    wear_usd: float
    material_usd: float

    @property
    def usd(self) -> float:
        """All kinds together."""
        return self.labor_usd + self.fuel_usd + self.wear_usd + self.material_usd


def truck_season(loop: Driven, case: Case) -> Season:
    """One truck's season: its rounds on the road, its stops, what its driver is paid in each event."""
    unit, money = loop.unit, case.money
    stops = [stop_season(job, case) for job in loop.tasks]
    meters = _meters(loop, case)
    work_min = sum(stop.work_min for stop in stops)
    slips = [(event.count, slip(unit, event, worked_min(event, loop, case), case))
             for event in _events_out(loop, case)]
    # the rate of a hired truck holds its fuel and its wear
    truck_min, truck_m = (work_min, meters) if unit.truck.hired_usd_per_min is None else (0.0, 0.0)
    fuel_l = truck_min * unit.truck.work_fuel_l_per_min + truck_m * _travel_l_per_m(unit)
    return Season(sum(count * one.minutes for count, one in slips) / 60.0,
                  sum(count * one.usd for count, one in slips),
                  fuel_l * money.fuel_price(unit.truck.fuel),
                  (truck_min * unit.truck.wear_usd_per_min + truck_m * money.road_wear_usd_per_m
                   + work_min * wear_usd_per_min(unit)),
                  sum(stop.material_kg for stop in stops) * material_usd_per_kg(unit, case))


def _events_out(loop: Driven, case: Case) -> list[Event]:
    clock = loop.unit.planned.loop.cycle_limit_min
    return [event for event in case.season if rounds(event, clock, case)]


def _rounds_in(event: Event, loop: Driven, case: Case) -> tuple[int, int]:
    """Rounds before the last of an event, and last ones, where a loop has another round for that."""
    every = rounds(event, loop.unit.planned.loop.cycle_limit_min, case)
    last = 1 if loop.end is not None and every else 0
    return every - last, last


def _meters(loop: Driven, case: Case) -> float:
    """Road of a season, by the distances that the plan states."""
    stated = loop.unit.planned.loop
    end_m = stated.end_round.distance_m if stated.end_round is not None else 0.0
    meters = 0.0
    for event in case.season:
        every, last = _rounds_in(event, loop, case)
        meters += event.count * (every * stated.distance_m + last * end_m)
    return meters


def worked_min(event: Event, loop: Driven, case: Case) -> float:
    """Minutes of one event at work, on the road and reloading."""
    every, last = _rounds_in(event, loop, case)
    minutes = every * (loop.plain.drive_min + loop.plain.reload_min)
    if loop.end is not None:
        minutes += last * (loop.end.drive_min + loop.end.reload_min)
    stops = [stop_event(event, job, case) for job in loop.tasks]
    return minutes + sum(stop.work_min + stop.reload_min for stop in stops)


def _travel_l_per_m(unit: Mounted) -> float:
    """Fuel on the road: 55 % city, 45 % highway (40 CFR 600, combined fuel economy)."""
    return 0.55 * unit.truck.city_l_per_m + 0.45 * unit.truck.highway_l_per_m


def wear_usd_per_min(unit: Mounted) -> float:
    """Wear of what a truck carries."""
    return ((unit.plow.wear_usd_per_min if unit.plow else 0.0)
            + (unit.spreader.wear_usd_per_min if unit.spreader else 0.0))


def material_usd_per_kg(unit: Mounted, case: Case) -> float:
    """What a used kilogram costs: so much more is bought and delivered that the rest is what is used."""
    if unit.spreader is None:
        return 0.0
    material = case.material(unit.spreader)
    bought_kg = 1.0 / (1.0 - material.waste)
    return bought_kg * material.price_usd_per_kg + bought_kg * material.delivery_usd_per_kg


def truck_margins(loops: list[Driven], seasons: list[Season], owning: list[float]) -> Iterator[Margin]:
    """Money of each truck over the season, in all and by kind; `owning` is what a year of it costs [USD]."""
    for loop, season, year_usd in zip(loops, seasons, owning, strict=True):
        stated, where = loop.unit.planned.season, loop.unit.name
        yield same(stated.usd, season.usd, where)
        yield from kind_margins(stated.by_kind, by_kind(season, year_usd), where)


def by_kind(season: Season, owning_usd: float) -> dict[str, float]:
    """A truck's money over the season by kind [USD]."""
    worked = (season.labor_usd, season.fuel_usd, season.wear_usd, season.material_usd)
    return dict(zip(KINDS, (owning_usd, *worked), strict=True))


def kind_margins(stated: MoneyByKind, found: dict[str, float], where: str) -> Iterator[Margin]:
    """Money of a truck or of a site by kind [USD]."""
    for kind, usd in found.items():
        yield same(getattr(stated, f"{kind}_usd"), usd, f"{where}, {kind}")


def hour_margins(loops: list[Driven], seasons: list[Season]) -> Iterator[Margin]:
    """Paid hours of each truck over the season [h]."""
    for loop, season in zip(loops, seasons, strict=True):
        yield same(loop.unit.planned.season.hours, season.hours, loop.unit.name)


def sum_margins(money: PlannedMoney, seasons: list[Season]) -> Iterator[Margin]:
    """The season by kind and in all [USD]."""
    yield same(money.labor_usd, sum(season.labor_usd for season in seasons), "labor")
    yield same(money.fuel_usd, sum(season.fuel_usd for season in seasons), "fuel")
    yield same(money.wear_usd, sum(season.wear_usd for season in seasons), "wear")
    yield same(money.material_usd, sum(season.material_usd for season in seasons), "material")
    yield same(money.season_usd, sum(season.usd for season in seasons), "season")


def owning_margins(plan: Plan, money: PlannedMoney, case: Case) -> Iterator[Margin]:
    """What is paid once, out of which budget, and what owning costs a year [USD]."""
    budget = case.money.budget_usd
    yield same(money.budget_usd, None if isinf(budget) else budget, "budget")
    yield same(money.capital_usd, capital_usd(plan, case), "capital")
    yield same(money.owning_usd, owning_usd(plan, case), "owning")


def contract_value_usd(site: Site, case: Case) -> float:
    """What a site pays in an expected season [USD]."""
    clock = site.cycle_limit_min
    if site.pay_by == "push":
        return site.pay_usd * sum(row.count * pushes(row, clock, site, case) for row in case.season)
    if site.pay_by == "event":
        return site.pay_usd * sum(row.count for row in case.season
                                  if site.deiced or pushes(row, clock, site, case))
    return site.pay_usd if site.pay_by == "season" else 0.0


def contract_margins(plan: Plan, money: PlannedMoney, case: Case) -> Iterator[Margin]:
    """Contract value of the sites served [USD]."""
    yield same(money.contract_value_usd, _contract_value(plan, case, served=True), "sites served")


def _contract_value(plan: Plan, case: Case, served: bool) -> float:
    chosen = {row.id for row in plan.sites if row.served is served}
    return sum(contract_value_usd(site, case) for site in case.sites if site.id in chosen)


def cost_usd(plan: Plan, case: Case, seasons: list[Season]) -> float:
    """Owning and the season of all trucks [USD]."""
    return owning_usd(plan, case) + sum(season.usd for season in seasons)


def cost_margins(plan: Plan, case: Case, seasons: list[Season]) -> Iterator[Margin]:
    """Cost of the whole season and, by the question asked, what was minimized [USD]."""
    cost = cost_usd(plan, case, seasons)
    yield same(plan.outcome.cost_usd, cost, "cost")
    objective = _objective(plan, case, cost)
    tolerance = SAME * max(abs(objective), cost)
    yield same(plan.outcome.objective_usd, objective, "objective", tolerance)


def _objective(plan: Plan, case: Case, cost: float) -> float:
    if case.question == "cover":
        return cost + _contract_value(plan, case, served=False)
    value = _contract_value(plan, case, served=True)
    return -value if case.question == "value" else cost - value

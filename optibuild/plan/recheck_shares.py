"""What each site is said to cost and to be offered for: its own service, and its share of all else.

A loop's driving, reloads and idle time, and a year of what drives it, are shared by the minutes of the whole
stops in the design storm.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optibuild.plan.recheck_items import held_usd, row_usd, used_of
from optibuild.plan.recheck_loops import Driven
from optibuild.plan.recheck_margins import SAME, Margin, claim, same
from optibuild.plan.recheck_money import Season, material_usd_per_kg, wear_usd_per_min, worked_min
from optibuild.plan.recheck_pay import slip
from optibuild.plan.recheck_season import pushes, rounds, stop_event, stop_season
from optibuild.plan.recheck_service import stop_min
from optibuild.plan.recheck_tasks import Task
from optibuild.plan.recheck_trucks import Key, Mounted, catalog
from optibuild.records import Case, Plan, PlannedItem, Site, SitePrice


@dataclass
class Borne:
    """What a site bears of an expected season, and of the capital of owned items, which bids recover and the
    choice of fleet does not charge [USD]."""

    cost_usd: float = 0.0
    held_usd: float = 0.0


def borne_by_sites(plan: Plan, loops: list[Driven], seasons: list[Season], case: Case) -> dict[str, Borne]:
    """What each site bears of all loops, by id."""
    borne = {site.id: Borne() for site in case.sites}
    rows = {(row.table, row.id): row for row in plan.items}
    for loop, season in zip(loops, seasons, strict=True):
        worked = [worked_min(event, loop, case) for event in case.season]
        own = [_service_usd(loop.unit, job, worked, case) for job in loop.tasks]
        minutes = [stop_min(job, case) for job in loop.tasks]
        shared = season.usd - sum(own) + _of_items(loop.unit, rows, case, held=False)
        held = _of_items(loop.unit, rows, case, held=True)
        for job, usd, spent in zip(loop.tasks, own, minutes, strict=True):
            share = spent / sum(minutes) if sum(minutes) else 1.0 / len(minutes)
            borne[job.site.id].cost_usd += usd + share * shared
            borne[job.site.id].held_usd += share * held
    return borne


def _service_usd(unit: Mounted, job: Task, worked: list[float], case: Case) -> float:
    """A stop's own season [USD]: by how much the pay slips of each event, with so many minutes worked, are
    longer for it; fuel and wear of its work; its material."""
    pay = 0.0
    for event, minutes in zip(case.season, worked, strict=True):
        own = stop_event(event, job, case)
        without = slip(unit, event, minutes - own.work_min - own.reload_min, case)
        pay += event.count * (slip(unit, event, minutes, case).usd - without.usd)
    season = stop_season(job, case)
    return (pay + season.work_min * _work_usd_per_min(unit, case)
            + season.material_kg * material_usd_per_kg(unit, case))


def _work_usd_per_min(unit: Mounted, case: Case) -> float:
    """Fuel and wear of a minute at work; a hired truck's rate holds its own."""
    truck, carried = unit.truck, wear_usd_per_min(unit)
    if truck.hired_usd_per_min is not None:
        return carried
    return carried + truck.wear_usd_per_min + truck.work_fuel_l_per_min * case.money.fuel_price(truck.fuel)


def _of_items(unit: Mounted, rows: dict[Key, PlannedItem], case: Case, held: bool) -> float:
    """A year of what one truck uses, or the capital of the owned ones in it [USD]; trucks that use the same
    catalog row have its new and its owned ones in equal parts."""
    items, usd = catalog(case), 0.0
    for key, count in used_of([unit]).items():
        row = rows.get(key)
        if row is not None and row.bought + row.owned_used:
            of_row = (row.owned_used * held_usd(items[key], case.money.interest) if held
                      else row_usd(row, items[key], case.money.interest))
            usd += count * of_row / (row.bought + row.owned_used)
    return usd


def site_cost_margins(plan: Plan, borne: dict[str, Borne], cost_usd: float) -> Iterator[Margin]:
    """The cost of every site served, none of one left out; together they are the plan's cost, but for what
    stops at sites left out cost [USD]."""
    unserved = sum(borne[row.id].cost_usd for row in plan.sites if not row.served)
    for row in plan.sites:
        yield same(row.cost_usd, borne[row.id].cost_usd if row.served else None, f"site {row.id}")
    stated = sum(row.cost_usd for row in plan.sites if row.cost_usd is not None)
    yield same(stated, cost_usd - unserved, "all sites", SAME * max(1.0, cost_usd))


def site_price_margins(plan: Plan, borne: dict[str, Borne], case: Case) -> Iterator[Margin]:
    """What is asked for every site served, by season, event and push [USD]: cost and the capital of owned
    items, overhead on top, and what then leaves the profit margin of the price."""
    sites = {site.id: site for site in case.sites}
    markup = (1.0 + case.money.overhead) / (1.0 - case.money.profit_margin)
    for row in plan.sites:
        where = f"site {row.id}"
        yield claim((row.price is not None) == row.served, where)
        if row.price is not None and row.served:
            season = markup * (borne[row.id].cost_usd + borne[row.id].held_usd)
            yield from _price_margins(row.price, season, sites[row.id], case, where)


def _price_margins(stated: SitePrice, season_usd: float, site: Site, case: Case,
                   where: str) -> Iterator[Margin]:
    clock = site.cycle_limit_min
    pushed = sum(event.count * pushes(event, clock, site, case) for event in case.season)
    events = sum(event.count for event in case.season
                 if pushes(event, clock, site, case) or (site.deiced and rounds(event, clock, case)))
    yield same(stated.season_usd, season_usd, where + ", season")
    yield same(stated.event_usd, season_usd / events if events else None, where + ", event")
    by_push = pushed and site.work == "plow"
    yield same(stated.push_usd, season_usd / pushed if by_push else None, where + ", push")

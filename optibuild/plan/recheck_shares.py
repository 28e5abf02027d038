"""What each site is said to cost and to be offered for: its own service, and its share of all else.

A loop's driving, reloads and idle time, and a year of what drives it, are shared by the minutes of the whole
stops in the design storm.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from optibuild.plan.recheck_items import held_usd, row_usd, used_of
from optibuild.plan.recheck_loops import Driven
from optibuild.plan.recheck_margins import SAME, Margin, claim, same
from optibuild.plan.recheck_money import (
    KINDS,
    Season,
    by_kind,
    kind_margins,
    material_usd_per_kg,
    wear_usd_per_min,
    worked_min,
)
from optibuild.plan.recheck_pay import slip
from optibuild.plan.recheck_season import pushes, rounds, stop_event, stop_season
from optibuild.plan.recheck_service import stop_min
from optibuild.plan.recheck_tasks import Task
from optibuild.plan.recheck_trucks import Key, Mounted, catalog
from optibuild.records import Case, Plan, PlannedItem, Site, SitePrice


@dataclass
class Borne:
    """What a site bears of an expected season by kind, and of the capital of owned items, which bids recover
    and the choice of fleet does not charge [USD]."""

    by_kind: dict[str, float] = field(default_factory=lambda: dict.fromkeys(KINDS, 0.0))
    held_usd: float = 0.0

    @property
    def cost_usd(self) -> float:
        """All kinds together, without that capital."""
        return sum(self.by_kind.values())


def borne_by_sites(plan: Plan, loops: list[Driven], seasons: list[Season], case: Case) -> dict[str, Borne]:
    """What each site bears of all loops, by id."""
    borne = {site.id: Borne() for site in case.sites}
    owning, held = (of_items(plan, loops, case, held) for held in (False, True))
    for loop, season, year_usd, capital_usd in zip(loops, seasons, owning, held, strict=True):
        worked = [worked_min(event, loop, case) for event in case.season]
        own = [_service_usd(loop.unit, job, worked, case) for job in loop.tasks]
        minutes = [stop_min(job, case) for job in loop.tasks]
        shared = {kind: usd - sum(one[kind] for one in own)
                  for kind, usd in by_kind(season, year_usd).items()}
        for job, usd, spent in zip(loop.tasks, own, minutes, strict=True):
            share = spent / sum(minutes) if sum(minutes) else 1.0 / len(minutes)
            site = borne[job.site.id]
            for kind in KINDS:
                site.by_kind[kind] += usd[kind] + share * shared[kind]
            site.held_usd += share * capital_usd
    return borne


def _service_usd(unit: Mounted, job: Task, worked: list[float], case: Case) -> dict[str, float]:
    """A stop's own season by kind [USD]: by how much the pay slips of each event, with so many minutes
    worked, are longer for it; fuel and wear of its work, of which a hired truck's rate holds its own; its
    material."""
    pay, truck = 0.0, unit.truck
    for event, minutes in zip(case.season, worked, strict=True):
        own = stop_event(event, job, case)
        without = slip(unit, event, minutes - own.work_min - own.reload_min, case)
        pay += event.count * (slip(unit, event, minutes, case).usd - without.usd)
    season = stop_season(job, case)
    truck_min = season.work_min if truck.hired_usd_per_min is None else 0.0
    return {"owning": 0.0, "labor": pay,
            "fuel": truck_min * truck.work_fuel_l_per_min * case.money.fuel_price(truck.fuel),
            "wear": truck_min * truck.wear_usd_per_min + season.work_min * wear_usd_per_min(unit),
            "material": season.material_kg * material_usd_per_kg(unit, case)}


def of_items(plan: Plan, loops: list[Driven], case: Case, held: bool) -> list[float]:
    """A year of what each truck uses, or the capital of the owned ones in it [USD]."""
    rows = {(row.table, row.id): row for row in plan.items}
    return [_of_items(loop.unit, rows, case, held) for loop in loops]


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
    """The cost of every site served, in all and by kind, none of one left out; together they are the plan's
    cost, but for what stops at sites left out cost [USD]."""
    unserved = sum(borne[row.id].cost_usd for row in plan.sites if not row.served)
    for row in plan.sites:
        where = f"site {row.id}"
        yield same(row.cost_usd, borne[row.id].cost_usd if row.served else None, where)
        yield claim((row.by_kind is not None) == row.served, f"{where}, by kind")
        if row.by_kind is not None:
            yield from kind_margins(row.by_kind, borne[row.id].by_kind, where)
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

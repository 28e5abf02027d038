"""From chosen loops to a plan: trucks with their axle loads, stops by the clock, sites, items and money."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from optibuild.records import (
    NONE,
    Builds,
    Case,
    Choice,
    ChosenLoop,
    LoopCosts,
    PlannedBallast,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    SeasonRounds,
    ServedWork,
    ServiceTimes,
    SitePrice,
    TruckSeason,
    Verdict,
)


@dataclass(frozen=True)
class Priced:
    """Money that cost knows of: a year of a new item and of an owned one's upkeep [I], contract value of each
    site [N], and each site's cost and price (None where it is left out)."""

    annual_usd: tuple[float, ...]
    upkeep_usd: tuple[float, ...]
    contract_value_usd: tuple[float, ...]
    site_cost_usd: tuple[float | None, ...]
    site_price: tuple[SitePrice | None, ...]


@dataclass(frozen=True)
class Parts:
    """Everything a plan has beside its heading."""

    items: tuple[PlannedItem, ...]
    trucks: tuple[PlannedTruck, ...]
    sites: tuple[PlannedSite, ...]
    money: PlannedMoney

    @property
    def cost_usd(self) -> float:
        """Owning and the season together."""
        return self.money.owning_usd + self.money.season_usd


@dataclass(frozen=True)
class _Season:
    minutes: float
    labor: float
    fuel: float
    wear: float
    material: float

    @property
    def usd(self) -> float:
        return self.labor + self.fuel + self.wear + self.material


def assemble(case: Case, builds: Builds, verdicts: Mapping[int, Verdict], times: ServiceTimes,
             costs: LoopCosts, rounds: SeasonRounds, choice: Choice, priced: Priced) -> Parts:
    """The plan's tables and sums; trucks are numbered in the order of the chosen loops.

    `verdicts` holds those of the chosen builds.
    """
    seasons = [_season(case, times, costs, rounds, loop) for loop in choice.loops]
    trucks = tuple(_truck(case, builds, verdicts, times, loop, number, season)
                   for number, (loop, season) in enumerate(zip(choice.loops, seasons, strict=True), 1))
    sites = tuple(_site(case, times, choice, trucks, priced, n) for n in range(len(case.sites)))
    items = _items(case, choice, priced)
    return Parts(items, trucks, sites, _money(case, items, priced, choice, sites, seasons))


def _truck(case: Case, builds: Builds, verdicts: Mapping[int, Verdict], times: ServiceTimes,
           loop: ChosenLoop, number: int, season: _Season) -> PlannedTruck:
    b = int(times.build[loop.crewed])
    kit = int(builds.kit[b])
    ballast = () if kit == NONE or not builds.units[b] else (
        PlannedBallast(case.ballast[kit].id, int(builds.units[b]), float(builds.ballast_kg[b])),)
    plow, spreader = int(builds.plow[b]), int(builds.spreader[b])
    return PlannedTruck(
        number, builds.name(b), case.trucks[int(builds.truck[b])].id,
        None if plow == NONE else case.plows[plow].id,
        None if spreader == NONE else case.spreaders[spreader].id,
        ballast, case.depots[int(times.depot[loop.crewed])].id, float(builds.rated_fill_kg[b]),
        float(builds.retained_kg[b]), verdicts[b].axle_loads, _loop(case, times, loop),
        TruckSeason(season.minutes / 60.0, season.usd))


def _loop(case: Case, times: ServiceTimes, loop: ChosenLoop) -> PlannedLoop:
    """The loop by the clock, from leaving the depot to being ready to leave again."""
    depot = case.depots[int(times.depot[loop.crewed])]
    home = int(times.depot[loop.crewed])
    clock, here, drive, distance, reloads, stops = 0.0, home, 0.0, 0.0, 0, []
    for s, reload in zip(loop.stops, loop.reload_before, strict=True):
        there = len(case.depots) + times.stops[s].site
        for a, b in ((here, home), (home, there)) if reload else ((here, there),):
            drive += float(times.travel.minutes[a, b])
            distance += float(times.travel.metres[a, b])
            clock += float(times.travel.minutes[a, b])
        if reload:
            reloads += 1
            clock += depot.reload_time_min
        leave = clock + float(times.minutes[loop.crewed, loop.clock, s])
        stops.append(_stop(case, times, loop, s, clock, leave, reload))
        clock, here = leave, there
    drive += float(times.travel.minutes[here, home])
    distance += float(times.travel.metres[here, home])
    clock += float(times.travel.minutes[here, home])
    if any(times.material_kg[s] > 0 for s in loop.stops):
        reloads += 1
        clock += depot.reload_time_min
    return PlannedLoop(float(times.clocks_min[loop.clock]), clock, drive, reloads * depot.reload_time_min,
                       distance, reloads, tuple(stops))


def _stop(case: Case, times: ServiceTimes, loop: ChosenLoop, s: int, arrive: float, leave: float,
          reload: bool) -> PlannedStop:
    stop = times.stops[s]
    site = case.sites[stop.site]
    at = loop.crewed, loop.clock, s
    return PlannedStop(site.id, stop.parcels, stop.work, arrive, leave, float(times.plow_min[at]),
                       float(times.deice_min[at]), float(times.material_kg[s]),
                       site.deadline_min if isfinite(site.deadline_min) else None, reload)


def _season(case: Case, times: ServiceTimes, costs: LoopCosts, rounds: SeasonRounds,
            loop: ChosenLoop) -> _Season:
    """Paid minutes and money of one truck over an expected season, by kind."""
    crewed, k, chosen = loop.crewed, loop.clock, list(loop.stops)
    planned = _loop(case, times, loop)
    often = float(costs.season_rounds[k])
    road = often * (planned.drive_min + planned.reload_min)
    metres = often * planned.distance_m
    work = float(times.season_stop_min[crewed, k, chosen].sum())
    refill = float(times.season_reload_min[crewed, k, chosen].sum())
    out = rounds.count * (rounds.rounds[:, k] > 0)
    paid = case.crew.start_minutes_min * float(out.sum())
    if case.money.paid == "storm":
        paid += sum(float(n) * event.duration_min for n, event in zip(out, case.season, strict=True))
    else:
        paid += road + work + refill
    return _Season(
        paid,
        float(costs.fixed_usd[crewed]) + float(costs.labor_usd_per_min[crewed]) * (road + work + refill),
        (work * float(costs.work_fuel_usd_per_min[crewed])
         + metres * float(costs.travel_fuel_usd_per_m[crewed])),
        (work * float(costs.work_wear_usd_per_min[crewed])
         + metres * float(costs.road_wear_usd_per_m[crewed])),
        float(times.season_material_kg[k, chosen].sum()) * float(costs.material_usd_per_kg[crewed]))


def _site(case: Case, times: ServiceTimes, choice: Choice, trucks: tuple[PlannedTruck, ...], priced: Priced,
          n: int) -> PlannedSite:
    works = tuple(ServedWork(stop.work, stop.parcels, truck.truck_no, truck.loop.cycle_limit_min,
                             truck.loop.duration_min)
                  for truck in trucks for stop in truck.loop.stops if stop.site == case.sites[n].id)
    served = n not in choice.missed
    return PlannedSite(case.sites[n].id, served, int(times.parcels[n]), works if served else (),
                       priced.site_cost_usd[n], priced.site_price[n])


def _items(case: Case, choice: Choice, priced: Priced) -> tuple[PlannedItem, ...]:
    tables = [name for name, rows in (("trucks", case.trucks), ("plows", case.plows),
                                      ("spreaders", case.spreaders), ("ballast", case.ballast)) for _ in rows]
    return tuple(
        PlannedItem(item.id, tables[i], int(choice.bought[i]), int(choice.owned_used[i]), item.price_usd,
                    priced.annual_usd[i])
        for i, item in enumerate(case.items) if choice.bought[i] or choice.owned_used[i])


def _money(case: Case, items: tuple[PlannedItem, ...], priced: Priced, choice: Choice,
           sites: tuple[PlannedSite, ...], seasons: list[_Season]) -> PlannedMoney:
    labor, fuel = sum(one.labor for one in seasons), sum(one.fuel for one in seasons)
    wear, material = sum(one.wear for one in seasons), sum(one.material for one in seasons)
    owning = sum(float(bought) * annual + float(used) * upkeep for bought, used, annual, upkeep in zip(
        choice.bought, choice.owned_used, priced.annual_usd, priced.upkeep_usd, strict=True))
    return PlannedMoney(
        sum(row.bought * row.price_usd for row in items),
        case.money.budget_usd if isfinite(case.money.budget_usd) else None,
        owning, labor, fuel, wear, material, labor + fuel + wear + material,
        sum(value for value, site in zip(priced.contract_value_usd, sites, strict=True) if site.served))

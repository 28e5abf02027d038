"""From chosen loops to a plan: trucks with their axle loads, stops by the clock, sites, items and money."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite

from optibuild.records import (
    NONE,
    Builds,
    Case,
    Choice,
    ChosenLoop,
    LoopCosts,
    LoopTimes,
    MoneyByKind,
    PlannedBallast,
    PlannedEndRound,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    ServedWork,
    ServiceTimes,
    SitePrice,
    TruckSeason,
    Verdict,
)


@dataclass(frozen=True)
class Priced:
    """Money that cost knows of: what a new item costs at once and in a year, and an owned one's upkeep [I],
    contract value of each site [N], each site's cost and price (None where it is left out), at most how
    much less the plan could cost without it (None where not known), and the money of each truck and site by
    kind."""

    paid_usd: tuple[float, ...]
    annual_usd: tuple[float, ...]
    upkeep_usd: tuple[float, ...]
    contract_value_usd: tuple[float, ...]
    site_cost_usd: tuple[float | None, ...]
    site_price: tuple[SitePrice | None, ...]
    marginal_most_usd: tuple[float | None, ...]
    truck_by_kind: tuple[MoneyByKind, ...]
    site_by_kind: tuple[MoneyByKind | None, ...]


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


def assemble(case: Case, builds: Builds, verdicts: Mapping[int, Verdict], times: ServiceTimes,
             costs: LoopCosts, choice: Choice, driven: Sequence[LoopTimes], priced: Priced) -> Parts:
    """The plan's tables and sums; trucks are numbered in the order of the chosen loops.

    `verdicts` holds those of the chosen builds, `driven` the times of the chosen loops.
    """
    loops = list(zip(choice.loops, driven, strict=True))
    seasons = [TruckSeason(_paid_min(times, costs, loop, clock) / 60.0, spent.usd - spent.owning_usd, spent)
               for (loop, clock), spent in zip(loops, priced.truck_by_kind, strict=True)]
    trucks = tuple(
        _truck(case, builds, verdicts, int(times.build[loop.crewed]), int(times.depot[loop.crewed]), number,
               season, _loop(case, times, loop, clock))
        for number, ((loop, clock), season) in enumerate(zip(loops, seasons, strict=True), 1))
    sites = tuple(_site(case, times, choice, trucks, priced, n) for n in range(len(case.sites)))
    items = _items(case, choice, priced)
    return Parts(items, trucks, sites, _money(case, priced, choice, sites))


def _truck(case: Case, builds: Builds, verdicts: Mapping[int, Verdict], b: int, depot: int, number: int,
           season: TruckSeason, loop: PlannedLoop) -> PlannedTruck:
    kit = int(builds.kit[b])
    ballast = () if kit == NONE or not builds.units[b] else (
        PlannedBallast(case.ballast[kit].id, int(builds.units[b]), float(builds.ballast_kg[b])),)
    plow, spreader = int(builds.plow[b]), int(builds.spreader[b])
    return PlannedTruck(
        number, builds.name(b), case.trucks[int(builds.truck[b])].id,
        None if plow == NONE else case.plows[plow].id,
        None if spreader == NONE else case.spreaders[spreader].id,
        ballast, case.depots[depot].id, float(builds.rated_fill_kg[b]),
        float(builds.retained_kg[b]), verdicts[b].axle_loads, loop, season)


def _loop(case: Case, times: ServiceTimes, loop: ChosenLoop, driven: LoopTimes) -> PlannedLoop:
    """The loop by the clock, round by round."""
    last = driven.end
    return PlannedLoop(
        driven.within_min, driven.duration_min, driven.drive_min, driven.reload_min, driven.distance_m,
        driven.reloads, tuple(_stop(case, times, loop, driven, n) for n in range(len(loop.stops))),
        None if last is None else PlannedEndRound(last.within_min, last.duration_min, last.drive_min,
                                                  last.reload_min, last.distance_m, last.reloads))


def _stop(case: Case, times: ServiceTimes, loop: ChosenLoop, driven: LoopTimes, n: int) -> PlannedStop:
    s, last, arrive = loop.stops[n], driven.end, driven.arrive_min[n]
    stop, at = times.stops[s], (loop.crewed, loop.clock, s)
    site, dry = case.sites[stop.site], (times if times.end is None else times.end).material_kg[s]
    return PlannedStop(
        site.id, stop.parcels, stop.work, arrive, driven.leave_min[n], float(times.plow_min[at]),
        float(times.deice_min[at]), float(dry / times.strength[loop.crewed]),
        site.deadline_min if arrive is not None and isfinite(site.deadline_min) else None,
        driven.reload_before[n], site.deice_when if stop.work != "plow" else None,
        last.arrive_min[n] if last else None, last.leave_min[n] if last else None,
        last.reload_before[n] if last else None)


def _paid_min(times: ServiceTimes, costs: LoopCosts, loop: ChosenLoop, driven: LoopTimes) -> float:
    """Paid minutes by the clock of one truck over an expected season."""
    crewed, k, chosen = loop.crewed, loop.clock, list(loop.stops)
    last = driven.end or driven
    road = (float(costs.season_rounds[k]) * (driven.drive_min + driven.reload_min)
            + float(costs.end_rounds[k]) * (last.drive_min + last.reload_min))
    work = times.season_stop_min[crewed, k, chosen] + times.season_reload_min[crewed, k, chosen]
    return float(costs.fixed_paid_min[crewed] + costs.paid_share[crewed] * (road + work.sum()))


def _site(case: Case, times: ServiceTimes, choice: Choice, trucks: tuple[PlannedTruck, ...], priced: Priced,
          n: int) -> PlannedSite:
    works = tuple(_work(truck, stop)
                  for truck in trucks for stop in truck.loop.stops if stop.site == case.sites[n].id)
    served = n not in choice.missed
    return PlannedSite(case.sites[n].id, served, int(times.parcels[n]), works if served else (),
                       priced.site_cost_usd[n], priced.site_price[n],
                       priced.marginal_most_usd[n] if served else None, priced.site_by_kind[n])


def _work(truck: PlannedTruck, stop: PlannedStop) -> ServedWork:
    """A stop's work at its site; what the last round alone does comes round but once."""
    again = stop.arrive_min is not None
    limit, revisit = (truck.loop.cycle_limit_min, truck.loop.duration_min) if again else (None, None)
    return ServedWork(stop.work, stop.parcels, truck.truck_no, limit, revisit)


def _items(case: Case, choice: Choice, priced: Priced) -> tuple[PlannedItem, ...]:
    tables = [name for name, rows in (("trucks", case.trucks), ("plows", case.plows),
                                      ("spreaders", case.spreaders), ("ballast", case.ballast)) for _ in rows]
    return tuple(
        PlannedItem(item.id, tables[i], int(choice.bought[i]), int(choice.owned_used[i]), item.price_usd,
                    priced.annual_usd[i])
        for i, item in enumerate(case.items) if choice.bought[i] or choice.owned_used[i])


def _money(case: Case, priced: Priced, choice: Choice,
           sites: tuple[PlannedSite, ...]) -> PlannedMoney:
    trucks = priced.truck_by_kind
    labor, fuel = sum(one.labor_usd for one in trucks), sum(one.fuel_usd for one in trucks)
    wear, material = sum(one.wear_usd for one in trucks), sum(one.material_usd for one in trucks)
    owning = sum(float(bought) * annual + float(used) * upkeep for bought, used, annual, upkeep in zip(
        choice.bought, choice.owned_used, priced.annual_usd, priced.upkeep_usd, strict=True))
    return PlannedMoney(
        sum(float(bought) * paid for bought, paid in zip(choice.bought, priced.paid_usd, strict=True)),
        case.money.budget_usd if isfinite(case.money.budget_usd) else None,
        owning, labor, fuel, wear, material, labor + fuel + wear + material,
        sum(value for value, site in zip(priced.contract_value_usd, sites, strict=True) if site.served))

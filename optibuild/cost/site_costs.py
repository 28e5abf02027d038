"""A plan's money traced to sites: own service; driving, idle time and owning shared by service minutes."""

from collections.abc import Sequence

import numpy as np

from optibuild.cost.bid import expected_services, price_usd, shares
from optibuild.cost.owning import annual_usd, owned_capital_usd, upkeep_usd
from optibuild.records.bid import SiteCost
from optibuild.records.build import NONE, Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import Choice, ChosenLoop, LoopCosts, ServiceTimes
from optibuild.records.loop_times import LoopTimes
from optibuild.records.plan import SitePrice

OWNING, LABOR, FUEL, WEAR, MATERIAL = range(5)


def site_costs(
    case: Case, builds: Builds, times: ServiceTimes, costs: LoopCosts, choice: Choice,
    driven: Sequence[LoopTimes],
) -> tuple[SiteCost | None, ...]:
    """Cost of each site a season by kind, None where left out; without the capital of owned items, which the
    choice of fleet does not charge, the costs sum to the plan's."""
    usd = np.zeros((len(case.sites), 4))
    whole = times.minutes if times.end is None else times.end.minutes
    for loop, clock in zip(choice.loops, driven, strict=True):
        owning, held = loop_owning(case, builds, times, choice, loop)
        minutes = [float(whole[loop.crewed, loop.clock, s]) for s in loop.stops]
        driving = float(shared_usd(costs, loop, clock).sum())
        split = zip(*(shares(total, minutes) for total in (driving, owning, held)), strict=True)
        for s, parts in zip(loop.stops, split, strict=True):
            usd[times.stops[s].site] += (costs.stop_usd[loop.crewed, loop.clock, s], *parts)
    served = {times.stops[s].site for loop in choice.loops for s in loop.stops} - set(choice.missed)
    return tuple(SiteCost(*row) if n in served else None for n, row in enumerate(usd.tolist()))


def shared_usd(costs: LoopCosts, loop: ChosenLoop, driven: LoopTimes) -> Floats:
    """A season of a loop beside its stops by kind, without owning [5, USD]: driving, fixed reload minutes,
    start and idle time."""
    c, k, last = loop.crewed, loop.clock, driven.end or driven
    meters = costs.season_rounds[k] * driven.distance_m + costs.end_rounds[k] * last.distance_m
    usd = np.zeros(5)
    usd[LABOR] = (costs.fixed_usd[c] + costs.drive_usd_per_min[c, k] * (driven.drive_min + driven.reload_min)
                  + costs.end_drive_usd_per_min[c, k] * (last.drive_min + last.reload_min))
    usd[FUEL], usd[WEAR] = costs.travel_fuel_usd_per_m[c] * meters, costs.road_wear_usd_per_m[c] * meters
    return usd


def loop_owning(case: Case, builds: Builds, times: ServiceTimes, choice: Choice,
                loop: ChosenLoop) -> tuple[float, float]:
    """A year of a loop's items as decided, and the capital of the owned ones among them [USD].

    Trucks that share a catalog row share its bought and owned ones evenly.
    """
    b = int(times.build[loop.crewed])
    firsts = np.cumsum([0, len(case.trucks), len(case.plows), len(case.spreaders)])
    units = ((builds.truck[b], 1), (builds.plow[b], 1), (builds.spreader[b], 1),
             (builds.kit[b], int(builds.units[b])))
    owning, owned = 0.0, 0.0
    for first, (index, count) in zip(firsts, units, strict=True):
        if index == NONE or not count:
            continue
        i = int(first + index)
        item, new, old = case.items[i], int(choice.bought[i]), int(choice.owned_used[i])
        owning += count * (new * annual_usd(item, case.money) + old * upkeep_usd(item)) / (new + old)
        owned += count * old * owned_capital_usd(item, case.money) / (new + old)
    return owning, owned


def site_prices(case: Case, costs: Sequence[SiteCost | None]) -> tuple[SitePrice | None, ...]:
    """What to ask for each site, None where left out: the season's price, and the same per event and per push
    expected."""
    pushes, events = expected_services(case)
    return tuple(None if cost is None else _price(case, n, cost.bid_usd, float(pushes[n]), float(events[n]))
                 for n, cost in enumerate(costs))


def _price(case: Case, n: int, cost_usd: float, pushes: float, events: float) -> SitePrice:
    """The season's price of a site, and the same per event and per push expected."""
    season = price_usd(cost_usd, case.money)
    return SitePrice(season / pushes if pushes and case.sites[n].work == "plow" else None,
                     season / events if events else None, season)

"""What each site costs and what can be billed there, event class by event class.

A season's cost is a sum over its events, so one event of a class costs what a season of that event alone
does, beside what is owned.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optibuild.cost.bid import services
from optibuild.records.bid import SiteCost, SiteEvents
from optibuild.records.build import Floats
from optibuild.records.case import Case
from optibuild.records.contracts import HUNDREDTH_IN_M
from optibuild.records.loop import Choice, ServiceTimes

INCH_M = 100 * HUNDREDTH_IN_M


def single_events(case: Case) -> list[Case]:
    """For each event class the case with a season of one such event and no other [E]."""
    return [replace(case, season=tuple(replace(row, count=float(n == only)) for n, row in
                                       enumerate(case.season))) for only in range(len(case.season))]


def billable_hours(case: Case, times: ServiceTimes, choice: Choice) -> Floats:
    """Hours at each site in the season that the times are of [N]: arriving and looking, plowing, deicing."""
    hours = np.zeros(len(case.sites))
    for loop in choice.loops:
        for s in loop.stops:
            hours[times.stops[s].site] += times.season_stop_min[loop.crewed, loop.clock, s] / 60.0
    return hours


def site_events(
    case: Case, costs: Sequence[SiteCost | None], of_event: Sequence[Sequence[SiteCost | None]],
    hours: Sequence[Floats],
) -> tuple[SiteEvents | None, ...]:
    """What each site costs and what is billed there [N], None where it is left out.

    `costs` [N] are those of the season, `of_event` [E][N] and `hours` [E] of [N] those of single events.
    Pushes and served events are counted at the site's own cycle limit; inches only where a push is.
    """
    count, pushes, served = services(case)
    snow = np.array([event.snowfall_m for event in case.season])
    at_sites = np.array(hours).reshape(len(case.season), len(case.sites))
    return tuple(
        None if cost is None else SiteEvents(
            case.sites[n].trigger_m, cost.owning_usd + cost.held_usd,
            np.array([_work_usd(row[n]) for row in of_event]), pushes[:, n], served[:, n].astype(float),
            np.where(pushes[:, n] > 0, snow / INCH_M, 0.0), at_sites[:, n], snow, count)
        for n, cost in enumerate(costs))


def _work_usd(cost: SiteCost | None) -> float:
    return 0.0 if cost is None else cost.service_usd + cost.driving_usd

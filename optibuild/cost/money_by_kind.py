"""A season's money of each truck and each site by kind: owning, labor, fuel, wear, material."""

from collections.abc import Sequence

import numpy as np

from optibuild.cost.bid import shares
from optibuild.cost.site_costs import FUEL, LABOR, MATERIAL, OWNING, WEAR, loop_owning, shared_usd
from optibuild.records.build import Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import Choice, ChosenLoop, LoopCosts, ServiceTimes
from optibuild.records.loop_times import LoopTimes
from optibuild.records.plan import MoneyByKind


def money_by_kind(
    case: Case, builds: Builds, times: ServiceTimes, costs: LoopCosts, choice: Choice,
    driven: Sequence[LoopTimes],
) -> tuple[tuple[MoneyByKind, ...], tuple[MoneyByKind | None, ...]]:
    """Money of each chosen loop's truck, and of each site, None where left out [USD].

    A site bears its stops, and by service minutes its share of all else of their loops, kind by kind, as
    `site_costs` has it in sum.
    """
    whole = times.minutes if times.end is None else times.end.minutes
    sites, trucks = np.zeros((len(case.sites), 5)), []
    for loop, clock in zip(choice.loops, driven, strict=True):
        own, shared = _stops_usd(times, costs, loop), shared_usd(costs, loop, clock)
        shared[OWNING] = loop_owning(case, builds, times, choice, loop)[0]
        trucks.append(MoneyByKind(*(own.sum(axis=0) + shared).tolist()))
        minutes = [float(whole[loop.crewed, loop.clock, s]) for s in loop.stops]
        borne = own + np.array([shares(usd, minutes) for usd in shared.tolist()]).T
        np.add.at(sites, [times.stops[s].site for s in loop.stops], borne)
    served = {times.stops[s].site for loop in choice.loops for s in loop.stops} - set(choice.missed)
    return tuple(trucks), tuple(MoneyByKind(*row) if n in served else None
                                for n, row in enumerate(sites.tolist()))


def _stops_usd(times: ServiceTimes, costs: LoopCosts, loop: ChosenLoop) -> Floats:
    """A season of each stop of a loop by kind [stops, 5, USD]."""
    c, at = loop.crewed, (loop.crewed, loop.clock, list(loop.stops))
    work, usd = times.season_stop_min[at], np.zeros((len(loop.stops), 5))
    usd[:, LABOR] = costs.labor_usd_per_min[c] * (times.paid_stop_min[at] + times.paid_reload_min[at])
    usd[:, FUEL] = costs.work_fuel_usd_per_min[c] * work
    usd[:, WEAR] = costs.work_wear_usd_per_min[c] * work
    usd[:, MATERIAL] = costs.material_usd_per_kg[c] * times.season_material_kg[at[1:]]
    return usd

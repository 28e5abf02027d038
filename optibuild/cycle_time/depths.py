"""How fast plows work at several depths of snow, to the side and to the end: for a practitioner to judge."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from optibuild.cycle_time.crews import Rigs, crews
from optibuild.cycle_time.rig_minutes import able_to_plow, plow_minutes
from optibuild.cycle_time.timed import timed_scales
from optibuild.cycle_time.visits import visits
from optibuild.records.build import NONE, Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import Stop, WorkingRate

Layout = Literal["side", "end"]
LAYOUTS: tuple[Layout, ...] = ("side", "end")


def working_rates(
    case: Case, builds: Builds, site: int, depths_m: Sequence[float]
) -> tuple[WorkingRate, ...]:
    """Every plow that fits on some truck, narrowest first, at a whole site as if it were laid out either way.

    The truck is the one that is fastest over both layouts at the first depth.
    """
    chosen = builds.fitting[builds.plow[builds.fitting] != NONE]
    if not len(chosen):
        return ()
    here = crews(case, builds, chosen)
    first = np.unique(here.rig, return_index=True)[1]
    truck, plow = builds.truck[here.build[first]], builds.plow[here.build[first]]
    scales = timed_scales(case)
    rates = [_rates(case, here.rigs, site, layout, scales, depths_m) for layout in LAYOUTS]
    found = []
    for n in sorted(set(plow.tolist()), key=lambda n: (case.plows[n].width_m, case.plows[n].id)):
        rigs = np.flatnonzero(plow == n)
        best = rigs[np.argmax(rates[0][rigs, 0] + rates[1][rigs, 0])]
        side, end = (tuple(one[best].tolist()) for one in rates)
        if any(side) or any(end):
            found.append(WorkingRate(case.plows[n].id, case.trucks[truck[best]].id, side, end))
    return tuple(found)


def _rates(
    case: Case, rigs: Rigs, site: int, layout: Layout, scales: Floats, depths_m: Sequence[float]
) -> Floats:
    """Area an hour of every rig at every depth [R, D]; 0 where it cannot plow."""
    laid = replace(case, sites=tuple(replace(row, snow_goes=layout) for row in case.sites))
    rows = visits(laid, [Stop(site, 1, "plow")], np.ones(len(case.sites), dtype=np.int64), scales)
    depths = np.asarray(depths_m)[None, :, None]
    minutes = plow_minutes(laid, rigs, rows, depths, np.ones_like(depths))[:, :, 0]
    able = able_to_plow(laid, rigs, rows) & (minutes > 0)
    return np.where(able, 60.0 * rows.area_m2[0] / np.where(minutes > 0, minutes, 1.0), 0.0)

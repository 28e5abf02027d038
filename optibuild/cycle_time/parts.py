"""Minutes of stops by what gives them, in the design storm."""

from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time import deicing
from optibuild.cycle_time.crews import Crews
from optibuild.cycle_time.rig_minutes import able_to_plow, plow_minutes
from optibuild.cycle_time.spreader_minutes import deice_minutes, deice_rates
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Bools, Floats
from optibuild.records.case import Case
from optibuild.records.loop import Travel


@dataclass(frozen=True)
class Parts:
    """Minutes of stops by what gives them: R rigs, G spreaders (none last), D depots.

    `able` [R, S] to plow; `plow` [R, K, S], `deice` [G, S] and `reload` [D, G, S], by mass, of what is used;
    the ways `out` and `home` and a `fixed_reload` [D, S]; `material_kg` [S] of dry deicer.
    """

    able: Bools
    plow: Floats
    deice: Floats
    material_kg: Floats
    reload: Floats
    out: Floats
    home: Floats
    fixed_reload: Floats


def parts(
    case: Case, crews: Crews, travel: Travel, clocks_min: Floats, visits: Visits, depth_m: Floats
) -> Parts:
    """Minutes in the design storm at depths [K]; `fixed_reload` is 0 where a stop uses no material."""
    rates, depots = deice_rates(case, visits, case.storm.pavement_degc), len(case.depots)
    dry = deicing.material_kg(visits.area_m2, rates)
    per_minute = np.array([depot.reload_rate_kg_per_min for depot in case.depots])
    fixed = np.array([depot.reload_time_min for depot in case.depots])
    depths = np.broadcast_to(depth_m[:, None], (1, len(clocks_min), len(visits)))
    loaded = dry / crews.spreaders.strength[:, None]
    return Parts(
        able_to_plow(case, crews.rigs, visits),
        plow_minutes(case, crews.rigs, visits, depths, np.ones_like(depths)),
        deice_minutes(case, crews.spreaders, visits, rates), dry, loaded / per_minute[:, None, None],
        travel.minutes[:depots, depots:][:, visits.site], travel.minutes[depots:, :depots].T[:, visits.site],
        np.where(dry > 0, fixed[:, None], 0.0),
    )

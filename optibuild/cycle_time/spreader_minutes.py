"""Spreading minutes of spreaders at stops, and the dry deicer that stops take.

Axes: G spreaders with none at the end, S stops; `rates` [S, kg/m^2] are those of `deice_rates`.
"""

import numpy as np

from optibuild.cycle_time import deicing
from optibuild.cycle_time.crews import Spreaders
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Floats
from optibuild.records.case import Case


def deice_rates(case: Case, visits: Visits, pavement_degc: float) -> Floats:
    """Dry deicer on each stop at a pavement temperature [S, kg/m^2]: the site's own rate, or the table's."""
    table = float(deicing.table_rate_kg_per_m2(np.asarray(pavement_degc)))
    own = [row.deice_rate_kg_per_m2 for row in case.sites]
    rates = np.array([table if rate is None else rate for rate in own])
    return np.where(visits.deiced, rates[visits.site], 0.0)


def deice_speeds(case: Case, spreaders: Spreaders, rates: Floats) -> Floats:
    """Spreading speed of each spreader at each stop [G, S, m/min]."""
    return deicing.spreading_speed_m_per_min(
        spreaders.discharge_kg_per_min[:, None], rates, spreaders.width_m[:, None],
        case.assumptions.spreading_speed_m_per_min,
    )


def deice_minutes(case: Case, spreaders: Spreaders, visits: Visits, rates: Floats) -> Floats:
    """Spreading minutes of each spreader at each stop [G, S]; 0 where nothing is spread."""
    minutes = deicing.deice_minutes(
        visits.area_m2, spreaders.width_m[:, None], deice_speeds(case, spreaders, rates),
        case.assumptions.spreading_efficiency,
    )
    return np.where(visits.deiced & (spreaders.there[:, None] > 0), minutes, 0.0)

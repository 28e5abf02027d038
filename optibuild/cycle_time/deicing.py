"""Minutes and material of spreading: rate by pavement temperature, and how fast a spreader can keep it.

Plain formulas over arrays that broadcast; masses [kg], areas [m^2], speeds [m/min].
"""

import numpy as np

from optibuild.records.build import Floats, Ints

KG_PER_M2 = 0.45359237 / (1000 * 0.3048**2)
"""One lb/1000 ft^2."""
ROW_TOP_DEGF = np.array([5.0, 15.0, 20.0, 25.0, 30.0])
ROW_LB_PER_1000_FT2 = np.array([8.0, 8.0, 7.0, 6.0, 5.0, 3.0])


def _row(pavement_degc: Floats) -> Ints:
    """Row of the table, coldest first. A temperature on a boundary belongs to the colder row."""
    degf = np.asarray(pavement_degc) * 9 / 5 + 32
    return np.searchsorted(ROW_TOP_DEGF, degf - 1e-9, side="left")


def table_rate_kg_per_m2(pavement_degc: Floats) -> Floats:
    """Dry salt on a parking lot by pavement temperature [kg/m^2].

    Source: DuPage River / Salt Creek Workgroup, Parking Lot Deicing guidance. Colder than its last row (5 F),
    where it calls salt ineffective, the rate stays that row's.
    """
    return ROW_LB_PER_1000_FT2[_row(pavement_degc)] * KG_PER_M2


def spreading_speed_m_per_min(
    discharge_kg_per_min: Floats, rate_kg_per_m2: Floats, spread_width_m: Floats, most_m_per_min: float
) -> Floats:
    """Speed while spreading [m/min]: no faster than the discharge can keep the rate, nor than `most`.

    Source: Minnesota Snow and Ice Control Field Handbook, calibration (discharge = rate x width x speed).
    """
    kept = discharge_kg_per_min / np.maximum(np.asarray(rate_kg_per_m2) * spread_width_m, 1e-12)
    return np.minimum(kept, most_m_per_min)


def deice_minutes(
    area_m2: Floats, spread_width_m: Floats, speed_m_per_min: Floats, spreading_efficiency: float
) -> Floats:
    """Minutes to spread over an area: area / (width x speed) / efficiency, a share.

    Our form: productivity as of plowing, width times speed times efficiency.
    """
    return area_m2 / (spread_width_m * speed_m_per_min) / spreading_efficiency


def material_kg(area_m2: Floats, rate_kg_per_m2: Floats) -> Floats:
    """Material that an area takes [kg]: area x rate, the definition of the rate.

    Source: as `table_rate_kg_per_m2`, which states rates by area.
    """
    return np.asarray(area_m2) * rate_kg_per_m2

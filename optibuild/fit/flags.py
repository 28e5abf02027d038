"""What a build's weights set off in the rules: flags, never verdicts.

Compared in pounds: the regulations print the same 4,536 kg for 10,000 and for 10,001 lb, and 19,500 lb
through kilograms and back is not 19,500 in floating point, hence the rounding to a millionth of a pound.
"""

import numpy as np

from optibuild.fit.arrays import Floats
from optibuild.records import CREWS, LOAD_STATES, Truck

POUND_KG = 0.45359237
CLASS_BOUNDS_LB = (6_000, 10_000, 14_000, 16_000, 19_500, 26_000, 33_000)
LIGHT_TRUCK_LB = 8_500
COMMERCIAL_VEHICLE_LB = 10_001
COMMERCIAL_LICENSE_LB = 26_001
FRONT_SHARE = 0.63


def pounds(mass_kg: float) -> float:
    """A mass in pounds, rounded to 1e-6 lb."""
    return round(mass_kg / POUND_KG, 6)


def gvwr_class(gvwr_kg: float) -> int:
    """GVWR class 1 to 8; upper bounds inclusive (49 CFR 565.15, table II)."""
    return 1 + sum(pounds(gvwr_kg) > bound for bound in CLASS_BOUNDS_LB)


def over_light_truck_split(gvwr_kg: float) -> bool:
    """Whether the GVWR lies above 8,500 lb (40 CFR 86.082-2: a light-duty truck has 8,500 lb or less)."""
    return pounds(gvwr_kg) > LIGHT_TRUCK_LB


def is_commercial_vehicle(gvwr_kg: float, gross_kg: float) -> bool:
    """Whether rating or loaded weight, the greater, reaches 10,001 lb (49 CFR 390.5)."""
    return pounds(max(gvwr_kg, gross_kg)) >= COMMERCIAL_VEHICLE_LB


def needs_commercial_license(gvwr_kg: float, gross_kg: float) -> bool:
    """Whether rating or loaded weight, the greater, reaches 26,001 lb (49 CFR 383.5)."""
    return pounds(max(gvwr_kg, gross_kg)) >= COMMERCIAL_LICENSE_LB


def flags(truck: Truck, loads_kg: Floats) -> tuple[str, ...]:
    """The flags of one build in words, each with its source, from its axle loads [4, 2, 2]."""
    gross = float(np.nanmax(loads_kg.sum(axis=-1)))
    told = [f"GVWR class {gvwr_class(truck.gvwr_kg)} (49 CFR 565.15)"]
    if over_light_truck_split(truck.gvwr_kg):
        told.append("GVWR above 8,500 lb: not a light-duty truck (40 CFR 86.082-2)")
    if is_commercial_vehicle(truck.gvwr_kg, gross):
        told.append("commercial vehicle between states: rated or loaded 10,001 lb or more (49 CFR 390.5)")
    if needs_commercial_license(truck.gvwr_kg, gross):
        told.append("commercial driver's license: rated or loaded 26,001 lb or more (49 CFR 383.5)")
    return (*told, *_front_heavy(loads_kg))


def _front_heavy(loads_kg: Floats) -> tuple[str, ...]:
    """A front share above 63 %: a truck maker's figure quoted in a 1988 letter to NHTSA, not a rule."""
    share = loads_kg[..., 0] / loads_kg.sum(axis=-1)
    state, crew = np.unravel_index(np.nanargmax(share), share.shape)
    worst = float(share[state, crew])
    if worst <= FRONT_SHARE + 1e-9:
        return ()
    where = f"{LOAD_STATES[state]}, {'driver alone' if CREWS[crew] == 'driver' else 'full crew'}"
    return (f"front axle carries {100 * worst:.1f} % of gross ({where}): above 63 %, a truck maker's"
            " figure in a 1988 letter to NHTSA, not a rule",)

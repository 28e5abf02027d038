"""What a build's weights set off in the rules: flags, never verdicts.

Compared in pounds: the regulations print the same 4,536 kg for 10,000 and for 10,001 lb, and 19,500 lb
through kilograms and back is not 19,500 in floating point, hence the rounding to a millionth of a pound.
"""

import numpy as np

from optibuild.records import CREWS, LOAD_STATES, Builds, Case, Truck
from optibuild.records.build import Floats, Ints, column

POUND_KG = 0.45359237
CLASS_BOUNDS_LB = (6_000, 10_000, 14_000, 16_000, 19_500, 26_000, 33_000)
LIGHT_TRUCK_LB = 8_500
LIGHT_TRUCK_CURB_LB = 6_000
LABELED_TRUCK_LB = 10_000
"""Up to this GVWR a truck has a label that says how much it may carry."""
ADDED_SHARE, ADDED_LB = 0.015, 100
"""The lesser of this share of GVWR and of these pounds may be added without correcting that label."""
COMMERCIAL_VEHICLE_LB = 10_001
COMMERCIAL_LICENSE_LB = 26_001
FRONT_SHARE = 0.63
FRONT_HEAVY, NEW_LABEL = "front axle carries", "new load label"
"""How the flags begin that depend on the build; every other one goes with the truck and its loads."""


def pounds(mass_kg: float) -> float:
    """A mass in pounds, rounded to 1e-6 lb. Source: the international pound of 1959."""
    return round(mass_kg / POUND_KG, 6)


def gvwr_class(gvwr_kg: float) -> int:
    """GVWR class 1 to 8; upper bounds inclusive (49 CFR 565.15, table II)."""
    return 1 + sum(pounds(gvwr_kg) > bound for bound in CLASS_BOUNDS_LB)


def over_light_truck_split(gvwr_kg: float, curb_kg: float = 0.0) -> bool:
    """Whether GVWR lies above 8,500 lb or curb weight above 6,000 lb (40 CFR 86.082-2: a light-duty truck has
    no more of either)."""
    return pounds(gvwr_kg) > LIGHT_TRUCK_LB or pounds(curb_kg) > LIGHT_TRUCK_CURB_LB


def relabel_threshold_lb(gvwr_kg: float) -> float:
    """What may be added before the first retail sale without correcting the load label [lb]: the lesser of
    1.5 % of GVWR and 100 lb (FMVSS 110; 72 FR 68442, 4 December 2007)."""
    return min(round(ADDED_SHARE * pounds(gvwr_kg), 6), ADDED_LB)


def needs_new_load_label(gvwr_kg: float, added_kg: float) -> bool:
    """Whether weight added before the first retail sale is above the threshold, on a truck of 10,000 lb GVWR
    or less; a heavier one has no such label (FMVSS 110)."""
    return pounds(gvwr_kg) <= LABELED_TRUCK_LB and pounds(added_kg) > relabel_threshold_lb(gvwr_kg)


def is_commercial_vehicle(gvwr_kg: float, gross_kg: float) -> bool:
    """Whether rating or loaded weight, the greater, reaches 10,001 lb (49 CFR 390.5)."""
    return pounds(max(gvwr_kg, gross_kg)) >= COMMERCIAL_VEHICLE_LB


def needs_commercial_license(gvwr_kg: float, gross_kg: float) -> bool:
    """Whether rating or loaded weight, the greater, reaches 26,001 lb (49 CFR 383.5)."""
    return pounds(max(gvwr_kg, gross_kg)) >= COMMERCIAL_LICENSE_LB


def added_kg(case: Case, builds: Builds, rows: Ints) -> Floats:
    """What a build adds to its truck for good [E, kg]: the plow's mount, the empty spreader, fixed ballast.

    A blade comes off and is part of no unloaded weight (NHTSA letter aiam2488), nor does a removable kit.
    """
    stays = np.array([*(not kit.removable for kit in case.ballast), False])[builds.kit[rows]]
    return np.asarray(column(case.plows, "mount_mass_kg")[builds.plow[rows]]
                      + column(case.spreaders, "empty_mass_kg")[builds.spreader[rows]]
                      + builds.ballast_kg[rows] * stays)


def flags(truck: Truck, loads_kg: Floats, added: float = 0.0) -> tuple[str, ...]:
    """The flags of one build in words, each with its source, from its axle loads [4, 2, 2, kg] and what is
    `added` to its truck for good [kg]. Source: as each flag says."""
    gross = float(np.nanmax(loads_kg.sum(axis=-1)))
    told = [f"GVWR class {gvwr_class(truck.gvwr_kg)} (49 CFR 565.15)"]
    if over_light_truck_split(truck.gvwr_kg, truck.curb_kg):
        told.append("GVWR above 8,500 lb or curb weight above 6,000 lb: not a light-duty truck "
                    "(40 CFR 86.082-2)")
    if is_commercial_vehicle(truck.gvwr_kg, gross):
        told.append("commercial vehicle between states: rated or loaded 10,001 lb or more (49 CFR 390.5)")
    if needs_commercial_license(truck.gvwr_kg, gross):
        told.append("commercial driver's license: rated or loaded 26,001 lb or more (49 CFR 383.5)")
    return (*told, *_relabeled(truck, added), *_front_heavy(loads_kg))


def _relabeled(truck: Truck, added: float) -> tuple[str, ...]:
    if not needs_new_load_label(truck.gvwr_kg, added):
        return ()
    return (f"{NEW_LABEL}: {pounds(added):,.0f} lb of mount, spreader and ballast, above "
            f"{relabel_threshold_lb(truck.gvwr_kg):g} lb; a dealer or upfitter who adds it before the first "
            "retail sale corrects the label (FMVSS 110; 72 FR 68442)",)


def _front_heavy(loads_kg: Floats) -> tuple[str, ...]:
    """A front share above 63 %: a truck maker's figure quoted in a 1988 letter to NHTSA, not a rule."""
    share = loads_kg[..., 0] / loads_kg.sum(axis=-1)
    state, crew = np.unravel_index(np.nanargmax(share), share.shape)
    worst = float(share[state, crew])
    if worst <= FRONT_SHARE + 1e-9:
        return ()
    where = f"{LOAD_STATES[state]}, {'driver alone' if CREWS[crew] == 'driver' else 'full crew'}"
    return (f"{FRONT_HEAVY} {100 * worst:.1f} % of gross ({where}): above 63 %, a truck maker's"
            " figure in a 1988 letter to NHTSA, not a rule",)

"""How much snow a build can push before its driven wheels slip.

Source of the loads: statics as in textbooks. Builds are given as index arrays into the case's tables, one for
each part, which broadcast; results are by build.
"""

import numpy as np

from optibuild.records.build import Floats, Ints, column
from optibuild.records.case import Case


def _driver_kg(case: Case) -> float:
    return case.assumptions.occupant_mass_kg * min(case.crew.occupants, 1)


def empty_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """Gross weight [kg] of builds with the driver alone, the blade on the ground, the hopper empty and the
    ballast in; indices into the case's tables."""
    return np.asarray(
        column(case.trucks, "curb_kg")[truck] + _driver_kg(case)
        + column(case.plows, "mount_mass_kg")[plow] + column(case.spreaders, "empty_mass_kg")[spreader]
        + column(case.ballast, "unit_mass_kg")[kit] * units)


def empty_rear_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """What of that rests on the rear axle [kg]: each mass by its place behind the front axle over the
    wheelbase (statics)."""
    wheelbase = column(case.trucks, "wheelbase_m", 1.0)[truck]
    bed_end = wheelbase + column(case.trucks, "rear_axle_to_bed_end_m")[truck]
    ballast_place = bed_end + column(case.ballast, "center_m")[kit]
    moment = (
        _driver_kg(case) * column(case.trucks, "seat_m")[truck]
        - column(case.plows, "mount_mass_kg")[plow] * column(case.trucks, "front_axle_to_bumper_m")[truck]
        + column(case.spreaders, "empty_mass_kg")[spreader]
        * (bed_end + column(case.spreaders, "center_m")[spreader])
        + column(case.ballast, "unit_mass_kg")[kit] * units * ballast_place)
    return np.asarray(column(case.trucks, "curb_rear_kg")[truck] + moment / wheelbase)


def driven_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """What of that rests on the driven axles [kg]: all of it, or the rear axle's part."""
    all_driven = np.array([row.drive == "all" for row in case.trucks], dtype=bool)[truck]
    parts = (truck, plow, spreader, kit, units)
    return np.where(all_driven, empty_kg(case, *parts), empty_rear_kg(case, *parts))


def pushable_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """Snow that builds can push [kg], empty: (mu x load on the driven axles - rolling x gross) / sliding.

    Source: balance of forces; traction on packed snow after SAE truck figures of 1996 (from memory), rolling
    and sliding common practice, no source. 0 where the wheels cannot even move the truck.
    """
    figures, parts = case.assumptions, (truck, plow, spreader, kit, units)
    grip = figures.mu_snow * driven_kg(case, *parts) - figures.rolling * empty_kg(case, *parts)
    return np.asarray(np.maximum(grip, 0.0) / figures.sliding)

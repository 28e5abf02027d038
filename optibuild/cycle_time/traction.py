"""How much snow a build can push before its driven wheels slip."""

from collections.abc import Sequence

import numpy as np

from optibuild.records.build import Floats, Ints
from optibuild.records.case import Case
from optibuild.records.catalog import Item


def _column(rows: Sequence[Item], field: str, none: float = 0.0) -> Floats:
    """A catalog column; the index NONE (-1) finds what an absent attachment counts as."""
    return np.array([*(getattr(row, field) for row in rows), none], dtype=float)


def _driver_kg(case: Case) -> float:
    return case.assumptions.occupant_mass_kg * min(case.crew.occupants, 1)


def empty_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """Gross weight [kg] of builds with the driver alone, the blade on the ground, the hopper empty and the
    ballast in; indices into the case's tables."""
    return np.asarray(
        _column(case.trucks, "curb_kg")[truck] + _driver_kg(case)
        + _column(case.plows, "mount_mass_kg")[plow] + _column(case.spreaders, "empty_mass_kg")[spreader]
        + _column(case.ballast, "unit_mass_kg")[kit] * units)


def empty_rear_kg(case: Case, truck: Ints, plow: Ints, spreader: Ints, kit: Ints, units: Ints) -> Floats:
    """What of that rests on the rear axle [kg]: each mass by its place behind the front axle over the
    wheelbase (statics)."""
    wheelbase = _column(case.trucks, "wheelbase_m", 1.0)[truck]
    bed_end = wheelbase + _column(case.trucks, "rear_axle_to_bed_end_m")[truck]
    ballast_place = bed_end + _column(case.ballast, "center_m")[kit]
    moment = (
        _driver_kg(case) * _column(case.trucks, "seat_m")[truck]
        - _column(case.plows, "mount_mass_kg")[plow] * _column(case.trucks, "front_axle_to_bumper_m")[truck]
        + _column(case.spreaders, "empty_mass_kg")[spreader]
        * (bed_end + _column(case.spreaders, "center_m")[spreader])
        + _column(case.ballast, "unit_mass_kg")[kit] * units * ballast_place)
    return np.asarray(_column(case.trucks, "curb_rear_kg")[truck] + moment / wheelbase)


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

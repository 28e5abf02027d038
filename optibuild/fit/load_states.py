"""Which masses ride where, in which load state, with which crew.

B combinations, O ballast options (the first is none, then each kit), 2 axles (front, rear).
"""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.arrays import Bools, Floats, Ints, column
from optibuild.fit.axle_loads import axle_loads
from optibuild.records import NONE, Case

BLADE_CARRIED = np.array([1.0, 0.0])
"""Raised the truck carries the blade; lowered or taken off the ground does."""


@dataclass(frozen=True)
class Combinations:
    """Truck, plow and spreader of each combination [B], as indices into the case's tables."""

    truck: Ints
    plow: Ints
    spreader: Ints


@dataclass(frozen=True)
class PartLoads:
    """Axle loads of the parts of each combination.

    `corners_kg` [B, raised or off, driver or full crew, 2]: everything but ballast and material, nan where
    there is no such corner; `unit_kg` [B, O, 2]: one unit of ballast; `fill_share` [B, 2]: kg on each axle
    for a kg of material; `capacity_kg` [B]: volume x bulk density.
    """

    corners_kg: Floats
    unit_kg: Floats
    fill_share: Floats
    capacity_kg: Floats
    has_plow: Bools
    has_spreader: Bools


def combinations(trucks: range, plows: int, spreaders: int) -> Combinations:
    """Every truck with every plow or none and every spreader or none; a bare truck is no build."""
    axes = np.meshgrid(np.array(trucks, dtype=np.int64), np.array([*range(plows), NONE]),
                       np.array([*range(spreaders), NONE]), indexing="ij")
    truck, plow, spreader = (axis.ravel() for axis in axes)
    mounted = (plow != NONE) | (spreader != NONE)
    return Combinations(truck[mounted], plow[mounted], spreader[mounted])


def part_loads(case: Case, combos: Combinations) -> PartLoads:
    """Axle loads of the parts of every combination."""
    wheelbase = column(case.trucks, "wheelbase_m", 1.0)[combos.truck]
    bed_end = wheelbase + column(case.trucks, "rear_axle_to_bed_end_m")[combos.truck]
    material_place = bed_end + column(case.spreaders, "material_center_m")[combos.spreader]
    return PartLoads(
        corners_kg=_corners(case, combos, wheelbase, bed_end),
        unit_kg=_units(case, wheelbase, bed_end),
        fill_share=axle_loads(1.0, material_place, wheelbase),
        capacity_kg=_capacity(case)[combos.spreader],
        has_plow=combos.plow != NONE,
        has_spreader=combos.spreader != NONE,
    )


def people(case: Case) -> Floats:
    """Persons aboard with the driver alone and with the full crew [2]; nan where that is the same crew."""
    occupants = case.crew.occupants
    return np.array([min(occupants, 1), occupants if occupants > 1 else np.nan], dtype=np.float64)


def state_loads(parts: PartLoads, rows: Ints, option: Ints, units: Ints, fill_kg: Floats) -> Floats:
    """Axle loads of chosen entries in every load state and crew [E, 4, 2, 2, kg], nan where there is none."""
    ballast = parts.unit_kg[rows, option] * units[:, None]
    empty = parts.corners_kg[rows] + ballast[:, None, None, :]
    full = empty + (parts.fill_share[rows] * fill_kg[:, None])[:, None, None, :]
    full[~parts.has_spreader[rows]] = np.nan
    return np.stack([empty, full], axis=2).reshape(len(rows), 4, 2, 2)


def _corners(case: Case, combos: Combinations, wheelbase: Floats, bed_end: Floats) -> Floats:
    bumper = -column(case.trucks, "front_axle_to_bumper_m")[combos.truck]
    blade_place = bumper - column(case.plows, "center_ahead_m")[combos.plow]
    blade = axle_loads(column(case.plows, "blade_mass_kg")[combos.plow], blade_place, wheelbase)
    seat = column(case.trucks, "seat_m")[combos.truck]
    person = axle_loads(case.assumptions.occupant_mass_kg, seat, wheelbase)
    corners = _fixed(case, combos, wheelbase, bumper, bed_end)[:, None, None, :] \
        + blade[:, None, None, :] * BLADE_CARRIED[:, None, None] \
        + person[:, None, None, :] * people(case)[:, None]
    corners[combos.plow == NONE, 0] = np.nan
    return np.asarray(corners, dtype=np.float64)


def _fixed(case: Case, combos: Combinations, wheelbase: Floats, bumper: Floats, bed_end: Floats) -> Floats:
    """Curb weight, mount and empty spreader: what rides in every state [B, 2, kg]."""
    axles = (column(case.trucks, f"curb_{axle}_kg")[combos.truck] for axle in ("front", "rear"))
    curb = np.stack([*axles], axis=-1)
    mount = axle_loads(column(case.plows, "mount_mass_kg")[combos.plow], bumper, wheelbase)
    spreader_place = bed_end + column(case.spreaders, "center_m")[combos.spreader]
    spreader = axle_loads(column(case.spreaders, "empty_mass_kg")[combos.spreader], spreader_place, wheelbase)
    return np.asarray(curb + mount + spreader, dtype=np.float64)


def _units(case: Case, wheelbase: Floats, bed_end: Floats) -> Floats:
    masses = np.array([0.0, *(kit.unit_mass_kg for kit in case.ballast)])
    centers = np.array([0.0, *(kit.center_m for kit in case.ballast)])
    return axle_loads(masses, bed_end[:, None] + centers, wheelbase[:, None])


def _capacity(case: Case) -> Floats:
    held = (row.volume_m3 * case.material(row).bulk_density_kg_per_m3 for row in case.spreaders)
    return np.array([*held, 0.0], dtype=np.float64)

"""Which masses ride where, in which load state, with which crew.

Parts are looked up by indices into the case's tables, and index arrays broadcast: every truck by every plow
gives a small table of which each combination takes one entry, index arrays of equal length give the parts of
chosen builds.
"""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.axle_loads import axle_loads
from optibuild.records import NONE, Builds, Case
from optibuild.records.build import Floats, Ints, column

RAISED = np.array([1.0, 1.0, 0.0, 0.0])
"""In which of LOAD_STATES the truck carries the blade; lowered or taken off the ground does."""
FULL = np.array([0.0, 1.0, 0.0, 1.0])
"""In which of LOAD_STATES the hopper holds the rated fill."""
RETAINED_RAISED = np.array([1.0, 1.0, 0.0, 0.0])
"""In which of RETAINED_STATES the truck carries the blade."""
BALLAST_IN = np.array([1.0, 0.0, 1.0, 0.0])
"""In which of RETAINED_STATES the ballast rides."""


@dataclass(frozen=True)
class Mounted:
    """Indices of a truck and of what is mounted on it, NONE where there is none; they broadcast."""

    truck: Ints
    plow: Ints
    spreader: Ints
    kit: Ints


@dataclass(frozen=True)
class PartLoads:
    """What each part puts on the (front, rear) axle [..., 2, kg].

    `curb` is the bare truck, `person` one person, `mount` and `blade` the plow, `spreader` the empty one,
    `material` one kg of it, `unit` one unit of ballast. The leading axes are those of the truck's indices
    broadcast with the part's.
    """

    curb: Floats
    person: Floats
    mount: Floats
    blade: Floats
    spreader: Floats
    material: Floats
    unit: Floats


def part_loads(case: Case, at: Mounted) -> PartLoads:
    """Axle loads of one person, of each attachment, of a kg of material and of a unit of ballast."""
    wheelbase = column(case.trucks, "wheelbase_m", 1.0)[at.truck]
    bumper = -column(case.trucks, "front_axle_to_bumper_m")[at.truck]
    bed_end = wheelbase + column(case.trucks, "rear_axle_to_bed_end_m")[at.truck]
    blade_place = bumper - column(case.plows, "center_ahead_m")[at.plow]
    spreader_place = bed_end + column(case.spreaders, "center_m")[at.spreader]
    material_place = bed_end + column(case.spreaders, "material_center_m")[at.spreader]
    unit_place = bed_end + column(case.ballast, "center_m")[at.kit]
    seat = column(case.trucks, "seat_m")[at.truck]
    front, rear = column(case.trucks, "curb_front_kg"), column(case.trucks, "curb_rear_kg")
    return PartLoads(
        curb=np.stack([front[at.truck], rear[at.truck]], axis=-1),
        person=axle_loads(case.assumptions.occupant_mass_kg, seat, wheelbase),
        mount=axle_loads(column(case.plows, "mount_mass_kg")[at.plow], bumper, wheelbase),
        blade=axle_loads(column(case.plows, "blade_mass_kg")[at.plow], blade_place, wheelbase),
        spreader=axle_loads(column(case.spreaders, "empty_mass_kg")[at.spreader], spreader_place, wheelbase),
        material=axle_loads(1.0, material_place, wheelbase),
        unit=axle_loads(column(case.ballast, "unit_mass_kg")[at.kit], unit_place, wheelbase),
    )


def people(case: Case) -> Floats:
    """Persons aboard with the driver alone and with the full crew [2]; nan where that is the same crew."""
    occupants = case.crew.occupants
    return np.array([min(occupants, 1), occupants if occupants > 1 else np.nan], dtype=np.float64)


def state_loads(case: Case, builds: Builds, rows: Ints) -> Floats:
    """Axle loads of the asked builds in every load state and crew [E, 4, 2, 2, kg], nan where there is none.

    The last axis is (front, rear), those before it LOAD_STATES and CREWS. Ballast that is taken out rides in
    the empty states only.
    """
    retains = builds.retained_kg[rows] > 0.0
    share = np.where(retains[:, None], 1.0 - FULL, 1.0)
    loads = _loads(case, builds, rows, RAISED, share, builds.rated_fill_kg[rows, None] * FULL)
    loads[np.ix_(builds.spreader[rows] == NONE, FULL == 1.0)] = np.nan
    return loads


def retained_loads(case: Case, builds: Builds, rows: Ints) -> Floats:
    """Axle loads at the retained fill, where ballast is taken out or put back [E, 4, 2, 2, kg].

    The axes are as those of `state_loads`, with RETAINED_STATES; nan where a build's ballast stays in.
    """
    retained = builds.retained_kg[rows]
    share = np.broadcast_to(BALLAST_IN, (len(rows), len(BALLAST_IN)))
    loads = _loads(case, builds, rows, RETAINED_RAISED, share, np.repeat(retained[:, None], 4, axis=1))
    loads[retained == 0.0] = np.nan
    return loads


def _loads(case: Case, builds: Builds, rows: Ints, raised: Floats, ballast: Floats,
           fill_kg: Floats) -> Floats:
    """Axle loads in states [L] in which the blade is carried or not (`raised` [L]), and builds have a share
    of their ballast and a fill aboard (`ballast`, `fill_kg` [E, L]); nan in raised states without a plow."""
    plow = builds.plow[rows]
    parts = part_loads(case, Mounted(builds.truck[rows], plow, builds.spreader[rows], builds.kit[rows]))
    bed = (parts.unit * builds.units[rows, None])[:, None, :] * ballast[..., None] \
        + parts.material[:, None, :] * fill_kg[..., None]
    carried = (parts.curb + parts.mount + parts.spreader)[:, None, :] + bed \
        + parts.blade[:, None, :] * raised[:, None]
    loads: Floats = carried[:, :, None, :] + parts.person[:, None, None, :] * people(case)[:, None]
    loads[np.ix_(plow == NONE, raised == 1.0)] = np.nan
    return loads

"""The axis C: every fitting build at every depot, with its truck, blade and spreader as arrays.

Plowing minutes depend on truck, plow and what a pass can move, so they are computed per distinct triple
("rig") and gathered. Axes: C crewed builds, F fitting builds, R rigs, G spreaders with none at the end.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time.plowing import blade_capacity_m3
from optibuild.cycle_time.traction import pushable_kg
from optibuild.cycle_time.turning import (
    center_radius_m,
    radius_from_circle_m,
    steer_angle_rad,
    swept_circle_m,
)
from optibuild.records.build import NONE, Builds, Floats, Ints, column
from optibuild.records.case import Case
from optibuild.records.catalog import Spreader, Truck


@dataclass(frozen=True)
class Rigs:
    """Distinct trucks with a plow and what a pass of theirs moves [R]; without a plow the blade has no width.

    `capacity_kg` is what the blade holds, or what the truck can push where that is less.
    """

    blade_width_m: Floats
    blade_height_m: Floats
    angle_rad: Floats
    capacity_kg: Floats
    swept_width_m: Floats
    radius_m: Floats
    circle_m: Floats


@dataclass(frozen=True)
class Spreaders:
    """The case's spreaders, and a last row for none, which the index NONE (-1) reaches [G]; `there` is 1, and
    0 for none.

    Material is counted as the dry deicer in it, of which it holds the share `strength`.
    """

    there: Floats
    width_m: Floats
    discharge_kg_per_min: Floats
    strength: Floats


@dataclass(frozen=True)
class Crews:
    """Crewed builds [C]: `build` indexes Builds, `chosen` the builds that were asked, `rig` and `spreader`
    the tables; `fill_kg` is of dry deicer."""

    build: Ints
    chosen: Ints
    depot: Ints
    rig: Ints
    spreader: Ints
    fill_kg: Floats
    rigs: Rigs
    spreaders: Spreaders


def _floats(values: Iterable[float]) -> Floats:
    return np.array(list(values), dtype=float)


def _radius_m(trucks: list[Truck], wheelbase_m: Floats) -> Floats:
    """Radius at the middle of the front axle [m]; a stated turning circle wins over the steer angle."""
    stated = np.array([row.turning_circle_m is not None for row in trucks], dtype=bool)
    circle = _floats(row.turning_circle_m or 0.0 for row in trucks)
    from_circle = radius_from_circle_m(circle, _floats(row.track_m for row in trucks))
    from_angle = center_radius_m(wheelbase_m, _floats(row.steer_angle_rad for row in trucks))
    return np.where(stated, from_circle, from_angle)


def capacity_kg(case: Case, plow: Ints, pushable: Floats) -> Floats:
    """What one pass of a plow moves [R, kg]: what its blade holds of settled snow, or what its truck can push
    (`pushable` [R, kg])."""
    held = blade_capacity_m3(column(case.plows, "width_m"), column(case.plows, "height_m"))[plow]
    return np.minimum(held * case.assumptions.settled_density_kg_per_m3, pushable)


def rigs_of(case: Case, truck: Ints, plow: Ints, capacity: Floats) -> Rigs:
    """The rigs of these trucks and plows, indices into the case's tables (NONE = no plow) [R]; `capacity` is
    what a pass of each moves [R, kg]."""
    trucks = [case.trucks[n] for n in truck]
    plows = [None if n == NONE else case.plows[n] for n in plow]
    width = _floats(blade.width_m if blade else 0.0 for blade in plows)
    angle = _floats(blade.angle_rad if blade else 0.0 for blade in plows)
    swept = np.where(width > 0, width * np.cos(angle), _floats(row.width_m for row in trucks))
    reach = _floats(row.front_axle_to_bumper_m for row in trucks) + _floats(
        blade.center_ahead_m if blade else 0.0 for blade in plows
    )
    wheelbase = _floats(row.wheelbase_m for row in trucks)
    radius = _radius_m(trucks, wheelbase)
    return Rigs(
        width, _floats(blade.height_m if blade else 0.0 for blade in plows), angle, capacity,
        swept, radius,
        swept_circle_m(wheelbase, steer_angle_rad(wheelbase, radius), swept, reach),
    )


def spreaders_of(case: Case) -> Spreaders:
    """The case's spreaders as arrays, with the row of none at the end [G]."""

    def figures(value: Callable[[Spreader], float], none: float) -> Floats:
        return _floats([*(value(row) for row in case.spreaders), none])

    return Spreaders(
        figures(lambda row: 1.0, 0.0), column(case.spreaders, "spread_width_m", 1.0),
        figures(lambda row: row.discharge_kg_per_min * case.material(row).strength, 1.0),
        figures(lambda row: case.material(row).strength, 1.0),
    )


def crews(case: Case, builds: Builds, chosen: Ints) -> Crews:
    """The `chosen` builds [F] at every depot, builds outermost."""
    depots = len(case.depots)
    truck, plow, spreader, kit, units = (axis[chosen] for axis in (
        builds.truck, builds.plow, builds.spreader, builds.kit, builds.units))
    capacity = capacity_kg(case, plow, pushable_kg(case, truck, plow, spreader, kit, units))
    _, first, rig = np.unique(np.stack([truck, plow, capacity]), axis=1, return_index=True,
                              return_inverse=True)
    rigs, spreaders = rigs_of(case, truck[first], plow[first], capacity[first]), spreaders_of(case)
    each = np.repeat(np.arange(len(chosen)), depots)
    fill = builds.usable_fill_kg[chosen] * spreaders.strength[spreader]
    return Crews(
        chosen[each], each, np.tile(np.arange(depots), len(chosen)), rig.ravel()[each], spreader[each],
        fill[each], rigs, spreaders,
    )

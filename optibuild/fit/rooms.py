"""What the ratings leave to every combination, as a sum of small tables.

Axle loads add up part by part, and so does what a rating makes of them: the room for ballast and material is
limit - (truck + plow + spreader). In its worst corner a rating meets the crew and the blade that load it
most, each chosen by itself. R ratings asked, O ballast options (none, then each kit), T trucks, P plows, S
spreaders (none among both): no table is as large as truck x plow x spreader.
"""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.load_states import Mounted, part_loads, people
from optibuild.fit.ratings import MIN_REAR_SHARE, lowest_limits, rating_limits, rating_weights, tolerances
from optibuild.records import NONE, Case
from optibuild.records.build import Floats, Ints


@dataclass(frozen=True)
class Rooms:
    """The ratings asked as lines: per_unit·n + per_fill·f <= truck - plow - spreader, all kg.

    truck [R, T, 1, 1]: the limit less what is aboard in every combination; plow [R, T, P, 1]; spreader
    [R, T, 1, S]; tolerance [R, T, 1, 1]; per_unit [O, R, T, 1, 1]; per_fill [R, T, 1, S]. The least rear
    share is asked of the emptiest hopper: it has no per_fill. Where ballast is taken out that hopper holds
    the retained fill, and per_retained [R, T, 1, S] counts for every rating. The first two ratings are the
    axles', each with the lower of its two limits, GAWR and tire capacity; spare [2, T] is by how much the
    other one lies above it, inf where tires are not known.
    """

    truck: Floats
    plow: Floats
    spreader: Floats
    tolerance: Floats
    per_unit: Floats
    per_fill: Floats
    per_retained: Floats
    spare: Floats

    def room(self) -> Floats:
        """What is left with the hopper empty in the worst corner [R, T, P, S, kg]."""
        left: Floats = (self.truck - self.plow) - self.spreader
        return left


def rooms(case: Case, plows: Ints) -> Rooms:
    """The tables of all trucks with these plows [P], all spreaders and all kits; axes as in Rooms."""
    trucks, spreaders = np.arange(len(case.trucks)), np.array([*range(len(case.spreaders)), NONE])
    kits = np.array([NONE, *range(len(case.ballast))])
    limits, spare = lowest_limits(rating_limits(case, trucks))
    asked = np.flatnonzero(np.isfinite(limits).all(axis=0))
    parts = part_loads(case, Mounted(trucks[:, None], plows, spreaders, kits))
    weights = rating_weights(case.fit)[:, asked]
    # the least rear share is asked of one corner: driver alone, hopper empty, plow raised
    lone = (asked == MIN_REAR_SHARE)[:, None, None]
    alone, full = people(case)[:, None, None, None] * _weighed(parts.person, weights)
    crew = np.where(lone, alone, np.fmax(alone, full))
    blade = _weighed(parts.blade, weights)
    material = _weighed(parts.material, weights)
    carried = np.where(lone, blade, np.maximum(blade, 0.0))
    return Rooms(
        truck=(limits[:, asked].T[:, :, None] - _weighed(parts.curb, weights) - crew)[..., None],
        plow=(_weighed(parts.mount, weights) + carried)[..., None],
        spreader=_weighed(parts.spreader, weights)[:, :, None, :],
        tolerance=tolerances(case, trucks, limits)[:, asked].T[:, :, None, None],
        per_unit=np.moveaxis(_weighed(parts.unit, weights), -1, 0)[..., None, None],
        per_fill=np.where(lone, 0.0, material)[:, :, None, :],
        per_retained=material[:, :, None, :],
        spare=spare.T,
    )


def _weighed(loads_kg: Floats, weights: Floats) -> Floats:
    """What each rating makes of these loads [R, ...], from loads [..., 2] and weights [2, R]."""
    return np.moveaxis(loads_kg @ weights, -1, 0)

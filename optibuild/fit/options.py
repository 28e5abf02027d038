"""Every ballast option of a block of combinations: none, then each kit.

O options, R ratings, T trucks, P plows, S spreaders (none among both).
"""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.arrays import Bools, Floats, Ints, flat
from optibuild.fit.ballast import OUT_OF_REACH, feasible_units, nearest_units, total_excess
from optibuild.fit.rated_fill import fewest_units_of_largest_fill, fill_at, fill_lines
from optibuild.fit.rooms import Rooms


@dataclass(frozen=True)
class Tried:
    """Combinations with each ballast option [O, T, P, S]: units, rated fill, and whether they pass empty.

    Where no count passes empty there is no fill, and the units mean nothing.
    """

    units: Floats
    fill_kg: Floats
    passes: Bools


@dataclass(frozen=True)
class Nearest:
    """For rejected combinations, the ballast option that comes nearest to fit and its units."""

    option: Ints
    units: Floats


def best_ballast(lines: Rooms, room: Floats, capacity_kg: Floats, most_units: Ints) -> Tried:
    """Units and fill solved together for each combination and ballast option.

    `room` is [R, T, P, S], `capacity_kg` [S], `most_units` [O].
    """
    start, slopes = fill_lines(lines.per_unit, lines.per_fill, room)
    room = room + lines.tolerance
    shape = (len(most_units), *room.shape[1:])
    tried = Tried(np.zeros(shape), np.empty(shape), np.empty(shape, dtype=bool))
    for option, most in enumerate(most_units.tolist()):
        low, high, tried.passes[option] = feasible_units(lines.per_unit[option], room, most)
        slope = slopes[option]
        if most:
            tried.units[option], fill = fewest_units_of_largest_fill(start, slope, capacity_kg, low, high)
        else:
            fill = fill_at(start, slope, capacity_kg, low)
        tried.fill_kg[option] = np.where(tried.passes[option], np.maximum(fill, 0.0), 0.0)
    return tried


def nearest(lines: Rooms, room: Floats, tried: Tried, least_kg: Floats, most_units: Ints,
            rejected: Ints) -> Nearest:
    """For rejected combinations the option that comes nearest to fit, and its units.

    `rejected` indexes the combinations laid out flat. The distance is the excess over the ratings, plus what
    lacks to the least useful fill.
    """
    truck, _, spreader = np.unravel_index(rejected, room.shape[1:])
    units, fill, passes, room = (flat(values).take(rejected, axis=1)
                                 for values in (tried.units, tried.fill_kg, tried.passes, room))
    excess = np.maximum(least_kg[spreader] - fill, 0.0)
    per_unit, room = _with_second_limits(lines, room, truck)
    for option, most in enumerate(most_units.tolist()):
        failing = np.flatnonzero(~passes[option])
        slope, left = per_unit[option].take(truck[failing], axis=1), room.take(failing, axis=1)
        units[option, failing] = nearest_units(slope, left, most) if most else 0.0
        excess[option, failing] += total_excess(slope, left, units[option, failing])
    best = np.argmin(excess, axis=0)
    return Nearest(best, units[best, np.arange(len(best))])


def _with_second_limits(lines: Rooms, room: Floats, truck: Ints) -> tuple[Floats, Floats]:
    """per_unit [O, R, T] and room [R, E] with the axles' other limits at the end, where any is known.

    Where an axle and its tires are overloaded, both count.
    """
    per_unit = lines.per_unit[..., 0, 0]
    if not np.isfinite(lines.spare).any():
        return per_unit, room
    spare = np.minimum(lines.spare, OUT_OF_REACH)
    return (np.concatenate([per_unit, per_unit[:, :2]], axis=1),
            np.concatenate([room, room[:2] + spare.take(truck, axis=1)]))

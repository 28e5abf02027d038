"""Every ballast option of a block of combinations: none, then each kit.

O options, R ratings, T trucks, P plows, S spreaders (none among both), E rejected combinations.
"""

from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optibuild.fit.ballast import OUT_OF_REACH, feasible_units, nearest_units, total_excess
from optibuild.fit.rated_fill import fewest_units_of_largest_fill, fill_at, fill_lines
from optibuild.fit.removal import Bare, bare_fills, taken_out
from optibuild.fit.rooms import Rooms
from optibuild.records.build import Bools, Floats, Ints


def flat(values: NDArray[Any]) -> NDArray[Any]:
    """All axes but the first as one, seen in the same memory: [O, T, P, S] gives [O, N]."""
    return values.reshape(len(values), prod(values.shape[1:]))


@dataclass(frozen=True)
class Tried:
    """Combinations with each ballast option [O, T, P, S]: units, rated fill, and whether they pass empty.

    Where no count passes empty there is no fill, and the units mean nothing. `retained_kg` is what the hopper
    keeps where a removable kit is taken out above that fill, zero where the ballast stays in.
    """

    units: Floats
    fill_kg: Floats
    retained_kg: Floats
    passes: Bools

    def usable_kg(self) -> Floats:
        """What may be spread between two reloads [O, T, P, S]."""
        return self.fill_kg - self.retained_kg


@dataclass(frozen=True)
class Nearest:
    """For rejected combinations [E], the ballast option that comes nearest to fit and its `units`."""

    option: Ints
    units: Floats


def best_ballast(lines: Rooms, room: Floats, capacity_kg: Floats, most_units: Ints,
                 removable: Bools) -> Tried:
    """Units and fill solved together for each combination and ballast option.

    `room` is [R, T, P, S], `capacity_kg` [S], `most_units` and `removable` [O].
    """
    tried = _left_in(lines, room, capacity_kg, most_units)
    if removable.any():
        bare = bare_fills(lines, room, _most_without(lines, room, capacity_kg))
        for option in np.flatnonzero(removable).tolist():
            _take_out(tried, lines, room, bare, option, int(most_units[option]))
    return tried


def _left_in(lines: Rooms, room: Floats, capacity_kg: Floats, most_units: Ints) -> Tried:
    """Every option with its ballast in at every fill."""
    start, slopes = fill_lines(lines.per_unit, lines.per_fill, room)
    room = room + lines.tolerance
    shape = (len(most_units), *room.shape[1:])
    tried = Tried(np.zeros(shape), np.empty(shape), np.zeros(shape), np.empty(shape, dtype=bool))
    for option, most in enumerate(most_units.tolist()):
        low, high, tried.passes[option] = feasible_units(lines.per_unit[option], room, most)
        slope = slopes[option]
        if most:
            tried.units[option], fill = fewest_units_of_largest_fill(start, slope, capacity_kg, low, high)
        else:
            fill = fill_at(start, slope, capacity_kg, low)
        tried.fill_kg[option] = np.where(tried.passes[option], np.maximum(fill, 0.0), 0.0)
    return tried


def _most_without(lines: Rooms, room: Floats, capacity_kg: Floats) -> Floats:
    """The largest fill that ratings and volume allow without ballast [T, P, S]."""
    start, slope = fill_lines(lines.per_unit[0], lines.per_fill, room)
    return fill_at(start, slope, capacity_kg, np.zeros(room.shape[1:]))


def _take_out(tried: Tried, lines: Rooms, room: Floats, bare: Bare, option: int, most_units: int) -> None:
    """Where a kit leaves more to spread when it is taken out above the retained fill, or as much with fewer
    units, it is told so."""
    out = taken_out(lines, room, bare, option, most_units)
    gain = bare.most_kg - bare.least_kg - tried.usable_kg()[option]
    noise = 1e-9 * (1.0 + bare.most_kg)
    fewer = (gain >= -noise) & (out.units < tried.units[option])
    better = out.passes & (~tried.passes[option] | (gain > noise) | fewer)
    for kept, found in ((tried.units, out.units), (tried.fill_kg, bare.most_kg),
                        (tried.retained_kg, bare.least_kg), (tried.passes, out.passes)):
        np.copyto(kept[option], found, where=better)


def nearest(lines: Rooms, room: Floats, tried: Tried, least_kg: Floats, most_units: Ints,
            rejected: Ints) -> Nearest:
    """For rejected combinations the option that comes nearest to fit, and its units.

    `room` is [R, T, P, S], `least_kg` [S], `most_units` [O]; `rejected` [E] indexes the combinations laid out
    flat. The distance is the excess over the ratings, plus what
    lacks to the least useful fill.
    """
    truck, _, spreader = np.unravel_index(rejected, room.shape[1:])
    units, usable, passes, room = (flat(values).take(rejected, axis=1)
                                   for values in (tried.units, tried.usable_kg(), tried.passes, room))
    excess = np.maximum(least_kg[spreader] - usable, 0.0)
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

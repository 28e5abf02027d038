"""Ballast that is taken out once the hopper holds enough to do its work, and put back below that.

A truck that only a load behind the rear axle keeps off its front rating may carry ballast there while the
hopper is nearly empty, and its material from some fill on. That least fill is kept in the hopper: what can be
spread lies above it. Every check is a line in the fill, so without ballast the fills that pass are an
interval; below it, with the ballast in, a fill between two that pass passes too. R ratings, T trucks, P
plows, S spreaders (none among both).
"""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.ballast import FLAT, feasible_units
from optibuild.fit.rooms import Rooms
from optibuild.records.build import Bools, Floats


@dataclass(frozen=True)
class Bare:
    """The fills with which combinations pass without ballast [T, P, S]: from least_kg to most_kg, if any."""

    least_kg: Floats
    most_kg: Floats
    passes: Bools


@dataclass(frozen=True)
class TakenOut:
    """The `units` of a removable kit [T, P, S]: the fewest that pass at every fill up to the least bare
    one."""

    units: Floats
    passes: Bools


def bare_fills(lines: Rooms, room: Floats, most_kg: Floats) -> Bare:
    """The interval of fills without ballast; `most_kg` is the largest fill that ratings and volume allow.

    `room` is [R, T, P, S]. A rating that is over with an empty hopper must be one that material relieves; its
    crossing is a lower end. All ratings then have to hold at the highest of those ends.
    """
    least = np.zeros(room.shape[1:])
    for relief, left, noise in zip(lines.per_retained, room, lines.tolerance, strict=True):
        relieves = (left < -noise) & (relief < -FLAT)
        np.maximum(least, left / np.where(relief < -FLAT, relief, 1.0), out=least, where=relieves)
    passes = least <= most_kg
    for load, left, noise in zip(lines.per_retained, room, lines.tolerance, strict=True):
        passes &= load * least <= left + noise
    return Bare(least, most_kg, passes)


def taken_out(lines: Rooms, room: Floats, bare: Bare, option: int, most_units: int) -> TakenOut:
    """The fewest units of a kit that carry the hopper from empty to the least bare fill.

    `room` is [R, T, P, S]. Of the two ends of that range each rating meets the worse one.
    """
    left = room + lines.tolerance - np.maximum(lines.per_fill, 0.0) * bare.least_kg
    low, _, passes = feasible_units(lines.per_unit[option], left, most_units)
    return TakenOut(low, passes & bare.passes & (low > 0.0))

"""How many units of ballast: the counts that pass, and the count that comes nearest where none does.

Every check is a line in the number of units, per_unit·n <= room, so the counts that pass are an interval. The
first axis is the ratings' [R]; the other axes broadcast. Counts are whole numbers held as floats.
"""

import numpy as np

from optibuild.records.build import Bools, Floats

FLAT = 1e-12
"""Below this a slope is rounding of zero: a mass right over an axle."""
OUT_OF_REACH = 1e15
"""Stands for infinity where that would not do: the difference of two such figures is zero, not nan."""
NO_GAIN_KG = 1e-9
"""A unit that lessens the excess by no more than this gains nothing."""


def feasible_units(per_unit: Floats, room: Floats, most_units: float) -> tuple[Floats, Floats, Bools]:
    """Fewest and most units up to `most_units` with per_unit·n <= room for all ratings, and whether any do.

    Where none do, the two counts mean nothing. The results have the shape of a rating's room.
    """
    shape = np.broadcast_shapes(per_unit.shape[1:], room.shape[1:])
    low, high, passes = np.zeros(shape), np.full(shape, float(most_units)), np.ones(shape, dtype=bool)
    for unit, left in zip(per_unit, room, strict=True):
        loads, relieves = unit > FLAT, unit < -FLAT
        sloped = loads | relieves
        crossing = left / np.where(sloped, unit, 1.0)
        if loads.any():
            np.minimum(high, crossing, out=high, where=loads)
        if relieves.any():
            np.maximum(low, crossing, out=low, where=relieves)
        if not sloped.all():
            passes &= sloped | (crossing >= 0.0)
    np.ceil(low, out=low)
    np.floor(high, out=high)
    passes &= low <= high
    return low, high, passes


def total_excess(per_unit: Floats, room: Floats, units: Floats) -> Floats:
    """Sum over the ratings of what n units leave above them [kg]; convex in n."""
    total = np.zeros_like(units)
    for unit, left in zip(per_unit, room, strict=True):
        total += np.maximum(unit * units - left, 0.0)
    return total


def nearest_units(per_unit: Floats, room: Floats, most_units: float) -> Floats:
    """The fewest units up to `most_units` that leave the least total excess.

    Before its crossing room / per_unit a rating that ballast relieves makes the excess fall by |per_unit| a
    unit, after it one that ballast loads makes it rise by as much. So the slope starts at minus the sum of
    the reliefs and grows by |per_unit| at every crossing; the least excess is at the crossing where it is no
    longer negative, and of whole counts at one of its two neighbors.
    """
    weight = np.abs(per_unit)
    sloped = weight > FLAT
    crossing = np.where(sloped, room / np.where(sloped, per_unit, 1.0), OUT_OF_REACH)
    relief = np.maximum(-per_unit, 0.0).sum(axis=0) - NO_GAIN_KG
    lowest = np.full(room.shape[1:], OUT_OF_REACH)
    for at in crossing:
        grown = np.zeros_like(lowest)
        for other, by in zip(crossing, weight, strict=True):
            grown += by * (other <= at)
        np.minimum(lowest, np.where(grown >= relief, at, OUT_OF_REACH), out=lowest)
    units = np.clip(np.floor(np.where(relief <= 0.0, 0.0, lowest)), 0.0, most_units)
    gain = total_excess(per_unit, room, units) - total_excess(per_unit, room, units + 1.0)
    return np.asarray(units + ((gain > NO_GAIN_KG) & (units < most_units)))

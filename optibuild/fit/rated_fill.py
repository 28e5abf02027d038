"""The most material a spreader may carry on this truck, and the ballast that goes with it.

At n units the fill is the least of the volume and one line start - slope·n for every rating that material
loads; a rating that material relieves passes full where it passes empty. The least of lines is concave in n.
The first axis is the ratings' [R]; the other axes broadcast. Counts are whole numbers held as floats.
"""

import numpy as np

from optibuild.fit.ballast import FLAT, OUT_OF_REACH
from optibuild.records.build import Floats


def fill_lines(per_unit: Floats, per_fill: Floats, room: Floats) -> tuple[Floats, Floats]:
    """Fill allowed by each rating as start - slope·n [R, ..., kg]; OUT_OF_REACH where material does not load
    it.

    A rating holds where `per_unit`·n + `per_fill`·fill <= `room`.
    """
    loads = per_fill > FLAT
    divisor = np.where(loads, per_fill, 1.0)
    return np.where(loads, room / divisor, OUT_OF_REACH), np.where(loads, per_unit / divisor, 0.0)


def fill_at(start: Floats, slope: Floats, capacity_kg: Floats, units: Floats) -> Floats:
    """Largest fill at n units [kg], never above what the hopper holds.

    Below zero where an empty hopper already breaks a rating that material loads.
    """
    fill = np.array(np.broadcast_to(capacity_kg, np.broadcast_shapes(start.shape[1:], np.shape(units))))
    allowed = np.empty_like(fill)
    for first, lost in zip(start, slope, strict=True):
        np.multiply(lost, units, out=allowed)
        np.subtract(first, allowed, out=allowed)
        np.minimum(fill, allowed, out=fill)
    return fill


def fewest_units_of_largest_fill(start: Floats, slope: Floats, capacity_kg: Floats, low: Floats,
                                 high: Floats) -> tuple[Floats, Floats]:
    """The fewest units from `low` to `high` that reach the largest fill any such count allows, and that fill
    [kg].

    Whole counts have it at one of the two neighbors of the peak; a unit more has to gain more than noise.
    """
    least_gain = 1e-9 * (1.0 + capacity_kg)
    units = np.clip(np.floor(_peak(start, slope, capacity_kg, least_gain)), low, high)
    fill, next_fill = (fill_at(start, slope, capacity_kg, count) for count in (units, units + 1.0))
    better = (next_fill - fill > least_gain) & (units < high)
    return units + better, np.where(better, next_fill, fill)


def _peak(start: Floats, slope: Floats, capacity_kg: Floats, least_gain: Floats) -> Floats:
    """The least n from which on no unit gains: where the lowest rising line meets the lowest other one.

    Every rising line must have met one of the others there, hence the last (over rising lines) of the first
    (over the others, the volume among them) of the crossings.
    """
    peak = np.zeros(start.shape[1:])
    rising = slope < -least_gain
    for first, gained, rises in zip(start, slope, rising, strict=True):
        if not rises.any():
            continue
        # a line that does not rise here is put out of reach: it has met all others below zero
        line, climb = _only(rises, first), np.where(rises, -gained, 0.0)
        met = (capacity_kg - line) / np.maximum(climb, FLAT)
        for other, lost, climbs in zip(start, slope, rising, strict=True):
            if not climbs.all():
                gap = _only(~climbs, other) - line
                np.minimum(met, gap / np.maximum(climb + np.where(climbs, 0.0, lost), FLAT), out=met)
        np.maximum(peak, met, out=peak)
    return peak


def _only(where: np.ndarray, line: Floats) -> Floats:
    """The line where asked, out of reach elsewhere."""
    return line if where.all() else np.where(where, line, OUT_OF_REACH)

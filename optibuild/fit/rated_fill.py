"""The most material a spreader may carry on this truck, and the ballast that goes with it.

At n units the fill is the least of the volume and one line for every rating that material loads; a rating
that material relieves passes full where it passes empty. The least of lines is concave in n.
"""

import numpy as np

from optibuild.fit.arrays import Bools, Floats, Ints
from optibuild.fit.ballast import FLAT, first_without_gain


def fill_lines(per_unit: Floats, per_fill: Floats, room: Floats) -> tuple[Floats, Floats]:
    """Fill allowed by each rating as start - slope·n [kg]; start is inf where material does not load it."""
    loads = per_fill > FLAT
    divisor = np.where(loads, per_fill, 1.0)
    return np.where(loads, room / divisor, np.inf), np.where(loads, per_unit / divisor, 0.0)


def fill_at(start: Floats, slope: Floats, capacity_kg: Floats, units: Ints) -> Floats:
    """Largest fill at n units [kg], never above what the hopper holds; ratings are the last axis.

    Below zero where an empty hopper already breaks a rating that material loads.
    """
    allowed = np.min(start - slope * units[..., None], axis=-1)
    return np.minimum(allowed, capacity_kg)


def fewest_units_of_largest_fill(start: Floats, slope: Floats, capacity_kg: Floats, low: Ints,
                                 high: Ints) -> Ints:
    """The fewest units in [low, high] that reach the largest fill any count in it allows."""
    def gains(units: Ints) -> Bools:
        more = fill_at(start, slope, capacity_kg, units + 1) - fill_at(start, slope, capacity_kg, units)
        return np.asarray(more > 1e-9 * (1.0 + capacity_kg))

    return first_without_gain(gains, low, high)

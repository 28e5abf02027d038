"""How many units of ballast: the feasible interval, and the best count of a concave measure.

Every check is a line in the number of units, so the counts that pass are an interval.
"""

from collections.abc import Callable

import numpy as np

from optibuild.fit.arrays import Bools, Floats, Ints

FLAT = 1e-12
"""Below this a slope is rounding of zero: a mass right over an axle."""


def feasible_units(per_unit: Floats, room: Floats, most_units: Ints) -> tuple[Ints, Ints, Bools]:
    """Fewest and most whole units n with per_unit·n <= room for all checks (last axis), and whether any do.

    Where none do, the interval is (0, 0). `most_units` has the shape of the result.
    """
    flat = np.abs(per_unit) <= FLAT
    crossing = room / np.where(flat, 1.0, per_unit)
    hopeless = np.any(flat & (room < 0.0), axis=-1)
    low = np.max(np.where(per_unit < -FLAT, np.ceil(crossing), 0.0), axis=-1, initial=0.0)
    high = np.min(np.where(per_unit > FLAT, np.floor(crossing), np.inf), axis=-1, initial=np.inf)
    high = np.minimum(high, most_units)
    passes = (low <= high) & ~hopeless
    return np.where(passes, low, 0.0).astype(np.int64), np.where(passes, high, 0.0).astype(np.int64), passes


def first_without_gain(gains: Callable[[Ints], Bools], low: Ints, high: Ints) -> Ints:
    """The smallest n in [low, high] after which one more unit gains nothing.

    `gains(n)` says whether n + 1 is better than n. The measure is concave: once a unit gains nothing, no
    later one does, so that halving the interval finds it.
    """
    while np.any(low < high):
        middle = (low + high) // 2
        better = gains(middle) & (middle < high)
        low, high = np.where(better, middle + 1, low), np.where(better, high, middle)
    return low


def total_excess(per_unit: Floats, room: Floats, units: Ints) -> Floats:
    """Sum over the checks (last axis) of what n units leave above the ratings [kg]; convex in n."""
    over = np.maximum(per_unit * units[..., None] - room, 0.0)
    return np.asarray(np.sum(over, axis=-1))


def nearest_units(per_unit: Floats, room: Floats, most_units: Ints) -> Ints:
    """The fewest units that leave the least total excess, for combinations that no count makes pass."""
    def gains(units: Ints) -> Bools:
        less = total_excess(per_unit, room, units) - total_excess(per_unit, room, units + 1)
        return np.asarray(less > 1e-9)

    return first_without_gain(gains, np.zeros_like(most_units), most_units)

"""What the axles are checked against, as linear forms of the two axle loads.

Every rating reads  weight_front·front + weight_rear·rear <= limit,  a share too: front >= s·gross is
(s - 1)·front + s·rear <= 0. R ratings, E builds asked.
"""

import numpy as np

from optibuild.records import Case, FitLimits
from optibuild.records.build import Bools, Floats, Ints, column

RATINGS = ("front GAWR", "rear GAWR", "GVWR", "front tire capacity", "rear tire capacity",
           "min front share", "max front share", "min rear share")
AXLES, TIRES = slice(0, 2), slice(3, 5)
MIN_FRONT_SHARE, MIN_REAR_SHARE = 5, 7
"""Where the shares begin, and the one of the rear axle; the ratings before them are in kg."""
NOISE = 1e-9
"""A rating is met when load <= rating, this relative noise of floating point aside."""


def rating_weights(limits: FitLimits) -> Floats:
    """Weights of the (front, rear) axle load in each rating [2, R]; zero for one that is not asked."""
    least, most, rear = limits.min_front_share, limits.max_front_share, limits.min_rear_share
    highest = (0.0, 0.0)
    if most is not None:
        highest = (1.0, 0.0) if limits.front_share_of == "curb" else (1.0 - most, -most)
    lowest_rear = (0.0, 0.0) if rear is None else (rear, rear - 1.0)
    axles = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0)]
    return np.array([*axles, *axles[:2], (least - 1.0, least), highest, lowest_rear]).T


def rating_limits(case: Case, truck: Ints) -> Floats:
    """The right-hand sides [E, R, kg]; inf where a rating is not asked or not known.

    The user's reserve is taken off the axle ratings and the GVWR.
    """
    limits = case.fit
    rated = [column(case.trucks, field)[truck] - limits.axle_reserve_kg
             for field in ("gawr_front_kg", "gawr_rear_kg", "gvwr_kg")]
    tires = [column(case.trucks, f"tire_capacity_{axle}_kg")[truck] for axle in ("front", "rear")]
    shares = [np.zeros(len(truck)), _highest_front(case, truck),
              np.full(len(truck), np.inf if limits.min_rear_share is None else 0.0)]
    return np.stack([*rated, *tires, *shares], axis=-1)


def lowest_limits(limits: Floats) -> tuple[Floats, Floats]:
    """As the limits, but one a load [E, R, kg], and by how much the other limit of an axle lies above [E, 2].

    Tires carry what their axle carries, so the lower of axle rating and tire capacity decides; it stands
    where the axle rating stood, and the tires' place is inf.
    """
    axles, tires = limits[:, AXLES], limits[:, TIRES]
    lowest = limits.copy()
    lowest[:, AXLES], lowest[:, TIRES] = np.minimum(axles, tires), np.inf
    return lowest, np.abs(axles - tires)


def tolerances(case: Case, truck: Ints, limits: Floats) -> Floats:
    """How far above each of the `limits` [E, R] a load still counts as met [E, R, kg]; shares are measured
    against GVWR."""
    gvwr = column(case.trucks, "gvwr_kg")[truck]
    scale = np.where(np.isfinite(limits) & (limits > 0.0), limits, gvwr[:, None])
    return np.asarray(NOISE * scale, dtype=np.float64)


def shares_asked(limits: FitLimits) -> Floats:
    """The share each rating asks [R], zero for one that is not asked, one for a rating in kg."""
    asked = np.ones(len(RATINGS))
    shares = (limits.min_front_share, limits.max_front_share or 0.0, limits.min_rear_share or 0.0)
    asked[MIN_FRONT_SHARE:] = shares
    return asked


def margin_scales(case: Case, truck: Ints, limits: Floats) -> Floats:
    """What a margin is told relative to [E, R, kg]: its limit (`limits` [E, R]), or for a share that share of
    GVWR."""
    gvwr = column(case.trucks, "gvwr_kg")[truck]
    # a share of nothing still needs a scale: any front axle load is far from lifting off
    share = np.maximum(shares_asked(case.fit), NOISE)
    return np.where(np.isfinite(limits) & (limits > 0.0), limits, gvwr[:, None] * share)


def overloads(loads_kg: Floats, weights: Floats, limits: Floats, has_plow: Bools) -> Floats:
    """By how much each entry is over its `limits` [E, R] in each state and crew [E, 4, 2, R, kg]; below zero
    is room.

    The least rear share is asked in one corner only: driver alone, hopper empty, plow raised if there is one.
    """
    over: Floats = loads_kg @ weights - limits[:, None, None, :]
    corner = np.zeros((len(loads_kg), 4, 2), dtype=bool)
    corner[np.arange(len(loads_kg)), np.where(has_plow, 0, 2), 0] = True
    over[..., MIN_REAR_SHARE] = np.where(corner, over[..., MIN_REAR_SHARE], np.nan)
    return over


def _highest_front(case: Case, truck: Ints) -> Floats:
    share = case.fit.max_front_share
    if share is None:
        return np.full(len(truck), np.inf)
    if case.fit.front_share_of == "gross":
        return np.zeros(len(truck))
    curb: Floats = share * column(case.trucks, "curb_kg")[truck]
    return curb

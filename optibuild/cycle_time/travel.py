"""Minutes and metres between depots and sites."""

import numpy as np

from optibuild.records.build import Floats
from optibuild.records.case import Case, Site
from optibuild.records.catalog import Depot
from optibuild.records.loop import Travel

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the Earth (IUGG)."""
FASTER_MIN = 1e-9
"""A way round must be faster by more than this: noise never replaces the direct way."""


def great_circle_m(lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Great-circle distances between all pairs of places [P, P, m] (haversine form)."""
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    half_lat = np.sin((lat[:, None] - lat[None, :]) / 2) ** 2
    half_lon = np.sin((lon[:, None] - lon[None, :]) / 2) ** 2
    inside = half_lat + np.cos(lat)[:, None] * np.cos(lat)[None, :] * half_lon
    return 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(inside, 0.0, 1.0)))


def close_under_shortest(minutes: Floats, metres: Floats) -> tuple[Floats, Floats]:
    """Fastest minutes between all pairs, and the metres along those ways [P, P]. Ties keep the first way."""
    fast, along = minutes.copy(), metres.copy()
    for via in range(len(fast)):
        round_about = fast[:, via, None] + fast[None, via, :]
        better = round_about < fast - FASTER_MIN
        fast = np.where(better, round_about, fast)
        along = np.where(better, along[:, via, None] + along[None, via, :], along)
    return fast, along


def travel(case: Case) -> Travel:
    """Minutes and metres between all places, depots first.

    Great-circle distance x circuity at the storm's travel speed; a row of the user's travel table replaces
    that in its own direction (without a distance: its time x the travel speed). Closed under shortest paths,
    so that leaving a stop out never lengthens a loop.
    """
    places: list[Depot | Site] = [*case.depots, *case.sites]
    index = {place.id: n for n, place in enumerate(places)}
    speed = case.storm.travel_speed_m_per_min
    metres = case.assumptions.circuity * great_circle_m(
        np.array([place.lat_deg for place in places]), np.array([place.lon_deg for place in places])
    )
    minutes = metres / speed
    for leg in (leg for leg in case.travel if leg.origin != leg.destination):
        pair = index[leg.origin], index[leg.destination]
        minutes[pair] = leg.time_min
        metres[pair] = leg.time_min * speed if leg.distance_m is None else leg.distance_m
    if case.travel:  # distances over the ground alone already are shortest
        minutes, metres = close_under_shortest(minutes, metres)
    return Travel(tuple(index), minutes, metres)

"""Minutes and meters between depots and sites."""

from math import exp, fsum, inf, log

import numpy as np

from optibuild.records.build import Floats
from optibuild.records.case import Case, Leg, Site
from optibuild.records.catalog import Depot
from optibuild.records.loop import Roundabout, Travel

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


def close_under_shortest(minutes: Floats, meters: Floats) -> tuple[Floats, Floats]:
    """Fastest minutes between all pairs, and the meters along those ways [P, P]. Ties keep the first way."""
    fast, along = minutes.copy(), meters.copy()
    for via in range(len(fast)):
        round_about = fast[:, via, None] + fast[None, via, :]
        better = round_about < fast - FASTER_MIN
        fast = np.where(better, round_about, fast)
        along = np.where(better, along[:, via, None] + along[None, via, :], along)
    return fast, along


def _places(case: Case) -> list[Depot | Site]:
    return [*case.depots, *case.sites]


def _index(case: Case) -> dict[str, int]:
    """Every place's number on the axis P."""
    return {place.id: n for n, place in enumerate(_places(case))}


def _straight_m(case: Case) -> Floats:
    """Great circles between all places of a case [P, P, m]."""
    places = _places(case)
    return great_circle_m(
        np.array([place.lat_deg for place in places]), np.array([place.lon_deg for place in places])
    )


def _circuity(case: Case, straight_m: Floats) -> float:
    index = _index(case)
    pairs = [(leg.distance_m or 0.0, float(straight_m[index[leg.origin], index[leg.destination]]))
             for leg in case.travel]
    logs = [log(road / straight) for road, straight in pairs if road > 0 and straight > 0]
    return exp(fsum(logs) / len(logs)) if logs and case.storm.fit_circuity else case.assumptions.circuity


def circuity(case: Case) -> float:
    """Ratio of road to straight distance where no leg is given: the assumption, or, where
    `storm.fit_circuity` asks for it, the geometric mean over the given legs that have both (least squares on
    logs)."""
    return _circuity(case, _straight_m(case))


def leg_min(case: Case, leg: Leg) -> float:
    """Minutes of a given leg in the storm; inf where there is no way."""
    return inf if leg.time_min is None or not leg.passable else leg.time_min * (1 + case.storm.slowdown)


def _leg_m(case: Case, leg: Leg) -> float:
    """Meters of a given leg; without a distance its time in the dry at the travel speed."""
    if leg.distance_m is None and leg.time_min is not None:
        return leg.time_min * case.storm.travel_speed_m_per_min
    return inf if leg.distance_m is None else leg.distance_m


def travel(case: Case) -> Travel:
    """Minutes and meters in the storm between all places, depots first; inf where there is no way.

    Great-circle distance x circuity at the storm's travel speed; a row of the user's travel table replaces
    that in its own direction, its time longer by the storm's slowdown. Closed under shortest paths, so that
    leaving a stop out never lengthens a loop.
    """
    index, straight_m = _index(case), _straight_m(case)
    meters = _circuity(case, straight_m) * straight_m
    minutes = meters / case.storm.travel_speed_m_per_min
    for leg in (leg for leg in case.travel if leg.origin != leg.destination):
        pair = index[leg.origin], index[leg.destination]
        minutes[pair], meters[pair] = leg_min(case, leg), _leg_m(case, leg)
    if case.travel:  # distances over the ground alone already are shortest
        minutes, meters = close_under_shortest(minutes, meters)
    return Travel(tuple(index), minutes, np.where(np.isinf(minutes), inf, meters))


def roundabouts(case: Case, ways: Travel) -> tuple[Roundabout, ...]:
    """The given legs that a way round by other places beats, the most minutes first. `ways` is the case's
    travel, which already goes round."""
    index = _index(case)
    found = []
    for leg in case.travel:
        start, end, direct = index[leg.origin], index[leg.destination], leg_min(case, leg)
        if start != end and ways.minutes[start, end] < direct - FASTER_MIN and direct < inf:
            by = ways.minutes[start] + ways.minutes[:, end]
            by[[start, end]] = inf
            via = int(np.argmin(by))
            found.append(Roundabout(leg.origin, leg.destination, direct, float(by[via]), ways.places[via]))
    return tuple(sorted(found, key=lambda row: row.faster_min - row.direct_min))

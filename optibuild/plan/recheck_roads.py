"""Travel between the places of a plan in the storm: the user's legs, else great-circle distance, by the
fastest roads."""

from dataclasses import dataclass
from math import atan2, cos, exp, inf, log, radians, sin, sqrt

from optibuild.records import Case, Depot, Leg, Site

# Mean radius of the Earth, International Union of Geodesy and Geophysics (R1).
EARTH_RADIUS_M = 6_371_008.8
TIE_MIN = 1e-9


@dataclass(frozen=True)
class Road:
    """The fastest way between two places [min], and the shortest and longest of ways that fast [m]."""

    minutes: float
    least_m: float
    most_m: float


Roads = dict[tuple[str, str], Road]
Place = Depot | Site


def fastest_roads(case: Case, used: set[str]) -> Roads:
    """The fastest ways between the places used, through any place of the case."""
    direct = _direct_roads(case)
    rows = {place: _from_place(place, direct) if case.travel else direct[place] for place in sorted(used)}
    return {(origin, end): rows[origin][end] for origin in rows for end in rows}


def _places(case: Case) -> dict[str, Place]:
    rows: tuple[Place, ...] = (*case.depots, *case.sites)
    return {place.id: place for place in rows}


def _direct_roads(case: Case) -> dict[str, dict[str, Road]]:
    places = _places(case)
    winding = circuity(case)
    roads = {a.id: {b.id: _straight(a, b, winding, case) for b in places.values()} for a in places.values()}
    for leg in case.travel:
        if leg.origin != leg.destination:
            roads[leg.origin][leg.destination] = _leg_road(leg, case)
    return roads


def _leg_road(leg: Leg, case: Case) -> Road:
    """A leg of the user's is given for dry roads: the storm slows it. Inf where there is no way."""
    if leg.time_min is None or not leg.passable:
        return Road(inf, 0.0, 0.0)
    meters = leg.distance_m
    if meters is None:
        meters = leg.time_min * case.storm.travel_speed_m_per_min
    return Road(leg.time_min * (1.0 + case.storm.slowdown), meters, meters)


def circuity(case: Case) -> float:
    """Ratio of road to straight distance: the assumption, or as fitted to the user's legs where that is
    asked.

    The least squares of logarithms over one constant are their mean: the geometric mean of the ratios.
    """
    places = _places(case)
    apart = [(leg.distance_m or 0.0, _apart_m(places[leg.origin], places[leg.destination]))
             for leg in case.travel]
    logs = [log(road_m / straight_m) for road_m, straight_m in apart if road_m > 0 and straight_m > 0]
    if not case.storm.fit_circuity or not logs:
        return case.assumptions.circuity
    return exp(sum(logs) / len(logs))


def _straight(a: Place, b: Place, winding: float, case: Case) -> Road:
    meters = _apart_m(a, b) * winding
    return Road(meters / case.storm.travel_speed_m_per_min, meters, meters)


def _apart_m(a: Place, b: Place) -> float:
    return great_circle_m(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg)


def great_circle_m(lat_a: float, lon_a: float, lat_b: float, lon_b: float) -> float:
    """Great-circle distance [m] from `lat_a`, `lon_a` to `lat_b`, `lon_b` [deg], by the haversine of the
    angle between them."""
    lat_a, lon_a, lat_b, lon_b = (radians(angle) for angle in (lat_a, lon_a, lat_b, lon_b))
    half = sin((lat_b - lat_a) / 2.0) ** 2 + cos(lat_a) * cos(lat_b) * sin((lon_b - lon_a) / 2.0) ** 2
    return 2.0 * EARTH_RADIUS_M * atan2(sqrt(half), sqrt(max(0.0, 1.0 - half)))


def _from_place(origin: str, direct: dict[str, dict[str, Road]]) -> dict[str, Road]:
    """Fastest ways from one place to all (Dijkstra, dense); among ways that tie, the range of distances."""
    best = dict.fromkeys(direct, inf)
    best[origin] = 0.0
    found: dict[str, Road] = {}
    while len(found) < len(direct):
        place = min((name for name in direct if name not in found), key=best.__getitem__)
        found[place] = _arrived(place, best[place], found, direct) if found else Road(0.0, 0.0, 0.0)
        for end, road in direct[place].items():
            best[end] = min(best[end], best[place] + road.minutes)
    return found


def _arrived(place: str, minutes: float, found: dict[str, Road], direct: dict[str, dict[str, Road]]) -> Road:
    ties = [(road, direct[before][place]) for before, road in found.items()
            if road.minutes + direct[before][place].minutes <= minutes + TIE_MIN]
    return Road(minutes, min(road.least_m + leg.least_m for road, leg in ties),
                max(road.most_m + leg.most_m for road, leg in ties))

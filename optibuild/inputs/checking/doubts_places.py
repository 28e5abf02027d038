"""Sites far from every depot: mostly a sign, or latitude and longitude in the other's column."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import acos, cos, radians, sin

from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.tables import Row, Table

EARTH_M = 6_371_000.0
FAR_M = 100_000.0
EXPECTED = "within 100 km (62 mi) of a depot: a loop must come home in its cycle limit"
"""Mean radius of the Earth; how far from its depot no plow truck begins (common practice, no source)."""
FAR_COSINE = cos(FAR_M / EARTH_M)
Vector = tuple[float, float, float]


@dataclass(frozen=True)
class _Depot:
    """A depot's row and its direction from the Earth's center."""

    row: Row
    at: Vector


def doubt_places(tables: Mapping[str, Table], collector: Collector) -> None:
    """Every site farther than 100 km from every depot."""
    sites, depots = tables.get("sites"), tables.get("depots")
    if sites is None or depots is None:
        return
    known = [_Depot(row, _vector(*at)) for row in depots.rows if (at := _at(row))]
    if not known or len(known) < len(depots.rows):
        return
    far = list(_far(sites, known))
    if len(far) > 1 and len(far) == len(sites.rows):
        _add_all(sites, depots, far, known, collector)
        return
    for row, near in far:
        _add(sites, row, depots, near, _hint(_at(row), known), collector)


def _far(sites: Table, depots: Sequence[_Depot]) -> Iterator[tuple[Row, _Depot]]:
    """The sites that lie too far from every depot, each with the nearest one."""
    near = depots[0]
    for row in sites.rows:
        at = _at(row)
        if at is None:
            continue
        here = _vector(*at)
        # neighbors in a table mostly have the same depot, which saves looking at the others
        if _cosine(here, near.at) < FAR_COSINE:
            near = _nearest(here, depots)
            if _cosine(here, near.at) < FAR_COSINE:
                yield row, near


def _at(row: Row) -> tuple[float, float] | None:
    lat, lon = row.values.get("lat_deg"), row.values.get("lon_deg")
    return None if lat is None or lon is None else (lat, lon)


def _vector(lat_deg: float, lon_deg: float) -> Vector:
    lat, lon = radians(lat_deg), radians(lon_deg)
    return cos(lat) * cos(lon), cos(lat) * sin(lon), sin(lat)


def _cosine(one: Vector, other: Vector) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _km(row: Row, depot: _Depot) -> str:
    """Great-circle distance of a site from a depot."""
    cosine = _cosine(_vector(*(_at(row) or (0.0, 0.0))), depot.at)
    return f"{EARTH_M / 1000 * acos(max(-1.0, min(1.0, cosine))):,.0f} km"


def _nearest(at: Vector, depots: Sequence[_Depot]) -> _Depot:
    return max(depots, key=lambda row: _cosine(at, row.at))


def _hint(at: tuple[float, float] | None, depots: Sequence[_Depot]) -> str:
    """What would put a place near a depot; a depot's own mistake is mended in the same way."""
    lat, lon = at or (0.0, 0.0)
    for changed, words in (((lat, -lon), "Is the sign of lon wrong, here or at the depot? West is negative."),
                           ((lon, lat), "Are lat and lon in each other's column?"),
                           ((-lon, lat), "Are lat and lon in each other's column, and a sign wrong?"),
                           ((lon, -lat), "Are lat and lon in each other's column, and a sign wrong?"),
                           ((-lat, lon), "Is the sign of lat wrong, here or at the depot?")):
        there = _vector(*changed)
        if abs(changed[0]) <= 90 and _cosine(there, _nearest(there, depots).at) >= FAR_COSINE:
            return words
    return ""


def _add(sites: Table, row: Row, depots: Table, near: _Depot, hint: str, collector: Collector) -> None:
    text = f"it lies {_km(row, near)} from the nearest depot, '{near.row.values.get('id', '')}'"
    collector.add("doubt.far", text, sites.place(row, "lat_deg"), sites.place(row, "lon_deg"),
                  depots.place(near.row, "lat_deg"), value=_said(row), expected=EXPECTED, hint=hint)


def _add_all(sites: Table, depots: Table, far: Sequence[tuple[Row, _Depot]], known: Sequence[_Depot],
             collector: Collector) -> None:
    """Where every site is far, the depots are more likely wrong, and one doubt says it all."""
    row, near = far[0]
    text = f"all {len(far):,} sites lie far from every depot; the first lies {_km(row, near)} from this one"
    collector.add("doubt.far", text, depots.place(near.row, "lat_deg"), depots.place(near.row, "lon_deg"),
                  sites.place(row, "lat_deg"), value=_said(near.row), expected=EXPECTED,
                  hint=_hint(_at(row), known))


def _said(row: Row) -> str:
    lat, lon = _at(row) or (0.0, 0.0)
    return f"{lat:.6g}, {lon:.6g}"

"""Places of a case on a sheet, to scale."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, floor, log10, radians

from optibuild.records import Depot, Site
from optibuild.report.tables import Units

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the Earth (IUGG)."""
WIDTH, LEAST_HEIGHT, MOST_HEIGHT = 328.0, 140.0, 365.0
ACROSS, ABOVE, BELOW = 24.0, 20.0, 34.0
"""Room around the places; the scale bar lies below."""
LEAST_SPAN_M = 100.0
"""Places closer together than this are not drawn further apart."""


@dataclass(frozen=True)
class Projection:
    """Equirectangular about the middle of the places: meters east and north of it, `per_m` units each.

    Distances are true along the meridians and along the middle parallel.
    """

    lat_deg: float
    lon_deg: float
    per_m: float
    height: float

    def place(self, lat_deg: float, lon_deg: float) -> tuple[float, float]:
        """Where a place lies on the sheet, in its units from the left and from the top."""
        east_m, north_m = meters_from(self.lat_deg, self.lon_deg, lat_deg, lon_deg)
        middle = ABOVE + 0.5 * (self.height - ABOVE - BELOW)
        return 0.5 * WIDTH + east_m * self.per_m, middle - north_m * self.per_m


def meters_from(middle_lat_deg: float, middle_lon_deg: float, lat_deg: float,
                lon_deg: float) -> tuple[float, float]:
    """Meters east and north of the middle; across the 180th meridian the short way."""
    turned = (lon_deg - middle_lon_deg + 180.0) % 360.0 - 180.0
    return (EARTH_RADIUS_M * cos(radians(middle_lat_deg)) * radians(turned),
            EARTH_RADIUS_M * radians(lat_deg - middle_lat_deg))


def projection(places: Sequence[Site | Depot]) -> Projection:
    """The projection that shows all places as large as the sheet allows."""
    lats = [place.lat_deg for place in places]
    start = places[0].lon_deg
    turns = [(place.lon_deg - start + 180.0) % 360.0 - 180.0 for place in places]
    lat = 0.5 * (min(lats) + max(lats))
    lon = start + 0.5 * (min(turns) + max(turns))
    far = [meters_from(lat, lon, place.lat_deg, place.lon_deg) for place in places]
    wide, high = (max(LEAST_SPAN_M, *(2.0 * abs(one[axis]) for one in far)) for axis in (0, 1))
    per_m = min((WIDTH - 2.0 * ACROSS) / wide, (MOST_HEIGHT - ABOVE - BELOW) / high)
    return Projection(lat, lon, per_m, max(LEAST_HEIGHT, high * per_m + ABOVE + BELOW))


def scale_bar(per_m: float, units: Units) -> tuple[float, str]:
    """A round distance of at most a third of the sheet: its length in units, and what it says."""
    unit_m = 1.0 / units.meters_driven(1.0)
    most = WIDTH / 3.0 / per_m / unit_m
    power = 10.0 ** floor(log10(most))
    told = power * max(step for step in (1.0, 2.0, 5.0) if step * power <= most * (1.0 + 1e-9))
    return told * unit_m * per_m, f"{told:g} {units.road('').unit}"

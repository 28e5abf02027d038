"""The arrays that the integer program and the money are made of: minutes of every build at every stop."""

import numpy as np

from optibuild.cycle_time.limits import binds
from optibuild.cycle_time.out_of_reach import out_of_reach
from optibuild.cycle_time.parcels import parcels, stops
from optibuild.cycle_time.reach import Asked, Setting, asked, chunks, possible, setting, stop_minutes
from optibuild.cycle_time.season import season_parts
from optibuild.cycle_time.size import check_minutes
from optibuild.records.build import Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import SeasonRounds, ServiceTimes


def _minutes(place: Setting, rows: Asked) -> Floats:
    """Minutes of every stop, inf where a build cannot make it alone within the clock [C, K, S]."""
    minutes = np.empty((len(place.crews.build), len(place.clocks_min), len(rows.visits)))
    for some in chunks(place, rows.visits):
        all_minutes = stop_minutes(place, rows, some)
        minutes[some] = np.where(possible(place, rows, all_minutes, some), all_minutes, np.inf)
    return minutes


def _by_depot(values: Floats, depot: np.ndarray) -> Floats:
    """Values by depot [D, K, S] for every crewed build; a view where there is one depot only."""
    return np.broadcast_to(values, (len(depot), *values.shape[1:])) if len(values) == 1 else values[depot]


def service_times(case: Case, builds: Builds, rounds: SeasonRounds) -> ServiceTimes:
    """Minutes and material of every fitting build, at every depot, at every stop; axes as in ServiceTimes.

    `minutes` is inf where a build cannot make the stop as the only one of its loop; its parts and the
    season's minutes are finite everywhere and mean something only where `minutes` is finite.
    """
    place = setting(case, builds, builds.fitting)
    parts_of = parcels(place)
    all_stops = stops(case, parts_of)
    check_minutes(len(place.crews.build), len(place.clocks_min), len(all_stops))
    rows = asked(place, all_stops, parts_of)
    season, here = season_parts(place, rows.visits, rounds), place.crews
    minutes = _minutes(place, rows)
    shape, rate = minutes.shape, np.array([depot.reload_rate_kg_per_min for depot in case.depots])
    season_stop = season.plow[here.rig]
    season_stop += season.deice[here.spreader]
    season_stop += season.stop_time
    return ServiceTimes(
        build=here.build, depot=here.depot, clocks_min=place.clocks_min, stops=all_stops, parcels=parts_of,
        minutes=minutes, plow_min=rows.parts.plow[here.rig],
        deice_min=np.broadcast_to(rows.parts.deice[here.spreader][:, None, :], shape),
        material_kg=rows.parts.material_kg, season_plow_min=season.plow[here.rig],
        season_stop_min=season_stop,
        season_reload_min=_by_depot(season.material_kg / rate[:, None, None], here.depot),
        season_material_kg=season.material_kg, travel=place.travel,
        binds=binds(place, rows, minutes), out_of_reach=out_of_reach(place, builds),
    )

"""The arrays that the integer program and the money are made of: minutes of every build at every stop."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time.clocks import clocks
from optibuild.cycle_time.out_of_reach import out_of_reach
from optibuild.cycle_time.parcels import parcels, single_parcels, stops
from optibuild.cycle_time.reach import (
    Asked,
    Setting,
    asked,
    chunks,
    end_stop_minutes,
    narrowed,
    possible,
    setting_of,
    stop_minutes,
)
from optibuild.cycle_time.season import SeasonParts, season_parts
from optibuild.cycle_time.size import MINUTES_AT_ONCE, check_minutes
from optibuild.cycle_time.slowest import slowest
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Builds, Floats, Ints
from optibuild.records.case import Case
from optibuild.records.loop import EndTimes, SeasonRounds, ServiceTimes, Stop


@dataclass(frozen=True)
class SomeBuilds:
    """Some of the fitting builds, with the parcels [N] that all of them make of each site, and whether works
    out of their reach are to be told."""

    builds: Ints
    parcels: Ints
    told: bool


def site_parcels(case: Case, builds: Builds) -> Ints:
    """Into how many equal parts each site is cut, all fitting builds considered [N]."""
    return parcels(setting_of(case, builds, builds.fitting))


def portions(case: Case, builds: Ints, parcels: Ints) -> list[Ints]:
    """Builds, F of them [F], in as few runs as keep the service minutes of a run within bounds, each of all
    kinds; `parcels` [N] of each site."""
    each = len(case.depots) * len(clocks(case)) * len(stops(case, parcels))
    count = max(1, -(-len(builds) * each // MINUTES_AT_ONCE))
    return [builds[k::count] for k in range(count)]


def _minutes(setting: Setting, rows: Asked) -> Floats:
    """Minutes of every stop, inf where a build cannot make it alone within the clock [C, K, S]."""
    minutes = np.empty((len(setting.crews.build), len(setting.clocks_min), len(rows.visits)))
    for some in chunks(setting, rows.visits):
        all_minutes = stop_minutes(setting, rows, some)
        minutes[some] = np.where(possible(setting, rows, all_minutes, some), all_minutes, np.inf)
    return minutes


def _last_round(setting: Setting, rows: Asked, minutes: Floats) -> EndTimes | None:
    """The last round; None where no work waits for it."""
    if not rows.visits.at_end.any():
        return None
    last = np.empty_like(minutes)
    for some in chunks(setting, rows.visits):
        last[some] = np.where(np.isfinite(minutes[some]), end_stop_minutes(setting, rows, some), np.inf)
    return EndTimes(last, rows.parts.material_kg, rows.visits.end_limit_min, rows.visits.only_end)


def _loading_min(setting: Setting, material_kg: Floats) -> Floats:
    """Minutes of loading dry deicer [K, S] for every crewed build [C, K, S]; a view where all load alike."""
    case, here = setting.case, setting.crews
    rate = np.array([depot.reload_rate_kg_per_min for depot in case.depots])
    pace = rate[here.depot] * here.spreaders.strength[here.spreader]
    if len(pace) and (pace == pace[0]).all():
        return np.broadcast_to(material_kg / pace[0], (len(pace), *material_kg.shape))
    return np.asarray(material_kg / pace[:, None, None])


def _stop_min(setting: Setting, season: SeasonParts) -> Floats:
    """All minutes of a season at every stop [C, K, S]."""
    minutes = season.plow[setting.crews.rig]
    minutes += season.deice[setting.crews.spreader]
    minutes += season.stop_time
    return minutes


def _paid(setting: Setting, builds: Builds, rows: Visits, rounds: SeasonRounds,
          plain: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """A season's minutes at stops and of loading [C, K, S] as they are paid; as they are where a truck is
    hired, whose rate knows no overtime."""
    if rounds.as_paid is rounds:
        return plain
    season = season_parts(setting, rows, rounds.as_paid)
    hired = np.array([truck.hired_usd_per_min is not None for truck in setting.case.trucks], dtype=bool)
    of_hired = hired[builds.truck[setting.crews.build]][:, None, None]
    return (np.where(of_hired, plain[0], _stop_min(setting, season)),
            np.where(of_hired, plain[1], _loading_min(setting, season.material_kg)))


def _never(stops: Sequence[Stop], minutes: Floats, case: Case) -> list[Stop]:
    """Of the single parcels that size the sites, those that no build can do."""
    done = np.flatnonzero(np.isfinite(minutes).any(axis=(0, 1)))
    reached = {stops[s] for s in done.tolist()}
    return [stop for stop in single_parcels(case) if stop not in reached]


def service_times(
    case: Case, builds: Builds, rounds: SeasonRounds, some: SomeBuilds | None = None
) -> ServiceTimes:
    """Minutes and material of every fitting build, or of `some` of them, at every depot, at every stop; axes
    as in ServiceTimes.

    `minutes` is inf where a build cannot make the stop as the only one of its loop; its parts and the
    season's minutes are finite everywhere and mean something only where `minutes` is finite.
    """
    setting = setting_of(case, builds, builds.fitting if some is None else some.builds)
    cut = parcels(setting) if some is None else some.parcels
    all_stops = stops(case, cut)
    check_minutes(len(setting.crews.build), len(setting.clocks_min), len(all_stops))
    rows = asked(setting, all_stops, cut)
    season, here = season_parts(setting, rows.visits, rounds), setting.crews
    minutes = _minutes(setting, rows)
    at_end = rows.visits.at_end
    singles = np.flatnonzero([stop.parcels == 1 for stop in all_stops])
    season_stop, season_reload = _stop_min(setting, season), _loading_min(setting, season.material_kg)
    paid_stop, paid_reload = _paid(setting, builds, rows.visits, rounds, (season_stop, season_reload))
    return ServiceTimes(
        build=here.build, depot=here.depot, clocks_min=setting.clocks_min, stops=all_stops, parcels=cut,
        minutes=minutes, plow_min=rows.parts.plow[here.rig],
        deice_min=np.broadcast_to(rows.parts.deice[here.spreader][:, None, :], minutes.shape),
        material_kg=np.where(at_end, 0.0, rows.parts.material_kg),
        strength=here.spreaders.strength[here.spreader],
        season_stop_min=season_stop, season_reload_min=season_reload,
        paid_stop_min=paid_stop, paid_reload_min=paid_reload,
        season_material_kg=season.material_kg, travel=setting.travel,
        slowest=slowest(setting, narrowed(rows, singles)),
        out_of_reach=() if some is not None and not some.told else out_of_reach(
            setting, builds, _never(all_stops, minutes, case)),
        end=_last_round(setting, rows, minutes),
    )

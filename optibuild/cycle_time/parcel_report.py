"""What more parcels change: how many builds reach a work, and the minutes of one parcel and of all."""

import numpy as np

from optibuild.cycle_time.parcels import single_parcels
from optibuild.cycle_time.reach import (
    Setting,
    asked,
    chunks,
    end_stop_minutes,
    possible,
    setting_of,
    stop_minutes,
)
from optibuild.records.build import Bools, Builds, Floats, Ints
from optibuild.records.case import Case
from optibuild.records.loop import ParcelFigures, ParcelRow, ServiceTimes, Stop


def parcel_report(case: Case, builds: Builds, times: ServiceTimes) -> tuple[ParcelRow, ...]:
    """A row for each work that sizes a site, with its parcels as they are and twice as many.

    Minutes are of a round that does all works. Twice as many may be more than assumptions.most_parcels.
    """
    setting, stops = setting_of(case, builds, builds.fitting), single_parcels(case)
    now, twice = _figures(setting, stops, times.parcels), _figures(setting, stops, 2 * times.parcels)
    return tuple(ParcelRow(case.sites[stop.site].id, stop.work, *figures)
                 for stop, figures in zip(stops, zip(now, twice, strict=True), strict=True))


def _figures(setting: Setting, stops: tuple[Stop, ...], parcels: Ints) -> list[ParcelFigures]:
    builds, fastest = _reach(setting, stops, parcels)
    return [
        _one(int(parcels[stop.site]), int(count), float(minutes))
        for stop, count, minutes in zip(stops, builds, fastest, strict=True)
    ]


def _one(parcels: int, builds: int, fastest_min: float) -> ParcelFigures:
    if not builds:
        return ParcelFigures(parcels, 0, None, None)
    return ParcelFigures(parcels, builds, fastest_min, parcels * fastest_min)


def _reach(setting: Setting, stops: tuple[Stop, ...], parcels: Ints) -> tuple[Ints, Floats]:
    """Builds that can do one parcel alone, and the minutes of the fastest, each build told at the longest
    clock at which it can [S]."""
    rows, fastest = asked(setting, stops, parcels), np.full(len(stops), np.inf)
    within: list[Bools] = [np.zeros((0, len(stops)), dtype=bool)]
    for some in chunks(setting, rows.visits):
        able = possible(setting, rows, stop_minutes(setting, rows, some), some)
        clock = able.shape[1] - 1 - np.argmax(able[:, ::-1], axis=1)
        minutes = np.take_along_axis(end_stop_minutes(setting, rows, some), clock[:, None], axis=1)[:, 0]
        within.append(np.asarray(able.any(axis=1)))
        fastest = np.minimum(fastest, np.where(within[-1], minutes, np.inf).min(axis=0))
    # the crewed builds of one build, at every depot, lie side by side
    by_build = np.concatenate(within).reshape(-1, len(setting.case.depots), len(stops))
    return by_build.any(axis=1).sum(axis=0), fastest

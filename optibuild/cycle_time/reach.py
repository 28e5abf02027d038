"""Which builds can make a stop taken alone: equipment, access, fill, cycle limit, deadline."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from optibuild.cycle_time.access import Access, access
from optibuild.cycle_time.clocks import clocks, design_depth_m
from optibuild.cycle_time.crews import Crews, crews
from optibuild.cycle_time.parts import Parts, parts
from optibuild.cycle_time.size import check_places
from optibuild.cycle_time.timed import timed_scales
from optibuild.cycle_time.travel import travel
from optibuild.cycle_time.visits import Visits, visits
from optibuild.records.build import Bools, Builds, Floats, Ints
from optibuild.records.case import Case
from optibuild.records.loop import Stop, Travel

TIME_TOLERANCE_MIN = 1e-6
FILL_TOLERANCE = 1e-9
CHUNK = 1_000_000
"""Cells worked on at a time: bounds the memory of the steps between."""


@dataclass(frozen=True)
class Setting:
    """What every question about minutes in a case starts from; `to_scale` [N] is that of timed sites."""

    case: Case
    crews: Crews
    access: Access
    travel: Travel
    clocks_min: Floats
    to_scale: Floats


@dataclass(frozen=True)
class Asked:
    """Stops with their minutes by part."""

    visits: Visits
    parts: Parts


def setting_of(case: Case, builds: Builds, chosen: Ints) -> Setting:
    """The setting for the `chosen` builds, F of them [F]. TooLarge where the case has too many places."""
    check_places(len(case.depots) + len(case.sites))
    crewed = crews(case, builds, chosen)
    return Setting(case, crewed, access(case, builds, crewed), travel(case), clocks(case), timed_scales(case))


def asked(setting: Setting, stops: Sequence[Stop], parcels: Ints) -> Asked:
    """The stops in the design storm; `parcels` [N] are the equal parts of each site."""
    rows = visits(setting.case, stops, parcels, setting.to_scale)
    depth = design_depth_m(setting.case, setting.clocks_min)
    return Asked(rows, parts(setting.case, setting.crews, setting.travel, setting.clocks_min, rows, depth))


def narrowed(rows: Asked, kept: Ints) -> Asked:
    """The `kept` ones of the stops, by index [S]."""
    if len(kept) == len(rows.visits):
        return rows
    visits, parts_of = ({field.name: getattr(whole, field.name)[..., kept] for field in fields(whole)}
                        for whole in (rows.visits, rows.parts))
    return Asked(Visits(**visits), Parts(**parts_of))


def chunks(setting: Setting, rows: Visits) -> Iterator[slice]:
    """Runs of crewed builds, few enough to work on at a time."""
    size = max(1, CHUNK // max(1, len(rows) * len(setting.clocks_min)))
    count = len(setting.crews.build)
    return (slice(start, min(start + size, count)) for start in range(0, count, size))


def stop_minutes(setting: Setting, rows: Asked, some: slice) -> Floats:
    """Minutes of every stop, feasible or not [c, K, S]: stop time, plow, deice, reloading by mass.

    They are those of a round before the last: what waits for the last round takes none.
    """
    steady = np.where(rows.visits.at_end, 0.0, _deice_min(setting, rows, some))
    steady += np.where(rows.visits.only_end, 0.0, rows.visits.stop_time_min)
    return np.asarray(rows.parts.plow[setting.crews.rig[some]] + steady[:, None, :])


def end_stop_minutes(setting: Setting, rows: Asked, some: slice) -> Floats:
    """Minutes of every stop in the last round, with all its works [c, K, S]."""
    steady = _deice_min(setting, rows, some) + rows.visits.stop_time_min
    return np.asarray(rows.parts.plow[setting.crews.rig[some]] + steady[:, None, :])


def _deice_min(setting: Setting, rows: Asked, some: slice) -> Floats:
    """Deicing, and reloading by mass what it used [c, S]."""
    spreader, depot = setting.crews.spreader[some], setting.crews.depot[some]
    return np.asarray(rows.parts.deice[spreader] + rows.parts.reload[depot, spreader])


def equipped(setting: Setting, rows: Asked, some: slice) -> Bools:
    """Whether a build has what each stop's work needs [c, S]."""
    here = setting.crews
    plow = rows.parts.able[here.rig[some]] | ~rows.visits.plowed
    deice = (here.spreaders.there[here.spreader[some]] > 0)[:, None] | ~rows.visits.deiced
    return np.asarray(plow & deice)


def fill_over_kg(setting: Setting, rows: Asked, some: slice) -> Floats:
    """Material of each stop beyond the usable fill [c, S]; 0 or less within the tolerance of 1e-9."""
    return rows.parts.material_kg - setting.crews.fill_kg[some, None] * (1 + FILL_TOLERANCE)


def loop_over_min(setting: Setting, rows: Asked, minutes: Floats, some: slice) -> Floats:
    """By how much the loop of one stop alone exceeds each clock [c, K, S]; inf where it may not ride.

    `minutes` [c, K, S] are those of a round before the last, which passes by what waits for that one.
    """
    depot, drive = setting.crews.depot[some], rows.parts.out + rows.parts.home
    reload = np.where(rows.visits.at_end, 0.0, rows.parts.fixed_reload)
    around = (np.where(rows.visits.only_end, 0.0, drive) + reload)[depot]
    over = minutes + (around + setting.case.solve.reserve_min)[:, None, :] - setting.clocks_min[:, None]
    rides = setting.clocks_min[:, None] <= rows.visits.limit_min + TIME_TOLERANCE_MIN
    return np.where(rides, over, np.inf)


def end_over_min(setting: Setting, rows: Asked, minutes: Floats, some: slice) -> Floats:
    """By how much the last round of one stop alone takes too long [c, K, S]; `minutes` are of that round."""
    around = (rows.parts.out + rows.parts.home + rows.parts.fixed_reload)[setting.crews.depot[some]]
    return _over(minutes + (around + setting.case.solve.reserve_min)[:, None, :], rows.visits.end_limit_min)


def deadline_over_min(setting: Setting, rows: Asked, minutes: Floats, some: slice) -> Floats:
    """By how much a stop made first ends past its deadline [c, K, S]."""
    ends = minutes + rows.parts.out[setting.crews.depot[some]][:, None, :]
    return _over(ends, rows.visits.deadline_min)


def _over(minutes: Floats, limit_min: Floats) -> Floats:
    """Minutes beyond a limit; where there is none nothing is, even if there is no way."""
    return np.where(np.isinf(limit_min), -np.inf, minutes - np.where(np.isinf(limit_min), 0.0, limit_min))


def possible(setting: Setting, rows: Asked, minutes: Floats, some: slice) -> Bools:
    """Whether a build can make a stop alone within a clock [c, K, S]. Equal is feasible."""
    ready = equipped(setting, rows, some) & (fill_over_kg(setting, rows, some) <= 0)
    ready &= setting.access.allowed[setting.crews.chosen[some]][:, rows.visits.site]
    in_time = loop_over_min(setting, rows, minutes, some) <= TIME_TOLERANCE_MIN
    in_time &= deadline_over_min(setting, rows, minutes, some) <= TIME_TOLERANCE_MIN
    if rows.visits.at_end.any():
        last = end_stop_minutes(setting, rows, some)
        in_time &= end_over_min(setting, rows, last, some) <= TIME_TOLERANCE_MIN
    return np.asarray(in_time & ready[:, None, :])


def reached(setting: Setting, stops: Sequence[Stop], parcels: Ints) -> Bools:
    """Which builds can make which stops alone, at whatever clock [C, S]."""
    rows = asked(setting, stops, parcels)
    parts_of = [
        possible(setting, rows, stop_minutes(setting, rows, some), some).any(axis=1)
        for some in chunks(setting, rows.visits)
    ]
    return np.concatenate([np.zeros((0, len(stops)), dtype=bool), *parts_of])

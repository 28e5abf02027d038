"""The beginning and the end of a time sheet: whether a stop can be made, and what is left of each limit."""

import numpy as np

from optibuild.cycle_time.reach import (
    TIME_TOLERANCE_MIN,
    Asked,
    Setting,
    deadline_over_min,
    end_over_min,
    end_stop_minutes,
    fill_over_kg,
    loop_over_min,
    stop_minutes,
)
from optibuild.records.build import Builds, Floats

Line = tuple[str, float | str, str]
"""Label, value in inner units (or a word), dimension as in `units.DIMENSIONS` ('count', 'word' have none)."""


def verdict_lines(setting: Setting, builds: Builds, found: Asked, build: int) -> tuple[Line, ...]:
    """Whether the stop can be made alone in its loop, and what stands in the way."""
    every = slice(None)
    plain, last = stop_minutes(setting, found, every), end_stop_minutes(setting, found, every)
    depot = _depot(found)
    way = bool(np.isfinite(_drive_min(found, depot)))
    rows, blade = found.visits, setting.crews.rigs.blade_width_m[0] > 0
    spreader = setting.crews.spreaders.there[setting.crews.spreader[0]] > 0
    ways = (
        (not builds.fits[build], "does not fit"),
        (rows.plowed[0] and not blade, "no plow"),
        (rows.plowed[0] and blade and not found.parts.able[0, 0], "its plow cannot push: blade or grip"),
        (rows.deiced[0] and not spreader, "no spreader"),
        (not setting.access.allowed[0, rows.site[0]], "access"),
        (spreader and fill_over_kg(setting, found, every)[0, 0] > 0, "fill"),
        (not way, "no way there and back"),
        (_late(loop_over_min(setting, found, plain, every), depot, way), "cycle limit"),
        (_late(deadline_over_min(setting, found, plain, every), depot, way), "deadline"),
        (_late(end_over_min(setting, found, last, every), depot, way), "last round"),
    )
    against = [words for holds, words in ways if holds]
    return (("can be done alone in a loop", f"no: {', '.join(against)}" if against else "yes", "word"),)


def _late(over_min: Floats, depot: int, way: bool) -> bool:
    """Whether a promise of time [depot, 1, 1] is missed, where there is a way to miss it by."""
    return way and bool(over_min[depot, 0, 0] > TIME_TOLERANCE_MIN)


def _depot(found: Asked) -> int:
    """The nearest depot."""
    return int(np.argmin(found.parts.out[:, 0] + found.parts.home[:, 0]))


def _drive_min(found: Asked, depot: int) -> float:
    return float(found.parts.out[depot, 0] + found.parts.home[depot, 0])


def sum_lines(setting: Setting, found: Asked) -> tuple[Line, ...]:
    """The stop summed up, the way from the nearest depot and home, and what is left of each limit."""
    minutes, rows, depot = found.parts, found.visits, _depot(found)
    here, row = slice(depot, depot + 1), setting.case.depots[depot]
    every, last = stop_minutes(setting, found, here), end_stop_minutes(setting, found, here)
    drive, spreader = _drive_min(found, depot), int(setting.crews.spreader[0])
    away = f"drive out and home, depot {row.id}"
    wet = rows.deiced[0] and setting.crews.spreaders.there[spreader]
    stop = (
        ("arrive, look, log", float(rows.stop_time_min[0]), "time"),
        *((("reload rate", row.reload_rate_kg_per_min, "mass_rate"),
           ("reloading what is used", float(minutes.reload[depot, spreader, 0]), "time")) if wet else ()),
        ("the whole stop", float(last[0, 0, 0]), "time"),
    )
    if np.isinf(drive):
        return (*stop, (away, "no way", "word"))
    return (
        *stop, (away, drive, "time"),
        *((("reload at the end", float(minutes.fixed_reload[depot, 0]), "time"),) if wet else ()),
        ("reserve", setting.case.solve.reserve_min, "time"), *_left_lines(setting, found, here, every, last))


def _left_lines(setting: Setting, found: Asked, here: slice, every: Floats, last: Floats) -> tuple[Line, ...]:
    """What is left of each limit."""
    rows, lines = found.visits, list[Line]()
    if not rows.only_end[0]:
        if rows.at_end[0]:
            lines.append(("the stop in the rounds before the last", float(every[0, 0, 0]), "time"))
        late = loop_over_min(setting, found, every, here)[0, 0, 0]
        lines.append(("left of the cycle limit", -float(late), "time"))
    if np.isfinite(rows.deadline_min[0]):
        late = deadline_over_min(setting, found, every, here)[0, 0, 0]
        lines.append(("left of the deadline", -float(late), "time"))
    if rows.at_end[0]:
        late = end_over_min(setting, found, last, here)[0, 0, 0]
        lines.append(("left of the last round's time", -float(late), "time"))
    return tuple(lines)

"""Works that no build can do at a site: the build that comes nearest, and what stands in its way."""

import numpy as np

from optibuild.cycle_time.access import KINDS
from optibuild.cycle_time.parcels import most_parcels, single_parcels
from optibuild.cycle_time.reach import (
    Asked,
    Setting,
    asked,
    deadline_over_min,
    equipped,
    fill_over_kg,
    loop_over_min,
    reached,
    stop_minutes,
)
from optibuild.records.build import Bools, Builds
from optibuild.records.loop import OutOfReach, Stop

EVERY = slice(None)
TOOLS = {"plow": "plow", "deice": "spreader", "both": "plow and a spreader"}


def out_of_reach(place: Setting, builds: Builds) -> tuple[OutOfReach, ...]:
    """A row for each work of a site that no build can do even as one of its most parcels."""
    most = most_parcels(place.case)
    singles = single_parcels(place.case)
    far = np.asarray(~reached(place, singles, most).any(axis=0))
    return tuple(
        _nearest(place, builds, stop, asked(place, [stop], most))
        for stop, out in zip(singles, far.tolist(), strict=True)
        if out
    )


def _nearest(place: Setting, builds: Builds, stop: Stop, row: Asked) -> OutOfReach:
    """Time is looked at first among builds that pass access and fill, then fill, then access."""
    ready = equipped(place, row, EVERY)[:, 0]
    enters = place.allowed[place.crews.fit, stop.site] & ready
    filled = (fill_over_kg(place, row, EVERY)[:, 0] <= 0) & enters
    if filled.any():
        return _late(place, builds, stop, row, filled)
    if enters.any():
        over = np.where(enters, fill_over_kg(place, row, EVERY)[:, 0], np.inf)
        return _row(place, builds, stop, "fill", int(np.argmin(over)), float(over.min()), "kg")
    if ready.any():
        return _barred(place, builds, stop, ready)
    return _row(place, builds, stop, f"no build with a {TOOLS[stop.work]} fits", None, None, None)


def _row(
    place: Setting, builds: Builds, stop: Stop, reason: str, crewed: int | None, over: float | None,
    unit: str | None,
) -> OutOfReach:
    nearest = None if crewed is None else builds.name(place.crews.build[crewed])
    return OutOfReach(place.case.sites[stop.site].id, stop.work, reason, nearest, over, unit)


def _late(place: Setting, builds: Builds, stop: Stop, row: Asked, filled: Bools) -> OutOfReach:
    """The build and clock that come least late, by loop or by deadline, whichever is later."""
    minutes = stop_minutes(place, row, EVERY)
    loop = loop_over_min(place, row, minutes, EVERY)[:, :, 0]
    due = deadline_over_min(place, row, minutes, EVERY)[:, :, 0]
    late = np.where(filled[:, None], np.maximum(loop, due), np.inf)
    crewed, clock = np.unravel_index(np.argmin(late), late.shape)
    reason = "deadline" if due[crewed, clock] > loop[crewed, clock] else "cycle limit"
    return _row(place, builds, stop, reason, int(crewed), float(late[crewed, clock]), "min")


def _barred(place: Setting, builds: Builds, stop: Stop, ready: Bools) -> OutOfReach:
    """The build whose worst access figure exceeds what the site allows by the least share."""
    has, allows = place.access.has[:, place.crews.fit], place.access.allows[:, stop.site]
    worst = (has / allows[:, None]).max(axis=0)
    crewed = int(np.argmin(np.where(ready, worst, np.inf)))
    kind = int(np.argmax(has[:, crewed] / allows))
    name, unit = KINDS[kind]
    return _row(place, builds, stop, f"access: {name}", crewed, float(has[kind, crewed] - allows[kind]), unit)

"""Works that no build can do at a site: the build that comes nearest, what stands in its way, what helps."""

from collections.abc import Sequence

import numpy as np

from optibuild.cycle_time.access import KINDS
from optibuild.cycle_time.parcels import most_parcels
from optibuild.cycle_time.reach import (
    Asked,
    Setting,
    asked,
    deadline_over_min,
    end_over_min,
    end_stop_minutes,
    equipped,
    fill_over_kg,
    loop_over_min,
    reached,
    stop_minutes,
)
from optibuild.cycle_time.remedies import remedies
from optibuild.records.build import Bools, Builds
from optibuild.records.loop import Stop
from optibuild.records.shortfall import OutOfReach

EVERY = slice(None)
TOOLS = {"plow": "plow", "deice": "spreader", "both": "plow and a spreader"}
NO_PUSH = "no plow can push the snow"
LATE = ("cycle limit", "deadline", "end round")


def out_of_reach(setting: Setting, builds: Builds, singles: Sequence[Stop]) -> tuple[OutOfReach, ...]:
    """A row for each of these single parcels that no build can do even as one of its site's most."""
    most = most_parcels(setting.case)
    far = np.asarray(~reached(setting, singles, most).any(axis=0))
    return tuple(
        _nearest(setting, builds, stop, asked(setting, [stop], most), int(most[stop.site]))
        for stop, out in zip(singles, far.tolist(), strict=True)
        if out
    )


def _nearest(setting: Setting, builds: Builds, stop: Stop, row: Asked, parcels: int) -> OutOfReach:
    """Time is looked at first among builds that pass access and fill, then fill, then access."""
    site = setting.case.sites[stop.site].id
    if np.isinf(row.parts.out + row.parts.home).all():
        return OutOfReach(site, stop.work, "no way", None, None, None)
    ready = equipped(setting, row, EVERY)[:, 0]
    if not ready.any():
        return OutOfReach(site, stop.work, _unequipped(setting, stop, row), None, None, None)
    reason, crewed, over, unit = _missed(setting, stop, row, ready)
    build = int(setting.crews.build[crewed])
    helps = remedies(setting, builds, stop, parcels, build)
    return OutOfReach(site, stop.work, reason, builds.name(build), over, unit, helps)


def _unequipped(setting: Setting, stop: Stop, row: Asked) -> str:
    """What no build has: the tools, or plows that can push."""
    here = setting.crews
    blades = here.rigs.blade_width_m[here.rig] > 0
    spreads = (here.spreaders.there[here.spreader] > 0) | ~row.visits.deiced[0]
    if row.visits.plowed[0] and (blades & spreads).any():
        return NO_PUSH
    return f"no build with a {TOOLS[stop.work]} fits"


def _missed(setting: Setting, stop: Stop, row: Asked, ready: Bools) -> tuple[str, int, float, str]:
    """What the nearest crewed build misses, which one that is, by how much, in which unit."""
    enters = setting.access.allowed[setting.crews.chosen, stop.site] & ready
    if not enters.any():
        return _barred(setting, stop, ready)
    short_kg = fill_over_kg(setting, row, EVERY)[:, 0]
    filled = (short_kg <= 0) & enters
    if filled.any():
        return _late(setting, row, filled)
    strength = setting.crews.spreaders.strength[setting.crews.spreader]
    over = np.where(enters, short_kg / strength, np.inf)
    return "fill", int(np.argmin(over)), float(over.min()), "kg"


def _late(setting: Setting, row: Asked, filled: Bools) -> tuple[str, int, float, str]:
    """The build and clock that come least late, by whichever of their promises they miss most."""
    minutes = stop_minutes(setting, row, EVERY)
    last = end_stop_minutes(setting, row, EVERY)
    over = np.stack([
        loop_over_min(setting, row, minutes, EVERY), deadline_over_min(setting, row, minutes, EVERY),
        end_over_min(setting, row, last, EVERY)])[..., 0]
    late = np.where(filled[:, None], over.max(axis=0), np.inf)
    crewed, clock = np.unravel_index(np.argmin(late), late.shape)
    worst = int(np.argmax(over[:, crewed, clock]))
    return LATE[worst], int(crewed), float(late[crewed, clock]), "min"


def _barred(setting: Setting, stop: Stop, ready: Bools) -> tuple[str, int, float, str]:
    """The build whose worst access figure exceeds what the site allows by the least share."""
    has, allows = setting.access.has[:, setting.crews.chosen], setting.access.allows[:, stop.site]
    worst = (has / allows[:, None]).max(axis=0)
    crewed = int(np.argmin(np.where(ready, worst, np.inf)))
    kind = int(np.argmax(has[:, crewed] / allows))
    name, unit = KINDS[kind]
    return f"access: {name}", crewed, float(has[kind, crewed] - allows[kind]), unit

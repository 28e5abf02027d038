"""Which single change brings a work within reach: each is made to the case, and the engine is asked again."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, floor, inf
from typing import Any

import numpy as np

from optibuild.cycle_time.access import KINDS, access
from optibuild.cycle_time.crews import crews
from optibuild.cycle_time.reach import (
    TIME_TOLERANCE_MIN,
    Asked,
    Setting,
    asked,
    chunks,
    deadline_over_min,
    end_over_min,
    end_stop_minutes,
    possible,
    stop_minutes,
)
from optibuild.cycle_time.timed import timed_scales
from optibuild.errors import UnusableTiming
from optibuild.records.build import NONE, Bools, Builds, Floats, Ints
from optibuild.records.case import Case, Site
from optibuild.records.loop import Stop, Travel
from optibuild.records.shortfall import Remedy

MOST_PARCELS = 1000
LONGEST_MIN = 24 * 60
HOUR_MIN = 60
INCH_M = 0.0254
WIDEST_IN = 16 * 12
ALLOWED = ("most_gross_kg", "most_width_m", "most_turning_circle_m")
"""What a site allows, in the order of the kinds of access."""
Figure = Callable[[Setting, Asked, slice], Floats]
"""A figure of a stop by crewed build and clock, to broadcast to [c, K, 1]."""


def remedies(setting: Setting, builds: Builds, stop: Stop, parcels: int, nearest: int) -> tuple[Remedy, ...]:
    """The changes that suffice, each alone, for a work out of reach as one of so many parcels.

    `nearest` indexes the builds; its blade is the one that is widened.
    """
    asks = Question(_alone(setting, stop.site), builds, replace(stop, site=0), parcels)
    found = (_side(asks), _parcels(asks), _cycle_limit(asks), _end_round(asks), _deadline(asks),
             *(_access(asks, kind) for kind in range(len(KINDS))), _fill(asks), _blade(asks, nearest))
    return tuple(remedy for remedy in found if remedy is not None)


@dataclass(frozen=True)
class Question:
    """One work out of reach, in a case of its site alone, on the roads and clocks of the whole case."""

    setting: Setting
    builds: Builds
    stop: Stop
    parcels: int

    @property
    def site(self) -> Site:
        """The site as it is."""
        return self.setting.case.sites[0]

    def by_clock(self, setting: Setting, figure: Figure, parcels: int) -> Floats:
        """The least number that `figure` gives over all builds that can do one parcel there, by clock [K];
        inf where none can."""
        rows, least = asked(setting, [self.stop], np.array([parcels])), np.full(len(setting.clocks_min), inf)
        for some in chunks(setting, rows.visits):
            able = possible(setting, rows, stop_minutes(setting, rows, some), some)
            least = np.minimum(least, np.where(able, figure(setting, rows, some), inf).min(axis=0)[:, 0])
        return least

    def least(self, setting: Setting, figure: Figure) -> float:
        """The least number over all clocks too."""
        return float(self.by_clock(setting, figure, self.parcels).min())

    def suffices(self, setting: Setting, parcels: int | None = None) -> bool:
        """Whether any build can do one parcel there."""
        return bool((self.by_clock(setting, _nothing, parcels or self.parcels) < inf).any())

    def clocks_kept(self, setting: Setting, clocks_min: Floats) -> Bools:
        """Which of these clocks any build keeps there [K]."""
        return self.by_clock(replace(setting, clocks_min=clocks_min), _nothing, self.parcels) < inf

    def changed(self, **changes: Any) -> Setting:
        """The same setting with fields of the site replaced."""
        case = replace(self.setting.case, sites=(replace(self.site, **changes),))
        return replace(self.setting, case=case, access=access(case, self.builds, self.setting.crews),
                       to_scale=timed_scales(case))


def _alone(setting: Setting, site: int) -> Setting:
    """The setting of one site alone."""
    depots = len(setting.case.depots)
    kept = np.ix_([*range(depots), depots + site], [*range(depots), depots + site])
    ways = Travel((*setting.travel.places[:depots], setting.travel.places[depots + site]),
                  setting.travel.minutes[kept], setting.travel.meters[kept])
    one = replace(setting.access, allows=setting.access.allows[:, [site]])
    return replace(setting, case=replace(setting.case, sites=(setting.case.sites[site],)), access=one,
                   travel=ways, to_scale=setting.to_scale[[site]])


def _nothing(setting: Setting, rows: Asked, some: slice) -> Floats:
    """A figure that only tells whether any build can."""
    return np.zeros(1)


def _whole(minutes: float) -> float:
    """The least whole minutes that these are within."""
    return float(ceil(minutes - TIME_TOLERANCE_MIN))


def _side(asks: Question) -> Remedy | None:
    if asks.stop.work == "deice" or asks.site.snow_goes == "side":
        return None
    try:
        setting = asks.changed(snow_goes="side")
    except UnusableTiming:  # what timed the site clears nothing with its blade at an angle
        return None
    return Remedy("snow to the side", None, "") if asks.suffices(setting) else None


def _parcels(asks: Question) -> Remedy | None:
    """More parcels make each smaller in area, snow and material, and nothing else: who can do one of n can
    do one of n + 1, so the least number is found by halving."""

    def enough(parcels: int) -> bool:
        return asks.suffices(asks.setting, parcels)

    few, many = asks.parcels, MOST_PARCELS
    if few >= many or not enough(many):
        return None
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if enough(middle) else (middle, many)
    return Remedy("parcels", float(many), "parcels")


def _cycle_limit(asks: Question) -> Remedy | None:
    """The snow grows with the limit, so that a longer one may be of no use where a shorter one is: every
    whole minute up to 24 h counts. No hour is looked at in which even the snow at its beginning keeps a loop
    beyond its end."""
    site, work = asks.site, asks.stop.work
    limited = {"plow_every_min": work != "deice", "deice_every_min": work != "plow" and site.deiced_each}
    fields = [name for name, rides in limited.items() if rides]
    if not fields:
        return None
    loose = asks.changed(**dict.fromkeys(fields, float(LONGEST_MIN)))
    now = min(limit for name in fields if (limit := getattr(site, name)) is not None)
    hours = np.arange(floor(now) + 1, LONGEST_MIN + 1, HOUR_MIN, dtype=float)
    for first in hours[asks.clocks_kept(_an_hour_longer(loose), hours)]:
        minutes = np.arange(first, min(first + HOUR_MIN, LONGEST_MIN + 1))
        kept = minutes[asks.clocks_kept(loose, minutes)]
        if len(kept):
            return Remedy("cycle limit", float(kept[0]), "min")
    return None


def _an_hour_longer(setting: Setting) -> Setting:
    """The setting in which a loop may take an hour longer than its clock."""
    solve = replace(setting.case.solve, reserve_min=setting.case.solve.reserve_min - HOUR_MIN)
    return replace(setting, case=replace(setting.case, solve=solve))


def _end_round(asks: Question) -> Remedy | None:
    if asks.stop.work == "plow" or not asks.site.deiced_at_end:
        return None
    least = asks.least(asks.changed(end_within_min=inf), _end_round_min)
    return Remedy("end round", _whole(least), "min") if least < inf else None


def _end_round_min(setting: Setting, rows: Asked, some: slice) -> Floats:
    from_start = replace(rows, visits=replace(rows.visits, end_limit_min=np.zeros(1)))
    return end_over_min(setting, from_start, end_stop_minutes(setting, rows, some), some)


def _deadline(asks: Question) -> Remedy | None:
    if asks.site.deadline_min == inf:
        return None
    least = asks.least(asks.changed(deadline_min=inf), _leaving_min)
    return Remedy("deadline", _whole(least), "min") if least < inf else None


def _leaving_min(setting: Setting, rows: Asked, some: slice) -> Floats:
    from_start = replace(rows, visits=replace(rows.visits, deadline_min=np.zeros(1)))
    return deadline_over_min(setting, from_start, stop_minutes(setting, rows, some), some)


def _access(asks: Question, kind: int) -> Remedy | None:
    def has(setting: Setting, rows: Asked, some: slice) -> Floats:
        return setting.access.has[kind, setting.crews.chosen[some], None, None]

    if getattr(asks.site, ALLOWED[kind]) == inf:
        return None
    name, unit = KINDS[kind]
    least = asks.least(asks.changed(**{ALLOWED[kind]: inf}), has)
    return Remedy(name, least, unit) if least < inf else None


def _fill(asks: Question) -> Remedy | None:
    if asks.stop.work == "plow":
        return None
    here = asks.setting.crews
    endless = replace(asks.setting, crews=replace(here, fill_kg=np.full_like(here.fill_kg, inf)))

    def short_kg(setting: Setting, rows: Asked, some: slice) -> Floats:
        dry = rows.parts.material_kg - here.fill_kg[some, None]
        return (dry / here.spreaders.strength[here.spreader[some], None])[:, None]

    least = asks.least(endless, short_kg)
    return Remedy("fill", least, "kg") if 0 < least < inf else None


def _blade(asks: Question, nearest: int) -> Remedy | None:
    """Every inch is tried: a wider blade also turns wider, and may be kept out. The wider blades are added to
    the catalog, so that what timed a site stays what it was."""
    if asks.stop.work == "deice" or asks.builds.plow[nearest] == NONE:
        return None
    case, own = asks.setting.case, asks.setting.case.plows[asks.builds.plow[nearest]]
    widths = INCH_M * np.arange(floor(own.width_m / INCH_M + 1e-9) + 1, WIDEST_IN + 1)
    if not len(widths):
        return None
    wider = replace(case, plows=(*case.plows, *(replace(own, width_m=float(width)) for width in widths)))
    plows = len(case.plows) + np.arange(len(widths))
    setting = _rigged(asks.setting, wider, _same_builds(asks.builds, nearest, plows))
    least = asks.least(setting, lambda setting, rows, some: widths[setting.crews.chosen[some], None, None])
    return Remedy("blade width", least, "m") if least < inf else None


def _same_builds(builds: Builds, index: int, plows: Ints) -> Builds:
    """One build with other plows, as if each fitted."""
    axes: dict[str, Any] = {name: np.full(len(plows), values[index]) for name, values in vars(builds).items()
                            if isinstance(values, np.ndarray)}
    return replace(builds, **(axes | {"plow": plows}))


def _rigged(setting: Setting, case: Case, builds: Builds) -> Setting:
    """The setting with other builds."""
    crewed = crews(case, builds, np.arange(len(builds)))
    return replace(setting, case=case, crews=crewed, access=access(case, builds, crewed))

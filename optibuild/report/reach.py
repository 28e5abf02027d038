"""For each work of each site, which builds can do one parcel of it and in how many minutes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optibuild.records import SLOWEST, Case, ServiceTimes, Site, Work


@dataclass(frozen=True)
class Reached:
    """One work of one site; `repeats` says that some of it is done in every round.

    `clock`, `minutes`, `working_min` (plowing and deicing of these) and `slowest` (places in SLOWEST) are by
    crewed build [C], told at the longest cycle limit at which that build can do one parcel; `crewed` are
    those that can. `area_m2` is that of a parcel.
    """

    site: str
    work: Work
    parcels: int
    limit_min: float
    repeats: bool
    area_m2: float
    crewed: tuple[int, ...]
    clock: NDArray[np.int64]
    minutes: NDArray[np.float64]
    working_min: NDArray[np.float64]
    slowest: NDArray[np.int8]

    @property
    def fastest(self) -> int | None:
        """The crewed build with the fewest minutes, of those that can do it at the longest cycle limit: in a
        shorter one less snow falls."""
        longest = max((int(self.clock[c]) for c in self.crewed), default=0)
        there = (c for c in self.crewed if self.clock[c] == longest)
        return min(there, key=lambda c: float(self.minutes[c]), default=None)

    def told_at_min(self, clocks_min: NDArray[np.float64], crewed: int) -> float:
        """The cycle limit that a crewed build's minutes are told at; of what waits for the last round, the
        time that this may take [min]."""
        return float(clocks_min[self.clock[crewed]]) if self.repeats else self.limit_min

    def area_rate(self, crewed: int) -> float:
        """Area that a crewed build works in an hour of plowing and deicing [m^2/h]."""
        return 60.0 * self.area_m2 / float(self.working_min[crewed])

    def slowest_part(self, crewed: int) -> str:
        """What takes most of a crewed build's longer work."""
        return SLOWEST[int(self.slowest[crewed])]


def reached_rows(case: Case, times: ServiceTimes) -> tuple[Reached, ...]:
    """A row for every stop of one parcel, in the order of the sites."""
    singles = [s for s, stop in enumerate(times.stops) if stop.parcels == 1]
    return tuple(_row(case, times, s, t) for t, s in enumerate(singles))


def _row(case: Case, times: ServiceTimes, s: int, t: int) -> Reached:
    stop, site = times.stops[s], case.sites[times.stops[s].site]
    minutes = times.minutes if times.end is None else times.end.minutes
    finite = np.isfinite(minutes[:, :, s])
    clock = finite.shape[1] - 1 - np.argmax(finite[:, ::-1], axis=1)
    at = np.arange(len(clock)), clock
    parcels = int(times.parcels[stop.site])
    return Reached(site.id, stop.work, parcels, limit_min(site, stop.work),
                   stop.work != "deice" or site.deiced_each, site.area_m2 / parcels,
                   tuple(np.flatnonzero(finite.any(axis=1)).tolist()), clock, minutes[(*at, s)],
                   times.plow_min[(*at, s)] + times.deice_min[(*at, s)], times.slowest[(*at, t)])


def limit_min(site: Site, work: str) -> float:
    """The cycle limit of a work at a site [min]; for `both` the tighter one; for what waits for the last
    round, the time that this may take."""
    asked = (site.plow_every_min if work != "deice" else None,
             site.deice_every_min if work != "plow" and site.deiced_each else None)
    return min((limit for limit in asked if limit is not None), default=site.end_within_min)

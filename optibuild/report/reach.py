"""For each work of each site, which builds can do one parcel of it and in how many minutes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optibuild.records import Case, ServiceTimes, Site, Work


@dataclass(frozen=True)
class Reached:
    """One work of one site. `clock` and `minutes` are by crewed build [C], told at the longest cycle limit at
    which that build can do one parcel; `crewed` are those that can."""

    site: str
    work: Work
    parcels: int
    limit_min: float
    crewed: tuple[int, ...]
    clock: NDArray[np.int64]
    minutes: NDArray[np.float64]
    binds: str

    @property
    def fastest(self) -> int | None:
        """The crewed build with the fewest minutes."""
        return min(self.crewed, key=lambda c: float(self.minutes[c]), default=None)


def reached_rows(case: Case, times: ServiceTimes) -> tuple[Reached, ...]:
    """A row for every stop of one parcel, in the order of the sites."""
    return tuple(_row(case, times, s) for s, stop in enumerate(times.stops) if stop.parcels == 1)


def _row(case: Case, times: ServiceTimes, s: int) -> Reached:
    stop, site = times.stops[s], case.sites[times.stops[s].site]
    finite = np.isfinite(times.minutes[:, :, s])
    clock = finite.shape[1] - 1 - np.argmax(finite[:, ::-1], axis=1)
    minutes = times.minutes[np.arange(len(clock)), clock, s]
    return Reached(site.id, stop.work, int(times.parcels[stop.site]), limit_min(site, stop.work),
                   tuple(np.flatnonzero(finite.any(axis=1)).tolist()), clock, minutes, times.binds[stop.site])


def limit_min(site: Site, work: str) -> float:
    """The cycle limit of a work at a site [min]; for `both` the tighter one."""
    asked = {"plow": [site.plow_every_min], "deice": [site.deice_every_min],
             "both": [site.plow_every_min, site.deice_every_min]}[work]
    return min(limit for limit in asked if limit is not None)

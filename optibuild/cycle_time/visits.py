"""Stops as arrays: what the minutes of a stop depend on beside the build."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optibuild.records.build import Bools, Floats, Ints
from optibuild.records.case import Case, Site
from optibuild.records.loop import Stop


@dataclass(frozen=True)
class Visits:
    """What a stop is, for minutes [S]: its site, its area as one piece and as a share of the site, its
    promises. `to_scale` is the site's timed minutes over the model's, 1 where nobody timed it.

    `at_end` says that its deicing waits for the last round; `limit_min` is of what does not wait, and
    `end_limit_min` of what does (inf where nothing does).
    """

    site: Ints
    area_m2: Floats
    share: Floats
    pass_length_m: Floats
    clear_width_m: Floats
    to_end: Bools
    plowed: Bools
    deiced: Bools
    at_end: Bools
    limit_min: Floats
    end_limit_min: Floats
    deadline_min: Floats
    stop_time_min: Floats
    to_scale: Floats

    def __len__(self) -> int:
        return len(self.site)

    @property
    def only_end(self) -> Bools:
        """Stops that nothing but the last round makes [S]."""
        return self.at_end & ~self.plowed


def stop_limit_min(site: Site, work: str) -> float:
    """The longest cycle limit of a loop in which this work of the site may ride [min]; works that wait for
    the last round ride in any."""
    limits = (site.plow_every_min if work != "deice" else None,
              site.deice_every_min if work != "plow" and site.deiced_each else None)
    return min((limit for limit in limits if limit is not None), default=np.inf)


def visits(case: Case, stops: Sequence[Stop], parcels: Ints, to_scale: Floats) -> Visits:
    """The stops as arrays; `parcels` [N] is how many equal parts each site has, `to_scale` [N] as above."""
    site = np.array([stop.site for stop in stops], dtype=np.int64)
    rows = [case.sites[n] for n in site]
    share = np.array([stop.parcels for stop in stops]) / parcels[site]
    deiced = np.array([stop.work != "plow" for stop in stops], dtype=bool)
    plowed = np.array([stop.work != "deice" for stop in stops], dtype=bool)
    at_end = deiced & np.array([row.deiced_at_end for row in rows], dtype=bool)
    deadline = np.array([row.deadline_min for row in rows])
    return Visits(
        site, np.array([row.area_m2 for row in rows]) * share, share,
        np.array([row.pass_length_m for row in rows]), np.array([row.clear_width_m for row in rows]),
        np.array([row.snow_goes == "end" for row in rows], dtype=bool), plowed, deiced, at_end,
        np.array([stop_limit_min(row, stop.work) for row, stop in zip(rows, stops, strict=True)]),
        np.where(at_end, np.array([row.end_within_min for row in rows]), np.inf),
        np.where(at_end & ~plowed, np.inf, deadline), np.array([row.stop_time_min for row in rows]),
        to_scale[site],
    )

"""Into how many equal parcels each site is cut, and which stops that makes."""

import numpy as np

from optibuild.cycle_time.reach import Setting, reached
from optibuild.records.build import Ints
from optibuild.records.case import Case, Site, Work
from optibuild.records.loop import Stop


def works_sized(site: Site) -> tuple[Work, ...]:
    """The works whose parcels must be small enough: each alone where two trucks may share them."""
    return ("plow", "deice") if site.work == "both" and site.split_works else (site.work,)


def works_offered(site: Site) -> tuple[Work, ...]:
    """The works a stop at the site may do."""
    return ("both", "plow", "deice") if site.work == "both" and site.split_works else (site.work,)


def single_parcels(case: Case) -> tuple[Stop, ...]:
    """One parcel of every work that sizes a site."""
    return tuple(Stop(n, 1, work) for n, site in enumerate(case.sites) for work in works_sized(site))


def most_parcels(case: Case) -> Ints:
    """The most parcels of each site [N]: the user's own number where given."""
    return np.array([site.parcels or case.assumptions.most_parcels for site in case.sites], dtype=np.int64)


def parcels(setting: Setting) -> Ints:
    """Equal parts of each site [N]: the least number at which every build that can do one of the most parcels
    can do one of these; the user's own number wins."""
    case = setting.case
    most, found = most_parcels(case), np.ones(len(case.sites), dtype=np.int64)
    own = np.array([site.parcels is not None for site in case.sites], dtype=bool)
    found[own] = most[own]
    open_rows = [stop for stop in single_parcels(case) if not own[stop.site]]
    goal = reached(setting, open_rows, most)
    for n in range(1, case.assumptions.most_parcels + 1):
        if not open_rows:
            break
        enough = np.asarray((reached(setting, open_rows, np.full_like(most, n)) | ~goal).all(axis=0))
        for stop in open_rows:
            found[stop.site] = max(found[stop.site], n)
        open_rows = [stop for stop, done in zip(open_rows, enough.tolist(), strict=True) if not done]
        goal = goal[:, ~enough]
    return found


def stops(case: Case, parcels: Ints) -> tuple[Stop, ...]:
    """Every stop: sites in order, then works, then parcels ascending; `parcels` [N] of each site."""
    return tuple(
        Stop(n, count, work)
        for n, site in enumerate(case.sites)
        for work in works_offered(site)
        for count in range(1, int(parcels[n]) + 1)
    )

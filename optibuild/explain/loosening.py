"""The smallest loosening of cycle limits with which a case without a plan has one: one factor on all, or
single sites."""

import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from math import sqrt

from optibuild.explain.asking import SECONDS, Tried, confirmed, tried
from optibuild.explain.looser_sites import LooserSites, fewest_sites
from optibuild.pipeline import Stages
from optibuild.records import Case, Looser, Site

LONGEST_MIN = 24 * 60.0
"""No cycle limit is made longer than a day [min]."""
PERCENTS = (400, 200, 125)
"""Factors tried after the greatest there is, where that one was too much to search [%]."""
TWICE = 2.0
"""Single sites are offered limits at least so many times the longest of the case."""

At = Callable[[int], Case]


def common_factor(case: Case) -> tuple[Looser, ...]:
    """The least factor on the cycle limits of all sites with which a plan exists, to 0.01; no row where none
    was found."""
    limits = [limit for site in case.sites for limit in site.cycle_limits_min]
    if not limits:
        return ()
    most = int(100.0 * LONGEST_MIN / max(limits))
    best, not_enough = _least(100, [most, *(percent for percent in PERCENTS if percent < most)], True,
                              lambda percent: scaled(case, percent / 100.0))
    if best is None:
        return ()
    percent, found = best
    return (Looser("all cycle limits", 1.0, percent / 100.0, "times", confirmed(found.case, found.found),
                   not_enough=None if not_enough is None else not_enough / 100.0, way="all cycle limits"),)


def single_limits(case: Case, made: Stages, factor: float) -> tuple[tuple[Looser, ...], int | None]:
    """The fewest sites whose cycle limits must be longer, with the whole minutes that each needs, and the
    proven least number of such sites (None: not known). `factor` on all is known to suffice."""
    longest = max(limit for site in case.sites for limit in site.cycle_limits_min)
    chosen = fewest_sites(case, made, min(LONGEST_MIN, max(TWICE, factor) * longest))
    if not chosen.limits_min:
        return (), chosen.at_least
    return _each_least(case, chosen), chosen.at_least


def _each_least(case: Case, chosen: LooserSites) -> tuple[Looser, ...]:
    """The least limit that each of the chosen sites needs, one after another; no rows where the limits are
    proved not to do together."""
    needed = dict(chosen.limits_min)
    found = tried(loosened(case, needed), SECONDS)
    if found.possible is False:
        return ()
    too_little: dict[int, float] = {}
    for n in needed if found.possible else ():
        now = int(case.sites[n].cycle_limit_min)

        def at(minutes: int, n: int = n) -> Case:
            return loosened(case, {**needed, n: float(minutes)})

        best, below = _least(now, [int(-(-needed[n] // 1))], len(needed) == 1, at)
        if best is not None:
            needed[n], found = float(best[0]), best[1]
        if below is not None:
            too_little[n] = float(max(below, case.sites[n].cycle_limit_min))
    sure = bool(found.possible) and confirmed(found.case, found.found)
    return tuple(Looser("cycle limit", case.sites[n].cycle_limit_min, needed[n], "min", sure,
                        case.sites[n].id, too_little.get(n), "single cycle limits") for n in sorted(needed))


def scaled(case: Case, factor: float) -> Case:
    """The case with the cycle limits of all sites times a factor."""
    return replace(case, sites=tuple(_with_limits(site, lambda limit: factor * limit) for site in case.sites))


def loosened(case: Case, limits_min: Mapping[int, float]) -> Case:
    """The case in which no cycle limit of these sites is shorter [min]."""
    return replace(case, sites=tuple(_with_limits(site, partial(max, limits_min.get(n, 0.0)))
                                     for n, site in enumerate(case.sites)))


def _with_limits(site: Site, change: Callable[[float], float]) -> Site:
    """The site with its cycle limits changed, those of works that it does in every round."""
    plow, deice = site.plow_every_min, site.deice_every_min
    return replace(
        site, plow_every_min=change(plow) if site.plowed and plow is not None else plow,
        deice_every_min=change(deice) if site.deiced_each and deice is not None else deice)


def _least(low: int, downward: list[int], low_fails: bool, at: At) -> tuple[tuple[int, Tried] | None,
                                                                        int | None]:
    """The least whole number above `low` at which a case has a plan, with the case, and the greatest below it
    at which it is proved to have none: first one of `downward` that suffices, then by halving.

    A longer limit forbids no loop that a shorter one allows, but for clocks that are no longer there, and
    more snow: what is told was solved, whatever lies between. SECONDS in all, no try more than half of what
    is left; a try that proves nothing counts as one that failed.
    """
    ends = time.monotonic() + SECONDS
    best: tuple[int, Tried] | None = None
    failed = [low] if low_fails else []
    for value in downward:
        answer = tried(at(value), 0.5 * (ends - time.monotonic())) if value > low else None
        if answer is None or answer.possible is False:
            return None, None
        if answer.possible:
            best = value, answer
            break
    while best and best[0] - low > 1 and time.monotonic() < ends:
        value = min(max(round(sqrt(low * best[0])), low + 1), best[0] - 1)
        answer = tried(at(value), 0.5 * (ends - time.monotonic()))
        if answer.possible:
            best = value, answer
        else:
            low = value
            failed += [value] if answer.possible is False else []
    return best, max(failed, default=None)

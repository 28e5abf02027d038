"""The fewest sites whose cycle limits must be longer: a program in which every site that must be served may
also be served in loops of longer clocks, at a price of 1 for each such site."""

from dataclasses import dataclass, replace
from math import inf

import numpy as np

from optibuild.errors import TooLarge
from optibuild.explain.asking import NOISE, counting, least_whole, solved
from optibuild.pipeline import LoopOutcome, LoopProblem, Stages, planned_stages
from optibuild.records import Case, Site

PARTS = range(1, 7)
"""Parts of a step of the grid of clocks that are tried, so that every limit of the case is on it."""


@dataclass(frozen=True)
class LooserSites:
    """Sites, by index, with the limits that would do [min], and the proven least number of such sites (None:
    not known). Limits are looked at on the grid of clocks only."""

    limits_min: dict[int, float]
    at_least: int | None


def fewest_sites(case: Case, made: Stages, longest_min: float) -> LooserSites:
    """The fewest sites with which a plan exists, where each may have a limit of up to `longest_min`."""
    asked = [limit for site in case.sites for limit in site.cycle_limits_min]
    step, whole = _step_min(asked, case.assumptions.tau_step_min)
    longest_min = step * np.ceil(longest_min / step - 1e-9)
    try:
        loose = planned_stages(_all_at(case, made, float(longest_min), step))
    except TooLarge:
        return LooserSites({}, None)
    if loose.times.stops != made.times.stops:
        return LooserSites({}, None)
    may = np.array([bool(site.cycle_limits_min) and site.must_serve for site in case.sites])
    problem = _either(counting(case, loose.problem), made.problem.stop_limit_min + NOISE, may)
    found = solved(case, problem)
    least = least_whole(found) if whole else None
    return LooserSites(_limits_min(case, loose, found, may), least or None)


def _step_min(limits_min: list[float], step: float) -> tuple[float, bool]:
    """A step of the grid that every limit lies on, and whether there is one [min]."""
    for n in PARTS:
        if all(abs(limit * n / step - round(limit * n / step)) < 1e-9 for limit in limits_min):
            return step / n, True
    return step, False


def _all_at(case: Case, made: Stages, longest_min: float, step: float) -> Case:
    """The case with every cycle limit at the longest and the sites cut into the parcels that they are now."""
    return replace(
        case, assumptions=replace(case.assumptions, tau_step_min=step),
        sites=tuple(_at(site, longest_min, int(made.times.parcels[n])) for n, site in enumerate(case.sites)))


def _at(site: Site, limit_min: float, parcels: int) -> Site:
    return replace(site, parcels=parcels,
                   plow_every_min=limit_min if site.plowed else site.plow_every_min,
                   deice_every_min=limit_min if site.deiced_each else site.deice_every_min)


def _either(problem: LoopProblem, limit_min: np.ndarray, may: np.ndarray) -> LoopProblem:
    """The program with every stop twice: within its own limit [S], and in any loop.

    Every work has two rows: the first [T] counts stops within their limits only, and is missed at a price of
    1 where a site `may` [N] be served otherwise; the second counts all, and is missed as before. So a site
    costs 1 however many of its parcels ride in longer loops.
    """
    def twice(values: np.ndarray) -> np.ndarray:
        return np.concatenate([values, values], axis=-1)

    end = problem.end_round and replace(
        problem.end_round, minutes=twice(problem.end_round.minutes),
        material_kg=twice(problem.end_round.material_kg), limit_min=twice(problem.end_round.limit_min),
        only=twice(problem.end_round.only))
    sites = problem.missed_usd.size
    return replace(
        problem, minutes=twice(problem.minutes),
        stop_limit_min=np.concatenate([limit_min, problem.stop_limit_min]),
        deadline_min=twice(problem.deadline_min), place=twice(problem.place),
        amount=np.block([[problem.amount, problem.amount],
                         [np.zeros_like(problem.amount), problem.amount]]),
        need=twice(problem.need), stop_usd=twice(problem.stop_usd), material_kg=twice(problem.material_kg),
        group=np.concatenate([problem.group, problem.group + sites]),
        missed_usd=np.concatenate([np.where(may, 1.0, problem.missed_usd), problem.missed_usd]),
        worth=np.zeros(2 * sites), most_missed_worth=inf, end_round=end)


def _limits_min(case: Case, loose: Stages, found: LoopOutcome, may: np.ndarray) -> dict[int, float]:
    """The longest clock of the loops that serve each site which is not served within its limits."""
    stops = loose.times.stops
    limits: dict[int, float] = {}
    for n in (n for n in found.missed if n < len(case.sites) and may[n]):
        clocks = [float(loose.times.clocks_min[one.clock]) for one, _ in found.loops
                  for s in one.stops if stops[s % len(stops)].site == n]
        longest = max(clocks, default=0.0)
        if longest > case.sites[n].cycle_limit_min:
            limits[n] = longest
    return limits

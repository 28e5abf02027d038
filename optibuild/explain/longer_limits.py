"""Longer cycle limits for one site, until a plan costs less."""

from collections.abc import Callable
from dataclasses import replace
from itertools import chain

from optibuild.errors import StoppedWithoutPlan
from optibuild.pipeline import Progress, answer, earlier_loops
from optibuild.records import Case, LimitTried, Plan, Site, SiteLimit

Tell = Callable[[Progress], None] | None
TIMES_LONGER = 2.0
"""Limits are tried up to so many times the site's own."""
SAME_MIN, NOISE = 1e-6, 1e-6


def longer_limit(case: Case, plan: Plan, name: str, progress: Tell = None) -> SiteLimit:
    """The smallest loosening of a site's cycle limit that lets a plan cost less, of the next clocks upward:
    the steps of the grid and the limits of other sites. Each is solved again from the plan in hand.

    Of a site with two cycle limits the tighter one is loosened, and the other where it is passed.
    """
    site = next(site for site in case.sites if site.id == name)
    if not site.cycle_limits_min:
        return SiteLimit(name, None, ())
    tried: list[LimitTried] = []
    for limit in next_limits(case, site.cycle_limit_min):
        tried.append(_tried(with_limit(case, name, limit), plan, limit, progress))
        if tried[-1].saved_usd is not None and tried[-1].saved_usd > 0.0:
            break
    return SiteLimit(name, site.cycle_limit_min, tuple(tried))


def next_limits(case: Case, now_min: float) -> list[float]:
    """The clocks above a cycle limit, up to twice of it, ascending [min]."""
    step, most = case.assumptions.tau_step_min, TIMES_LONGER * now_min
    asked = {limit for site in case.sites for limit in site.cycle_limits_min}
    grid = {step * n for n in range(1, int(most / step + SAME_MIN) + 1)}
    new = {tau for tau in grid if min(abs(tau - limit) for limit in asked) > SAME_MIN}
    return sorted(limit for limit in asked | new if now_min + SAME_MIN < limit <= most + SAME_MIN)


def with_limit(case: Case, name: str, limit_min: float) -> Case:
    """The case in which no work of a site has to come round more often than that."""
    def loosened(site: Site) -> Site:
        plow, deice = (None if every is None else max(every, limit_min)
                       for every in (site.plow_every_min, site.deice_every_min))
        return replace(site, plow_every_min=plow, deice_every_min=deice)

    return replace(case, sites=tuple(loosened(site) if site.id == name else site for site in case.sites))


def _tried(case: Case, plan: Plan, limit_min: float, progress: Tell) -> LimitTried:
    try:
        found = answer(case, progress, lambda made: chain(*earlier_loops(made, plan))).plan.outcome
    except StoppedWithoutPlan as stopped:
        if stopped.interrupted:
            raise
        return LimitTried(limit_min, None, None, False, "none")
    was, bound = plan.outcome.objective_usd, plan.outcome.bound_usd
    if found.objective_usd is None or was is None:
        return LimitTried(limit_min, found.cost_usd, None, False, found.proof)
    noise = NOISE * max(1.0, abs(was))
    saved = was - found.objective_usd
    return LimitTried(limit_min, found.cost_usd, saved if abs(saved) > noise else 0.0,
                      bound is not None and found.objective_usd < bound - noise, found.proof)

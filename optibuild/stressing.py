"""A written plan put to the test: its builds at other clocks, its loops driven in a changed case."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from optibuild import cost, cycle_time
from optibuild.records import Case, ChosenLoop, LoopTimes, ServiceTimes
from optibuild.written import Written, its_builds

__all__ = ["At", "at_clock", "bid_price_usd", "drive", "held_usd", "in_order", "wetter"]

FAR_MIN = 1e5
"""A clock that no loop and no end round exceeds: two months."""


@dataclass(frozen=True)
class At:
    """The minutes of a case in which every loop may take as long as one clock; K is 1."""

    case: Case
    times: ServiceTimes


def at_clock(of: Written, case: Case, snow_min: float, clock_min: float | None = None) -> At:
    """Minutes of the plan's builds in a case where `snow_min` of snow lie before every stop.

    Loops may take `clock_min`, or else as long as they like; no deadline holds, no time of an end round, and
    no reserve is kept.
    """
    clock = FAR_MIN if clock_min is None else clock_min
    sites = tuple(replace(
        site, plow_every_min=None if site.plow_every_min is None else clock,
        deice_every_min=None if site.deice_every_min is None else clock,
        deadline_min=inf, end_within_min=FAR_MIN) for site in case.sites)
    storm = replace(case.storm, snowfall_rate_m_per_min=case.storm.snowfall_rate_m_per_min * snow_min / clock)
    # a grid coarser than the clock leaves it the only one
    assumed = replace(case.assumptions, tau_step_min=2.0 * FAR_MIN)
    changed = replace(case, sites=sites, storm=storm, assumptions=assumed,
                      solve=replace(case.solve, reserve_min=0.0))
    rounds = cost.season_rounds(changed, cycle_time.clocks(changed))
    return At(changed, cycle_time.service_times(changed, of.made.builds, rounds, its_builds(of)))


def drive(of: Written, at: At, loop: ChosenLoop) -> LoopTimes:
    """The times of a loop, with its own reloads, whatever its clock was."""
    return cycle_time.drive_loop(at.case, of.made.builds, at.times, replace(loop, clock=0))


def in_order(of: Written, at: At, loop: ChosenLoop, stops: Sequence[int]) -> ChosenLoop | None:
    """A loop with its stops in another order and the reloads by which it is over first; None where no reloads
    keep the fill."""
    found = cycle_time.evaluate_loop(at.case, of.made.builds, at.times, loop.crewed, 0, stops)
    if found is None:
        return None
    last = found.reload_before if found.end is None else found.end.reload_before
    return replace(loop, stops=tuple(stops), reload_before=found.reload_before,
                   end_reload_before=() if at.times.end is None else last)


def wetter(case: Case, density_kg_per_m3: float) -> Case:
    """The case in snow of another density. What was timed in the old snow would take longer in the new one,
    as the model says, so that the ratio of clock to model stays."""
    storm = replace(case.storm, snow_density_kg_per_m3=density_kg_per_m3)
    changed = replace(case, storm=storm)
    trucks, plows = [row.id for row in case.trucks], [row.id for row in case.plows]
    sites = list(case.sites)
    for n, site in enumerate(case.sites):
        if site.timed_min is not None and site.timed_truck and site.timed_plow and site.timed_depth_m:
            what = n, trucks.index(site.timed_truck), plows.index(site.timed_plow), site.timed_depth_m
            now, then = (cycle_time.plow_model_min(one, *what) for one in (changed, case))
            if now and then:
                sites[n] = replace(site, timed_min=site.timed_min * now / then)
    return replace(changed, sites=tuple(sites))


def bid_price_usd(case: Case, cost_usd: float) -> float:
    """What a yearly cost adds to the price of a bid [USD]: with overhead and profit margin."""
    return cost.price_usd(cost_usd, case.money)


def held_usd(case: Case) -> np.ndarray:
    """Capital of an owned one of each item a year, which a bid recovers [I, USD]."""
    return np.array([cost.owned_capital_usd(item, case.money) for item in case.items])

"""The stages of a bid in order: a written plan's loops, driven and costed event by event, then priced."""

from dataclasses import dataclass

import numpy as np

from optibuild import cost, cycle_time, fit
from optibuild.records import Bid, Builds, Case, Plan, SiteCost

__all__ = ["price_bid"]


@dataclass(frozen=True)
class Written:
    """A plan as the stages had it: the builds it uses and the parcels [N] of its sites."""

    builds: Builds
    used: np.ndarray
    parcels: np.ndarray
    plan: Plan


def price_bid(case: Case, plan: Plan) -> Bid:
    """Prices of every site that a written plan serves, in every form of contract, and what each risks.

    The case must be the one the plan was made from; ValueError where it has none of the plan's loops.
    """
    builds = fit.fit_builds(case)
    written = Written(builds, cycle_time.planned_builds(case, builds, plan),
                      np.array([site.parcels for site in plan.sites], dtype=np.int64), plan)
    costs, _ = _season(case, written)
    singles = [_season(one, written) for one in cost.single_events(case)]
    events = cost.site_events(case, costs, [row for row, _ in singles], [hours for _, hours in singles])
    return cost.bid_sheet(case, costs, events, sum(60.0 * truck.season.hours for truck in plan.trucks))


def _season(case: Case, written: Written) -> tuple[tuple[SiteCost | None, ...], np.ndarray]:
    """What each site costs over the season of a case, and the hours that can be billed there [N]."""
    rounds = cost.season_rounds(case, cycle_time.clocks(case))
    times = cycle_time.service_times(case, written.builds, rounds,
                                     cycle_time.Some(written.used, written.parcels, False))
    choice = cycle_time.planned_choice(case, written.builds, times, written.plan)
    costs = cost.loop_costs(case, written.builds, times, rounds)
    driven = [cycle_time.drive_loop(case, written.builds, times, loop) for loop in choice.loops]
    return (cost.site_costs(case, written.builds, times, costs, choice, driven),
            cost.billable_hours(case, times, choice))

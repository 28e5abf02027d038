"""The stages of a bid in order: a written plan's loops, driven and costed event by event, then priced."""

import numpy as np

from optibuild import cost, cycle_time
from optibuild.records import Bid, Case, Plan, SiteCost
from optibuild.written import Written, among_its_builds, in_case

__all__ = ["price_bid"]


def price_bid(case: Case, plan: Plan) -> Bid:
    """Prices of every site that a written plan serves, in every form of contract, and what each risks.

    The case must be the one the plan was made from; ValueError where it has none of the plan's loops.
    """
    of = among_its_builds(case, plan)
    costs, _ = _season(of)
    singles = [_season(in_case(of, one)) for one in cost.single_events(case)]
    events = cost.site_events(case, costs, [row for row, _ in singles], [hours for _, hours in singles])
    return cost.bid_sheet(case, costs, events, sum(60.0 * truck.season.hours for truck in plan.trucks))


def _season(of: Written) -> tuple[tuple[SiteCost | None, ...], np.ndarray]:
    """What each site costs over the season of a case, and the hours that can be billed there [N]."""
    made = of.made
    driven = [cycle_time.drive_loop(made.case, made.builds, made.times, loop) for loop in of.choice.loops]
    return (cost.site_costs(made.case, made.builds, made.times, made.costs, of.choice, driven),
            cost.billable_hours(made.case, made.times, of.choice))

"""Why this plan: what binds its loops, who else could do a site, which price would bring an item in."""

from collections.abc import Callable, Sequence

from optibuild.explain.asking import of_plan
from optibuild.explain.entering import confirmed_entry, entry_prices
from optibuild.explain.longer_limits import longer_limit
from optibuild.explain.moves import loop_reasons, moves, next_best
from optibuild.pipeline import Progress
from optibuild.reasons import chosen, own_fleet
from optibuild.records import Case, Confirmed, Plan, SiteLimit, Why


def why(case: Case, plan: Plan, confirm: Sequence[str] = (), sites: Sequence[str] = (),
        progress: Callable[[Progress], None] | None = None) -> Why:
    """Why a written plan of this very case is as it is.

    Items to `confirm` are solved again at falling prices, cycle limits of `sites` at longer ones; where the
    user ends one of these searches, what was told before it is returned. Raises ValueError where the case has
    not the plan's loops, UsageError for an item that no price can bring in.
    """
    at = chosen(case, plan)
    fleet = own_fleet(at)
    single = moves(at, fleet)
    items = entry_prices(case, plan, at, progress)
    confirmed: list[Confirmed] = []
    limits: list[SiteLimit] = []
    ended_early = False
    try:
        confirmed += (confirmed_entry(case, plan, items, item, progress) for item in confirm)
        limits += (longer_limit(at, site, progress) for site in sites)
    except KeyboardInterrupt:
        ended_early = True
    return Why(of_plan(plan), loop_reasons(plan, at, single), next_best(case, plan, at, fleet, single), items,
               tuple(confirmed), tuple(limits), ended_early)

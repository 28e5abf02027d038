"""Why this plan: what binds its loops, who else could do a site, which price would bring an item in."""

from collections.abc import Callable, Sequence

from optibuild.explain.entering import confirmed_entry, entry_prices
from optibuild.explain.longer_limits import longer_limit
from optibuild.explain.moves import loop_reasons, moves, next_best
from optibuild.pipeline import Progress
from optibuild.reasons import chosen, own_fleet
from optibuild.records import Case, Plan, Why


def why(case: Case, plan: Plan, confirm: Sequence[str] = (), sites: Sequence[str] = (),
        progress: Callable[[Progress], None] | None = None) -> Why:
    """Why a written plan of this very case is as it is.

    Items to `confirm` are solved again at falling prices, cycle limits of `sites` at longer ones. Raises
    ValueError where the case has not the plan's loops, UsageError for an item without an entry price.
    """
    at = chosen(case, plan)
    fleet = own_fleet(at)
    single = moves(at, fleet)
    items = entry_prices(case, plan, at, progress)
    return Why(loop_reasons(plan, at, single), next_best(case, plan, at, fleet, single), items,
               tuple(confirmed_entry(case, plan, items, item, progress) for item in confirm),
               tuple(longer_limit(case, plan, site, progress) for site in sites))

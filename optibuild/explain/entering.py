"""From which price on an item would enter, and what a plan is like when its price has fallen so far."""

import time
from collections.abc import Sequence
from dataclasses import replace
from math import inf
from typing import Any

from optibuild.errors import UsageError
from optibuild.explain.asking import Tell, solved_again
from optibuild.pipeline import Progress
from optibuild.reasons import entries, fits
from optibuild.records import Case, Confirmed, EntryPrice, Item, Plan, PriceTried, Standing
from optibuild.written import Written

TABLES = ("trucks", "plows", "spreaders", "ballast")
"""Tables of items in the order of the item axis."""
JUST_BELOW = 0.999
"""Share of the entry price at which a plan is tried first."""
NEARLY_ALL = 1.0 - 2e-5
"""Share of its price above which an item enters at its price as it is."""
HALVINGS = 4
"""Times that the price is halved before nothing is tried."""
NARROWINGS = 3
"""Times that what lies between a price at which a plan uses the item and one at which none does is halved."""
WORDS = {
    "no fitting build": "no build that fits has it",
    "owned": "there are owned ones, which the plan leaves idle",
    "none to be had": "none can be had",
    "no price": "its price costs nothing a year",
    "not settled": "time ran out before its entry price was known; raise solve.time_limit",
}
"""Why an item has no entry price."""


def entry_prices(case: Case, plan: Plan, at: Written, progress: Tell = None) -> tuple[EntryPrice, ...]:
    """From which price on each catalog item that the plan does not use would enter the relaxation, all else
    as it is. The search of all of them ends after the case's time limit.

    Items are looked at among the builds that the plan was chosen from: in cases so large that builds are
    sifted run by run, those that others beat at today's prices are not there.
    """
    used = {(row.table, row.id) for row in plan.items}
    fitting = fits(at)
    rows: dict[int, EntryPrice] = {}
    items = [(table, item) for table in TABLES for item in getattr(case, table)]
    for i, (table, item) in enumerate(items):
        if (table, item.id) not in used:
            rows[i] = _row(at, i, table, item, bool(fitting[i]))
    asked = [i for i, row in rows.items() if row.standing == "not settled"]
    started = time.monotonic()
    found = entries(at, asked, case.solve.time_limit_s, lambda: _tick(progress, started))
    for one in (one for one in found if one.settled):
        standing: Standing = (
            "not for nothing" if one.share is None else "now" if one.share > NEARLY_ALL else "below")
        entry = None if one.share is None else one.share * rows[one.item].price_usd
        rows[one.item] = replace(rows[one.item], entry_usd=entry, standing=standing)
    return tuple(rows.values())


def _tick(progress: Tell, started: float) -> None:
    if progress:
        progress(Progress(0, -inf, inf, time.monotonic() - started))


def _row(at: Written, i: int, table: str, item: Item, fits_somewhere: bool) -> EntryPrice:
    """What is known of an item without pricing it."""
    leased = item.lease_usd_per_year is not None
    price = item.price_usd if item.lease_usd_per_year is None else item.lease_usd_per_year
    problem = at.made.problem
    row = EntryPrice(item.id, table, price, leased, None, "not settled")
    if not fits_somewhere:
        return replace(row, standing="no fitting build")
    if problem.owned[i] > 0:
        return replace(row, standing="owned")
    if problem.available[i] < 1:
        return replace(row, standing="none to be had")
    if problem.annual_usd[i] <= problem.upkeep_usd[i]:
        return replace(row, standing="no price")
    return row


def at_price(case: Case, row: EntryPrice, usd: float) -> Case:
    """The case with one item at another price, or rent; its resale keeps its share of the price."""
    def cheaper(item: Any) -> Any:
        share = usd / row.price_usd
        lease = None if item.lease_usd_per_year is None else share * item.lease_usd_per_year
        return replace(item, price_usd=share * item.price_usd, resale_usd=share * item.resale_usd,
                       lease_usd_per_year=lease)

    items = tuple(cheaper(item) if item.id == row.item else item for item in getattr(case, row.table))
    tables: dict[str, Any] = {row.table: items}
    return replace(case, **tables)


def confirmed_entry(case: Case, plan: Plan, rows: Sequence[EntryPrice], item: str,
                    progress: Tell = None) -> Confirmed:
    """An item's price set just below its entry price, and lower, until a plan uses it, then between that and
    the least price at which none did; each time the case is solved again from the plan in hand, with gap 0,
    for as long as it says. An item that is not in the relaxation even for nothing is tried at its price and
    for nothing.

    Raises UsageError where no price can bring the item in, KeyboardInterrupt where the user ended a search.
    """
    row = next(row for row in rows if row.item == item)
    if row.standing in WORDS:
        raise UsageError(f"'{item}' has no entry price to confirm: {WORDS[row.standing]}")
    tried: dict[float, PriceTried] = {}

    def uses(usd: float) -> bool:
        tried[usd] = _tried(at_price(case, row, usd), plan, row, usd, progress)
        return tried[usd].enters

    first = row.price_usd if row.entry_usd is None else JUST_BELOW * row.entry_usd
    halves = () if row.entry_usd is None else tuple(first / 2**k for k in range(1, HALVINGS + 1))
    low = next((usd for usd in dict.fromkeys((first, *halves, 0.0)) if uses(usd)), None)
    if low == first < row.price_usd:
        low = row.price_usd if uses(row.price_usd) else low
    high = min((usd for usd in tried if low is not None and usd > low), default=None)
    for _ in range(NARROWINGS):
        if low is not None and high is not None:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if uses(middle) else (low, middle)
    return Confirmed(item, low, high, tuple(tried[usd] for usd in sorted(tried, reverse=True)))


def _tried(case: Case, plan: Plan, row: EntryPrice, usd: float, progress: Tell) -> PriceTried:
    again = solved_again(replace(case, solve=replace(case.solve, gap=0.0)), plan, progress)
    if again is None:
        return PriceTried(usd, False, None, "none")
    found = again.plan
    enters = any((one.table, one.id) == (row.table, row.item) for one in found.items)
    return PriceTried(usd, enters, found.outcome.cost_usd, found.outcome.proof)

"""Why a plan is as it is, on the terminal and as a document."""

from dataclasses import asdict
from math import ceil, floor
from typing import Any

from optibuild.records import (
    Case,
    Confirmed,
    EntryPrice,
    LimitTried,
    LoopReason,
    NextBest,
    SiteLimit,
    Why,
)
from optibuild.records.why import WhyNoOne
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.tables import Cell, Column, Table, Units, dollars, without_empty

FORMAT = "optibuild-why/1"
STANDING = {
    "below": "below this price",
    "now": "or more: in the relaxation at its price",
    "not for nothing": "not in the relaxation, even for nothing",
    "no fitting build": "fits on nothing",
    "owned": "owned, left idle",
    "none to be had": "none can be had",
    "no price": "its price costs nothing a year",
    "not settled": "unknown, time ran out",
}
IDLE_BALLAST = "makes no build fit or carry more"
"""Of a kit in no build that fits: one that is not needed is not part of any, however well it would ride."""
LOOPS = "What is left of the limit nearest to being met, nothing changed."
ROOM = (" Room: the stop of another truck that this loop could take at the least extra cost a season; it "
        "keeps all limits, and cost keeps it out.")
NO_ROOM = " Without room no stop of another truck can be taken, by itself and with all orders kept."
NEXT = (
    "The truck that could take the site's stops at the least extra cost a season, all orders kept and every "
    "other loop as it is: that much a plan loses at the most where the first truck must not come.")
PLUS = " Plus: no truck of the plan can, and this one would be added."
NO_ONE: dict[WhyNoOne, str] = {
    "does nothing else": "no one else; this truck has only this stop",
    "the rest of its loop": "no one: without this stop the rest of the loop breaks a limit",
    "budget": "no one: the budget leaves no money for another truck",
    "drivers": "no one: no driver is left",
    "items": "no one: no truck, plow or spreader is left",
    "several limits": "no one: what is left of budget, drivers and items is too little",
    "no build": "no one: no build can make this stop alone",
}
ENTERS = (
    "All else as it is, resale falling with the price. Computed on the relaxation, in which fractions of "
    "trucks count: it uses the item below the entry price and does not above. The price is its own: a plan "
    "may use the item at more, or only at less; --confirm ITEM solves again.")
ENDED = ("Ended early: what was still to be solved again, this or other, was not, and is not told.")
BETTER = {"cost": "it costs less by", "cost and value left out": "cost and contract value left out fall by",
          "profit": "contract value less cost rises by", "contract value": "it serves more contract value by"}
"""In words in what a plan is better."""
AT_THIS_VALUE = (
    " The question asks for contract value first: what is told here is of the least cost at the value that "
    "the plan serves.")


def why_text(found: Why, case: Case) -> str:
    """What binds, who is next best, what would enter, and what was solved again."""
    parts = [_titled(f"Why this plan: {clean(case.name)}", loops_table(found, case.units),
                     loops_words(found)),
             _titled("Next best truck", next_table(found), next_words(found)),
             _titled("Items that the plan does not use", enters_table(found), enters_words(case)),
             *(_titled(f"Confirmed: {clean(row.item)}", tried_table(row), confirmed_words(row, found.items))
               for row in found.confirmed),
             *(_limit(row) for row in found.limits), paragraph(ENDED) if found.ended_early else ""]
    return "\n\n".join(part for part in parts if part)


def enters_words(case: Case) -> str:
    """What the table of unused items says."""
    return ENTERS + (AT_THIS_VALUE if case.question == "value" else "")


def loops_words(found: Why) -> str:
    """What the table of loops says: of room only where some loop has it, of none where some has it not."""
    room = [row.room_for is not None for row in found.loops]
    return LOOPS + ROOM * any(room) + NO_ROOM * (any(room) and not all(room))


def next_words(found: Why) -> str:
    """What the table of next best trucks says, as far as it has such rows."""
    taken = any(row.extra_usd is not None for row in found.sites)
    return (NEXT * taken + PLUS * any(row.own_build is not None for row in found.sites)).strip()


def why_document(found: Why) -> dict[str, Any]:
    """The result of `why`; USD, min, kg."""
    return {"format": FORMAT, **asdict(found)}


def _titled(title: str, table: Table, said: str) -> str:
    if not table.rows:
        return ""
    return f"{heading(title)}\n\n{layout(without_empty(table))}\n\n{paragraph(said)}"


def loops_table(found: Why, system: str) -> Table:
    """The limit nearest to being met in each loop, what is left of it, and what the loop has room for."""
    columns = (Column("truck", "", 0), Column("build"), Column("nearest limit"), Column("left", "", 1),
               Column("unit"), Column("at"), Column("room for"), dollars("extra"))
    return Table(columns, tuple(_loop(row, Units(system)) for row in found.loops))


def _loop(row: LoopReason, units: Units) -> tuple[Cell, ...]:
    left, unit = units.any(row.left, row.unit)
    return (row.truck_no, row.build, row.limit, left, unit, row.site, row.room_for, row.room_usd)


def next_table(found: Why) -> Table:
    """Who else could make the stops of each site, and at what extra cost."""
    columns = (Column("site"), Column("work"), Column("parcels", "", 0), Column("truck", "", 0),
               Column("next best"), dollars("extra"))
    return Table(columns, tuple((row.site, row.work, row.parcels, row.truck_no, _next(row), row.extra_usd)
                                for row in found.sites))


def _next(row: NextBest) -> str:
    if row.next_truck_no is not None:
        return f"truck {row.next_truck_no}"
    return f"plus {row.own_build}" if row.no_one is None else NO_ONE[row.no_one]


def enters_table(found: Why) -> Table:
    """From which price on each unused item would enter."""
    columns = (Column("item"), Column("table"), dollars("price"), dollars("enters at"), Column("enters"))
    return Table(columns, tuple((row.item, row.table, row.price_usd, row.entry_usd, _standing(row))
                                for row in found.items))


def _standing(row: EntryPrice) -> str:
    if row.table == "ballast" and row.standing == "no fitting build":
        return IDLE_BALLAST
    return STANDING[row.standing] + (" (rent a year)" if row.leased else "")


def tried_table(row: Confirmed) -> Table:
    """An item solved again at lower prices."""
    return Table((dollars("price"), Column("in the plan"), dollars("cost of the plan"), Column("known")),
                 tuple((one.price_usd, "yes" if one.enters else "no", one.cost_usd, one.proof)
                       for one in row.tried))


def confirmed_words(row: Confirmed, items: tuple[EntryPrice, ...]) -> str:
    """What solving again has shown of an item."""
    entry = next((one.entry_usd for one in items if one.item == row.item), None)
    relaxed = "" if entry is None else f" The relaxation's price is {usd(entry)}."
    if row.uses_at_usd is None:
        return f"Solved again: no plan found uses it at any price tried.{relaxed}"
    at = usd(floor(row.uses_at_usd))
    if row.not_at_usd is None:
        return f"Solved again: at {at}, its price as it is, the plan found uses it.{relaxed}"
    return (f"Solved again: the plan found uses it at {at} and no longer at {usd(ceil(row.not_at_usd))}: it "
            f"enters between.{relaxed}")


def _limit(row: SiteLimit) -> str:
    title = f"Cycle limit of {clean(row.site)}"
    return (_titled(title, limits_table(row), limit_words(row))
            or f"{heading(title)}\n\n{paragraph(limit_words(row))}")


def limits_table(row: SiteLimit) -> Table:
    """A site's longer limits, solved again."""
    return Table((Column("limit", "min", 0), dollars("cost of the plan"), dollars("contract value"),
                  dollars("site pays more"), dollars("better by"), Column("in"), Column("known")),
                 tuple((one.limit_min, one.cost_usd, one.contract_value_usd, one.site_value_usd or None,
                        one.better_usd, one.better_in if one.better_usd else None, one.proof)
                       for one in row.tried))


def limit_words(row: SiteLimit) -> str:
    """What solving again has shown of a site's cycle limit, or why nothing was solved."""
    if row.now_min is None:
        return "All its work waits for the last round: it has none."
    if not row.tried:
        return "There is no clock up to twice its limit to try."
    return _better(row.now_min, row.tried)


def _better(now_min: float, tried: tuple[LimitTried, ...]) -> str:
    last, now = tried[-1], number(now_min, 0)
    if last.better_usd is None or last.better_usd <= 0.0:
        return (f"Solved again: by the question no plan found is better than with {now} min, up to "
                f"{number(last.limit_min, 0)} min.{_pays(last)}")
    sure = ("With the limit as it is no plan is as good." if last.by_limit else
            "How much of that is due to the limit is not proved: the plan in hand may not be the best.")
    return (f"Solved again: {number(last.limit_min, 0)} min in place of {now} is the smallest loosening "
            f"tried with which a plan is better: {BETTER[last.better_in or 'cost']} "
            f"{usd(last.better_usd)} a season. {sure}{_pays(last)}")


def _pays(last: LimitTried) -> str:
    """That the site's contract itself brings another sum with the limit."""
    change = last.site_value_usd or 0.0
    if not change:
        return ""
    return (f" At {number(last.limit_min, 0)} min the site's own contract pays {usd(abs(change))} "
            f"{'more' if change > 0.0 else 'less'} a season.")

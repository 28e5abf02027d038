"""Why a plan is as it is, on the terminal and as a document."""

from dataclasses import asdict
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
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.tables import Cell, Column, Table, Units, dollars, without_empty

FORMAT = "optibuild-why/1"
STANDING = {
    "below": "below this price",
    "now": "at its price",
    "not for nothing": "not even for nothing",
    "no fitting build": "fits on nothing",
    "owned": "owned, upkeep too dear",
    "none to be had": "none can be had",
    "no price": "its price costs nothing a year",
    "not settled": "unknown, time ran out",
}
LOOPS = (
    "What is left of the limit nearest to being met, nothing changed. Room: the stop of another truck that "
    "this loop could take at the least extra cost a season; it keeps all limits, and cost keeps it out. "
    "Without room no stop of another truck can be taken, by itself and with all orders kept.")
NEXT = (
    "The truck that could take the site's stops at the least extra cost a season, all orders kept and every "
    "other loop as it is: that much a plan loses at the most where the first truck must not come. Plus: no "
    "truck of the plan can, and this one would be added. No one: nor can that, or the truck does nothing "
    "else.")
ENTERS = (
    "All else as it is, resale falling with the price. Computed on the relaxation, in which fractions of "
    "trucks count: it uses the item below the entry price and does not above. That does not yet make the "
    "plan use it; --confirm ITEM solves again.")

AT_THIS_VALUE = (
    " The question asks for contract value first: what is told here is of the least cost at the value that "
    "the plan serves.")


def why_text(found: Why, case: Case) -> str:
    """What binds, who is next best, what would enter, and what was solved again."""
    enters = ENTERS + (AT_THIS_VALUE if case.question == "value" else "")
    parts = [_titled(f"Why this plan: {clean(case.name)}", _loops(found, case), LOOPS),
             _titled("Next best truck", _sites(found), NEXT),
             _titled("Items that the plan does not use", _items(found), enters),
             *(_confirmed(row, found.items) for row in found.confirmed),
             *(_limit(row) for row in found.limits)]
    return "\n\n".join(part for part in parts if part)


def why_document(found: Why) -> dict[str, Any]:
    """The result of `why`; USD, min, kg."""
    return {"format": FORMAT, **asdict(found)}


def _titled(title: str, table: Table, said: str) -> str:
    if not table.rows:
        return ""
    return f"{heading(title)}\n\n{layout(without_empty(table))}\n\n{paragraph(said)}"


def _loops(found: Why, case: Case) -> Table:
    columns = (Column("truck", "", 0), Column("build"), Column("binds"), Column("left", "", 1),
               Column("unit"), Column("at"), Column("room for"), dollars("extra"))
    return Table(columns, tuple(_loop(row, Units(case.units)) for row in found.loops))


def _loop(row: LoopReason, units: Units) -> tuple[Cell, ...]:
    left, unit = units.any(row.left, row.unit)
    return (row.truck_no, row.build, row.limit, left, unit, row.site, row.room_for, row.room_usd)


def _sites(found: Why) -> Table:
    columns = (Column("site"), Column("work"), Column("parcels", "", 0), Column("truck", "", 0),
               Column("next best"), dollars("extra"))
    return Table(columns, tuple((row.site, row.work, row.parcels, row.truck_no, _next(row), row.extra_usd)
                                for row in found.sites))


def _next(row: NextBest) -> str:
    if row.next_truck_no is not None:
        return f"truck {row.next_truck_no}"
    return "no one" if row.own_build is None else f"plus {row.own_build}"


def _items(found: Why) -> Table:
    columns = (Column("item"), Column("table"), dollars("price"), dollars("enters at"), Column("enters"))
    return Table(columns, tuple((row.item, row.table, row.price_usd, row.entry_usd, _standing(row))
                                for row in found.items))


def _standing(row: EntryPrice) -> str:
    return STANDING[row.standing] + (" (rent a year)" if row.leased else "")


def _confirmed(row: Confirmed, items: tuple[EntryPrice, ...]) -> str:
    """An item solved again at lower prices."""
    table = Table((dollars("price"), Column("in the plan"), dollars("cost of the plan"), Column("known")),
                  tuple((one.price_usd, "yes" if one.enters else "no", one.cost_usd, one.proof)
                        for one in row.tried))
    last = row.tried[-1]
    entry = next((one.entry_usd for one in items if one.item == row.item), None)
    bound = "" if entry is None else f" The relaxation's bound was {usd(entry)}."
    said = (f"Solved again: at {usd(last.price_usd)} the plan uses it.{bound}" if last.enters else
            f"Solved again: no plan found uses it at any price tried.{bound}")
    return _titled(f"Confirmed: {clean(row.item)}", table, said)


def _limit(row: SiteLimit) -> str:
    """A site's longer limits, solved again."""
    title = f"Cycle limit of {clean(row.site)}"
    if row.now_min is None:
        return f"{heading(title)}\n\n{paragraph('All its work waits for the last round: it has none.')}"
    if not row.tried:
        return f"{heading(title)}\n\n{paragraph('There is no clock up to twice its limit to try.')}"
    table = Table((Column("limit", "min", 0), dollars("cost of the plan"), dollars("saved"), Column("known")),
                  tuple((one.limit_min, one.cost_usd, one.saved_usd, one.proof) for one in row.tried))
    return _titled(title, table, _saved(row.now_min, row.tried))


def _saved(now_min: float, tried: tuple[LimitTried, ...]) -> str:
    last, now = tried[-1], number(now_min, 0)
    if last.saved_usd is None or last.saved_usd <= 0.0:
        return (f"Solved again: no plan found costs less than with {now} min, up to "
                f"{number(last.limit_min, 0)} min.")
    sure = ("No plan with the limit as it is costs so little." if last.by_limit else
            "How much of that the limit saves is not proved: the plan in hand may not be the best.")
    return (f"Solved again: {number(last.limit_min, 0)} min in place of {now} is the smallest loosening "
            f"tried that saves something: {usd(last.saved_usd)} a season. {sure}")

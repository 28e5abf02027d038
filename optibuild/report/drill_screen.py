"""A drill on the terminal, as a document and as files: trucks lost, spares, what the plan withstands."""

import json
from dataclasses import asdict
from math import floor
from typing import Any

from optibuild.records import Case
from optibuild.records.drill import BrokenPromise, Drill, Endurance, LateStop, LostTruck, Replanned, Spare
from optibuild.report.bid_screen import unvalued_words
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.csv_tables import csv_text
from optibuild.report.tables import Cell, Column, Table, Units, dollars, minutes, without_empty
from optibuild.report.workbook import workbook_bytes

FORMAT = "optibuild-drill/1"
MISSING = {"plow": "plowing", "deice": "deicing", "both": "plowing and deicing"}
UNKNOWN = "the cost is not known, for the price of an item in it is blank"
SIGN = {"travel speed": "-"}
"""Changes that are worse the other way."""
COUNTED = (
    "The other trucks were planned again, one of each, nothing bought: the fewest sites left out, and of "
    "such plans the least late. Rounds of up to {horizon} min were looked at: a site that is not served is "
    "not wholly served within that. Late in all sums the minutes over the sites, a part of a site by its "
    "share; the minutes are those of the loops as driven. Proved: with such rounds no plan leaves fewer "
    "sites out, and none that leaves out as many has less late as counted: a loop by its clock in steps of "
    "{step} min, a deadline or last round in coarser ones, each twice the one before; else the plan is the "
    "best found, and a better one may exist.")
SPARE = (
    "A spare of the lost truck's own build drives the plan as it was; for the others the fleet with the "
    "spare was planned again for every truck lost, as above. Costs are without a driver.")
WITHSTANDS = (
    "The loops are driven as they are, each change alone, in steps of 1 %; no reserve is kept, and a loop "
    "may come round as rarely as all its sites allow. Weights: curb, plow, empty spreader and ballast, with "
    "the ballast and the rated fill of the plan.")


def drill_text(found: Drill, case: Case, with_spares: bool) -> str:
    """The whole drill; `with_spares` adds what spare trucks do to the price of the bid."""
    units = Units(case.units)
    parts = [f"{heading(f'Drill: {clean(case.name)}')}\n{paragraph(worst_words(found))}",
             _titled("One truck lost", lost_table(found)), _titled("Who comes late", late_table(found)),
             "\n".join(map(paragraph, left_out_words(found))), paragraph(counted_words(found)),
             f"{heading('One spare truck, over all losses')}\n\n{layout(spare_table(found))}",
             paragraph(SPARE),
             f"{heading('Spare trucks to keep')}\n{paragraph(spare_words(found, with_spares))}",
             paragraph(unvalued) if with_spares and (unvalued := unvalued_words(case)) else "",
             _titled("What the plan withstands", endurance_table(found, units)),
             _titled("What breaks at a given change", broken_table(found, units))
             or paragraph(unbroken_words(found)),
             paragraph(WITHSTANDS)]
    return "\n\n".join(part for part in parts if part)


def drill_document(found: Drill) -> dict[str, Any]:
    """The result of `drill` as a tree; minutes, kg, USD, shares."""
    return {"format": FORMAT, **asdict(found)}


def drill_files(found: Drill, system: str) -> dict[str, str | bytes]:
    """File name to content: JSON, a CSV for each table, and one workbook with them all."""
    units = Units(system)
    tables = {"drill_trucks": lost_table(found), "drill_late": late_table(found),
              "drill_spares": spare_table(found), "drill_withstands": endurance_table(found, units),
              "drill_broken": broken_table(found, units)}
    text = json.dumps(drill_document(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return {"drill.json": text, **{f"{name}.csv": csv_text(table) for name, table in tables.items()},
            "drill.xlsx": workbook_bytes(tables)}


def lost_table(found: Drill) -> Table:
    """Each truck lost, those alike in one row: what is late and what is left out."""
    columns = (Column("lost truck"), Column("build"), Column("sites late", "", 0), minutes("latest"),
               minutes("late in all"), Column("not served", "", 0), Column("proved"))
    return Table(columns, tuple(
        (_numbers(row), row.build, len({stop.site for stop in row.left.late}),
         max(map(_late_min, row.left.late), default=0.0), row.left.late_min, len(row.left.not_served),
         "yes" if row.left.proved else "no") for row in found.lost))


def late_table(found: Drill) -> Table:
    """Every stop that comes late, by the truck that is lost."""
    columns = (Column("lost"), Column("site"), Column("work"), Column("by truck", "", 0), minutes("limit"),
               minutes("every"), minutes("late"), minutes("past deadline"), minutes("last round late"))
    return Table(columns, tuple(
        (_numbers(row), stop.site, stop.work, stop.truck_no, stop.limit_min, stop.every_min,
         stop.late_min or None, stop.deadline_late_min or None, stop.end_late_min or None)
        for row in found.lost for stop in row.left.late))


def spare_table(found: Drill) -> Table:
    """Each build as the only spare, best first: what is left late and left out, and what it costs."""
    columns = (Column("spare"), dollars("price"), dollars("cost a year"), minutes("late in all"),
               Column("not served", "", 0), Column("to be had"), Column("proved"))
    return Table(columns, tuple(
        (row.build, row.price_usd, row.annual_usd, row.late_min, row.not_served,
         _had(row), "yes" if row.proved else "no") for row in found.spares))


def _had(row: Spare) -> str:
    if not row.can_be_had:
        return "no"
    return "yes" if row.within_budget else "beyond the budget left"


def endurance_table(found: Drill, units: Units) -> Table:
    """How far each change may go, and what breaks one percent further."""
    columns = (Column("change"), Column("holds to"), Column("breaks first"), *_broken_columns())
    return Table(columns, tuple(
        (row.change, f"{_percent(row, row.holds)}{'' if row.first else ' and more'}",
         row.first.promise if row.first else None, *_broken(row.first, units)) for row in found.endurance))


def broken_table(found: Drill, units: Units) -> Table:
    """Every promise that breaks at the change that is always told."""
    columns = (Column("change"), Column("by"), Column("breaks"), *_broken_columns())
    return Table(columns, tuple(
        (row.change, _percent(row, row.step), one.promise, *_broken(one, units))
        for row in found.endurance for one in row.broken))


def _broken_columns() -> tuple[Column, ...]:
    return (Column("truck", "", 0), Column("at"), Column("limit", "", 1), Column("over", "", 1),
            Column("unit"))


def _broken(one: BrokenPromise | None, units: Units) -> tuple[Cell, ...]:
    if one is None:
        return (None,) * 5
    limit, unit = units.any(one.limit, one.unit)
    return one.truck_no, one.at, limit, units.any(one.over, one.unit)[0], unit


def _percent(row: Endurance, share: float) -> str:
    return f"{SIGN.get(row.change, '+')}{number(100.0 * share, 0)} %"


def _numbers(row: LostTruck) -> str:
    """The numbers of trucks alike, with a word that any of them is meant."""
    return " or ".join(map(str, row.truck_nos))


def _late_min(stop: LateStop) -> float:
    return max(stop.late_min, stop.deadline_late_min, stop.end_late_min)


def _titled(title: str, table: Table) -> str:
    return f"{heading(title)}\n\n{layout(without_empty(table))}" if table.rows else ""


def counted_words(found: Drill) -> str:
    """How lateness is counted and what is proved of it."""
    return COUNTED.format(step=number(found.step_min, 2), horizon=_horizon(found))


def _horizon(found: Drill) -> str:
    return number(floor(found.horizon_min), 0)


def worst_words(found: Drill) -> str:
    """The worst loss in one sentence."""
    worst = max(found.lost, key=lambda row: (len(row.left.not_served), row.left.late_min))
    trucks = sum(len(row.truck_nos) for row in found.lost)
    left = worst.left
    if not left.late and not left.not_served:
        return f"Any one of the {trucks} trucks may be lost: the others still keep every promise of time."
    said = f"Worst to lose: truck {_numbers(worst)}. {_left_words(left, _horizon(found))}"
    kept = sum(len(row.truck_nos) for row in found.lost if not row.left.late and not row.left.not_served)
    return f"{said} Of {trucks} trucks, {kept} can be lost with every promise of time kept."


def _left_words(left: Replanned, horizon: str) -> str:
    """What the others leave out and late, in a sentence."""
    late, missed = len({stop.site for stop in left.late}), len(left.not_served)
    minutes_late = f"late, {number(left.late_min, 1)} min in all."
    if not missed:
        return f"{late} {_sites_are(late)} then {minutes_late}"
    others = f"{late} {'is' if late == 1 else 'are'} {minutes_late}" if late else "none is late."
    return f"{missed} {_sites_are(missed)} then not served within {horizon} min; {others}"


def _sites_are(count: int) -> str:
    return "site is" if count == 1 else "sites are"


def left_out_words(found: Drill) -> list[str]:
    """Which sites nobody can serve, by the truck that is lost."""
    return [f"Without truck {_numbers(row)} not wholly served within {_horizon(found)} min: "
            f"{', '.join(_missing(row.left, site) for site in row.left.not_served)}."
            for row in found.lost if row.left.not_served]


def _missing(left: Replanned, site: str) -> str:
    """A site, with what is missing of it where that is not all."""
    rows = [row for row in left.partly if row.site == site]
    said = " and ".join(f"{MISSING[row.work]} missing" + (
        f" of {row.missing} of {row.parcels} parcels" if row.parcels > 1 else "") for row in rows)
    return f"{clean(site)} ({said})" if rows else clean(site)


def spare_words(found: Drill, with_spares: bool) -> str:
    """How many spares to keep and what they cost."""
    row = found.spare_trucks
    share = number(100.0 * row.share, 1).removesuffix(".0")
    cost = (UNKNOWN if row.price_usd is None or row.annual_usd is None else
            f"{usd(row.price_usd)} at once, {usd(row.annual_usd)} a year without drivers")
    said = (f"{row.count} spare{'s' if row.count != 1 else ''} of {clean(row.build)}: {cost}. "
            f"Their number is {share} % of the {row.required} trucks required, rounded up, at least 1 "
            "(assumption spare_share).")
    if not row.can_be_had:
        said += " So many cannot be had: items run out."
    elif not row.within_budget:
        said += " That is more than the plan leaves of the budget."
    if with_spares and row.bid_usd is not None:
        said += (f" They add {usd(row.bid_usd)} to the price of the bid for a season, overhead and profit "
                 "margin included.")
    return said


def unbroken_words(found: Drill) -> str:
    """That nothing breaks at the changes that are always told."""
    steps = ", ".join(f"{row.change} {_percent(row, row.step)}" for row in found.endurance)
    return f"Nothing breaks at {steps}, each alone."

"""The sections that come from the plan itself: answer, map, loops, axle loads, money, what is near a
limit."""

from collections.abc import Mapping
from types import MappingProxyType

from optibuild.records import Case, LoopReason, Plan, PlannedTruck, Why
from optibuild.records.loop_times import Limit
from optibuild.report.charts import loop_bars, plan_money, site_money, truck_money
from optibuild.report.console import number
from optibuild.report.page.axle_picture import axle_pictures
from optibuild.report.page.blocks import Block, Gallery, Grid, Lines, Section, Words, grids, pictures
from optibuild.report.page.map_picture import map_blocks
from optibuild.report.plan_screen import (
    answer,
    items_table,
    left_out_table,
    paid_later,
    round_tables,
    taken_out,
    trucks_table,
)
from optibuild.report.plan_tables import rounds
from optibuild.report.shortfall_screen import shortfall_words
from optibuild.report.tables import Cell, Column, Table, Units, count, dollars
from optibuild.report.why_screen import LOOPS, loops_words

AXLES = ("Loads are static, from catalog weights. Full: the hopper or tank holds the rated fill; empty: "
         "nothing. Raised: the plow is carried; off: it is on the ground or taken off. Solid bars are full, "
         "hatched ones empty; the line is the rating.")
DUE = "Beside each bar: what is left of the limit, then of the tightest deadline and at which site."
NEAREST = "Nearest limits, truck by truck"
RATED = "Rating: the axle or gross rating of which the least is left."
CHECKS: Mapping[Limit, str] = MappingProxyType({
    "cycle limit": "loop within its cycle limit", "end round": "end round within its time",
    "deadline": "deadlines", "fill": "fill between reloads"})
"""The check of the recheck that holds each limit of a loop."""
SHARED = ("budget", "drivers")
"""Checks of what all trucks share."""


def answer_section(plan: Plan, case: Case) -> Section:
    """The answer in three lines; where no plan exists, what stands in the way and what would help."""
    if plan.money is None:
        return Section("answer", "Answer", [Words(*row) for row in shortfall_words(plan, case)])
    values = {f"{name}-usd": value for name, value in (
        ("capital", plan.money.capital_usd), ("owning", plan.money.owning_usd),
        ("season", plan.money.season_usd), ("bound", plan.outcome.bound_usd)) if value is not None}
    blocks: list[Block] = [Lines(answer(plan, plan.money, case), values),
                           *grids(Grid("Sites left out", left_out_table(plan, case)))]
    return Section("answer", "Answer", blocks)


def map_section(plan: Plan, case: Case) -> Section:
    """Sites and loops to scale."""
    return Section("map", "Map", map_blocks(plan, case))


def loops_section(plan: Plan, case: Case) -> Section | None:
    """Loops against their limits, trucks, and every loop by the clock."""
    if not plan.trucks:
        return None
    loops = [Grid(title, table, said, behind=True) for truck in plan.trucks
             for title, said, table in round_tables(truck, plan, case)]
    words = [Words(text) for text in taken_out(plan, case)]
    due = any(stop.deadline_min is not None for truck in plan.trucks for stop in truck.loop.stops)
    return Section("loops", "Loops and their limits", [
        *pictures(loop_bars(plan)), *([Words(DUE, quiet=True)] if due else []),
        *grids(Grid("Trucks", trucks_table(plan, case))), *words, *loops])


def axles_section(plan: Plan, case: Case) -> Section | None:
    """A picture for each build."""
    if not plan.trucks:
        return None
    return Section("axles", "Axle loads and ratings", [Words(AXLES), Gallery(axle_pictures(plan, case))])


def money_section(plan: Plan) -> Section | None:
    """What is paid at once and what a season costs: by kind, by truck, by site."""
    if plan.money is None:
        return None
    later = paid_later(plan)
    return Section("money", "Money", [
        *pictures(plan_money(plan), truck_money(plan), site_money(plan)),
        *grids(Grid("Items", items_table(plan), later))])


def near_blocks(plan: Plan, case: Case, why: Why | None) -> list[Block]:
    """The limits that every truck is nearest to, and what its loop has room for where reasons were asked;
    then what is left of what all share."""
    units = Units(case.units)
    asked = {} if why is None else {row.truck_no: row for row in why.loops}
    columns = (count("truck"), Column("check"), Column("left", "", 1), Column("unit"), Column("at"),
               Column("rating"), units.mass("rating, left"), Column("in the state"), Column("room for"),
               dollars("extra"))
    rows = tuple((truck.truck_no, *_nearest(truck, asked.get(truck.truck_no), units),
                  *_rating(truck, units), *_room(asked.get(truck.truck_no))) for truck in plan.trucks)
    shared = [(row.name.capitalize(), f"{number(row.worst, 0)} {row.unit} left")
              for row in (() if plan.recheck is None else plan.recheck.checks)
              if row.name in SHARED and row.worst is not None]
    said = f"{LOOPS if why is None else loops_words(why)} {RATED}"
    return [*grids(Grid(NEAREST, Table(columns, rows), said)), *([Lines(shared)] if shared else [])]


def _nearest(truck: PlannedTruck, asked: LoopReason | None, units: Units) -> tuple[Cell, ...]:
    """The check of the limit of which the least share is left, what is left of it, in which unit, and at
    which site."""
    if asked is not None:
        return CHECKS[asked.limit], *units.any(asked.left, asked.unit), asked.site
    found: list[tuple[float, float, Limit, str | None]] = [
        (limit_min, limit_min - takes.duration_min, "cycle limit" if kind == "each" else "end round", None)
        for kind, _, limit_min, takes in rounds(truck.loop)]
    found += [(stop.deadline_min, stop.deadline_min - stop.leave_min, "deadline", stop.site)
              for stop in truck.loop.stops if stop.deadline_min is not None and stop.leave_min is not None]
    _, left, limit, site = min(found, key=lambda one: one[1] / one[0])
    return CHECKS[limit], left, "min", site


def _rating(truck: PlannedTruck, units: Units) -> tuple[Cell, ...]:
    margins = [(float(getattr(row, f"{part}_margin_kg")), rating, f"{row.state}, {row.crew}")
               for row in truck.axle_loads
               for part, rating in (("front", "front GAWR"), ("rear", "rear GAWR"), ("gross", "GVWR"))]
    least_kg, rating, state = min(margins)
    return rating, units.kg(least_kg), state


def _room(asked: LoopReason | None) -> tuple[Cell, ...]:
    return (None, None) if asked is None else (asked.room_for, asked.room_usd)


def prices_table(plan: Plan) -> Table:
    """The plain prices of every site that the plan serves."""
    columns = (Column("site"), dollars("cost"), dollars("each push"), dollars("each event"),
               dollars("season"))
    return Table(columns, tuple(
        (site.id, site.cost_usd, site.price.push_usd, site.price.event_usd, site.price.season_usd)
        for site in plan.sites if site.price is not None))

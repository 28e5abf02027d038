"""The sections that come from the plan itself: answer, map, loops, axle loads, money, what is near a
limit."""

from optibuild.records import Case, Plan, PlannedTruck
from optibuild.report.charts import loop_bars, plan_money, site_money, truck_money
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
    tightest,
    trucks_table,
)
from optibuild.report.recheck_screen import telling_table
from optibuild.report.shortfall_screen import shortfall_words
from optibuild.report.tables import Cell, Column, Table, Units, count, dollars, minutes

AXLES = ("Loads are static, from catalog weights. Full: the hopper or tank holds the rated fill; empty: "
         "nothing. Raised: the plow is carried; off: it is on the ground or taken off. Solid bars are full, "
         "hatched ones empty; the line is the rating.")
DUE = "Beside each bar: what is left of the limit, then of the tightest deadline and at which site."
NEAR = ("For each truck what is left of the limit of its loop, of its nearest deadline and of its tightest "
        "axle or gross rating.")


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


def near_blocks(plan: Plan, case: Case) -> list[Block]:
    """How near every truck is to its limits, and the least margin of every kind of promise."""
    units = Units(case.units)
    columns = (count("truck"), Column("build"), minutes("loop, left"), minutes("deadline, left"),
               Column("at"), Column("rating"), units.mass("rating, left"), Column("in the state"))
    near = Table(columns, tuple(_near(truck, units) for truck in plan.trucks))
    blocks: list[Block] = list(grids(Grid("Nearest limits, truck by truck", near, NEAR)))
    if plan.recheck is not None:
        blocks += grids(Grid("Least margins", telling_table(plan.recheck, case.units)))
    return blocks


def _near(truck: PlannedTruck, units: Units) -> tuple[Cell, ...]:
    taken, limit = tightest(truck.loop)
    due = [(stop.deadline_min - stop.leave_min, stop.site) for stop in truck.loop.stops
           if stop.deadline_min is not None and stop.leave_min is not None]
    margins = [(float(getattr(row, f"{part}_margin_kg")), rating, f"{row.state}, {row.crew}")
               for row in truck.axle_loads
               for part, rating in (("front", "front GAWR"), ("rear", "rear GAWR"), ("gross", "GVWR"))]
    least_kg, rating, state = min(margins)
    return (truck.truck_no, truck.build, limit - taken, *(min(due) if due else (None, None)), rating,
            units.kg(least_kg), state)


def prices_table(plan: Plan) -> Table:
    """The plain prices of every site that the plan serves."""
    columns = (Column("site"), dollars("cost"), dollars("each push"), dollars("each event"),
               dollars("season"))
    return Table(columns, tuple(
        (site.id, site.cost_usd, site.price.push_usd, site.price.event_usd, site.price.season_usd)
        for site in plan.sites if site.price is not None))

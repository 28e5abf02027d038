"""The sections of what was asked beside the plan: bid, reasons, drill, variations, frontier."""

from collections.abc import Sequence

from optibuild.records import Bid, Case, Marginal, Plan, Why
from optibuild.records.comparison import Comparison
from optibuild.records.drill import Drill
from optibuild.records.frontier import Frontier
from optibuild.report import bid_screen as bids
from optibuild.report import bid_tables, drill_screen, frontier_screen, vary_tables, why_screen
from optibuild.report.charts import (
    form_risks,
    frontier_steps,
    site_prices,
    size_map,
    truck_losses,
    variation_costs,
)
from optibuild.report.page.blocks import Block, Grid, Lines, Section, Words, grids, pictures
from optibuild.report.page.plan_sections import near_blocks, prices_table
from optibuild.report.tables import Units
from optibuild.report.vary_screen import answer_words

NOT_PRICED = ("The plain prices of the plan: cost, overhead and profit margin of an expected season. Other "
              "forms of contract and what they risk are not asked yet: run `optibuild bid DIR --out DIR`, "
              "then `optibuild report DIR`.")
NOT_ASKED = "Not asked yet: run `optibuild why DIR --out DIR`, then `optibuild report DIR`."


def bid_section(plan: Plan, case: Case, bid: Bid | None, marginal: Sequence[Marginal]) -> Section | None:
    """Prices in every form of contract and what each risks; else the plain prices of the plan."""
    if bid is None:
        found = grids(Grid("Prices of the sites", prices_table(plan), NOT_PRICED))
        unvalued = [Words(said)] if (said := bids.unvalued_words(case)) else []
        return Section("bid", "Bid", [*found, *unvalued]) if found else None
    without = [Grid("Without one site", bid_tables.without_table(marginal), bids.WITHOUT,
                    behind=True)]
    blocks: list[Block] = [
        Lines(bids.bid_answer(bid, case)), *pictures(site_prices(bid)),
        *grids(Grid("Price of a season", bid_tables.price_table(bid)),
               Grid("Prices by form of contract", bid_tables.form_table(bid),
                    bids.BLANK if bids.has_blank(bid) else "", behind=True),
               Grid("Seasonal sum with a cap", bid_tables.cap_table(bid), behind=True),
               Grid("Price of an event by depth of its snow", bid_tables.band_table(bid, Units(case.units)))),
        *pictures(form_risks(bid)), Words(bids.drawn_words(bid), quiet=True),
        *grids(*(without if bids.says_without(marginal) else []))]
    return Section("bid", "Bid", blocks)


def binds_section(plan: Plan, case: Case, why: Why | None) -> Section | None:
    """What is near its limit, from the plan and, where it was asked, from its reasons."""
    if not plan.trucks:
        return None
    return Section("binds", "What binds", near_blocks(plan, case, why))


def changes_section(plan: Plan, case: Case, why: Why | None) -> Section | None:
    """Who is next best, from which price an item would enter, and what was solved again."""
    if not plan.trucks:
        return None
    if why is None:
        return Section("changes", "What would change the answer", [Words(NOT_ASKED, quiet=True)])
    confirmed = [Grid(f"Confirmed: {row.item}", why_screen.tried_table(row),
                      why_screen.confirmed_words(row, why.items)) for row in why.confirmed]
    limits = [Grid(f"Cycle limit of {row.site}", why_screen.limits_table(row), why_screen.limit_words(row))
              for row in why.limits]
    return Section("changes", "What would change the answer", grids(
        Grid("Items that the plan does not use", why_screen.enters_table(why), why_screen.enters_words(case)),
        Grid("Next best truck", why_screen.next_table(why), why_screen.next_words(why)), *confirmed, *limits))


def drill_section(case: Case, found: Drill | None) -> Section | None:
    """Each truck lost in turn, spares, and what the plan withstands."""
    if found is None:
        return None
    units = Units(case.units)
    broken = drill_screen.broken_table(found, units)
    return Section("drill", "Drill: a truck is lost, the storm is heavier", [
        *_lost_blocks(found), *map(Words, drill_screen.left_out_words(found)),
        Words(drill_screen.counted_words(found), quiet=True),
        *grids(Grid("Who comes late", drill_screen.late_table(found)),
               Grid("One spare truck, over all losses", drill_screen.spare_table(found), drill_screen.SPARE)),
        Words(drill_screen.spare_words(found, True)),
        *grids(Grid("What the plan withstands", drill_screen.endurance_table(found, units),
                    drill_screen.WITHSTANDS),
               Grid("What breaks at a given change", broken)),
        *([] if broken.rows else [Words(drill_screen.unbroken_words(found))])])


def _lost_blocks(found: Drill) -> Sequence[Block]:
    """The minutes late for each truck lost as a chart; where nothing comes late, in words and a table."""
    chart = truck_losses(found)
    if chart is not None or not found.lost:
        return pictures(chart)
    return [Words(drill_screen.worst_words(found)),
            *grids(Grid("One truck lost", drill_screen.lost_table(found)))]


def variations_section(found: Comparison | None) -> Section | None:
    """The case and its variations side by side."""
    if found is None or not found.rows:
        return None
    question = found.rows[0].question
    return Section("variations", "Variations", [
        Words(answer_words(found)), *pictures(variation_costs(found)),
        *grids(Grid("Against the base", vary_tables.differences_table(found.rows, question)),
               Grid("Builds in place of others", vary_tables.swaps_table(found.rows)),
               Grid("Items", vary_tables.items_table(found.rows)),
               Grid("The tightest promise of time", vary_tables.promises_table(found.rows)),
               Grid("What is changed", vary_tables.changes_table(found.rows))),
        *pictures(*map(size_map, found.maps))])


def frontier_section(case: Case, found: Sequence[Frontier]) -> Section | None:
    """Contract value against budget, drivers or snowfall rate."""
    blocks: list[Block] = []
    for one in (one for one in found if one.steps):
        blocks += [Words(frontier_screen.answer_words(one)),
                   *pictures(frontier_steps(one, Units(case.units))),
                   *grids(Grid(f"Steps by {frontier_screen.NAMES[one.key]}",
                               frontier_screen.step_table(one, case), frontier_screen.notes(one, case)))]
    return Section("frontier", "Frontier", blocks) if blocks else None

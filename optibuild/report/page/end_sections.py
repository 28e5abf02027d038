"""The last sections: assumptions, cautions, and where all of it comes from."""

from collections.abc import Mapping, Sequence
from math import isfinite

from optibuild.cautions import BID
from optibuild.records import Bid, Case, Plan
from optibuild.report.console import number
from optibuild.report.page.blocks import Block, Grid, Lines, Section, Words, grids
from optibuild.report.page.sheets_words import amount, snowfall
from optibuild.report.plan_screen import assumptions_table
from optibuild.report.recheck_screen import checks_table, verdict_words
from optibuild.report.tables import Column, Table, Units
from optibuild.units import shown, shown_unit

PAID = {"working": "the minutes of the rounds", "storm": "the whole event"}
SOURCES = "C: common practice, no source. M: from memory."


def assumptions_section(plan: Plan, case: Case) -> Section:
    """The figures that the plan rests on: those of the case, then defaults, the user's own first."""
    own = [row for row in plan.assumptions if row.overridden]
    rest = [row for row in plan.assumptions if not row.overridden]
    table = assumptions_table(rest, case)
    used = [column.heading for column in table.columns].index("default")
    kept = Table(table.columns[:used] + table.columns[used + 1:],
                 tuple(row[:used] + row[used + 1:] for row in table.rows))
    return Section("assumptions", "Assumptions", [
        *grids(Grid("The case", _case_table(case)), Grid("The season", _season_table(case))),
        Words(SOURCES, quiet=True),
        *grids(Grid("Your own", assumptions_table(own, case)), Grid("Defaults", kept))])


def _case_table(case: Case) -> Table:
    """The storm, what labor, fuel and capital cost, how a price is made, and the crew."""
    storm, money, crew = case.storm, case.money, case.crew
    fuels = [(f"price of {name}", amount(usd, "money_per_volume", case, 2))
             for name, usd in money.fuel_usd_per_l]
    drivers = number(crew.drivers, 0) if isfinite(crew.drivers) else "as many as it takes"
    shift = f"{number(crew.shift_min / 60.0, 1)} h" if isfinite(crew.shift_min) else "no limit"
    rows = [("snowfall of the storm", snowfall(case)),
            ("density of fresh snow", amount(storm.snow_density_kg_per_m3, "density", case, 1)),
            ("pavement", amount(storm.pavement_degc, "temperature", case, 0)),
            ("speed on the road", amount(storm.travel_speed_m_per_min, "speed", case, 0)),
            ("wage", amount(money.wage_usd_per_min, "money_per_time", case, 2)),
            ("burden on the wage", _percent(money.burden)), ("paid for", PAID[money.paid]), *fuels,
            ("interest", _percent(money.interest)), ("overhead, of cost", _percent(money.overhead)),
            ("profit margin, of price", _percent(money.profit_margin)),
            ("people in a truck", number(crew.occupants, 0)), ("drivers", drivers), ("longest shift", shift),
            ("start of a loop, paid", amount(crew.start_minutes_min, "time", case, 0))]
    return Table((Column("figure"), Column("value")), tuple(rows))


def _percent(share: float) -> str:
    return f"{number(100.0 * share, 1).removesuffix('.0')} %"


def _season_table(case: Case) -> Table:
    units = Units(case.units)
    columns = (Column("event"), Column("a season", "", 1), Column("lasts", "h", 1), units.depth("snowfall"),
               Column("pavement", shown_unit("temperature", case.units), 0))
    return Table(columns, tuple(
        (row.id, row.count, row.duration_min / 60.0, units.deep(row.snowfall_m),
         shown(row.pavement_degc, "temperature", case.units)) for row in case.season))


def cautions_section(plan: Plan, bid: Bid | None) -> Section:
    """What to check before relying on it, and on any price that the page shows."""
    priced = bid is not None or any(site.price is not None for site in plan.sites)
    return Section("cautions", "Cautions", [
        Words("", list(dict.fromkeys([*plan.cautions, *(BID if priced else ())])))])


def provenance_section(plan: Plan, case: Case, beside: Mapping[str, str]) -> Section:
    """Files, versions, how the search ended, and every check of the recheck; `beside` has the digest of each
    file of results that was read beside the plan."""
    files, results = (Table((Column("file"), Column("sha256")), tuple(sorted(read.items())))
                      for read in (plan.case.inputs, beside))
    blocks: list[Block] = [Lines(_made(plan), _figures(plan)),
                           *grids(Grid("Files", files), Grid("Results read beside the plan", results))]
    if plan.recheck is not None:
        blocks += [Grid("Recheck", checks_table(plan.recheck.checks, case.units, "left, or off by"),
                        f"{verdict_words(plan.recheck)} Each was worked out again from the tables of "
                        "the case, by formulas of its own.",
                        behind=True)]
    return Section("provenance", "Where this comes from", blocks)


def _made(plan: Plan) -> Sequence[tuple[str, str]]:
    solvers = ", ".join(f"{name} {version}" for name, version in plan.solver.items())
    found = plan.outcome
    ended = f"{found.proof}; the search ended: {found.stopped}, after {number(found.seconds, 1)} s"
    asked = [] if found.asked_gap is None else [("Gap asked", f"{number(100.0 * found.asked_gap, 2)} %")]
    variation = [("Variation", plan.case.variation)] if plan.case.variation is not None else []
    return [("Case", plan.case.given_as), *variation, ("Question", plan.case.question),
            ("Made by", f"optibuild {plan.version}; {solvers}"), ("Outcome", ended), *asked]


def _figures(plan: Plan) -> dict[str, float]:
    found = plan.outcome
    figures = {"objective-usd": found.objective_usd, "bound-usd": found.bound_usd, "gap": found.gap,
               "cost-usd": found.cost_usd, "seconds": found.seconds}
    return {name: value for name, value in figures.items() if value is not None}

"""What a plan costs a season: by kind, by truck and by site."""

from optibuild.records import Plan
from optibuild.report.charts.chart import MOST_ROWS, Chart, foremost, named, share, shown_of
from optibuild.report.charts.lying_bars import Bars, Row, lying_bars, stacked
from optibuild.report.console import number, usd
from optibuild.report.tables import KINDS, Column, Table, by_kind, dollars

AXIS = "USD a season"


def plan_money(plan: Plan) -> Chart | None:
    """What a season costs by kind; None where there is no plan."""
    if plan.money is None:
        return None
    spent = by_kind(plan.money)
    whole = sum(spent.values())
    most = max(spent, key=lambda kind: spent[kind])
    title = f"Of {usd(whole)} a season, {most} takes {share(spent[most], whole)}."
    table = Table((Column("kind"), dollars("a season"), Column("share", "%", 1)), tuple(
        (kind, value, 100.0 * value / whole if whole else 0.0) for kind, value in spent.items()))
    rows = [Row(kind, f"{usd(value)}, {share(value, whole)}", stacked((value,)))
            for kind, value in spent.items()]
    return lying_bars("plan-money", title, "A bar for each kind of cost.", table, Bars(("cost",), AXIS), rows)


def truck_money(plan: Plan) -> Chart | None:
    """What each truck costs a season by kind; None without trucks."""
    if plan.money is None or not plan.trucks:
        return None
    rows = [(f"truck {truck.truck_no}", truck.build, truck.season.by_kind) for truck in plan.trucks]
    name, _, most = max(rows, key=lambda row: row[2].usd)
    whole = plan.money.owning_usd + plan.money.season_usd
    shown = foremost(rows, lambda row: row[2].usd)
    title = (f"The dearest is {name}: {usd(most.usd)} a season, {share(most.usd, whole)} of the plan's "
             f"{usd(whole)}.{shown_of(shown, rows, 'trucks that cost most')}")
    table = Table((Column("truck"), Column("build"), *map(dollars, KINDS), dollars("a season")), tuple(
        (name, build, *by_kind(money).values(), money.usd) for name, build, money in rows))
    bars = [Row(f"{name} \u2013 {named(build)}", usd(money.usd), stacked(tuple(by_kind(money).values())))
            for name, build, money in shown]
    return lying_bars("truck-money", title, "A bar for each truck: what it costs a season, by kind.", table,
                      Bars(KINDS, AXIS), bars)


def site_money(plan: Plan) -> Chart | None:
    """Each served site's share of the cost by kind, and how much the plan could save without it at the most;
    None where no site is served."""
    rows = sorted(((site.id, site.by_kind, site.marginal_most_usd) for site in plan.sites
                   if site.by_kind is not None), key=lambda row: -row[1].usd)
    if not rows:
        return None
    whole = sum(cost.usd for _, cost, _ in rows)
    name, most, _ = rows[0]
    shown = rows[:MOST_ROWS]
    title = (f"The dearest site is {named(name)}: {usd(most.usd)} a season, {share(most.usd, whole)} of "
             f"{usd(whole)} for {len(rows)} site{'' if len(rows) == 1 else 's'}.")
    table = Table((Column("site"), *map(dollars, KINDS), dollars("share of cost"),
                   dollars("saved without it, at most")), tuple(
        (name, *by_kind(cost).values(), cost.usd, saved) for name, cost, saved in rows))
    bars = [Row(name, number(cost.usd, 0) if saved is None else
                f"{number(cost.usd, 0)}, saves {number(saved, 0)} at most",
                stacked(tuple(by_kind(cost).values())), saved) for name, cost, saved in shown]
    return lying_bars(
        "site-money", title + shown_of(shown, rows, "sites that cost most"),
        "A bar for each site, the dearest first: its share of what a season costs, by kind. A mark tells "
        "what the best plan could save without the site at the most.", table,
        Bars(KINDS, AXIS, "saved without it"), bars)

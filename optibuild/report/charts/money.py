"""What a plan costs a season: by kind, by truck and by site."""

from collections.abc import Mapping
from typing import NamedTuple

from optibuild.records import Plan, PlannedItem, PlannedMoney, PlannedTruck
from optibuild.report.charts.chart import Chart, foremost, named, share, shown_of
from optibuild.report.charts.lying_bars import Bars, Row, lying_bars, stacked
from optibuild.report.console import number, usd
from optibuild.report.tables import Column, Table, dollars

AXIS = "USD a season"
KINDS = ("owning", "labor", "fuel", "wear", "material")
NOISE_USD = 0.005
MOST_SITES = 12
"""Sites that a picture shows; the table behind it has them all."""


class TruckMoney(NamedTuple):
    """A season of one truck [USD]: what is bought for it, and its work."""

    name: str
    build: str
    owning_usd: float
    work_usd: float

    @property
    def usd(self) -> float:
        """Both."""
        return self.owning_usd + self.work_usd


def plan_money(plan: Plan) -> Chart | None:
    """What a season costs by kind; None where there is no plan."""
    if plan.money is None:
        return None
    spent = _kinds(plan.money)
    whole = sum(spent.values())
    most = max(spent, key=lambda kind: spent[kind])
    title = f"Of {usd(whole)} a season, {most} takes {share(spent[most], whole)}."
    table = Table((Column("kind"), dollars("a season"), Column("share", "%", 1)), tuple(
        (kind, value, 100.0 * value / whole if whole else 0.0) for kind, value in spent.items()))
    rows = [Row(kind, f"{usd(value)}, {share(value, whole)}", stacked((value,)))
            for kind, value in spent.items()]
    return lying_bars("plan-money", title, "A bar for each kind of cost.", table, Bars(("cost",), AXIS), rows)


def _kinds(money: PlannedMoney) -> dict[str, float]:
    return dict(zip(KINDS, (money.owning_usd, money.labor_usd, money.fuel_usd, money.wear_usd,
                            money.material_usd), strict=True))


def truck_money(plan: Plan) -> Chart | None:
    """What each truck costs a season: owning what is bought for it, and its work; None without trucks.

    A plan tells what a new item costs a year and not the upkeep of owned ones: that has a row of its own, so
    that all rows make the plan's cost. Where some of an item are owned, its trucks share what is bought.
    """
    if plan.money is None or not plan.trucks:
        return None
    rows = [TruckMoney(f"truck {truck.truck_no}", truck.build, _owning(truck, plan), truck.season.usd)
            for truck in plan.trucks]
    upkeep = plan.money.owning_usd - sum(row.owning_usd for row in rows)
    most = max(rows, key=lambda row: row.usd)
    whole = plan.money.owning_usd + plan.money.season_usd
    title = (f"The dearest is {most.name}: {usd(most.usd)} a season, {share(most.usd, whole)} of the plan's "
             f"{usd(whole)}.")
    told = "A bar for each truck: owning what is bought for it, and its work (labor, fuel, wear, material)."
    if upkeep > NOISE_USD:
        rows.append(TruckMoney("all trucks", "upkeep of what is owned", upkeep, 0.0))
        told += " Upkeep of what is owned has a bar of its own."
    return _trucks(title, told, rows)


def _trucks(title: str, told: str, rows: list[TruckMoney]) -> Chart:
    shown = foremost(rows, lambda row: row.usd)
    table = Table((Column("truck"), Column("build"), dollars("owning"), dollars("work"), dollars("a season")),
                  tuple((*row, row.usd) for row in rows))
    bars = [Row(f"{row.name} \u2013 {named(row.build)}", usd(row.usd),
                stacked((row.owning_usd, row.work_usd))) for row in shown]
    return lying_bars("truck-money", title + shown_of(shown, rows, "rows that cost most"), told, table,
                      Bars(("owning what is bought", "work of a season"), AXIS), bars)


def _owning(truck: PlannedTruck, plan: Plan) -> float:
    """A year of what a truck consists of [USD], as far as it is bought."""
    of: Mapping[tuple[str, str], PlannedItem] = {(row.table, row.id): row for row in plan.items}
    parts = [("trucks", truck.truck, 1), ("plows", truck.plow, 1), ("spreaders", truck.spreader, 1),
             *(("ballast", kit.id, kit.count) for kit in truck.ballast)]
    return sum((units * _bought_usd(of[table, name]) for table, name, units in parts if name), 0.0)


def _bought_usd(item: PlannedItem) -> float:
    used = item.bought + item.owned_used
    return item.annual_usd * item.bought / used if used else 0.0


def site_money(plan: Plan) -> Chart | None:
    """Each served site's share of the cost, and how much the plan could save without it at the most; None
    where no site is served."""
    rows = sorted(((site.id, site.cost_usd, site.marginal_most_usd) for site in plan.sites
                   if site.cost_usd is not None), key=lambda row: -row[1])
    if not rows:
        return None
    whole = sum(cost for _, cost, _ in rows)
    name, most, _ = rows[0]
    shown = rows[:MOST_SITES]
    title = (f"The dearest site is {named(name)}: {usd(most)} a season, {share(most, whole)} of {usd(whole)} "
             f"for {len(rows)} site{'' if len(rows) == 1 else 's'}.")
    columns = (Column("site"), dollars("share of cost"), dollars("saved without it, at most"))
    bars = [Row(name, number(cost, 0) if saved is None else
                f"{number(cost, 0)}, saves {number(saved, 0)} at most", stacked((cost,)),
                saved) for name, cost, saved in shown]
    return lying_bars(
        "site-money", title + shown_of(shown, rows, "sites that cost most"),
        "A bar for each site, the dearest first: its share of what a season costs. A mark tells what the "
        "best plan could save without the site at the most.", Table(columns, tuple(rows)),
        Bars(("share of the cost",), AXIS, "saved without the site, at most"), bars)

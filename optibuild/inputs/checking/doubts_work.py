"""Whether the tables hold what the sites and the question ask for."""

from collections.abc import Mapping
from math import isfinite

from optibuild.inputs.checking.money import paid_at_once_usd
from optibuild.inputs.declared.keys import FUEL, FUELS
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Row, Table
from optibuild.units import shown, shown_unit

WORKS = {
    "plows": ("plow", "plowed", ("plow", "both")),
    "spreaders": ("spreader", "deiced", ("deice", "both")),
}
"""Table -> what does a work there, what is done, the sites' words for it."""


def doubt_equipment(tables: Mapping[str, Table], collector: Collector) -> None:
    """Sites that ask for a work which nothing in the case can do."""
    for name in WORKS:
        _doubt_table(name, tables, collector)
    _doubt_allowed(tables, collector)


def _asking(tables: Mapping[str, Table], name: str) -> list[Row]:
    sites = tables.get("sites")
    return [row for row in sites.rows if row.values.get("work") in WORKS[name][2]] if sites else []


def _doubt_table(name: str, tables: Mapping[str, Table], collector: Collector) -> None:
    table, asking = tables.get(name), _asking(tables, name)
    # with neither plows nor spreaders there is an error already
    nothing = not any(tables[kind].rows for kind in WORKS if kind in tables)
    if table is None or table.rows or not asking or nothing:
        return
    thing, done, _ = WORKS[name]
    collector.add("doubt.work", f"{_counted(asking)} be {done}, and there is no {thing}",
                  table.place(), tables["sites"].place(asking[0], "work"),
                  expected=f"a {thing}, or sites without that work: nothing else can do it")


def _counted(asking: list[Row]) -> str:
    return "a site is to" if len(asking) == 1 else f"{len(asking):,} sites are to"


def _doubt_allowed(tables: Mapping[str, Table], collector: Collector) -> None:
    trucks, asking = tables.get("trucks"), _asking(tables, "plows")
    if not trucks or not trucks.rows or not asking:
        return
    if all(row.values.get("plow_allowed") is False for row in trucks.rows):
        collector.add("doubt.work", f"{_counted(asking)} be plowed, and no truck may have a plow",
                      trucks.place(trucks.rows[0], "plow_allowed"),
                      tables["sites"].place(asking[0], "work"), value="no",
                      expected="yes for at least one truck: nothing else can plow")


def doubt_pay(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """A question about contract value where no site has any."""
    sites, question = tables.get("sites"), settings.values.get("case.question")
    if not sites or not sites.rows or question not in ("value", "profit"):
        return
    if all("pay_usd" in row.values and not row.values["pay_usd"] for row in sites.rows):
        collector.add("doubt.pay", f"question is {question}, and no site has any pay",
                      settings.place("case.question"), sites.place(sites.rows[0], "pay_usd"),
                      value=question, expected="a pay above 0: without it no site is worth serving")


def doubt_fuels(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """A price of a fuel that no truck burns, unless it is one that has a price anyway."""
    trucks = tables.get("trucks")
    burned = {row.values.get("fuel") for row in trucks.rows} if trucks else {None}
    for name in settings.fuels if None not in burned else ():
        if name not in burned and name not in FUELS:
            key = FUEL.name.replace("NAME", name)
            collector.add("doubt.fuel", f"no truck burns '{name}'", settings.place(key), value=name,
                          expected=" or ".join(sorted(map(str, burned))),
                          hint=did_you_mean(name, map(str, burned)))


def doubt_budget(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """A budget that buys no truck, where none is owned."""
    trucks, budget = tables.get("trucks"), settings.values.get("money.budget")
    if not trucks or not trucks.rows or budget is None or not isfinite(budget):
        return
    prices = {row.number: usd for row in trucks.rows if (usd := paid_at_once_usd(row.values)) is not None}
    owned = any(row.values.get("owned", 1) for row in trucks.rows)
    if owned or len(prices) < len(trucks.rows) or budget >= min(prices.values()):
        return
    cheapest = next(row for row in trucks.rows if prices[row.number] == min(prices.values()))
    price = f"{shown(prices[cheapest.number], 'money', 'us'):,.0f} USD"
    collector.add("doubt.budget", f"the budget buys no truck: the cheapest costs {price}",
                  settings.place("money.budget"), trucks.place(cheapest, "price_usd"),
                  value=f"{budget:,.0f} USD", expected=f"at least {price}: no truck is owned")


def doubt_traction(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """Rolling resistance that takes all the grip even where every wheel is driven, and snow to push."""
    keys = ("assumptions.rolling", "assumptions.mu_snow")
    rolling, grip = (settings.values.get(key) for key in keys)
    if rolling is None or grip is None or rolling < grip or not _asking(tables, "plows"):
        return
    collector.add("doubt.traction", f"rolling is {rolling:g}, mu_snow is {grip:g}: nothing can plow",
                  *(settings.given[key] for key in keys if key in settings.given), value=f"{rolling:g}",
                  expected=f"below {grip:g}: what wheels hold beyond rolling is left to push")


def doubt_narrow(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """Plowed sites whose clear width no truck of the case passes."""
    sites, trucks = tables.get("sites"), tables.get("trucks")
    widths = [row.values.get("width_m") for row in trucks.rows] if trucks else []
    known = [width for width in widths if width is not None]
    if sites is None or not known or len(known) < len(widths):
        return
    system = settings.values.get("case.units", "us")
    for row in _asking(tables, "plows"):
        clear = row.values.get("clear_width_m")
        if clear is not None and clear < min(known):
            unit = shown_unit("length", system)
            width, truck = (f"{shown(length, 'length', system):.6g} {unit}" for length in (clear, min(known)))
            collector.add("doubt.narrow", f"clear_width is {width}", sites.place(row, "clear_width_m"),
                          value=width, expected=f"at least {truck}, the width of the narrowest truck")

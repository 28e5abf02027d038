"""Checks between rows and between tables: ids given once, references that lead somewhere, rows at all."""

from collections.abc import Callable, Iterable, Mapping

from optibuild.errors import Place
from optibuild.inputs.case_file import Settings
from optibuild.inputs.checks import check_money, check_sites, check_trucks
from optibuild.inputs.columns import OPTIONAL, TABLES
from optibuild.inputs.problems import Collector, did_you_mean
from optibuild.inputs.tables import Row, Table

ITEM_TABLES = ("trucks", "plows", "spreaders", "ballast")
MOST_CLOCKS = 300
"""Minutes are kept for every build, clock and stop: more clocks than this would fill the memory."""
Tables = Mapping[str, Table | None]


def check_tables(tables: Tables, settings: Settings, collector: Collector) -> None:
    """Every check that needs more than one cell. A table that could not be read (None) is passed over."""
    _check_rows(tables, collector)
    _check_ids(tables, collector)
    for name in ITEM_TABLES:
        _with(tables, name, lambda table: check_money(table, collector))
    _with(tables, "trucks", lambda table: check_trucks(table, settings, collector))
    _with(tables, "trucks", lambda table: _check_fuels(table, settings, collector))
    _with(tables, "sites", lambda table: check_sites(table, collector))
    _with(tables, "sites", lambda table: _check_clocks(table, settings, collector))
    _check_materials(tables, collector)
    _check_travel(tables, collector)


def _with(tables: Tables, name: str, check: Callable[[Table], None]) -> None:
    table = tables[name]
    if table is not None:
        check(table)


def _rows(tables: Tables, name: str) -> tuple[Row, ...] | None:
    table = tables[name]
    return None if table is None else table.rows


def _check_rows(tables: Tables, collector: Collector) -> None:
    needed = [name for name in TABLES if name not in OPTIONAL]
    if _rows(tables, "spreaders"):
        needed.append("materials")
    for name in needed:
        table = tables[name]
        if table is not None and not table.rows:
            collector.add("table.empty", f"the table '{name}' has no rows", table.place(),
                          expected="one row or more")
    plows, spreaders = tables["plows"], tables["spreaders"]
    if plows is not None and spreaders is not None and not plows.rows and not spreaders.rows:
        collector.add("table.empty", "there are neither plows nor spreaders", plows.place(),
                      spreaders.place(), expected="one row or more in one of them")


def _check_ids(tables: Tables, collector: Collector) -> None:
    """Ids are given once in a table; depots and sites share one set, as places of the travel table."""
    for name in (*ITEM_TABLES, "materials", "season"):
        _check_once([name], tables, collector)
    _check_once(["depots", "sites"], tables, collector)


def _check_once(names: Iterable[str], tables: Tables, collector: Collector) -> None:
    first: dict[str, tuple[Table, Row]] = {}
    for table in filter(None, (tables[name] for name in names)):
        for row in table.rows:
            found = row.values.get("id")
            if found in first:
                there, earlier = first[found]
                collector.add("id.twice", f"the id '{found}' is there twice", table.place(row, "id"),
                              there.place(earlier, "id"), value=found, expected="an id of its own")
            elif found is not None:
                first[found] = (table, row)


def _check_fuels(trucks: Table, settings: Settings, collector: Collector) -> None:
    for row in trucks.rows:
        fuel = row.values.get("fuel")
        if fuel is not None and fuel not in settings.fuels and f"money.fuel.{fuel}" not in settings.given:
            collector.add("id.unknown", f"the fuel '{fuel}' has no price", trucks.place(row, "fuel"),
                          settings.place(f"money.fuel.{fuel}"), value=fuel,
                          expected=" or ".join(settings.fuels), hint=did_you_mean(fuel, settings.fuels))


def _check_clocks(sites: Table, settings: Settings, collector: Collector) -> None:
    """Every loop is looked at in every clock: the cycle limits asked, and a grid of tau_step below them."""
    asked: dict[float, Place] = {}
    for row in sites.rows:
        for name in ("plow_every_min", "deice_every_min"):
            if row.values.get(name) is not None and row.values[name] not in asked:
                asked[row.values[name]] = sites.place(row, name)
    step = settings.values.get("assumptions.tau_step")
    count = len(asked) + (int(max(asked) / step) if asked and step else 0)
    if count > MOST_CLOCKS:
        text = f"{len(asked):,} cycle limits and a grid of tau_step up to the largest make {count:,} clocks"
        collector.add("table.clocks", text, asked[max(asked)], settings.place("assumptions.tau_step"),
                      expected=f"at most {MOST_CLOCKS}")


def _check_materials(tables: Tables, collector: Collector) -> None:
    spreaders, materials = tables["spreaders"], tables["materials"]
    if spreaders is None or materials is None or not materials.rows or not materials.ids_known:
        return
    known = materials.ids()
    for row in spreaders.rows:
        if "material" not in row.values:
            continue
        material, place = row.values["material"], spreaders.place(row, "material")
        if material is None and len(known) > 1:
            collector.add("value.missing", "'material' is blank, and there are several", place, value="",
                          expected=" or ".join(known))
        elif material is not None and material not in known:
            collector.add("id.unknown", f"there is no material '{material}'", place, materials.place(),
                          value=material, expected=" or ".join(known), hint=did_you_mean(material, known))


def _check_travel(tables: Tables, collector: Collector) -> None:
    travel, depots, sites = tables["travel"], tables["depots"], tables["sites"]
    if travel is None:
        return
    _check_legs_once(travel, collector)
    if depots is None or sites is None or not (depots.ids_known and sites.ids_known):
        return
    known = dict.fromkeys([*depots.ids(), *sites.ids()])
    for row in travel.rows:
        for end in ("origin", "destination"):
            place = row.values.get(end)
            if place is not None and place not in known:
                collector.add("id.unknown", f"there is no site or depot '{place}'", travel.place(row, end),
                              sites.place(), depots.place(), value=place,
                              expected="the id of a site or depot", hint=did_you_mean(place, known))


def _check_legs_once(travel: Table, collector: Collector) -> None:
    first: dict[tuple[str, str], Place] = {}
    for row in travel.rows:
        if not {"origin", "destination"} <= row.values.keys():
            continue
        leg = (row.values["origin"], row.values["destination"])
        place = travel.place(row, "origin")
        if leg in first:
            collector.add("id.twice", f"the way from '{leg[0]}' to '{leg[1]}' is there twice", place,
                          first[leg], value=leg[0], expected="one row for each direction")
        first.setdefault(leg, place)

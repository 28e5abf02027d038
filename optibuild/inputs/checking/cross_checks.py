"""Checks between rows and between tables: ids given once, references that lead somewhere, rows at all."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from optibuild.errors import Place
from optibuild.inputs.checking.checks import (
    check_centers,
    check_sites,
    check_timed_plows,
    check_trucks,
)
from optibuild.inputs.checking.contracts import check_contracts
from optibuild.inputs.checking.money import check_money
from optibuild.inputs.checking.winters import check_winters
from optibuild.inputs.declared.columns import OPTIONAL, TABLES
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Row, Table

ITEM_TABLES = ("trucks", "plows", "spreaders", "ballast")
MOST_CLOCKS = 300
"""Minutes are kept for every build, clock and stop: more clocks than this would fill the memory."""
OR_DELETE = "Correct the id, add the row it should name, or delete this row: the table may be left out."
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
    _check_mounts(tables, collector)
    _check_timings(tables, collector)
    _check_contracts(tables, collector)
    check_winters(tables, collector)
    check_timed_plows(tables, settings, collector)
    check_centers(tables, settings, collector)


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
    for name in (*ITEM_TABLES, "materials", "season", "past_winters"):
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
    """Every loop is looked at in every clock: the limits asked, and a grid of tau_step up to the largest.

    Where all works wait for the last round, the times that it may take are the limits.
    """
    asked = _asked(sites, _limits_of_each_round) or _asked(sites, _limits_of_last_round)
    step = settings.values.get("assumptions.tau_step")
    count = len(asked) + (int(max(asked) / step) if asked and step else 0)
    if count > MOST_CLOCKS:
        text = f"the sites' limits and a grid of tau_step up to the largest make {count:,} clocks"
        collector.add("table.clocks", text, asked[max(asked)], settings.place("assumptions.tau_step"),
                      expected=f"at most {MOST_CLOCKS}")


def _asked(sites: Table, fields: Callable[[Row], Iterable[str]]) -> dict[float, Place]:
    """The different values of some fields, each where it stands first."""
    asked: dict[float, Place] = {}
    for row in sites.rows:
        for name in fields(row):
            if row.values.get(name) is not None and row.values[name] not in asked:
                asked[row.values[name]] = sites.place(row, name)
    return asked


def _limits_of_each_round(row: Row) -> Iterator[str]:
    if row.values.get("work") != "deice":
        yield "plow_every_min"
    if row.values.get("work") != "plow" and row.values.get("deice_when") != "end":
        yield "plow_every_min" if row.values.get("deice_every_min") is None else "deice_every_min"


def _limits_of_last_round(row: Row) -> Iterator[str]:
    if row.values.get("work") == "deice" and row.values.get("deice_when") == "end":
        yield "end_within_min"


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
    travel = tables["travel"]
    if travel is None:
        return
    _check_pairs_once(travel, ("origin", "destination"), "the way from '{}' to '{}'",
                      "one row for each direction", collector)
    for end in ("origin", "destination"):
        _check_named("travel", end, ("sites", "depots"), "site or depot", tables, collector)
    for row in travel.rows:
        if row.values.get("passable") and row.values.get("time_min", 0.0) is None:
            collector.add("value.missing", "'time' is blank though there is a way",
                          travel.place(row, "time_min"), value="", expected="a time, or passable = no")


def _check_pairs_once(table: Table, fields: tuple[str, str], said: str, expected: str,
                      collector: Collector) -> None:
    """No two rows name the same pair; `said` words a pair."""
    first: dict[tuple[str, str], Place] = {}
    for row in table.rows:
        if not set(fields) <= row.values.keys():
            continue
        pair = (row.values[fields[0]], row.values[fields[1]])
        place = table.place(row, fields[0])
        if pair in first:
            collector.add("id.twice", f"{said.format(*pair)} is there twice", place, first[pair],
                          value=pair[0], expected=expected)
        first.setdefault(pair, place)


def _check_mounts(tables: Tables, collector: Collector) -> None:
    """Rows of the mounts table lead to a truck and to a plow or spreader, each pair once."""
    mounts = tables["mounts"]
    if mounts is None:
        return
    _check_pairs_once(mounts, ("truck", "attachment"), "the pair of '{}' and '{}'", "one row for each pair",
                      collector)
    _check_named("mounts", "truck", ("trucks",), "truck", tables, collector)
    _check_named("mounts", "attachment", ("plows", "spreaders"), "plow or spreader", tables, collector)


def _check_timings(tables: Tables, collector: Collector) -> None:
    """Timings, and those of the sites, lead to a site, a truck and a plow."""
    for name, truck, plow in (("timings", "truck", "plow"), ("sites", "timed_truck", "timed_plow")):
        _check_named(name, truck, ("trucks",), "truck", tables, collector)
        _check_named(name, plow, ("plows",), "plow", tables, collector)
    _check_named("timings", "site", ("sites",), "site", tables, collector)


def _check_contracts(tables: Tables, collector: Collector) -> None:
    _check_named("contracts", "site", ("sites",), "site", tables, collector)
    _with(tables, "contracts", lambda contracts: check_contracts(contracts, collector))


def _check_named(naming: str, field: str, names: tuple[str, ...], word: str, tables: Tables,
                 collector: Collector) -> None:
    """The ids of a column are those of some tables' rows; passed over where those could not all be read."""
    table = tables[naming]
    if table is None or not table.rows:
        return
    named = [found for found in (tables[name] for name in names) if found is not None]
    if len(named) < len(names) or not all(found.ids_known for found in named):
        return
    known = dict.fromkeys(one for found in named for one in found.ids())
    for row in table.rows:
        one = row.values.get(field)
        if one is not None and one not in known:
            collector.add("id.unknown", f"there is no {word} '{one}'", table.place(row, field),
                          *(found.place() for found in named), value=one, expected=f"the id of a {word}",
                          hint=did_you_mean(one, known), remedy=OR_DELETE if naming in OPTIONAL else "")

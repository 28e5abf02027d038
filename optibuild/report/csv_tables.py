"""The tables of a plan as CSV: units in the headings, nothing that a spreadsheet would take for a formula."""

from optibuild.neutral import neutral
from optibuild.records import Plan, PlannedTruck, SitePrice
from optibuild.report.tables import Cell, Column, Table, Units, count, dollars, minutes

DECIMALS = 4
END_RELOAD = {None: None, True: "yes", False: "no"}


def plan_tables(plan: Plan, system: str) -> dict[str, str]:
    """File name to CSV text: items, trucks, stops, sites and axle loads, in the units of the case.

    Text that a spreadsheet would take for a formula gets an apostrophe before it; a cell stays blank where
    nothing applies.
    """
    units = Units(system)
    tables = {"items.csv": _items(plan), "trucks.csv": _trucks(plan, units), "stops.csv": _stops(plan, units),
              "sites.csv": _sites(plan), "axle_loads.csv": _axle_loads(plan, units)}
    return {name: csv_text(table) for name, table in tables.items()}


def csv_text(table: Table) -> str:
    """A table as CSV text."""
    import pandas  # half a second that the screens need not wait for

    titles = [column.title for column in table.columns]
    rows = [[_cell(value) for value in row] for row in table.rows]
    text: str = pandas.DataFrame(rows, columns=titles, dtype=object).to_csv(index=False, lineterminator="\n")
    return text


def _cell(value: Cell) -> Cell:
    if isinstance(value, str):
        return neutral(value)
    return round(value, DECIMALS) + 0.0 if isinstance(value, float) else value


def _items(plan: Plan) -> Table:
    columns = (Column("id"), Column("table"), count("bought"), count("owned_used"), dollars("price"),
               Column("annual", "USD/year", 0))
    return Table(columns, tuple((row.id, row.table, row.bought, row.owned_used, row.price_usd, row.annual_usd)
                                for row in plan.items))


def _trucks(plan: Plan, units: Units) -> Table:
    columns = (count("truck_no"), Column("build"), Column("truck"), Column("plow"), Column("spreader"),
               Column("ballast"), count("ballast_units"), units.mass("ballast_mass"),
               units.mass("rated_fill"), units.mass("retained_fill"), Column("depot"),
               minutes("cycle_limit"), minutes("duration"),
               minutes("drive"), minutes("reload"), count("reloads"), units.road("distance"),
               minutes("end_within"), minutes("end_duration"),
               Column("season_hours", "h", 1), dollars("season"))
    return Table(columns, tuple(_truck(row, units) for row in plan.trucks))


def _truck(row: PlannedTruck, units: Units) -> tuple[Cell, ...]:
    kits = " ".join(kit.id for kit in row.ballast) or None
    mass = sum(kit.mass_kg for kit in row.ballast)
    loop, last = row.loop, row.loop.end_round
    return (row.truck_no, row.build, row.truck, row.plow, row.spreader, kits,
            sum(kit.count for kit in row.ballast), units.kg(mass), units.kg(row.rated_fill_kg),
            units.kg(row.retained_fill_kg), row.depot,
            loop.cycle_limit_min, loop.duration_min, loop.drive_min, loop.reload_min, loop.reloads,
            units.meters_driven(loop.distance_m), last.within_min if last else None,
            last.duration_min if last else None, row.season.hours, row.season.usd)


def _stops(plan: Plan, units: Units) -> Table:
    columns = (count("truck_no"), count("stop_no"), Column("site"), Column("work"), count("parcels"),
               Column("reload_before"), minutes("arrive"), minutes("leave"), minutes("plow"),
               minutes("deice"), units.mass("material"), minutes("deadline"), Column("deice_when"),
               Column("end_reload_before"), minutes("end_arrive"), minutes("end_leave"))
    return Table(columns, tuple(
        (truck.truck_no, number, stop.site, stop.work, stop.parcels, "yes" if stop.reload_before else "no",
         stop.arrive_min, stop.leave_min, stop.plow_min, stop.deice_min, units.kg(stop.material_kg),
         stop.deadline_min, stop.deice_when, END_RELOAD[stop.end_reload_before], stop.end_arrive_min,
         stop.end_leave_min)
        for truck in plan.trucks for number, stop in enumerate(truck.loop.stops, 1)))


def _sites(plan: Plan) -> Table:
    columns = (Column("site"), Column("served"), count("parcels_in_all"), Column("work"), count("parcels"),
               count("truck_no"), minutes("cycle_limit"), minutes("revisit"), dollars("site_cost"),
               dollars("price_push"), dollars("price_event"), dollars("price_season"))
    rows: list[tuple[Cell, ...]] = []
    for site in plan.sites:
        money = (site.cost_usd, *_prices(site.price))
        rows += [(site.id, "yes", site.parcels, work.work, work.parcels, work.truck_no, work.cycle_limit_min,
                  work.revisit_min, *money) for work in site.works]
        if not site.works:
            rows.append((site.id, "no", site.parcels, *(None,) * 5, *money))
    return Table(columns, tuple(rows))


def _prices(price: SitePrice | None) -> tuple[float | None, ...]:
    return (price.push_usd, price.event_usd, price.season_usd) if price else (None, None, None)


def _axle_loads(plan: Plan, units: Units) -> Table:
    masses = ("front", "rear", "gross", "front_margin", "rear_margin", "gross_margin")
    columns = (count("truck_no"), Column("state"), Column("crew"), *(units.mass(name) for name in masses))
    return Table(columns, tuple(
        (truck.truck_no, row.state, row.crew, *(units.kg(getattr(row, f"{name}_kg")) for name in masses))
        for truck in plan.trucks for row in truck.axle_loads))

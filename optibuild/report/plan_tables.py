"""The tables of a plan: all that plan.json holds, in the units of the case, as files and sheets show it."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from optibuild.assumptions import BY_NAME
from optibuild.records import (
    AxleLoads,
    Case,
    MoneyByKind,
    Plan,
    PlannedEndRound,
    PlannedLoop,
    PlannedTruck,
    SitePrice,
)
from optibuild.report.tables import KINDS, Cell, Column, Table, Units, by_kind, count, dollars, minutes
from optibuild.report.workbook import workbook_bytes
from optibuild.units import shown, shown_unit

YES_NO = {None: None, True: "yes", False: "no"}
SHEET = "note {}"
"""Name of a sheet: what begins with note is not read where the workbook is given as a case."""
ABOUT = ("The sheets whose names begin with 'note' hold the plan. All others are the case that it answers; "
         "every command that takes a case takes this workbook, and does not read the notes.")


def plan_sheets(plan: Plan, system: str) -> dict[str, Table]:
    """Every table of a plan by its name, always the same ones; of a plan without trucks most have no rows."""
    units = Units(system)
    return {"plan": _plan(plan), "items": _items(plan), "builds": _builds(plan, units),
            "trucks": _trucks(plan, units), "axle_loads": _axle_loads(plan, units),
            "loops": _loops(plan, units), "stops": _stops(plan, units), "sites": _sites(plan),
            "money": _money(plan), "bid": _bid(plan), "shortfall": _shortfall(plan, units),
            "checks": _checks(plan, units), "assumptions": _assumptions(plan, system)}


def plan_workbook(plan: Plan, case: Case, case_book: Any = None) -> bytes:
    """plan.xlsx: a sheet for each table of the plan that has rows, then the sheets of its case, where the
    case is given as a workbook of openpyxl: together they are a workbook that is read as that case."""
    tables = plan_sheets(plan, case.units)
    if case_book is not None:
        told = tables["plan"]
        tables["plan"] = Table(told.columns, (("about this workbook", ABOUT, None), *told.rows))
    return workbook_bytes({SHEET.format(name): table for name, table in tables.items() if table.rows},
                          case_book)


def _plan(plan: Plan) -> Table:
    """What was asked and what is known of the answer; the seconds of the search are left out, so that the
    same plan is the same bytes."""
    found, case = plan.outcome, plan.case
    rows: list[tuple[Cell, ...]] = [
        ("case", case.name, None), ("variation", case.variation, None), ("question", case.question, None),
        ("proof", found.proof, None), ("stopped", found.stopped, None),
        ("objective", found.objective_usd, "USD"), ("bound", found.bound_usd, "USD"),
        ("gap", _percent(found.gap), "%"), ("asked gap", _percent(found.asked_gap), "%"),
        ("cost of a season", found.cost_usd, "USD"),
        *(("caution", text, None) for text in plan.cautions), ("given as", case.given_as, None),
        *((f"sha256 of {name}", digest, None) for name, digest in case.inputs.items()),
        ("optibuild", plan.version, None), *((name, number, None) for name, number in plan.solver.items()),
        ("format", plan.format, None)]
    return Table((Column("what"), Column("value"), Column("unit")),
                 tuple(row for row in rows if row[1] is not None))


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _items(plan: Plan) -> Table:
    columns = (Column("id"), Column("table"), count("bought"), count("owned_used"), dollars("price"),
               Column("annual", "USD/year", 0))
    return Table(columns, tuple((row.id, row.table, row.bought, row.owned_used, row.price_usd, row.annual_usd)
                                for row in plan.items))


def _builds(plan: Plan, units: Units) -> Table:
    """Each build once: how many trucks have it, its least margins over all load states and crews, and what
    it costs where all of it is new."""
    margins = ("front_margin", "rear_margin", "gross_margin")
    columns = (Column("build"), count("trucks"), Column("truck"), Column("plow"), Column("spreader"),
               Column("ballast"), count("ballast_units"), units.mass("rated_fill"),
               *(units.mass(f"least_{name}") for name in margins), dollars("price_new"),
               Column("annual_new", "USD/year", 0))
    alike = Counter((row.build, row.ballast, row.rated_fill_kg) for row in plan.trucks)
    first = {(row.build, row.ballast, row.rated_fill_kg): row for row in reversed(plan.trucks)}
    prices = {(row.table, row.id): (row.price_usd, row.annual_usd) for row in plan.items}
    rows = []
    for key, number in alike.items():
        truck = first[key]
        parts = [*_mounted(truck)]
        new = (sum(times * prices[part][k] for part, times in parts) for k in (0, 1))
        rows.append((truck.build, number, truck.truck, truck.plow, truck.spreader, *_kits(truck),
                     units.kg(truck.rated_fill_kg),
                     *(_least(truck.axle_loads, f"{name}_kg", units) for name in margins), *new))
    return Table(columns, tuple(rows))


def _mounted(truck: PlannedTruck) -> Iterator[tuple[tuple[str, str], int]]:
    """The catalog rows that one truck is made of, each as its table and id, and how many."""
    yield ("trucks", truck.truck), 1
    if truck.plow is not None:
        yield ("plows", truck.plow), 1
    if truck.spreader is not None:
        yield ("spreaders", truck.spreader), 1
    yield from ((("ballast", kit.id), kit.count) for kit in truck.ballast)


def _kits(truck: PlannedTruck) -> tuple[Cell, Cell]:
    return " ".join(kit.id for kit in truck.ballast) or None, sum(kit.count for kit in truck.ballast)


def _least(loads: Sequence[AxleLoads], field: str, units: Units) -> float | None:
    return min((units.kg(getattr(row, field)) for row in loads), default=None)


def _trucks(plan: Plan, units: Units) -> Table:
    columns = (count("truck_no"), Column("build"), Column("truck"), Column("plow"), Column("spreader"),
               Column("ballast"), count("ballast_units"), units.mass("ballast_mass"),
               units.mass("rated_fill"), units.mass("retained_fill"), Column("depot"),
               minutes("cycle_limit"), minutes("duration"),
               minutes("drive"), minutes("reload"), count("reloads"), units.road("distance"),
               minutes("end_within"), minutes("end_duration"),
               Column("season_hours", "h", 1), dollars("season"),
               *(dollars(f"season_{kind}") for kind in KINDS))
    return Table(columns, tuple(_truck(row, units) for row in plan.trucks))


def _truck(row: PlannedTruck, units: Units) -> tuple[Cell, ...]:
    mass = sum(kit.mass_kg for kit in row.ballast)
    loop, last = row.loop, row.loop.end_round
    return (row.truck_no, row.build, row.truck, row.plow, row.spreader, *_kits(row), units.kg(mass),
            units.kg(row.rated_fill_kg), units.kg(row.retained_fill_kg), row.depot,
            loop.cycle_limit_min, loop.duration_min, loop.drive_min, loop.reload_min, loop.reloads,
            units.meters_driven(loop.distance_m), last.within_min if last else None,
            last.duration_min if last else None, row.season.hours, row.season.usd,
            *_by_kind(row.season.by_kind))


def _axle_loads(plan: Plan, units: Units) -> Table:
    masses = ("front", "rear", "gross", "front_margin", "rear_margin", "gross_margin")
    columns = (count("truck_no"), Column("state"), Column("crew"), *(units.mass(name) for name in masses))
    return Table(columns, tuple(
        (truck.truck_no, row.state, row.crew, *(units.kg(getattr(row, f"{name}_kg")) for name in masses))
        for truck in plan.trucks for row in truck.axle_loads))


def _loops(plan: Plan, units: Units) -> Table:
    """A row for each kind of round of each truck: that of a storm, and its last one where it differs."""
    columns = (count("truck_no"), Column("round"), Column("depot"), count("stops"), Column("sites"),
               minutes("limit"), minutes("duration"), minutes("slack"), minutes("drive"), minutes("reload"),
               count("reloads"), units.road("distance"))
    rows: list[tuple[Cell, ...]] = []
    for truck in plan.trucks:
        for kind, visits, limit, told in rounds(truck.loop):
            rows.append((truck.truck_no, kind, truck.depot, len(visits), " ".join(site for site, _ in visits),
                         limit, told.duration_min, limit - told.duration_min, told.drive_min, told.reload_min,
                         told.reloads, units.meters_driven(told.distance_m)))
    return Table(columns, tuple(rows))


Round = tuple[str, list[tuple[str, bool]], float, PlannedLoop | PlannedEndRound]
"""Which round it is, its sites in order, each with whether the truck reloads before it, its limit [min], and
what it takes."""


def rounds(loop: PlannedLoop) -> list[Round]:
    """The round that a loop repeats ("each", where that stops anywhere) and its last one ("end")."""
    repeated = [(stop.site, stop.reload_before) for stop in loop.stops if stop.arrive_min is not None]
    found: list[Round] = [("each", repeated, loop.cycle_limit_min, loop)] if repeated else []
    if loop.end_round is not None:
        last = [(stop.site, bool(stop.end_reload_before)) for stop in loop.stops]
        found.append(("end", last, loop.end_round.within_min, loop.end_round))
    return found


def _stops(plan: Plan, units: Units) -> Table:
    columns = (count("truck_no"), count("stop_no"), Column("site"), Column("work"), count("parcels"),
               Column("reload_before"), minutes("arrive"), minutes("leave"), minutes("plow"),
               minutes("deice"), units.mass("material"), minutes("deadline"), Column("deice_when"),
               Column("end_reload_before"), minutes("end_arrive"), minutes("end_leave"))
    return Table(columns, tuple(
        (truck.truck_no, number, stop.site, stop.work, stop.parcels, YES_NO[stop.reload_before],
         stop.arrive_min, stop.leave_min, stop.plow_min, stop.deice_min, units.kg(stop.material_kg),
         stop.deadline_min, stop.deice_when, YES_NO[stop.end_reload_before], stop.end_arrive_min,
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


def _by_kind(money: MoneyByKind | None) -> tuple[float | None, ...]:
    return (None,) * len(KINDS) if money is None else tuple(by_kind(money).values())


def _bid(plan: Plan) -> Table:
    """What each site costs, in all and by kind, what to ask for it, and what the plan could at most save
    without it."""
    columns = (Column("site"), Column("served"), *(Column(name, "USD", 2) for name in (
        "cost", *KINDS, "price_push", "price_event", "price_season", "saves_at_most")))
    return Table(columns, tuple((site.id, YES_NO[site.served], site.cost_usd, *_by_kind(site.by_kind),
                                 *_prices(site.price), site.marginal_most_usd) for site in plan.sites))


def _money(plan: Plan) -> Table:
    """What is paid once, and what a season costs and, where any site pays, brings."""
    found = plan.money
    if found is None:
        return Table((Column("what"), Column("per"), Column("amount", "USD", 2)), ())
    cost = found.owning_usd + found.season_usd
    pays = (("contract value", "season", found.contract_value_usd),
            ("contract value less cost", "season", found.contract_value_usd - cost))
    rows = (("capital", "once", found.capital_usd), ("budget", "once", found.budget_usd),
            ("owning", "season", found.owning_usd), ("labor and hire", "season", found.labor_usd),
            ("fuel", "season", found.fuel_usd), ("wear", "season", found.wear_usd),
            ("material", "season", found.material_usd),
            ("work (labor, fuel, wear, material)", "season", found.season_usd),
            ("cost (owning and work)", "season", cost),
            *(pays if found.contract_value_usd else ()))
    return Table((Column("what"), Column("per"), Column("amount", "USD", 2)),
                 tuple(row for row in rows if row[2] is not None))


def _shortfall(plan: Plan, units: Units) -> Table:
    """What is missing where no plan exists, and what would help. Rows of one `way` belong together."""
    columns = (Column("way"), Column("what"), Column("of"), Column("work"), Column("nearest_build"),
               Column("now"), Column("needed"), Column("not_enough"), Column("unit"), Column("confirmed"))
    found = plan.shortfall
    rows: list[tuple[Cell, ...]] = []
    for away in found.unreachable if found else ():
        rows.append(("out of reach", f"{away.reason}, over by", away.site, away.work, away.nearest, None,
                     *_amounts(units, away.unit, away.over_by, None), None))
        rows += [("would reach it", one.change, away.site, away.work, None, None,
                  *_amounts(units, one.unit, one.value, None), None) for one in away.remedies]
    if found and found.least_budget:
        least = found.least_budget
        rows.append(("limits", "budget", None, None, None, None, least.usd, least.bound_usd, "USD",
                     YES_NO[least.confirmed]))
    for looser in found.looser if found else ():
        rows.append((looser.way, looser.what, looser.of, None, None, looser.now, looser.needed,
                     looser.not_enough, looser.unit, YES_NO[looser.confirmed]))
    if found and found.lost_value:
        rows += [("leave out", "site", site, None, None, None, None, None, None,
                  YES_NO[found.lost_value.confirmed]) for site in found.leave_out]
        rows.append(("leave out", "contract value lost", None, None, None, None, found.lost_value.usd, None,
                     "USD", YES_NO[found.lost_value.confirmed]))
    return Table(columns, tuple(rows))


def _amounts(units: Units, unit: str | None, *values: float | None) -> tuple[Cell, ...]:
    """Values in an inner unit as shown, and the unit as shown."""
    told = [None if value is None else units.any(value, unit or "")[0] for value in values]
    return (*told, units.any(0.0, unit)[1] if unit else None)


def _checks(plan: Plan, units: Units) -> Table:
    """Every promise that was worked out again, and its worst margin."""
    columns = (Column("check"), Column("kind"), Column("passed"), Column("worst"), Column("unit"),
               Column("where"))
    return Table(columns, tuple(
        (row.name, row.kind, YES_NO[row.passed], *_amounts(units, row.unit, row.worst), row.where)
        for row in (plan.recheck.checks if plan.recheck else ())))


def _assumptions(plan: Plan, system: str) -> Table:
    """Every default figure that the plan rests on; `own` where the user replaced it."""
    columns = (Column("assumption"), Column("value"), Column("unit"), Column("own"), Column("source"))
    rows = []
    for row in plan.assumptions:
        dimension = BY_NAME[row.name].dimension
        plain = dimension in ("count", "number")
        rows.append((row.name, row.value if plain else shown(row.value, dimension, system),
                     None if plain else shown_unit(dimension, system), YES_NO[row.overridden], row.source))
    return Table(columns, tuple(rows))

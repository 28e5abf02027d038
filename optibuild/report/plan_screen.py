"""A plan on the terminal: the answer in three lines, then trucks, loops, items, money, margins, cautions."""

from collections import Counter
from collections.abc import Sequence
from math import isfinite

from optibuild.assumptions import BY_NAME
from optibuild.records import (
    Case,
    Plan,
    PlannedEndRound,
    PlannedLoop,
    PlannedMoney,
    PlannedStop,
    PlannedTruck,
    Site,
    UsedAssumption,
)
from optibuild.report.console import heading, layout, number, paragraph, usd
from optibuild.report.fit_screen import cautions_text
from optibuild.report.recheck_screen import margins_text
from optibuild.report.shortfall_screen import shortfall_text
from optibuild.report.tables import Cell, Column, Table, Units, count, dollars, minutes, without_empty
from optibuild.units import shown, shown_unit

LEAST_TOLD_USD = 0.5


def plan_text(plan: Plan, case: Case) -> str:
    """The whole summary; where no plan exists, what stands in the way."""
    parts = [heading(plan.case.name or case.name)]
    if plan.money is None:
        parts.append(shortfall_text(plan, case))
    else:
        parts += ["\n".join(paragraph(said, f"{word:<8}") for word, said in answer(plan, plan.money, case)),
                  _trucks(plan, case), *(_loop(row, plan, case) for row in plan.trucks),
                  _left_out(plan, case), _items(plan),
                  _titled("Money, an expected season", money_table(plan.money))]
    if plan.recheck:
        parts.append(margins_text(plan.recheck, case.units))
    parts += [_titled("Your own assumptions", assumptions_table(
        [row for row in plan.assumptions if row.overridden], case)), cautions_text(plan.cautions)]
    return "\n\n".join(part for part in parts if part)


def _titled(title: str, table: Table) -> str:
    """A table under its heading; nothing where it has no rows."""
    return f"{heading(title)}\n\n{layout(table)}" if table.rows else ""


def answer(plan: Plan, money: PlannedMoney, case: Case) -> tuple[tuple[str, str], ...]:
    """The answer in three lines, each a word and what it says: what to buy, the cost, what is proved."""
    buy, use = _fleet(plan, case, bought=True), _fleet(plan, case, bought=False)
    owned = f"; and use what is owned: {use}" if use else ""
    season, owning = (round(value) for value in (money.owning_usd + money.season_usd, money.owning_usd))
    # the last part is what the first leaves of the rounded sum, so that what is read adds up
    return (("Buy", f"{buy or 'nothing'}: {usd(money.capital_usd)}{_of_budget(money)}{owned}"),
            ("Cost", f"{usd(season)} a season: owning {number(owning, 0)} + work "
                     f"{number(season - owning, 0)}{_value(plan, money)}"),
            ("Proof", _proof(plan)))


def _of_budget(money: PlannedMoney) -> str:
    return "" if money.budget_usd is None else f" of a budget of {usd(money.budget_usd)}"


def _value(plan: Plan, money: PlannedMoney) -> str:
    if not money.contract_value_usd:
        return ""
    served = sum(site.served for site in plan.sites)
    gain = money.contract_value_usd - money.owning_usd - money.season_usd
    profit = f", profit {usd(gain)}" if plan.case.question == "profit" else ""
    return (f"; contract value {usd(money.contract_value_usd)} from {served} of {len(plan.sites)} sites"
            f"{profit}")


def _fleet(plan: Plan, case: Case, bought: bool) -> str:
    """Trucks by size and attachments by kind, bought or owned."""
    size = {truck.id: truck.size or truck.id for truck in case.trucks}
    trucks: Counter[str] = Counter()
    others: Counter[str] = Counter()
    for row in plan.items:
        number_of = row.bought if bought else row.owned_used
        (trucks if row.table == "trucks" else others)[size.get(row.id, row.id) if row.table == "trucks"
                                                      else row.table] += number_of
    sizes = ", ".join(f"{n} {word}" for word, n in trucks.items() if n)
    all_of = sum(trucks.values())
    told = [f"{all_of} truck{'' if all_of == 1 else 's'} ({sizes})"] if all_of else []
    words = {"plows": "plow", "spreaders": "spreader", "ballast": "ballast unit"}
    told += [f"{n} {words[table]}{'' if n == 1 else 's'}" for table, n in others.items() if n]
    return ", ".join(told)


def _proof(plan: Plan) -> str:
    found = plan.outcome
    if found.proof == "none" or found.bound_usd is None or found.gap is None:
        return f"best found, no bound yet; stopped: {found.stopped} after {number(found.seconds, 1)} s"
    lost = ", value of sites left out included" if any(not site.served for site in plan.sites) else ""
    most = {"cover": f"at least {usd(found.bound_usd)} in any such plan{lost}",
            "value": f"contract value at most {usd(-found.bound_usd)} in any such plan",
            "profit": f"profit at most {usd(-found.bound_usd)} in any such plan"}[plan.case.question]
    within = {"proved best": "proved best: no plan of one loop a truck does better",
              "within the asked gap": "proved to be within the asked gap of the best"}
    said = within.get(found.proof, "best found, not proved best")
    why = "" if found.proof in within else f" ({found.stopped}, {number(found.seconds, 1)} s)"
    return f"{said}; {most}, gap {100 * found.gap:.2f} %{why}"


def _trucks(plan: Plan, case: Case) -> str:
    lines = [paragraph(text) for text in taken_out(plan, case)]
    return "\n\n".join([_titled("Trucks", trucks_table(plan, case)),
                        *(["\n".join(lines)] if lines else [])])


def trucks_table(plan: Plan, case: Case) -> Table:
    """A row for each truck: what it carries, and how much of its limit its loop takes."""
    units = Units(case.units)
    columns = (count("no"), Column("build"), Column("ballast"), units.mass("rated fill"), Column("depot"),
               Column("loop", "min", 1), Column("limit", "min", 0), Column("slack", "min", 1), count("stops"))
    rows = tuple(
        (row.truck_no, row.build, _ballast(row), units.kg(row.rated_fill_kg) if row.spreader else None,
         row.depot, taken, limit, limit - taken, len(row.loop.stops))
        for row in plan.trucks for taken, limit in (tightest(row.loop),))
    return Table(columns, rows)


def tightest(loop: PlannedLoop) -> tuple[float, float]:
    """Minutes and limit of the kind of round with the least slack; one without stops is not driven."""
    rounds = [(loop.duration_min, loop.cycle_limit_min)] if _repeats(loop) else []
    if loop.end_round is not None:
        rounds.append((loop.end_round.duration_min, loop.end_round.within_min))
    return min(rounds, key=lambda one: one[1] - one[0])


def _repeats(loop: PlannedLoop) -> bool:
    """Whether rounds before the last one stop anywhere."""
    return any(stop.arrive_min is not None for stop in loop.stops)


def _ballast(truck: PlannedTruck) -> str | None:
    return ", ".join(f"{kit.count} {kit.id}" for kit in truck.ballast) or None


def taken_out(plan: Plan, case: Case) -> list[str]:
    """When ballast comes out of which truck, and what that leaves to spread."""
    return [_taken_out(row, Units(case.units)) for row in plan.trucks if row.retained_fill_kg > 0.0]


def _taken_out(truck: PlannedTruck, units: Units) -> str:
    kits = ", ".join(f"{kit.count} {kit.id}" for kit in truck.ballast)
    retained, usable = (f"{number(units.kg(mass), 0)} {units.mass('').unit}" for mass in (
        truck.retained_fill_kg, truck.rated_fill_kg - truck.retained_fill_kg))
    return (f"Truck {truck.truck_no}: take {kits} out above {retained} of material, put back below; "
            f"{usable} can be spread between reloads.")


Visit = tuple[PlannedStop, float | None, float | None, bool, bool]
"""A stop with when the truck arrives and leaves, whether it reloads before, whether it spreads."""


RoundTable = tuple[str, str, Table]
"""A kind of round: its heading, what it takes in one sentence, and its stops."""


def _loop(truck: PlannedTruck, plan: Plan, case: Case) -> str:
    return "\n\n".join(f"{heading(title)}\n{paragraph(said)}\n\n{layout(table)}"
                       for title, said, table in round_tables(truck, plan, case))


def round_tables(truck: PlannedTruck, plan: Plan, case: Case) -> list[RoundTable]:
    """The loop by the clock; where works wait for the last round, that round too."""
    loop = truck.loop
    parts = []
    if _repeats(loop):
        every: list[Visit] = [
            (stop, stop.arrive_min, stop.leave_min, stop.reload_before, stop.deice_when == "each")
            for stop in loop.stops if stop.arrive_min is not None]
        parts.append(_round(f"Loop of truck {truck.truck_no}", loop, loop.cycle_limit_min, every, truck, plan,
                            case))
    if loop.end_round is not None:
        last: list[Visit] = [
            (stop, stop.end_arrive_min, stop.end_leave_min, bool(stop.end_reload_before), True)
            for stop in loop.stops]
        parts.append(_round(f"Last round of truck {truck.truck_no}", loop.end_round,
                            loop.end_round.within_min, last, truck, plan, case))
    return parts


def _round(title: str, told: PlannedLoop | PlannedEndRound, limit_min: float, visits: list[Visit],
           truck: PlannedTruck, plan: Plan, case: Case) -> RoundTable:
    units = Units(case.units)
    columns = (Column("stop"), Column("work"), Column("parcels"), minutes("arrive"), minutes("leave"),
               Column("deadline", "min", 0), units.mass("material"))
    in_all = {site.id: site.parcels for site in plan.sites}
    first = told is truck.loop
    rows: list[tuple[Cell, ...]] = []
    for stop, arrive, leave, reload, spreads in visits:
        if reload:
            rows.append((f"reload at {truck.depot}", *(None,) * 6))
        work = stop.work if spreads or stop.work != "both" else "plow"
        rows.append((stop.site, work, f"{stop.parcels} of {in_all[stop.site]}", arrive, leave,
                     stop.deadline_min if first else None,
                     units.kg(stop.material_kg) if spreads and stop.material_kg else None))
    ends_full = told.reloads > sum(reload for *_, reload, _ in visits)
    rows.append((f"{truck.depot}, {'reloaded' if ends_full else 'home'}", *(None,) * 3, told.duration_min,
                 None, None))
    return title, _around(told, limit_min, units), Table(columns, tuple(rows))


def _around(told: PlannedLoop | PlannedEndRound, limit_min: float, units: Units) -> str:
    road = units.road("")
    reloads = f", {told.reloads} reload{'s' if told.reloads > 1 else ''}" if told.reloads else ""
    return (f"{number(told.duration_min, 1)} of {number(limit_min, 0)} min; driving "
            f"{number(told.drive_min, 1)} min over {number(units.meters_driven(told.distance_m), 1)} "
            f"{road.unit}{reloads}")


def _left_out(plan: Plan, case: Case) -> str:
    table, why = _titled("Sites left out", left_out_table(plan, case)), left_out_words(plan, case)
    return f"{table}\n\n{paragraph(why)}" if table and why else table


def left_out_words(plan: Plan, case: Case) -> str:
    """Why sites are left out, as far as a proof tells: what is not limited is no reason. Nothing without a
    proof."""
    if plan.outcome.proof != "proved best":
        return ""
    limited = any(isfinite(item.available) for item in case.items) or isfinite(case.crew.drivers)
    unpaid = {site.id for site in case.sites if not site.pay_usd}
    reasons = [said for said, may_be in (
        ("it costs at least what it pays", case.question != "value"),
        ("it pays nothing", case.question == "value" and any(
            site.id in unpaid and not site.served for site in plan.sites)),
        ("the budget does not reach for it", isfinite(case.money.budget_usd)),
        ("trucks, attachments or drivers run out", limited), ("no truck can do it", True)) if may_be]
    return f"As the plan is proved best, each of these is left out because {', or '.join(reasons)}."


def left_out_table(plan: Plan, case: Case) -> Table:
    """The sites that the plan does not serve, and what they would pay."""
    sites = {site.id: site for site in case.sites}
    rows = tuple((site.id, sites[site.id].name, *_pay(sites[site.id])) for site in plan.sites
                 if not site.served)
    return without_empty(Table((Column("site"), Column("name"), Column("would pay", "USD", 0),
                                Column("for each")), rows))


def _pay(site: Site) -> tuple[Cell, Cell]:
    return (None, None) if site.pay_by is None else (site.pay_usd, site.pay_by)


def _items(plan: Plan) -> str:
    later = paid_later(plan)
    return _titled("Items", items_table(plan)) + (f"\n\n{paragraph(later)}" if later else "")


def items_table(plan: Plan) -> Table:
    """What is bought and what is used of the owned, with prices and their sum."""
    columns = (Column("item"), Column("table"), count("buy"), count("owned, used"), dollars("price each"),
               dollars("price"), Column("a new one", "USD/year", 0))
    rows: list[tuple[Cell, ...]] = [
        (row.id, row.table, row.bought, row.owned_used, row.price_usd, row.bought * row.price_usd,
         row.annual_usd) for row in plan.items]
    total = sum(row.bought * row.price_usd for row in plan.items)
    rows += [("total", *(None,) * 4, total, None)] if rows else []
    return Table(columns, tuple(rows))


def paid_later(plan: Plan) -> str:
    """How much of the price is not paid at once; nothing where all is."""
    total = sum(row.bought * row.price_usd for row in plan.items)
    later = total - plan.money.capital_usd if plan.money else 0.0
    return f"Of this {usd(later)} is paid later, by loan or lease." if later > LEAST_TOLD_USD else ""


def money_table(money: PlannedMoney) -> Table:
    """What a season costs by kind, and in all."""
    rows = (("owning (capital, yearly costs)", money.owning_usd), ("labor and hire", money.labor_usd),
            ("fuel", money.fuel_usd), ("wear", money.wear_usd), ("material", money.material_usd),
            ("cost of a season", money.owning_usd + money.season_usd))
    return Table((Column("what"), dollars("cost")), rows)


def assumptions_table(used: Sequence[UsedAssumption], case: Case) -> Table:
    """Default figures as used, beside the default and its source."""
    rows = tuple(_assumption(row, case) for row in used)
    columns = (Column("assumption"), Column("value"), Column("default"), Column("source of the default"))
    return Table(columns, rows)


def _assumption(row: UsedAssumption, case: Case) -> tuple[str, str, str, str]:
    known = BY_NAME[row.name]
    if known.dimension in ("count", "number"):
        return row.name, f"{row.value:g}", known.default, row.source
    units = Units(case.units)
    value, unit = ((units.deep(row.value), units.depth("").unit) if row.name == "least_depth" else
                   (shown(row.value, known.dimension, case.units), shown_unit(known.dimension, case.units)))
    return row.name, f"{value:.4g} {unit}", known.default, row.source

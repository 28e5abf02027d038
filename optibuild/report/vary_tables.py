"""The tables of a comparison of variations, as the screen, the CSV files and the workbook show them."""

from collections.abc import Sequence
from math import inf

from optibuild.records.comparison import Compared, Comparison, SizeCell, SizeMap
from optibuild.report.tables import Cell, Column, Table, count, dollars, minutes

ASKED = {"cover": ("cost", 1.0), "value": ("contract value", -1.0), "profit": ("profit", -1.0)}
"""What each question asks for the least or, where the sign says so, for the most of."""


def in_order(rows: Sequence[Compared], sort: str) -> list[Compared]:
    """Rows, of which the first is the base, by "name", by "capital", or by "cost", which is
    what the question of the base asks for, and where that is the same by cost; after them those that ask
    another question, and those without a plan."""
    if sort == "name":
        return sorted(rows, key=lambda row: row.name.casefold())
    if sort == "capital":
        return sorted(rows, key=lambda row: _least(row.capital_usd))
    question = rows[0].question
    return sorted(rows, key=lambda row: (
        row.objective_usd is None, row.question != question,
        _least(_own(row.objective_usd, row, question)), _least(row.cost_usd)))


def _own(value: float | None, row: Compared, question: str) -> float | None:
    """A figure of the objective, which is none where the row asks another question."""
    return value if row.question == question else None


def _least(value: float | None) -> float:
    return inf if value is None else value


def vary_tables(found: Comparison, sort: str) -> dict[str, Table]:
    """Every table by its name: all figures, swaps build by build, items, and the sizes of two-way sweeps."""
    rows = in_order(found.rows, sort)
    tables = {"vary": _figures(rows), "vary_swaps": swaps_table(rows), "vary_items": items_table(rows)}
    if found.maps:
        tables["vary_sizes"] = _sizes(found.maps)
    return tables


def _figures(rows: Sequence[Compared]) -> Table:
    """All figures of every case, those of the objective as the question asks for the least of them."""
    sizes = tuple(dict.fromkeys(size for row in rows for size in row.trucks))
    columns = (Column("name"), Column("against the base"), dollars("objective less the base's, from"),
               dollars("objective less the base's, to"), Column("question"), Column("proof"),
               Column("stopped"), dollars("objective"), dollars("bound"), Column("gap", "%", 2),
               dollars("cost"), dollars("capital"), dollars("contract value"), count("trucks"),
               *(count(f"trucks: {size}") for size in sizes), count("sites served"), count("sites"),
               Column("left out"), Column("tightest promise"), count("truck_no"), Column("site"),
               minutes("left"), minutes("of"), Column("sweeps"), Column("changes"), Column("plan"))
    return Table(columns, tuple(
        (row.name, row.difference.verdict, row.difference.from_usd, row.difference.to_usd, row.question,
         row.proof, row.stopped, row.objective_usd, row.bound_usd, _percent(row.gap), row.cost_usd,
         row.capital_usd, row.contract_value_usd, sum(row.trucks.values()),
         *(row.trucks.get(size, 0) for size in sizes), row.served, row.sites, " ".join(row.left_out) or None,
         *_tightest(row), "; ".join(f"{sweep} = {value}" for sweep, value in row.at) or None,
         "; ".join(row.changes) or None, row.plan) for row in rows))


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _tightest(row: Compared) -> tuple[Cell, ...]:
    found = row.tightest
    if found is None:
        return (None,) * 5
    return found.promise, found.truck_no, found.site, found.left_min, found.limit_min


def answers_table(rows: Sequence[Compared], question: str) -> Table:
    """The answer of every case: what the base asks for, what cannot be beaten, what is bought, who is served.
    A case that asks another question has no bound here."""
    asked, sign = ASKED[question]
    is_cost = question == "cover"
    columns = (Column("case"), *(() if is_cost else (dollars(asked),)), dollars("cost"), dollars("bound"),
               Column("gap", "%", 2), dollars("capital"), Column("trucks"), Column("sites"))
    return Table(columns, tuple((
        row.name, *(() if is_cost else (_asked(row, question),)), row.cost_usd,
        _times(_own(row.bound_usd, row, question), sign), _percent(_own(row.gap, row, question)),
        row.capital_usd, _fleet(row), f"{row.served} of {row.sites}") for row in rows))


def _asked(row: Compared, question: str) -> float | None:
    """The contract value of any case, the profit of one that asks for it."""
    if question == "value":
        return row.contract_value_usd
    return _times(_own(row.objective_usd, row, question), -1.0)


def _times(value: float | None, sign: float) -> float | None:
    return None if value is None else sign * value


def _fleet(row: Compared) -> str:
    if row.capital_usd is None:
        return row.stopped
    return ", ".join(f"{number} {size}" for size, number in row.trucks.items()) or "none"


def differences_table(rows: Sequence[Compared], question: str) -> Table:
    """What is sure of each case against the base, which is left out."""
    asked, sign = ASKED[question]
    columns = (Column("case"), Column("against the base"), dollars(f"{asked} differs, from"), dollars("to"))
    return Table(columns, tuple((row.name, verdict_words(row, question), *_range(row, sign)) for row in rows
                                if row.difference.verdict != "base"))


def verdict_words(row: Compared, question: str) -> str:
    """What is sure of a case, by what the question asks for."""
    asked, sign = ASKED[question]
    words = {"less": "less" if sign > 0 else "more", "more": "more" if sign > 0 else "less", "equal": "same"}
    said = words.get(row.difference.verdict)
    return f"{said} {asked}" if said else row.difference.verdict


def _range(row: Compared, sign: float) -> tuple[float | None, float | None]:
    low, high = (_times(value, sign) for value in (row.difference.from_usd, row.difference.to_usd))
    return (low, high) if sign > 0 else (high, low)


def swaps_table(rows: Sequence[Compared]) -> Table:
    """Which builds the base has and which the case has in their place; a blank where there is none."""
    columns = (Column("case"), count("trucks"), Column("in the base"), Column("here"))
    return Table(columns, tuple((row.name, swap.count, swap.base, swap.here)
                                for row in rows for swap in row.swapped))


def items_table(rows: Sequence[Compared]) -> Table:
    """The catalog rows of which a case buys or uses another number than the base."""
    columns = (Column("case"), Column("item"), Column("table"), count("bought in the base"),
               count("bought here"), count("owned, used in the base"), count("owned, used here"))
    return Table(columns, tuple((row.name, one.id, one.table, one.base_bought, one.here_bought,
                                 one.base_owned, one.here_owned) for row in rows for one in row.items))


def promises_table(rows: Sequence[Compared]) -> Table:
    """The tightest promise of time of each case."""
    columns = (Column("case"), Column("promise"), count("truck"), Column("site"), minutes("left"),
               minutes("of"))
    return Table(columns, tuple((row.name, *_tightest(row)) for row in rows if row.tightest))


def changes_table(rows: Sequence[Compared]) -> Table:
    """What each case has other than the base, a line for each change."""
    return Table((Column("case"), Column("changed")),
                 tuple((row.name, change) for row in rows for change in row.changes))


def grid_table(found: SizeMap) -> Table:
    """The map of answers: the leading size of every cell; `?` where it is not proved."""
    cells = {(cell.down, cell.across): cell for cell in found.cells}
    rows = []
    for y in found.down_values:
        told: list[Cell] = [y]
        for x in found.across_values:
            cell = cells.get((y, x))
            told.append(None if cell is None else
                        (" = ".join(cell.leading) or _no_trucks(cell)) + ("" if cell.decided else " ?"))
        rows.append(tuple(told))
    return Table((Column(found.down), *map(Column, found.across_values)), tuple(rows))


def cells_table(found: SizeMap) -> Table:
    """The cells one by one: trucks of each size, cost, whether that is proved."""
    columns = (Column(found.down), Column(found.across), Column("trucks"), dollars("cost"), Column("decided"))
    return Table(columns, tuple(
        (cell.down, cell.across, _sized(found, cell), cell.cost_usd, "yes" if cell.decided else "no")
        for cell in found.cells))


def _sized(found: SizeMap, cell: SizeCell) -> str:
    """How many trucks of each size: '2 half-ton, 1 one-ton'."""
    told = [f"{cell.trucks[size]} {size}" for size in found.sizes if cell.trucks.get(size)]
    return ", ".join(told) or _no_trucks(cell)


def _no_trucks(cell: SizeCell) -> str:
    """Why a cell has no trucks: its plan needs none, or there is no plan."""
    return "no plan" if cell.objective_usd is None else "none"


def _sizes(maps: Sequence[SizeMap]) -> Table:
    """The cells of all maps."""
    sizes = tuple(dict.fromkeys(size for one in maps for size in one.sizes))
    columns = (Column("sweep down"), Column("value down"), Column("sweep across"), Column("value across"),
               Column("name"), *(count(f"trucks: {size}") for size in sizes), Column("leading"),
               dollars("objective"), dollars("cost"), Column("proof"), Column("decided"))
    return Table(columns, tuple(
        (one.down, cell.down, one.across, cell.across, cell.name,
         *(cell.trucks.get(size, 0) for size in sizes), " = ".join(cell.leading) or None, cell.objective_usd,
         cell.cost_usd, cell.proof, "yes" if cell.decided else "no") for one in maps for cell in one.cells))

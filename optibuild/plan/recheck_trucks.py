"""The planned trucks beside the catalog rows they name."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibuild.plan.recheck_margins import Margin, claim
from optibuild.records import Ballast, Case, Depot, Item, Plan, PlannedTruck, Plow, Site, Spreader, Truck

Key = tuple[str, str]
"""A catalog row: its table and id."""


def catalog(case: Case) -> dict[Key, Item]:
    """Every catalog row that can be bought or owned."""
    tables: dict[str, tuple[Item, ...]] = {"trucks": case.trucks, "plows": case.plows,
                                           "spreaders": case.spreaders, "ballast": case.ballast}
    return {(name, row.id): row for name, rows in tables.items() for row in rows}


@dataclass(frozen=True)
class Mounted:
    """A planned truck with its catalog rows; `ballast` pairs a kit with its number of units."""

    planned: PlannedTruck
    truck: Truck
    plow: Plow | None
    spreader: Spreader | None
    ballast: tuple[tuple[Ballast, int], ...]
    depot: Depot

    @property
    def name(self) -> str:
        """How the checks point at it."""
        return f"truck {self.planned.truck_no}"


def mounted(plan: Plan, case: Case) -> list[Mounted]:
    """Every planned truck with the rows it names, which must be in the case."""
    trucks = {row.id: row for row in case.trucks}
    plows = {row.id: row for row in case.plows}
    spreaders = {row.id: row for row in case.spreaders}
    kits = {row.id: row for row in case.ballast}
    depots = {row.id: row for row in case.depots}
    return [Mounted(row, trucks[row.truck], plows[row.plow] if row.plow is not None else None,
                    spreaders[row.spreader] if row.spreader is not None else None,
                    tuple((kits[kit.id], kit.count) for kit in row.ballast), depots[row.depot])
            for row in plan.trucks]


def name_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Every id of the plan is in the case, nothing is listed twice, and builds are named after their rows."""
    yield claim(plan.case.question == case.question, "question")
    tables = _tables(case)
    for item in plan.items:
        yield claim(item.id in tables.get(item.table, set()), f"item {item.id}")
    yield from _once([f"{row.table} {row.id}" for row in plan.items], "item")
    yield from _once([str(row.truck_no) for row in plan.trucks], "truck")
    yield from _once([row.id for row in plan.sites], "site")
    yield from (claim(row.id in tables["sites"], f"site {row.id}") for row in plan.sites)
    for truck in plan.trucks:
        yield from _truck_names(truck, tables)


def _tables(case: Case) -> dict[str, set[str]]:
    rows: dict[str, tuple[Item | Depot | Site, ...]] = {
        "trucks": case.trucks, "plows": case.plows, "spreaders": case.spreaders, "ballast": case.ballast,
        "depots": case.depots, "sites": case.sites}
    return {name: {row.id for row in table} for name, table in rows.items()}


def _once(names: list[str], word: str) -> Iterator[Margin]:
    for name in sorted(set(names)):
        yield claim(names.count(name) == 1, f"{word} {name}")


def _truck_names(row: PlannedTruck, tables: dict[str, set[str]]) -> Iterator[Margin]:
    where = f"truck {row.truck_no}"
    yield claim(row.truck in tables["trucks"], where)
    yield claim(row.plow is None or row.plow in tables["plows"], where)
    yield claim(row.spreader is None or row.spreader in tables["spreaders"], where)
    yield claim(row.depot in tables["depots"], where)
    yield claim(all(kit.id in tables["ballast"] for kit in row.ballast), where)
    yield claim(all(stop.site in tables["sites"] for stop in row.loop.stops), where)
    yield claim(row.build == f"{row.truck}+{row.plow or '-'}+{row.spreader or '-'}", where)
    yield claim(row.loop.cycle_limit_min > 0, where + ", cycle limit")

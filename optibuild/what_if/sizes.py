"""The map of answers of two-way sweeps: which size of truck leads in each cell."""

from collections.abc import Sequence

from optibuild.records import Truck, Variant
from optibuild.records.comparison import Compared, SizeCell, SizeMap

Pair = tuple[tuple[str, str], tuple[str, str]]


def size_of(truck: Truck) -> str:
    """The user's word for the class of a truck; its id where there is none."""
    return truck.size or truck.id


def size_maps(variants: Sequence[Variant], rows: Sequence[Compared]) -> tuple[SizeMap, ...]:
    """A map for every pair of sweeps that cases stand in; where a pair has two cases for a cell, as two
    combinations of the same sweeps have, one map for each."""
    sizes = tuple(dict.fromkeys(size_of(truck) for row in variants for truck in row.case.trucks))
    maps: dict[tuple[str, str], list[dict[tuple[str, str], Compared]]] = {}
    for row in rows:
        if len(row.at) == 2:
            (down, y), (across, x) = row.at
            found = maps.setdefault((down, across), [])
            free = next((cells for cells in found if (y, x) not in cells), None)
            if free is None:
                found.append(free := {})
            free[y, x] = row
    return tuple(_map(*pair, cells, sizes) for pair, found in maps.items() for cells in found)


def _map(down: str, across: str, cells: dict[tuple[str, str], Compared], sizes: tuple[str, ...]) -> SizeMap:
    ys, xs = (tuple(dict.fromkeys(at[k] for at in cells)) for k in (0, 1))
    return SizeMap(down, across, ys, xs, tuple(size for size in sizes if any(
        size in row.trucks for row in cells.values())), tuple(
        _cell(cells[y, x], y, x) for y in ys for x in xs if (y, x) in cells))


def _cell(row: Compared, y: str, x: str) -> SizeCell:
    most = max(row.trucks.values(), default=0)
    leading = tuple(size for size, count in row.trucks.items() if count == most)
    decided = row.proof == "proved best" or row.stopped == "no plan exists"
    return SizeCell(row.name, y, x, row.trucks, leading, row.objective_usd, row.cost_usd, row.proof, decided)

"""Items: what the trucks use is what is bought or owned, in stock, within the budget, at its yearly cost."""

from collections import Counter
from collections.abc import Iterator
from math import isfinite

from optibuild.plan.recheck_margins import Margin, at_most, same
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Item, Plan, PlannedItem, Truck

Key = tuple[str, str]


def _catalog(case: Case) -> dict[Key, Item]:
    tables: dict[str, tuple[Item, ...]] = {"trucks": case.trucks, "plows": case.plows,
                                           "spreaders": case.spreaders, "ballast": case.ballast}
    return {(name, row.id): row for name, rows in tables.items() for row in rows}


def _used(units: list[Mounted]) -> Counter[Key]:
    count: Counter[Key] = Counter()
    for unit in units:
        count["trucks", unit.truck.id] += 1
        if unit.plow:
            count["plows", unit.plow.id] += 1
        if unit.spreader:
            count["spreaders", unit.spreader.id] += 1
        for kit, units_of_kit in unit.ballast:
            count["ballast", kit.id] += units_of_kit
    return count


def item_margins(plan: Plan, units: list[Mounted]) -> Iterator[Margin]:
    """Bought and owned ones together are what the trucks use, no more and no less."""
    used = _used(units)
    listed: Counter[Key] = Counter()
    for row in plan.items:
        listed[row.table, row.id] += row.bought + row.owned_used
    for key in sorted({*used, *listed}):
        yield same(listed[key], used[key], " ".join(key), 0.0)


def stock_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """No more owned ones are used than there are, none is bought that cannot be, and no count is negative."""
    catalog = _catalog(case)
    for row in plan.items:
        item, where = catalog[row.table, row.id], f"{row.table} {row.id}"
        yield at_most(row.owned_used, item.owned, where + ", owned")
        yield at_most(row.bought, item.available, where + ", bought")
        yield at_most(0, min(row.owned_used, row.bought), where)


def item_price_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Price and yearly cost of each row, of one new item [USD]; a blank price is no figure to compare."""
    catalog = _catalog(case)
    for row in plan.items:
        item, where = catalog[row.table, row.id], f"{row.table} {row.id}"
        if isfinite(item.price_usd):
            yield same(row.price_usd, item.price_usd, where + ", price")
            yield same(row.annual_usd, annual_usd(item, case.money.interest), where + ", a year")


def _share(item: Item) -> float:
    return item.snow_share if isinstance(item, Truck) else 1.0


def annual_usd(item: Item, interest: float) -> float:
    """Yearly cost of owning a new item [USD]: capital recovery with resale (engineering economy), upkeep."""
    loss = item.price_usd - item.resale_usd
    growth = (1.0 + interest) ** item.life_year
    recovery = interest * growth / (growth - 1.0) if interest > 0 else 1.0 / item.life_year
    return (loss * recovery + item.resale_usd * interest + item.upkeep_usd_per_year) * _share(item)


def capital_usd(plan: Plan, case: Case) -> float:
    """Money paid for what is bought [USD]."""
    catalog = _catalog(case)
    return sum(row.bought * catalog[row.table, row.id].price_usd for row in plan.items if row.bought)


def owning_usd(plan: Plan, case: Case) -> float:
    """Yearly cost of what is bought, and upkeep of the owned items used [USD]."""
    catalog = _catalog(case)
    return sum(_row_owning(row, catalog[row.table, row.id], case.money.interest) for row in plan.items)


def _row_owning(row: PlannedItem, item: Item, interest: float) -> float:
    new = row.bought * annual_usd(item, interest) if row.bought else 0.0
    return new + row.owned_used * item.upkeep_usd_per_year * _share(item)


def budget_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Capital stays within the budget [USD]."""
    yield at_most(capital_usd(plan, case), case.money.budget_usd, "capital")


def driver_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """No more trucks are out than there are drivers."""
    yield at_most(len(units), case.crew.drivers, "trucks")

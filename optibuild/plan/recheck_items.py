"""Items: what the trucks use is what is bought or owned, in stock, within the budget, at its yearly cost."""

from collections import Counter
from collections.abc import Iterator
from math import expm1, isfinite, isinf, log1p

from optibuild.plan.recheck_margins import Margin, at_most, same
from optibuild.plan.recheck_trucks import Key, Mounted, catalog
from optibuild.records import Ballast, Case, Item, Plan, PlannedItem, Truck


def used_of(units: list[Mounted]) -> Counter[Key]:
    """How many of each catalog row some trucks use."""
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
    used = used_of(units)
    listed: Counter[Key] = Counter()
    for row in plan.items:
        listed[row.table, row.id] += row.bought + row.owned_used
    for key in sorted({*used, *listed}):
        yield same(listed[key], used[key], " ".join(key), 0.0)


def stock_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """No more owned ones are used than there are, none is bought that cannot be, and no count is negative."""
    items = catalog(case)
    for row in plan.items:
        item, where = items[row.table, row.id], f"{row.table} {row.id}"
        yield at_most(row.owned_used, item.owned, where + ", owned")
        yield at_most(row.bought, item.available, where + ", bought")
        yield at_most(0, min(row.owned_used, row.bought), where)


def item_price_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Price and yearly cost of each row, of one new item [USD]; a blank price is no figure to compare."""
    items = catalog(case)
    for row in plan.items:
        item, where = items[row.table, row.id], f"{row.table} {row.id}"
        if isfinite(item.price_usd):
            yield same(row.price_usd, item.price_usd, where + ", price")
            yield same(row.annual_usd, annual_usd(item, case.money.interest), where + ", a year")


def _share(item: Item) -> float:
    return 1.0 if isinstance(item, Ballast) else item.snow_share


def annual_usd(item: Item, interest: float) -> float:
    """Yearly cost of owning a new item [USD]: capital recovery with resale (engineering economy) or lease,
    and what every year costs."""
    capital = item.lease_usd_per_year
    if capital is None:
        life = _years_used(item)
        capital = (_worth_today_usd(item, interest) / _today_of_a_yearly_dollar(interest, life)
                   - item.resale_usd * (1.0 / _today_of_a_yearly_dollar(interest, life) - interest))
    return (capital + _every_year_usd(item)) * _share(item)


def _years_used(item: Item) -> float:
    """Years until the item is old or its hours are worked, whichever comes first."""
    if isinf(item.worked_life_min) or item.worked_min_per_year <= 0.0:
        return item.life_year
    by_work = item.worked_life_min / item.worked_min_per_year
    return by_work if by_work < item.life_year else item.life_year


def _today_of_a_yearly_dollar(rate: float, years: float) -> float:
    """P/A: what a dollar at the end of every year is worth today; its years where money costs nothing."""
    return years if rate == 0.0 else -expm1(-years * log1p(rate)) / rate


def _worth_today_usd(item: Item, interest: float) -> float:
    """What is paid for a new item, its loan's payments discounted to today [USD]."""
    if item.loan_rate is None or item.loan_term_year is None:
        return item.price_usd
    lent = item.price_usd - item.price_usd * item.loan_down
    payment = lent / _today_of_a_yearly_dollar(item.loan_rate, item.loan_term_year)
    return (item.price_usd * item.loan_down
            + payment * _today_of_a_yearly_dollar(interest, item.loan_term_year))


def _every_year_usd(item: Item) -> float:
    """Upkeep, and a truck's insurance and registration [USD]."""
    papers = item.insurance_usd_per_year + item.registration_usd_per_year if isinstance(item, Truck) else 0.0
    return item.upkeep_usd_per_year + papers


def at_once_usd(item: Item) -> float:
    """Money paid when a new item comes [USD]: its price, of a loan the down payment, of a lease nothing."""
    if item.lease_usd_per_year is not None:
        return 0.0
    return item.price_usd if item.loan_rate is None else item.price_usd * item.loan_down


def capital_usd(plan: Plan, case: Case) -> float:
    """Money paid at once for what is bought [USD]."""
    items = catalog(case)
    return sum(row.bought * at_once_usd(items[row.table, row.id]) for row in plan.items if row.bought)


def owning_usd(plan: Plan, case: Case) -> float:
    """Yearly cost of what is bought, and what every year costs of the owned items used [USD]."""
    items = catalog(case)
    return sum(row_usd(row, items[row.table, row.id], case.money.interest) for row in plan.items)


def row_usd(row: PlannedItem, item: Item, interest: float) -> float:
    """A year of all that the plan has of one catalog row [USD]."""
    return yearly_usd(row.bought, row.owned_used, item, interest)


def yearly_usd(new: int, owned: int, item: Item, interest: float) -> float:
    """A year of so many new ones, and what every year costs of so many owned ones [USD]."""
    bought = new * annual_usd(item, interest) if new else 0.0
    return bought + owned * _every_year_usd(item) * _share(item)


def held_usd(item: Item, interest: float) -> float:
    """A year of the capital in one owned item [USD]: what it is worth, paid back over the years it has left,
    one at least."""
    years = max(1.0, item.remaining_life_year)
    return _worth_usd(item) / _today_of_a_yearly_dollar(interest, years) * _share(item)


def _worth_usd(item: Item) -> float:
    """Worth of an owned one [USD]: as given; else what its past years have left of the price, each taking the
    same sum or the same share."""
    if item.owned_value_usd is not None:
        return item.owned_value_usd
    used_up = min(1.0, max(0.0, 1.0 - item.remaining_life_year / _years_used(item)))
    if item.value_falls == "declining":
        return item.price_usd ** (1.0 - used_up) * item.resale_usd ** used_up if item.price_usd else 0.0
    return (1.0 - used_up) * item.price_usd + used_up * item.resale_usd


def budget_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Capital stays within the budget [USD]."""
    yield at_most(capital_usd(plan, case), case.money.budget_usd, "capital")

"""What it costs a year to own an item: capital recovery and upkeep, at the share charged to this work."""

from math import expm1, log1p

from optibuild.records.case import Money
from optibuild.records.catalog import Item, Truck

LEAST_REMAINING_LIFE_YEAR = 1.0


def recovery_factor(interest: float, life_year: float) -> float:
    """A/P: yearly sum that pays back one dollar over a life [1/year]; 1/n without interest.

    Source: engineering-economy tables, i(1+i)^n/((1+i)^n-1). ValueError for a life of zero or less.
    """
    if life_year <= 0:
        raise ValueError("life must be above zero")
    return 1 / life_year if interest == 0 else interest / -expm1(-life_year * log1p(interest))


def capital_recovery_usd(price_usd: float, resale_usd: float, life_year: float, interest: float) -> float:
    """Yearly cost of capital [USD/year]: (price - resale)·A/P + resale·interest.

    One of three equal textbook forms; interest is a share a year.
    """
    return (price_usd - resale_usd) * recovery_factor(interest, life_year) + resale_usd * interest


def snow_share(item: Item) -> float:
    """Share of an item's owning charged to this work: a truck's own, all of anything else."""
    return item.snow_share if isinstance(item, Truck) else 1.0


def annual_usd(item: Item, money: Money) -> float:
    """Owning a new item for a year [USD]: capital recovery and upkeep, times the snow share."""
    capital = capital_recovery_usd(item.price_usd, item.resale_usd, item.life_year, money.interest)
    return (capital + item.upkeep_usd_per_year) * snow_share(item)


def upkeep_usd(item: Item) -> float:
    """What using an owned item for a year costs [USD]: its upkeep, times the snow share."""
    return item.upkeep_usd_per_year * snow_share(item)


def owned_capital_usd(item: Item, money: Money) -> float:
    """Capital of an owned item a year, charged in the bid only [USD]: its value over the remaining life.

    A remaining life under one year counts as one: the value is then recovered in this season.
    """
    life = max(item.remaining_life_year, LEAST_REMAINING_LIFE_YEAR)
    return capital_recovery_usd(item.owned_value_usd, 0.0, life, money.interest) * snow_share(item)

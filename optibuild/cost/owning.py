"""What it costs a year to own an item: capital recovery, loan or lease, and yearly costs, at the share that
is charged to this work.

Source, where a function names no other: the capital recovery of engineering-economy textbooks; which costs
count is common practice, no source.
"""

from math import expm1, log1p

from optibuild.records.case import Money
from optibuild.records.catalog import Item, Truck, first_end_year

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


def straight_worth_usd(price_usd: float, resale_usd: float, life_year: float, age_year: float) -> float:
    """Worth at an age [USD] where every year takes the same sum, until the life is over.

    Source: straight-line depreciation, (price - resale)/life a year.
    """
    return price_usd - (price_usd - resale_usd) * min(age_year / life_year, 1.0)


def declining_worth_usd(price_usd: float, resale_usd: float, life_year: float, age_year: float) -> float:
    """Worth at an age [USD] where every year takes the same share of what is left, down to the resale.

    Source: declining balance with the rate that ends at salvage, 1 - (resale/price)^(1/life).
    """
    if price_usd <= 0:
        return 0.0
    return price_usd * float(resale_usd / price_usd) ** min(age_year / life_year, 1.0)


def loan_payment_usd(loan_usd: float, rate: float, term_year: float) -> float:
    """Yearly payment of a loan with equal payments at the end of each year [USD/year]: loan·A/P at the `rate`
    of the loan, a share a year."""
    return loan_usd * recovery_factor(rate, term_year)


def life_year(item: Item) -> float:
    """Years that a new one lasts: its life, or the hours it can work at so many a year, whichever end first.

    The hours a year are given with the item, or those of the season's storms, and follow no loop: a year's
    cost is a number of the item alone, so that the integer program stays linear.
    """
    return first_end_year(item.life_year, item.worked_life_min, item.worked_min_per_year)


def paid_at_purchase_usd(item: Item) -> float:
    """What a new one costs when it is bought [USD]: its price, or the down payment of its loan; a leased one
    nothing."""
    if item.lease_usd_per_year is not None:
        return 0.0
    return item.price_usd * (1.0 if item.loan_rate is None else item.loan_down)


def capital_usd(item: Item, money: Money) -> float:
    """Capital of a new item a year [USD]: its lease; else price, or down payment and loan payments at their
    worth today, recovered over its life less what it sells for.

    A loan at the rate of `money.interest` costs what paying at once does.
    """
    if item.lease_usd_per_year is not None:
        return item.lease_usd_per_year
    paid = paid_at_purchase_usd(item)
    if item.loan_rate is not None and item.loan_term_year is not None:
        payment = loan_payment_usd(item.price_usd - paid, item.loan_rate, item.loan_term_year)
        paid += payment / recovery_factor(money.interest, item.loan_term_year)
    return capital_recovery_usd(paid, item.resale_usd, life_year(item), money.interest)


def _yearly_usd(item: Item) -> float:
    """Costs of every year, new or owned [USD]: upkeep; of a truck its insurance and registration too."""
    if not isinstance(item, Truck):
        return item.upkeep_usd_per_year
    return item.upkeep_usd_per_year + item.insurance_usd_per_year + item.registration_usd_per_year


def annual_usd(item: Item, money: Money) -> float:
    """Owning a new item for a year [USD]: its capital and its yearly costs, times the snow share."""
    return (capital_usd(item, money) + _yearly_usd(item)) * item.snow_share


def upkeep_usd(item: Item) -> float:
    """What using an owned item for a year costs [USD]: its yearly costs, times the snow share."""
    return _yearly_usd(item) * item.snow_share


def owned_value_usd(item: Item) -> float:
    """What an owned one is worth today [USD]: as given, else what the fall of its worth has left."""
    if item.owned_value_usd is not None:
        return item.owned_value_usd
    life = life_year(item)
    age = max(life - item.remaining_life_year, 0.0)
    falls = declining_worth_usd if item.value_falls == "declining" else straight_worth_usd
    return falls(item.price_usd, item.resale_usd, life, age)


def owned_capital_usd(item: Item, money: Money) -> float:
    """Capital of an owned item a year, charged in the bid only [USD]: its value over the remaining life.

    A remaining life under one year counts as one: the value is then recovered in this season.
    """
    life = max(item.remaining_life_year, LEAST_REMAINING_LIFE_YEAR)
    return capital_recovery_usd(owned_value_usd(item), 0.0, life, money.interest) * item.snow_share

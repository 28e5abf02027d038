"""Checks of what items cost: price, resale, loan, lease and hire must agree."""

from collections.abc import Mapping
from typing import Any

from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.tables import Row, Table

LOAN = ("loan_rate", "loan_term_year", "loan_down")
NEVER_HIRED = ("price_usd", "owned", "lease_usd_per_year", "loan_rate", "loan_term_year")
FREE = ("available", "lease_usd_per_year", "hired_usd_per_min")
"""What a loan is made of; what nothing that is hired has; what tells whether an item needs a price."""


def check_money(table: Table, collector: Collector) -> None:
    """A price where new ones can be bought, a resale no higher than it, one way of paying for an item."""
    for row in table.rows:
        if "price_usd" in row.values:
            _check_price(table, row, collector)
        if {*LOAN, "lease_usd_per_year"} <= row.values.keys():
            _check_loan(table, row, collector)
        _check_falls(table, row, collector)
        _check_hired(table, row, collector)


def may_be_free(values: Mapping[str, Any]) -> bool:
    """Whether an item needs no price: none can be bought, or it is leased or hired."""
    return (values.get("available") == 0 or values.get("lease_usd_per_year") is not None
            or values.get("hired_usd_per_min") is not None)


def paid_at_once_usd(values: Mapping[str, Any]) -> float | None:
    """What a new item costs when it comes [USD]; None where that could not be read."""
    if values.get("lease_usd_per_year") is not None or values.get("hired_usd_per_min") is not None:
        return 0.0
    price, down = values.get("price_usd"), values.get("loan_down")
    return price if price is None or down is None or values.get("loan_rate") is None else price * down


def _check_price(table: Table, row: Row, collector: Collector) -> None:
    price, hired = row.values["price_usd"], row.values.get("hired_usd_per_min") is not None
    known = all(name in row.values for name in FREE if name in table.columns)
    if price is None and known and not may_be_free(row.values):
        collector.add("value.missing", "'price' is blank though new ones can be bought",
                      table.place(row, "price_usd"), value="", expected="a price, or available = 0")
    kind, resale = row.values.get("resale_usd") or ("share", 0.0)
    if kind == "money" and (price is not None or hired) and resale > (price or 0.0):
        collector.add("value.range", "resale is above price",
                      table.place(row, "resale_usd"), table.place(row, "price_usd"),
                      value=f"{resale:.2f} USD", expected=f"at most {price or 0.0:.2f} USD")


def _column(table: Table, field: str) -> str:
    """A column as typed, without its unit."""
    return table.columns[field][0].partition(" [")[0]


def _check_loan(table: Table, row: Row, collector: Collector) -> None:
    rate, years, down = (row.values[name] for name in LOAN)
    given = {"loan_rate": rate is not None, "loan_term_year": years is not None, "loan_down": down > 0}
    if not any(given.values()):
        return
    if row.values["lease_usd_per_year"] is not None:
        name = next(name for name in LOAN if given[name])
        collector.add("item.lease", "there is a lease and a loan", table.place(row, "lease_usd_per_year"),
                      table.place(row, name), expected="a lease, or the columns of a loan")
        return
    for name in ("loan_rate", "loan_term_year"):
        if not given[name]:
            collector.add("item.loan", f"{_column(table, name)} is blank", table.place(row, name), value="",
                          expected="loan_rate and loan_years, or neither of them and no loan_down")


def _check_falls(table: Table, row: Row, collector: Collector) -> None:
    price, worth = row.values.get("price_usd"), row.values.get("resale_usd")
    if row.values.get("value_falls") == "declining" and price and worth and worth[1] == 0:
        collector.add("item.declining", "the same share every year never comes down to a resale of 0",
                      table.place(row, "resale_usd"), table.place(row, "value_falls"), value="0",
                      expected="a resale above 0, or value_falls = straight")


def _check_hired(table: Table, row: Row, collector: Collector) -> None:
    if row.values.get("hired_usd_per_min") is None:
        return
    for name in NEVER_HIRED:
        if row.values.get(name):
            collector.add("item.hired", f"a hired truck has no {_column(table, name)}",
                          table.place(row, name), table.place(row, "hired_usd_per_min"),
                          expected="a blank cell, or none in the column hired")

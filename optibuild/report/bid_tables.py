"""The tables of a bid, as the screen, the CSV files and the workbook show them."""

from collections.abc import Sequence
from math import inf

from optibuild.records import Bid, FormPrice, ListBid, Marginal, Risk, SiteBid
from optibuild.report.console import number
from optibuild.report.tables import Cell, Column, Table, Units, dollars

WHOLE = "whole list"


def bid_tables(bid: Bid, marginal: Sequence[Marginal], system: str) -> dict[str, Table]:
    """Every table by its name: sites, prices, risk, and what sites would save."""
    return {"bid_sites": _beside(cost_table(bid), price_table(bid)),
            "bid_prices": prices_table(bid, Units(system)),
            "bid_risk": risk_table([(site.site, row) for site in bid.sites for row in site.risks]
                                   + [(WHOLE, row) for row in bid.whole.risks]),
            "bid_without": without_table(marginal)}


def _beside(left: Table, right: Table) -> Table:
    """Two tables with the same first column as one."""
    return Table((*left.columns, *right.columns[1:]),
                 tuple((*one, *other[1:]) for one, other in zip(left.rows, right.rows, strict=True)))


def _sites(bid: Bid) -> list[tuple[str, SiteBid | ListBid]]:
    """Every site by its name, and the list last."""
    return [*((one.site, one) for one in bid.sites), (WHOLE, bid.whole)]


def cost_table(bid: Bid) -> Table:
    """Cost of each site by kind, and the list last."""
    columns = (Column("site"), dollars("service"), dollars("driving and idle"), dollars("owning"),
               dollars("capital of owned"), dollars("cost to recover"))
    return Table(columns, tuple(
        (name, cost.service_usd, cost.driving_usd, cost.owning_usd, cost.held_usd, cost.bid_usd)
        for name, one in _sites(bid) for cost in (one.cost,)))


def price_table(bid: Bid) -> Table:
    """What to ask for each site a season, and what its contract as it stands leaves; the list last."""
    columns = (Column("site"), dollars("season's price"), dollars("safe season"), dollars("contract"),
               dollars("profit"), Column("profit margin", "%", 1))
    return Table(columns, tuple(_price(name, one) for name, one in _sites(bid)))


def _price(name: str, one: SiteBid | ListBid) -> tuple[Cell, ...]:
    stands = one.contract
    share = None if stands is None or stands.profit_margin is None else 100.0 * stands.profit_margin
    pays = (None, None) if stands is None else (stands.revenue_usd, stands.profit_usd)
    return (name, one.price_usd, one.safe_season_usd, *pays, share)


def prices_table(bid: Bid, units: Units) -> Table:
    """Every price of every site, a line for each form and depth band."""
    columns = (Column("site"), Column("form"), Column("for each"), units.depth("from"), units.depth("to"),
               Column("price", "USD", 2), Column("events included", "", 0), Column("each beyond", "USD", 2))
    return Table(columns, tuple(
        (site.site, row.form, row.unit, units.deep(row.from_depth_m), units.deep(row.to_depth_m),
         row.price_usd, row.cap, row.overage_usd) for site in bid.sites for row in site.prices))


def form_table(bid: Bid) -> Table:
    """One price a form for each site, for the screen; bands of depth and caps have tables of their own."""
    names = ("push", "event", "inch", "hour", "season")
    rows = [(site.site, {row.form: row.price_usd for row in site.prices}) for site in bid.sites]
    return Table((Column("site"), *map(dollars, names)),
                 tuple((name, *(prices.get(form) for form in names)) for name, prices in rows))


def cap_table(bid: Bid) -> Table:
    """Seasonal sums with a cap: the events included, and what each beyond costs."""
    columns = (Column("site"), dollars("sum"), Column("events included", "", 0), dollars("each beyond"))
    return Table(columns, tuple((site.site, row.price_usd, row.cap, row.overage_usd) for site in bid.sites
                                for row in site.prices if row.form == "season with cap"))


def band_table(bid: Bid, units: Units) -> Table:
    """Prices of an event by the depth of its snow, a column for each band; a band of which no site has an
    event is left out."""
    bands = [row for site in bid.sites for row in site.prices if row.from_depth_m is not None
             and row.price_usd is not None]
    keys = sorted({_band(row) for row in bands}, key=lambda key: (key[0], key[2], key[1]))
    rows = []
    for site in bid.sites:
        prices = {_band(row): row.price_usd for row in site.prices if row.from_depth_m is not None}
        rows.append((site.site, *(prices.get(key) for key in keys)))
    return Table((Column("site"), *(_band_column(key, units) for key in keys)), tuple(rows))


def _band(row: FormPrice) -> tuple[str, float, float]:
    """Unit, lower and upper depth of a band, by which it is a column."""
    return row.unit, row.from_depth_m or 0.0, inf if row.to_depth_m is None else row.to_depth_m


def _band_column(key: tuple[str, float, float], units: Units) -> Column:
    unit, low, high = key
    depth = units.depth("").unit
    begins, ends = (number(units.deep(edge) or 0.0, 2) for edge in (low, high if high < inf else 0.0))
    if unit == "inch":
        return Column(f"each inch above {begins} {depth}", "USD", 0)
    return Column(f"from {begins} {depth}" + (f" to below {ends}" if high < inf else ""), "USD", 0)


def risk_table(rows: Sequence[tuple[str, Risk]]) -> Table:
    """Profit over the simulated seasons by form of contract."""
    columns = (Column("site"), Column("form"), Column("sites", "", 0), dollars("mean profit"),
               Column("+/-", "USD", 0), dollars("mean of worst tenth"), Column("chance of loss", "%", 1),
               Column("break-even events", "", 1), Column("loss"))
    return Table(columns, tuple((name, *_risk(row)) for name, row in rows))


def list_risk_table(bid: Bid) -> Table:
    """The same for the whole list."""
    whole = risk_table([(WHOLE, row) for row in bid.whole.risks])
    return Table(whole.columns[1:], tuple(row[1:] for row in whole.rows))


def _risk(row: Risk) -> tuple[Cell, ...]:
    side = None if row.loss_above is None else "above" if row.loss_above else "below"
    if row.loss_until_events is not None:
        side = f"to {number(row.loss_until_events, 1)}"
    return (row.form, row.sites, row.mean_usd, row.error_usd, row.worst_tenth_usd, 100.0 * row.chance_of_loss,
            row.break_even_events, side)


def without_table(marginal: Sequence[Marginal]) -> Table:
    """What the plan would save without each site, beside the site's share of its cost."""
    columns = (Column("site"), dollars("share of cost"), dollars("saves at most"),
               dollars("saves, solved again"))
    return Table(columns, tuple((row.site, row.share_usd, row.most_usd, row.saved_usd) for row in marginal))

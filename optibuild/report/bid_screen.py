"""A bid on the terminal and as a document: cost and price of the list, then sites, forms, risk, cautions."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from optibuild.cautions import BID
from optibuild.records import Ballast, Bid, Case, Marginal, SiteBid
from optibuild.report.bid_tables import (
    band_table,
    cap_table,
    cost_table,
    form_table,
    list_risk_table,
    price_table,
    risk_table,
    without_table,
)
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.fit_screen import cautions_text
from optibuild.report.tables import Table, Units, without_empty

FORMAT = "optibuild-bid/1"
LEAST_LOSS_USD = 0.005
BLANK = ("No price (-, or no column): no event of the season is billed so. Add an event class of that depth "
         "to the season to price it.")
"""What a price that is not there means."""
WITHOUT = (
    "What the plan would save without the site. No plan without it saves more than 'at most': a "
    "price above that pays for the site. A price below what is truly saved (--without) is better "
    "declined. These do not sum to the plan's cost, for what several sites need together is saved by "
    "none alone; the share of cost is without the capital of owned items.")
"""What the table of sites left out one by one says."""


def bid_text(bid: Bid, marginal: Sequence[Marginal], case: Case) -> str:
    """The whole bid, form by form; the risk of single sites is told by `site_bid_text`."""
    answer = "\n".join(paragraph(said, f"{word:<10}") for word, said in bid_answer(bid, case))
    parts = [f"{heading(f'Bid: {clean(case.name)}')}\n{answer}",
             _titled("Cost of a season", cost_table(bid)), _titled("Price of a season", price_table(bid)),
             _titled("Prices by form of contract", form_table(bid)),
             _titled("Seasonal sum with a cap", cap_table(bid)),
             _titled("Price of an event by depth of its snow", band_table(bid, Units(case.units))),
             paragraph(BLANK) if has_blank(bid) else "",
             _titled("Risk of each form over the seasons drawn, whole list", list_risk_table(bid)),
             paragraph(drawn_words(bid)), _marginal(marginal), cautions_text(BID)]
    return "\n\n".join(part for part in parts if part)


def site_bid_text(site: SiteBid, case: Case) -> str:
    """One site: what every form risks there, and the seasonal sum that is safe enough."""
    most = number(100 * case.bid.chance_of_loss, 1).removesuffix(".0")
    said = (f"A season costs {usd(site.cost.bid_usd)} here; its price is {usd(site.price_usd)}. A sum of "
            f"{usd(site.safe_season_usd)} a season loses in no more than {most} % of the seasons drawn.")
    table = risk_table([(site.site, row) for row in site.risks])
    return "\n\n".join([f"{heading(f'Risk at {clean(site.site)}')}\n{paragraph(said)}",
                        layout(Table(table.columns[1:], tuple(row[1:] for row in table.rows)))])


def bid_document(bid: Bid, marginal: Sequence[Marginal]) -> dict[str, Any]:
    """The result of `bid`: sites with cost, prices and risk, totals, the draw, cautions; USD, m, min."""
    saved = {row.site: asdict(row) for row in marginal}
    sites = [{"site": row.site, "cost_usd": row.cost.bid_usd, **_plain(row), "marginal": saved.get(row.site)}
             for row in bid.sites]
    totals = {"cost_usd": bid.whole.cost.bid_usd, **_plain(bid.whole)}
    return {"format": FORMAT, "sites": sites, "totals": totals, "simulation": asdict(bid.simulation),
            "cautions": list(BID)}


def _plain(row: Any) -> dict[str, Any]:
    tree = asdict(row)
    tree.pop("site", None)
    return tree


def _titled(title: str, table: Table) -> str:
    return f"{heading(title)}\n\n{layout(without_empty(table))}" if table.rows else ""


def bid_answer(bid: Bid, case: Case) -> list[tuple[str, str]]:
    """The bid in a few lines, each a word and what it says."""
    whole, money = bid.whole, case.money
    cost = whole.cost
    percent = [number(100 * share, 1).removesuffix(".0") for share in (money.overhead, money.profit_margin)]
    owned = f" + capital of owned items {number(cost.held_usd, 0)}" if cost.held_usd else ""
    kinds = (f"service {number(cost.service_usd, 0)} + driving and idle "
             f"{number(cost.driving_usd, 0)} + owning {number(cost.owning_usd, 0)}{owned}")
    lines = [("Cost", f"{usd(cost.bid_usd)} a season: {kinds}"),
             ("Spread", f"mean {usd(whole.spread.mean_usd)} over the seasons drawn, standard deviation "
                        f"{number(whole.spread.sd_usd, 0)}; the dearest tenth costs "
                        f"{number(whole.spread.worst_tenth_usd, 0)} on average"),
             ("Price", f"{usd(whole.price_usd)} a season: overhead {percent[0]} % of cost, profit margin "
                       f"{percent[1]} % of price"),
             ("Hours", _hours(bid))]
    if whole.contract is not None:
        lines.append(("Contract", _contract(bid)))
    if said := unvalued_words(case):
        lines.append(("Caution", said))
    return lines


def unvalued_words(case: Case) -> str:
    """That nothing is asked for owning what is owned but has neither price nor owned value; empty where all
    have. Ballast, which costs nothing unless a price is typed, is left out."""
    names = [clean(item.id) for item in case.items if not isinstance(item, Ballast)
             and item.owned and not item.price_usd and not item.owned_value_usd]
    if not names:
        return ""
    return (f"No price or owned value is typed for {', '.join(names)}: nothing is asked for owning "
            f"{'it' if len(names) == 1 else 'them'}, beyond upkeep and other yearly costs.")


def _hours(bid: Bid) -> str:
    paid, billable = bid.whole.paid_min / 60.0, bid.whole.billable_min / 60.0
    told = f"{number(paid, 0)} paid, {number(billable, 0)} billable at sites"
    if not billable:
        return told
    return f"{told}; cost of a billable hour {number(bid.whole.cost.bid_usd / billable, 2)} USD"


def _contract(bid: Bid) -> str:
    stands = bid.whole.contract
    if stands is None:
        return ""
    under = [row for row in bid.sites if row.contract]
    losing = [clean(row.site) for row in under if row.contract and row.contract.profit_usd < -LEAST_LOSS_USD]
    some = "" if len(under) == len(bid.sites) else f"at {len(under)} of {len(bid.sites)} sites "
    share = stands.profit_margin
    margin = "" if share is None else f", profit margin {number(100 * share, 1)} % of what it pays"
    lost = f"; loses money at {', '.join(losing)}" if losing else "; no site loses money"
    return (f"as it stands {some}pays {usd(stands.revenue_usd)} a season and leaves "
            f"{usd(stands.profit_usd)} after cost and overhead{margin}{lost}")


def has_blank(bid: Bid) -> bool:
    """Whether some form has no price at some site, so that `BLANK` must be said."""
    return any(row.price_usd is None for site in bid.sites for row in site.prices)


def drawn_words(bid: Bid) -> str:
    """How the seasons were drawn and what the columns of risk mean."""
    drawn = bid.simulation
    source = (f"from {drawn.past_winters} past winters, each drawn whole" if drawn.past_winters else
              "each class of event a Poisson number of its expected count")
    most = number(100 * drawn.chance_of_loss, 1).removesuffix(".0")
    return (
        f"{number(drawn.seasons, 0)} seasons drawn with seed {drawn.seed}, {source}. Profit is after cost "
        "and overhead; overhead is a fixed sum. A form's list leaves out, with their cost, the sites where "
        "it bills nothing. +/- is the error of the drawing alone, not of the counts behind it. The safe "
        f"season is the least seasonal sum, without profit, that loses in no more than {most} % of them. "
        "Break-even counts events in the mix of the season; the loss lies on the side named, or up to that "
        "number.")


def says_without(marginal: Sequence[Marginal]) -> bool:
    """Whether anything is known of what the plan would save without a site."""
    return any(row.most_usd is not None or row.saved_usd is not None for row in marginal)


def _marginal(marginal: Sequence[Marginal]) -> str:
    if not says_without(marginal):
        return ""
    return f"{_titled('Without one site', without_table(marginal))}\n\n{paragraph(WITHOUT)}"

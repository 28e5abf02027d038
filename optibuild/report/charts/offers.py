"""A bid: what sites are offered for, and what a season can bring in every form of contract."""

from optibuild.records import Bid, Risk, SiteBid
from optibuild.report.bid_tables import list_risk_table
from optibuild.report.charts.chart import Chart, foremost, named, share, shown_of
from optibuild.report.charts.lying_bars import Bars, Row, Span, lying_bars, stacked
from optibuild.report.console import number, usd
from optibuild.report.tables import Column, Table, dollars

PARTS = ("service", "driving and idle", "owning", "capital of owned", "overhead and profit")
PRICES = Bars(PARTS, "USD a season", "contract as it stands")
FORMS = Bars(("worst tenth to mean",), "profit of the whole list, USD a season", "mean")


def site_prices(bid: Bid) -> Chart | None:
    """What each site is offered for a season, by what that pays; None without sites."""
    if not bid.sites:
        return None
    whole = bid.whole.price_usd
    sites = sorted(bid.sites, key=lambda site: -site.price_usd)
    most, shown = sites[0], foremost(sites, lambda site: site.price_usd)
    title = (f"A season of {len(bid.sites)} site{'' if len(bid.sites) == 1 else 's'} is offered for "
             f"{usd(whole)}; {named(most.site)} is {share(most.price_usd, whole)} of that.")
    columns = (Column("site"), *map(dollars, PARTS), dollars("price"), dollars("contract"))
    table = Table(columns, tuple((site.site, *_parts(site), site.price_usd, _pays(site)) for site in sites))
    rows = [Row(site.site, usd(site.price_usd), stacked(_parts(site)),
                _pays(site)) for site in shown]
    return lying_bars("site-prices", title + shown_of(shown, sites, "sites that are offered for most"),
                      "A bar for each site, the dearest first: what the price of a season pays. A "
                      "mark tells what a contract brings as it stands.", table, PRICES, rows)


def _parts(site: SiteBid) -> tuple[float, ...]:
    cost = site.cost
    return (cost.service_usd, cost.driving_usd, cost.owning_usd, cost.held_usd,
            site.price_usd - cost.bid_usd)


def _pays(site: SiteBid) -> float | None:
    return None if site.contract is None else site.contract.revenue_usd


def form_risks(bid: Bid) -> Chart | None:
    """What each form of contract leaves in a mean season and in the worst tenth; None without forms."""
    risks = bid.whole.risks
    if not risks:
        return None
    best = max(risks, key=lambda row: row.worst_tenth_usd)
    title = (f"Seasons are safest paid by “{best.form}”: the worst tenth of them brings "
             f"{_profit(best.worst_tenth_usd)} on average.")
    told = ("A bar for each form of contract: from the mean profit of the worst tenth of simulated seasons "
            "to the mean of all, which a mark shows.")
    rows = [Row(f"{row.form} ({row.sites} site{'' if row.sites == 1 else 's'})",
                f"loss in {number(100.0 * row.chance_of_loss, 1)} % of seasons", (_span(row),),
                row.mean_usd) for row in risks]
    return lying_bars("form-risks", title, told, list_risk_table(bid), FORMS, rows)


def _span(row: Risk) -> Span:
    return Span(0, *sorted((row.worst_tenth_usd, row.mean_usd)))


def _profit(value: float) -> str:
    return f"a {'profit' if value >= 0.0 else 'loss'} of {usd(abs(value))}"

"""A site's sheet for its customer: what is promised there and at what price; no cost, no truck, no other
site."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import inf

from optibuild.cautions import BID
from optibuild.records import Case, PlannedSite, Site, SiteBid, SitePrice
from optibuild.records.contracts import Contract, ContractForm
from optibuild.report.console import number
from optibuild.report.page.blocks import Grid, Lines, Words
from optibuild.report.page.sheets_words import Sheet, depth, in_minutes, snowfall
from optibuild.report.tables import Column, Table

WORKS = {"plow": "plowing", "deice": "deicing", "both": "plowing and deicing"}
ONE = "Each is the whole price by that form of contract: choose one."
NOT_PRINTED = "For you, not printed:"
PER = {"season": "a season", "event": "an event", "push": "a push", "inch": "an inch of snow",
       "hour": "an hour at the site"}


def site_sheet(number_of: int, planned: PlannedSite, site: Site, case: Case,
               offered: SiteBid | None = None) -> Sheet:
    """Works, cycle limits, deadline and trigger of a site that is served, and its price; of a form that is
    asked for that of the bid, where one was made."""
    name, price = site.name or site.id, _price(planned.price, site, case, offered)
    caution = ([Words(f"{NOT_PRINTED} {BID[0]}", screen=True)]
               if any(isinstance(block, Grid) for block in price) else [])
    return Sheet("site", f"site-{number_of}", "For the customer", name, site.id if name != site.id else "",
                 [Lines(list(_promised(site, case))), *price, *caution])


def _promised(site: Site, case: Case) -> Iterator[tuple[str, str]]:
    yield "Work", WORKS[site.work]
    if site.plowed and site.plow_every_min is not None:
        yield "Plowing", (f"from {depth(site.trigger_m, case)} of snow; no longer than "
                          f"{in_minutes(site.plow_every_min)} between two plowings")
    if site.deiced_each and site.deice_every_min is not None:
        yield "Deicing", f"no longer than {in_minutes(site.deice_every_min)} between two deicings"
    if site.deiced_at_end:
        yield "Deicing", ("once at the end of a storm, in a last round of at most "
                          f"{in_minutes(site.end_within_min)}")
    if site.deadline_min < inf and site.cycle_limits_min:
        yield "Deadline", (f"first service finished within {in_minutes(site.deadline_min)} of the "
                           "crew's start")
    yield "Holds for", f"snowfall of up to {snowfall(case)}"


def _price(price: SitePrice | None, site: Site, case: Case, offered: SiteBid | None) -> list[Grid | Lines]:
    """What has been agreed; where nothing has, the bid's price of the forms asked for, or that it has none,
    or, before there is a bid, that it follows; else, with no form asked for, that by season, event and push.
    """
    agreed = _agreed(site, case)
    if agreed:
        return [_grid("Price as agreed", agreed, site, case)]
    asked = _asked(site, case)
    if asked and offered is None:
        return [Lines([("Price", f"for {_forms(asked.values())}: price to follow")])]
    if asked and offered is not None:
        found = _offers(asked, offered)
        priced = {line.form for line in offered.prices if line.price_usd is not None}
        blank = [rows for form, rows in asked.items() if form not in priced]
        none = [Lines([("No price", f"for {_forms(blank)}, in which nothing is expected here")])]
        choice = ONE if len(asked) - len(blank) > 1 else ""
        return [*([_grid("Price", found, site, case, choice)] if found else []), *(none if blank else [])]
    if price is None:
        return []
    forms: tuple[tuple[ContractForm, float | None], ...] = (
        ("season", price.season_usd), ("event", price.event_usd), ("push", price.push_usd))
    return [_grid("Price", [Contract(site.id, *row) for row in forms], site, case, ONE)]


def _forms(asked: Iterable[Sequence[Contract]]) -> str:
    return " and for ".join(dict.fromkeys(PER[rows[0].form] for rows in asked))


def _grid(title: str, contracts: Sequence[Contract], site: Site, case: Case, said: str = "") -> Grid:
    """The amounts of contracts, and what an event and a push are where any is paid by them."""
    rows = tuple(line for row in contracts for line in _lines(row, case))
    words = [said, _event(site, case) if any("event" in what for what, _ in rows) else "",
             f"A push is one plowing, of {depth(site.trigger_m, case)} of snow or more."
             if any("push" in what for what, _ in rows) else ""]
    return Grid(title, Table((Column("for"), Column("price", "USD", 2)), rows), " ".join(filter(None, words)))


def _asked(site: Site, case: Case) -> dict[str, list[Contract]]:
    """The rows of the contracts table that hold for a site, by the form that a bid has for them: its own of a
    form, else those for every site."""
    own, every = ([row for row in case.contracts if row.site == of] for of in (site.id, None))
    forms: dict[str, list[Contract]] = {}
    for row in (*own, *(row for row in every if row.form not in {one.form for one in own})):
        forms.setdefault(row.form, []).append(row)
    return {_bid_form(rows): rows for rows in forms.values()}


def _bid_form(rows: Sequence[Contract]) -> str:
    """What a bid calls a form: a season with a cap and events by depth have prices of their own."""
    first = rows[0]
    if first.form == "season" and first.cap < inf:
        return "season with cap"
    by_depth = len(rows) > 1 or first.from_depth_m > 0.0 or first.to_depth_m < inf
    return "event by depth" if by_depth else first.form


def _offers(asked: Mapping[str, Sequence[Contract]], offered: SiteBid) -> list[Contract]:
    """The bid's lines of the forms asked for that have a price, as contracts would say them."""
    return [Contract(offered.site, rows[0].form, line.price_usd, line.from_depth_m or 0.0,
                     inf if line.to_depth_m is None else line.to_depth_m,
                     inf if line.cap is None else line.cap, line.overage_usd)
            for form, rows in asked.items() for line in offered.prices
            if line.form == form and line.price_usd is not None]


def _event(site: Site, case: Case) -> str:
    """What an event is, and how many an expected season has in which the site is served."""
    fallen = "" if site.deiced else f" that brings {depth(site.trigger_m, case)} of snow or more"
    season = sum(row.count for row in case.season if site.deiced or row.snowfall_m >= site.trigger_m)
    return (f"An event is one storm{fallen}, from its first snow to its end, however often the site is "
            f"served in it; {number(season, 1).removesuffix('.0')} are expected a season.")


def _agreed(site: Site, case: Case) -> Sequence[Contract]:
    """The rows of the contracts table whose form has all its amounts, the site's own or else those for every
    site; where there are none, the site's own `pay`."""
    forms: dict[tuple[bool, str], list[Contract]] = {}
    for row in case.contracts:
        if row.site in (None, site.id):
            forms.setdefault((row.site is None, row.form), []).append(row)
    given = {key: rows for key, rows in forms.items() if all(
        row.amount_usd is not None and (row.cap == inf or row.overage_usd is not None) for row in rows)}
    own = [row for (every, _), rows in given.items() if not every for row in rows]
    shared = [row for (every, form), rows in given.items() if every and (False, form) not in forms
              for row in rows]
    if own or shared or site.pay_by is None:
        return own or shared
    return [Contract(site.id, site.pay_by, site.pay_usd)]


def _lines(row: Contract, case: Case) -> Iterator[tuple[str, float]]:
    """An amount for what it is paid, with the depth of snow or the number of events that it is for."""
    limits = [f"from {depth(row.from_depth_m, case)}"] if row.from_depth_m > 0.0 else []
    limits += [f"below {depth(row.to_depth_m, case)}"] if row.to_depth_m < inf else []
    capped = f" of up to {number(row.cap, 0)} events" if row.cap < inf else ""
    snow = f", {' and '.join(limits)} of snow" if limits else ""
    if row.amount_usd is not None:
        yield f"{PER[row.form]}{capped}{snow}", row.amount_usd
    if row.overage_usd is not None and row.cap < inf:
        yield "each event beyond", row.overage_usd

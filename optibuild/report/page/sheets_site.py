"""A site's sheet for its customer: what is promised there and at what price; no cost, no truck, no other
site."""

from collections.abc import Iterator, Sequence
from math import inf

from optibuild.cautions import BID
from optibuild.records import Case, PlannedSite, Site, SitePrice
from optibuild.records.contracts import Contract
from optibuild.report.console import number
from optibuild.report.page.blocks import Grid, Lines, Words
from optibuild.report.page.sheets_words import Sheet, depth, in_minutes, snowfall
from optibuild.report.tables import Column, Table

WORKS = {"plow": "plowing", "deice": "deicing", "both": "plowing and deicing"}
ONE = "Each is the whole price by that form of contract: choose one."
PER = {"season": "a season", "event": "an event", "push": "a push", "inch": "an inch of snow",
       "hour": "an hour at the site"}


def site_sheet(number_of: int, planned: PlannedSite, site: Site, case: Case) -> Sheet:
    """Works, cycle limits, deadline and trigger of a site that is served, and its price."""
    name, price = site.name or site.id, _price(planned.price, site, case)
    caution = [Words(BID[0], screen=True)] if any(isinstance(block, Grid) for block in price) else []
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


def _price(price: SitePrice | None, site: Site, case: Case) -> list[Grid | Lines]:
    """What has been agreed; where nothing has, that a price follows if its form is settled, else the price by
    season, event and push."""
    agreed = _agreed(site, case)
    if agreed:
        rows = tuple(line for row in agreed for line in _lines(row, case))
        events = any("event" in what for what, _ in rows)
        return [Grid("Price as agreed", _table(rows), _event(site, case) if events else "")]
    asked = dict.fromkeys(PER[row.form] for row in case.contracts if row.site in (None, site.id))
    if asked:
        return [Lines([("Price", f"for {' and for '.join(asked)}: price to follow")])]
    if price is None:
        return []
    forms = (("season", price.season_usd), ("event", price.event_usd), ("push", price.push_usd))
    rows = tuple((PER[form], usd) for form, usd in forms if usd is not None)
    push = f" A push is one plowing, of {depth(site.trigger_m, case)} of snow or more."
    said = f"{ONE} {_event(site, case)}"
    return [Grid("Price", _table(rows), said if price.push_usd is None else f"{said}{push}")]


def _event(site: Site, case: Case) -> str:
    """What an event is, and how many an expected season has in which the site is served."""
    fallen = "" if site.deiced else f" that brings {depth(site.trigger_m, case)} of snow or more"
    season = sum(row.count for row in case.season if site.deiced or row.snowfall_m >= site.trigger_m)
    return (f"An event is one storm{fallen}, from its first snow to its end, however often the site is "
            f"served in it; {number(season, 1).removesuffix('.0')} are expected a season.")


def _table(rows: tuple[tuple[str, float], ...]) -> Table:
    return Table((Column("for"), Column("price", "USD", 2)), rows)


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

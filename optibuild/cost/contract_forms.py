"""Forms of contract: what each pays in a season, and the price at which it pays what the site must bring.

Every form with no amount typed is priced to the same expected revenue, cost·(1 + overhead) / (1 - profit
margin), so that forms differ by who carries the risk of the weather alone. Forms and their meaning are common
practice (contractors' own public pages). Axes: E event classes, R simulated seasons.
"""

from collections.abc import Sequence
from math import ceil, fsum, inf

import numpy as np

from optibuild.cost.bid import price_usd
from optibuild.records.bid import FormPrice, PricedContract, SiteEvents, Terms
from optibuild.records.build import Floats
from optibuild.records.case import Money
from optibuild.records.contracts import HUNDREDTH_IN_M, Contract, hundredths

FORMS = ("push", "event", "event by depth", "inch", "hour", "season", "season with cap")
BAND_EDGES_M = tuple(inches * 100 * HUNDREDTH_IN_M for inches in (3, 7, 11, 15))
"""Bands of a public request for quotes: 3 to 6.99, 7 to 10.99, 11 to 14.99 in, and an inch price above
14.99. There nothing is paid under 3 in; ours go down to what is served."""
NOISE = 1e-9


def season_revenue_usd(terms: Terms, counts: Floats) -> Floats:
    """What a contract brings in every simulated season [R, USD], given its events [R, E]."""
    revenue = terms.fixed_usd + counts @ terms.event_usd
    if terms.overage_usd and terms.cap < inf:
        revenue += terms.overage_usd * np.maximum(counts @ terms.served - terms.cap, 0.0)
    return revenue


def expected_revenue_usd(site: SiteEvents, terms: Terms, counts: Floats) -> float:
    """What it brings in an expected season [USD]; events beyond a cap as in the simulated seasons [R, E]."""
    beyond = terms.overage_usd * _events_beyond(site, terms.cap, counts)
    return terms.fixed_usd + float(terms.event_usd @ site.count) + beyond


def all_terms(site: SiteEvents, money: Money, counts: Floats) -> tuple[Terms, ...]:
    """A site priced in each of FORMS; `counts` [R, E] are the simulated seasons, which price a cap."""
    return (unit_terms("push", site, money), unit_terms("event", site, money),
            band_terms(site, money), unit_terms("inch", site, money), unit_terms("hour", site, money),
            season_terms(site, money), capped_terms(site, money, counts))


def contract_terms(site: SiteEvents, money: Money, counts: Floats, rows: Sequence[Contract]) -> Terms:
    """Terms of a contract as given, by its rows of one form; an amount that is None is priced, a cap by
    `counts` [R, E].

    A blank amount is what that form (or depth band) has to cost, whatever the amounts beside it.
    """
    first = rows[0]
    if first.form == "season" and first.cap < inf:
        return capped_terms(site, money, counts, first)
    if first.form == "season":
        return season_terms(site, money, first.amount_usd)
    if len(rows) > 1 or first.from_depth_m > 0 or first.to_depth_m < inf:
        return band_terms(site, money, rows)
    return unit_terms(first.form, site, money, first.amount_usd)


def priced_contract(
    form: str, sites: Sequence[SiteEvents], terms: Sequence[Terms], money: Money, counts: Floats
) -> PricedContract:
    """What contracts bring in an expected season and what they leave after cost and overhead, summed; events
    beyond a cap as in `counts` [R, E]."""
    pairs = list(zip(sites, terms, strict=True))
    revenue = fsum(expected_revenue_usd(site, own, counts) for site, own in pairs)
    profit = revenue - fsum(site.expected_usd for site in sites) * (1 + money.overhead)
    return PricedContract(form, revenue, profit, profit / revenue if revenue > 0 else None)


def unit_terms(form: str, site: SiteEvents, money: Money, amount_usd: float | None = None) -> Terms:
    """So much for each push, event, inch of snow or hour; the price is None where none is expected."""
    units = {"push": site.pushes, "event": site.served, "inch": site.inches, "hour": site.hours}[form]
    expected = float(units @ site.count)
    if amount_usd is None and expected > 0:
        amount_usd = price_usd(site.expected_usd, money) / expected
    return Terms(form, (FormPrice(form, form, amount_usd),), 0.0, (amount_usd or 0.0) * units, site.served)


def season_terms(site: SiteEvents, money: Money, amount_usd: float | None = None) -> Terms:
    """One sum, whatever falls."""
    amount = price_usd(site.expected_usd, money) if amount_usd is None else amount_usd
    line = FormPrice("season", "season", amount)
    return Terms("season", (line,), amount, np.zeros_like(site.count), site.served)


def capped_terms(site: SiteEvents, money: Money, counts: Floats, given: Contract | None = None) -> Terms:
    """One sum for the events up to a cap, and an overage for each beyond.

    By default the cap is the expected number of events, rounded up, and an event beyond costs what it does
    in a contract by the event. The sum is what is then left to bring in, by the mean of events beyond the cap
    in the simulated seasons [R, E], and never below 0. Where the sum is typed and the overage not, the
    overage brings in what is left. None where there is no event to set the overage by.
    """
    cap = max(1.0, float(ceil(site.expected_events - NOISE))) if given is None else given.cap
    overage, amount = (None, None) if given is None else (given.overage_usd, given.amount_usd)
    beyond = _events_beyond(site, cap, counts)
    if overage is None and amount is not None and beyond > 0:
        overage = max(0.0, price_usd(site.expected_usd, money) - amount) / beyond
    elif overage is None:
        overage = unit_terms("event", site, money).prices[0].price_usd
    if amount is None and overage is not None:
        left = price_usd(site.expected_usd, money) - overage * beyond
        amount = max(0.0, left)
    line = FormPrice("season with cap", "season", amount, cap=cap, overage_usd=overage)
    return Terms("season with cap", (line,), amount or 0.0, np.zeros_like(site.count), site.served, cap,
                 overage or 0.0)


def _events_beyond(site: SiteEvents, cap: float, counts: Floats) -> float:
    """Mean number of served events beyond the cap in the simulated seasons."""
    return float(np.maximum(counts @ site.served - cap, 0.0).mean()) if cap < inf else 0.0


# ---- events in bands of depth


def default_bands(site: SiteEvents) -> tuple[Contract, ...]:
    """Bands of depth in which every served event is billed: from the trigger, or from nothing where the site
    is served below it, over the BAND_EDGES_M above that. The last one has no upper bound."""
    deep = min((hundredths(depth) for depth in site.snowfall_m[site.served > 0]), default=inf)
    least = site.trigger_m if deep >= hundredths(site.trigger_m) else 0.0
    above = [edge for edge in BAND_EDGES_M if hundredths(edge) > hundredths(least)]
    edges = [least, *above[:-1]] if above else [least]
    return tuple(Contract(None, "event", None, low, high)
                 for low, high in zip(edges, [*edges[1:], inf], strict=True))


def band_terms(site: SiteEvents, money: Money, bands: Sequence[Contract] | None = None) -> Terms:
    """So much for an event by the depth of its snow, compared in whole hundredths of an inch.

    A band recovers what its own events cost, and of all the rest a share by its number of expected events.
    Above 14.99 in the default bands add, for each inch more, the last band's price / 14.99 in: the price
    grows in step with depth. Bands of the user have no such inches, and bill nothing outside them.
    """
    extra = _extra(site, BAND_EDGES_M[-1]) if bands is None else np.zeros_like(site.count)
    rows = default_bands(site) if bands is None else bands
    depth = np.array([hundredths(snow) for snow in site.snowfall_m])
    inside = np.array([(hundredths(row.from_depth_m) <= depth) & (depth < hundredths(row.to_depth_m))
                       for row in rows]) * site.served
    own = inside @ (site.event_usd * site.count)
    events = inside @ site.count
    rest = (site.expected_usd - own.sum()) / max(events.sum(), NOISE)
    billed = inside * (1.0 + extra)
    times = billed @ site.count
    amounts = [row.amount_usd if row.amount_usd is not None
               else price_usd(float(own[b] + rest * events[b]), money) / float(times[b]) if times[b] > 0
               else None for b, row in enumerate(rows)]
    paid = np.array([amount or 0.0 for amount in amounts]) @ billed
    return Terms("event by depth", _lines(rows, amounts, bands is None), 0.0, paid, site.served)


def _extra(site: SiteEvents, edge_m: float) -> Floats:
    """Inches above the last band, which ends a hundredth below the edge, as a share of its depth [E]."""
    top = hundredths(edge_m) - 1
    return np.array([max(0.0, hundredths(snow) - top) / top for snow in site.snowfall_m])


def _lines(rows: Sequence[Contract], amounts: Sequence[float | None], inches: bool) -> tuple[FormPrice, ...]:
    """The bands as lines of the sheet; the default ones end in an inch price."""
    form = "event by depth"
    ends = [row.to_depth_m if row.to_depth_m < inf else None for row in rows]
    lines = [FormPrice(form, "event", amount, row.from_depth_m, end)
             for row, amount, end in zip(rows, amounts, ends, strict=True)]
    if inches:
        top = BAND_EDGES_M[-1] - HUNDREDTH_IN_M
        amount = amounts[-1]
        each = None if amount is None else amount * 100 * HUNDREDTH_IN_M / top
        lines.append(FormPrice(form, "inch", each, top))
    return tuple(lines)

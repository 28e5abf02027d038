"""What a form of contract risks: profit over simulated seasons, the chance of a loss, where profit turns.

Axes: E event classes, R simulated seasons, N sites, F forms. Overhead is a fixed sum, its share of the
expected cost: rent and office cost the same in any winter.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np

from optibuild.cost.contract_forms import season_revenue_usd
from optibuild.records.bid import Risk, SiteEvents, Terms
from optibuild.records.build import Floats

LEAST_LOSS_USD = 0.005
"""Money is paid in cents: less than half of one is no loss."""
NOISE = 1e-9


@dataclass(frozen=True)
class ListRisks:
    """Risks of every site by form [N, F], without the forms that bill nothing there, and of the whole list
    [F]; the safe seasonal sum of every site [N] and of the list [USD]."""

    sites: tuple[tuple[Risk, ...], ...]
    whole: tuple[Risk, ...]
    safe_season_usd: tuple[float, ...]
    whole_safe_season_usd: float


def list_risks(
    sites: Sequence[SiteEvents], forms: Mapping[str, Sequence[Terms]], counts: Floats, overhead: float,
    chance_of_loss: float,
) -> ListRisks:
    """Risks of the sites and of their sum, by the name of the form, in the same simulated seasons [R, E].

    A form maps to the terms of each site under it. Its risk for the list leaves out, with their cost, the
    sites where it bills nothing; `Risk.sites` says how many are in.
    """
    all_need = np.zeros(len(counts))
    total = {form: np.zeros(len(counts)) for form in forms}
    members: dict[str, list[tuple[SiteEvents, Terms]]] = {form: [] for form in forms}
    found, safe = [], []
    for n, site in enumerate(sites):
        need = season_need_usd(site, counts, overhead)
        all_need += need
        safe.append(safe_season_usd(need, chance_of_loss))
        own = []
        for form, terms in ((form, column[n]) for form, column in forms.items() if column[n].priced):
            profit = season_revenue_usd(terms, counts) - need
            total[form] += profit
            members[form].append((site, terms))
            own.append(_risk(form, [(site, terms)], profit, overhead))
        found.append(tuple(own))
    whole = tuple(_risk(form, pairs, total[form], overhead) for form, pairs in members.items() if pairs)
    return ListRisks(tuple(found), whole, tuple(safe), safe_season_usd(all_need, chance_of_loss))


def season_need_usd(site: SiteEvents, counts: Floats, overhead: float) -> Floats:
    """Cost and overhead of every simulated season [R, USD]."""
    return site.fixed_usd + overhead * site.expected_usd + counts @ site.event_usd


def loss_chance(profit_usd: Floats) -> float:
    """Share of the seasons [R] that end in a loss."""
    return float(np.count_nonzero(profit_usd < -LEAST_LOSS_USD)) / len(profit_usd)


def safe_season_usd(need_usd: Floats, chance_of_loss: float) -> float:
    """Least seasonal sum that loses in no more than this share of the seasons [R] [USD].

    It is what one of the seasons needs, not a value between two, so that the share is kept exactly.
    """
    seasons = len(need_usd)
    at = max(0, seasons - 1 - int(chance_of_loss * seasons + NOISE))
    return float(np.partition(need_usd, at)[at])


def break_evens(
    pairs: Sequence[tuple[SiteEvents, Terms]], overhead: float
) -> tuple[tuple[float, bool], ...]:
    """Numbers of events at which profit is 0, in the season's own mix, and whether a loss begins there.

    All classes grow in step with their expected counts, and events are those in which any site is served.
    None where the profit never changes sign, or nothing is served; two where an overage turns a loss into
    profit again.
    """
    fixed = fsum(terms.fixed_usd - site.fixed_usd - overhead * site.expected_usd for site, terms in pairs)
    slope = fsum(float((terms.event_usd - site.event_usd) @ site.count) for site, terms in pairs)
    capped = [(terms.cap / site.expected_events, terms.overage_usd * site.expected_events)
              for site, terms in pairs if terms.overage_usd and site.expected_events > 0]
    caps, rises = np.array(sorted(capped)).reshape(-1, 2).T
    at = np.concatenate([[0.0], caps])
    profit = fixed + slope * at + np.maximum(at[:, None] - caps, 0.0) @ rises
    last = slope + rises.sum()
    noise = NOISE * fsum(site.expected_usd + terms.fixed_usd for site, terms in pairs)
    served = np.any([site.served > 0 for site, _ in pairs], axis=0)
    events = float(served @ pairs[0][0].count)
    found = _crossings(at, np.where(abs(profit) <= noise, 0.0, profit), 0.0 if abs(last) <= noise else last)
    return tuple((place * events, falls) for place, falls in found) if events else ()


def _crossings(at: Floats, profit: Floats, slope: float) -> list[tuple[float, bool]]:
    """Places where a profit given at points, and by a slope beyond the last, changes sign; and whether it
    falls there."""
    loss, found = profit < 0, []
    for n in np.flatnonzero(loss[1:] != loss[:-1]).tolist():
        share = profit[n] / (profit[n] - profit[n + 1])
        found.append((float(at[n] + share * (at[n + 1] - at[n])), not loss[n]))
    if loss[-1] and slope > 0 or not loss[-1] and slope < 0:
        found.append((float(at[-1] - profit[-1] / slope), not loss[-1]))
    return found


def _risk(form: str, pairs: Sequence[tuple[SiteEvents, Terms]], profit: Floats, overhead: float) -> Risk:
    """Everything that is told of the profits of one form [R]."""
    tenth = max(1, len(profit) // 10)
    worst = np.partition(profit, tenth - 1)[:tenth]
    turns = break_evens(pairs, overhead)
    first, falls = turns[0] if turns else (None, None)
    until = turns[1][0] if falls and len(turns) > 1 else None
    return Risk(
        form, len(pairs), float(profit.mean()), float(profit.std(ddof=1) / np.sqrt(len(profit))),
        float(worst.mean()), loss_chance(profit), first, falls, until)

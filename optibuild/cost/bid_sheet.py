"""The bid sheet: every site priced in every form of contract, its contract as it stands, what each risks."""

from collections.abc import Sequence
from math import fsum

import numpy as np

from optibuild.cost.bid import price_usd
from optibuild.cost.contract_forms import FORMS, all_terms, contract_terms, priced_contract
from optibuild.cost.risk import ListRisks, list_risks
from optibuild.cost.simulation import simulated_counts
from optibuild.records.bid import (
    Bid,
    CostSpread,
    ListBid,
    PricedContract,
    Simulation,
    SiteBid,
    SiteCost,
    SiteEvents,
    Terms,
)
from optibuild.records.build import Floats
from optibuild.records.case import Case, Site
from optibuild.records.contracts import Contract

AS_CONTRACTED = "as contracted"
NOTHING = Terms(AS_CONTRACTED, (), 0.0, np.zeros(0), np.zeros(0))
"""Terms of a site without a contract of its own."""


def bid_sheet(case: Case, costs: Sequence[SiteCost | None], events: Sequence[SiteEvents | None],
              paid_min: float) -> Bid:
    """The bid for the sites that are served; `costs` and `events` [N] are None for the others. `paid_min` is
    the drivers' paid time of an expected season."""
    kept = [(site, cost, one) for site, cost, one in zip(case.sites, costs, events, strict=True)
            if cost is not None and one is not None]
    sites, served = [site for site, _, _ in kept], [one for _, _, one in kept]
    counts = _counts(case)
    forms = [_terms(case, site, one, counts) for site, one in zip(sites, served, strict=True)]
    stands = [_standing(case, site, one, counts) for site, one in zip(sites, served, strict=True)]
    columns = {form: [row[k] for row in forms] for k, form in enumerate(FORMS)}
    risks = list_risks(served, columns | {AS_CONTRACTED: stands}, counts, case.money.overhead,
                       case.bid.chance_of_loss)
    priced = tuple(
        SiteBid(site.id, cost, price_usd(cost.bid_usd, case.money), tuple(line for terms in forms[n] for line
                in terms.prices), risks.sites[n], risks.safe_season_usd[n],
                _contract(case, [one], [stands[n]], counts))
        for n, (site, cost, one) in enumerate(kept))
    return Bid(priced, _whole(case, [cost for _, cost, _ in kept], served, stands, counts, risks, paid_min),
               Simulation(case.bid.seasons, case.solve.seed, len(case.past_winters), case.bid.chance_of_loss))


def _counts(case: Case) -> Floats:
    """The simulated seasons [R, E]; past winters in the order of their ids, so that the rows of their table
    may be shuffled."""
    winters = [row.counts for row in sorted(case.past_winters, key=lambda row: row.id)]
    expected = np.array([event.count for event in case.season])
    return simulated_counts(expected, np.array(winters) if winters else None, case.bid.seasons,
                            case.solve.seed)


def _rows(case: Case, site: Site) -> dict[str, list[Contract]]:
    """The rows of the contracts table that hold for a site, by form: its own first, then those for every
    site of the forms that it has not."""
    own: dict[str, list[Contract]] = {}
    every: dict[str, list[Contract]] = {}
    for row in case.contracts:
        if row.site in (None, site.id):
            (every if row.site is None else own).setdefault(row.form, []).append(row)
    return own | {form: rows for form, rows in every.items() if form not in own}


def _given(rows: Sequence[Contract]) -> bool:
    """Whether every amount of a form is typed, so that it is a contract as it stands."""
    return all(row.amount_usd is not None and (row.cap == np.inf or row.overage_usd is not None)
               for row in rows)


def _terms(case: Case, site: Site, events: SiteEvents, counts: Floats) -> list[Terms]:
    """The site priced in each of FORMS; a form with blank amounts in the contracts table as it is asked
    there."""
    found = {terms.form: terms for terms in all_terms(events, case.money, counts)}
    for rows in _rows(case, site).values():
        if not _given(rows):
            asked = contract_terms(events, case.money, counts, rows)
            found[asked.form] = asked
    return [found[form] for form in FORMS]


def _standing(case: Case, site: Site, events: SiteEvents, counts: Floats) -> Terms:
    """The site's contract: every form of the contracts table with all its amounts, paid together, its own
    rows or else those for every site; where there is none, its own `pay`."""
    found = [rows for rows in _rows(case, site).values() if _given(rows)]
    given = [rows for rows in found if rows[0].site is not None] or found
    if not given and site.pay_by is not None:
        given = [[Contract(site.id, site.pay_by, site.pay_usd)]]
    return _together([contract_terms(events, case.money, counts, rows) for rows in given])


def _together(parts: Sequence[Terms]) -> Terms:
    """Terms that are paid beside one another; only one of them, the seasonal sum, can have a cap."""
    if len(parts) < 2:
        return parts[0] if parts else NOTHING
    capped = next((one for one in parts if one.overage_usd), parts[0])
    return Terms(" + ".join(one.form for one in parts), tuple(line for one in parts for line in one.prices),
                 fsum(one.fixed_usd for one in parts), np.sum([one.event_usd for one in parts], axis=0),
                 capped.served, capped.cap, capped.overage_usd)


def _contract(case: Case, events: Sequence[SiteEvents], terms: Sequence[Terms],
              counts: Floats) -> PricedContract | None:
    """What the contracts as they stand bring, of the sites that have one; None where none has."""
    pairs = [(one, own) for one, own in zip(events, terms, strict=True) if own.prices]
    if not pairs:
        return None
    forms = {own.form for _, own in pairs}
    return priced_contract(forms.pop() if len(forms) == 1 else AS_CONTRACTED, [one for one, _ in pairs],
                           [own for _, own in pairs], case.money, counts)


def _whole(case: Case, costs: Sequence[SiteCost], events: Sequence[SiteEvents], stands: Sequence[Terms],
           counts: Floats, risks: ListRisks, paid_min: float) -> ListBid:
    total = SiteCost(*(fsum(getattr(cost, name) for cost in costs)
                       for name in ("service_usd", "driving_usd", "owning_usd", "held_usd")))
    billable = fsum(60.0 * float(one.hours @ one.count) for one in events)
    return ListBid(total, price_usd(total.bid_usd, case.money), risks.whole, risks.whole_safe_season_usd,
                   _contract(case, events, stands, counts), _spread(events, counts), paid_min, billable)


def _spread(events: Sequence[SiteEvents], counts: Floats) -> CostSpread:
    """How far the seasons' cost differs."""
    usd = np.zeros(len(counts))
    for one in events:
        usd += one.fixed_usd + counts @ one.event_usd
    tenth = max(1, len(usd) // 10)
    dearest = np.partition(usd, -tenth)[-tenth:]
    return CostSpread(float(usd.mean()), float(usd.std(ddof=1)), float(dearest.mean()))

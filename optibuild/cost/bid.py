"""From cost to price: overhead and margin; what contracts pay; how shared cost is split."""

from collections.abc import Sequence
from math import fsum

import numpy as np

from optibuild.cost.season import season_rounds
from optibuild.records.build import Bools, Floats
from optibuild.records.case import Case, Money


def price_usd(cost_usd: float, money: Money) -> float:
    """Price that leaves the profit margin [USD]: cost·(1 + overhead) / (1 - profit margin).

    Overhead is a share of cost, the margin a share of the price. ValueError for a margin of 100 % or more.
    """
    if money.profit_margin >= 1:
        raise ValueError("profit margin must be below 100 %")
    return cost_usd * (1 + money.overhead) / (1 - money.profit_margin)


def services(case: Case) -> tuple[Floats, Floats, Bools]:
    """Expected events of each class [E], and for one of each the pushes that a site sees and whether it is
    served at all [E, N].

    Both are counted at the site's own cycle limit, whatever loop serves it.
    """
    limits, own = np.unique([site.cycle_limit_min for site in case.sites], return_inverse=True)
    rounds = season_rounds(case, limits)
    pushes = rounds.pushes[:, own, np.arange(len(own))]
    deiced = np.array([site.deiced for site in case.sites], dtype=bool)
    served = (pushes > 0) | ((rounds.rounds[:, own] > 0) & deiced)
    return rounds.count, pushes, served


def expected_services(case: Case) -> tuple[Floats, Floats]:
    """Pushes, and events with any service, that each site sees in an expected season [N]."""
    count, pushes, served = services(case)
    return count @ pushes, count @ served


def contract_value_usd(case: Case) -> Floats:
    """What each site's contract pays in an expected season [N, USD]; 0 where no pay is given."""
    pushes, events = expected_services(case)
    times = ({None: 0.0, "season": 1.0, "event": events[n], "push": pushes[n]}[site.pay_by]
             for n, site in enumerate(case.sites))
    return np.array([site.pay_usd * count for site, count in zip(case.sites, times, strict=True)])


def shares(total_usd: float, weights: Sequence[float]) -> tuple[float, ...]:
    """A sum split by weights, equally where all are 0; `math.fsum` of the shares gives it back exactly."""
    heavy = fsum(weights)
    split = [total_usd * (weight / heavy if heavy > 0 else 1 / len(weights)) for weight in weights]
    if split:
        largest = max(range(len(split)), key=lambda n: abs(split[n]))
        split[largest] = fsum([total_usd, *(-part for n, part in enumerate(split) if n != largest)])
    return tuple(split)

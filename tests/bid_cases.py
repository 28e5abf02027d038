"""Small whole cases to bid for, drawn from a seed: every question, way of paying and kind of site."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import inf
from typing import Any
from unittest.mock import patch

import numpy as np
from seeded_cases import seeded_case

from optibuild import cost
from optibuild.bidding import price_bid
from optibuild.pipeline import make_plan
from optibuild.plan.recheck_loops import Driven, drive_loops
from optibuild.plan.recheck_trucks import mounted
from optibuild.records import Bid, Case, Depot, Event, Plan, Site
from optibuild.records.bid import SiteEvents

SEEDS = range(40)
QUESTIONS = ("cover", "value", "profit")
BLIZZARD = Event("blizzard", 0.25, 1500.0, 18 * 0.0254, -9.0)
"""Deeper than every band of depth, and longer than every shift."""
PAY_USD = {"season": 6_000.0, "event": 300.0, "push": 120.0}


def bid_case(seed: int) -> Case:
    """A seeded case that has a plan: one or two depots; items bought, on loan, leased, owned, trucks hired;
    shifts, overtime, standby, whole storms paid; sites deiced at the end, split, or optional; frost as a
    class of event without snow, and sometimes a blizzard."""
    rng = np.random.default_rng([20_253, seed])
    case = seeded_case(seed)
    trucks = tuple(_financed(rng, row) for row in case.trucks)
    if rng.random() < 0.4:
        trucks = (*trucks[:-1], replace(trucks[-1], hired_usd_per_min=2.0, price_usd=0.0, resale_usd=0.0,
                                        upkeep_usd_per_year=0.0, owned=0, loan_rate=None,
                                        loan_term_year=None, lease_usd_per_year=None))
    frost = Event("frost", float(rng.integers(2, 9)), 240.0, 0.0, -4.0)
    return replace(
        case, question=QUESTIONS[seed % 3], trucks=trucks,
        plows=tuple(_financed(rng, row) for row in case.plows),
        spreaders=tuple(_financed(rng, row) for row in case.spreaders),
        sites=tuple(_site(rng, site) for site in case.sites),
        depots=(*case.depots, Depot("second", 44.515, -90.485, 6.0, 200.0))[:int(rng.integers(1, 3))],
        season=(*case.season, frost, BLIZZARD)[:int(rng.integers(4, 6))],
        money=replace(
            case.money, budget_usd=float(rng.choice([inf, 90_000, 140_000])),
            paid="storm" if rng.random() < 0.25 else "working", standby=0.25 * float(rng.random() < 0.4),
            overtime_after_min=float(rng.choice([inf, 360, 480])), cleanup_round=bool(rng.random() < 0.7)),
        crew=replace(case.crew, drivers=inf, shift_min=float(rng.choice([inf, 300, 480]))))


def _financed(rng: np.random.Generator, item: Any) -> Any:
    """A catalog row bought at once, on loan or leased, perhaps owned already."""
    kind = rng.choice(["bought", "loan", "lease"], p=[0.6, 0.2, 0.2])
    more: dict[str, float] = {}
    if kind == "loan":
        more = {"loan_rate": 0.05, "loan_term_year": 5.0, "loan_down": 0.2}
    if kind == "lease":
        more = {"lease_usd_per_year": 0.2 * item.price_usd}
    return replace(item, available=inf, owned=int(rng.random() < 0.35) * int(rng.integers(1, 3)),
                   owned_value_usd=0.4 * item.price_usd, remaining_life_year=4.0, **more)


def _site(rng: np.random.Generator, site: Site) -> Site:
    """A site that may be left out, be deiced at the end of storms, or be done by two trucks."""
    pay_by = ("season", "event", "push")[int(rng.integers(2 if site.work == "deice" else 3))]
    return replace(
        site, must_serve=bool(rng.random() < 0.6),
        split_works=site.work == "both" and bool(rng.random() < 0.5),
        deice_when="end" if site.deiced and rng.random() < 0.4 else "each", pay_by=pay_by,
        pay_usd=PAY_USD[pay_by] * float(rng.uniform(0.3, 2)))


@dataclass(frozen=True)
class Priced:
    """A case with its plan and bid, what the bid was made of, and the loops as the recheck drives them.

    `events` [N] are in the order of the sites, None where one is left out.
    """

    case: Case
    plan: Plan
    bid: Bid
    events: tuple[SiteEvents | None, ...]
    loops: tuple[Driven, ...]

    def served(self) -> list[tuple[Site, SiteEvents]]:
        """The sites that are served, as the bid lists them."""
        pairs = zip(self.case.sites, self.events, strict=True)
        return [(site, one) for site, one in pairs if one is not None]


def priced(case: Case, plan: Plan) -> Priced:
    """The bid for a plan, and the events that it was priced by."""
    taken: list[Sequence[SiteEvents | None]] = []
    sheet = cost.bid_sheet

    def listening(*words: Any) -> Bid:
        taken.append(words[2])
        return sheet(*words)

    with patch.object(cost, "bid_sheet", listening):
        bid = price_bid(case, plan)
    return Priced(case, plan, bid, tuple(taken[0]), tuple(drive_loops(plan, mounted(plan, case), case)))


@cache
def seeded_plan(seed: int) -> Plan:
    """The plan of the seeded case."""
    return make_plan(bid_case(seed))


@cache
def seeded_bid(seed: int) -> Priced:
    """The bid of the seeded case."""
    return priced(bid_case(seed), seeded_plan(seed))

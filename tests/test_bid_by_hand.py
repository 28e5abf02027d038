"""The bid of `hand_bid`, number by number as worked out there, and contracts at its sites."""

from collections.abc import Sequence
from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from hand_bid import CASE, COST, FIXED, HEAVY, INCH, LIGHT, PAID, PLAN, PRICE, SNOW, UNITS, WINTERS, bid

from optibuild.cost.simulation import simulated_counts
from optibuild.plan import recheck
from optibuild.records import Case, Contract, PricedContract, SiteBid
from optibuild.report import bid_text


def site_bid(site: str, case: Case = CASE) -> SiteBid:
    """A site's part of it."""
    return next(row for row in bid(case).sites if row.site == site)


def price(site: str, form: str) -> float:
    """The only price of a form."""
    (usd,) = (row.price_usd for row in site_bid(site).prices if row.form == form)
    assert usd is not None
    return usd


def frequency() -> list[float]:
    """How often the three winters were drawn, in shares of the seasons."""
    drawn = simulated_counts(np.zeros(2), np.array(WINTERS), 10_000, CASE.solve.seed)
    return [float((drawn[:, 0] == light).mean()) for light, _ in WINTERS]


def test_the_plan_holds() -> None:
    """The plan worked out above passes the recheck, so that loads, minutes and money are those of a plan."""
    assert [row.name for row in recheck(PLAN, CASE).checks if not row.passed] == []


def test_cost_by_hand() -> None:
    """Service, driving, owning and capital of both sites and of the list, and the hours."""
    a, b, whole = site_bid("a").cost, site_bid("b").cost, bid().whole
    assert (a.service_usd, b.service_usd) == (pytest.approx(565.5), pytest.approx(206))
    for cost in (a, b):
        assert cost.driving_usd == pytest.approx(243.828)
        assert cost.owning_usd == pytest.approx(944.19205)
        assert cost.held_usd == pytest.approx(366.025)
    assert (a.bid_usd, b.bid_usd) == (pytest.approx(2119.54505), pytest.approx(1760.04505))
    assert whole.cost.bid_usd == pytest.approx(3879.5901)
    assert whole.price_usd == pytest.approx(3879.5901 * 1.12 / 0.85)
    assert (whole.paid_min, whole.billable_min) == (pytest.approx(1370), pytest.approx(551))


@pytest.mark.parametrize("site", ["a", "b"])
def test_prices_by_hand(site: str) -> None:
    """The season's price, and that over 8 or 6 pushes, 12 or 2 events, 2 x 0.12 m of snow, 345 or 206 min."""
    assert site_bid(site).price_usd == pytest.approx(PRICE[site]) == pytest.approx(price(site, "season"))
    units = {"a": (8, 12, 2 * SNOW, 345 / 60), "b": (6, 2, 2 * SNOW, 206 / 60)}[site]
    found = [price(site, form) for form in ("push", "event", "inch", "hour")]
    assert found == pytest.approx([PRICE[site] / count for count in units])


def test_bands_by_hand() -> None:
    """Light events are 0.79 in deep, heavy ones 4.72. Lot a, salted in both, has the band 0 to 3 in for its
    ten light ones, at their cost and 10/12 of what is fixed, and 3 to 7 for the heavy ones; lot b begins at
    its trigger of 0.06 m, with all in the band 3 to 7. No other band has a price."""
    factor = 1.12 / 0.85
    low = (10 * LIGHT["a"] + FIXED * 10 / 12) * factor / 10
    high = (2 * HEAVY["a"] + FIXED * 2 / 12) * factor / 2
    for site, edges, expected in (("a", [0, 3, 7, 11, 14.99], [low, high, None, None, None]),
                                  ("b", [0.06 / INCH, 3, 7, 11, 14.99], [None, PRICE["b"] / 2, None, None,
                                                                         None])):
        lines = [row for row in site_bid(site).prices if row.form == "event by depth"]
        assert [line.from_depth_m / INCH for line in lines if line.from_depth_m is not None] == pytest.approx(
            edges)
        assert [line.price_usd for line in lines] == [
            usd if usd is None else pytest.approx(usd) for usd in expected]


@pytest.mark.parametrize(("site", "cap", "beyond"), [("a", 12, 8), ("b", 2, 2)])
def test_cap_by_hand(site: str, cap: int, beyond: int) -> None:
    """The season holds the expected 12 or 2 events, each beyond at the event's price; only the wet winter has
    more, by 8 or 2, which comes off the sum as often as it is drawn: about every third season."""
    (line,) = (row for row in site_bid(site).prices if row.form == "season with cap")
    each = PRICE[site] / cap
    assert (line.cap, line.overage_usd) == (cap, pytest.approx(each))
    assert line.price_usd == pytest.approx(PRICE[site] - each * beyond * frequency()[2])
    assert frequency() == pytest.approx([1 / 3] * 3, abs=4 * sqrt(2 / 9 / 10_000))


def revenue(site: str, form: str, winter: Sequence[int]) -> float:
    """What a form pays for the events of a winter, by the prices worked out above."""
    if form == "season":
        return PRICE[site]
    events = {"a": sum(winter), "b": winter[1]}[site]
    cap, most = {"a": (12, 8), "b": (2, 2)}[site]
    if form == "season with cap":
        return PRICE[site] + PRICE[site] / cap * (max(0, events - cap) - most * frequency()[2])
    expected, given = (sum(count * unit for count, unit in zip(counts, UNITS[site][form], strict=True))
                       for counts in ((10, 2), winter))
    return PRICE[site] * given / expected


def need(site: str, winter: Sequence[int]) -> float:
    """Cost and overhead of a winter."""
    return FIXED + 0.12 * COST[site] + winter[0] * LIGHT[site] + winter[1] * HEAVY[site]


@pytest.mark.parametrize("form", ["push", "event", "inch", "hour", "season", "season with cap"])
@pytest.mark.parametrize("sites", ["a", "b", "ab"])
def test_risk_by_hand(form: str, sites: str) -> None:
    """Under every form, at each site and for the list, profit has the three outcomes of the three winters, as
    often as these are drawn: mean (within four standard errors of that of the three), error, worst tenth and
    chance of a loss follow."""
    rows = bid().whole.risks if sites == "ab" else site_bid(sites).risks
    (risk,) = (row for row in rows if row.form == form)
    profit = [sum(revenue(site, form, winter) - need(site, winter) for site in sites) for winter in WINTERS]
    share = frequency()
    mean = sum(s * usd for s, usd in zip(share, profit, strict=True))
    spread = sum(s * (usd - mean) ** 2 for s, usd in zip(share, profit, strict=True))
    assert risk.sites == len(sites)
    assert risk.mean_usd == pytest.approx(mean)
    assert abs(risk.mean_usd - sum(profit) / 3) <= 4 * risk.error_usd
    assert risk.error_usd == pytest.approx(sqrt(spread / 9_999))
    assert risk.worst_tenth_usd == pytest.approx(min(profit))
    lost = sum(s for s, usd in zip(share, profit, strict=True) if usd < 0)
    assert risk.chance_of_loss == pytest.approx(lost)


def test_break_even_and_safe_season_by_hand() -> None:
    """At lot a an event of the mix costs (407.96 + 401.368)/12. A season's sum is used up by
    (price - fixed - overhead) over that many events; paid by the event, fixed and overhead are earned by so
    many at the price less that. Every third winter is wet: the safe season is what that one needs."""
    each, fixed = (10 * LIGHT["a"] + 2 * HEAVY["a"]) / 12, FIXED + 0.12 * COST["a"]
    risks = {row.form: row for row in site_bid("a").risks}
    assert risks["season"].break_even_events == pytest.approx((PRICE["a"] - fixed) / each)
    assert risks["event"].break_even_events == pytest.approx(fixed / (PRICE["a"] / 12 - each))
    assert (risks["season"].loss_above, risks["event"].loss_above) == (True, False)
    assert [row.safe_season_usd for row in bid().sites] == pytest.approx([need("a", (16, 4)),
                                                                         need("b", (16, 4))])
    assert bid().whole.safe_season_usd == pytest.approx(need("a", (16, 4)) + need("b", (16, 4)))


# ---- contracts


def contracted(*rows: Contract) -> Case:
    """The case with a table of contracts."""
    return replace(CASE, contracts=rows)


def brings(found: PricedContract | None, form: str, usd: float, cost_usd: float) -> bool:
    """Whether a contract pays so much, and leaves it less cost and 12 % overhead."""
    assert found is not None
    left = usd - 1.12 * cost_usd
    return (found.form, found.revenue_usd, found.profit_usd, found.profit_margin) == (
        form, pytest.approx(usd), pytest.approx(left), pytest.approx(left / usd))


def test_pay_of_the_sites() -> None:
    """8 pushes at 300 are 2,400 at lot a, 2 events at 150 are 300 at lot b, 2,700 together: lot a keeps
    2400 - 1.12 x 2119.55 = 26.11, lot b loses 1.12 x 1760.05 - 300, and the screen names it alone."""
    assert brings(site_bid("a", PAID).contract, "push", 2_400, COST["a"])
    assert brings(site_bid("b", PAID).contract, "event", 300, COST["b"])
    assert brings(bid(PAID).whole.contract, "as contracted", 2_700, COST["a"] + COST["b"])
    text = " ".join(bid_text(bid(PAID), (), PAID).split())
    assert "pays 2,700 USD a season and leaves -1,645 USD after cost and overhead" in text
    assert "loses money at b Cost of a season" in text


def test_rows_for_every_site_and_own_ones() -> None:
    """An event at 250 for every site and a season of 2,500 for lot b alone: 12 x 250 at lot a, 2,500 at lot
    b; with an event at 900 of its own lot b is paid 2 x 900 by the same form as lot a."""
    every, own = Contract(None, "event", 250), Contract("b", "season", 2_500)
    for case in (contracted(every, own), contracted(own, every)):
        assert brings(site_bid("a", case).contract, "event", 3_000, COST["a"])
        assert brings(site_bid("b", case).contract, "season", 2_500, COST["b"])
        assert brings(bid(case).whole.contract, "as contracted", 5_500, COST["a"] + COST["b"])
    case = contracted(every, Contract("b", "event", 900))
    assert brings(site_bid("b", case).contract, "event", 1_800, COST["b"])
    assert brings(bid(case).whole.contract, "event", 4_800, COST["a"] + COST["b"])


def test_forms_of_one_site_are_paid_together_and_before_its_pay() -> None:
    """Lot b with a season of 2,500 and 250 for each of its 2 events is paid 3,000, whatever `pay` says."""
    case = contracted(Contract("b", "season", 2_500), Contract("b", "event", 250))
    paid = replace(case, sites=tuple(replace(site, pay_by="season", pay_usd=9_999.0) for site in case.sites))
    for one in (case, paid):
        assert brings(site_bid("b", one).contract, "season + event", 3_000, COST["b"])


def test_spread_of_the_cost_of_the_list() -> None:
    """A season of each winter costs what both sites need in it; the dearest tenth are wet ones all."""
    usd = [2 * FIXED + light * (LIGHT["a"] + LIGHT["b"]) + heavy * (HEAVY["a"] + HEAVY["b"])
           for light, heavy in WINTERS]
    often = frequency()
    mean = sum(share * one for share, one in zip(often, usd, strict=True))
    square = sum(share * (one - mean) ** 2 for share, one in zip(often, usd, strict=True))
    spread = bid(CASE).whole.spread
    assert spread.mean_usd == pytest.approx(mean)
    assert spread.sd_usd == pytest.approx((square * 10_000 / 9_999) ** 0.5)
    assert spread.worst_tenth_usd == pytest.approx(usd[2])


def test_no_site_loses_at_a_good_price() -> None:
    """Where every contract pays more than cost and overhead, the screen says that no site loses money."""
    case = contracted(Contract(None, "season", 2_500))
    assert "; no site loses money" in " ".join(bid_text(bid(case), (), case).split())


def test_contract_with_cap() -> None:
    """A season of 1,500 for 6 events and 100 each beyond: lot a's 4, 12 and 20 events are 0, 6 and 14 beyond,
    as often as the winters are drawn; lot b has never more than 4."""
    case = contracted(Contract(None, "season", 1_500, cap=6, overage_usd=100))
    _, mean, wet = frequency()
    assert brings(site_bid("a", case).contract, "season with cap", 1_500 + 100 * (6 * mean + 14 * wet),
                  COST["a"])
    assert brings(site_bid("b", case).contract, "season with cap", 1_500, COST["b"])


def test_a_blank_amount_is_priced() -> None:
    """A form without an amount is no contract yet: it gets the price it would have, and a season for 15
    events a sum and an overage of its own: lot a's wet winter has 5 beyond."""
    case = contracted(Contract(None, "push", None), Contract(None, "season", None, cap=15))
    found = site_bid("a", case)
    assert found.contract is None and bid(case).whole.contract is None
    (line,) = (row for row in found.prices if row.form == "season with cap")
    each = PRICE["a"] / 12
    assert (line.cap, line.overage_usd) == (15, pytest.approx(each))
    assert line.price_usd == pytest.approx(PRICE["a"] - each * 5 * frequency()[2])
    assert [row.price_usd for row in found.prices if row.form == "push"] == [pytest.approx(PRICE["a"] / 8)]


def test_own_bands_replace_the_default_ones() -> None:
    """Two bands of the user's, parted at 2 in: light events of lot a fall in the first, heavy ones in the
    second, and there are no inches above. With amounts they are a contract: 10 x 90 + 2 x 400; with one blank
    they are none, and the blank one is priced by its own events and their share of what is fixed."""
    bands = (Contract(None, "event", 90, 0.0, 2 * INCH), Contract(None, "event", 400, 2 * INCH, inf))
    case = contracted(*bands)
    assert brings(site_bid("a", case).contract, "event by depth", 900 + 800, COST["a"])
    asked = contracted(bands[0], replace(bands[1], amount_usd=None))
    lines = [row for row in site_bid("a", asked).prices if row.form == "event by depth"]
    second = (2 * HEAVY["a"] + FIXED * 2 / 12) * 1.12 / 0.85 / 2
    assert [(row.from_depth_m, row.to_depth_m) for row in lines] == [(0.0, 2 * INCH), (2 * INCH, None)]
    assert [row.price_usd for row in lines] == [90, pytest.approx(second)]
    assert site_bid("a", asked).contract is None

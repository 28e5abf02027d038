"""Forms of contract: what each bills, and the price at which it brings what the site has to bring."""

from collections.abc import Sequence
from dataclasses import replace
from math import inf, isclose

import numpy as np
import pytest
from scipy.stats import poisson
from times_case import plain_case

from optibuild.cost import push_count
from optibuild.cost.contract_forms import (
    FORMS,
    all_terms,
    band_terms,
    capped_terms,
    contract_terms,
    expected_revenue_usd,
    priced_contract,
    season_revenue_usd,
    season_terms,
    unit_terms,
)
from optibuild.cost.simulation import simulated_counts
from optibuild.records.bid import FormPrice, SiteEvents, Terms
from optibuild.records.case import Money
from optibuild.records.contracts import Contract

INCH = 0.0254
AT_COST = replace(plain_case().money, overhead=0.0, profit_margin=0.0)


def site_events(fixed_usd: float, event_usd: Sequence[float], count: Sequence[float],
                depths_in: Sequence[float] = (), **changes: object) -> SiteEvents:
    """A plowed site with a trigger of 2 in, one push and one hour in every event that reaches it."""
    depth = np.array(depths_in if len(depths_in) else [4.0] * len(count))
    served = (depth >= 2.0).astype(float)
    site = SiteEvents(2 * INCH, fixed_usd, np.array(event_usd, dtype=float), served, served, served * depth,
                      served, depth * INCH, np.array(count, dtype=float))
    return replace(site, **changes)


def seeded_site(seed: int) -> SiteEvents:
    """Up to eight classes of event: some below the trigger, deiced or left at a small cost; some deep."""
    rng = np.random.default_rng([54, seed])
    kinds = int(rng.integers(1, 9))
    depth = np.where(rng.random(kinds) < 0.15, rng.uniform(15, 30, kinds), rng.uniform(0, 16, kinds))
    trigger = float(rng.choice([0.5, 1.0, 2.0, 3.0, 4.0]))
    plowed = (depth >= trigger).astype(float)
    served = np.maximum(plowed, rng.random(kinds) < 0.2)
    fixed = float(rng.choice([0.0, rng.uniform(0, 9000)]))
    return SiteEvents(
        trigger * INCH, fixed, np.maximum(served, 0.1) * rng.uniform(20, 900, kinds),
        plowed * rng.integers(1, 6, kinds), served, plowed * depth, served * rng.uniform(0.1, 4, kinds),
        depth * INCH, rng.choice([0.0, 1.0, 3.5], kinds) + rng.uniform(0.1, 3, kinds))


def seeded_money(seed: int) -> Money:
    rng = np.random.default_rng([55, seed])
    return replace(AT_COST, overhead=float(rng.uniform(0, 0.5)), profit_margin=float(rng.uniform(0, 0.6)))


def bill(lines: Sequence[FormPrice], site: SiteEvents, e: int) -> float:
    """What one event of class e is billed, read line by line off a sheet as a bookkeeper would."""
    if not site.served[e]:
        return 0.0
    depth = float(f"{site.snowfall_m[e] / INCH + 1e-9:.2f}")
    total = 0.0
    for line in lines:
        if line.price_usd is None:
            continue
        if line.unit == "event" and line.from_depth_m is not None:
            to = inf if line.to_depth_m is None else line.to_depth_m / INCH
            total += line.price_usd * (round(line.from_depth_m / INCH, 2) <= depth < round(to, 2))
        elif line.unit == "inch" and line.from_depth_m is not None:
            total += line.price_usd * max(0.0, depth - line.from_depth_m / INCH)
        elif line.unit != "season":
            units = {"push": site.pushes, "event": site.served, "inch": site.inches, "hour": site.hours}
            total += line.price_usd * float(units[line.unit][e])
    return total


# ---- what is billed


def test_one_storm_in_three_forms() -> None:
    """9 in in 9 h with a trigger of 2 in bills floor(9/2) = 4 pushes and a clean-up, 5; one event; 9 inches
    (arithmetic on the contract forms of contractors' own pages)."""
    pushes = push_count(540.0, 9 * INCH, np.array([2 * INCH]), np.array([60.0]), True)[0]
    site = site_events(0.0, [0.0], [1.0], [9.0], pushes=pushes)
    for form, units in (("push", 5), ("event", 1), ("inch", 9)):
        terms = unit_terms(form, site, AT_COST, 100.0)
        found = season_revenue_usd(terms, np.array([[1.0], [2.0]]))
        assert found == pytest.approx([100 * units, 200 * units])


@pytest.mark.parametrize(("depth_in", "band"), [
    (2.99, None), (3, 0), (6.99, 0), (6.994, 0), (6.995, 1), (7, 1), (10.99, 1), (11, 2), (14.99, 2),
    (14.994, 2),
])
def test_edges_of_depth_bands(depth_in: float, band: int | None) -> None:
    """Bands 3 to 6.99, 7 to 10.99, 11 to 14.99 in (a public request for quotes) bill what lies in them;
    6.995 in is rounded to 7.00 first and lies in the second."""
    site = site_events(0.0, [10, 20, 40, 1], [1, 1, 1, 1], [5, 9, 13, depth_in], trigger_m=3 * INCH)
    site = replace(site, served=(site.snowfall_m >= 3 * INCH - 1e-12).astype(float))
    terms = band_terms(site, AT_COST)
    prices = [line.price_usd for line in terms.prices]
    assert len(prices) == 4 and len(set(prices)) == 4
    assert terms.event_usd[3] == (0.0 if band is None else pytest.approx(prices[band]))


def test_inches_above_the_last_band() -> None:
    """18 in pays the band of 11 to 14.99 in and 18 - 14.99 = 3.01 inches more (same request for quotes)."""
    site = site_events(300.0, [100, 900], [2, 1], [12, 18])
    terms = band_terms(site, AT_COST)
    band, inch = terms.prices[-2:]
    assert inch.unit == "inch" and inch.from_depth_m == pytest.approx(14.99 * INCH)
    assert terms.event_usd == pytest.approx([band.price_usd, band.price_usd + 3.01 * inch.price_usd])
    # in step with depth: units 2·1 + 1·18/14.99, all of 2·100 + 900 + 300 = 1,400
    assert band.price_usd == pytest.approx(1400 / (2 + 18 / 14.99))
    assert inch.price_usd == pytest.approx(band.price_usd / 14.99)


def test_bands_recover_their_own_cost() -> None:
    """5 events of 4 in at 100 and one of 9 in at 400, with 600 fixed: (500 + 500)/5 = 200 and 400 + 100 =
    500; a band in which nothing is expected has no price."""
    terms = band_terms(site_events(600.0, [100, 400], [5, 1], [4, 9]), AT_COST)
    prices = [line.price_usd for line in terms.prices]
    assert prices == [None, pytest.approx(200), pytest.approx(500), None, None]
    assert [line.from_depth_m / INCH for line in terms.prices[:4]] == pytest.approx([2, 3, 7, 11])


def test_deicing_below_the_trigger_is_billed_too() -> None:
    """Where a site is served below its trigger the first band begins at nothing; with a trigger above 15 in
    one band holds all."""
    frost = band_terms(site_events(0.0, [50, 100], [10, 5], [0, 4], served=np.ones(2)), AT_COST)
    assert frost.prices[0].from_depth_m == 0 and frost.event_usd == pytest.approx([50, 100])
    deep = band_terms(site_events(0.0, [50.0], [10], [20], trigger_m=16 * INCH), AT_COST)
    assert len(deep.prices) == 2 and deep.event_usd == pytest.approx([50])


def test_bands_of_the_user() -> None:
    """Given bands replace ours: 2 to 6 in at 100 and from 6 in at 250 (bands as in a public bid), 5.995 in
    counts as 6.00, and nothing is billed outside; a blank one pays its own cost and its share of the rest."""
    rows = (Contract("a", "event", 100.0, 2 * INCH, 6 * INCH), Contract("a", "event", 250.0, 6 * INCH, inf))
    site = site_events(60.0, [1, 1, 1, 1], [2, 1, 1, 1], [1, 5.99, 5.995, 20], served=np.ones(4))
    given = contract_terms(site, AT_COST, np.ones((1, 4)), rows)
    assert given.event_usd.tolist() == [0, 100, 250, 250]
    assert [line.price_usd for line in given.prices] == [100, 250]
    blank = contract_terms(site, AT_COST, np.ones((1, 4)), (rows[0], replace(rows[1], amount_usd=None)))
    # 3 of 5 expected events are billed, so (60 + 2·1)/3 of the rest each, and 1 of its own
    assert blank.event_usd == pytest.approx([0, 100, 1 + 62 / 3, 1 + 62 / 3])


@pytest.mark.parametrize(("row", "revenue"), [
    (Contract(None, "push", 70.0), 70 * 5), (Contract(None, "hour", 90.0), 90 * 5),
    (Contract(None, "inch", 12.0), 12 * 20), (Contract(None, "event", 80.0), 80 * 5),
    (Contract(None, "season", 700.0), 700), (Contract(None, "event", 80.0, 6 * INCH), 0),
    (Contract(None, "event", 80.0, 0.0, 3 * INCH), 0),
    (Contract(None, "season", 700.0, cap=3.0, overage_usd=50.0), 700 + 50 * 2),
    (Contract(None, "season", 700.0, cap=3.0), 1000),  # 150 for each of the two beyond
    (Contract(None, "season", 1200.0, cap=3.0), 1200),  # nothing is left for the two beyond
    (Contract(None, "season", None, cap=3.0, overage_usd=50.0), 1000),
    (Contract(None, "push", None), 1000), (Contract(None, "season", None), 1000),
])
def test_contracts_as_given(row: Contract, revenue: float) -> None:
    """Five events of 4 in, a push and an hour each, at 100 and 500 fixed: given amounts are kept, and blank
    ones bring the 1,000 that the site costs."""
    site, counts = site_events(500.0, [100.0], [5.0]), np.full((4, 1), 5.0)
    terms = contract_terms(site, AT_COST, counts, (row,))
    assert season_revenue_usd(terms, counts) == pytest.approx([revenue] * 4)
    assert expected_revenue_usd(site, terms, counts) == pytest.approx(revenue)


# ---- prices


@pytest.mark.parametrize("seed", range(200))
def test_every_form_brings_the_same_expected_revenue(seed: int) -> None:
    """Read off the sheet, line by line and event by event, every form brings cost·(1 + overhead)/(1 - profit
    margin) in an expected season, and has no price only where nothing can be billed."""
    site, money = seeded_site(seed), seeded_money(seed)
    counts = simulated_counts(site.count, None, 10_000, seed)
    cost = site.fixed_usd + sum(float(usd * n) for usd, n in zip(site.event_usd, site.count, strict=True))
    target = cost * (1 + money.overhead) / (1 - money.profit_margin)
    found = all_terms(site, money, counts)
    assert tuple(terms.form for terms in found) == FORMS
    for terms in found:
        billed = [bill(terms.prices, site, e) for e in range(len(site.count))]
        units = {"push": site.pushes, "inch": site.inches, "season": [1]}.get(terms.form, site.served)
        assert terms.priced == (sum(units) > 0)
        assert terms.event_usd == pytest.approx(billed)
        line = terms.prices[0]
        brought = sum(float(n) * usd for n, usd in zip(site.count, billed, strict=True))
        if line.unit == "season" and line.price_usd is not None:
            brought += line.price_usd
        if line.cap is not None and line.overage_usd is not None:
            events = sum(counts[:, e] * site.served[e] for e in range(len(site.count)))
            assert line.cap >= site.served @ site.count > line.cap - 1 - 1e-6 or line.cap == 1
            brought += line.overage_usd * sum(max(0.0, n - line.cap) for n in events.tolist()) / len(events)
        if terms.priced:
            assert isclose(brought, target, rel_tol=1e-9, abs_tol=1e-6)
            assert expected_revenue_usd(site, terms, counts) == pytest.approx(target)


@pytest.mark.parametrize("cap", [4.0, 7.0, 10.0])
def test_capped_sum_for_poisson_seasons(cap: float) -> None:
    """With 7 events expected at 300, the sum is 2,100 less the overage times E[max(0, N - cap)] =
    7·P(N >= cap) - cap·P(N > cap) of a Poisson number, within 4 standard errors."""
    site = site_events(0.0, [300.0], [7.0])
    counts = simulated_counts(site.count, None, 10_000, 1)
    line = capped_terms(site, AT_COST, counts, Contract(None, "season", None, cap=cap)).prices[0]
    beyond = 7 * poisson.sf(cap - 1, 7) - cap * poisson.sf(cap, 7)
    square = sum((n - cap) ** 2 * poisson.pmf(n, 7) for n in range(int(cap), 60))
    error = 300 * np.sqrt((square - beyond**2) / 10_000)
    assert line.overage_usd == pytest.approx(300)
    assert line.price_usd == pytest.approx(2100 - 300 * beyond, abs=4 * error)


@pytest.mark.parametrize(("count", "cap"), [
    ([7.0], 7), ([7.2], 8), ([0.2], 1), ([0.1] * 30, 3), ([2.5, 2.5], 5),
])
def test_default_cap(count: list[float], cap: int) -> None:
    """The cap is the expected number of events, rounded up; thirty times 0.1, in floats as they come, are
    3."""
    site = site_events(0.0, [300.0] * len(count), count)
    assert capped_terms(site, AT_COST, np.ones((1, len(count)))).cap == cap


def test_overage_dearer_than_the_whole() -> None:
    """An overage that alone brings more than the site costs leaves a sum of nothing, never a negative one."""
    row = Contract(None, "season", None, cap=1.0, overage_usd=9_000.0)
    terms = contract_terms(site_events(0.0, [100.0], [3.0]), AT_COST, np.full((5, 1), 3.0), (row,))
    assert terms.prices[0].price_usd == 0.0


def test_nothing_served_has_a_price_by_the_season_alone() -> None:
    """A site where no event is expected is priced for the season, and nowhere else."""
    site = site_events(500.0, [0.0], [3.0], [1.0])
    found = all_terms(site, AT_COST, np.full((5, 1), 3.0))
    assert [terms.form for terms in found if terms.priced] == ["season"]


def test_hours_of_a_crew() -> None:
    """5 drivers, 10 storms, 10 paid hours of which 8 on site, 15 USD/h and 25 %: 9,375 a season, 18.75 a paid
    and 23.44 a billable hour (grounds-maintenance magazine, Oct 2002, inputs; answers by arithmetic)."""
    site = site_events(0.0, [5 * 10 * 15 * 1.25], [10.0], hours=np.array([5 * 8.0]))
    assert site.expected_usd == pytest.approx(9_375)
    assert unit_terms("hour", site, AT_COST).prices[0].price_usd == pytest.approx(23.44, abs=0.005)


@pytest.mark.parametrize(("usd_per_hour", "expected"), [(108_622, 264.3), (54_425, 132.4)])
def test_hour_of_a_county_truck(usd_per_hour: float, expected: float) -> None:
    """108,622 USD an hour of salting and 54,425 of plowing with 411 trucks are 264.3 and 132.4 USD per
    truck-hour (Baltimore County MD, 2015-16)."""
    site = site_events(0.0, [usd_per_hour], [3.0], hours=np.array([411.0]))
    assert unit_terms("hour", site, AT_COST).prices[0].price_usd == pytest.approx(expected, abs=0.05)


# ---- margin and markup


@pytest.mark.parametrize(("markup", "margin", "tolerance"), [
    (0.25, 0.20, 1e-12), (0.35, 0.259, 5e-4), (0.0, 0.0, 1e-12), (-0.10, -1 / 9, 1e-12),
])
def test_margin_of_a_contract(markup: float, margin: float, tolerance: float) -> None:
    """A contract 25 % above a cost of 200,000 pays 250,000, a margin of 20 %; 35 % above is 25.9 % (pages on
    markup and margin); one below cost has a negative margin."""
    site, amount = site_events(200_000.0, [0.0], [1.0]), 200_000 * (1 + markup)
    terms = season_terms(site, AT_COST, amount)
    found = priced_contract("season", (site,), (terms,), AT_COST, np.ones((1, 1)))
    assert found.revenue_usd == pytest.approx(amount)
    assert found.profit_margin == pytest.approx(margin, abs=tolerance)


def test_overhead_comes_before_profit_and_contracts_add_up() -> None:
    """Two sites of 1,000 and 3,000 with 10 % overhead that pay 2,000 and 4,000 leave 6,000 - 4,400; no
    revenue has no margin."""
    money = replace(AT_COST, overhead=0.10)
    sites = [site_events(usd, [0.0], [1.0]) for usd in (1_000.0, 3_000.0)]
    terms = [season_terms(site, money, usd) for site, usd in zip(sites, (2_000.0, 4_000.0), strict=True)]
    both = priced_contract("season", sites, terms, money, np.ones((1, 1)))
    assert (both.revenue_usd, both.profit_usd) == (6_000, pytest.approx(1_600))
    assert both.profit_margin == pytest.approx(1_600 / 6_000)
    free = priced_contract("season", sites[:1], (season_terms(sites[0], money, 0.0),), money, np.ones((1, 1)))
    assert free.profit_margin is None and free.profit_usd == pytest.approx(-1_100)


def _priced(form: str, site: SiteEvents, money: Money) -> Terms:
    if form == "event by depth":
        return band_terms(site, money)
    if form == "season":
        return season_terms(site, money)
    if form == "season with cap":
        return capped_terms(site, money, np.full((5, 1), 5.0))
    return unit_terms(form, site, money)


@pytest.mark.parametrize("form", FORMS)
def test_margin_of_a_whole_price_is_refused_in_every_form(form: str) -> None:
    """No form has a price that leaves a margin of 100 %."""
    with pytest.raises(ValueError, match="margin"):
        _priced(form, site_events(100.0, [100.0], [5.0]), replace(AT_COST, profit_margin=1.0))

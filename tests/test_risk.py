"""Simulated seasons and what forms of contract risk in them."""

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from statistics import fmean, stdev

import numpy as np
import pytest
from scipy.stats import norm
from test_contract_forms import AT_COST, seeded_money, seeded_site, site_events

from optibuild.cost.contract_forms import (
    FORMS,
    all_terms,
    capped_terms,
    priced_contract,
    season_revenue_usd,
    season_terms,
    unit_terms,
)
from optibuild.cost.risk import break_evens, list_risks, loss_chance, safe_season_usd, season_need_usd
from optibuild.cost.simulation import simulated_counts
from optibuild.records.bid import Bid, CostSpread, ListBid, Simulation, SiteBid, SiteCost, SiteEvents, Terms
from optibuild.records.build import Floats
from optibuild.records.contracts import Contract

SEASONS = 10_000


def break_even(pairs: list[tuple[SiteEvents, Terms]], overhead: float) -> tuple[float, bool] | None:
    """The first number of events at which profit is 0."""
    return next(iter(break_evens(pairs, overhead)), None)


def capped(site: SiteEvents, sum_usd: float, cap: float, overage_usd: float) -> Terms:
    row = Contract(None, "season", sum_usd, cap=cap, overage_usd=overage_usd)
    return capped_terms(site, AT_COST, np.ones((1, len(site.count))), row)


# ---- seasons


def test_poisson_seasons() -> None:
    """Without past winters every class has the mean and the variance of a Poisson number of its expected
    count, within 4 standard errors (variance of a sample variance: (3L^2 + L - L^2)/R), and classes are not
    correlated; one that is not expected never comes."""
    count = np.array([0.0, 0.3, 2.5, 12.0])
    drawn = simulated_counts(count, None, SEASONS, 3)
    assert drawn.shape == (SEASONS, 4) and not drawn[:, 0].any()
    assert (abs(drawn.mean(axis=0) - count) <= 4 * np.sqrt(count / SEASONS)).all()
    assert (abs(drawn.var(axis=0) - count) <= 4 * np.sqrt((2 * count**2 + count) / SEASONS)).all()
    assert abs(np.corrcoef(drawn[:, 1:].T) - np.eye(3)).max() < 4 / np.sqrt(SEASONS)


@pytest.mark.parametrize("winters", [None, np.arange(12.0).reshape(6, 2)])
def test_same_seed_same_seasons(winters: Floats | None) -> None:
    """A seed gives the same seasons every time, and another seed others."""
    first, again, other = (simulated_counts(np.array([3.0, 4.0]), winters, 500, seed) for seed in (1, 1, 2))
    assert (first == again).all() and (first != other).any()


def test_whole_winters_stay_together() -> None:
    """Planted winters have 8 of one class or 8 of the other: so has every simulated season, and the cost of
    8 events is sure; drawn class by class at the same means, 4 and 4, it is not."""
    winters = np.array([[8.0, 0.0], [0.0, 8.0]])
    drawn = simulated_counts(np.array([4.0, 4.0]), winters, SEASONS, 5)
    assert sorted(map(tuple, np.unique(drawn, axis=0).tolist())) == [(0, 8), (8, 0)]
    # share of the first winter: 1/2 within 4 standard errors of sqrt(1/4/10,000)
    assert abs((drawn[:, 0] == 8).mean() - 0.5) <= 4 * 0.005
    site = site_events(0.0, [100, 100], [4, 4])
    assert loss_chance(800 - season_need_usd(site, drawn, 0.0)) == 0
    apart = simulated_counts(np.array([4.0, 4.0]), None, SEASONS, 5)
    assert loss_chance(800 - season_need_usd(site, apart, 0.0)) > 0.3


def test_spread_of_a_published_record() -> None:
    """Minneapolis-St Paul has 37.3 snowy days a season, standard deviation 8.56, at most 50 in 90 % of 120
    seasons and at most 26 in 10 % (Minnesota DNR Climatology): seasons drawn from 120 winters with that
    normal spread reach it within 2, and Poisson seasons of the same mean stay well inside on both sides."""
    winters = 37.3 + 8.56 * norm.ppf((np.arange(120) + 0.5) / 120)[:, None]
    drawn = simulated_counts(np.array([37.3]), winters, SEASONS, 1)
    site = site_events(0.0, [300.0], [37.3])
    most = safe_season_usd(season_need_usd(site, drawn, 0.0), 0.10) / 300
    least = safe_season_usd(season_need_usd(site, drawn, 0.0), 0.90) / 300
    assert most == pytest.approx(50, abs=2) and least == pytest.approx(26, abs=2)
    # 48.3 and 26.3 by the normal approximation, within 4 standard errors of a quantile: the root of
    # 0.09/10,000 over the density 0.1755/8.56
    assert (most, least) == (pytest.approx(48.3, abs=0.6), pytest.approx(26.3, abs=0.6))
    poisson = simulated_counts(np.array([37.3]), None, SEASONS, 1)
    inner = [safe_season_usd(season_need_usd(site, poisson, 0.0), share) / 300 for share in (0.1, 0.9)]
    assert least + 2 < inner[1] < inner[0] < most - 2


# ---- profit


def risks_of(sites: Sequence[SiteEvents], form: str, terms: Sequence[Terms], counts: Floats,
             overhead: float = 0.0) -> tuple:
    found = list_risks(sites, {form: terms}, counts, overhead, 0.10)
    return found.sites[0][0], found.whole[0]


@pytest.mark.parametrize("form", FORMS)
def test_simulated_mean_is_the_closed_form(form: str) -> None:
    """With Poisson events the mean profit is the target less cost and overhead, within 4 standard errors, and
    the standard error that is told is, caps aside, the closed form: the root of sum count·(pay - cost)^2,
    over 100."""
    site, money = seeded_site(12), seeded_money(3)
    counts = simulated_counts(site.count, None, SEASONS, 8)
    terms = next(terms for terms in all_terms(site, money, counts) if terms.form == form)
    risk, _ = risks_of((site,), form, (terms,), counts, money.overhead)
    cost = site.fixed_usd + float(sum(site.event_usd * site.count))
    expected = cost * (1 + money.overhead) * (1 / (1 - money.profit_margin) - 1)
    assert risk.mean_usd == pytest.approx(expected, abs=4 * risk.error_usd)
    assert 0 < risk.error_usd < 0.05 * expected
    if form != "season with cap":
        spread = sum((terms.event_usd - site.event_usd) ** 2 * site.count) ** 0.5
        assert risk.error_usd == pytest.approx(spread / 100, rel=0.04)


def test_risk_of_twenty_seasons_by_hand() -> None:
    """Seasons of 0 to 19 events at 100, a sum of 1,500, 100 fixed and 10 % overhead on an expected 1,100:
    the profit is 1,290 less 100 an event, so the seasons of 13 to 19 events lose, the worst two lie at
    -560, and mean and standard error are those of the twenty numbers."""
    site = site_events(100.0, [100.0], [10.0])
    counts = np.arange(20.0)[::-1, None]
    risk, whole = risks_of((site,), "season", (season_terms(site, AT_COST, 1_500.0),), counts, 0.10)
    profits = [1_290 - 100 * n for n in range(20)]
    assert risk == whole
    assert risk.mean_usd == pytest.approx(fmean(profits))
    assert risk.error_usd == pytest.approx(stdev(profits) / 20**0.5)
    assert risk.worst_tenth_usd == pytest.approx(1_290 - 100 * 18.5)
    assert risk.chance_of_loss == 7 / 20
    assert (risk.break_even_events, risk.loss_above) == (pytest.approx(12.9), True)


def test_a_cap_loses_between_two_numbers_of_events() -> None:
    """A sum of 150 for 8 events and 30 for each beyond, at 100 fixed and 10 an event: 50 - 10 n is 0 at 5,
    -30 at 8, and 20 an event brings it back to 0 at 9.5."""
    site = site_events(100.0, [10.0], [10.0])
    terms = capped_terms(site, AT_COST, np.ones((1, 1)), Contract("a", "season", 150.0, cap=8.0,
                                                                  overage_usd=30.0))
    turns = break_evens([(site, terms)], 0.0)
    assert [place for place, _ in turns] == pytest.approx([5.0, 9.5])
    assert [loss_begins for _, loss_begins in turns] == [True, False]
    risk, _ = risks_of((site,), "season with cap", (terms,), np.full((4, 1), 8.0), 0.0)
    assert (risk.break_even_events, risk.loss_above, risk.loss_until_events) == (
        pytest.approx(5.0), True, pytest.approx(9.5))


@pytest.mark.parametrize("seed", range(5))
def test_few_winters_come_equally_often(seed: int) -> None:
    """Of 10,000 seasons drawn from 8 winters every winter is 1,250, whatever the seed; of 10,003 three are
    drawn once more."""
    winters = np.arange(8.0)[:, None]
    for seasons, most in ((10_000, 1_250), (10_003, 1_251)):
        counts = simulated_counts(np.ones(1), winters, seasons, seed)
        each = np.bincount(counts[:, 0].astype(int), minlength=8)
        assert counts.shape == (seasons, 1)
        assert each.min() == 1_250 and each.max() == most and each.sum() == seasons


def test_less_than_half_a_cent_is_no_loss() -> None:
    """A season that ends 0.004 USD short breaks even in cents; one 0.006 USD short is a loss."""
    assert loss_chance(np.array([0.0, -0.004, -0.006, 5.0])) == 0.25


def test_per_event_and_seasonal_sums_of_a_city() -> None:
    """At 300 an event, 1, 7 and 16 events a season (least, mean and most days of 2 in in the same record)
    cost 300, 2,100 and 4,800, and a sum of 2,100 breaks even at 7, with the loss above."""
    site = site_events(0.0, [300.0], [7.0])
    assert season_need_usd(site, np.array([[1.0], [7.0], [16.0]]), 0.0).tolist() == [300, 2_100, 4_800]
    assert break_even([(site, season_terms(site, AT_COST))], 0.0) == (pytest.approx(7.0), True)


# ---- break-even


@pytest.mark.parametrize(("fixed_usd", "terms", "expected"), [
    (1_000.0, lambda site: unit_terms("push", site, AT_COST, 400.0), (10.0, False)),
    (0.0, lambda site: unit_terms("push", site, AT_COST, 400.0), None),
    (1_000.0, lambda site: unit_terms("push", site, AT_COST, 300.0), None),
    (1_000.0, lambda site: unit_terms("push", site, AT_COST, 200.0), None),
    (0.0, lambda site: season_terms(site, AT_COST, 0.0), (0.0, True)),
    (500.0, lambda site: season_terms(site, AT_COST, 400.0), None),
    (0.0, lambda site: capped(site, 2_400.0, 7.0, 200.0), (10.0, True)),  # 300 left at 7, 100 less for each
    (0.0, lambda site: capped(site, 2_400.0, 7.0, 400.0), None),  # 300 left at 7, then more
    (0.0, lambda site: capped(site, 1_500.0, 7.0, 400.0), (5.0, True)),  # and profit again from 13
    (0.0, lambda site: capped(site, 1_500.0, 7.0, 300.0), (5.0, True)),
    (500.0, lambda site: capped(site, 100.0, 2.0, 500.0), (7.0, False)),  # -1,000 at 2, then 200 for each
])
def test_break_even_by_hand(fixed_usd: float, terms: object, expected: tuple[float, bool] | None) -> None:
    """At 300 an event each form turns where hand arithmetic says, on the side that it says; forms that never
    turn have no such number."""
    site = site_events(fixed_usd, [300.0], [6.0])
    found = break_even([(site, terms(site))], 0.0)  # type: ignore[operator]
    assert found == (None if expected is None else (pytest.approx(expected[0]), expected[1]))


def test_break_even_counts_served_events_of_the_mix() -> None:
    """Of 6 expected events 4 are served, half at 100 and half at 500: a sum of 2,400 is used up by 8."""
    site = site_events(0.0, [100, 500, 0], [2, 2, 2], [4, 9, 1])
    assert break_even([(site, season_terms(site, AT_COST, 2_400.0))], 0.0) == (pytest.approx(8.0), True)


def test_break_even_is_not_found_in_noise() -> None:
    """What is zero by hand makes no crossing in floats: a price per event that is just its cost, for a
    hundred costs and counts, and a sum of 0.3 used up by 3 events at 0.1, after which each brings 0.2."""
    rng = np.random.default_rng(58)
    for usd, count in rng.uniform(0.1, 900, (100, 2)):
        site = site_events(0.0, [usd, usd], [count, count / 3])
        assert break_even([(site, unit_terms("event", site, AT_COST))], 0.0) is None
    site = site_events(0.0, [0.1], [6.0])
    assert break_even([(site, capped(site, 0.3, 3.0, 0.2))], 0.0) is None


@pytest.mark.parametrize("seed", range(60))
def test_break_even_of_a_list_against_a_scan(seed: int) -> None:
    """For lists of one to six sites under each form, profit is 0 at the number that is told, has the sign
    that is told just before and after, and the other sign nowhere before; where none is told, a scan of
    seasons from none to a hundredfold finds no change of sign."""
    rng = np.random.default_rng([56, seed])
    money, first = seeded_money(seed), seeded_site(seed)
    sites = [replace(first, fixed_usd=first.fixed_usd * factor, event_usd=first.event_usd * factor)
             for factor in rng.uniform(0.2, 3, int(rng.integers(1, 7)))]
    counts = simulated_counts(first.count, None, 200, seed)
    columns = zip(*(all_terms(site, money, counts) for site in sites), strict=True)
    for column in [*columns, [capped(site, *_drawn_cap(rng, site)) for site in sites]]:
        pairs = [(site, terms) for site, terms in zip(sites, column, strict=True) if terms.priced]
        if pairs and first.expected_events:
            _check_break_even(pairs, first, money.overhead)
        elif pairs:
            assert break_even(pairs, money.overhead) is None


def _drawn_cap(rng: np.random.Generator, site: SiteEvents) -> tuple[float, float, float]:
    """A sum, a cap and an overage near what the site costs, so that profit turns once, twice or never."""
    events = max(site.expected_events, 0.5)
    return (float(rng.uniform(0.3, 2) * site.expected_usd), float(rng.integers(1, 2 + int(2 * events))),
            float(rng.uniform(0.2, 2) * site.expected_usd / events))


def _check_break_even(pairs: list[tuple[SiteEvents, Terms]], first: SiteEvents, overhead: float) -> None:
    def profit(times: Floats) -> Floats:
        seasons = np.outer(times, first.count)
        return sum(season_revenue_usd(terms, seasons) - season_need_usd(site, seasons, overhead)
                   for site, terms in pairs)

    found = break_even(pairs, overhead)
    small = 1e-7 * sum(site.expected_usd for site, _ in pairs)
    if found is None:
        scanned = profit(np.concatenate([np.linspace(0, 5, 2_000), np.geomspace(5, 100, 200)]))
        assert scanned.min() >= -100 * small or scanned.max() <= 100 * small
        return
    at = found[0] / first.expected_events
    sign = 1 if found[1] else -1
    assert abs(profit(np.array([at]))[0]) <= small * (1 + at)
    assert (sign * profit(np.linspace(0, at, 500)) >= -small * (1 + at)).all()
    assert sign * profit(np.array([at * 1.001 + 1e-6]))[0] < 0


# ---- safe sums


@pytest.mark.parametrize("seed", range(40))
def test_safe_sum_is_the_least_that_loses_seldom_enough(seed: int) -> None:
    """Counted season by season: at the safe sum no more than the accepted share lose, and a cent less loses
    in more, whether seasons are all different or a few winters over and over."""
    rng = np.random.default_rng([57, seed])
    site, chance = seeded_site(seed), float(rng.choice([0.001, 0.05, 0.10, 1 / 3, 0.5]))
    winters = None if seed % 2 else rng.integers(0, 9, (int(rng.integers(1, 12)), len(site.count)))
    seasons = int(rng.integers(900, 1_100))
    counts = simulated_counts(site.count, winters, seasons, seed)
    need = season_need_usd(site, counts, 0.2)
    safe = safe_season_usd(need, chance)

    def losses(price: float) -> int:
        return sum(round(price - usd, 6) < -0.005 for usd in need.tolist())

    assert losses(safe) <= chance * seasons < losses(safe - 0.011)
    sold = season_terms(site, AT_COST, safe)
    assert loss_chance(season_revenue_usd(sold, counts) - need) <= chance


def test_safe_sum_by_hand() -> None:
    """Of ten seasons that need 1 to 10, a sum of 9 loses in one of ten, 10 in none, and 5 in half."""
    need = np.array([3.0, 10, 1, 7, 5, 9, 2, 8, 4, 6])
    assert [safe_season_usd(need, chance) for chance in (0.10, 0.19, 0.05, 0.5)] == [9, 9, 10, 5]


# ---- the list


def test_list_is_the_sum_in_the_same_seasons() -> None:
    """Two sites alike risk twice as much together; two that are served in opposite winters risk nothing
    together, and the list's safe sum is below the sum of theirs."""
    winters = np.array([[8.0, 0.0], [0.0, 8.0]])
    counts = simulated_counts(np.array([4.0, 4.0]), winters, SEASONS, 2)
    one, other = site_events(0.0, [100, 0], [4, 4], [4, 1]), site_events(0.0, [0, 100], [4, 4], [1, 4])
    alike = list_risks((one, one), {"season": [season_terms(one, AT_COST)] * 2}, counts, 0.0, 0.10)
    own, whole = alike.sites[0][0], alike.whole[0]
    assert whole.sites == 2 and own.sites == 1
    assert whole.worst_tenth_usd == pytest.approx(2 * own.worst_tenth_usd) == pytest.approx(-800)
    assert whole.chance_of_loss == own.chance_of_loss == pytest.approx(0.5, abs=0.02)
    assert alike.whole_safe_season_usd == 2 * alike.safe_season_usd[0] == 1_600
    terms = [season_terms(site, AT_COST) for site in (one, other)]
    apart = list_risks((one, other), {"season": terms}, counts, 0.0, 0.10)
    assert apart.whole[0].chance_of_loss == 0 and apart.whole[0].error_usd == pytest.approx(0, abs=1e-9)
    assert apart.whole_safe_season_usd == pytest.approx(800) and sum(apart.safe_season_usd) == 1_600


def test_sites_that_a_form_cannot_bill_are_left_out() -> None:
    """A site that is only deiced has no pushes: under that form the list's risk is the other site's alone,
    and under a form that bills nobody there is none."""
    plowed = site_events(500.0, [100.0], [5.0])
    deiced = replace(plowed, pushes=np.zeros(1), inches=np.zeros(1))
    counts = simulated_counts(plowed.count, None, SEASONS, 1)
    forms = {form: [unit_terms(form, site, AT_COST) for site in (plowed, deiced)]
             for form in ("push", "event")}
    forms["inch"] = [unit_terms("inch", deiced, AT_COST)] * 2
    found = list_risks((plowed, deiced), forms, counts, 0.0, 0.10)
    assert [[risk.form for risk in site] for site in found.sites] == [["push", "event"], ["event"]]
    assert [(risk.form, risk.sites) for risk in found.whole] == [("push", 1), ("event", 2)]
    assert found.whole[0] == found.sites[0][0]


def test_forms_carry_the_weather_as_they_say() -> None:
    """In the same seasons a seasonal sum loses in wet ones and risks most, an event price loses in dry ones
    by its fixed cost, and a sum with cap and overage, which is paid in both, risks least. By hand, of an
    expected cost of 2,500: 300 overhead, a sum of 2,800/0.85, of which 700 are fixed cost and overhead."""
    site, money = site_events(400.0, [300.0], [7.0]), replace(AT_COST, overhead=0.12, profit_margin=0.15)
    counts = simulated_counts(site.count, None, SEASONS, 4)
    forms = {terms.form: [terms] for terms in all_terms(site, money, counts)}
    season, cap, event = (risks_of((site,), form, forms[form], counts, 0.12)[0]
                          for form in ("season", "season with cap", "event"))
    assert season.worst_tenth_usd < event.worst_tenth_usd < cap.worst_tenth_usd
    total = 2_800 / 0.85
    assert (season.break_even_events, season.loss_above) == (pytest.approx((total - 700) / 300), True)
    assert (event.break_even_events, event.loss_above) == (pytest.approx(700 / (total / 7 - 300)), False)


def test_a_bid_goes_into_json_as_it_is() -> None:
    """Everything a bid holds is text, whole or plain numbers, truth or nothing, so that it reads back from
    JSON the same."""
    sites, money = [seeded_site(seed) for seed in (3, 3)], seeded_money(1)
    counts = simulated_counts(sites[0].count, None, SEASONS, 1)
    priced = [all_terms(site, money, counts) for site in sites]
    found = list_risks(sites, {form: [terms[n] for terms in priced] for n, form in enumerate(FORMS)}, counts,
                       money.overhead, 0.10)
    contract = priced_contract("event", sites, [terms[1] for terms in priced], money, counts)
    cost = SiteCost(1.0, 2.0, 3.0, 4.0)
    bids = tuple(SiteBid(str(n), cost, 10.0, tuple(line for terms in priced[n] for line in terms.prices),
                         found.sites[n], found.safe_season_usd[n], contract) for n in range(2))
    whole = ListBid(cost, 10.0, found.whole, found.whole_safe_season_usd, contract,
                    CostSpread(10.0, 1.0, 12.0), 600.0, 480.0)
    bid = asdict(Bid(bids, whole, Simulation(SEASONS, 1, 0, 0.10)))
    assert _plain(bid)
    assert json.loads(json.dumps(bid, allow_nan=False))["whole"]["risks"] == list(bid["whole"]["risks"])


def _plain(value: object) -> bool:
    if isinstance(value, dict):
        return all(map(_plain, value.values()))
    if isinstance(value, list | tuple):
        return all(map(_plain, value))
    return type(value) in (str, int, float, bool, type(None))

"""A bid against the recheck's own formulas: what sites cost, what is billed there, what it must bring."""

from collections import Counter
from dataclasses import replace
from functools import cache
from math import ceil, floor, fsum, inf, sqrt

import numpy as np
import pytest
from bid_cases import SEEDS, Priced, bid_case, seeded_bid, seeded_plan
from loop_oracle import Answer, answers
from scipy.stats import poisson
from seeded_cases import seeded_case, small_case

from optibuild.bidding import price_bid
from optibuild.explain import marginal_costs
from optibuild.pipeline import make_plan, stages
from optibuild.plan.recheck_items import owning_usd
from optibuild.plan.recheck_money import truck_season
from optibuild.plan.recheck_season import stop_event
from optibuild.records import Case, Event, FormPrice, Plan, PlannedTruck, Site, SiteBid

INCH = 0.0254
EXACT = 1e-9

every_seed = pytest.mark.parametrize("seed", SEEDS)


def alone(found: Priced, truck: PlannedTruck) -> dict[str, SiteBid]:
    """The bid of a plan that had this truck only, by site."""
    return {row.site: row for row in price_bid(found.case, replace(found.plan, trucks=(truck,))).sites}


def test_the_seeded_cases_hold_everything() -> None:
    """The seeded plans have every question, two depots, hired and owned trucks, items partly owned, loans
    and leases, end rounds, split works, parcels in two loops, shifts, overtime, standby and whole storms
    paid, sites left out, and an event deeper than every band; each at least twice."""
    held: Counter[str] = Counter()
    for seed in SEEDS:
        case, plan = bid_case(seed), seeded_plan(seed)
        rows = {row.id: row for row in case.items}
        used = [(rows[row.id], row) for row in plan.items]
        hired = {row.id for row in case.trucks if row.hired_usd_per_min}
        held += Counter({
            case.question: 1,
            "depots": len({truck.depot for truck in plan.trucks}) > 1,
            "hired": any(truck.truck in hired for truck in plan.trucks),
            "owned": any(row.owned_used for _, row in used),
            "partly owned": any(row.owned_used and row.bought for _, row in used),
            "loan": any(item.loan_rate and row.bought for item, row in used),
            "lease": any(item.lease_usd_per_year and row.bought for item, row in used),
            "end": any(truck.loop.end_round for truck in plan.trucks),
            "split": any(len({work.work for work in site.works}) > 1 for site in plan.sites),
            "parcels": any(len(site.works) > len({work.work for work in site.works}) for site in plan.sites),
            "shifts": case.crew.shift_min < inf, "overtime": case.money.overtime_after_min < inf,
            "standby": case.money.standby > 0, "storm": case.money.paid == "storm",
            "left out": any(not site.served for site in plan.sites),
            "deep": any(event.id == "blizzard" for event in case.season)})
    assert len(held) == 18 and min(held.values()) >= 2, held


# ---- what sites cost


@every_seed
def test_costs_of_sites_sum_to_the_plan(seed: int) -> None:
    """Without the capital of owned items the sites' costs sum to the plan's cost, the list says the same
    sum, and owning and season apart are those of the recheck's own formulas."""
    found = seeded_bid(seed)
    case, plan, whole = found.case, found.plan, found.bid.whole.cost
    costs = [row.cost for row in found.bid.sites]
    season = sum(truck_season(loop, case).usd for loop in found.loops)
    assert {row.site for row in found.bid.sites} == {row.id for row in plan.sites if row.served}
    assert fsum(cost.cost_usd for cost in costs) == pytest.approx(plan.outcome.cost_usd, rel=EXACT)
    assert whole.cost_usd == pytest.approx(plan.outcome.cost_usd, rel=EXACT)
    assert whole.service_usd + whole.driving_usd == pytest.approx(season, rel=EXACT)
    assert whole.owning_usd == pytest.approx(owning_usd(plan, case), rel=EXACT)


@every_seed
def test_capital_of_owned_items_is_recovered(seed: int) -> None:
    """The bid recovers, beside the plan's cost, the worth of every owned item used: worth · i/(1 - (1+i)^-n)
    over its 4 years left, at its snow share; kits of ballast are not owned here."""
    found = seeded_bid(seed)
    rows = {row.id: row for row in (*found.case.trucks, *found.case.plows, *found.case.spreaders)}
    i = found.case.money.interest
    recovered = sum(row.owned_used * rows[row.id].owned_value_usd * rows[row.id].snow_share
                    * i / (1 - (1 + i) ** -4) for row in found.plan.items if row.owned_used)
    assert found.bid.whole.cost.held_usd == pytest.approx(recovered, rel=EXACT)
    assert fsum(row.cost.held_usd for row in found.bid.sites) == pytest.approx(recovered, rel=EXACT)
    assert found.bid.whole.cost.bid_usd == pytest.approx(found.plan.outcome.cost_usd + recovered, rel=EXACT)


@every_seed
def test_parts_of_each_loop_sum_to_the_loop(seed: int) -> None:
    """Truck by truck: its sites' service and driving sum to what the recheck's formulas give for its season,
    and what a site costs is the sum of what it costs in each of the loops that serve it."""
    found = seeded_bid(seed)
    total: dict[str, float] = dict.fromkeys((row.site for row in found.bid.sites), 0.0)
    for loop in found.loops:
        part = alone(found, loop.unit.planned)
        own = fsum(row.cost.service_usd + row.cost.driving_usd for row in part.values())
        assert own == pytest.approx(truck_season(loop, found.case).usd, rel=EXACT)
        for site, row in part.items():
            total[site] += row.cost.bid_usd
    assert total == pytest.approx({row.site: row.cost.bid_usd for row in found.bid.sites}, rel=EXACT)


@every_seed
def test_shared_cost_follows_service_minutes(seed: int) -> None:
    """In each loop driving, owning and the capital of owned items are split by the minutes that the plan says
    are spent at each stop, from arriving to leaving, in the round in which all works are done."""
    found = seeded_bid(seed)
    for loop in found.loops:
        part, planned = alone(found, loop.unit.planned), loop.unit.planned.loop
        minutes = {stop.site: stop.leave_min - stop.arrive_min if stop.end_arrive_min is None
                   else stop.end_leave_min - stop.end_arrive_min for stop in planned.stops}
        for kind in ("driving_usd", "owning_usd", "held_usd"):
            shared = fsum(getattr(row.cost, kind) for row in part.values())
            for site, own in minutes.items():
                expected = shared * own / sum(minutes.values())
                assert getattr(part[site].cost, kind) == pytest.approx(expected, rel=1e-7, abs=1e-9)


# ---- event by event


def only(event: Event, case: Case) -> Case:
    """The case with a season of one such event and nothing else."""
    return replace(case, season=(replace(event, count=1.0),))


@every_seed
def test_events_cost_what_a_season_of_one_of_them_does(seed: int) -> None:
    """For each class of event the sites' costs of one sum to what the recheck's formulas give for all trucks
    in a season of that event alone; with the fixed part, expected events make each site's season."""
    found = seeded_bid(seed)
    case, sites = found.case, found.served()
    for e, event in enumerate(case.season):
        season = sum(truck_season(loop, only(event, case)).usd for loop in found.loops)
        assert fsum(float(one.event_usd[e]) for _, one in sites) == pytest.approx(season, rel=EXACT, abs=1e-9)
    for (_, one), row in zip(sites, found.bid.sites, strict=True):
        events = sum(event.count * usd for event, usd in zip(case.season, one.event_usd, strict=True))
        assert one.fixed_usd + events == pytest.approx(row.cost.bid_usd, rel=EXACT)


@every_seed
def test_hours_at_sites_are_those_of_the_recheck(seed: int) -> None:
    """Hours billable at each site in one event of each class, those of the list over the season, and the
    drivers' paid hours are those of the recheck's formulas."""
    found = seeded_bid(seed)
    case = found.case
    for site, one in found.served():
        jobs = [job for loop in found.loops for job in loop.tasks if job.site.id == site.id]
        hours = [sum(stop_event(event, job, case).work_min for job in jobs) / 60 for event in case.season]
        assert one.hours == pytest.approx(hours, rel=EXACT, abs=1e-12)
    billable = sum(event.count * stop_event(event, job, case).work_min
                   for event in case.season for loop in found.loops for job in loop.tasks)
    assert found.bid.whole.billable_min == pytest.approx(billable, rel=EXACT)
    paid = sum(truck_season(loop, case).hours for loop in found.loops)
    assert found.bid.whole.paid_min == pytest.approx(60 * paid, rel=EXACT)


# ---- what a price must bring


def pushes(site: Site, event: Event, cleanup: bool) -> int:
    """Pushes of one event by the words of the form: as often as the snow reaches the trigger or the cycle
    limit comes round, whichever is less, and the clean-up; none below the trigger."""
    if site.work == "deice" or event.snowfall_m < site.trigger_m * (1 - EXACT):
        return 0
    by_snow = max(1, floor(event.snowfall_m / site.trigger_m + EXACT))
    return min(ceil(event.duration_min / site.cycle_limit_min - EXACT), by_snow) + cleanup


def line_units(line: FormPrice, site: Site, event: Event, cleanup: bool, hours: float) -> float:
    """How often a line of the sheet is billed for one event, a season's line for none."""
    pushed = pushes(site, event, cleanup)
    # salt is spread in every event; snow that is not plowed is billed to nobody
    served = pushed > 0 or site.work != "plow"
    inches = event.snowfall_m / INCH
    low, high = line.from_depth_m, line.to_depth_m
    if line.unit == "inch" and low is not None:
        assert low == pytest.approx(14.99 * INCH)
        return served * max(0.0, round(inches, 2) - 14.99)
    if low is not None:
        inside = round(low / INCH, 2) <= round(inches, 2) and (
            high is None or round(inches, 2) < round(high / INCH, 2))
        return float(served and inside)
    return {"push": float(pushed), "event": float(served), "inch": inches if pushed else 0.0,
            "hour": hours, "season": 0.0}[line.unit]


def beyond_cap(found: Priced, site: Site, cap: float) -> tuple[float, float]:
    """Expected events beyond a cap, and the standard error of their mean over the seasons drawn: served
    events are a Poisson number, the sum of those of the classes."""
    cleanup, case = found.case.money.cleanup_round, found.case
    mean = sum(event.count for event in case.season if site.work != "plow" or pushes(site, event, cleanup))
    number = np.arange(0, 400)
    chance, beyond = poisson.pmf(number, mean), np.maximum(number - cap, 0)
    first, second = float(chance @ beyond), float(chance @ beyond**2)
    return first, sqrt((second - first**2) / found.bid.simulation.seasons)


@every_seed
def test_every_form_is_priced_to_the_same_revenue(seed: int) -> None:
    """The printed prices times units counted from the words of each form bring the season's price, cost ·
    1.12/0.85, at every site; beyond a cap within four standard errors of the Poisson mean. A form has no
    price only where it bills nothing."""
    found = seeded_bid(seed)
    case = found.case
    for (site, one), row in zip(found.served(), found.bid.sites, strict=True):
        assert row.price_usd == pytest.approx(row.cost.bid_usd * 1.12 / 0.85, rel=EXACT)
        assert {line.form for line in row.prices} == {
            "push", "event", "event by depth", "inch", "hour", "season", "season with cap"}
        for form in dict.fromkeys(line.form for line in row.prices):
            lines = [line for line in row.prices if line.form == form]
            times = [sum(event.count * line_units(line, site, event, case.money.cleanup_round, hours)
                         for event, hours in zip(case.season, one.hours, strict=True))
                     + (line.unit == "season") for line in lines]
            if all(line.price_usd is None for line in lines):
                assert times == pytest.approx([0.0] * len(times))
                continue
            revenue = sum(count * (line.price_usd or 0.0) for count, line in zip(times, lines, strict=True))
            slack = EXACT * row.price_usd
            if form == "season with cap":
                over, error = beyond_cap(found, site, lines[0].cap or 0.0)
                revenue += (lines[0].overage_usd or 0.0) * over
                slack += 4 * (lines[0].overage_usd or 0.0) * error
            assert revenue == pytest.approx(row.price_usd, abs=slack), (row.site, form)


# ---- what a site saves


def without(case: Case, site: str) -> Case:
    """The case in which a site may be left out for nothing; its cycle limit and trigger still count."""
    return replace(case, sites=tuple(
        replace(row, must_serve=False, pay_by=None, pay_usd=0.0) if row.id == site else row
        for row in case.sites))


def small_plan() -> Plan:
    """The plan of the four-site case."""
    return make_plan(small_case())


@pytest.mark.parametrize("site", ["bank", "clinic", "yard", "school"])
def test_what_a_site_of_the_small_case_saves(site: str) -> None:
    """In the four-site case the plan made of a copy in which a site may be left out for nothing costs just so
    much less as is told, within what the duals allow; nothing is sought for the sites not asked."""
    case, plan = small_case(), small_plan()
    found = {row.site: row for row in marginal_costs(case, plan, [site])}
    assert set(found) == {row.id for row in plan.sites if row.served}
    assert [row.saved_usd is None for row in found.values()] == [name != site for name in found]
    other = make_plan(without(case, site))
    assert (plan.outcome.proof, other.outcome.proof) == ("proved best", "proved best")
    saved = plan.outcome.objective_usd - other.outcome.objective_usd
    assert found[site].saved_usd == pytest.approx(saved, rel=1e-6, abs=1e-3)
    assert found[site].most_usd >= saved - 1e-3
    plain = {row.site: row for row in marginal_costs(case, plan)}
    assert plain[site].most_usd >= saved - 1e-3 and plain[site].saved_usd is None
    assert plain[site].share_usd == next(row.cost_usd for row in plan.sites if row.id == site)


MARGINAL_SEEDS = [0, 1, 3, 8, 12]


@cache
def left_out(seed: int, site: str) -> tuple[tuple[Answer, float], ...]:
    """Every answer to a seeded case in which a site may be left out for nothing, and the contract value that
    it forgoes at the other sites."""
    problem = stages(without(seeded_case(seed), site)).problem
    return tuple((one, sum(float(problem.worth[n]) for n in one.missed)) for one in answers(problem))


@pytest.mark.parametrize("question", ["cover", "value", "profit"])
@pytest.mark.parametrize("seed", MARGINAL_SEEDS)
def test_what_sites_save_against_enumeration(seed: int, question: str) -> None:
    """Site by site what is saved is what enumeration finds, in every question: in cover and profit the least
    cost and value forgone, in value the least cost at no more value forgone than the plan forgoes. No plan
    without the site saves more than `most_usd`, where that is known."""
    case = seeded_case(seed, question=question)
    plan = make_plan(case)
    assert plan.outcome.proof == "proved best"
    pay = {site.id: site.pay_usd for site in case.sites}
    lost = sum(pay[row.id] for row in plan.sites if not row.served)
    served = [row.id for row in plan.sites if row.served]
    for row in marginal_costs(case, plan, served):
        found = left_out(seed, row.site)
        least = min(one.cost_usd for one, usd in found if usd <= lost + 1e-6) if question == "value" else min(
            one.cost_usd + usd for one, usd in found)
        whole = plan.outcome.cost_usd + (0.0 if question == "value" else lost)
        assert row.saved_usd == pytest.approx(whole - least, rel=1e-6, abs=1e-3 + 1e-6 * whole)
        assert row.most_usd >= whole - least - 1e-6 * whole
    for row in marginal_costs(case, plan):
        assert (row.most_usd is None) == (question == "value")
        if row.most_usd is not None:
            least = min(one.cost_usd + usd for one, usd in left_out(seed, row.site))
            assert row.most_usd >= plan.outcome.cost_usd + lost - least - 1e-6 * plan.outcome.cost_usd

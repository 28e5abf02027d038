"""Why a plan is as it is: limits by hand, moves by enumeration, prices and limits by solving again."""

import json
from dataclasses import replace
from functools import cache
from itertools import count, islice, product
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import small_plan as sp
from click.testing import CliRunner, Result
from loop_oracle import Part, add_stop, drive_home, in_stock, item_cost, may_follow, plain
from seeded_cases import SMALL, seeded_case, small_case

from optibuild.cli import main
from optibuild.errors import UsageError
from optibuild.explain import longer_limits, why
from optibuild.explain.asking import of_plan, solved_again
from optibuild.explain.entering import at_price, confirmed_entry, entry_prices
from optibuild.explain.longer_limits import longer_limit, next_limits
from optibuild.explain.moves import loop_reasons, moves, next_best
from optibuild.pipeline import Progress, first_columns, make_plan, stages
from optibuild.reasons import alone, chosen, fleet_of, own_fleet
from optibuild.records import (
    Case,
    Choice,
    ChosenLoop,
    Confirmed,
    EntryPrice,
    LimitTried,
    LoopReason,
    NextBest,
    Plan,
    PlannedBallast,
    PriceTried,
    SiteLimit,
    Why,
)
from optibuild.report import why_text
from optibuild.report.why_screen import confirmed_words, limit_words, loops_words, next_table, next_words
from optibuild.written import Written

# fit has the truck carry one bag, so these plans do; no minute of theirs depends on it
BAG = (PlannedBallast("sandbag", 1, 40),)
PLAN = replace(sp.PLAN, trucks=tuple(replace(truck, ballast=BAG) for truck in sp.PLAN.trucks))
CASE = sp.case_site(0, parcels=2)


# ---- what binds, by hand


def lot_a(**changes: Any) -> Case:
    """The case worked out by hand with its lot a changed."""
    return replace(CASE, sites=(replace(CASE.sites[0], **changes), *CASE.sites[1:]))


@pytest.mark.parametrize(("deadline_min", "second"), [
    (80.0, ("cycle limit", 1.0, "min", None)), (70.5, ("deadline", 0.5, "min", "a"))])
def test_limits_that_bind_by_hand(deadline_min: float, second: tuple[str, float, str, str | None]) -> None:
    """By hand the first loop takes 34 of 60 min and the second 79 of 90, with 10 in reserve: 16 and 1 min are
    left. The second truck leaves lot a after 70 min: a deadline of 70.5 min has less than a share of 1/90
    left, one of 80 has an eighth. The first leaves it after 25 min."""
    case = lot_a(deadline_min=deadline_min)
    told = loop_reasons(PLAN, chosen(case, PLAN), [])
    assert [(row.limit, round(row.left, 6), row.unit, row.site) for row in told] == [
        ("cycle limit", 16.0, "min", None), second]


# ---- single moves, by enumeration


@cache
def planned(seed: int) -> tuple[Case, Plan]:
    """A seeded case of four sites that all are reached, without budget, items and drivers at will, and its
    best plan."""
    cases = (_generous(seeded_case(100 * seed + k)) for k in count())
    return next((case, plan) for case in cases if (plan := make_plan(case)).trucks)


def _generous(case: Case) -> Case:
    return replace(case, money=replace(case.money, budget_usd=inf), crew=replace(case.crew, drivers=inf),
                   sites=tuple(replace(site, must_serve=True) for site in case.sites),
                   trucks=tuple(replace(row, available=inf) for row in case.trucks),
                   plows=tuple(replace(row, available=inf) for row in case.plows),
                   spreaders=tuple(replace(row, available=inf) for row in case.spreaders))


def quickest(p: Any, build: int, clock: int, stops: tuple[int, ...]) -> float | None:
    """Money of a loop in this order without its items, its rounds driven with the reloads that are over
    first; None where no choice of reloads keeps its limits."""
    if not all(may_follow(p, clock, stops[:k], stop) for k, stop in enumerate(stops)):
        return None
    usd = p.fixed_usd[build] + sum(p.stop_usd[build][clock][s] for s in stops)
    for r in p.rounds:
        ways = [Part(p.start[build])]
        for stop in stops:
            ways = [more for part in ways for reload in (False, True) if not reload or part.load
                    if (more := add_stop(p, r, part, build, clock, stop, reload))]
        homes = [done for part in ways if (done := drive_home(p, r, part, build, clock, stops))]
        if not homes:
            return None
        usd += min(homes, key=lambda done: done.minutes).money
    return float(usd)


def cheapest(p: Any, build: int, orders: list[tuple[int, ...]]) -> float | None:
    """The least money of a build's loop over these orders, at any clock."""
    usd = [quickest(p, build, clock, order) for order in orders for clock in range(len(p.cycle_limit_min))]
    return min((one for one in usd if one is not None), default=None)


def used_by(p: Any, builds: list[int]) -> tuple[float, ...]:
    """How many of each item so many trucks use."""
    return tuple(sum(p.uses[b][i] for b in builds) for i in range(len(p.price_usd)))


def does_both(p: Any, one: int, other: int) -> int | None:
    """The stop at the same place that does what two stops do."""
    both = [a + b for a, b in zip(p.amount[one], p.amount[other], strict=True)]
    return next((s for s, amounts in enumerate(p.amount)
                 if amounts == both and p.place[s] == p.place[one]), None)


def orders_with(p: Any, stops: tuple[int, ...], stop: int) -> list[tuple[int, ...]]:
    """Every order of a loop's stops, kept as they are, with one more."""
    there = [s for s in stops if p.place[s] == p.place[stop]]
    more = does_both(p, stop, there[0]) if there else stop
    if more is None:
        return []
    kept = tuple(s for s in stops if s not in there)
    return [(*kept[:k], more, *kept[k:]) for k in range(len(kept) + 1)]


def every_move(at: Written) -> dict[tuple[int, int], dict[int, float]]:
    """For each truck and each of its stops: what it costs a season more where each other truck makes it."""
    p = plain(at.made.problem)
    loops = [(one.crewed, one.stops) for one in at.choice.loops]
    now = [quickest(p, one.crewed, one.clock, one.stops) for one in at.choice.loops]
    items = item_cost(p, used_by(p, [build for build, _ in loops]))
    found: dict[tuple[int, int], dict[int, float]] = {}
    for a, (build, stops) in enumerate(loops):
        for stop in stops:
            rest = tuple(s for s in stops if s != stop)
            left = cheapest(p, build, [rest]) if rest else 0.0
            kept = [other for k, (other, _) in enumerate(loops) if k != a or rest]
            fewer = item_cost(p, used_by(p, kept)) - items
            found[a, stop] = {}
            for b, (other, others) in enumerate(loops):
                taken = cheapest(p, other, orders_with(p, others, stop)) if b != a else None
                if taken is not None and left is not None:
                    found[a, stop][b] = left + taken - now[a] - now[b] + fewer
    return found


@pytest.mark.parametrize("seed", range(30))
def test_moves_are_those_of_enumeration(seed: int) -> None:
    """On a seeded case each stop can be moved to just the trucks that enumeration finds, over every place in
    the order, every clock and every choice of reloads, at the same extra cost; the next best of each site and
    the room of each loop are the cheapest of them."""
    case, plan = planned(seed)
    at = chosen(case, plan)
    fleet, wanted = own_fleet(at), every_move(at)
    found = moves(at, fleet)
    assert {(one.giver, one.stop, one.taker): one.extra_usd for one in found} == {
        (*key, b): pytest.approx(usd, abs=1e-4) for key, row in wanted.items() for b, usd in row.items()}
    told = next_best(case, plan, at, fleet, found)
    assert len(told) == len(wanted)
    for (a, stop), row in wanted.items():
        site = case.sites[at.made.times.stops[stop].site].id
        (one,) = [one for one in told if (one.site, one.truck_no) == (site, a + 1)]
        if row:
            assert one.extra_usd == pytest.approx(min(row.values()), abs=1e-4)
            assert one.next_truck_no is not None and one.own_build is None
        else:
            assert one.next_truck_no is None
    for b, loop in enumerate(loop_reasons(plan, at, found)):
        into = [row[b] for row in wanted.values() if b in row]
        assert loop.room_usd == (pytest.approx(min(into), abs=1e-4) if into else None)


def _at_the_end(case: Case) -> Case:
    """The case with all deicing left to the last round of a storm."""
    return replace(case, sites=tuple(
        replace(site, deice_when="end", end_within_min=150.0) if site.deiced else site
        for site in case.sites))


@pytest.mark.parametrize("seed", range(30))
def test_moves_from_trucks_with_room_are_those_of_enumeration(seed: int) -> None:
    """The same for a fleet that is no good plan: every stop of a seeded case in the cheapest loop of it
    alone, the parcels of a site and its works in loops apart too, so that trucks can join them; in every
    third case deicing waits for the last round."""
    made = stages(seeded_case(seed) if seed % 3 else _at_the_end(seeded_case(seed)))
    alone = {one.stops: one for one in first_columns(made.problem)}
    loops = tuple(ChosenLoop(one.build, one.clock, one.stops, one.reload_before, one.end_reload_before)
                  for one in list(alone.values())[:7])
    none = np.zeros(len(made.case.items), dtype=np.int64)
    at = Written(PLAN, made, Choice(loops, (), none, none))
    wanted = {(*key, b): usd for key, row in every_move(at).items() for b, usd in row.items()}
    assert wanted
    assert {(one.giver, one.stop, one.taker): one.extra_usd for one in moves(at, own_fleet(at))} == {
        key: pytest.approx(usd, abs=1e-4) for key, usd in wanted.items()}


def test_seeds_hold_moves_and_their_lack() -> None:
    """The seeded plans above have stops that another truck can take and stops that none can."""
    counts = [len(row) for seed in range(30) for row in every_move(chosen(*planned(seed))).values()]
    assert counts.count(0) >= 5 and sum(map(bool, counts)) >= 5


@pytest.mark.parametrize("seed", range(12))
def test_truck_of_its_own_is_the_cheapest_of_all(seed: int) -> None:
    """For every stop of a seeded plan the truck of its own costs as much as the cheapest loop of it alone,
    over every build and clock, that items and money left allow, some of which have run out; there is none
    only where enumeration has none."""
    at = chosen(*planned(seed))
    fleet, rng = own_fleet(at), np.random.default_rng([20_254, seed])
    scarce = rng.random(fleet.bought.size) < 0.3
    spent = float(fleet.bought @ at.made.problem.price_usd)
    left = replace(at.made.problem, available=np.where(scarce, fleet.bought, inf),
                   budget_usd=spent + float(rng.choice([46_000.0, 52_000.0, inf])))
    at = replace(at, made=replace(at.made, problem=left))
    p = plain(at.made.problem)
    before = used_by(p, [one.build for one in fleet.loops])
    for stop in {s for one in fleet.loops for s in one.stops}:
        wanted = inf
        for build in range(len(p.fixed_usd)):
            used = tuple(a + b for a, b in zip(before, p.uses[build], strict=True))
            usd = cheapest(p, build, [(stop,)])
            if usd is not None and in_stock(p, used):
                wanted = min(wanted, usd + item_cost(p, used) - item_cost(p, before))
        own = alone(at, stop, fleet)
        assert (own is None) == (wanted == inf)
        if own is not None:
            extra = fleet_of(at, [*fleet.loops, own]).cost_usd - fleet.cost_usd
            assert extra == pytest.approx(wanted, abs=1e-4)


# ---- prices


@cache
def priced(seed: int) -> tuple[Case, Plan, tuple[EntryPrice, ...]]:
    """A seeded case with its plan and the entry prices of what that does not use."""
    case, plan = planned(seed)
    return case, plan, entry_prices(case, plan, chosen(case, plan))


@pytest.mark.parametrize("seed", [1, 3, 4, 5])
def test_price_told_is_the_price_priced(seed: int) -> None:
    """A case with an item at its entry price has that item at the same yearly cost as a relaxation asked at
    that share of what it costs a year beside its upkeep, to a cent, and everything else as it was."""
    case, _, rows = priced(seed)
    told = [row for row in rows if row.entry_usd is not None]
    assert told
    for row in told:
        assert row.entry_usd is not None
        share = row.entry_usd / row.price_usd
        was, now = stages(case).problem, stages(at_price(case, row, row.entry_usd)).problem
        (i,) = [i for i, item in enumerate(case.items) if item.id == row.item]
        yearly = share * was.annual_usd[i] + (1 - share) * was.upkeep_usd[i]
        assert now.annual_usd[i] == pytest.approx(yearly, abs=0.01)
        assert now.price_usd[i] == pytest.approx(share * was.price_usd[i])
        others = [k for k in range(len(case.items)) if k != i]
        assert (now.annual_usd[others] == was.annual_usd[others]).all()


SEEDS = range(1, 90)


def below(seed: int) -> list[EntryPrice]:
    """The items of a seeded case that enter below their price."""
    return [row for row in priced(seed)[2] if row.standing == "below"]


def test_a_hundred_prices_are_confirmed() -> None:
    """The next test solves again at a hundred entry prices and more; two of its items fit into fractions of
    trucks alone."""
    assert sum(len(below(seed)) for seed in SEEDS) >= 102


@pytest.mark.parametrize("seed", SEEDS)
def test_confirmed_price_is_one_at_which_the_best_plan_uses_the_item(seed: int) -> None:
    """A plan made afresh, solved to the end, uses the item at the price told where it costs less than the one
    in hand; at the least price above that was tried, and where none is told even for nothing, it costs no
    less. What lies between is at most an eighth of the price."""
    case, plan, rows = priced(seed)
    for row in below(seed):
        found = confirmed_entry(case, plan, rows, row.item)
        used = [one for one in found.tried if one.enters]
        assert [one.price_usd for one in found.tried] == sorted(one.price_usd for one in found.tried)[::-1]
        assert any(one.price_usd == pytest.approx(0.999 * row.entry_usd) for one in found.tried)
        assert found.uses_at_usd == max((one.price_usd for one in used), default=None)
        if found.uses_at_usd is None:
            assert found.not_at_usd is None and found.tried[-1].price_usd == 0.0
        else:
            assert found.not_at_usd is not None
            assert 0.0 < found.not_at_usd - found.uses_at_usd <= row.price_usd / 8 + 0.01
        ends = [one for one in (found.tried[0], found.tried[-1]) if not used] or [
            one for one in found.tried if one.price_usd in (found.uses_at_usd, found.not_at_usd)]
        for one in ends:
            fresh = make_plan(at_price(case, row, one.price_usd))
            assert fresh.outcome.proof == "proved best"
            assert one.cost_usd == pytest.approx(fresh.outcome.cost_usd)
            assert one.enters or one.cost_usd >= plan.outcome.cost_usd - 0.01
            if one.cost_usd < plan.outcome.cost_usd - 0.01:
                assert one.enters and any(used.id == row.item for used in fresh.items)


def test_item_that_is_not_in_the_relaxation_for_nothing_is_tried() -> None:
    """Items of seeded cases that the relaxation does not use even for nothing are tried at their price and
    for nothing, and cost as much there as plans made afresh."""
    asked = list(islice(((seed, row) for seed in SEEDS for row in priced(seed)[2]
                         if row.standing == "not for nothing"), 2))
    assert len(asked) == 2
    for seed, row in asked:
        case, plan, rows = priced(seed)
        found = confirmed_entry(case, plan, rows, row.item)
        assert {row.price_usd, 0.0} <= {one.price_usd for one in found.tried} | (
            {0.0} if found.uses_at_usd == row.price_usd else set())
        for one in found.tried:
            fresh = make_plan(at_price(case, row, one.price_usd))
            assert one.cost_usd == pytest.approx(fresh.outcome.cost_usd)


def test_items_that_no_price_brings_in_say_why() -> None:
    """An owned item left out, one that cannot be had, one that fits nothing and one that is leased for
    nothing tell that, and cannot be confirmed."""
    case = small_case()
    trucks = tuple(replace(row, owned=1, upkeep_usd_per_year=90_000.0) if row.id == "ot" else row
                   for row in case.trucks)
    plows = (*case.plows, replace(case.plows[0], id="gone", available=0.0),
             replace(case.plows[0], id="iron", blade_mass_kg=9_000.0))
    case = replace(case, trucks=trucks, plows=plows)
    plan = make_plan(case)
    rows = entry_prices(case, plan, chosen(case, plan))
    standing = {row.item: row.standing for row in rows}
    assert standing["ot"] == "owned" and standing["gone"] == "none to be had"
    assert standing["iron"] == "no fitting build"
    for item in ("ot", "gone", "iron"):
        with pytest.raises(UsageError, match="no entry price"):
            confirmed_entry(case, plan, rows, item)


def test_ballast_that_no_build_needs_is_not_said_to_fit_nothing() -> None:
    """With the lightest plow alone no build of the small case overloads its front axle, so the bag is in
    none: it makes no build fit, and the plan is not told that it would not fit."""
    case = small_case()
    case = replace(case, plows=case.plows[:1])
    plan = make_plan(case)
    rows = {row.item: row for row in entry_prices(case, plan, chosen(case, plan))}
    assert rows["bag"].standing == "no fitting build"
    screen = why_text(why(case, plan), case)
    assert "makes no build fit or carry more" in screen and "fits on nothing" not in screen


# ---- limits of sites


def test_next_limits_are_the_clocks_above() -> None:
    """The small case asks for 120, 180 and 240 min on a grid of an hour: above the clinic's 120 come 180 and
    240; above the yard's 240 the grid goes on to twice of it."""
    case = small_case()
    assert next_limits(case, 120.0) == [180.0, 240.0]
    assert next_limits(case, 240.0) == [300.0, 360.0, 420.0, 480.0]
    odd = replace(case, sites=(replace(case.sites[0], plow_every_min=200.0), *case.sites[1:]))
    assert next_limits(odd, 120.0) == [180.0, 200.0, 240.0]


@cache
def limits(seed: int, n: int) -> SiteLimit:
    """Longer limits tried for one site of a seeded plan."""
    case, plan = planned(seed)
    return longer_limit(chosen(case, plan), case.sites[n].id)


@pytest.mark.parametrize(("seed", "n"), list(product(range(4), range(4))))
def test_limit_told_is_the_first_that_saves(seed: int, n: int) -> None:
    """For a site of a seeded case the costs told are those of plans made afresh with its limits changed here;
    all but the last save nothing."""
    case, plan = planned(seed)
    site = case.sites[n]
    found = limits(seed, n)
    assert found.now_min == min(found.now_min, *(m for m in (site.plow_every_min, site.deice_every_min) if m))
    for one in found.tried:
        looser = replace(site, plow_every_min=site.plow_every_min and max(site.plow_every_min, one.limit_min),
                         deice_every_min=site.deice_every_min and max(site.deice_every_min, one.limit_min))
        fresh = make_plan(replace(case, sites=(*case.sites[:n], looser, *case.sites[n + 1:]))).outcome
        assert one.cost_usd == pytest.approx(fresh.cost_usd)
        saved = plan.outcome.cost_usd - fresh.cost_usd
        assert (one.better_in, one.better_usd) == ("cost", pytest.approx(saved, abs=0.05))
        assert one.by_limit == (saved > 0.05)
    assert all(one.better_usd <= 0.0 for one in found.tried[:-1])


def test_some_limit_saves_something() -> None:
    """Among these seeded cases a longer limit saves money somewhere and nothing elsewhere."""
    last = [limits(seed, n).tried[-1] for seed in range(4) for n in range(4)]
    assert {one.better_usd > 0.0 for one in last} == {True, False}


PAID = ("cover", "profit", "value")


@cache
def paid(question: str, seed: int) -> tuple[Case, Plan]:
    """A seeded case of which sites may be left out, each paid a sum a season, and its best plan, which leaves
    some out."""
    cases = (seeded_case(1_000 * seed + k, question=question) for k in count())
    return next((case, plan) for case in cases if case.money.budget_usd < inf
                and (plan := make_plan(case)).trucks and not all(site.served for site in plan.sites))


def figures(case: Case, plan: Plan) -> dict[str, float]:
    """Cost, contract value served and left out of a plan of sites that are paid by the season."""
    pays = [site.pay_usd for site in case.sites]
    served = sum(pay for pay, site in zip(pays, plan.sites, strict=True) if site.served)
    return {"cost": plan.outcome.cost_usd or 0.0, "value": served, "left out": sum(pays) - served}


@cache
def tried(question: str, seed: int) -> dict[int, tuple[LimitTried, ...]]:
    """Longer limits tried for every site of such a case."""
    at = chosen(*paid(question, seed))
    return {n: longer_limit(at, site.id).tried for n, site in enumerate(at.made.case.sites)}


@pytest.mark.parametrize(("question", "seed"), list(product(PAID, range(2))))
def test_limit_is_better_by_the_question(question: str, seed: int) -> None:
    """With sites left out, each limit tried is told with cost and contract value of a plan made afresh; it is
    better by the fall of cost with the value left out (cover), by the rise of value less cost (profit), or by
    the rise of value and, at the same value, the fall of cost (value); the last alone is better."""
    case, plan = paid(question, seed)
    was = figures(case, plan)
    for n, limits_tried in tried(question, seed).items():
        for one in limits_tried:
            looser = replace(case.sites[n], **{
                name: max(limit, one.limit_min) for name in ("plow_every_min", "deice_every_min")
                if (limit := getattr(case.sites[n], name)) is not None})
            changed = replace(case, sites=(*case.sites[:n], looser, *case.sites[n + 1:]),
                              solve=replace(case.solve, gap=0.0))
            now = figures(changed, make_plan(changed))
            assert (one.cost_usd, one.contract_value_usd) == (
                pytest.approx(now["cost"]), pytest.approx(now["value"]))
            cheaper = was["cost"] - now["cost"]
            regained = now["value"] - was["value"]
            better = {"cover": cheaper + regained, "profit": cheaper + regained,
                      "value": regained or cheaper}[question]
            assert one.better_usd == pytest.approx(better, abs=0.05)
            assert one.better_in == {
                "cover": "cost and value left out" if regained else "cost", "profit": "profit",
                "value": "contract value" if regained else "cost"}[question]
            assert one.site_value_usd == 0.0
        assert all(one.better_usd <= 0.0 for one in limits_tried[:-1])


def test_seeds_above_have_each_kind_of_better() -> None:
    """Among the limits of the test above are some by which a plan regains value, and some that save cost."""
    told = {(question, one.better_in) for question in PAID for seed in range(2)
            for rows in tried(question, seed).values() for one in rows if one.better_usd > 0.0}
    assert told == {("cover", "cost"), ("cover", "cost and value left out"), ("profit", "profit"),
                    ("value", "cost"), ("value", "contract value")}


def test_site_paid_by_the_push_pays_less_with_a_longer_limit() -> None:
    """Lot a is pushed in 2 events of 270 min and 0.12 m, once more than ceil(270/limit) times, at 300 USD:
    4 times at 90 and 120 min, 3 times at 180, which pay 2 x 300 less. Lot b, 150 USD an event, pays the same.
    """
    at = chosen(CASE, PLAN)
    pays = {one.limit_min: one.site_value_usd for limit in (120.0, 180.0)
            for one in [longer_limits._tried(at, 0, limit, None)]}
    assert pays == {120.0: 0.0, 180.0: pytest.approx(-600.0)}
    assert longer_limits._tried(at, 1, 180.0, None).site_value_usd == 0.0


def test_site_left_out_that_would_pay_less_makes_nothing_better() -> None:
    """Lot b is 28 min of work and may be left out for pushes at 1 USD each, 0.06 m apart: in 2 events of 0.12
    m and 270 min min(ceil(270/limit), 2) + 1 = 3 at 90 min, and no fewer at 180: with the trigger at 0.03 m 4
    and 3, 2 USD a season less. That is less than any plow costs; the plan is the same, and not better."""
    lot_b = replace(CASE.sites[1], must_serve=False, pay_by="push", pay_usd=1.0, trigger_m=0.03)
    case = replace(CASE, sites=(CASE.sites[0], lot_b, CASE.sites[2]), solve=replace(CASE.solve, gap=0.0))
    plan = make_plan(case)
    assert [site.served for site in plan.sites] == [True, False, False]
    one = longer_limits._tried(chosen(case, plan), 1, 180.0, None)
    assert one.site_value_usd == pytest.approx(-2.0)
    assert (one.better_usd, one.by_limit) == (0.0, False)


# ---- nobody else


def no_ones(at: Written, **left: Any) -> set[tuple[str, bool, str | None]]:
    """Sites, whether a truck of its own does them, and else why not, with some limits changed."""
    changed = replace(at, made=replace(at.made, problem=replace(at.made.problem, **left)))
    told = next_best(at.made.case, at.plan, changed, own_fleet(at), [])
    return {(row.site, row.own_build is not None, row.no_one) for row in told}


def test_why_no_one_else_comes() -> None:
    """With no money, no driver or no item left, or no money and no driver, that is told of every stop that a
    truck of its own could make; of the only stop of a truck, that it does nothing else; of one that no build
    can make by itself, that there is none."""
    seed = next(seed for seed in range(30) if any(own for _, own, _ in no_ones(chosen(*planned(seed)))))
    at = chosen(*planned(seed))
    fleet, problem = own_fleet(at), at.made.problem
    owned = {site for site, own, _ in no_ones(at) if own}
    spent, loops = float(fleet.bought @ problem.price_usd), float(len(fleet.loops))
    none_left = np.where(problem.held, fleet.bought, fleet.bought + fleet.owned_used)
    for named, left in {
            "budget": {"budget_usd": spent}, "drivers": {"most_loops": loops},
            "items": {"available": none_left},
            "several limits": {"budget_usd": spent, "most_loops": loops}}.items():
        told = no_ones(at, **left)
        assert {site for site, own, why in told if not own and why == named} >= owned, named
    nowhere = np.full_like(problem.minutes, inf)
    assert {(own, why) for site, own, why in no_ones(at, minutes=nowhere) if site in owned} == {
        (False, "no build")}
    only = {at.made.case.sites[at.made.times.stops[one.stops[0]].site].id
            for one in at.choice.loops if len(one.stops) == 1}
    assert {site for site, _, why in no_ones(at) if why == "does nothing else"} == only


def told(*sites: NextBest, rooms: tuple[str | None, ...] = ()) -> Why:
    """Reasons with these rows of next best trucks, and loops with room for these sites."""
    loops = tuple(LoopReason(n, "x", "deadline", 1.0, "min", None, room, None if room is None else 5.0)
                  for n, room in enumerate(rooms, 1))
    return Why(of_plan(sp.PLAN), loops, sites, (), (), ())


def test_notes_explain_what_is_shown_and_nothing_else() -> None:
    """Room and Plus are explained where a row has them; the next truck where one can take a stop."""
    other, own, no_one = (NextBest("a", 1, "plow", 1, *row) for row in (
        (2, None, 5.0), (None, "x", 5.0), (None, None, None, "items")))
    assert "Room:" in loops_words(told(rooms=("a", None))) and "Without room" in loops_words(
        told(rooms=("a", None)))
    assert "oom" not in loops_words(told(rooms=(None, None)))
    assert "Without room" not in loops_words(told(rooms=("a", "b")))
    assert "Plus:" in next_words(told(other, own)) and "Plus:" not in next_words(told(other, no_one))
    assert next_words(told(no_one)) == ""


def test_no_one_else_says_why_in_words() -> None:
    """A truck's only stop has no one else; where nothing is left to mount, that is said."""
    rows = [NextBest("a", 1, "plow", 1, None, None, None, why) for why in ("does nothing else", "items")]
    assert [row[4] for row in next_table(told(*rows)).rows] == [
        "no one else; this truck has only this stop", "no one: no truck, plow or spreader is left"]


# ---- the user ends a search


class EndedAt:
    """Progress that ends the search it is called by for the n-th time, and every later one at once, as Ctrl-C
    does."""

    def __init__(self, n: int) -> None:
        self.left, self.begun = n, 0

    def __call__(self, at: Progress) -> None:
        self.begun += at.columns == 0 and at.seconds == 0.0
        self.left -= at.columns > 0
        if self.left < 0:
            raise KeyboardInterrupt


@pytest.mark.parametrize("question", ["cover", "value"])
def test_search_that_the_user_ends_is_not_told(question: str) -> None:
    """Ended at its first step, its last (in `value` of the second search) or between, solving again tells
    nothing."""
    case, plan = paid(question, 0)
    steps = Counted()
    assert solved_again(case, plan, steps) is not None
    assert steps.n >= 2
    for n in {0, steps.n // 2, steps.n - 1}:
        with pytest.raises(KeyboardInterrupt):
            solved_again(case, plan, EndedAt(n))


class Counted:
    """Progress that counts the steps of searches."""

    n = 0

    def __call__(self, at: Progress) -> None:
        self.n += at.columns > 0


def test_why_ends_with_what_was_solved_before() -> None:
    """Ctrl-C in the second of three questions keeps the first and all that needs no solving, says that it
    ended early, and begins no further search."""
    case, plan = planned(1)
    item = below(1)[0].item
    whole = why(case, plan, [item], [case.sites[0].id])
    steps = Counted()
    again = confirmed_entry(case, plan, whole.items, item, steps)
    ended = EndedAt(steps.n + 1)
    found = why(case, plan, [item, item], [case.sites[0].id], ended)
    assert found.confirmed == (again,) == whole.confirmed
    assert (found.limits, found.ended_early, whole.ended_early) == ((), True, False)
    assert (found.loops, found.sites, found.items) == (whole.loops, whole.sites, whole.items)
    assert ended.begun == len(again.tried) + 1
    assert "Ended early" in why_text(found, case) and "Ended early" not in why_text(whole, case)


# ---- words


def confirmed_at(uses: float | None, none: float | None) -> Confirmed:
    """An item tried twice."""
    return Confirmed("hop", uses, none, (PriceTried(100.0, False, 1.0, "proved best"),
                                         PriceTried(0.0, uses is not None, 1.0, "proved best")))


def test_words_of_what_was_confirmed() -> None:
    """The two prices between which an item enters are told, rounded outward."""
    rows = (EntryPrice("hop", "spreaders", 900.0, False, 500.0, "below"),)
    assert confirmed_words(confirmed_at(20.7, 99.2), rows) == (
        "Solved again: the plan found uses it at 20 USD and no longer at 100 USD: it enters between. "
        "The relaxation's price is 500 USD.")
    assert "at any price tried" in confirmed_words(confirmed_at(None, None), rows)
    assert "at 900 USD, its price as it is," in confirmed_words(confirmed_at(900.0, None), rows)


@pytest.mark.parametrize(("one", "said"), [
    (LimitTried(120, 900.0, 40.0, 0.0, "cost", 0.0, False, "proved best"),
     "by the question no plan found is better than with 60 min, up to 120 min."),
    (LimitTried(120, 900.0, 40.0, -6.0, "profit", 25.0, True, "proved best"),
     "a plan is better: contract value less cost rises by 25 USD a season. With the limit as it is no plan "
     "is as good. At 120 min the site's own contract pays 6 USD less a season."),
    (LimitTried(120, 900.0, 40.0, 0.0, "contract value", 25.0, False, "best found"),
     "it serves more contract value by 25 USD a season. How much of that is due to the limit is not proved"),
])
def test_words_of_a_longer_limit(one: LimitTried, said: str) -> None:
    """What is better is named by the question, and a contract that brings another sum is told."""
    assert said in limit_words(SiteLimit("a", 60.0, (one,)))


# ---- the command


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the small case, written."""
    folder = tmp_path_factory.mktemp("why") / "plan"
    assert run("plan", SMALL, "--out", folder).exit_code == 0
    return folder


def test_json_says_of_which_plan(made: Path) -> None:
    """The document has the case, the files' sha256 and the outcome of the plan, and the version."""
    plan = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    of = json.loads(run("why", made, "--json").stdout)["of_plan"]
    assert (of["case"], of["outcome"], of["version"]) == (plan["case"], plan["outcome"], plan["version"])


KEYS = {"loops": {"truck_no", "build", "limit", "left", "unit", "site", "room_for", "room_usd"},
        "sites": {"site", "truck_no", "work", "parcels", "next_truck_no", "own_build", "extra_usd",
                  "no_one"},
        "items": {"item", "table", "price_usd", "leased", "entry_usd", "standing"},
        "confirmed": {"item", "uses_at_usd", "not_at_usd", "tried"},
        "limits": {"site", "now_min", "tried"}}


def test_json_has_every_key(made: Path) -> None:
    """`--json` prints a row for every truck, every site served and every item left out, each with all keys,
    and what was solved again."""
    done = run("why", made, "--site", "clinic", "--json")
    assert done.exit_code == 0 and done.stderr == ""
    tree = json.loads(done.stdout)
    assert tree.pop("format") == "optibuild-why/1"
    assert tree.pop("ended_early") is False and tree.pop("of_plan")
    assert set(tree) == set(KEYS)
    assert all(set(row) == KEYS[name] for name, rows in tree.items() for row in rows)
    plan = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    assert [row["truck_no"] for row in tree["loops"]] == [truck["truck_no"] for truck in plan["trucks"]]
    assert [row["site"] for row in tree["sites"]] == [
        site["id"] for site in plan["sites"] for _ in site["works"]]
    items = {item.id for item in small_case().items}
    assert {row["item"] for row in tree["items"]} == items - {item["id"] for item in plan["items"]}
    (limit,) = tree["limits"]
    assert limit["site"] == "clinic" and limit["now_min"] == 120.0


def test_screen_says_what_was_solved_again(made: Path) -> None:
    """The tables come in order within 80 columns; what was solved again is told apart from the bound."""
    tree = json.loads(run("why", made, "--json").stdout)
    item = next(row["item"] for row in tree["items"] if row["standing"] == "below")
    done = run("why", made, "--site", "clinic", "--confirm", item)
    assert done.exit_code == 0 and done.stderr == ""
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    heads = ["Why this plan: small", "Next best truck", "Items that the plan does not use",
             f"Confirmed: {item}", "Cycle limit of clinic"]
    at = [lines.index(head) for head in heads]
    assert at == sorted(at)
    assert done.stdout.count("Solved again:") == 2 and "Computed on the relaxation" in done.stdout


@pytest.mark.parametrize(("words", "said"), [
    (("--confirm", "hopp"), "did you mean 'hop'"), (("--site", "clinik"), "did you mean 'clinic'")])
def test_unknown_names_are_refused(made: Path, words: tuple[str, ...], said: str) -> None:
    """An item or a site that is not there is refused before anything is solved, with the nearest name."""
    done = run("why", made, *words)
    assert done.exit_code == 2 and said in done.stderr.replace("\n  ", " ") and done.stdout == ""


def test_plan_without_trucks_is_refused(made: Path, tmp_path: Path) -> None:
    """A plan that holds no fleet has nothing to explain."""
    tree = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    (tmp_path / "plan.json").write_text(json.dumps(tree | {"trucks": []}), encoding="utf-8")
    done = run("why", tmp_path)
    assert done.exit_code == 2 and "no trucks" in done.stderr


def test_changed_plan_is_not_explained(made: Path, tmp_path: Path) -> None:
    """A plan with a figure changed by hand fails its recheck, and nothing is told of it."""
    tree = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    tree["trucks"][0]["loop"]["duration_min"] += 1.0
    (tmp_path / "plan.json").write_text(json.dumps(tree), encoding="utf-8")
    done = run("why", tmp_path)
    assert done.exit_code == 6 and done.stdout == ""

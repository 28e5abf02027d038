"""Loops in a given order and in the best one, against every order and every choice of reloads."""

import json
from dataclasses import replace
from itertools import permutations
from math import inf, pi
from pathlib import Path

import numpy as np
import pytest
from loop_problems import closed, simple
from order_cases import (
    Question,
    all_orders,
    arrays,
    best_of_all,
    given,
    least_min,
    recounted,
    seeded,
    with_end,
)
from second_solver import least_objective
from times_case import FULL, LEGS, SITE, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import clocks, evaluate_loop, loop_report, service_times
from optibuild.cycle_time.loops import loop_times, rounds_of
from optibuild.cycle_time.orders import shortest
from optibuild.errors import UsageError
from optibuild.records import NONE, Case, Depot, Leg, LoopReport, LoopTimes
from optibuild.report.loop_screen import loop_document, loop_text

TOUR = json.loads((Path(__file__).parent / "data" / "published" / "tour_of_13_cities.json").read_text())


def best(asked: Question) -> LoopTimes | None:
    """The engine's best order of all stops of a question, however long its loop takes."""
    first, *last = rounds_of(*arrays(asked), 0, 0, range(asked.count))
    found = shortest([replace(first, within_min=inf), *last])
    return None if found is None else loop_times([first, *last], range(asked.count), *found)


def in_order(asked: Question, *order: int) -> LoopTimes | None:
    """The engine's loop in a given order."""
    return evaluate_loop(*arrays(asked), 0, 0, order or range(asked.count))


def minutes_of(loop: LoopTimes | None) -> tuple[float, ...] | None:
    """Minutes of each kind of round."""
    return loop and (loop.duration_min, *([loop.end.duration_min] if loop.end else []))


def agree(loop: LoopTimes | None, expected: tuple[float, ...] | None) -> bool:
    """Whether both find nothing, or the same minutes of each kind of round."""
    found = minutes_of(loop)
    if found is None or expected is None:
        return found is expected
    return found == pytest.approx(expected, abs=2e-6)


# ---- against trying everything


@pytest.mark.parametrize("seed", range(300))
def test_the_best_order_is_the_best_of_all(seed: int) -> None:
    """Among all orders and all choices of reloads of up to five stops, with last rounds, deadlines, one-way
    roads and two depots, none is shorter than the one found; what is found keeps all limits step by step."""
    asked = seeded(seed, 1 + seed % 5)
    loop = best(asked)
    assert agree(loop, best_of_all(asked))
    assert loop is None or recounted(asked, loop) == pytest.approx(minutes_of(loop))


@pytest.mark.parametrize(("seed", "count"), [*((seed, 6) for seed in range(12)), (20, 7), (23, 7), (26, 7)])
def test_the_best_order_of_more_stops(seed: int, count: int) -> None:
    """The same with six and seven stops."""
    asked = seeded(seed, count)
    loop = best(asked)
    assert agree(loop, best_of_all(asked))
    assert loop is None or recounted(asked, loop) == pytest.approx(minutes_of(loop))


@pytest.mark.parametrize("seed", range(60))
def test_a_given_order_has_its_best_reloads(seed: int) -> None:
    """In a drawn order each kind of round takes the least minutes of all choices of reloads, whatever it may
    take; there is no loop where no choice keeps fill and deadlines."""
    asked = seeded(seed, 2 + seed % 5)
    order = tuple(np.random.default_rng(seed).permutation(asked.count).tolist())
    least = tuple(least_min(asked, one, order) for one in asked.rounds)
    assert agree(in_order(asked, *order), None if inf in least else least)


@pytest.mark.parametrize("seed", [13, 21, 31, 40, 49, 57, 63, 73, 141, 191, 229])
def test_a_last_round_may_take_exactly_its_time(seed: int) -> None:
    """Where shorter repeated rounds mean longer last ones, a time for the last round that is exactly met buys
    the shorter loop, and a thousandth of a minute less does not."""
    asked = seeded(seed, 5)
    assert asked.end is not None
    every = sorted(set(all_orders(replace(asked, end=replace(asked.end, most_min=inf)))))
    efficient = [one for n, one in enumerate(every) if all(one[1] < other[1] for other in every[:n])]
    assert len(efficient) > 1
    for n, expected in enumerate(efficient):
        assert agree(best(_within(asked, expected[1])), expected)
        following = efficient[n + 1] if n + 1 < len(efficient) else None
        assert agree(best(_within(asked, expected[1] - 0.001)), following)


def _within(asked: Question, last_min: float) -> Question:
    """The question with another time for its last round, the reserve aside."""
    limits = asked.end_limit_min
    assert limits is not None
    return replace(asked, end_limit_min=np.where(np.isfinite(limits), last_min + asked.reserve_min, inf))


@pytest.mark.parametrize(("seed", "count"), [(0, 8), (1, 8), (2, 8), (4, 9)])
def test_eight_and_nine_stops_in_every_order(seed: int, count: int) -> None:
    """Without material, on one-way roads and with the last two stops of the shortest tour due early, the best
    order of eight and nine stops is the best of all 40,320 and 362,880, and longer than that tour."""
    rng = np.random.default_rng([8, seed])
    drive = closed(rng.integers(3, 40, (count + 1, count + 1)).astype(float) * (1 - np.eye(count + 1)))
    free = given(drive, rng.integers(0, 9, count).tolist())
    shortest = best(free)
    assert shortest is not None
    early = np.isin(np.arange(count), shortest.stops[-2:])
    due = np.where(early, 0.6 * shortest.duration_min, inf)
    hurried = replace(free, plain=replace(free.plain, deadline_min=due))
    loop = best(hurried)
    assert agree(loop, best_of_all(hurried, reloads=False))
    assert loop is not None and loop.duration_min > shortest.duration_min


# ---- against published values and another solver


def test_the_shortest_tour_of_thirteen_cities() -> None:
    """From the first of 13 cities through the 12 others and back, the best order is as short as the published
    shortest tour: 7,293 miles (a mile taken as a minute)."""
    loop = best(given(TOUR["miles"], [0.0] * 12))
    assert loop is not None and loop.duration_min == TOUR["shortest_tour"]
    tour = [0, *(n + 1 for n in loop.stops), 0]
    assert sum(TOUR["miles"][a][b] for a, b in zip(tour, tour[1:], strict=False)) == TOUR["shortest_tour"]


@pytest.mark.parametrize(("count", "reloads"), [(9, True), (12, False)], ids=["reloads", "dry"])
@pytest.mark.parametrize("seed", range(5))
def test_many_stops_against_another_solver(seed: int, count: int, reloads: bool) -> None:
    """With nine stops of more than two fills of material, and with twelve without any, some with deadlines,
    in whole minutes, the best order takes what a constraint solver proves to be the least."""
    rng = np.random.default_rng([12, seed])
    drive = closed(np.rint(rng.uniform(2, 20, (count + 1, count + 1))) * (1 - np.eye(count + 1)))
    minutes, mass = rng.integers(2, 9, count), rng.integers(40, 100, count) * reloads
    due = np.where(rng.random(count) < 0.25, rng.integers(30, 90, count), inf)
    fill = float(mass.sum() // 2.2 + 1)
    loop = best(given(drive, minutes.tolist(), mass.tolist(), due.tolist(), fill_kg=fill, reload_min=7.0))
    by_other = least_objective(simple(
        minutes[None, :].astype(float), drive, 200.0, fixed_usd=np.zeros(1), deadline_min=due,
        material_kg=mass.astype(float), fill_kg=np.array([fill]), reload_min=np.array([7.0]), most_loops=1.0))
    assert (loop.duration_min if loop else inf) == by_other + minutes.sum()
    assert loop is None or (loop.reloads > 2) == reloads


# ---- by hand


LINE = np.array([0.0, 2.0, 5.0, 9.0])
ROAD = np.abs(LINE[:, None] - LINE[None, :])
"""A straight road: the depot, then stops after 2, 5 and 9 min."""


def on_the_road(fill_kg: float, due_min: tuple[float, ...] = (inf, inf, inf), **changes: object) -> Question:
    """Three stops on the road of 4 min and 50 kg each; a reload takes 8 min."""
    return given(ROAD, [4.0] * 3, [50.0] * 3, list(due_min), fill_kg=fill_kg, reload_min=8.0, **changes)


def test_the_reload_goes_where_it_costs_least() -> None:
    """150 kg with a fill of 100 need one reload on the way. The nearest stop alone and the two others are
    driven in 2 x 2 + 2 x 9 = 22 min, the other pairs in 2 x 5 + 2 x 9 = 28. 22 + 3 x 4 of work + 2 x 8 of
    reloads = 50 min."""
    loop = best(on_the_road(100.0))
    assert loop is not None and loop.duration_min == 50.0
    assert loop.drive_min == 22.0 and loop.reloads == 2 and loop.reload_min == 16.0
    assert loop.distance_m == 22_000.0 and loop.slack_min == 10.0 and loop.in_time


def test_deadlines_may_cost_a_detour() -> None:
    """Where the nearest stop is due after 6 min and the next after 15, both are made first (2 to 6, 9 to 13);
    only then is the truck home (18), full (26) and at the third (35 to 39): back at 48, full at 56."""
    loop = best(on_the_road(100.0, (6.0, 15.0, inf)))
    assert loop is not None and loop.stops == (0, 1, 2) and loop.reload_before == (False, False, True)
    assert loop.arrive_min == (2.0, 9.0, 35.0) and loop.leave_min == (6.0, 13.0, 39.0)
    assert loop.duration_min == 56.0
    assert best(on_the_road(100.0, (6.0, 12.9, inf))) is None


def test_loop_times_by_hand() -> None:
    """Arriving, leaving, one reload on the way and one at the end, minute by minute."""
    sites = (replace(SITE, parcels=1), replace(SITE, id="next", lat_deg=46.0, parcels=1))
    legs = (*LEGS, Leg("depot", "next", 4.0, 2000.0), Leg("next", "depot", 5.0, 2500.0),
            Leg("site", "next", 6.0, 3000.0))
    case, builds = plain_case(sites=sites, travel=legs), plain_builds(FULL, fill_kg=20.0)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    loop = evaluate_loop(case, builds, times, 0, 0, [0, 1])
    stop = 5.1 + 5 * (0.5 + pi * 6 / 100) / 0.5
    assert loop is not None
    # 15 + 15 kg exceed 20: home past the next site (6 + 5 = 11 < 12 min), reload 8, out again 4
    assert loop.reload_before == (False, True) and loop.reloads == 2 and loop.reload_min == 16.0
    assert loop.arrive_min == pytest.approx((10.0, 10.0 + stop + 11 + 8 + 4))
    assert loop.leave_min == pytest.approx((10.0 + stop, 33.0 + 2 * stop))
    assert loop.drive_min == pytest.approx(10 + 11 + 4 + 5)
    assert loop.distance_m == pytest.approx(5000 + 5500 + 2000 + 2500)
    assert loop.duration_min == pytest.approx(33 + 2 * stop + 5 + 8)
    assert loop.slack_min == pytest.approx(60 - loop.duration_min) and not loop.in_time


def salted_last(fill_kg: float, last_min: float = 100.0) -> Question:
    """Two stops on the road: the first, after 2 min, is plowed in 6 min, in the last round salted in 2 more,
    30 kg; the second, after 5 min, is only salted then, 20 kg in 3 min. A reload takes 8 min."""
    plowed = given(ROAD[:3, :3], [6.0, 0.0], fill_kg=fill_kg, reload_min=8.0)
    return with_end(plowed, [False, True], [8.0, 3.0], [30.0, 20.0], [last_min, last_min])


def test_the_last_round_by_hand() -> None:
    """The rounds before it only plow: out 2, work 6, home 2, without a reload. The last one makes both stops:
    2 to 10, 13 to 16, home at 21, full at 29."""
    loop = in_order(salted_last(50.0))
    assert loop is not None and loop.end is not None
    assert loop.arrive_min == (2.0, None) and loop.leave_min == (8.0, None)
    assert (loop.duration_min, loop.drive_min, loop.reloads, loop.distance_m) == (10.0, 4.0, 0, 4000.0)
    assert loop.end.arrive_min == (2.0, 13.0) and loop.end.leave_min == (10.0, 16.0)
    assert (loop.end.duration_min, loop.end.drive_min, loop.end.reload_min) == (29.0, 10.0, 8.0)
    assert loop.end.within_min == 100.0 and loop.end.slack_min == 71.0


def test_a_reload_in_the_last_round_only() -> None:
    """With a fill of 40 kg the last round goes home between its stops (12), is full at 20, salts from 25 to
    28, is home at 33 and full at 41; the rounds before it stay as they are."""
    loop = in_order(salted_last(40.0))
    assert loop is not None and loop.end is not None
    assert loop.reload_before == (False, False) and loop.duration_min == 10.0
    assert loop.end.reload_before == (False, True) and loop.end.reloads == 2
    assert loop.end.arrive_min == (2.0, 25.0) and loop.end.duration_min == 41.0


def test_a_loop_that_waits_for_the_last_round_altogether() -> None:
    """A loop of the second stop alone has but a last round, which takes 5 + 3 + 5 + 8 = 21 min."""
    loop = in_order(salted_last(50.0), 1)
    assert loop is not None and loop.end is not None
    assert loop.arrive_min == (None,) and loop.duration_min == loop.drive_min == loop.distance_m == 0.0
    assert loop.end.duration_min == 21.0


def test_equal_is_feasible() -> None:
    """The clock, a deadline, the fill and the time of the last round may be met exactly; where there is noise
    beyond them, nothing is left, and where a thousandth is missing, the limit is broken."""
    exact = in_order(on_the_road(150.0, (6.0, inf, inf), limit_min=38.0))  # 18 + 3 x 4 + 8
    assert exact is not None and exact.in_time and exact.slack_min == 0.0 and exact.reloads == 1
    noisy = in_order(on_the_road(150.0 * (1 - 1e-10), (6.0 - 1e-7, inf, inf), limit_min=38.0 - 1e-7))
    assert noisy is not None and noisy.in_time and noisy.slack_min == 0.0 and noisy.reloads == 1
    short = in_order(on_the_road(150.0, limit_min=37.999))
    assert short is not None and not short.in_time and short.slack_min == pytest.approx(-0.001)
    late = in_order(on_the_road(149.999))
    assert late is not None and late.reloads == 2
    assert in_order(on_the_road(150.0, (5.999, inf, inf))) is None
    assert best(salted_last(50.0, 29.0)) is not None and best(salted_last(50.0, 28.999)) is None


def test_the_reserve_is_kept_in_both_kinds_of_round() -> None:
    """Five minutes of reserve leave five minutes less of the clock and of the last round's time."""
    kept = replace(salted_last(50.0), limit_min=20.0, reserve_min=5.0)
    loop = in_order(kept)
    assert loop is not None and loop.end is not None
    assert loop.slack_min == 20 - 10 - 5 and loop.end.slack_min == 100 - 29 - 5
    assert best(_within(kept, 29.0)) is not None and best(_within(kept, 28.999)) is None


@pytest.mark.parametrize(("asked", "limit", "left", "at"), [
    (on_the_road(1000.0, limit_min=40.0), "cycle limit", 2.0, None),  # 2 of 40 left
    (on_the_road(200.0), "fill", 50.0, 2),  # 50 of 200 left after the third; 22 of 60 of the clock
    (on_the_road(1000.0, (inf, 15.0, inf)), "deadline", 2.0, 1),  # left at 13
    (salted_last(1000.0, 30.0), "end round", 1.0, None),
    (replace(on_the_road(800.0), strength=0.25), "fill", 200.0, 2),  # 50 kg dry are 200 kg of a 25 % brine
], ids=["clock", "fill", "deadline", "last round", "brine"])
def test_the_limit_that_binds(asked: Question, limit: str, left: float, at: int | None) -> None:
    """The limit with the least share of itself left is named, with what is left of it and at which stop."""
    loop = in_order(asked)
    assert loop is not None
    assert (loop.binds.limit, loop.binds.at) == (limit, at) and loop.binds.left == pytest.approx(left)


def test_no_way_home_is_no_loop() -> None:
    """A stop from which no way leads back is in no loop, and one to which none leads neither."""
    for shut in ((2, 0), (0, 2)):
        cut = ROAD[:3, :3].copy()
        cut[shut] = cut[shut[0], 1] = cut[1, shut[1]] = inf
        assert best(given(cut, [4.0, 4.0])) is None and in_order(given(cut, [4.0, 4.0])) is None


def test_more_stops_than_can_be_ordered() -> None:
    """Thirteen stops are refused in words; a given order of them is not."""
    many = given(np.ones((14, 14)) - np.eye(14), [1.0] * 13)
    with pytest.raises(UsageError, match="at most 12 stops, and 13"):
        best(many)
    assert in_order(many) is not None


# ---- reports


def three_sites(**changes: object) -> Case:
    """Three sites, some 1 to 4 km north of the second of two depots; the first depot is 11 km south of it."""
    sites = tuple(replace(SITE, id=f"s{n}", area_m2=500.0, parcels=1, lat_deg=45.01 + 0.0125 * n,
                          plow_every_min=240.0 - 60.0 * n, deice_every_min=240.0) for n in range(3))
    depots = (Depot("far", 44.9, -90.0, 8.0, 150.0), Depot("near", 45.0, -90.0, 8.0, 150.0))
    return plain_case(**{"sites": sites, "depots": depots, "travel": ()} | changes)


def reported(case: Case, *sites: str, parts: tuple[int, int, int] = FULL) -> tuple[LoopReport, str]:
    """The engine's report of the only build, and its text."""
    builds = plain_builds(parts)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    found = loop_report(case, builds, times, 0, sites)
    return found, loop_text(case, builds, times, found)


def test_the_loop_of_whole_sites() -> None:
    """A build asked for three sites, one of them twice, holds their tightest cycle limit, 120 min, and drives
    the shortest of all orders from either depot."""
    case, builds = three_sites(), plain_builds(FULL)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    clock = times.clocks_min.tolist().index(120.0)
    every = [(loop.duration_min, crewed) for crewed in (0, 1) for order in permutations(range(3))
             if (loop := evaluate_loop(case, builds, times, crewed, clock, order)) is not None]
    found = loop_report(case, builds, times, 0, ["s2", "s0", "s1", "s0"])
    assert found.loop is not None and len(every) == 12
    assert found.loop.duration_min == pytest.approx(min(every)[0]) and found.crewed == min(every)[1] == 1
    assert found.loop.within_min == 120.0 and sorted(found.loop.stops) == [0, 1, 2]


def test_all_parcels_and_works_are_one_stop() -> None:
    """A site in three parcels whose works may be split is made in one stop: three parcels, both works."""
    case = plain_case(sites=(replace(SITE, parcels=3, split_works=True),))
    builds = plain_builds(FULL)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    loop = loop_report(case, builds, times, 0, ["site"]).loop
    assert loop is not None
    assert [(times.stops[s].parcels, times.stops[s].work) for s in loop.stops] == [(3, "both")]


def test_what_a_build_cannot_do_alone_is_told() -> None:
    """A build without a spreader needs one; one that comes 3 min after a deadline misses it by 3 min."""
    found, text = reported(three_sites(), "s0", "s2", parts=(0, 0, NONE))
    assert found.loop is None
    assert [(row.site, row.reason) for row in found.out_of_reach] == [
        ("s0", "needs a plow and a spreader"), ("s2", "needs a plow and a spreader")]
    assert "  - s2, both: needs a plow and a spreader" in text
    done = 10.0 + 5.1 + 5 * (0.5 + pi * 6 / 100) / 0.5  # as in the loop by hand
    found, text = reported(plain_case(sites=(replace(SITE, parcels=1, deadline_min=done - 3.0),)), "site")
    assert [(row.reason, row.unit) for row in found.out_of_reach] == [("deadline", "min")]
    assert found.out_of_reach[0].over_by == pytest.approx(3.0)
    assert "  - site, both: deadline, missed by 3.0 min" in text


@pytest.mark.parametrize(("changes", "limit"), [
    ({"deadline_min": 25.0}, "deadline"),
    ({"deice_when": "end", "end_within_min": 40.0}, "end round"),
    ({"plow_every_min": 45.0, "deice_every_min": 45.0}, "cycle limit")], ids=lambda value: str(value)[:20])
def test_a_loop_that_no_order_makes_possible_is_told(changes: dict[str, object], limit: str) -> None:
    """Where each of three sites is possible alone and no order keeps a limit of all, the shortest order is
    shown with the limit that it breaks most."""
    sites = tuple(replace(site, **changes) for site in three_sites().sites)
    alone = [reported(three_sites(sites=sites), site.id)[0].loop for site in sites]
    assert all(loop is not None and loop.binds.left >= 0 for loop in alone)
    found, text = reported(three_sites(sites=sites), "s0", "s1", "s2")
    assert found.loop is not None and found.loop.binds.limit == limit and found.loop.binds.left < 0
    assert f"Broken      {limit}" in text and "No order of these stops keeps all" in text


def test_a_build_that_does_not_fit_has_no_loop() -> None:
    """The text of a rejected build says where its reasons are told."""
    case, builds = three_sites(), plain_builds(FULL)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    heavy = replace(builds, fits=np.array([False]))
    text = loop_text(case, heavy, times, LoopReport(0, 0, None, None, ()))
    assert "does not fit: `optibuild fit CASE --explain truck+plow+spreader`" in text.replace("\n", " ")


def test_the_screen_of_a_loop() -> None:
    """The example with a reload in the last round only, line by line; no line is wider than 80 columns."""
    asked = salted_last(40.0)
    loop, (case, builds, times) = in_order(asked), arrays(asked)
    assert loop is not None
    text = loop_text(case, builds, times, LoopReport(0, 0, 0, loop, ()))
    assert text.splitlines()[2:6] == [
        "Loop        10.0 of 60 min, 50.0 min left; driving 4.0 min over 4.0 km",
        "Last round  41.0 of 100 min, 59.0 min left; driving 14.0 min over 14.0 km, 2",
        "            reloads",
        "Binds       fill after s0, 10.0 kg left"]
    rows = [" ".join(line.split()) for line in text.splitlines()]
    assert "s0 plow, deice last 2.0 8.0 - 2.0 10.0" in rows
    assert "s1 deice last - - - 25.0 28.0" in rows and "depot 0, ready - - 10.0 - - 41.0" in rows
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(("often", "last", "words"), [
    (True, True, "reload at depot 0"), (True, False, "reload at depot 0, not the last round"),
    (False, True, "reload at depot 0, the last round only")], ids=["both", "not the last", "the last"])
def test_which_round_reloads_is_said(often: bool, last: bool, words: str) -> None:
    """A reload before the second stop stands in its own row, with the kind of round that it belongs to."""
    asked = salted_last(50.0)
    loop = in_order(asked)
    assert loop is not None and loop.end is not None
    shown = replace(loop, reload_before=(False, often), end=replace(loop.end, reload_before=(False, last)))
    text = loop_text(*arrays(asked), LoopReport(0, 0, 0, shown, ()))
    assert f"{words} s1 " in " ".join(word for word in text.split() if word != "-")


def test_the_document_of_a_loop() -> None:
    """The same example with the names of plan.json; it is plain JSON."""
    asked = salted_last(40.0)
    case, builds, times = arrays(asked)
    document = loop_document(case, builds, times, LoopReport(0, 0, 0, in_order(asked), ()))
    told = json.loads(json.dumps(document, allow_nan=False))
    assert told["build"] == "truck+plow+spreader" and told["depot"] == "depot 0"
    assert told["loop"]["keeps_all_limits"] and told["loop"]["cycle_limit_min"] == 60.0
    assert told["loop"]["binds"] == {"limit": "fill", "left": 10.0, "unit": "kg", "stop_no": 1}
    assert told["loop"]["end_round"] == {
        "within_min": 100.0, "duration_min": 41.0, "slack_min": 59.0, "drive_min": 14.0, "reload_min": 16.0,
        "distance_m": 14_000.0, "reloads": 2}
    assert told["loop"]["stops"][1] == {
        "site": "s1", "parcels": 1, "work": "deice", "deice_when": "end", "reload_before": False,
        "arrive_min": None, "leave_min": None, "deadline_min": None, "end_reload_before": True,
        "end_arrive_min": 25.0, "end_leave_min": 28.0}

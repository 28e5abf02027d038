"""The recheck of end rounds: a plan worked out by hand passes, and every planted fault is caught."""

from dataclasses import replace

import end_plan as ep
import pytest

from optibuild.plan import recheck
from optibuild.plan.recheck_loops import drive_loops
from optibuild.plan.recheck_season import deicings, rounds, stop_season
from optibuild.plan.recheck_tasks import task
from optibuild.plan.recheck_trucks import mounted
from optibuild.records import Case, Check, Plan


def failed(plan: Plan, case: Case) -> dict[str, Check]:
    """The checks that a plan fails, by name."""
    return {row.name: row for row in recheck(plan, case).checks if not row.passed}


def test_hand_made_plan_with_an_end_round_passes() -> None:
    """A plan with works of the last round, every number worked out by hand, keeps every promise."""
    assert failed(ep.PLAN, ep.CASE) == {}


def test_end_round_is_driven_by_its_own_clock() -> None:
    """The plain round passes lot c over and takes 65 min; the end round reloads before it and takes 93.5."""
    loop = drive_loops(ep.PLAN, mounted(ep.PLAN, ep.CASE), ep.CASE)[0]
    assert loop.plain.arrive_min == (4, None, pytest.approx(4 + 18 + 9))
    assert loop.plain.duration_min == pytest.approx(31 + 28 + 6)
    assert loop.plain.loads_kg == (0,)
    assert loop.end is not None
    assert loop.end.arrive_min == pytest.approx((4, 25 + 4 + 5 + 3, 47.5 + 7))
    assert loop.end.duration_min == pytest.approx(54.5 + 28 + 6 + 5)
    assert loop.end.loads_kg == pytest.approx((120, 300))


def test_margins_of_the_end_round_are_those_worked_out_by_hand() -> None:
    """105 min less the end round's 93.5 and 10 in reserve; a fill of 400 less the 300 of lot c; a plain round
    of 90 less 65 and 10."""
    found = {row.name: row for row in recheck(ep.PLAN, ep.CASE).checks}
    assert found["end round within its time"].worst == pytest.approx(105 - 93.5 - 10)
    assert found["end round within its time"].where == "truck 1, end round"
    assert found["end round fill between reloads"].worst == pytest.approx(400 - 300)
    assert found["loop within its cycle limit"].worst == pytest.approx(90 - 65 - 10)


ARRIVALS, TOTALS, FILL, TIME = ("end round arrivals", "end round totals", "end round fill between reloads",
                                "end round within its time")
MONEY = {"truck seasons", "season by kind", "cost and objective", "cost of each site", "price of each site"}

# What the plan says wrongly, with every check that must catch it and no other.
PLAN_FAULTS: dict[str, tuple[Plan, set[str]]] = {
    "plowing stated short": (ep.with_stop(0, plow_min=14), {"service minutes"}),
    "deicing of the end round stated short": (ep.with_stop(1, deice_min=5), {"service minutes"}),
    "half the material": (ep.with_stop(1, material_kg=150), {"material"}),
    "deicing said to be done each round": (ep.with_stop(0, deice_when="each"), {"stops"}),
    "deicing said of a stop that has none": (ep.with_stop(2, deice_when="end"), {"stops"}),
    "deicing said not to be done": (ep.with_stop(1, deice_when=None), {"stops"}),
    "an arrival where nobody comes": (ep.with_stop(1, arrive_min=27, leave_min=30), {"arrivals"}),
    "a deadline of the end round": (ep.with_stop(1, deadline_min=40), {"arrivals"}),
    "an arrival of the end round a minute early": (ep.with_stop(2, end_arrive_min=53.5), {ARRIVALS}),
    "a leaving of the end round a minute early": (ep.with_stop(1, end_leave_min=46.5), {ARRIVALS}),
    "no arrival in the end round": (ep.with_stop(0, end_arrive_min=None), {ARRIVALS}),
    "nothing said of a reload in the end round": (ep.with_stop(0, end_reload_before=None), {ARRIVALS}),
    "an end round of a shorter time": (ep.with_end_round(duration_min=92.5), {TOTALS}),
    "an end round with more time": (ep.with_end_round(within_min=120), {TOTALS}),
    "driving of the end round stated short": (ep.with_end_round(drive_min=23), {TOTALS}),
    "reloading of the end round stated short": (ep.with_end_round(reload_min=5), {TOTALS}),
    "a reload of the end round not counted": (ep.with_end_round(reloads=1), {TOTALS}),
    # 12 x 100 m less at 0.00031 of fuel and 0.0001 of wear
    "a shorter way in the end round": (ep.with_end_round(distance_m=13_000), {"loop distance", *MONEY}),
    "no end round": (ep.with_loop(end_round=None), {TOTALS, *MONEY}),
    # straight from a to c: 420 of salt in one load, 6 min sooner there, one reload less
    "a reload of the end round left out": (ep.with_stop(1, end_reload_before=False), {
        ARRIVALS, TOTALS, FILL, "loop distance", "truck hours", *MONEY}),
    # the plain round goes by the yard before lot b: 4 + 5 + 6 min instead of 9
    "a reload on the way past a stop": (ep.with_stop(1, reload_before=True), {
        "arrivals", "loop totals", "loop distance", "site rows", "truck hours", *MONEY}),
    "a cycle limit of a work of the end round": (ep.with_works(2, cycle_limit_min=90), {"site rows"}),
    "a revisit of a work of the end round": (ep.with_works(2, revisit_min=65), {"site rows"}),
    "a revisit of the end round's length": (ep.with_works(0, revisit_min=93.5), {"site rows"}),
}


@pytest.mark.parametrize("fault", PLAN_FAULTS)
def test_untrue_statement_is_caught_by_its_check(fault: str) -> None:
    """One wrong statement about the end round fails exactly the checks that are about it."""
    plan, expected = PLAN_FAULTS[fault]
    assert set(failed(plan, ep.CASE)) == expected


# A limit set just below what the plan does: the check, the case, the worst margin, its place.
CASE_FAULTS: dict[str, tuple[str, Case, float, str]] = {
    "an end round half a minute too long": (TIME, ep.case_site(0, end_within_min=103), -0.5,
                                            "truck 1, end round"),
    "an end round too long for the stop passed over": (TIME, ep.case_site(2, end_within_min=100), -3.5,
                                                       "truck 1, end round"),
    "a reserve that the end round has not": (TIME, replace(ep.CASE, solve=replace(
        ep.CASE.solve, reserve_min=12)), -0.5, "truck 1, end round"),
    "more than the hopper holds at the end": (FILL, ep.case_site(2, deice_rate_kg_per_m2=0.41), -10,
                                              "truck 1, end round, load 2"),
    "plowed too seldom": ("cycle limit of every stop", ep.case_site(0, plow_every_min=80), -10,
                          "truck 1, stop 1 at a"),
    "plowed after the deadline": ("deadlines", ep.case_site(0, deadline_min=21), -1, "truck 1, stop 1 at a"),
    "deicing asked in every round": ("stops", ep.case_site(0, deice_when="each"), -1,
                                     "truck 1, stop 1 at a, deiced when"),
}


@pytest.mark.parametrize("fault", CASE_FAULTS)
def test_broken_promise_is_caught_with_its_margin_and_place(fault: str) -> None:
    """A limit just below what the end round does is caught by its check, by how much and where."""
    name, case, margin, where = CASE_FAULTS[fault]
    found = failed(ep.PLAN, case)[name]
    assert found.worst == pytest.approx(margin, abs=1e-9)
    assert found.where == where


def test_every_check_of_the_end_round_can_fail() -> None:
    """Each check named after the end round is failed by one of the faults planted here."""
    faults: list[tuple[Plan, Case]] = [(plan, ep.CASE) for plan, _ in PLAN_FAULTS.values()]
    faults += [(ep.PLAN, case) for _, case, _, _ in CASE_FAULTS.values()]
    caught: set[str] = set().union(*(failed(plan, case) for plan, case in faults))
    asked = {row.name for row in recheck(ep.PLAN, ep.CASE).checks if row.name.startswith("end round")}
    assert asked == {ARRIVALS, TOTALS, FILL, TIME}
    assert asked <= caught


def test_end_round_that_just_fits_is_kept() -> None:
    """An end round of 93.5 min with 11.5 in reserve is over within 105."""
    case = replace(ep.CASE, solve=replace(ep.CASE.solve, reserve_min=11.5))
    assert TIME not in failed(ep.PLAN, case)


def test_deicing_at_the_end_has_no_cycle_limit() -> None:
    """Lots deiced at the end may wait longer than their `deice_every`, which asks nothing then."""
    assert failed(ep.PLAN, ep.case_site(0, deice_every_min=30)) == {}
    assert failed(ep.PLAN, ep.case_site(2, deice_every_min=30)) == {}


def test_time_for_the_end_is_asked_by_what_waits_for_it() -> None:
    """Lot b, which is only plowed, and a stop that only plows lot a have nothing to do with an end round."""
    assert failed(ep.PLAN, ep.case_site(1, end_within_min=50)) == {}
    plan = ep.with_loop(stops=(replace(ep.LOOP.stops[0], work="plow"),))
    assert drive_loops(plan, mounted(plan, ep.CASE), ep.CASE)[0].end is None


def test_loop_of_end_works_alone_drives_nowhere_before() -> None:
    """Where every stop waits for the end the plain round takes no time, way or material."""
    plan = ep.with_loop(stops=ep.LOOP.stops[1:2])
    loop = drive_loops(plan, mounted(plan, ep.CASE), ep.CASE)[0]
    assert (loop.plain.duration_min, loop.plain.drive_min, loop.plain.reloads) == (0, 0, 0)
    assert sum(road.most_m for road in loop.plain.roads) == 0


def test_rounds_of_an_event_with_works_of_the_end() -> None:
    """The heavy event has min(ceil(270/90), floor(0.12/0.03)) + 1 = 4 rounds, the light one 1 for its salt;
    what waits for the end is done once in each, what does not in every round."""
    unit, case = mounted(ep.PLAN, ep.CASE)[0], ep.CASE
    waits = task(unit, ep.LOOP.stops[0], ep.LOT_A, 1)
    often = replace(waits, site=replace(ep.LOT_A, deice_when="each"))
    assert [rounds(event, 90, case) for event in case.season] == [1, 4]
    assert [deicings(event, waits, case) for event in case.season] == [1, 1]
    assert [deicings(event, often, case) for event in case.season] == [1, 4]


def test_event_with_nothing_but_works_of_the_end_has_one_round() -> None:
    """Without triggers 180 min hold 2 rounds of 90 and 270 hold 3; where plowing waits for 0.06 the light
    event needs but the one that salts, unless some site is salted each round. The heavy one cleans up."""
    salted, plowed = replace(ep.LOT_C, trigger_m=0), ep.CASE.sites[1]
    often = replace(salted, id="d", deice_when="each")
    waiting, mixed = replace(ep.CASE, sites=(plowed, salted)), replace(ep.CASE, sites=(plowed, salted, often))
    assert [rounds(event, 90, waiting) for event in ep.CASE.season] == [1, 3 + 1]
    assert [rounds(event, 90, mixed) for event in ep.CASE.season] == [2, 3 + 1]


# Minutes of work, minutes of reloading and salt of one heavy event and of one light event at 90 min.
#   a, both: heavy 4 x 15 plowed, 2.5 deiced, max(4, 1) x 3; light 2.5 deiced, max(0, 1) x 3; salt 120 each.
#   c, deice: 6.25 and 3 in either; salt 300 each. b, plow: heavy 3 (31 1/3 + 3); light nothing.
EVENTS = {
    0: [(3 + 2.5, 120), (60 + 2.5 + 12, 120)],
    1: [(6.25 + 3, 300), (6.25 + 3, 300)],
    2: [(0, 0), (3 * (94 / 3 + 3), 0)],
}


@pytest.mark.parametrize("index", EVENTS)
@pytest.mark.parametrize("event", [0, 1])
def test_season_of_one_event_with_works_of_the_end(index: int, event: int) -> None:
    """A stop's minutes and salt in one event follow from its pushes and its one deicing."""
    stop, unit = ep.LOOP.stops[index], mounted(ep.PLAN, ep.CASE)[0]
    site = next(row for row in ep.CASE.sites if row.id == stop.site)
    one = replace(ep.CASE, season=(replace(ep.CASE.season[event], count=1),))
    season = stop_season(task(unit, stop, site, 1), one)
    minutes, salt = EVENTS[index][event]
    assert (season.work_min, season.material_kg) == (pytest.approx(minutes), pytest.approx(salt))
    assert season.reload_min == pytest.approx(salt / 240)

"""The parts of the search that only make it faster: none may find what is not there or lose what is."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest
from loop_oracle import least_objective, plain, recount
from loop_problems import seeded, simple

from optibuild import pipeline
from optibuild.cycle_time import size, stops
from optibuild.inputs import read_case
from optibuild.integer_program import LoopProblem, column, first_columns, search, solve
from optibuild.integer_program.bounds import loads_to_come
from optibuild.integer_program.diving import dive
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.listing import list_loops
from optibuild.integer_program.master import Chosen, Extras, choose, tally
from optibuild.integer_program.neighborhoods import Neighborhoods
from optibuild.integer_program.planning import Planning
from optibuild.integer_program.pricer import OutOfTime
from optibuild.integer_program.spreading import spread
from optibuild.integer_program.trimming import plan_of, trimmed

ROW = np.array([[0.0, 10, 20, 30], [10, 0, 10, 20], [20, 10, 0, 10], [30, 20, 10, 0]])
"""A depot and three places on one road, ten minutes apart."""


@pytest.mark.parametrize("seed", range(120))
def test_planned_by_neighborhoods_first(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With neighborhoods of two units planned first on every small problem, the answer is that of
    enumeration, and the loops keep every promise."""
    monkeypatch.setattr(search, "MANY", 0)
    monkeypatch.setattr("optibuild.integer_program.neighborhoods.ENOUGH_UNITS", 2.0)
    problem = seeded(seed)
    best, found = least_objective(problem), solve(problem)
    assert (found.objective is None) == (best == inf)
    if found.objective is not None:
        assert found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
        assert recount(problem, found) == pytest.approx(found.objective, rel=1e-9, abs=1e-6)
        assert found.proof == "proved best"


def with_loops_alone() -> list[int]:
    """Seeds of problems that a loop for every stop is a plan of."""
    return [seed for seed in range(120)
            if (first := first_columns(seeded(seed))) and plan_of(seeded(seed), first)]


@pytest.mark.parametrize("way", ["round", "rounds"])
@pytest.mark.parametrize("seed", with_loops_alone())
def test_neighborhoods_make_plans_no_dearer(seed: int, way: str) -> None:
    """From a loop for every stop, every plan on the way costs no more than the one before, and no less than
    the best there is."""
    problem = replace(seeded(seed), constant_usd=0.0)
    first = first_columns(problem)
    plan = plan_of(problem, first)
    assert plan is not None
    generation = Generation(problem, first, lambda: 0.0, lambda: None)
    before, best = plan.objective, least_objective(problem)
    for better in getattr(Neighborhoods(problem, generation.fleet, plan, lambda: 0.0), way)():
        assert best - 1e-6 <= better.objective <= before + 1e-9
        before = better.objective


def three_dear_trucks() -> LoopProblem:
    """Three stops that each need a truck of their own, and money for three of the kind that is dearer by the
    year."""
    return simple(np.full((2, 3), 40.0), ROW, 100.0, uses=np.eye(2), price_usd=np.array([1000.0, 300.0]),
                  annual_usd=np.array([100.0, 150.0]), owned=np.zeros(2), upkeep_usd=np.zeros(2),
                  available=np.full(2, inf), budget_usd=900.0)


def test_trucks_dearer_by_the_year_are_bought_where_the_budget_asks() -> None:
    """Each of three stops needs a truck of its own (40 minutes of work, drives of 20, 40, 60, 100 allowed).
    By the year the first build's truck costs 100 and the second's 150, but 1,000 and 300 to buy: a budget of
    900 allows three of the second, 3·(100 + 150) + 120 = 870 USD a year, and one of 899 no plan."""
    problem = three_dear_trucks()
    first = first_columns(problem)
    assert {one.build for one in first} == {0}
    plan = Planning(problem, np.arange(2), lambda: 0.0).affordable(first)
    assert plan is not None and plan.objective == pytest.approx(870.0)
    assert {one.build for one, _ in plan.times} == {1}
    poorer = replace(problem, budget_usd=899.0)
    assert Planning(poorer, np.arange(2), lambda: 0.0).affordable(first_columns(poorer)) is None


def test_loops_of_a_round_that_time_ended_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Out of time in the first round of prices: the loops met until then are there for a last plan."""
    problem = three_dear_trucks()
    other = column(problem, 1, 0, (2,), (False,))

    def ended(self: Neighborhoods) -> Iterator[Chosen]:
        self.loops[other.key] = other
        raise OutOfTime
        yield self.plan

    monkeypatch.setattr(Neighborhoods, "round", ended)
    planning = Planning(problem, np.arange(2), lambda: 0.0)
    with pytest.raises(OutOfTime):
        planning.affordable(first_columns(problem))
    assert other.key in planning.loops


def test_half_the_time_without_a_plan_asks_the_loops_at_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no way finds a plan that the budget allows, the loops generated so far are asked once half of the
    time is over: 3·(100 + 150) + 120 = 870 USD a year."""
    problem = three_dear_trucks()
    made = search.Search(problem, None)
    first = [column(problem, 1, 0, (stop,), (False,)) for stop in range(3)]
    made.generation = Generation(problem, first, made._time_used, lambda: None)
    made._tell()
    assert made.best is None
    monkeypatch.setattr(made, "_time_used", lambda: 0.6)
    made._tell()
    assert made.best is not None and made.best.objective == pytest.approx(870.0)


BUDGETED = [seed for seed in range(400) if seeded(seed).budget_usd < inf and first_columns(seeded(seed))]


@pytest.mark.parametrize("seed", BUDGETED)
def test_plans_made_for_a_budget_keep_every_limit(seed: int) -> None:
    """What is found for a budget is a plan of the problem, and costs no less than the best there is."""
    problem = replace(seeded(seed), constant_usd=0.0)
    plan = Planning(problem, np.arange(problem.start.size), lambda: 0.0).affordable(first_columns(problem))
    if plan is not None:
        again = plan_of(problem, [one for one, n in plan.times for _ in range(n)])
        assert again is not None
        assert plan.objective >= least_objective(problem) - 1e-6


def test_stops_have_a_loop_without_what_can_run_out() -> None:
    """Two trucks of the cheaper kind are to be had: each stop of three has a loop with one, one without."""
    problem = simple(np.full((2, 3), 40.0), ROW, 100.0, uses=np.eye(2), price_usd=np.zeros(2),
                     annual_usd=np.array([100.0, 150.0]), owned=np.zeros(2), upkeep_usd=np.zeros(2),
                     available=np.array([2.0, inf]))
    assert [(one.stops, one.build) for one in first_columns(problem)] == [
        ((0,), 0), ((0,), 1), ((1,), 0), ((1,), 1), ((2,), 0), ((2,), 1)]


def test_what_can_still_be_loaded() -> None:
    """Stops of 6, 3 and 0 kg take 5 minutes each and 10 to come to: 15 minutes take 6 kg, 30 take 9, and half
    of 15 minutes take half of a stop."""
    order = np.array([1, 2, 3, 0, 0])
    most = loads_to_come(30.0, np.full(3, 5.0), np.array([6.0, 3.0, 0.0]), np.arange(3),
                         ROW[np.ix_(order, order)], 4)
    assert most.tolist() == pytest.approx([0.0, 3.0, 6.0, 7.5, 9.0])
    unlimited = loads_to_come(inf, np.full(3, 5.0), np.array([6.0, 3.0, 0.0]), np.arange(3),
                              ROW[np.ix_(order, order)], 4)
    assert unlimited.tolist() == [9.0]


@pytest.mark.parametrize("seed", range(60))
def test_loops_that_only_the_load_limits(seed: int) -> None:
    """With all the time in the world and one fill a loop, the answer is that of enumeration."""
    drawn = seeded(seed)
    free = {name: np.full_like(getattr(drawn, name), inf)
            for name in ("cycle_limit_min", "stop_limit_min", "deadline_min")}
    problem = replace(drawn, **free, may_reload=False)
    best, found = least_objective(problem), solve(problem)
    assert (found.objective is None) == (best == inf)
    if found.objective is not None:
        assert found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
        assert found.proof == "proved best"


@pytest.mark.parametrize("seed", with_loops_alone()[:20])
def test_an_integer_program_may_stop_at_a_gap(seed: int) -> None:
    """Stopped at a gap of a tenth, the choice costs at most a ninth more than the best one over these loops,
    and what is said to be its bound is none too high."""
    problem = replace(seeded(seed), constant_usd=0.0)
    first = first_columns(problem)
    best, _ = choose(problem, first, Extras(), 10.0)
    found, bound = choose(problem, first, Extras(), 10.0, gap=0.1)
    assert best is not None and found is not None
    assert best.objective - 1e-6 <= found.objective <= best.objective + 0.12 * abs(best.objective)
    assert bound <= best.objective + 1e-6


@pytest.mark.parametrize("seed", [seed for seed in range(120) if first_columns(seeded(seed))])
def test_spread_loops_are_possible_and_priced_right(seed: int) -> None:
    """Loops put on other builds keep limits, deadlines, fills and access; every stop alone finds a build; and
    those whose measured reduced cost is below what is asked are given, no others."""
    problem = seeded(seed)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    generation.converge()
    orders = list({one.stops for one in generation.relaxation.columns})
    builds, duals = np.arange(problem.start.size), generation.duals
    found = spread(problem, orders, builds, duals, 1e9)
    assert {order for order in orders if len(order) == 1} <= {one.stops for one in found}
    least = min(duals.reduced_cost(problem, one) for one in found)
    some = spread(problem, orders, builds, duals, least + 50.0)
    assert {one.key for one in some} == {
        one.key for one in found if duals.reduced_cost(problem, one) < least + 50.0}
    for one in found:
        _assert_possible(problem, one.build, one.clock, one.stops, one.reload_before)


def _assert_possible(problem: LoopProblem, build: int, clock: int, order: tuple[int, ...],
                     reloads: tuple[bool, ...]) -> None:
    """Summed step by step, from the problem's plain lists."""
    p = plain(problem)
    here, minutes, load, wet = p.start[build], 0.0, 0.0, False
    for stop, reload in zip(order, reloads, strict=True):
        if reload:
            assert p.may_reload
            minutes += p.travel_min[here][p.start[build]] + p.reload_min[build]
            here, load = p.start[build], 0.0
        minutes += p.travel_min[here][p.place[stop]] + p.minutes[build][clock][stop]
        here, load = p.place[stop], load + p.material_kg[stop]
        wet = wet or p.material_kg[stop] > 0
        assert p.stop_limit_min[stop] >= p.cycle_limit_min[clock]
        assert minutes <= p.deadline_min[stop] + 1e-6
        assert load <= p.fill_kg[build] * (1 + 1e-9)
    minutes += p.travel_min[here][p.end[build]] + (p.reload_min[build] if wet and p.may_reload else 0.0)
    assert minutes <= p.cycle_limit_min[clock] + 1e-6


def test_what_is_done_twice_is_left_out_once() -> None:
    """Two loops of 100 USD and a USD a minute of driving both make the first stop. The loop over all three
    places drives 60 minutes with it or without, 160 USD; the loop of the first alone drives 20, and goes
    whole: of 280 USD, 120 are saved."""
    problem = simple(np.zeros((1, 3)), ROW, 100.0)
    twice = plan_of(problem, [column(problem, 0, 0, (0, 1, 2), (False,) * 3),
                              column(problem, 0, 0, (0,), (False,))])
    assert twice is not None and twice.objective == pytest.approx(280.0)
    once = trimmed(problem, twice)
    assert once.objective == pytest.approx(160.0)
    assert [(one.stops, n) for one, n in once.times] == [((0, 1, 2), 1)]


def test_a_reload_before_a_stop_left_out_is_made_before_the_next() -> None:
    """A fill of 10 kg and stops of 6, 3 and 6: the loop over all reloads before the second. That one costs it
    100 USD of work and another truck 1 USD, so it is left out here, and the reload is made before the third:
    the first and the third together are 12 kg."""
    problem = simple(np.zeros((2, 3)), ROW, 300.0, material_kg=np.array([6.0, 3.0, 6.0]),
                     fill_kg=np.full(2, 10.0), stop_usd=np.array([[[0.0, 100.0, 0.0]], [[0.0, 1.0, 0.0]]]),
                     fixed_usd=np.zeros(2))
    twice = plan_of(problem, [column(problem, 0, 0, (0, 1, 2), (False, True, False)),
                              column(problem, 1, 0, (1,), (False,))])
    assert twice is not None
    kept = {one.build: (one.stops, one.reload_before) for one, _ in trimmed(problem, twice).times}
    assert kept == {0: ((0, 2), (False, True)), 1: ((1,), (False,))}


@pytest.mark.parametrize("calls", range(1, 7))
def test_a_list_cut_short_is_never_taken_for_whole(calls: int) -> None:
    """Wherever the time ends while loops are listed, the list says so or is the one that no clock cut."""
    problem = next(p for p in map(seeded, range(50)) if first_columns(p) and p.minutes.size > 40)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    generation.converge()
    pricer, duals, room = generation.pricer, generation.duals, search.LONG
    whole, complete = list_loops(problem, pricer, duals, 1e4, room)
    assert complete and whole
    asked = iter(range(1, 1000))
    pricer.out_of_time = lambda: next(asked) >= calls
    try:
        cut, complete = list_loops(problem, pricer, duals, 1e4, room)
    except OutOfTime:
        return
    assert not complete or {one.key for one in cut} == {one.key for one in whole}


def test_two_trucks_on_one_loop_are_kept_from_an_earlier_plan() -> None:
    """A work needed twice, by two trucks that drive the same loop: told twice, it is a plan before any
    search, 2 x (100 + 20) USD."""
    problem = simple(np.zeros((1, 1)), ROW[:2, :2], 100.0, need=np.array([2.0]), time_limit_s=0.0)
    loop = column(problem, 0, 0, (0,), (False,))
    plan = plan_of(problem, [loop, loop])
    assert plan is not None and plan.objective == pytest.approx(240.0)
    assert [n for _, n in plan.times] == [2]
    assert solve(problem, known=[loop, loop]).objective == pytest.approx(240.0)


BROKEN: dict[str, Callable[[LoopProblem], LoopProblem]] = {
    "drivers": lambda p: replace(p, most_loops=1.0),
    "a work not done": lambda p: replace(p, need=np.array([1.0, 1.0, 2.0])),
}


@pytest.mark.parametrize("broken", BROKEN)
def test_a_plan_that_breaks_a_limit_is_none(broken: str) -> None:
    """Two loops for three stops are a plan, but not for one driver, nor where a stop is needed twice."""
    problem = simple(np.zeros((1, 3)), ROW, 100.0)
    loops = [column(problem, 0, 0, (0, 1), (False,) * 2), column(problem, 0, 0, (2,), (False,))]
    plan = plan_of(problem, loops)
    assert plan is not None and plan.objective == pytest.approx(300.0)
    assert plan_of(BROKEN[broken](problem), loops) is None


def test_builds_sifted_run_by_run_lose_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for few builds at a time, those left are fewer, and the best plan costs the same."""
    case = read_case(Path(__file__).parent / "data" / "small")
    whole = pipeline.stages(case).problem
    monkeypatch.setattr(stops, "MINUTES_AT_ONCE", whole.minutes.size // 3)
    sifted = pipeline.planned_stages(case).problem
    assert 0 < sifted.start.size < whole.start.size
    assert solve(sifted).objective == pytest.approx(solve(whole).objective)
    assert size.MINUTES_AT_ONCE < size.MOST_MINUTES


@pytest.mark.parametrize("little", [0.0, 2.0])
@pytest.mark.parametrize("seed", with_loops_alone())
def test_a_dive_runs_loops_that_a_plan_may_run(seed: int, little: float) -> None:
    """What the relaxation runs nearly whole, with others for what it leaves, is a plan that costs no less
    than the best there is; and the relaxation is as free afterwards as before."""
    problem = replace(seeded(seed), constant_usd=0.0)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    generation.approach()
    before = generation.duals.bound
    kept = dive(generation, little)
    parts = Neighborhoods(problem, generation.fleet, tally(problem, kept, ()), lambda: 0.0)
    plan = parts.completed(kept)
    generation.relaxation.solve()
    assert generation.relaxation.duals().bound <= before + 1e-6
    if plan is not None:
        assert plan.objective >= least_objective(problem) - 1e-6
        assert plan_of(problem, [one for one, n in plan.times for _ in range(n)]) is not None


@pytest.mark.parametrize(("budget_usd", "build"), [(inf, 0), (900.0, 1)])
def test_a_dive_keeps_the_budget(budget_usd: float, build: int) -> None:
    """Three stops need a truck each: of the kind that is cheaper by the year, or three at 300 USD of the
    other where 900 USD are all there is."""
    problem = replace(three_dear_trucks(), budget_usd=budget_usd)
    generation = Generation(problem, first_columns(problem), lambda: 0.0, lambda: None)
    generation.approach()
    kept = dive(generation, 0.0)
    assert [one.build for one, n in kept for _ in range(n)] == [build] * 3
    assert sorted(stop for one, _ in kept for stop in one.stops) == [0, 1, 2]


@pytest.mark.parametrize("seed", range(120))
def test_quick_runs_may_look_at_one_stop_only(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """However few stops quick runs go on to, the answer is that of enumeration."""
    monkeypatch.setattr("optibuild.integer_program.runs.LIKELY", 1)
    problem = seeded(seed)
    best, found = least_objective(problem), solve(problem)
    assert (found.objective is None) == (best == inf)
    assert found.objective is None or found.objective == pytest.approx(best, rel=1e-6, abs=1e-6)
    assert found.stopped in ("proved", "no plan exists")

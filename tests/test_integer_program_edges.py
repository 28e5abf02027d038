"""Problems at the edge: nothing to do, nothing to do it with, limits met exactly, ties everywhere."""

from math import inf
from typing import Any

import numpy as np
import pytest
from loop_problems import simple

from optibuild.integer_program import LoopProblem, solve

NEAR = np.array([[0.0, 10.0, 10.0], [10.0, 0.0, 5.0], [10.0, 5.0, 0.0]])
"""Two sites 10 min from the depot and 5 min apart."""


def pair(limit_min: float = 60.0, builds: int = 1, **changes: Any) -> LoopProblem:
    """Two sites of 15 min each, `NEAR`: one loop drives 25 min and takes 55."""
    return simple(np.full((builds, 2), 15.0), NEAR, limit_min, **changes)


def item(**changes: float) -> dict[str, Any]:
    """One item that every build of `pair` uses once: 300 USD a year, 900 USD to buy."""
    row = {"price_usd": 900.0, "annual_usd": 300.0, "owned": 0.0, "upkeep_usd": 0.0,
           "available": inf} | changes
    return {"uses": np.ones((1, 1))} | {name: np.array([value]) for name, value in row.items()}


def test_nothing_to_cover() -> None:
    """A problem without works has the empty plan, proved, at no cost."""
    found = solve(simple(np.zeros((1, 0)), np.zeros((1, 1)), 60.0))
    assert (found.objective, found.bound, found.loops, found.proof) == (0.0, 0.0, (), "proved best")


def test_no_builds() -> None:
    """Without any build there is no plan, unless every site may be missed: then all are."""
    assert solve(pair(builds=0)).stopped == "no plan exists"
    found = solve(pair(builds=0, missed_usd=np.array([7.0, 8.0])))
    assert (found.objective, found.missed, found.proof) == (15.0, (0, 1), "proved best")


@pytest.mark.parametrize("limit_min", [34.999, 1e-3])
def test_out_of_reach(limit_min: float) -> None:
    """A site that takes 10 + 15 + 10 = 35 min is out of reach of a shorter loop: no plan exists where it
    must be served; where all may be missed, they are."""
    assert solve(pair(limit_min)).stopped == "no plan exists"
    found = solve(pair(limit_min, missed_usd=np.array([7.0, 8.0])))
    assert (found.objective, found.missed, found.proof) == (15.0, (0, 1), "proved best")


@pytest.mark.parametrize(("limit_min", "usd"), [(55.0, 125.0), (54.99, 240.0), (35.0, 240.0)])
def test_cycle_limit_met_exactly(limit_min: float, usd: float) -> None:
    """A loop of 10 + 15 + 5 + 15 + 10 = 55 min may take 55 min, not 54.99: one loop at 100 + 25 USD, or two
    at 100 + 20 USD each."""
    assert solve(pair(limit_min)).objective == pytest.approx(usd)


@pytest.mark.parametrize(("deadline_min", "usd"), [(45.0, 125.0), (44.99, 240.0)])
def test_deadline_met_exactly(deadline_min: float, usd: float) -> None:
    """The second of two stops ends at 10 + 15 + 5 + 15 = 45 min: due then for both, one loop will do."""
    assert solve(pair(deadline_min=np.full(2, deadline_min))).objective == pytest.approx(usd)


WHOLE_FILLS: dict[str, Any] = {
    "material_kg": np.full(2, 200.0), "fill_kg": np.full(1, 200.0), "reload_min": np.full(1, 4.0)}
"""Each site takes a whole fill; a reload takes 4 min."""


@pytest.mark.parametrize(("limit_min", "usd"), [(78.0, 148.0), (77.99, 248.0)])
def test_reload_between_stops_and_at_the_end(limit_min: float, usd: float) -> None:
    """One loop with its two reloads takes 10 + 15 + (10 + 4 + 10) + 15 + 10 + 4 = 78 min, 48 of them paid at
    1 USD; two loops pay 2 x (100 + 10 + 10 + 4) = 248 USD."""
    found = solve(pair(limit_min, **WHOLE_FILLS))
    assert found.objective == pytest.approx(usd)
    assert sum(loop.reloads * times for loop, times in found.loops) == 2


def test_last_reload_counts_toward_the_cycle_limit() -> None:
    """One site out and home with its reload takes 10 + 15 + 10 + 4 = 39 min: no plan at 38.99."""
    assert solve(pair(39.0, **WHOLE_FILLS)).objective == pytest.approx(248.0)
    assert solve(pair(38.99, **WHOLE_FILLS)).stopped == "no plan exists"


def test_one_fill_a_loop_where_no_reload_may_be_made() -> None:
    """Without reloads each site takes a loop of its own, 2 x (100 + 20) USD, and no minute of reloading is
    charged; a hair over the fill, none can be made."""
    assert solve(pair(35.0, may_reload=False, **WHOLE_FILLS)).objective == pytest.approx(240.0)
    over = WHOLE_FILLS | {"fill_kg": np.full(1, 199.9)}
    assert solve(pair(may_reload=False, **over)).stopped == "no plan exists"


@pytest.mark.parametrize(("changes", "usd"), [
    ({}, 840.0), ({"owned": 1.0, "upkeep_usd": 50.0}, 590.0), ({"owned": 3.0, "upkeep_usd": 50.0}, 340.0),
    ({"owned": 1.0, "upkeep_usd": 50.0, "available": 1.0}, 590.0)])
def test_owned_items_first(changes: dict[str, float], usd: float) -> None:
    """Two loops at 120 USD take two items: 300 USD a year each where bought, 50 USD where owned."""
    assert solve(pair(35.0, **item(**changes))).objective == pytest.approx(usd)


@pytest.mark.parametrize("changes", [
    {"available": 1.0}, {"owned": 1.0, "available": 0.0}])
def test_items_run_out(changes: dict[str, float]) -> None:
    """Where two loops are needed and only one item can be had, no plan exists; with both sites in one loop,
    one does."""
    assert solve(pair(35.0, **item(**changes))).stopped == "no plan exists"
    assert solve(pair(55.0, **item(**changes))).proof == "proved best"


@pytest.mark.parametrize(("budget_usd", "owned", "exists"), [
    (1800.0, 0.0, True), (1799.0, 0.0, False), (900.0, 1.0, True), (899.0, 1.0, False), (0.0, 2.0, True)])
def test_budget_that_allows_exactly_one_plan(budget_usd: float, owned: float, exists: bool) -> None:
    """Two loops need two items at 900 USD, owned ones excepted: that budget will do, a dollar less will
    not."""
    found = solve(pair(35.0, budget_usd=budget_usd, **item(owned=owned)))
    assert (found.proof == "proved best") == exists
    assert (found.stopped == "no plan exists") == (not exists)


@pytest.mark.parametrize(("drivers", "exists"), [(2.0, True), (1.0, False), (0.0, False)])
def test_drivers(drivers: float, exists: bool) -> None:
    """Two loops need two drivers."""
    assert (solve(pair(35.0, most_loops=drivers)).proof == "proved best") == exists


def test_identical_builds_and_places_on_top_of_one_another() -> None:
    """Twelve equal sites at the depot's own place, ten builds alike, 5 min each in loops of 20 min: four a
    loop, so three loops at 100 USD, proved at once."""
    found = solve(simple(np.full((10, 12), 5.0), np.zeros((13, 13)), 20.0))
    assert (found.objective, found.proof) == (pytest.approx(300.0), "proved best")


def test_no_limits_and_no_minutes() -> None:
    """Where nothing takes time and no loop has a limit, one loop serves all: its shortest tour, 25 min of
    driving at 1 USD, and 100 USD."""
    found = solve(simple(np.zeros((1, 2)), NEAR, inf))
    assert (found.objective, found.proof) == (pytest.approx(125.0), "proved best")


def test_parcels_are_shared_by_equal_loops() -> None:
    """A site in six parcels of 20 min, at most two in a 60 min loop (10 + 40 + 10): three equal loops at
    120 USD, run as one loop by three trucks or as several."""
    stops = np.arange(1.0, 7.0)
    found = solve(simple(20.0 * stops[None, :], NEAR[:2, :2], 60.0, place=np.ones(6, int),
                         amount=stops[:, None], need=np.array([6.0]), group=np.zeros(1, int),
                         missed_usd=np.array([inf])))
    assert found.objective == pytest.approx(360.0)
    assert sum(times for _, times in found.loops) == 3


def test_builds_that_can_do_nothing() -> None:
    """Builds to which every stop is impossible are as good as none: no plan exists, or all is missed; beside
    a build that can, they change nothing."""
    idle = np.full((1, 2), inf)
    assert solve(simple(idle, NEAR, 60.0)).stopped == "no plan exists"
    found = solve(simple(idle, NEAR, 60.0, missed_usd=np.array([7.0, 8.0])))
    assert (found.objective, found.bound, found.missed, found.proof) == (15.0, 15.0, (0, 1), "proved best")
    beside = solve(simple(np.vstack([idle, np.full((1, 2), 15.0), idle]), NEAR, 60.0))
    assert (beside.objective, beside.proof) == (pytest.approx(125.0), "proved best")
    assert [one.build for one, _ in beside.loops] == [1]


@pytest.mark.parametrize("missed_usd", [inf, 40.0])
def test_one_site_that_no_build_can_do(missed_usd: float) -> None:
    """Of two sites one is impossible to every build: if it must be served no plan exists, though the other
    is in reach; if it may be missed, it costs its 40 USD, and the other 100 + 20."""
    found = solve(simple(np.array([[15.0, inf]] * 2), NEAR, 60.0, missed_usd=np.array([inf, missed_usd])))
    if missed_usd == inf:
        assert (found.stopped, found.objective) == ("no plan exists", None)
    else:
        assert (found.objective, found.missed, found.proof) == (pytest.approx(160.0), (1,), "proved best")


def test_no_limit_that_matters() -> None:
    """Limits of a thousand million of everything are as none: one loop of 25 min of driving and 100 USD, an
    item at 300 USD."""
    huge = 1e9
    found = solve(pair(huge, deadline_min=np.full(2, huge), stop_limit_min=np.full(2, huge),
                       material_kg=np.full(2, 200.0), fill_kg=np.array([huge]), budget_usd=huge,
                       most_loops=huge, worth=np.full(2, huge), most_missed_worth=huge,
                       **item(available=huge)))
    assert (found.objective, found.proof) == (pytest.approx(425.0), "proved best")


def test_sites_dear_to_leave_out() -> None:
    """A loss of a thousand million USD a site, beside loops of 125 USD, leaves the proof as sharp as ever."""
    found = solve(pair(missed_usd=np.full(2, 1e9)))
    assert (found.objective, found.missed) == (pytest.approx(125.0, abs=1e-6), ())
    assert (found.proof, found.bound) == ("proved best", pytest.approx(125.0, rel=2e-6))


@pytest.mark.parametrize("minutes", [15.0, inf])
@pytest.mark.parametrize("needs", [(0.0, 0.0), (1.0, 0.0)])
def test_works_that_need_nothing(needs: tuple[float, float], minutes: float) -> None:
    """A work of which nothing is needed is served by no loop and missed at no cost, be it in reach of every
    build or of none and without leave to be missed: only the other's loop is run, at 100 + 20 USD."""
    found = solve(simple(np.array([[15.0, minutes]]), NEAR, 60.0, need=np.array(needs)))
    assert found.objective == pytest.approx(120.0 * needs[0])
    assert (found.proof, len(found.loops), found.missed) == ("proved best", int(needs[0]), ())


@pytest.mark.parametrize(("sites", "loops"), [(8, 2), (10, 3), (13, 4), (30, 8), (41, 11)])
def test_many_equal_sites_at_one_spot(sites: int, loops: int) -> None:
    """Equal sites at one spot 10 min out, 5 min each, four a loop of 40 min (10 + 4 x 5 + 10), in trucks all
    alike: whichever they are, sites / 4 loops, rounded up, cost 100 + 20 USD each. Every order of every four
    ties, and fractions of loops would cost less."""
    spot = np.zeros((sites + 1, sites + 1))
    spot[0, 1:] = spot[1:, 0] = 10.0
    found = solve(simple(np.full((3, sites), 5.0), spot, 40.0))
    assert (found.objective, found.proof) == (pytest.approx(loops * 120.0), "proved best")


@pytest.mark.parametrize(("budget_usd", "usd", "bought"), [
    (1800.0, 840.0, (2, 0)), (1799.0, 940.0, (1, 1)), (1400.0, 940.0, (1, 1)), (1399.0, 1040.0, (0, 2)),
    (1000.0, 1040.0, (0, 2)), (999.0, None, (0, 0))])
def test_budget_chooses_between_items(budget_usd: float, usd: float | None, bought: tuple[int, int]) -> None:
    """Two sites take a loop each, at 120 USD, by a build whose item costs 300 USD a year and 900 to buy, or
    400 a year and 500 to buy: two of the first cost 1800 to buy, one of each 1400, two of the second 1000.
    Every budget allows just the mixes it can pay, the last one none."""
    found = solve(pair(35.0, builds=2, uses=np.eye(2), price_usd=np.array([900.0, 500.0]),
                       annual_usd=np.array([300.0, 400.0]), owned=np.zeros(2), upkeep_usd=np.zeros(2),
                       available=np.full(2, inf), budget_usd=budget_usd))
    assert found.objective == (None if usd is None else pytest.approx(usd))
    assert tuple(found.bought) == bought
    assert found.stopped == ("no plan exists" if usd is None else "proved")


def test_worth_that_may_be_missed() -> None:
    """Of two optional sites worth 5 and 8 USD, whose loss costs 8 and 5 USD and service 120 USD each, both
    are left out; where less worth may go, first the one of the least loss, then the one of the least worth,
    then none."""
    def missed(most: float) -> tuple[int, ...]:
        return solve(pair(35.0, missed_usd=np.array([8.0, 5.0]), worth=np.array([5.0, 8.0]),
                          most_missed_worth=most)).missed

    assert [missed(most) for most in (13.0, 8.0, 5.0, 4.0)] == [(0, 1), (1,), (0,), ()]


def test_an_array_of_the_wrong_shape_is_named() -> None:
    """A LoopProblem says which array has the wrong shape, and refuses an owned item dearer to keep than a
    bought one."""
    with pytest.raises(ValueError, match="fill_kg"):
        pair(fill_kg=np.zeros(2))
    with pytest.raises(ValueError, match="owned item"):
        pair(**item(upkeep_usd=301.0))

"""Minutes and meters between places: great circles, given legs, ways round, and where there is no way."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations
from math import inf, radians

import numpy as np
import pytest
from times_case import ASSUMED, SITE, plain_case

from optibuild.cycle_time.travel import circuity, close_under_shortest, great_circle_m, roundabouts, travel
from optibuild.records import Case, Leg
from optibuild.records.loop import Roundabout

EARTH_M = 6_371_008.8


def town(*legs: Leg, **changes: object) -> Case:
    """A depot and the sites a and b, each a hundredth of a degree of latitude beyond the last."""
    sites = tuple(replace(SITE, id=name, lat_deg=45.0 + 0.01 * n) for n, name in enumerate("ab", start=1))
    return plain_case(sites=sites, travel=legs, **changes)


def slower(case: Case, **changes: object) -> Case:
    """The case in another storm."""
    return replace(case, storm=replace(case.storm, **changes))


# ---- great circles


def test_los_angeles_to_new_york() -> None:
    """From 33 57' N 118 24' W to 40 38' N 73 47' W are 0.623585 radians, 2144 nautical miles (E. Williams,
    Aviation Formulary, worked example LAX to JFK)."""
    meters = great_circle_m(np.array([33 + 57 / 60, 40 + 38 / 60]), np.array([-118 - 24 / 60, -73 - 47 / 60]))
    assert meters[0, 1] / EARTH_M == pytest.approx(0.623585, abs=1e-6)
    assert meters[1, 0] == meters[0, 1]


def test_nashville_to_los_angeles() -> None:
    """From (36.12, -86.67) to (33.94, -118.40) are 2886.444443 km on a sphere of 6371.0 km (Rosetta Code,
    task Haversine formula)."""
    meters = great_circle_m(np.array([36.12, 33.94]), np.array([-86.67, -118.40]))
    assert meters[0, 1] / EARTH_M * 6371.0 == pytest.approx(2886.444443, abs=1e-6)


# ---- circuity


def test_circuity_is_fitted_to_the_given_legs() -> None:
    """Roads 1.00, 1.20 and 1.44 times the straight way give the cube root of 1.728, 1.2, for the pairs that
    no leg tells, in place of the assumption of 1.3."""
    straight = radians(0.01) * EARTH_M  # b lies twice as far
    case = town(Leg("depot", "a", 5.0, 1.00 * straight), Leg("depot", "b", 5.0, 1.20 * 2 * straight),
                Leg("b", "a", 5.0, 1.44 * straight))
    fitted = slower(case, fit_circuity=True)
    assert circuity(fitted) == pytest.approx(1.2)
    assert circuity(case) == ASSUMED.circuity == 1.3
    assert travel(fitted).meters[1, 0] == pytest.approx(1.2 * straight)
    assert travel(fitted).minutes[1, 0] == pytest.approx(1.2 * straight / 500.0)


def test_legs_that_tell_no_circuity_are_passed_over() -> None:
    """A leg without a distance, one of 0 m, one within a place and one between places that lie on one another
    tell nothing; where no leg tells anything the assumption holds."""
    straight = radians(0.01) * EARTH_M
    legs = (Leg("depot", "a", 5.0, None), Leg("a", "depot", 5.0, 0.0), Leg("a", "a", 1.0, 700.0))
    silent = slower(town(*legs), fit_circuity=True)
    assert circuity(silent) == 1.3
    told = replace(silent, travel=(*legs, Leg("a", "b", 5.0, 1.7 * straight)))
    assert circuity(told) == pytest.approx(1.7)
    upon = replace(silent, sites=(silent.sites[0], replace(silent.sites[1], lat_deg=45.0)))
    assert circuity(replace(upon, travel=(Leg("depot", "b", 1.0, 50.0),))) == 1.3


# ---- legs


def test_legs_take_longer_in_the_storm_but_are_no_longer() -> None:
    """A slowdown of 25 % makes 10 min 12.5 min and leaves the leg's 5000 m (10 min at 500 m/min), or its own
    distance, as they are; straight ways are those of the storm's travel speed already."""
    case = slower(town(Leg("depot", "a", 2.0, None), Leg("a", "depot", 2.0, 1500.0)), slowdown=0.25)
    ways = travel(case)
    assert (ways.minutes[0, 1], ways.meters[0, 1]) == (2.5, 1000.0)
    assert (ways.minutes[1, 0], ways.meters[1, 0]) == (2.5, 1500.0)
    straight = 1.3 * radians(0.01) * EARTH_M
    assert ways.minutes[1, 2] == pytest.approx(straight / 500.0)


def test_a_slow_leg_gives_way_to_the_way_round() -> None:
    """15 min straight to b lose against 3 min to a and 1.445 km x 2 on from there, in that direction only."""
    case = town(Leg("depot", "b", 15.0, 900.0), Leg("depot", "a", 3.0, 1200.0))
    ways = travel(case)
    on = 1.3 * radians(0.01) * EARTH_M
    assert ways.minutes[0, 2] == pytest.approx(3.0 + on / 500.0)
    assert ways.meters[0, 2] == pytest.approx(1200.0 + on)
    assert ways.minutes[2, 0] == pytest.approx(2 * on / 500.0)


def cut_off() -> tuple[Leg, ...]:
    """No way to b from anywhere; away from it there is."""
    return (Leg("depot", "b", None, None, passable=False), Leg("a", "b", 5.0, 700.0, passable=False))


def test_a_place_without_a_way_is_infinitely_far_in_that_direction() -> None:
    """Where both ways to b are closed, its minutes and meters are infinite from everywhere else, with or
    without a time in the row; the way back stays."""
    ways = travel(town(*cut_off()))
    assert ways.minutes[:2, 2].tolist() == ways.meters[:2, 2].tolist() == [inf, inf]
    assert np.isfinite(ways.minutes[2]).all() and np.isfinite(ways.meters[2]).all()
    assert not np.isnan(ways.minutes).any() and not np.isnan(ways.meters).any()


def test_a_closed_leg_is_driven_round() -> None:
    """With the way from the depot to b closed, b is reached through a: 4 and 6 min, 2000 and 3000 m."""
    ways = travel(town(Leg("depot", "b", None, None, passable=False), Leg("depot", "a", 4.0, None),
                       Leg("a", "b", 6.0, None)))
    assert (ways.minutes[0, 2], ways.meters[0, 2]) == (10.0, 5000.0)


# ---- ways round the user's own legs


def test_legs_that_a_way_round_beats_are_told_worst_first() -> None:
    """Of the given legs 9 min to b lose 2 min against 3 + 4 min by a, and 20 min from b to a lose 16 against
    1 + 3 min by the depot; the other legs, one closed, are not told."""
    case = town(Leg("depot", "b", 9.0, None), Leg("depot", "a", 3.0, None), Leg("a", "b", 4.0, None),
                Leg("b", "a", 20.0, None), Leg("b", "depot", 1.0, None),
                Leg("a", "depot", None, None, passable=False))
    rows = roundabouts(case, travel(case))
    assert rows == (Roundabout("b", "a", 20.0, 4.0, "depot"), Roundabout("depot", "b", 9.0, 7.0, "a"))


def test_a_way_round_as_long_as_the_leg_is_no_violation() -> None:
    """7 min against 3 + 4 min keep the user's leg, and so does a way round shorter by less than 1e-9 min."""
    legs = [Leg("depot", "a", 3.0, None), Leg("a", "b", 4.0, None)]
    for direct in (7.0, 7.0 + 5e-10):
        case = town(*legs, Leg("depot", "b", direct, 100.0))
        assert roundabouts(case, travel(case)) == ()
        assert travel(case).meters[0, 2] == 100.0


def test_both_sides_of_the_comparison_are_of_the_storm() -> None:
    """A slowdown of 50 % tells 13.5 against 10.5 min for legs of 9, 3 and 4 min."""
    case = slower(town(Leg("depot", "b", 9.0, None), Leg("depot", "a", 3.0, None), Leg("a", "b", 4.0, None)),
                  slowdown=0.5)
    (row,) = roundabouts(case, travel(case))
    assert (row.direct_min, row.faster_min) == (13.5, 10.5)


# ---- closing under shortest paths


def simple_ways(count: int, start: int, end: int) -> Iterator[tuple[int, ...]]:
    """Every way from one place to another that visits no place twice."""
    others = [place for place in range(count) if place not in (start, end)]
    for length in range(len(others) + 1):
        for between in permutations(others, length):
            yield (start, *between, end)


def some_roads(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Asymmetric minutes, a third of the pairs without a way, and meters of their own."""
    rng = np.random.default_rng(seed)
    minutes = rng.uniform(1.0, 60.0, (count, count))
    minutes[rng.random((count, count)) < 0.35] = inf
    np.fill_diagonal(minutes, 0.0)
    return minutes, np.where(np.isinf(minutes), inf, rng.uniform(100.0, 9000.0, (count, count)))


@pytest.mark.parametrize("seed", range(30))
def test_the_closed_ways_are_the_best_of_all_simple_ways(seed: int) -> None:
    """Closing finds the least minutes over every way that visits no place twice, and the meters of a way that
    takes just as long."""
    minutes, meters = some_roads(seed, 5)
    fast, along = close_under_shortest(minutes, meters)
    for start, end in permutations(range(5), 2):
        ways = [(sum(minutes[leg] for leg in zip(way, way[1:], strict=False)),
                 sum(meters[leg] for leg in zip(way, way[1:], strict=False)))
                for way in simple_ways(5, start, end)]
        best = min(time for time, _ in ways)
        assert fast[start, end] == pytest.approx(best)
        if best < inf:
            assert any(time == pytest.approx(best) and along[start, end] == pytest.approx(length)
                       for time, length in ways)


@pytest.mark.parametrize("seed", range(30))
def test_closing_once_is_enough(seed: int) -> None:
    """On seeded roads of 12 places closing is idempotent, keeps the triangle, never lengthens a way, and
    leaves nothing undefined."""
    minutes, meters = some_roads(seed, 12)
    fast, along = close_under_shortest(minutes, meters)
    again, along_again = close_under_shortest(fast, along)
    assert np.array_equal(again, fast) and np.array_equal(along_again, along)
    assert (fast <= minutes).all() and not np.isnan(along).any()
    for via in range(12):
        assert (fast <= fast[:, via, None] + fast[None, via, :] + 1e-9).all()


@pytest.mark.parametrize("seed", range(10))
def test_more_slowdown_never_shortens_a_way(seed: int) -> None:
    """With seeded legs a slower storm never makes any way between two places take less."""
    rng = np.random.default_rng(seed)
    names = ("depot", "a", "b")
    legs = tuple(Leg(*pair, float(rng.uniform(0.5, 8.0)), None) for pair in permutations(names, 2)
                 if rng.random() < 0.7)
    ways = [travel(slower(town(*legs), slowdown=share)).minutes for share in (0.0, 0.2, 1.0)]
    assert (ways[0] <= ways[1]).all() and (ways[1] <= ways[2]).all()

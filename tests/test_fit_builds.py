"""Ballast and fill solved together, and which builds are told with which words."""

import numpy as np
import pytest
from fit_cases import EXAMPLE, IN, LB, example, fit_case, judged, kit, lb, plow, spreader, the, truck

from optibuild.fit import builds as builds_module
from optibuild.fit import feasible_units, fewest_units_of_largest_fill, fit_builds, nearest_units
from optibuild.records import NONE


def test_ballast_by_count_is_an_interval():
    """-2n <= -7 and 3n <= 20 leave n = 4, 5, 6; n <= 3 beside -2n <= -7 leaves none; a mass over the axle
    cannot help."""
    per_unit = np.array([[-2.0, -2.0, 0.0], [3.0, 3.0, 1.0]])
    room = np.array([[-7.0, -7.0, -1.0], [20.0, 9.0, 50.0]])
    low, high, passes = feasible_units(per_unit, room, 10)
    assert (low[0], high[0]) == (4, 6)
    assert passes.tolist() == [True, False, False]


def test_the_largest_fill_and_its_fewest_units_equal_trying_every_count():
    """For 2,000 seeded sets of four lines, rising, falling, level or out of reach, and 0 to 30 units."""
    draw = np.random.default_rng(11)
    start, slope = draw.uniform(-500, 4000, (4, 2000)), draw.uniform(-150, 150, (4, 2000))
    slope[draw.random(slope.shape) < 0.15] = 0.0
    start[slope == 0.0] = draw.choice([2500.0, 1e15], np.count_nonzero(slope == 0.0))
    capacity, low = draw.uniform(100, 4000, 2000), draw.integers(0, 15, 2000).astype(float)
    high = low + draw.integers(0, 16, 2000)
    units, fill = fewest_units_of_largest_fill(start, slope, capacity, low, high)
    counts = np.arange(31.0)[:, None]
    every = np.minimum(capacity, (start - slope * counts[:, None]).min(axis=1))
    every[(counts < low) | (counts > high)] = -np.inf
    best = every.max(axis=0)
    np.testing.assert_allclose(fill, best, rtol=1e-12)
    assert np.array_equal(units, np.argmax(every >= best - 1e-6, axis=0))


def test_the_nearest_count_equals_trying_every_count():
    """For 2,000 seeded sets of four overloads that ballast relieves, adds to or leaves alone, 0 to 25 units:
    the fewest that leave the least sum of overloads."""
    draw = np.random.default_rng(12)
    per_unit, room = draw.uniform(-60, 60, (4, 2000)), draw.uniform(-900, 600, (4, 2000))
    per_unit[draw.random(per_unit.shape) < 0.15] = 0.0
    over = per_unit * np.arange(26.0)[:, None, None] - room
    every = np.maximum(over, 0.0).sum(axis=1)
    units = nearest_units(per_unit, room, 25)
    assert np.array_equal(units, np.argmax(every <= every.min(axis=0) + 1e-8, axis=0))
    assert len(np.unique(units)) == 26


def test_both_limits_of_an_axle_count_towards_the_nearest_ballast():
    """Front 200 lb over its rating and 300 over its tires, rear 45 under. By hand, on 100 in a unit of 50 lb
    at x = 120 takes 10 off the front, hence 20 off the two overloads, and puts 60 on the rear, 15 over: 500,
    then 485 with one unit, then 525. Counted once, the front would gain less than the rear loses."""
    case = fit_case(
        [truck(gawr=(3800, 3045), curb=(4000, 3000), wheelbase=100, bed_end=0, tires=(3700, 9000))],
        [plow(blade=0)],
        ballast=[kit("far", 50, 20, 2)],
    )
    builds = judged(case)
    assert (bool(builds.fits[0]), int(builds.units[0])) == (False, 1)
    over = {reason.rating: float(lb(reason.over)) for reason in builds.reasons[0]}
    assert over == pytest.approx({"front GAWR": 190, "front tire capacity": 290, "rear GAWR": 15})


def test_ballast_may_buy_more_fill_than_it_weighs():
    """A hopper ahead of the rear axle is stopped by the front axle; a unit behind relieves it. By hand, L =
    100, front room 50: material at x = 80 loads it 0.2, a 50 lb unit at x = 120 relieves it by 10, so 50 lb
    more fill a unit: 250, 300, 350, ... until the hopper's 400 lb after 3 units."""
    case = fit_case(
        [truck(gawr=(3050, 9000), curb=(3000, 2000), wheelbase=100, bed_end=0)],
        spreaders=[spreader(empty=0, holds=400, center=-20)],
        ballast=[kit(unit=50, center=20, most=9)],
    )
    builds = judged(case)
    assert builds.names == ("t+-+s", "t+-+s")
    assert builds.kit.tolist() == [NONE, 0]
    assert builds.units.tolist() == [0, 3]
    assert lb(builds.rated_fill_kg).tolist() == pytest.approx([250, 400])


def test_rated_fill_never_exceeds_what_the_hopper_holds():
    """With ratings out of reach the fill is volume x bulk density, and a kit that changes nothing is not
    told."""
    case = fit_case([truck()], spreaders=[spreader(holds=1750)], ballast=[kit(), kit("k2", center=-30)])
    builds = judged(case)
    assert builds.names == ("t+-+s",)
    assert (int(builds.kit[0]), int(builds.units[0])) == (NONE, 0)
    assert lb(builds.rated_fill_kg[0]) == pytest.approx(1750)


def test_what_binds_is_the_least_margin_relative_to_its_rating():
    """With 1,000 lb on the rear axle: front 3,000 of 10,000, rear 3,000 of 5,000, gross 6,000 of 12,000, and
    1,800 over a least front share of 1,200: the rear axle has 40 % left, the others half or more."""
    case = fit_case(
        [truck(gvwr=12_000, gawr=(10_000, 5000), bed_end=0)],
        spreaders=[spreader(empty=0, holds=1000, center=0)],
        min_front_share=0.2,
    )
    assert judged(case).binds == ("rear GAWR, off full",)


def test_every_kit_that_works_is_told_and_the_nearest_of_those_that_do_not():
    """500 lb at 100 ahead on 100 in is 1,000 on the front, 150 too much. A 100 lb unit at x = 150 relieves 50
    (3 units), at x = 110 only 10 (15 units): both are told with 20 units allowed. With at most 2 units the
    heavier lever leaves 50, the other 130: the first is told, rejected."""

    def tried(most):
        case = fit_case(
            [truck(gawr=(3850, 9000), wheelbase=100, bumper=72, bed_end=0)],
            [plow(blade=500)],
            ballast=[kit("near", 100, 10, most), kit("far", 100, 50, most)],
        )
        return judged(case)

    enough, short = tried(20), tried(2)
    assert enough.names == ("t+p+-", "t+p+-")
    assert (enough.kit.tolist(), enough.units.tolist()) == ([0, 1], [15, 3])
    assert (short.fits.tolist(), short.kit.tolist(), short.units.tolist()) == ([False], [1], [2])
    assert lb(short.reasons[0][0].over) == pytest.approx(50)


def test_a_useless_fill_is_rejected():
    """Front room 50 lb and 0.2 of the material on it: 250 lb, under a least useful 300 by 50."""
    case = fit_case(
        [truck(gawr=(3050, 9000), wheelbase=100, bed_end=0)],
        spreaders=[spreader(empty=0, holds=400, center=-20)],
        least_fill=300,
    )
    builds = judged(case)
    (reason,) = builds.reasons[0]
    assert (bool(builds.fits[0]), builds.binds[0], reason.unit) == (False, "least useful fill", "kg")
    assert lb([reason.load, reason.limit, reason.over]).tolist() == pytest.approx([250, 300, 50])


def test_makers_words_and_the_tape_reject_like_a_rating():
    """A truck whose maker forbids plows, an attachment that asks 10,000 lb GVWR of 9,000, a hopper of 100 in
    on 96."""
    case = fit_case(
        [truck(gvwr=9000, plow_allowed=False)],
        [plow()],
        [spreader("heavy", min_gvwr_kg=10_000 * LB), spreader("long", length_m=100 * IN), spreader("good")],
    )
    builds = judged(case)
    told = {
        name: [reason.rating for reason in reasons]
        for name, reasons in zip(builds.names, builds.reasons, strict=True)
    }
    assert told["t+-+heavy"] == ["min GVWR"]
    assert told["t+-+long"] == ["bed length"]
    assert told["t+-+good"] == []
    assert told["t+p+long"] == ["plow not allowed", "bed length"]
    assert [name for name, fits in zip(builds.names, builds.fits, strict=True) if fits] == ["t+-+good"]
    long = builds.reasons[the(builds, "t+-+long")][0]
    assert (long.over, long.unit, long.state) == (pytest.approx(4 * IN), "m", "")


def test_builds_come_in_catalog_order_without_bare_trucks():
    """Truck, then plow with none last, then spreader with none last; a truck with neither is no build."""
    builds = judged(fit_case([truck("a"), truck("b")], [plow()], [spreader()]))
    assert builds.names == ("a+p+s", "a+p+-", "a+-+s", "b+p+s", "b+p+-", "b+-+s")
    assert builds.truck.tolist() == [0, 0, 0, 1, 1, 1]
    assert (builds.plow[2], builds.spreader[1]) == (NONE, NONE)


def test_states_a_build_does_not_have_are_left_out():
    """Without a plow only the off states, without a spreader only the empty ones, with one occupant one
    crew."""
    builds = judged(fit_case([truck()], [plow()], [spreader()], occupants=1))
    has = np.isfinite(builds.front_kg)
    assert has[the(builds, "t+p+s")].tolist() == [[True, False]] * 4
    assert has[the(builds, "t+p+-"), :, 0].tolist() == [True, False, True, False]
    assert has[the(builds, "t+-+s"), :, 0].tolist() == [False, False, True, True]
    assert np.isfinite(judged(fit_case([truck()], [plow()], occupants=3)).front_kg[0, 0]).all()


@pytest.mark.parametrize("size", [1, 6, 13], ids=["a plow at a time", "a truck at a time", "two trucks"])
def test_blocks_give_what_one_block_gives(size, monkeypatch):
    """Working through a catalog in blocks, to bound the memory, changes no number and no word: three trucks
    of 3 x 2 combinations, in blocks of one plow with the two spreaders, of one truck, and of two trucks."""
    case = example(gawr_front=4700)
    three = [truck(str(n), gawr=(4600 + 100 * n, 9000), **EXAMPLE) for n in range(3)]
    plows = [*case.plows, plow("light", blade=500)]
    case = fit_case(three, plows, list(case.spreaders), list(case.ballast), occupants=2)
    whole = judged(case)
    monkeypatch.setattr(builds_module, "BLOCK", size)
    parts = judged(case)
    assert (whole.names, whole.binds, whole.reasons) == (parts.names, parts.binds, parts.reasons)
    for field in ("truck", "kit", "units", "rated_fill_kg", "worst_gross_kg", "front_kg", "rear_kg", "fits"):
        np.testing.assert_array_equal(getattr(whole, field), getattr(parts, field))


def test_names_are_made_when_asked_for():
    """Nothing of a build is put in words before somebody asks; one name is the same as that of all."""
    builds = fit_builds(fit_case([truck("a"), truck("b")], [plow()], [spreader()]))
    assert "names" not in vars(builds)
    assert builds.names == tuple(builds.name(row) for row in range(len(builds)))
    assert builds.name(4) == "b+p+-"


def test_an_empty_catalog_has_no_builds():
    """No trucks, or trucks with nothing to mount, give no builds and no error."""
    assert len(judged(fit_case([], [plow()]))) == 0
    assert len(judged(fit_case([truck()]))) == 0


def test_the_least_rear_share_is_asked_of_the_empty_truck():
    """2,000 of 5,000 lb on the rear axle is 40 %: asked 40 % fits and 41 % is rejected, driver alone and
    empty; 1,000 lb of material at a fifth of the wheelbase leaves 2,200 of 6,000, 36.7 %, and is not held
    against it."""
    hopper = spreader(empty=0, holds=1000, center=-112)
    asked = [
        judged(fit_case([truck(bed_end=0)], spreaders=[hopper], occupants=0, min_rear_share=share))
        for share in (0.40, 0.41)
    ]
    assert lb(asked[0].rated_fill_kg[0]) == pytest.approx(1000)
    (reason,) = asked[1].reasons[0]
    assert (reason.rating, reason.state, reason.crew) == ("min rear share", "off empty", "driver")
    assert (reason.load, reason.limit) == (pytest.approx(0.40), 0.41)

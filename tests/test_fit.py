"""Axle loads and ratings against published worked examples and hand arithmetic, in pounds where not said."""

import numpy as np
import pytest
from fit_cases import EXAMPLE, LB, example, fit_case, judged, lb, plow, spreader, the, truck

from optibuild.fit import (
    axle_loads,
    center_of_mass_m,
    fill_at,
    fill_lines,
    moment_sheet,
)


def test_a_plow_ahead_of_the_front_axle_adds_more_than_its_weight():
    """700 lb at 4 ft ahead of a 10 ft wheelbase puts 980 lb (445 kg) on the front axle and takes 280 lb off
    the rear one (light-truck owner's manuals 1999-2019, plow section)."""
    assert axle_loads(700, -4, 10).tolist() == pytest.approx([980, -280])
    assert axle_loads(318, -122, 305)[0] == pytest.approx(445, abs=0.5)


def test_an_evenly_spread_payload_acts_at_the_body_center():
    """14,500 lb at 156 in on 214 in gives 10,570.09 rear and 3,929.91 front; 4,794.5 and 1,782.5 kg (medium-
    duty truck body-builder manual, appendix B)."""
    assert axle_loads(14_500, 72 + 168 / 2, 214).tolist() == pytest.approx([3929.91, 10570.09], abs=0.5)
    assert axle_loads(6577.09, 3.9624, 5.4356).tolist() == pytest.approx([1782.5, 4794.5], abs=0.1)


def test_shares_add_up_where_the_published_ones_do_not():
    """100 lb at 133 in on 214 in is 62.15 rear and 37.85 front; the body-builder manual prints 62.14 and a
    slip of 38.86, which does not sum to 100."""
    front, rear = axle_loads(100, 133, 214).tolist()
    assert (front, rear) == (pytest.approx(37.85, abs=0.005), pytest.approx(62.15, abs=0.005))
    assert front + rear == pytest.approx(100, abs=1e-12)


def test_a_trailer_tongue_behind_the_rear_axle_loads_it_by_one_and_a_half():
    """A tongue of 850 lb at 1.5 wheelbases puts 1,275 lb on the rear axle: 3,975 of 4,000 fits (trailer
    section of an owner's manual, 2008); the front is left with 2,375 and a tongue of 867 lb is rejected."""
    for tongue, fits in ((850, True), (867, False)):
        # 2,700 + 1.5 x 867 = 4,000.5
        hung = fit_case(
            [truck(curb=(2800, 2700), gvwr=7200, gawr=(4000, 4000), wheelbase=140, bed_end=50)],
            spreaders=[spreader(empty=tongue, center=20)],
        )
        builds = judged(hung)
        assert bool(builds.fits[0]) is fits
        assert lb(builds.rear_kg[0, 2, 0]) == pytest.approx(2700 + 1.5 * tongue)
        assert lb(builds.front_kg[0, 2, 0]) == pytest.approx(2800 - 0.5 * tongue)


def test_textbook_cars_split_their_weight_as_printed():
    """1,765 kg with 1.22 and 1.62 m gives 1,006.80 and 758.20 kg; 1,245 kg with 1,100 and 1,323 mm 679.79 and
    565.21 (Jazar, Vehicle Dynamics 2008, chapter 2 exercises; answers by hand: m·a2/L and m·a1/L)."""
    assert axle_loads(1765, 1.22, 2.84).tolist() == pytest.approx([1006.80, 758.20], abs=0.01)
    assert axle_loads(1245, 1100, 2423).tolist() == pytest.approx([679.79, 565.21], abs=0.01)


def test_the_center_of_mass_comes_back_from_axle_scales():
    """a = W_rear·L/W: 18 and 12 kN on 5 m put it at 2.0 m (a 2015 body-builder manual); 2,797.76 and 2,293.24
    lb on 109.5 in put it at 49.324 in (Jazar 2008, exercise 4)."""
    assert center_of_mass_m(18, 12, 5) == pytest.approx(2.0, abs=1e-12)
    assert center_of_mass_m(2797.76, 2293.24, 109.5) == pytest.approx(49.324, abs=0.01)


def test_moments_superpose_scale_and_sum_to_the_weight():
    """For 200 seeded loads: the axles carry the sum of the parts, front and rear sum to the weight, scaling
    all lengths changes nothing, moving a mass back unloads the front, and x = 0 and x = L load one axle
    alone."""
    draw = np.random.default_rng(4)
    mass, place = draw.uniform(1, 5000, (2, 200)), draw.uniform(-2, 8, (2, 200))
    wheelbase = draw.uniform(2, 6, 200)
    both = axle_loads(mass, place, wheelbase)
    at = (mass * place).sum(axis=0) / mass.sum(axis=0)
    np.testing.assert_allclose(
        both.sum(axis=0), axle_loads(mass.sum(axis=0), at, wheelbase), rtol=1e-9, atol=1e-8
    )
    np.testing.assert_allclose(both.sum(axis=-1), mass, rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(axle_loads(mass, 39.37 * place, 39.37 * wheelbase), both, rtol=1e-9, atol=1e-8)
    assert np.all(axle_loads(mass, place + 0.1, wheelbase)[..., 0] < both[..., 0])
    assert axle_loads(7.0, 0.0, 3.3).tolist() == [7.0, 0.0]
    assert axle_loads(7.0, 3.3, 3.3).tolist() == [0.0, 7.0]


def test_no_pound_above_the_front_rating_is_excused_by_a_plow():
    """4,800 lb on a front GAWR of 4,800 fits, 4,801 does not: NHTSA, 21 June 1979, makes no exception for
    plows. By hand: the plow of 700 lb at 48 in ahead of 120 in adds 980."""
    for front, fits in ((3820, True), (3821, False)):
        builds = judged(
            fit_case(
                [truck(curb=(front, 3000), gawr=(4800, 6000), gvwr=9000, wheelbase=120, bumper=20)],
                [plow(blade=700, ahead=28)],
            )
        )
        assert bool(builds.fits[0]) is fits
    reason = builds.reasons[0][0]
    assert (reason.state, reason.rating, reason.unit) == ("raised empty", "front GAWR", "kg")
    assert lb([reason.load, reason.limit, reason.over]).tolist() == pytest.approx([4801, 4800, 1])
    assert builds.binds[0] == "front GAWR, raised empty"


def test_the_axle_is_judged_with_the_plow_raised():
    """The same plow on the ground loads nothing, raised it rejects the build (NHTSA, 8 March 1976)."""
    builds = judged(
        fit_case(
            [truck(curb=(3821, 3000), gawr=(4800, 6000), wheelbase=120, bumper=20)],
            [plow(blade=700, ahead=28)],
        )
    )
    assert lb(builds.front_kg[0, [0, 2], 0]).tolist() == pytest.approx([4801, 3821])
    assert {reason.state for reason in builds.reasons[0]} == {"raised empty"}


def test_a_mount_stays_on_when_the_blade_comes_off():
    """The part that touches the snow comes off, the mount stays in the unloaded weight (NHTSA letter on a
    request of 16 November 1976): 6,100 + 180 off, 6,100 + 180 + 670 raised."""
    builds = judged(fit_case([truck(curb=(3500, 2600))], [plow(blade=670, mount=180)]))
    gross = lb(builds.front_kg + builds.rear_kg)
    assert gross[0, [0, 2], 0].tolist() == pytest.approx([6950, 6280])


def test_gross_weight_is_checked_beside_both_axles():
    """Both axles may be under their ratings while the gross is not: unloaded 5,200, cargo and 4 x 150 lb
    against a GVWR of 7,400: cargo 1,600 passes, 1,601 fails (the sum of 49 CFR 567.4(g)(3))."""
    for cargo, fits in ((1600, True), (1601, False)):
        builds = judged(
            fit_case(
                [truck(gvwr=7400, gawr=(4800, 5100), curb=(3200, 2000))],
                spreaders=[spreader(empty=cargo, center=-60)],
                occupants=4,
            )
        )
        assert bool(builds.fits[0]) is fits
    assert {reason.rating for reason in builds.reasons[0]} == {"GVWR"}
    assert {reason.crew for reason in builds.reasons[0]} == {"full"}


def test_tire_capacity_binds_where_it_is_below_the_axle_rating():
    """Tires that carry 3,687 lb reject 3,700 lb on an axle rated higher (FMVSS 120 S5.1.2: tires carry the
    axle)."""
    for front, fits in ((3687, True), (3700, False)):
        builds = judged(
            fit_case(
                [truck(curb=(front, 3000), tires=(3687.3, 9000))], spreaders=[spreader(empty=0, center=-48)]
            )
        )
        assert bool(builds.fits[0]) is fits
    assert builds.binds[0] == "front tire capacity, off empty"


def test_the_reserve_comes_off_axle_ratings_and_gross():
    """With 100 lb in reserve, 4,701 lb on a front GAWR of 4,800 is a pound too much: 4,800 - 100 = 4,700."""
    cases = [
        fit_case([truck(curb=(front, 3000), gawr=(4800, 6000))], [plow(blade=0)], axle_reserve_kg=100 * LB)
        for front in (4700, 4701)
    ]
    assert [bool(judged(case).fits[0]) for case in cases] == [True, False]


def test_material_stops_where_the_first_of_three_ratings_binds():
    """The largest load at a point is the least of three: 40 kN axles with 18 and 12 kN on them, load at the
    center of mass 2 m behind the front on 5 m: min(22/0.6, 28/0.4) = 36.667 (body-builder manual of 2015)."""
    start, slope = fill_lines(np.zeros(3), np.array([0.6, 0.4, 1.0]), np.array([22.0, 28.0, np.inf]))
    assert fill_at(start, slope, np.float64(1000.0), np.int64(0)) == pytest.approx(36.667, abs=0.001)


def test_a_load_ahead_of_the_rear_axle_is_stopped_by_the_front_one():
    """Front 5,600 of 7,000, rear 3,400 of 13,500, GVWR 19,500, load at 156 of 214 in: 1,400 / (1 - 156/214) =
    5,165.5 is below 13,855.1 and 10,500."""
    builds = judged(
        fit_case(
            [truck(gvwr=19_500, gawr=(7000, 13_500), curb=(5600, 3400), wheelbase=214, bed_end=0)],
            spreaders=[spreader(empty=0, holds=20_000, center=156 - 214)],
        )
    )
    assert lb(builds.rated_fill_kg[0]) == pytest.approx(5165.5, abs=0.1)
    assert builds.binds[0] == "front GAWR, off full"


def test_a_plow_truck_by_hand():
    """By hand: 3,600 + 850·183/141 + 150·86/141 = 4,794.68 front, 2,405.32 rear, 66.593 % of 7,200 in
    front."""
    case = example()
    builds = judged(case)
    bare = the(builds, "t+p+-")
    front, rear = lb(builds.front_kg[bare, 0, 0]), lb(builds.rear_kg[bare, 0, 0])
    assert (front, rear) == (pytest.approx(4794.68, abs=0.1), pytest.approx(2405.32, abs=0.1))
    assert front / (front + rear) == pytest.approx(0.66593, abs=1e-5)
    assert "66.6 % of gross (raised empty, driver alone)" in builds.flags[bare][-1]


def test_ballast_brings_the_front_axle_to_its_rating():
    """By hand: 94.68/(155/141 - 1) = 953.57 lb behind the axle bring the front to 4,700, so 954 one-pound
    units."""
    builds = judged(example(gawr_front=4700))
    bare = the(builds, "t+p+-")
    assert (int(builds.units[bare]), int(builds.kit[bare])) == (954, 0)
    assert lb(builds.front_kg[bare, 0, 0]) == pytest.approx(4700, abs=0.1)
    assert lb(builds.rear_kg[bare, 0, 0]) == pytest.approx(3453.57 + 0.43 * 155 / 141, abs=0.1)


def test_ballast_brings_the_front_share_to_a_users_limit():
    """63 % of 7,200 is 4,536, below 4,794.68; (0.37·7,200 - 2,405.32)/(155/141 - 0.37) = 354.70 lb restore
    it, so 355 units (63 %: a truck maker's figure quoted in a 1988 letter to NHTSA; not a rule)."""
    builds = judged(example(max_front_share=0.63))
    assert int(builds.units[the(builds, "t+p+-")]) == 355
    without = fit_case([truck(**EXAMPLE)], [plow(blade=850, ahead=42)], occupants=1, max_front_share=0.63)
    reason = judged(without).reasons[0][0]
    assert (reason.rating, reason.state, reason.unit) == ("max front share", "raised empty", "share")
    assert (reason.load, reason.limit) == (pytest.approx(0.66593, abs=1e-5), 0.63)


def test_a_front_share_may_be_of_the_curb_weight():
    """With curb as the base, 4,794.68 lb is 4,794.68/6,200 = 77.33 % and 77.4 % allows it where 77.3 % does
    not."""
    for share, fits in ((0.774, True), (0.773, False)):
        case = fit_case(
            [truck(**EXAMPLE)],
            [plow(blade=850, ahead=42)],
            occupants=1,
            max_front_share=share,
            front_share_of="curb",
        )
        builds = judged(case)
        assert bool(builds.fits[0]) is fits
    assert builds.reasons[0][0].load == pytest.approx(4794.68 / 6200, abs=1e-5)


def test_the_front_axle_is_worst_with_the_hopper_empty():
    """1,200 lb of salt at 150 in, behind the rear axle at 141, takes 1,200·9/141 = 76.60 off the front and
    puts 1,276.60 on the rear: 4,718.09 with the hopper full."""
    builds = judged(example())
    loaded = the(builds, "t+p+s")
    assert lb(builds.front_kg[loaded, [0, 1], 0]).tolist() == pytest.approx([4794.68, 4718.09], abs=0.1)
    assert lb(builds.rear_kg[loaded, 1, 0] - builds.rear_kg[loaded, 0, 0]) == pytest.approx(1276.60, abs=0.1)


def test_the_moment_sheet_adds_up_to_the_axle_loads():
    """Line by line by hand for the worked example, and the total equals what the verdict used."""
    case = example(gawr_front=4700)
    builds = judged(case)
    loaded = the(builds, "t+p+s")
    sheet = moment_sheet(case, builds, loaded, "raised full", "driver")
    assert [line.item for line in sheet] == [
        "t, curb",
        "crew, 1 aboard",
        "p, blade",
        "s, empty",
        "salt",
        "k, 954 units",
        "total",
    ]
    blade = sheet[2]
    # 850·(1 + 42/141) = 1,103.19 and -850·42/141 = -253.19
    assert lb([blade.front_kg, blade.rear_kg]).tolist() == pytest.approx([1103.19, -253.19], abs=0.01)
    assert sheet[-1].front_kg == pytest.approx(builds.front_kg[loaded, 1, 0])
    assert sheet[-1].rear_kg == pytest.approx(builds.rear_kg[loaded, 1, 0])
    # heaviest where nothing is asked: raised full
    assert moment_sheet(case, builds, loaded) == sheet
    with pytest.raises(ValueError, match="no load state"):
        moment_sheet(case, builds, loaded, crew="full")

"""What would make a rejected build fit: by hand, and the remedies of seeded builds tried."""

from dataclasses import replace

import pytest
from fit_cases import EXAMPLE, IN, LB, fit_case, kit, plow, spreader, the, truck
from test_fit_every_count import seeded_case

from optibuild.fit import fit_builds, verdicts, would_fit
from optibuild.records import Case, WouldFit

FIELDS = {"front GAWR": "gawr_front_kg", "rear GAWR": "gawr_rear_kg", "GVWR": "gvwr_kg",
          "front tire capacity": "tire_capacity_front_kg", "rear tire capacity": "tire_capacity_rear_kg"}


def told(case: Case, name: str) -> WouldFit:
    """What would make the only build with this name fit."""
    builds = fit_builds(case)
    found = would_fit(case, builds, the(builds, name))
    assert found is not None
    return found


def needed(found: WouldFit) -> dict[str, float]:
    """Needed ratings in pounds."""
    return {row.rating: row.needs_kg / LB for row in found.ratings}


def test_a_build_that_fits_needs_nothing():
    """There is nothing to mend."""
    case = fit_case([truck()], [plow()])
    builds = fit_builds(case)
    assert would_fit(case, builds, the(builds, "t+p+-")) is None


def test_more_ballast_than_the_kit_has_room_for():
    """953.57 lb at 155 in bring 4,794.68 lb down to 4,700 on 141 in: 954 bags of a pound, or 16 of 60;
    ballast ahead of the axle only adds to it."""
    case = fit_case(
        [truck(gawr=(4700, 9000), **EXAMPLE)], [plow(blade=850, ahead=42)],
        ballast=[kit("pound", 1, 14, 500), kit("bag", 60, 14, 15), kit("ahead", 60, -20, 15)], occupants=1)
    found = told(case, "t+p+-").ballast
    assert [(row.id, row.units, row.most_units) for row in found] == [("pound", 954, 500), ("bag", 16, 15)]


def test_lighter_plows_come_nearest_in_width_first():
    """Of the plows that fit, those of less mass are told, at most three, by how near their width is."""
    widths = {"own": 2.4, "narrow": 2.0, "near": 2.3, "twin": 2.4, "wide": 2.75, "heavy": 2.4, "still": 2.4}
    blades = {"own": 700, "narrow": 300, "near": 400, "twin": 500, "wide": 520, "heavy": 800, "still": 650}
    plows = [plow(id, blade=blade, width_m=widths[id]) for id, blade in blades.items()]
    found = told(fit_case([truck(gawr=(3800, 9000))], plows), "t+own+-")
    assert [row.id for row in found.plows] == ["twin", "near", "wide"]
    assert [(row.kit, row.units, row.fill_kg) for row in found.plows] == [(None, 0, None)] * 3


def test_another_plow_comes_with_its_ballast():
    """500 lb of blade put 735.7 lb on the front axle, 35.7 over 700: a bag of 60 lb at 174 in relieves
    60·34/140 = 14.57 lb, so it takes three; the own blade of 700 would take 23 of at most 20."""
    case = fit_case([truck(gawr=(3700, 9000))], [plow("own"), plow("light", blade=500)], ballast=[kit()])
    (row,) = told(case, "t+own+-").plows
    assert (row.id, row.kit, row.units) == ("light", "k", 3)


def test_other_spreaders_come_nearest_in_volume_first():
    """500 lb of gross reserve: the hopper of 400 lb empty leaves 100 for a least useful 300; one of 200
    leaves 300, one of 100 leaves 400 and holds 350; the heavier one does not fit."""
    spreaders = [spreader("own", 400, 1000), spreader("small", 100, 350), spreader("light", 200, 800),
                 spreader("heavy", 450, 1000)]
    found = told(fit_case([truck(gvwr=5500)], spreaders=spreaders, least_fill=300), "t+-+own")
    assert [row.id for row in found.spreaders] == ["light", "small"]
    assert [row.fill_kg / LB for row in found.spreaders] == pytest.approx([300, 350])


def test_the_fill_it_could_carry_and_the_rating_it_would_need():
    """As before: 100 lb could be carried, 300 are asked, so GVWR would have to be 5,700."""
    found = told(fit_case([truck(gvwr=5500)], spreaders=[spreader(holds=1000)], least_fill=300), "t+-+s")
    assert found.fill_kg / LB == pytest.approx(100)
    assert found.least_fill_kg / LB == pytest.approx(300)
    assert needed(found) == pytest.approx({"GVWR": 5700})


def test_no_fill_helps_where_the_empty_truck_fails():
    """A front axle that the raised plow overloads, far ahead of the hopper's own center, carries no fill."""
    found = told(fit_case([truck(gawr=(3800, 9000))], [plow()], [spreader(center=-48, holds=900)]), "t+p+s")
    assert found.fill_kg is None
    assert needed(found) == pytest.approx({"front GAWR": 4030})


def test_the_rating_needed_is_that_of_the_worst_state():
    """Raised, 700 lb put 1,030 on the front axle: 4,030 of 3,800, and a reserve of 40 lb asks 4,070 of the
    label; tires of 3,900 lb carry less than 4,030, and no reserve is kept on them."""
    case = fit_case([truck(gawr=(3800, 9000), tires=(3900, 9000))], [plow()], axle_reserve_kg=40 * LB)
    found = told(case, "t+p+-")
    assert needed(found) == pytest.approx({"front GAWR": 4070, "front tire capacity": 4030})
    assert [row.has_kg / LB for row in found.ratings] == pytest.approx([3800, 3900])


def test_a_maker_s_least_gvwr_is_a_rating_needed():
    """A plow for trucks of 9,000 lb on one of 8,000: only a truck rated so helps, no ballast and no fill."""
    case = fit_case([truck(gvwr=8000)], [plow(min_gvwr_kg=9000 * LB), plow("light", blade=500)],
                    [spreader(holds=500)], [kit()])
    found = told(case, "t+p+s")
    assert needed(found) == pytest.approx({"GVWR": 9000})
    assert (found.ballast, found.fill_kg, found.least_fill_kg) == ((), None, None)
    assert [row.id for row in found.plows] == ["light"]


def test_a_hopper_too_long_for_the_bed_needs_another_hopper():
    """No weight and no rating makes a 100 in hopper fit a 96 in bed."""
    hoppers = [spreader(length_m=100 * IN, holds=500), spreader("short", holds=500)]
    case = fit_case([truck()], spreaders=hoppers)
    found = told(case, "t+-+s")
    assert (found.ballast, found.ratings, found.fill_kg) == ((), (), None)
    assert [row.id for row in found.spreaders] == ["short"]


def fits(case: Case, name: str) -> bool:
    """Whether any build with this name fits."""
    builds = fit_builds(case)
    return any(builds.fits[row] for row, told in enumerate(builds.names) if told == name)


def without_shares(case: Case) -> Case:
    """The case with nothing asked of the axles' shares, which no rating mends."""
    limits = replace(case.fit, min_front_share=0.0, max_front_share=None, min_rear_share=None)
    return replace(case, fit=limits)


def test_every_remedy_of_a_seeded_build_mends_it():
    """On 150 seeded cases: the ratings needed make a rejected build fit, and as many units as told do where
    one less does not."""
    seen = {"ratings": 0, "ballast": 0}
    for seed in range(150):
        case = without_shares(seeded_case(seed))
        builds = fit_builds(case)
        for row, name in enumerate(builds.names):
            found = would_fit(case, builds, row)
            if found is None:
                continue
            raised = {FIELDS[one.rating]: one.needs_kg * (1 + 1e-12) for one in found.ratings}
            assert raised, (seed, name)
            assert fits(replace(case, trucks=(replace(case.trucks[0], **raised),)), name), (seed, name)
            seen["ratings"] += 1
            for enough in found.ballast:
                own = next(one for one in case.ballast if one.id == enough.id)
                tried = [fits(replace(case, ballast=(replace(own, most_units=most),)), name)
                         for most in (enough.units - 1, enough.units)]
                assert tried == [False, True], (seed, name, enough)
                seen["ballast"] += 1
    assert min(seen.values()) >= 5, seen


def test_raised_only_where_needed():
    """Without ballast and hopper, a pound below the rating needed the build still does not fit."""
    case = fit_case([truck(gawr=(3800, 9000), gvwr=5600)], [plow()])
    for name, needs in needed(told(case, "t+p+-")).items():
        others = {FIELDS[row.rating]: row.needs_kg for row in told(case, "t+p+-").ratings}
        assert fits(replace(case, trucks=(replace(case.trucks[0], **others),)), "t+p+-")
        short = {**others, FIELDS[name]: (needs - 1) * LB}
        assert not fits(replace(case, trucks=(replace(case.trucks[0], **short),)), "t+p+-")


def test_reasons_and_ratings_needed_agree():
    """What the front axle carries in its first reason is the rating needed, where no reserve is kept."""
    case = fit_case([truck(gawr=(3800, 9000))], [plow()])
    builds = fit_builds(case)
    row = the(builds, "t+p+-")
    (reason,) = verdicts(case, builds, [row])[row].reasons
    (rating,) = told(case, "t+p+-").ratings
    assert (reason.rating, reason.load, reason.limit) == (rating.rating, rating.needs_kg, rating.has_kg)

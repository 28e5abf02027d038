"""How far a build is from another verdict: by hand, and by plain arithmetic on both sides of every turn."""

from dataclasses import replace

import numpy as np
import pytest
from fit_cases import EXAMPLE, IN, LB, fit_case, kit, plow, spreader, the, truck
from fit_oracle import Oracle
from test_fit_every_count import seeded_case

from optibuild.fit import fit_builds, sensitivity
from optibuild.records import NONE, Builds, Case, Sensitivity


def found(case: Case, name: str) -> Sensitivity:
    """What is told of the only build with this name."""
    builds = fit_builds(case)
    index = the(builds, name)
    return sensitivity(case, builds, [index])[index]


def test_margins_are_the_least_over_all_states():
    """A blade of 700 lb at -66 in on 140 in puts 700·206/140 = 1,030 lb on the front axle: margin 4,200 -
    4,030 = 170 lb; the rear axle is heaviest with the blade off, 5,000 - 2,000; gross 6,500 - 5,700."""
    told = found(fit_case([truck(gvwr=6500, gawr=(4200, 5000))], [plow()]), "t+p+-")
    margins = [told.front_margin_kg, told.rear_margin_kg, told.gross_margin_kg]
    assert [kg / LB for kg in margins] == pytest.approx([170, 3000, 800])


def test_a_front_margin_is_rating_less_weight():
    """Front GAWR 4,670 and 3,680 lb on it leave 990 lb, enough for a published plow's 980, 3,700 leave 970,
    too little (reserve capacity as owner's manuals define it; 700 lb 4 ft ahead on 10 ft adds 980, a
    light-truck manual's example). The plow that is short by 10 lb fits 10/1.4 lb lighter."""
    trucks = [truck(gawr=(4670, 9000), curb=(front, 2000), wheelbase=120, bumper=20)
              for front in (3680, 3700)]
    told = [found(fit_case([one], [plow()]), "t+p+-") for one in trucks]
    assert [one.front_margin_kg / LB for one in told] == pytest.approx([10, -10])
    assert [one.blade_lighter_kg for one in told] == [None, pytest.approx(10 / 1.4 * LB)]


def test_how_much_heavier_the_blade_may_get():
    """170 lb of front margin are 170·140/206 = 115.53 lb of blade."""
    told = found(fit_case([truck(gawr=(4200, 5000))], [plow()]), "t+p+-")
    assert told.blade_heavier_kg == pytest.approx(170 * 140 / 206 * LB)
    assert (told.blade_lighter_kg, told.fill_lost_per_10_kg) == (None, None)


def test_how_much_lighter_the_blade_would_have_to_be():
    """800 lb of room for the blade on the front axle are 800·140/206 = 543.69 lb of blade, 156.31 less."""
    told = found(fit_case([truck(gawr=(3800, 5000))], [plow()]), "t+p+-")
    assert told.blade_lighter_kg == pytest.approx((700 - 800 * 140 / 206) * LB)
    assert told.blade_heavier_kg is None


def test_no_blade_is_light_enough_for_an_axle_that_is_full():
    """Where mount and curb weight alone break the front axle, no lighter blade helps."""
    assert found(fit_case([truck(gawr=(2900, 5000))], [plow()]), "t+p+-").blade_lighter_kg is None


def test_how_far_the_hopper_may_move():
    """400 lb empty and the least useful 300 at 148 in: the rear axle has 800 lb of room, so 700·(148 + d)/140
    = 800 at d = 12 in; the front one 50 lb, first used up full of no more than 400 + 300 lb, so 700·(d -
    8)/140 = 50 at d = 18 in forward."""
    case = fit_case([truck(gawr=(3050, 2800))], spreaders=[spreader(holds=1000)], least_fill=300)
    told = found(case, "t+-+s")
    assert told.hopper_rearward_m == pytest.approx(12 * IN)
    assert told.hopper_forward_m == pytest.approx(18 * IN)
    assert (told.blade_heavier_kg, told.blade_lighter_kg) == (None, None)


def test_where_a_rejected_hopper_would_fit():
    """As before with 700 lb of room: 700·(148 - d)/140 = 700 at d = 8 in forward; to the rear nothing
    helps."""
    case = fit_case([truck(gawr=(3050, 2700))], spreaders=[spreader(holds=1000)], least_fill=300)
    told = found(case, "t+-+s")
    assert told.hopper_forward_m == pytest.approx(8 * IN)
    assert told.hopper_rearward_m is None


def test_gross_weight_takes_a_kilogram_of_fill_for_one_of_blade():
    """Where GVWR limits the fill, ten kilograms of blade cost ten of fill; where the rear axle does with the
    blade off, none."""
    by_gross = fit_case([truck(gvwr=6500)], [plow()], [spreader(holds=2000)])
    by_rear = fit_case([truck(gawr=(9000, 3000))], [plow()], [spreader(holds=2000)])
    lost = [found(case, "t+p+s").fill_lost_per_10_kg for case in (by_gross, by_rear)]
    assert lost == [pytest.approx(10), pytest.approx(0, abs=1e-9)]


def worked(**kit_other: object) -> Case:
    """141 in, 3,600/2,600 lb, 850 raised at -42, a driver; ballast by the pound at 155, GVWR 8,900."""
    return fit_case([truck(gvwr=8900, gawr=(4700, 9000), **EXAMPLE)], [plow(blade=850, ahead=42)],
                    [spreader(empty=0, holds=2500, center=9)],
                    [replace(kit(unit=1, center=14, most=2000), **kit_other)], occupants=1)


def test_ballast_is_solved_anew_for_the_fill_lost():
    """953.57 lb of ballast, 954 bags of a pound, bring 4,794.68 lb down to 4,700. Ten kilograms, 22.046 lb,
    of blade put 22.046·183/141 = 28.61 lb more on the front axle: 123.29·141/14 = 1,241.7, so 1,242 bags. Of
    the gross weight blade and bags take 22.046 + 288 lb."""
    assert found(worked(), "t+p+s").fill_lost_per_10_kg == pytest.approx(10 + 288 * LB)


def test_ballast_stays_as_it_is_while_the_blade_gets_heavier():
    """954 bags leave 954·14/141 - 94.681 lb below the front rating, which 183/141 of a heavier blade use up;
    so they do where the bags are taken out above the 94.681·141/60 = 222.5 lb at which a hopper 60 in behind
    the axle does without them. (A rating is met up to a billionth of it, 2 mg here.)"""
    left = 954 * 14 / 141 - (3600 + 850 * 183 / 141 + 150 * (1 - 55 / 141) - 4700)
    expected = pytest.approx(left * 141 / 183 * LB, abs=1e-5)
    assert found(worked(), "t+p+s").blade_heavier_kg == expected
    out = replace(worked(removable=True), spreaders=(spreader(empty=0, holds=2500, center=60),))
    assert fit_builds(out).retained_kg.max() / LB == pytest.approx(222.5, abs=0.1)
    assert found(out, "t+p+s").blade_heavier_kg == expected


def test_what_is_forbidden_turns_with_no_weight():
    """A plow that the truck's maker does not allow fits at no weight and nowhere."""
    case = fit_case([truck(plow_allowed=False)], [plow()], [spreader(holds=500)])
    told = found(case, "t+p+s")
    assert (told.blade_lighter_kg, told.hopper_forward_m, told.hopper_rearward_m) == (None, None, None)


def changed(case: Case, blade_kg: float = 0.0, hopper_m: float = 0.0) -> Case:
    """A case whose only plow is heavier and whose only hopper sits further to the rear."""
    blade, hopper = case.plows[0], case.spreaders[0]
    return replace(
        case, plows=(replace(blade, blade_mass_kg=blade.blade_mass_kg + blade_kg),),
        spreaders=(replace(hopper, center_m=hopper.center_m + hopper_m,
                           material_center_m=hopper.material_center_m + hopper_m),))


def stands(case: Case, builds: Builds, row: int) -> bool:
    """Whether plain arithmetic lets a build pass: with its own units where it fits, else with any."""
    parts = (case.trucks[0], case.plows[0] if builds.plow[row] != NONE else None,
             case.spreaders[0] if builds.spreader[row] != NONE else None)
    least = case.assumptions.least_useful_fill_kg if parts[2] else 0.0
    if builds.fits[row]:
        own = None if builds.kit[row] == NONE else case.ballast[builds.kit[row]]
        fill = Oracle(case, *parts, own).largest_fill(int(builds.units[row]))
        return fill is not None and fill >= least - 1e-5
    best = [Oracle(case, *parts, one).best() for one in (None, *case.ballast)]
    return any(one is not None and one[1] >= least - 1e-5 for one in best)


def test_every_turn_turns_by_plain_arithmetic():
    """On 180 seeded builds, a gram or a tenth of a millimeter short of the change told the verdict is what it
    was, and as much beyond it is the other one."""
    seen = {"blade_heavier_kg": 0, "blade_lighter_kg": 0, "hopper_forward_m": 0, "hopper_rearward_m": 0}
    for seed in range(60):
        case = seeded_case(seed)
        builds = fit_builds(case)
        for row, told in sensitivity(case, builds, np.arange(len(builds))).items():
            for name, sign in zip(seen, (1, -1, -1, 1), strict=True):
                turn = getattr(told, name)
                if turn is None:
                    continue
                what, bit = ("blade_kg", 1e-3) if name.startswith("blade") else ("hopper_m", 1e-4)
                before, after = (stands(changed(case, **{what: sign * (turn + by)}), builds, row)
                                 for by in (-bit, bit))
                where = (seed, builds.name(row), name)
                assert (before, after) == (builds.fits[row], not builds.fits[row]), where
                seen[name] += 1
    assert min(seen.values()) >= 5, seen

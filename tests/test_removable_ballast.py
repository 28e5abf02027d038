"""Ballast that is taken out once the hopper holds enough: by hand, and against every count and every fill."""

import json
import random
from dataclasses import replace
from itertools import product

import jsonschema
import numpy as np
import pytest
import small_plan as sp
from fit_cases import LB, fit_case, judged, kit, lb, plow, spreader, the, truck
from fit_oracle import Oracle
from seeded_cases import small_case
from times_case import FULL, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import clocks, evaluate_loop, service_times
from optibuild.fit import fit_builds, verdicts
from optibuild.pipeline import make_plan, stages
from optibuild.plan import SCHEMA_PATH, from_json, recheck, to_json
from optibuild.plan.recheck_loads import corners
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import NONE, Builds, Case
from optibuild.report import plan_text
from optibuild.report.csv_tables import plan_csv_files

FILLS = 51
"""How many fills from empty to the hopper's volume the slow oracle tries."""


def removable_case(gvwr: float = 1e6, rear: float = 1e6, least_fill: float = 0.0, removable: bool = True,
                   most: int = 9) -> Case:
    """100 lb too much on the front axle with the plow raised; L = 100 in. Material 25 in behind the rear axle
    takes 0.25 of itself off the front, a 50 lb unit 50 in behind it takes 25 lb off."""
    return fit_case(
        [truck(gvwr=gvwr, gawr=(3900, rear), curb=(3000, 2000), wheelbase=100, bumper=72, bed_end=0)],
        [plow(blade=500)],
        [spreader(empty=0, holds=2000, center=25)],
        [replace(kit(unit=50, center=50, most=most), removable=removable)],
        least_fill=least_fill,
    )


def test_ballast_taken_out_gives_its_weight_to_the_load():
    """By hand: 1,000 lb of the raised blade on the front, 4,000 of 3,900. GVWR 7,000 leaves 1,500. Left in, 4
    units weigh 200 and leave 1,300 to spread. Taken out above 100 / 0.25 = 400 lb, the hopper may hold 1,500,
    of which 1,100 can be spread: less, so the ballast stays. With a unit weight of 200 lb that relieves 25 lb
    each (12.5 in behind the axle), 4 units weigh 800 and leave 700: then they are taken out."""
    light = removable_case(gvwr=7000)
    heavy = replace(light, ballast=(replace(light.ballast[0], unit_mass_kg=200 * LB,
                                            center_m=12.5 * 0.0254),))
    builds = [judged(case) for case in (light, heavy)]
    rows = [the(each, "t+p+s") for each in builds]
    figures = [[float(lb(values[row])) for values in (each.rated_fill_kg, each.retained_kg,
                                                      each.usable_fill_kg)]
               for each, row in zip(builds, rows, strict=True)]
    assert [int(each.units[row]) for each, row in zip(builds, rows, strict=True)] == [4, 4]
    assert figures[0] == pytest.approx([1300, 0, 1300])
    assert figures[1] == pytest.approx([1500, 400, 1100])


def heavy_kit_case(**changes: float) -> Case:
    """The case by hand with units of 200 lb, 12.5 in behind the rear axle."""
    case = removable_case(**{"gvwr": 7000, **changes})
    return replace(case, ballast=(replace(case.ballast[0], unit_mass_kg=200 * LB, center_m=12.5 * 0.0254),))


def test_a_kit_that_may_not_come_out_stays_in():
    """The same kit with removable = no leaves 700 lb."""
    builds = judged(heavy_kit_case(removable=False))
    row = the(builds, "t+p+s")
    assert (float(lb(builds.rated_fill_kg[row])), float(builds.retained_kg[row])) == (pytest.approx(700), 0)


def test_without_a_spreader_ballast_stays_in():
    """Nothing takes the ballast's place where there is no material: 4 units, no fill retained."""
    builds = judged(heavy_kit_case())
    row = the(builds, "t+p+-")
    assert (int(builds.units[row]), float(builds.retained_kg[row]), bool(builds.fits[row])) == (4, 0, True)


def test_ballast_is_not_told_where_none_is_needed():
    """With a light blade the truck passes empty: one entry, without ballast, and nothing is retained."""
    case = heavy_kit_case()
    builds = judged(replace(case, plows=(plow(blade=300),)))
    row = the(builds, "t+p+s")
    assert (int(builds.kit[row]), float(builds.retained_kg[row])) == (NONE, 0)


def test_gross_weight_with_ballast_and_retained_fill_counts():
    """GVWR 6,650 leaves 1,150: out of the 800 lb of ballast left in remain 350 lb; taken out above 400 lb,
    ballast and retained fill weigh 1,200, 50 too much, so it has to stay in. At 6,700 they are just carried:
    1,200 may be held, of which 800 are spread, instead of 400."""
    tight, just = (judged(heavy_kit_case(gvwr=gross)) for gross in (6650, 6700 + 1e-6))
    found = [(float(lb(each.retained_kg[row])), float(lb(each.usable_fill_kg[row])))
             for each in (tight, just) for row in [the(each, "t+p+s")]]
    assert found[0] == (0, pytest.approx(350))
    assert found[1] == pytest.approx((400, 800), abs=1e-4)


def test_the_least_useful_fill_is_asked_of_what_is_spread():
    """1,100 lb between 400 and 1,500 are enough where 1,100 are asked, and too few where 1,101 are."""
    enough, short = (judged(heavy_kit_case(least_fill=least)) for least in (1100 - 1e-6, 1101))
    assert enough.fits[the(enough, "t+p+s")]
    row = the(short, "t+p+s")
    reason, = short.reasons[row]
    assert (reason.rating, float(lb(reason.load))) == ("least useful fill", pytest.approx(1100))


def test_the_gross_weight_that_sites_are_asked_to_bear_is_the_heaviest():
    """5,500 lb of truck and plow with 1,500 full, or 800 of ballast with the retained 400: 7,000 lb. With a
    hopper of 1,150 lb it is 6,700, with the ballast in."""
    case = heavy_kit_case()
    small = replace(case, spreaders=(replace(case.spreaders[0], volume_m3=1150 * LB / 1000),),
                    trucks=(replace(case.trucks[0], gvwr_kg=6750 * LB),))
    assert [float(lb(each.worst_gross_kg[the(each, "t+p+s")])) for each in map(judged, (case, small))] == \
        pytest.approx([7000, 6700])


def test_axle_loads_at_the_retained_fill_are_told():
    """By hand at the retained 400 lb, plow raised: without ballast 4,000 - 100 = 3,900 in front, the rating;
    with it 100 less. Full, the ballast is out: 4,000 - 375 = 3,625; empty it is in: 3,900."""
    case = heavy_kit_case()
    builds = fit_builds(case)
    row = the(builds, "t+p+s")
    front = {load.state: float(lb(load.front_kg)) for load in verdicts(case, builds, [row])[row].axle_loads}
    assert front["raised retained, ballast out"] == pytest.approx(3900)
    assert front["raised retained, ballast in"] == pytest.approx(3800)
    assert (front["raised full"], front["raised empty"]) == pytest.approx((3625, 3900))
    assert len(front) == 8


class EveryFill(Oracle):
    """The scalar arithmetic over many fills: which of them pass, with how many units aboard."""

    def holds(self, units: int, fill: float, is_emptiest: bool) -> bool:
        """Whether every rating holds at one fill, plow raised and off, with every crew; the least rear share
        only where the hopper is never emptier."""
        return all(not self._over(*self.loads(up, persons, units, fill), is_emptiest and crew == "driver"
                                  and (up or not self.plow))
                   for up, (crew, persons) in product([True, False] if self.plow else [False], self.crews()))

    def passing(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The fills tried, whether each count passes at each, and whether it does as the emptiest one."""
        assert self.kit and self.spreader
        held = self.spreader.volume_m3 * self.case.material(self.spreader).bulk_density_kg_per_m3
        fills = np.linspace(0.0, held, FILLS)
        counts, asked = range(self.kit.most_units + 1), self.case.fit.min_rear_share is not None
        full = np.array([[self.holds(units, fill, False) for fill in fills] for units in counts])
        return fills, full, full if not asked else np.array(
            [[self.holds(units, fill, True) for fill in fills] for units in counts])

    def most_spread(self) -> tuple[float, float]:
        """Most to spread with ballast left in and taken out, over every count, retained and full fill tried;
        below zero where there is no way."""
        fills, full, empty = self.passing()
        left_in = [fills[full[n]].max() for n in range(len(full)) if empty[n, 0]]
        taken_out = [fills[high] - fills[low] for n in range(1, len(full)) if empty[n, 0]
                     for low in range(FILLS) if empty[0, low] and full[n, :low + 1].all()
                     for high in range(low, FILLS) if full[0, low:high + 1].all()]
        return max(left_in, default=-1.0), max(taken_out, default=-1.0)


def drawn_case(seed: int) -> Case:
    """A truck near its front rating when empty, a hopper behind the rear axle as a rule, and a heavy kit that
    comes out."""
    draw = random.Random(seed)
    front, rear = draw.uniform(3000, 4200), draw.uniform(2000, 3200)
    gawr = (front + draw.uniform(900, 1700), rear + draw.uniform(2000, 4500))
    wheels = truck(gawr=gawr, curb=(front, rear), wheelbase=draw.uniform(120, 160),
                   bed_end=draw.uniform(20, 70), gvwr=min(sum(gawr), front + rear + draw.uniform(2200, 3600)))
    limits = {"min_rear_share": draw.choice([None, None, 0.33]),
              "max_front_share": draw.choice([None, None, 0.64])}
    hopper = spreader(empty=draw.uniform(100, 300), holds=draw.uniform(800, 4000),
                      center=draw.choice([draw.uniform(-60, 20), draw.uniform(0, 40)]))
    units = kit(unit=draw.uniform(80, 400), center=draw.uniform(-40, 5), most=draw.randint(2, 7))
    return fit_case([wheels], [plow(blade=draw.uniform(500, 1100), mount=draw.uniform(0, 150))], [hopper],
                    [replace(units, removable=True)], occupants=draw.choice([0, 1, 2]), **limits)


def test_the_answer_is_the_best_of_every_count_and_every_fill():
    """On 500 seeded builds, ballast left in or taken out: what is told keeps every rating with and without
    the ballast, no way among every count, retained and full fill of a grid spreads more, where there is a way
    one is told, a unit less or 100 g less retained breaks a rating. Both ways of carrying it are told."""
    seen = {"taken out": 0, "left in": 0, "no way": 0, "rear share asked": 0}
    for seed in range(250):
        case = drawn_case(seed)
        builds = judged(case)
        for name, with_plow in (("t+p+s", True), ("t+-+s", False)):
            rows = [row for row, told in enumerate(builds.names) if told == name]
            scalar = EveryFill(case, case.trucks[0], case.plows[0] if with_plow else None, case.spreaders[0],
                               case.ballast[0])
            left_in, taken_out = scalar.most_spread()
            if not builds.fits[rows].any():
                assert max(left_in, taken_out) < 0.0
                seen["no way"] += 1
                continue
            assert builds.usable_fill_kg[rows].max() >= max(left_in, taken_out) - 1e-6
            for row in rows:
                check_kept(builds, row, scalar)
            out = bool((builds.retained_kg[rows] > 0.0).any())
            seen["taken out"] += out
            seen["left in"] += bool(builds.units[rows].any()) and not out
            seen["rear share asked"] += out and case.fit.min_rear_share is not None
    assert min(seen.values()) >= 15, seen


def check_kept(builds: Builds, row: int, scalar: EveryFill) -> None:
    """Every fill that a fitting build may hold passes, and it keeps no more than it needs."""
    units, fill, retained = int(builds.units[row]), builds.rated_fill_kg[row], builds.retained_kg[row]
    assert builds.fits[row] and scalar.holds(units, 0.0, True)
    if retained == 0.0:
        assert scalar.holds(units, fill, False)
        return
    middle = (fill + retained) / 2
    assert all(scalar.holds(units, each, False) for each in (retained / 2, retained))
    assert scalar.holds(0, retained, True) and all(scalar.holds(0, each, False) for each in (middle, fill))
    assert not scalar.holds(0, retained - 0.1, True)
    assert not (scalar.holds(units - 1, 0.0, True) and scalar.holds(units - 1, retained, False))


def test_the_recheck_finds_the_same_loads_at_the_retained_fill():
    """On 100 seeded cases the recheck's own scalar formulas give every state's axle loads within 1e-9
    relative, those at the retained fill among them, and the heaviest gross weight."""
    count = 0
    for seed in range(100):
        case = drawn_case(seed)
        builds = fit_builds(case)
        for row in np.flatnonzero(builds.retained_kg > 0.0).tolist():
            planned = replace(sp.PLAN.trucks[0], rated_fill_kg=float(builds.rated_fill_kg[row]),
                              retained_fill_kg=float(builds.retained_kg[row]))
            unit = Mounted(planned, case.trucks[0], None if builds.plow[row] == NONE else case.plows[0],
                           case.spreaders[0], ((case.ballast[0], int(builds.units[row])),), sp.YARD)
            found = {(corner.state, corner.crew): corner for corner in corners(unit, case)}
            loads = verdicts(case, builds, [row])[row].axle_loads
            assert {(load.state, load.crew) for load in loads} == set(found)
            for load in loads:
                same = found[load.state, load.crew]
                assert (load.front_kg, load.rear_kg) == pytest.approx((same.front_kg, same.rear_kg), rel=1e-9)
            assert builds.worst_gross_kg[row] == pytest.approx(max(one.gross_kg for one in found.values()))
            count += 1
    assert count >= 10


def test_what_is_retained_is_not_spread():
    """Of 30 kg with 16 retained 14 are spread: a stop of 1,500 m^2 x 0.01 = 15 kg needs two parcels, and no
    loop makes it in one; with 15 retained it needs one."""
    case, full = plain_case(), plain_builds(FULL, fill_kg=30.0)
    scarce, enough = (replace(full, retained_kg=np.array([kept])) for kept in (16.0, 15.0))
    rounds = season_rounds(case, clocks(case))
    times = service_times(case, enough, rounds)
    assert service_times(case, scarce, rounds).parcels.tolist() == [2]
    assert times.parcels.tolist() == [1]
    last = len(times.clocks_min) - 1
    assert evaluate_loop(case, enough, times, 0, last, [0]) is not None
    assert evaluate_loop(case, scarce, times, 0, last, [0]) is None


def planned_case() -> Case:
    """The four-site case with one truck, rated 4,500 lb in front, whose only plow and spreader need a heavy
    removable kit while the hopper is nearly empty."""
    case = small_case()
    hopper = replace(case.spreaders[1], center_m=0.5, material_center_m=0.5, empty_mass_kg=115.0)
    bags = replace(case.ballast[0], unit_mass_kg=135.0, center_m=-0.35, removable=True)
    return replace(case, trucks=(replace(case.trucks[1], gawr_front_kg=4500 * LB),), plows=(case.plows[1],),
                   spreaders=(hopper,), ballast=(bags,))


def test_a_plan_carries_ballast_that_comes_out():
    """The program's loops spread what lies above the retained fill; the plan tells it, passes its recheck,
    keeps it through plan.json, and the screen and the table say when the ballast comes out."""
    case = planned_case()
    made = stages(case)
    assert made.problem.fill_kg.tolist() == (made.builds.usable_fill_kg[made.times.build]).tolist()
    plan = make_plan(case)
    row = next(truck for truck in plan.trucks if truck.plow and truck.spreader)
    assert plan.recheck is not None and plan.recheck.passed
    assert 0.0 < row.retained_fill_kg < row.rated_fill_kg
    assert from_json(to_json(plan)).trucks == plan.trucks
    jsonschema.validate(json.loads(to_json(plan)), json.loads(SCHEMA_PATH.read_text(encoding="utf-8")))
    kept, kits = f"{row.retained_fill_kg / LB:,.0f} lb", f"{row.ballast[0].count} bag"
    told = f"Truck {row.truck_no}: take {kits} out above {kept} of material, put back below;"
    assert told in " ".join(plan_text(plan, case).split())
    assert "retained_fill [lb]" in plan_csv_files(plan, "us")["trucks.csv"].partition("\n")[0]


def rechecked(case: Case = sp.CASE, **changes: float) -> dict[str, tuple[float | None, str | None]]:
    """Worst margin and place of every check that the plan by hand fails, truck 1 changed."""
    found = recheck(sp.with_truck(1, **changes), case)
    return {row.name: (row.worst, row.where) for row in found.checks if not row.passed}


COMES_OUT = replace(sp.CASE, ballast=(replace(sp.SANDBAG, removable=True),))


def test_the_recheck_asks_whether_the_ballast_may_come_out():
    """A fill is retained for a kit with removable = no; with yes the check is kept."""
    assert rechecked(retained_fill_kg=100)["ballast"] == (-1, "truck 1, removable")
    assert "ballast" not in rechecked(COMES_OUT, retained_fill_kg=100)
    assert rechecked(COMES_OUT, retained_fill_kg=100, ballast=())["ballast"] == (-1, "truck 1, removable")
    assert rechecked(COMES_OUT, retained_fill_kg=-1)["rated fill"] == (-1, "truck 1, retained")


def test_the_recheck_holds_loops_to_what_lies_above_the_retained_fill():
    """400 kg less 300 retained leave 100: 20 too few for the loop's 120, 50 under a least useful fill of
    150."""
    found = rechecked(COMES_OUT, retained_fill_kg=300)
    assert found["fill between reloads"] == (pytest.approx(-20), "truck 1, load 1")
    assert found["rated fill"] == (pytest.approx(-50), "truck 1")


def test_the_recheck_weighs_the_truck_without_the_ballast():
    """By hand, two bags of 40 kg take 20 off the front. With 40 kg retained (5 off the front) and the bags
    out the front axle bears 1730 + 20 - 5 = 1745 of 1750 - 5, the full crew aboard, plow raised: just kept.
    With 39 retained it is an eighth of a kilogram over."""
    just = recheck(sp.with_truck(1, retained_fill_kg=40), COMES_OUT)
    front = next(row for row in just.checks if row.name == "front GAWR")
    assert (front.passed, front.where) == (True, "truck 1, raised retained, ballast out, full")
    assert front.worst == pytest.approx(0, abs=1e-9)
    worst, where = rechecked(COMES_OUT, retained_fill_kg=39)["front GAWR"]
    assert (worst, where) == (pytest.approx(-0.125), "truck 1, raised retained, ballast out, full")


def test_the_recheck_asks_the_rear_share_of_the_emptiest_hopper():
    """Driver alone, plow raised, bags out, 40 kg retained: front 1690 + 20 - 5 = 1705, rear 1220 - 100 + 45 =
    1165, so 1165 of 2870 = 40.59 % behind, where 40.6 % are asked."""
    case = replace(COMES_OUT, fit=replace(sp.CASE.fit, min_rear_share=0.406))
    worst, where = rechecked(case, retained_fill_kg=40)["axle shares"]
    assert (worst, where) == (pytest.approx(1165 / 2870 - 0.406),
                              "truck 1, raised retained, ballast out, driver, rear")

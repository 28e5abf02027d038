"""Near rating: an answer that turns when catalog weights move by 2 %, at the edges and by plain
arithmetic."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from fit_cases import EXAMPLE, fit_case, kit, plow, spreader, the, truck
from test_fit_every_count import COMBINATIONS, expected_entries, seeded_case

from optibuild.fit import fit_builds, near_rating
from optibuild.records import NONE, Case

ALL = ("front", "rear", "plow", "spreader")
"""The weights that are moved."""


def is_near(case: Case, name: str) -> bool:
    """Whether the only build with this name is near a rating."""
    builds = fit_builds(case)
    return bool(near_rating(case, builds, [the(builds, name)])[0])


@pytest.mark.parametrize(("gawr", "near"), [(4110, True), (4111, False)])
def test_a_fit_that_heavier_weights_would_end(gawr, near):
    """3,000 lb of curb and 700·206/140 = 1,030 of blade on the front axle become 4,110.6 with 2 % more."""
    assert is_near(fit_case([truck(gawr=(gawr, 9000))], [plow()]), "t+p+-") is near


@pytest.mark.parametrize(("gawr", "near"), [(3950, True), (3949, False)])
def test_a_rejection_that_lighter_weights_would_end(gawr, near):
    """4,030 lb less 2 % are 3,949.4."""
    assert is_near(fit_case([truck(gawr=(gawr, 9000))], [plow()]), "t+p+-") is near


@pytest.mark.parametrize(("unit", "near"), [(1, True), (1000, True), (2000, False)])
def test_ballast_that_would_be_another_number_of_units(unit, near):
    """4,794.68 lb over 4,700: with curb front 2 % off by 72 lb and the blade by 22 the excess is 0.6 to 188.7
    lb. A pound of ballast relieves 14/141, so 2,000 lb (198.6) always do and always are needed; 1,000 are not
    always enough."""
    case = fit_case([truck(gawr=(4700, 1e6), **EXAMPLE)], [plow(blade=850, ahead=42)],
                    ballast=[kit(unit=unit, center=14, most=3000)], occupants=1)
    assert is_near(case, "t+p+-") is near


@pytest.mark.parametrize(("room", "near"), [
    (1123, False), (1121, True), (1001, True), (999, True), (879, True), (877, False), (500, False)])
def test_fill_that_would_reach_or_leave_the_hopper_s_volume(room, near):
    """A hopper of 1,000 lb under GVWR: 2 % of 5,000 lb of curb, 700 of plow and 400 of spreader are 122 lb,
    so what limits the fill can change with 878 to 1,122 lb of room; less or more room only changes the
    pounds."""
    case = fit_case([truck(gvwr=6100 + room)], [plow()], [spreader(holds=1000)])
    assert is_near(case, "t+p+s") is near


def test_certain_weights_leave_nothing_near():
    """Without uncertainty no answer turns: 60 seeded cases."""
    for seed in range(60):
        case = seeded_case(seed)
        case = replace(case, assumptions=replace(case.assumptions, catalog_uncertainty=0.0))
        builds = fit_builds(case)
        assert not near_rating(case, builds, np.arange(len(builds))).any()


def moved(case: Case, share: float, what: set[str]) -> Case:
    """The case with some of its weights moved by a share."""
    front, rear, blade, hopper = (1 + share * (name in what) for name in ALL)
    (a_truck,), (a_plow,), (a_spreader,) = case.trucks, case.plows, case.spreaders
    return replace(
        case,
        trucks=(replace(a_truck, curb_front_kg=a_truck.curb_front_kg * front,
                        curb_rear_kg=a_truck.curb_rear_kg * rear),),
        plows=(replace(a_plow, blade_mass_kg=a_plow.blade_mass_kg * blade,
                       mount_mass_kg=a_plow.mount_mass_kg * blade),),
        spreaders=(replace(a_spreader, empty_mass_kg=a_spreader.empty_mass_kg * hopper),))


CORNERS = [(share, what) for share, what in product((0.02, -0.02), ({name} for name in ALL))]
CORNERS += [(0.02, set(ALL)), (-0.02, set(ALL))]


def slow_answers(case: Case, with_plow: bool, with_spreader: bool) -> set[tuple[int, int, bool]]:
    """Kit, units and whether the hopper is full, of everything that fits, by trying every count."""
    held = case.spreaders[0].volume_m3 * case.material(case.spreaders[0]).bulk_density_kg_per_m3
    held = held if with_spreader else 0.0
    return {(option, units, fill >= held - 1e-4) for option, units, fill
            in expected_entries(case, with_plow, with_spreader)}


def test_near_rating_equals_trying_the_ten_corners():
    """On 20 seeded cases a build is near a rating exactly where plain arithmetic over every count gives
    another answer in one of the ten corners; some are near and some are not, fitting and rejected."""
    seen = {(fits, near): 0 for fits in (True, False) for near in (True, False)}
    for seed in range(20):
        case = seeded_case(seed)
        builds = fit_builds(case)
        near = near_rating(case, builds, np.arange(len(builds)))
        for name, with_plow, with_spreader in COMBINATIONS:
            corners = [slow_answers(moved(case, *corner), with_plow, with_spreader) for corner in CORNERS]
            now = slow_answers(case, with_plow, with_spreader)
            for row in (row for row, told in enumerate(builds.names) if told == name):
                own = [one for one in now if one[0] == builds.kit[row] and builds.fits[row]]
                turns = any(own[0] not in corner for corner in corners) if own else any(corners)
                assert near[row] == turns, (seed, name)
                seen[bool(builds.fits[row]), bool(near[row])] += 1
    assert min(seen.values()) >= 3, seen


def test_asked_alone_or_together_the_answer_is_the_same():
    """Near rating of one build among many parts is that of the build asked alone, in any order."""
    case = fit_case(
        [truck("a", gawr=(4110, 3000)), truck("b", gawr=(4300, 2600), gvwr=7000)],
        [plow("p"), plow("q", blade=600)], [spreader("s", holds=800), spreader("r", empty=200, holds=300)],
        [kit()])
    builds = fit_builds(case)
    rows = np.arange(len(builds))
    together = near_rating(case, builds, rows)
    assert together.tolist() == [bool(near_rating(case, builds, [row])[0]) for row in rows]
    assert near_rating(case, builds, rows[::-1]).tolist() == together[::-1].tolist()
    assert 0 < together.sum() < len(builds)
    assert NONE in builds.plow

"""Fit against plain scalar arithmetic that tries every ballast count, on seeded builds."""

import random
from dataclasses import replace
from types import SimpleNamespace

import pytest
from fit_cases import LB, fit_case, judged, kit, plow, spreader, truck
from fit_oracle import Oracle

from optibuild.fit import verdicts
from optibuild.plan.recheck_loads import corners
from optibuild.records import CREWS, LOAD_STATES, NONE, Builds, Case

COMBINATIONS = (("t+p+s", True, True), ("t+p+-", True, False), ("t+-+s", False, True))


def seeded_case(seed: int) -> Case:
    """A truck near its ratings with a plow, a spreader ahead of or behind the rear axle, and two kits."""
    draw = random.Random(seed)
    front, rear = draw.uniform(2800, 4500), draw.uniform(2000, 3500)
    gawr = (front + draw.uniform(300, 1500), rear + draw.uniform(1200, 4500))
    base = draw.choice(["gross", "curb"])
    limits = {
        "min_front_share": draw.choice([0.0, 0.2, 0.4]),
        "axle_reserve_kg": draw.choice([0.0, 40.0]),
        "max_front_share": draw.choice([None, None, 0.62 if base == "gross" else 0.75]),
        "front_share_of": base,
        "min_rear_share": draw.choice([None, None, 0.4]),
    }
    wheels = truck(
        gawr=gawr,
        gvwr=min(sum(gawr), front + rear + draw.uniform(1500, 5000)),
        curb=(front, rear),
        wheelbase=draw.uniform(120, 190),
        bed_end=draw.uniform(0, 60),
        tires=draw.choice([(1e6, 1e6), (gawr[0] * 0.97, gawr[1] * 0.95)]),
    )
    hopper = spreader(
        empty=draw.uniform(150, 800),
        holds=draw.uniform(300, 6000),
        center=draw.uniform(-90, 30),
        material_center=draw.uniform(-90, 30),
    )
    kits = [kit(f"k{n}", draw.uniform(25, 120), draw.uniform(-60, 10), draw.randint(1, 20)) for n in range(2)]
    return fit_case(
        [wheels],
        [plow(blade=draw.uniform(300, 1100), mount=draw.uniform(0, 200))],
        [hopper],
        kits,
        occupants=draw.choice([0, 1, 2, 3]),
        least_fill=300,
        **limits,
    )


def expected_entries(case: Case, with_plow: bool, with_spreader: bool) -> list[tuple[int, int, float]]:
    """(kit, units, fill) of every entry of one combination that fits, by trying every count."""
    told = []
    for option in (NONE, 0, 1):
        best = oracle(case, with_plow, with_spreader, option).best()
        useful = best is not None and (
            not with_spreader or best[1] >= case.assumptions.least_useful_fill_kg - 1e-5
        )
        if useful and (option == NONE or best[0] > 0):
            told.append((option, *best))
    return told


def oracle(case: Case, with_plow: bool, with_spreader: bool, option: int) -> Oracle:
    """The scalar arithmetic of one build of a seeded case."""
    return Oracle(
        case,
        case.trucks[0],
        case.plows[0] if with_plow else None,
        case.spreaders[0] if with_spreader else None,
        None if option == NONE else case.ballast[option],
    )


def test_fill_and_ballast_equal_trying_every_count():
    """On 1,002 seeded builds the entries, the units, the fill and, for the rejected, every broken rating are
    those of plain arithmetic over every count; a hundred grams more than a fill below the hopper's volume
    breaks the rating that is said to bind. Hoppers ahead of and behind the rear axle and blades above 700 lb
    are among those that fit."""
    seen = {"fits": 0, "ballasted": 0, "rejected": 0, "fill bound by a rating": 0, "more fill by ballast": 0,
            "hopper ahead": 0, "hopper behind": 0, "heavy blade fits": 0}
    for seed in range(334):
        case = seeded_case(seed)
        builds = judged(case)
        for name, with_plow, with_spreader in COMBINATIONS:
            rows = [index for index, told in enumerate(builds.names) if told == name]
            expected = expected_entries(case, with_plow, with_spreader)
            if not expected:
                (row,) = rows
                check_rejected(case, builds, row, oracle(case, with_plow, with_spreader, builds.kit[row]))
                seen["rejected"] += 1
                continue
            found = [(int(builds.kit[row]), int(builds.units[row])) for row in rows]
            assert found == [entry[:2] for entry in expected]
            assert builds.fits[rows].all()
            assert builds.rated_fill_kg[rows].tolist() == pytest.approx(
                [entry[2] for entry in expected], abs=1e-3
            )
            seen["fits"] += 1
            behind = case.trucks[0].rear_axle_to_bed_end_m + case.spreaders[0].material_center_m > 0.0
            seen["hopper behind" if behind else "hopper ahead"] += with_spreader
            seen["heavy blade fits"] += with_plow and case.plows[0].blade_mass_kg > 700 * LB
            seen["ballasted"] += found[0][1] > 0
            seen["more fill by ballast"] += found[0][0] == NONE and len(found) > 1
            for row in rows:
                scalar = oracle(case, with_plow, with_spreader, builds.kit[row])
                seen["fill bound by a rating"] += check_fitting(builds, row, scalar)
    assert min(seen.values()) >= 10, seen


def check_rejected(case: Case, builds: Builds, row: int, scalar: Oracle) -> None:
    """A rejected build tells exactly the ratings its empty states break, or a fill too small."""
    broken = scalar.broken(int(builds.units[row]), 0.0, full=False)
    told = {(reason.state, reason.crew, reason.rating) for reason in builds.reasons[row]}
    assert not builds.fits[row]
    assert told == (broken or {("", "", "least useful fill")})
    assert all(reason.over > 0 for reason in builds.reasons[row])
    if not broken:
        assert builds.rated_fill_kg[row] < case.assumptions.least_useful_fill_kg


def check_fitting(builds: Builds, row: int, scalar: Oracle) -> bool:
    """No corner of a fitting build breaks; whether its fill is stopped by a rating, which 100 g more would
    break."""
    units, fill = int(builds.units[row]), float(builds.rated_fill_kg[row])
    assert builds.reasons[row] == ()
    assert not scalar.broken(units, 0.0, full=False)
    if scalar.spreader is None:
        return False
    assert not scalar.broken(units, fill, full=True)
    held = scalar.spreader.volume_m3 * 1000.0
    if fill >= held:
        return False
    broken = {f"{rating}, {state}" for state, _, rating in scalar.broken(units, fill + 0.1, full=True)}
    assert builds.binds[row] in broken
    return True


def test_loads_of_fitting_builds_equal_scalar_arithmetic():
    """Axle loads in every state with every crew agree with mass-by-mass arithmetic to 1e-9 on 30 seeded
    cases."""
    for seed in range(30):
        case = seeded_case(seed)
        builds = judged(case)
        for row in builds.fitting.tolist():
            plowing, spreading = builds.plow[row] != NONE, builds.spreader[row] != NONE
            scalar = oracle(case, plowing, spreading, builds.kit[row])
            for state, (raised, full) in enumerate(
                [(True, False), (True, True), (False, False), (False, True)]
            ):
                if (raised and not plowing) or (full and not spreading):
                    continue
                for crew, (_, persons) in enumerate(scalar.crews()):
                    fill = float(builds.rated_fill_kg[row]) if full else 0.0
                    found = (builds.front_kg[row, state, crew], builds.rear_kg[row, state, crew])
                    assert found == pytest.approx(
                        scalar.loads(raised, persons, int(builds.units[row]), fill), rel=1e-9
                    )


def test_the_recheck_finds_the_same_loads_to_a_billionth():
    """The recheck's own scalar formulas give the axle loads of every state and crew within 1e-9 relative, and
    the heaviest gross weight, on 30 seeded cases."""
    for seed in range(30):
        case = seeded_case(seed)
        builds = judged(case)
        for row in range(len(builds)):
            planned = as_planned(case, builds, row)
            found = {(corner.state, corner.crew): corner for corner in corners(planned, case)}
            loads = verdicts(case, builds, [row])[row].axle_loads
            assert [(load.state, load.crew) for load in loads] == sorted(found, key=by_state)
            for load in loads:
                same = found[load.state, load.crew]
                expected = (same.front_kg, same.rear_kg)
                assert (load.front_kg, load.rear_kg) == pytest.approx(expected, rel=1e-9)
            heaviest = max(corner.gross_kg for corner in found.values())
            assert builds.worst_gross_kg[row] == pytest.approx(heaviest, rel=1e-12)


def by_state(corner: tuple[str, str]) -> tuple[int, int]:
    """Order of load states, then crews."""
    return LOAD_STATES.index(corner[0]), CREWS.index(corner[1])


def as_planned(case: Case, builds: Builds, row: int) -> SimpleNamespace:
    """What the recheck's loads need of a planned truck."""
    plow, spreader, kit = (int(index[row]) for index in (builds.plow, builds.spreader, builds.kit))
    return SimpleNamespace(
        truck=case.trucks[0], plow=None if plow == NONE else case.plows[plow],
        spreader=None if spreader == NONE else case.spreaders[spreader],
        ballast=() if kit == NONE else ((case.ballast[kit], int(builds.units[row])),),
        planned=SimpleNamespace(rated_fill_kg=float(builds.rated_fill_kg[row]),
                                retained_fill_kg=float(builds.retained_kg[row])))


def test_a_higher_rating_never_takes_fill_away():
    """Raising the front rating of 30 seeded trucks by 100 lb rejects no build and lowers no largest fill."""
    for seed in range(30):
        case = seeded_case(seed)
        stronger = replace(case.trucks[0], gawr_front_kg=case.trucks[0].gawr_front_kg + 100 * LB)
        fills = [largest_fills(each) for each in (case, replace(case, trucks=(stronger,)))]
        assert all(fills[1].get(name, -1.0) >= fill - 1e-6 for name, fill in fills[0].items())


def largest_fills(case: Case) -> dict[str, float]:
    """Largest rated fill of each combination that fits."""
    builds = judged(case)
    fills: dict[str, float] = {}
    for row in builds.fitting.tolist():
        fills[builds.names[row]] = max(float(builds.rated_fill_kg[row]), fills.get(builds.names[row], 0.0))
    return fills

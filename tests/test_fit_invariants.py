"""What statics says of every build whatever the numbers: on seeded trucks, attachments, crews and ballast."""

import csv
import random
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fit_cases import IN, LB, Judged, fit_case, judged, kit, plow, spreader, truck

from optibuild.inputs import read_case
from optibuild.records import Case

SMALL = Path(__file__).parent / "data" / "small"
SEEDS = 120


def near_case(seed: int, **limits: Any) -> Case:
    """Trucks near their ratings with a plow, a spreader ahead of or behind the rear axle, and ballast."""
    draw = random.Random(f"near {seed}")
    front, rear = draw.uniform(2800, 4500), draw.uniform(2000, 3500)
    gawr = (front + draw.uniform(600, 1600), rear + draw.uniform(1200, 4500))
    gvwr = min(sum(gawr), front + rear + draw.uniform(1500, 5000))
    wheels = truck(curb=(front, rear), gawr=gawr, gvwr=gvwr, wheelbase=draw.uniform(120, 190),
                   bed_end=draw.uniform(0, 60))
    hopper = spreader(empty=draw.uniform(150, 800), holds=draw.uniform(800, 5000),
                      center=draw.uniform(-90, 20), material_center=draw.uniform(-90, 20))
    blade = plow(blade=draw.uniform(300, 900), mount=draw.uniform(0, 200), ahead=draw.uniform(15, 45))
    bags = kit(unit=draw.uniform(25, 90), center=draw.uniform(-50, 10), most=draw.randint(3, 20))
    return fit_case([wheels], [blade], [hopper], [bags], occupants=draw.choice([0, 1, 2, 3]), least_fill=300,
                    **{"min_front_share": draw.choice([0.0, 0.2, 0.35]), **limits})


def free_case(seed: int) -> Case:
    """The same with ratings that nothing reaches, so that every hopper is full and no ballast is needed."""
    case = near_case(seed, min_front_share=0.0)
    free = replace(case.trucks[0], gvwr_kg=1e6, gawr_front_kg=1e6, gawr_rear_kg=1e6)
    return replace(case, trucks=(free,))


def loads_kg(builds: Judged, name: str) -> np.ndarray:
    """Axle loads of the first build of this name [4 load states, 2 crews, 2 axles]."""
    row = builds.names.index(name)
    return np.stack([builds.front_kg[row], builds.rear_kg[row]], axis=-1)


def most_fill_kg(builds: Judged) -> dict[str, float]:
    """The largest rated fill of each combination, below zero where it is rejected."""
    found: dict[str, float] = {}
    for row, name in enumerate(builds.names):
        fill = float(builds.rated_fill_kg[row]) if builds.fits[row] else -1.0
        found[name] = max(fill, found.get(name, -1.0))
    return found


def rescaled(row: Any, mass: float, length: float) -> Any:
    """A catalog row, every mass in it and every volume by one factor, every length by another."""
    by = {"_kg": mass, "_m3": mass, "_m": length}
    return replace(row, **{field.name: getattr(row, field.name) * factor for field in fields(row)
                           for suffix, factor in by.items()
                           if field.name.endswith(suffix) and getattr(row, field.name) is not None})


def all_rescaled(case: Case, mass: float, length: float) -> Case:
    """The case at another scale."""
    assumed = case.assumptions
    tables: dict[str, Any] = {
        name: tuple(rescaled(row, mass, length) for row in getattr(case, name))
        for name in ("trucks", "plows", "spreaders", "ballast")}
    return replace(case, **tables, assumptions=replace(
        assumed, occupant_mass_kg=mass * assumed.occupant_mass_kg,
        least_useful_fill_kg=mass * assumed.least_useful_fill_kg))


def test_axle_loads_superpose() -> None:
    """In every state and crew a truck with plow and spreader carries what the truck with the plow and the
    truck with the spreader carry together, less the truck with its crew, which they both count."""
    for seed in range(SEEDS):
        case = free_case(seed)
        builds, wheels, people = judged(case), case.trucks[0], min(case.crew.occupants, 1)
        rear = people * case.assumptions.occupant_mass_kg * wheels.seat_m / wheels.wheelbase_m
        front = people * case.assumptions.occupant_mass_kg - rear
        alone = np.array([wheels.curb_front_kg + front, wheels.curb_rear_kg + rear])
        both, plowing, spreading = (loads_kg(builds, name)[:, 0] for name in ("t+p+s", "t+p+-", "t+-+s"))
        # without a spreader full is as empty, without a plow raised is as off
        together = plowing[[0, 0, 2, 2]] + spreading[[2, 3, 2, 3]] - alone
        np.testing.assert_allclose(both, together, rtol=1e-9)


def test_front_and_rear_sum_to_the_weight_and_balance() -> None:
    """In every state front + rear is the sum of the masses, and the moments about the front axle are in
    balance: rear x wheelbase = sum of mass x place."""
    for seed in range(SEEDS):
        case = free_case(seed)
        wheels, blade, hopper = case.trucks[0], case.plows[0], case.spreaders[0]
        end = wheels.wheelbase_m + wheels.rear_axle_to_bed_end_m
        bumper, fill = -wheels.front_axle_to_bumper_m, hopper.volume_m3 * 1000.0
        always = [(wheels.curb_front_kg, 0.0), (wheels.curb_rear_kg, wheels.wheelbase_m),
                  (min(case.crew.occupants, 1) * case.assumptions.occupant_mass_kg, wheels.seat_m),
                  (blade.mount_mass_kg, bumper), (hopper.empty_mass_kg, end + hopper.center_m)]
        raised = (blade.blade_mass_kg, bumper - blade.center_ahead_m)
        held = (fill, end + hopper.material_center_m)
        states = [[raised], [raised, held], [], [held]]
        for found, more in zip(loads_kg(judged(case), "t+p+s")[:, 0], states, strict=True):
            masses = [*always, *more]
            assert found.sum() == pytest.approx(sum(mass for mass, _ in masses), rel=1e-12)
            moment = sum(mass * place for mass, place in masses)
            assert found[1] * wheels.wheelbase_m == pytest.approx(moment, rel=1e-9)


def same_builds(builds: Judged, other: Judged, mass: float) -> None:
    """The same entries, counts, verdicts and reasons, at loads and fills of another scale."""
    assert (other.names, other.binds) == (builds.names, builds.binds)
    assert [[(reason.state, reason.crew, reason.rating) for reason in told] for told in other.reasons] == [
        [(reason.state, reason.crew, reason.rating) for reason in told] for told in builds.reasons]
    for name in ("kit", "units", "fits"):
        np.testing.assert_array_equal(getattr(other, name), getattr(builds, name))
    for name in ("front_kg", "rear_kg", "rated_fill_kg", "ballast_kg", "worst_gross_kg"):
        np.testing.assert_allclose(getattr(other, name), mass * getattr(builds, name), rtol=1e-9, atol=1e-7)


@pytest.mark.parametrize(("mass", "length"), [(3.7, 1.0), (1.0, 0.31), (0.21, 2.9)])
def test_scale_changes_no_verdict(mass: float, length: float) -> None:
    """All masses and ratings by one factor scale loads, fill and ballast by it; all lengths by another change
    no load. Verdicts, counts and reasons stay."""
    verdicts = set()
    for seed in range(SEEDS):
        case = near_case(seed)
        builds = judged(case)
        verdicts |= set(builds.fits.tolist())
        same_builds(builds, judged(all_rescaled(case, mass, length)), mass)
    assert verdicts == {True, False}


METRIC = {"lb": ("kg", LB), "in": ("mm", 1000 * IN), "ft^3": ("L", 28.316846592),
          "lb/ft^3": ("kg/m^3", LB / 0.028316846592)}
"""Exact by definition: the international pound and inch."""


def drawn_tables(seed: int) -> dict[str, list[dict[str, str]]]:
    """Tables of the small case with the weights and places of eight trucks, four plows and three spreaders
    drawn from the seed, in pounds and inches."""
    draw = random.Random(f"units {seed}")
    tables = {path.stem: list(csv.DictReader(path.read_text().splitlines())) for path in SMALL.glob("*.csv")}
    tables["trucks"] = [drawn_truck(draw, tables["trucks"][0], n) for n in range(8)]
    tables["plows"] = [{**tables["plows"][0], "id": f"p{n}", "blade_mass [lb]": str(draw.randint(350, 950)),
                        "mount_mass [lb]": str(draw.randint(0, 200))} for n in range(4)]
    tables["spreaders"] = [{**tables["spreaders"][0], "id": f"s{n}",
                            "empty_mass [lb]": str(draw.randint(150, 800)),
                            "volume [ft^3]": str(draw.randint(8, 60)),
                            "center [in]": str(draw.randint(-60, 15))} for n in range(3)]
    return tables


def drawn_truck(draw: random.Random, row: dict[str, str], n: int) -> dict[str, str]:
    """A row of trucks with ratings, curb weights and wheelbase drawn."""
    front, rear = draw.randint(2700, 4500), draw.randint(1900, 3400)
    gawr = (front + draw.randint(500, 1700), rear + draw.randint(1500, 4500))
    gvwr = min(sum(gawr), front + rear + draw.randint(1500, 5000))
    drawn = {"gvwr [lb]": gvwr, "gawr_front [lb]": gawr[0], "gawr_rear [lb]": gawr[1],
             "curb_front [lb]": front, "curb_rear [lb]": rear, "wheelbase [in]": draw.randint(118, 190)}
    return {**row, "id": f"t{n}", **{heading: str(value) for heading, value in drawn.items()}}


def metric(heading: str, cell: str) -> tuple[str, str]:
    """A heading and a cell of it in kilograms, millimeters and liters."""
    name, _, unit = heading.partition(" [")
    if unit.rstrip("]") not in METRIC:
        return heading, cell
    to, factor = METRIC[unit.rstrip("]")]
    return f"{name} [{to}]", repr(float(cell.replace(",", "")) * factor) if cell else ""


def written(folder: Path, tables: dict[str, list[dict[str, str]]]) -> Path:
    """A case folder with these tables."""
    folder.mkdir()
    (folder / "case.toml").write_text((SMALL / "case.toml").read_text())
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", newline="") as file:
            table = csv.DictWriter(file, list(rows[0]))
            table.writeheader()
            table.writerows(rows)
    return folder


@pytest.mark.parametrize("seed", range(4))
def test_units_change_no_verdict(seed: int, tmp_path: Path) -> None:
    """A catalog typed in kilograms, millimeters and liters gives the builds, counts, fills and reasons that
    the same one gives in pounds, inches and cubic feet."""
    tables = drawn_tables(seed)
    other = {name: [dict(metric(*cell) for cell in row.items()) for row in rows]
             for name, rows in tables.items()}
    assert not any(f"[{unit}]" in heading for row in other["trucks"] for heading in row for unit in METRIC)
    usual, typed = (judged(read_case(written(tmp_path / name, rows)))
                    for name, rows in (("us", tables), ("si", other)))
    assert len(set(usual.fits.tolist())) == 2 and usual.units.max() > 0
    same_builds(usual, typed, 1.0)


def test_a_mass_over_an_axle_loads_that_axle_alone() -> None:
    """A spreader with its material over the rear axle (x = L) leaves the front axle as it was, one over the
    front axle (x = 0) the rear one, and so does a blade there."""
    for seed in range(SEEDS):
        case = free_case(seed)
        wheels, hopper, blade = case.trucks[0], case.spreaders[0], case.plows[0]
        at_rear = -wheels.rear_axle_to_bed_end_m
        for place, axle in ((at_rear, 1), (at_rear - wheels.wheelbase_m, 0)):
            there = replace(hopper, center_m=place, material_center_m=place)
            builds = judged(replace(case, spreaders=(there,)))
            added = loads_kg(builds, "t+p+s")[[2, 3], 0] - loads_kg(builds, "t+p+-")[2, 0]
            mass = np.array([hopper.empty_mass_kg, hopper.empty_mass_kg + hopper.volume_m3 * 1000.0])
            np.testing.assert_allclose(added[:, axle], mass, rtol=1e-9)
            np.testing.assert_allclose(added[:, 1 - axle], 0.0, atol=1e-8)
        over = replace(case, trucks=(replace(wheels, front_axle_to_bumper_m=0.0),),
                       plows=(replace(blade, center_ahead_m=0.0),))
        raised, off = loads_kg(judged(over), "t+p+-")[[0, 2], 0]
        np.testing.assert_allclose(raised - off, [blade.blade_mass_kg, 0.0], rtol=1e-9, atol=1e-8)


def test_a_mass_moved_back_shifts_its_moment_from_front_to_rear() -> None:
    """A hopper moved d to the rear takes mass·d/L off the front axle and puts it on the rear one; a blade
    moved d ahead does the opposite; no state's gross weight changes."""
    for seed in range(SEEDS):
        case, by = free_case(seed), 0.05 + 0.01 * (seed % 20)
        wheels, hopper, blade = case.trucks[0], case.spreaders[0], case.plows[0]
        back = replace(hopper, center_m=hopper.center_m + by, material_center_m=hopper.material_center_m + by)
        ahead = replace(blade, center_ahead_m=blade.center_ahead_m + by)
        full = hopper.empty_mass_kg + hopper.volume_m3 * 1000.0
        moved = np.array([hopper.empty_mass_kg, full, hopper.empty_mass_kg, full]) * by / wheels.wheelbase_m
        lifted = np.array([1, 1, 0, 0]) * blade.blade_mass_kg * by / wheels.wheelbase_m
        before, behind, before_it = (loads_kg(judged(each), "t+p+s")[:, 0] for each in (
            case, replace(case, spreaders=(back,)), replace(case, plows=(ahead,))))
        np.testing.assert_allclose(behind - before, np.stack([-moved, moved], axis=-1), atol=1e-8)
        np.testing.assert_allclose(before_it - before, np.stack([lifted, -lifted], axis=-1), atol=1e-8)


def changed(table: str, **change: float) -> Callable[[Case], Case]:
    """A change of every row of a table by amounts."""
    def made(row: Any) -> Any:
        return replace(row, **{name: getattr(row, name) + by for name, by in change.items()})

    def of(case: Case) -> Case:
        rows: Any = tuple(made(row) for row in getattr(case, table))
        return replace(case, **{table: rows})

    return of


def heavier_over_the_rear_axle(case: Case) -> Case:
    """The spreader 30 kg heavier, that mass right over the rear axle."""
    (row,), at = case.spreaders, -case.trucks[0].rear_axle_to_bed_end_m
    mass = row.empty_mass_kg + 30.0
    center = (row.empty_mass_kg * row.center_m + 30.0 * at) / mass
    return replace(case, spreaders=(replace(row, empty_mass_kg=mass, center_m=center),))


WORSE = {
    "a heavier blade": changed("plows", blade_mass_kg=20.0),
    "a blade further ahead": changed("plows", center_ahead_m=0.1),
    "more curb weight in the rear": changed("trucks", curb_rear_kg=25.0),
    "more weight over the rear axle": heavier_over_the_rear_axle,
    "a lower front rating": changed("trucks", gawr_front_kg=-25.0),
    "a lower rear rating": changed("trucks", gawr_rear_kg=-25.0),
    "a lower gross rating": changed("trucks", gvwr_kg=-25.0),
    "a reserve": lambda case: replace(case, fit=replace(case.fit, axle_reserve_kg=25.0)),
    "a smaller hopper": lambda case: replace(case, spreaders=tuple(
        replace(row, volume_m3=0.95 * row.volume_m3) for row in case.spreaders)),
    "fewer bags": changed("ballast", most_units=-2),
}
"""Each loads some axle more in some state and none less in its worst, or leaves less room."""


@pytest.mark.parametrize("change", WORSE)
def test_more_mass_or_less_rating_never_fits_more(change: str) -> None:
    """With ballast and fill solved anew no build comes to fit and none carries more, and for some it does
    matter."""
    matters = 0
    for seed in range(SEEDS):
        case = near_case(seed)
        before, after = (most_fill_kg(judged(each)) for each in (case, WORSE[change](case)))
        assert before.keys() == after.keys()
        assert all(after[name] <= fill + 1e-6 for name, fill in before.items()), seed
        matters += any(after[name] < fill - 1e-6 for name, fill in before.items())
    assert matters >= 3

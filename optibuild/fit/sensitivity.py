"""How far a build is from another verdict: margins, and the change of one weight or place that turns it.

Catalog weights are estimates, so a verdict is worth as much as it takes to turn it. Every figure is found by
the engine itself on variants of the build, a grid of them at a time that is narrowed to where the verdict
turns. E builds asked, V variants.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from optibuild.fit.axle_loads import axle_loads
from optibuild.fit.builds import fit_builds
from optibuild.fit.cut_out import complete, cut_out, most_usable_kg, only_weights
from optibuild.fit.verdicts import verdicts
from optibuild.records import NONE, Builds, Case, Sensitivity
from optibuild.records.build import Bools, Floats, Ints

STEPS, ROUNDS = 256, 4
"""Variants a grid, and how often it is narrowed: 256^4 parts of the widest change looked at."""
EXTRA_KG = 10.0
"""What the blade is made heavier by to see what that costs in fill."""

Passes = Callable[[Floats], Bools]


def sensitivity(case: Case, builds: Builds, rows: Sequence[int] | Ints) -> dict[int, Sensitivity]:
    """Least margins and turning points of the asked builds [E], by their index [kg, m].

    Of a build that fits the ballast stays as it is and the fill is solved anew; for a rejected one ballast
    and fill both are. The hopper is moved by no more than the wheelbase, the blade made heavier by no more
    than GVWR. Fill lost is a finite difference with the units of the build's own kit solved anew.
    """
    return {int(row): _of_build(case, builds, int(row)) for row in rows}


def _of_build(case: Case, builds: Builds, index: int) -> Sensitivity:
    fits, part = bool(builds.fits[index]), cut_out(case, builds, index)
    truck = part.trucks[0]
    front, rear, gross = _least_margins_kg(case, builds, index)
    heavier = lighter = forward = rearward = lost = None
    if only_weights(part):
        asked = _with_fixed_ballast(part, builds, index) if fits else part
        if part.plows and fits:
            heavier = first_turn(lambda more: _blade_passes(asked, more), fits, truck.gvwr_kg)
            lost = _fill_lost_kg(part, builds, index) if part.spreaders else None
        elif part.plows:
            blade = part.plows[0].blade_mass_kg
            lighter = first_turn(lambda less: _blade_passes(asked, -less), fits, blade)
        if part.spreaders:
            forward = first_turn(lambda by: _hopper_passes(asked, -by), fits, truck.wheelbase_m)
            rearward = first_turn(lambda by: _hopper_passes(asked, by), fits, truck.wheelbase_m)
    return Sensitivity(front, rear, gross, heavier, lighter, forward, rearward, lost)


def first_turn(passes: Passes, now: bool, most: float) -> float | None:
    """The least change up to `most` at which the verdict is not what it is `now`; None where it stays. Both
    numbers are in the unit of what `passes` changes.

    Exact to most / 256^4 where verdicts turn once; what turns and turns back within most / 256 may be missed.
    """
    low, high = 0.0, most
    for _ in range(ROUNDS):
        tried = np.linspace(low, high, STEPS + 1)[1:]
        turned = np.flatnonzero(passes(tried) != now)
        if not len(turned):
            return None
        first = int(turned[0])
        low, high = float(tried[first - 1]) if first else low, float(tried[first])
    return high


def _least_margins_kg(case: Case, builds: Builds, index: int) -> tuple[float, float, float]:
    """The least margins of front axle, rear axle and gross weight to the ratings of the label."""
    rows = verdicts(case, builds, [index])[index].axle_loads
    return (min(row.front_margin_kg for row in rows), min(row.rear_margin_kg for row in rows),
            min(row.gross_margin_kg for row in rows))


def _with_fixed_ballast(part: Case, builds: Builds, index: int) -> Case:
    """The cut-out case with the ballast of a build that fits aboard, no unit more or less.

    Ballast that stays in counts as curb weight, and a greatest front share of curb weight is restated so that
    it allows what it did. Ballast that is taken out becomes a kit of one unit.
    """
    if builds.kit[index] == NONE:
        return replace(part, ballast=())
    kit, mass = part.ballast[builds.kit[index]], float(builds.ballast_kg[index])
    if builds.retained_kg[index] > 0.0:
        return replace(part, ballast=(replace(kit, unit_mass_kg=mass, most_units=1),))
    truck, limits = part.trucks[0], part.fit
    place = truck.wheelbase_m + truck.rear_axle_to_bed_end_m + kit.center_m
    front, rear = axle_loads(mass, place, truck.wheelbase_m).tolist()
    if limits.max_front_share is not None and limits.front_share_of == "curb":
        share = limits.max_front_share * truck.curb_kg / (truck.curb_kg + mass)
        limits = replace(limits, max_front_share=share)
    loaded = replace(truck, curb_front_kg=truck.curb_front_kg + front, curb_rear_kg=truck.curb_rear_kg + rear)
    return replace(part, trucks=(loaded,), ballast=(), fit=limits)


def _blade_passes(part: Case, more_kg: Floats) -> Bools:
    """Whether the combination fits with its blade so much heavier [V]."""
    plow = part.plows[0]
    masses = np.maximum(plow.blade_mass_kg + more_kg, 0.0).tolist()
    tried = replace(part, plows=tuple(replace(plow, blade_mass_kg=mass) for mass in masses))
    builds = fit_builds(tried)
    return _any_of(builds.plow[builds.fits & complete(part, builds)], len(masses))


def _hopper_passes(part: Case, rearward_m: Floats) -> Bools:
    """Whether the combination fits with its hopper and material so much further to the rear [V]."""
    row = part.spreaders[0]
    moved = tuple(replace(row, center_m=row.center_m + by, material_center_m=row.material_center_m + by)
                  for by in rearward_m.tolist())
    builds = fit_builds(replace(part, spreaders=moved))
    return _any_of(builds.spreader[builds.fits & complete(part, builds)], len(moved))


def _any_of(found: Ints, count: int) -> Bools:
    """Which of 0 .. count - 1 are among the found."""
    there = np.zeros(count, dtype=bool)
    there[found] = True
    return there


def _fill_lost_kg(part: Case, builds: Builds, index: int) -> float | None:
    """Usable fill that ten more kilograms of blade cost; None where they turn the verdict."""
    kit = int(builds.kit[index])
    own, plow = replace(part, ballast=() if kit == NONE else (part.ballast[kit],)), part.plows[0]
    heavier = replace(own, plows=(replace(plow, blade_mass_kg=plow.blade_mass_kg + EXTRA_KG),))
    now, then = most_usable_kg(own), most_usable_kg(heavier)
    return None if now is None or then is None else now - then

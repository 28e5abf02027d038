"""What would make a rejected build fit, one thing at a time, asked of the engine itself."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from optibuild.fit.builds import fit_builds
from optibuild.fit.cut_out import complete, cut_out, fits_at_all, most_usable_kg, only_weights
from optibuild.fit.load_states import state_loads
from optibuild.fit.ratings import RATINGS, overloads, rating_limits, rating_weights, tolerances
from optibuild.records import (
    NONE,
    Ballast,
    Builds,
    Case,
    EnoughBallast,
    NeededRating,
    Plow,
    Replacement,
    Spreader,
    WouldFit,
)
from optibuild.records.build import Bools, Floats, Ints

MOST_TOLD = 3
"""Of other plows and of other spreaders no more than these are told."""
LABEL = ("gawr_front_kg", "gawr_rear_kg", "gvwr_kg", "tire_capacity_front_kg", "tire_capacity_rear_kg")
"""Fields of a truck in the order of RATINGS, as far as those are in kilograms."""
GVWR = RATINGS.index("GVWR")


def would_fit(case: Case, builds: Builds, index: int) -> WouldFit | None:
    """What would make one build fit; None for a build that does.

    Ballast: for each kit the fewest units that pass, its own most_units aside. Plows: those of less mass that
    fit this truck with this spreader, nearest in width first. Spreaders: others that fit it with this plow,
    nearest in volume first. Ratings: what the worst state needs with the ballast tried and the least useful
    fill aboard; only the vehicle's maker, final-stage maker or alterer may change one (49 CFR 567.4-567.7).
    """
    if builds.fits[index]:
        return None
    part = cut_out(case, builds, index)
    return WouldFit(_ballast(part), _plows(case, part), _spreaders(case, part), *_fills(part),
                    _ratings(case, builds, index))


def _ballast(part: Case) -> tuple[EnoughBallast, ...]:
    if not only_weights(part):
        return ()
    found = ((kit, _fewest_units(part, kit)) for kit in part.ballast)
    return tuple(EnoughBallast(kit.id, units, kit.most_units) for kit, units in found if units is not None)


def _fewest_units(part: Case, kit: Ballast) -> int | None:
    """The fewest units of a kit that pass. Where a most of n units allows it, so does every larger most, so
    that halving finds them; beyond GVWR none are of use."""
    def enough(most: int) -> bool:
        return fits_at_all(replace(part, ballast=(replace(kit, most_units=most),)))

    low, high = kit.most_units, 1 + int(part.trucks[0].gvwr_kg / kit.unit_mass_kg)
    if high <= low or not enough(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _plows(case: Case, part: Case) -> tuple[Replacement, ...]:
    """Lighter plows of the catalog that fit."""
    if not part.plows:
        return ()
    own = part.plows[0]
    lighter = [row for row in case.plows if row.mass_kg < own.mass_kg]
    near = sorted(lighter, key=lambda row: (abs(row.width_m - own.width_m), row.mass_kg))
    tried = replace(part, plows=tuple(near))
    builds = fit_builds(tried)
    return _replacements(tried, builds, complete(part, builds), builds.plow, near)


def _spreaders(case: Case, part: Case) -> tuple[Replacement, ...]:
    """Other spreaders of the catalog that fit."""
    if not part.spreaders:
        return ()
    own = part.spreaders[0]
    near = sorted((row for row in case.spreaders if row.id != own.id),
                  key=lambda row: (abs(row.volume_m3 - own.volume_m3), row.empty_mass_kg))
    tried = replace(part, spreaders=tuple(near))
    builds = fit_builds(tried)
    return _replacements(tried, builds, complete(part, builds), builds.spreader, near)


def _replacements(tried: Case, builds: Builds, whole: Bools, place: Ints,
                  rows: Sequence[Plow] | Sequence[Spreader]) -> tuple[Replacement, ...]:
    """The first rows with which the rest fits, each with the first of its ballast options that does."""
    good = np.flatnonzero(builds.fits & whole).tolist()
    first = dict(reversed([(int(place[b]), b) for b in good]))
    return tuple(_replacement(tried, builds, first[n], rows[n].id) for n in sorted(first)[:MOST_TOLD])


def _replacement(tried: Case, builds: Builds, b: int, id: str) -> Replacement:
    kit = None if builds.kit[b] == NONE else tried.ballast[builds.kit[b]].id
    fill = None if builds.spreader[b] == NONE else float(builds.usable_fill_kg[b])
    return Replacement(id, kit, int(builds.units[b]), fill)


def _fills(part: Case) -> tuple[float | None, float | None]:
    """The fill that could be spread if none were too small, and the least useful one; None where the makers
    or the tape forbid the build."""
    if not part.spreaders or not only_weights(part):
        return None, None
    anything = replace(part, assumptions=replace(part.assumptions, least_useful_fill_kg=0.0))
    return most_usable_kg(anything), part.assumptions.least_useful_fill_kg


def _ratings(case: Case, builds: Builds, index: int) -> tuple[NeededRating, ...]:
    """The ratings of the label, or of its tires, that do not do, and what would."""
    truck = case.trucks[builds.truck[index]]
    has = [float(getattr(truck, field)) for field in LABEL]
    needs = [rating + max(over, 0.0) for rating, over in zip(has, _overloads_kg(case, builds, index),
                                                            strict=True)]
    needs[GVWR] = max(needs[GVWR], *_least_gvwr_kg(case, builds, index))
    return tuple(NeededRating(name, held, need) for name, held, need in zip(RATINGS, has, needs, strict=False)
                 if need > held)


def _least_gvwr_kg(case: Case, builds: Builds, index: int) -> Iterable[float]:
    """What the makers of plow and spreader ask of the truck."""
    for rows, n in ((case.plows, builds.plow[index]), (case.spreaders, builds.spreader[index])):
        yield 0.0 if n == NONE else rows[n].min_gvwr_kg


def _overloads_kg(case: Case, builds: Builds, index: int) -> Floats:
    """By how much each rating in kilograms is exceeded in its worst state, the least useful fill aboard."""
    row = np.array([index])
    useful = replace(builds, rated_fill_kg=np.full(len(builds), _useful_kg(case, builds, index)))
    truck = builds.truck[row]
    limits = rating_limits(case, truck)
    over = overloads(state_loads(case, useful, row), rating_weights(case.fit), limits,
                     builds.plow[row] != NONE)
    over = np.where(over <= tolerances(case, truck, limits)[:, None, None, :], 0.0, over)
    worst: Floats = np.nanmax(over[0, ..., :len(LABEL)], axis=(0, 1))
    return worst


def _useful_kg(case: Case, builds: Builds, index: int) -> float:
    """The least useful fill, as far as the hopper holds it."""
    if builds.spreader[index] == NONE:
        return 0.0
    held_kg = case.capacity_kg(case.spreaders[builds.spreader[index]])
    return min(held_kg, case.assumptions.least_useful_fill_kg)

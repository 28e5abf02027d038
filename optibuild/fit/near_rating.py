"""Near rating: whether the answer for a build turns when catalog weights move by their uncertainty.

Ballast and fill are solved up to a rating, so a margin near zero tells nothing. What tells is whether the
verdict, the ballast, or what limits the fill is another one with slightly other weights. E builds asked.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from optibuild.fit.builds import fit_builds
from optibuild.fit.ratings import NOISE
from optibuild.records import NONE, Builds, Case
from optibuild.records.build import Bools, Ints

MOVED = (("front",), ("rear",), ("plow",), ("spreader",), ("front", "rear", "plow", "spreader"))
"""The weights that are moved together: each axle's curb weight, blade and mount, the empty spreader, all."""


def near_rating(case: Case, builds: Builds, rows: Sequence[int] | Ints) -> Bools:
    """Whether each asked build's answer turns within `catalog_uncertainty` of its catalog weights [E].

    Curb front, curb rear, plow and empty spreader, each alone and all at once, up and down: ten corners. The
    answer of a build that fits turns where it is rejected, where kit, units or whether ballast is taken out
    change, and where the fill reaches or leaves the hopper's volume; a rejected one's where it fits.
    """
    asked = np.asarray(rows, dtype=np.int64)
    part, held = _part(case, builds, asked)
    combination, answer = _coded(part, held)
    near = np.zeros(len(asked), dtype=bool)
    for moved in _corners(part):
        found = fit_builds(moved)
        passing, answers = (code[found.fits] for code in _coded(moved, found))
        near |= np.where(held.fits, ~np.isin(answer, answers), np.isin(combination, passing))
    return near


def _part(case: Case, builds: Builds, asked: Ints) -> tuple[Case, Builds]:
    """The case with only the parts of the asked builds, and these builds with indices into it."""
    (trucks, truck), (plows, plow), (spreaders, spreader) = (
        _kept(index[asked]) for index in (builds.truck, builds.plow, builds.spreader))
    part = replace(case, trucks=tuple(case.trucks[n] for n in trucks),
                   plows=tuple(case.plows[n] for n in plows),
                   spreaders=tuple(case.spreaders[n] for n in spreaders))
    arrays = {name: getattr(builds, name)[asked] for name in (
        "kit", "units", "ballast_kg", "rated_fill_kg", "retained_kg", "worst_gross_kg", "fits")}
    return part, replace(builds, truck=truck, plow=plow, spreader=spreader, **arrays)


def _kept(index: Ints) -> tuple[list[int], Ints]:
    """The different indices without NONE, and each index as its place among them."""
    rows = np.unique(index[index != NONE])
    return rows.tolist(), np.where(index == NONE, NONE, np.searchsorted(rows, index))


def _corners(case: Case) -> Iterator[Case]:
    """The case with some weights moved: five groups, up and down."""
    for share, moved in product((case.assumptions.catalog_uncertainty, -case.assumptions.catalog_uncertainty),
                                MOVED):
        by = {name: 1.0 + share * (name in moved) for name in MOVED[-1]}
        yield replace(
            case,
            trucks=tuple(replace(row, curb_front_kg=row.curb_front_kg * by["front"],
                                 curb_rear_kg=row.curb_rear_kg * by["rear"]) for row in case.trucks),
            plows=tuple(replace(row, blade_mass_kg=row.blade_mass_kg * by["plow"],
                                mount_mass_kg=row.mount_mass_kg * by["plow"]) for row in case.plows),
            spreaders=tuple(replace(row, empty_mass_kg=row.empty_mass_kg * by["spreader"])
                            for row in case.spreaders))


def _coded(case: Case, builds: Builds) -> tuple[Ints, Ints]:
    """A whole number for what each build is made of, and one for that and its answer [B]."""
    combination = (builds.truck * (len(case.plows) + 1) + builds.plow + 1) * (len(case.spreaders) + 1) \
        + builds.spreader + 1
    most = 1 + max((row.most_units for row in case.ballast), default=0)
    held = np.array([*map(case.capacity_kg, case.spreaders), 0.0])
    full = builds.rated_fill_kg >= held[builds.spreader] * (1.0 - NOISE)
    answer = combination * (len(case.ballast) + 1) + builds.kit + 1
    for digit, base in ((builds.units, most), (full, 2), (builds.retained_kg > 0.0, 2)):
        answer = answer * base + digit
    return combination, answer

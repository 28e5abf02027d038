"""Every build of a case and its verdict: arrays over truck x plow x spreader x ballast kit."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from optibuild.fit.load_states import Mounted, people
from optibuild.fit.mounting import mountable
from optibuild.fit.options import Tried, best_ballast, flat, nearest
from optibuild.fit.ratings import NOISE
from optibuild.fit.rooms import rooms
from optibuild.records import NONE, Builds, Case, Item
from optibuild.records.build import Bools, Floats, Ints, column

BLOCK = 65_536
"""Combinations worked on at a time: few enough for the cache, many enough for arrays to pay."""


@dataclass(frozen=True)
class Entries:
    """The builds that are told [E]: what they are made of, with how many units, their fills and verdict.

    `option` is the ballast option: 0 for none, then each kit.
    """

    truck: Ints
    plow: Ints
    spreader: Ints
    option: Ints
    units: Floats
    fill_kg: Floats
    retained_kg: Floats
    fits: Bools


def fit_builds(case: Case) -> Builds:
    """Fit of every truck with every plow or none and every spreader or none.

    In order of truck, plow, spreader (none last) and ballast kit (none first). A combination that fits is
    told once without ballast, if it needs none, and once for each kit that it needs or that lets it carry
    more; a rejected one is told once, with the ballast that came nearest.
    """
    return _builds(case, _joined([_entries(case, *block) for block in _blocks(case)]))


def _blocks(case: Case) -> Iterator[tuple[int, int, Ints]]:
    """First and last truck and the plows of each block: many trucks with every plow, or one with some."""
    plows, spreaders = np.array([*range(len(case.plows)), NONE]), len(case.spreaders) + 1
    trucks = max(1, BLOCK // (len(plows) * spreaders))
    step = len(plows) if trucks > 1 else max(1, BLOCK // spreaders)
    for first in range(0, max(1, len(case.trucks)), trucks):
        for plow in range(0, len(plows), step):
            yield first, first + trucks, plows[plow:plow + step]


def _entries(case: Case, first: int, last: int, plows: Ints) -> Entries:
    """The builds of some trucks with some plows."""
    part, least = replace(case, trucks=case.trucks[first:last]), _least_kg(case)
    at = _combinations(part, plows)
    lines, most_units = rooms(part, plows), np.array([0, *(kit.most_units for kit in case.ballast)])
    room = lines.room()
    removable = np.array([False, *(kit.removable for kit in case.ballast)])
    tried = best_ballast(lines, room, _capacity_kg(case), most_units, removable)
    fits = tried.passes & (tried.usable_kg() >= least) & (_mounted(at) & mountable(part, at))
    told = fits & (tried.units > 0.0)
    told[0] = fits[0]
    rejected = np.flatnonzero(_mounted(at) & ~told.any(axis=0))
    chosen = nearest(lines, room, tried, least, most_units, rejected)
    flat(tried.units)[chosen.option, rejected] = chosen.units
    flat(told)[chosen.option, rejected] = True
    return _listed(at, tried, told, fits, first)


def _combinations(case: Case, plows: Ints) -> Mounted:
    """Every truck with these plows and every spreader or none, as indices that broadcast to [T, P, S]."""
    trucks, spreaders = np.arange(len(case.trucks)), np.array([*range(len(case.spreaders)), NONE])
    return Mounted(trucks[:, None, None], plows[:, None], spreaders, np.array([NONE]))


def _mounted(at: Mounted) -> Bools:
    """Whether anything is mounted: a bare truck is no build."""
    return np.asarray((at.plow != NONE) | (at.spreader != NONE))


def _least_kg(case: Case) -> Floats:
    """The least useful fill of each spreader, noise aside [S]; zero for none."""
    least = case.assumptions.least_useful_fill_kg * (1.0 - NOISE)
    return np.array([*(least for _ in case.spreaders), 0.0])


def _capacity_kg(case: Case) -> Floats:
    """What each spreader holds [S], zero for none."""
    return np.array([*map(case.capacity_kg, case.spreaders), 0.0], dtype=np.float64)


def _listed(at: Mounted, tried: Tried, told: Bools, fits: Bools, first_truck: int) -> Entries:
    """The told options [O, T, P, S] one after another, combination by combination."""
    combination, option = np.divmod(np.flatnonzero(flat(told).T), len(told))
    cell = option * told[0].size + combination
    truck, plow, spreader = (np.broadcast_to(index, told.shape[1:]).ravel().take(combination)
                             for index in (at.truck + first_truck, at.plow, at.spreader))
    units, fill, retained, fit = (values.ravel().take(cell) for values in (
        tried.units, tried.fill_kg, tried.retained_kg, fits))
    return Entries(truck, plow, spreader, option, units, fill, retained, fit)


def _joined(blocks: list[Entries]) -> Entries:
    """Blocks of builds end to end."""
    return Entries(*(np.concatenate([getattr(block, field.name) for block in blocks])
                     for field in fields(Entries)))


def _builds(case: Case, told: Entries) -> Builds:
    unit_kg = np.array([0.0, *(kit.unit_mass_kg for kit in case.ballast)], dtype=np.float64)
    ballast = unit_kg[told.option] * told.units
    return Builds(
        ids=(_ids(case.trucks), _ids(case.plows), _ids(case.spreaders)),
        truck=told.truck, plow=told.plow, spreader=told.spreader,
        kit=np.where(told.units > 0.0, told.option - 1, NONE), units=told.units.astype(np.int64),
        ballast_kg=ballast, rated_fill_kg=told.fill_kg, retained_kg=told.retained_kg,
        worst_gross_kg=_heaviest_kg(case, told) + _heaviest_bed_kg(told, ballast), fits=told.fits)


def _heaviest_bed_kg(told: Entries, ballast_kg: Floats) -> Floats:
    """Most ballast and material at once [E]: ballast that is taken out rides up to the retained fill."""
    with_ballast = np.where(told.retained_kg > 0.0, told.retained_kg, told.fill_kg) + ballast_kg
    return np.maximum(with_ballast, told.fill_kg)


def _ids(rows: Sequence[Item]) -> tuple[str, ...]:
    """Ids of catalog rows; the last one, which NONE finds, stands for none."""
    return (*(row.id for row in rows), "-")


def _heaviest_kg(case: Case, told: Entries) -> Floats:
    """Gross weight with the full crew and the plow raised, without ballast and material [E]."""
    crew = float(np.nanmax(people(case))) * case.assumptions.occupant_mass_kg
    truck = column(case.trucks, "curb_kg") + crew
    return np.asarray(truck[told.truck] + column(case.plows, "mass_kg")[told.plow]
                      + column(case.spreaders, "empty_mass_kg")[told.spreader])

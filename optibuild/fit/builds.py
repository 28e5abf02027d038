"""Every build of a case and what fit says of it: arrays over truck x plow x spreader x ballast kit."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from optibuild.fit.arrays import Bools, Floats, Ints, column
from optibuild.fit.ballast import feasible_units, nearest_units, total_excess
from optibuild.fit.load_states import Combinations, combinations, part_loads, state_loads
from optibuild.fit.mounting import mounting
from optibuild.fit.rated_fill import fewest_units_of_largest_fill, fill_at, fill_lines
from optibuild.fit.ratings import (
    NOISE,
    Lines,
    lines,
    margin_scales,
    overloads,
    rating_limits,
    rating_weights,
    tolerances,
)
from optibuild.fit.reasons import fill_reason, first_words, least_margins, mounting_reasons, rating_reasons
from optibuild.records import Builds, Case, Reason

BLOCK_ROWS = 60_000
"""Combinations x ballast options held in memory at once (about 50 MB), one truck at least."""
EMPTY_STATES = np.array([True, False, True, False])


@dataclass(frozen=True)
class Ballasted:
    """Each combination with each ballast option [B, O]: units, fill, whether it passes empty, excess."""

    units: Ints
    fill_kg: Floats
    passes: Bools
    excess_kg: Floats


@dataclass(frozen=True)
class Entries:
    """The builds that are told [E]: combination, ballast option, and whether it fits."""

    row: Ints
    option: Ints
    fits: Bools


def fit_builds(case: Case) -> Builds:
    """Fit of every truck with every plow or none and every spreader or none.

    In order of truck, plow, spreader (none last) and ballast kit (none first). A combination that fits is
    told once without ballast, if it needs none, and once for each kit that it needs or that lets it carry
    more; a rejected one is told once, with the ballast that came nearest.
    """
    return _join([_fit_block(case, trucks) for trucks in _blocks(case)])


def best_ballast(checks: Lines, capacity_kg: Floats, least_kg: Floats, most_units: Ints) -> Ballasted:
    """Units and fill solved together for each combination and ballast option.

    `capacity_kg` and `least_kg` are [B], `most_units` is [O]. Where no count passes empty: the count that
    leaves the least excess, and no fill.
    """
    room, capacity = checks.room[:, None, :], np.broadcast_to(capacity_kg[:, None], checks.per_unit.shape[:2])
    most = np.broadcast_to(most_units, capacity.shape)
    low, high, passes = feasible_units(checks.per_unit, room + checks.tolerance[:, None, :], most)
    start, slope = fill_lines(checks.per_unit, checks.per_fill[:, None, :], room)
    units = fewest_units_of_largest_fill(start, slope, capacity, low, high)
    units = np.where(passes, units, nearest_units(checks.per_unit, room, most))
    fill = np.where(passes, np.maximum(fill_at(start, slope, capacity, units), 0.0), 0.0)
    over = np.where(passes, 0.0, total_excess(checks.per_unit, room, units))
    return Ballasted(units, fill, passes, over + np.maximum(least_kg[:, None] - fill, 0.0))


def entries(tried: Ballasted, mountable: Bools, least_kg: Floats) -> Entries:
    """Which options are told: all that fit and differ from no ballast, else the nearest one."""
    enough = tried.fill_kg >= least_kg[:, None] * (1.0 - NOISE)
    fits = tried.passes & enough & mountable[:, None]
    told = fits & ((tried.units > 0) | (np.arange(fits.shape[1]) == 0))
    rejected = np.flatnonzero(~told.any(axis=1))
    told[rejected, np.argmin(tried.excess_kg[rejected], axis=1)] = True
    row, option = np.nonzero(told)
    return Entries(row, option, fits[row, option])


def _blocks(case: Case) -> Iterator[range]:
    each = (len(case.plows) + 1) * (len(case.spreaders) + 1) * (len(case.ballast) + 1)
    step = max(1, BLOCK_ROWS // each)
    for first in range(0, max(1, len(case.trucks)), step):
        yield range(first, min(first + step, len(case.trucks)))


def _fit_block(case: Case, trucks: range) -> Builds:
    combos = combinations(trucks, len(case.plows), len(case.spreaders))
    parts = part_loads(case, combos)
    found = mounting(case, combos)
    least = np.where(parts.has_spreader, case.assumptions.least_useful_fill_kg, 0.0)
    most_units = np.array([0, *(kit.most_units for kit in case.ballast)], dtype=np.int64)
    tried = best_ballast(lines(case, combos.truck, parts), parts.capacity_kg, least, most_units)
    told = entries(tried, found.allowed, least)
    units, fill = tried.units[told.row, told.option], tried.fill_kg[told.row, told.option]
    loads = state_loads(parts, told.row, told.option, units, fill)
    chosen = Combinations(combos.truck[told.row], combos.plow[told.row], combos.spreader[told.row])
    rejected = np.flatnonzero(~told.fits)
    before = mounting_reasons(found, told.row[rejected])
    passes = tried.passes[told.row, told.option]
    binds, reasons = _verdicts(case, chosen, loads, fill, told.fits, passes, before)
    return _builds(case, chosen, told, units, fill, loads, binds, reasons)


def _verdicts(case: Case, chosen: Combinations, loads: Floats, fill: Floats, fits: Bools, passes: Bools,
              before: list[list[Reason]]) -> tuple[tuple[str, ...], tuple[tuple[Reason, ...], ...]]:
    """What binds and why not, for every entry; `before` holds the mounting reasons of the rejected ones."""
    limits = rating_limits(case, chosen.truck)
    tolerance = tolerances(case, chosen.truck, limits)
    over = overloads(loads, rating_weights(case.fit), limits, chosen.plow >= 0)
    binds = list(least_margins(over, margin_scales(case, chosen.truck, limits)))
    reasons: list[tuple[Reason, ...]] = [()] * len(binds)
    out = np.flatnonzero(~fits)
    # a rejected build has no fill where its empty states fail, so the full ones would only repeat them;
    # half the tolerance, so that rounding at its edge leaves no rejected build without a reason
    broken = (over[out] > 0.5 * tolerance[out][:, None, None, :]) & EMPTY_STATES[:, None, None]
    broken &= ~passes[out][:, None, None, None]
    curb = column(case.trucks, "curb_kg")[chosen.truck[out]]
    least = case.assumptions.least_useful_fill_kg
    weights = rating_reasons(case, curb, loads[out], limits[out], broken)
    for entry, mounted, weighed in zip(out.tolist(), before, weights, strict=True):
        short = passes[entry] and chosen.spreader[entry] >= 0 and fill[entry] < least * (1.0 - NOISE)
        reasons[entry] = (*mounted, *weighed, *([fill_reason(float(fill[entry]), least)] if short else []))
        binds[entry] = first_words(reasons[entry])
    return tuple(binds), tuple(reasons)


def _builds(case: Case, chosen: Combinations, told: Entries, units: Ints, fill: Floats, loads: Floats,
            binds: tuple[str, ...], reasons: tuple[tuple[Reason, ...], ...]) -> Builds:
    unit_kg = np.array([0.0, *(kit.unit_mass_kg for kit in case.ballast)], dtype=np.float64)
    mass: Floats = unit_kg[told.option] * units
    kit = np.where(units > 0, told.option - 1, -1)
    return Builds(_names(case, chosen), chosen.truck, chosen.plow, chosen.spreader, kit, units, mass, fill,
                  loads[..., 0], loads[..., 1], told.fits, binds, reasons)


def _names(case: Case, chosen: Combinations) -> tuple[str, ...]:
    trucks = [row.id for row in case.trucks]
    plows = [*(row.id for row in case.plows), "-"]
    spreaders = [*(row.id for row in case.spreaders), "-"]
    triples = zip(chosen.truck.tolist(), chosen.plow.tolist(), chosen.spreader.tolist(), strict=True)
    return tuple(f"{trucks[t]}+{plows[p]}+{spreaders[s]}" for t, p, s in triples)


def _join(blocks: list[Builds]) -> Builds:
    """Blocks of builds end to end."""
    if len(blocks) == 1:
        return blocks[0]
    joined: dict[str, Any] = {}
    for field in fields(Builds):
        parts = [getattr(block, field.name) for block in blocks]
        arrays = isinstance(parts[0], np.ndarray)
        joined[field.name] = np.concatenate(parts) if arrays else tuple(row for part in parts for row in part)
    return Builds(**joined)

"""Plowing minutes of rigs at stops: passes and turns to the side, full blades to the end."""

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from optibuild.cycle_time import plowing, turning
from optibuild.cycle_time.crews import Rigs
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Bools, Floats
from optibuild.records.case import Case

BLOCK = 60_000
"""Cells worked on at a time: few enough for the cache, many enough for arrays to pay."""


def pass_width_m(case: Case, rigs: Rigs, to_end: Bools) -> Floats:
    """Width a rig clears in a pass at each stop [R, S]; the blade is straight where snow goes to the end."""
    angled, straight = (plowing.effective_width_m(rigs.blade_width_m, angle, case.assumptions.overlap_m)
                        for angle in (rigs.angle_rad, np.zeros_like(rigs.angle_rad)))
    return np.where(to_end, straight[:, None], angled[:, None])


def able_to_plow(case: Case, rigs: Rigs, visits: Visits) -> Bools:
    """Whether a rig has a blade wider than the overlap, and wheels that can push it [R, S]."""
    return np.asarray((pass_width_m(case, rigs, visits.to_end) > 0) & (rigs.capacity_kg[:, None] > 0))


def strip_count(case: Case, rigs: Rigs, visits: Visits) -> Floats:
    """Passes of a rig at each stop [R, S]; 1 m wide ones where it cannot plow, so that all stays finite."""
    width = pass_width_m(case, rigs, visits.to_end)
    return plowing.strips(visits.area_m2 / visits.pass_length_m, visits.clear_width_m,
                          np.where(width > 0, width, 1.0))


def turns_min(case: Case, rigs: Rigs, clear_width_m: Floats) -> Floats:
    """Minutes of one turn-around of a rig in each clear width [R, S]."""
    figures = case.assumptions
    return turning.turn_min(
        rigs.radius_m[:, None], rigs.circle_m[:, None], clear_width_m,
        figures.turning_speed_m_per_min, figures.direction_change_min,
    )


@dataclass(frozen=True)
class Carrying:
    """Snow that goes away in full blades: how many of them, the run that fills one, the mean push and the
    minutes of one [R, K, S], before job efficiency."""

    blades: Floats
    fill_length_m: Floats
    push_m: Floats
    push_min: Floats


def carrying(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats) -> Carrying:
    """What the blade carries against what lies there, at depths [K, S]; to the side, against what the two
    windrows at the site's edges do not hold. The edges are the site's: a stop has its share of them."""
    capacity = np.maximum(rigs.capacity_kg, 1e-12)[:, None, None]
    load = depth_m * case.storm.snow_density_kg_per_m3
    fill = plowing.fill_length_m(capacity, rigs.blade_width_m[:, None, None], load)
    push = plowing.mean_push_m(visits.pass_length_m, fill)
    moved = np.maximum(visits.area_m2 * load - windrows_kg(case, rigs, visits)[:, None, :], 0.0)
    return Carrying(moved / capacity, fill, push, _push_min(case, push))


def _push_min(case: Case, push_m: Floats) -> Floats:
    figures = case.assumptions
    return plowing.push_minutes(push_m, figures.plow_speed_m_per_min, figures.reverse_speed_m_per_min,
                                figures.direction_change_min)


def whole_push_min(case: Case, visits: Visits) -> Floats:
    """Minutes of a push over the whole pass [S], before job efficiency."""
    return _push_min(case, visits.pass_length_m)


def windrows_kg(case: Case, rigs: Rigs, visits: Visits) -> Floats:
    """Snow that a stop's share of the windrows along the two edges holds [R, S]; none where it is stacked."""
    settled = case.assumptions.settled_density_kg_per_m3
    section = plowing.windrow_section_m2(rigs.blade_width_m, rigs.blade_height_m, rigs.capacity_kg, settled)
    length = np.where(visits.to_end, 0.0, visits.share * visits.pass_length_m)
    return 2 * section[:, None] * settled * length


def run_min(case: Case, visits: Visits) -> Floats:
    """Minutes of a run over the pass [S], before job efficiency."""
    return visits.pass_length_m / case.assumptions.plow_speed_m_per_min


def side_min(case: Case, rigs: Rigs, visits: Visits) -> Floats:
    """Minutes of runs and turns where snow goes to the side [R, S], before job efficiency."""
    return plowing.side_minutes(
        strip_count(case, rigs, visits), visits.pass_length_m, case.assumptions.plow_speed_m_per_min,
        turns_min(case, rigs, visits.clear_width_m))


def plow_minutes(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats, count: Floats) -> Floats:
    """Plowing minutes of each rig at each stop [R, K, S]: the sum over cases E of minutes at a depth, so many
    times (`depth_m`, `count` [E, K, S]); 0 where nothing is plowed.

    To the side: every pass with its turn, and full blades for what the windrows do not hold. To the end:
    passes over the whole length or full blades, whichever take longer.
    """
    total = np.empty((len(rigs.radius_m), *depth_m.shape[1:]))
    for some in blocks(len(total), total[:1].size):
        total[some] = _minutes(case, part_of(rigs, some), visits, depth_m, count)
    return total


def blocks(rigs: int, cells: int) -> Iterator[slice]:
    """Runs of rigs of so many cells each, small enough for the processor's cache."""
    step = max(1, BLOCK // max(1, cells))
    return (slice(first, min(first + step, rigs)) for first in range(0, rigs, step))


def part_of(rigs: Rigs, some: slice) -> Rigs:
    """Some of the rigs."""
    return Rigs(**{field.name: getattr(rigs, field.name)[some] for field in fields(Rigs)})


def _minutes(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats, count: Floats) -> Floats:
    # of these two one is zero: to the side runs and turns are added to, to the end strips are a least
    added = np.where(visits.to_end, 0.0, side_min(case, rigs, visits))[:, None, :]
    least = np.where(visits.to_end, strip_count(case, rigs, visits) * whole_push_min(case, visits), 0.0)
    total = np.zeros((len(rigs.radius_m), *depth_m.shape[1:]))
    for depth, times in zip(depth_m, count, strict=True):
        carried = carrying(case, rigs, visits, depth)
        carried.blades[...] *= carried.push_min
        minutes = np.add(carried.blades, added, out=carried.blades)
        total += np.maximum(minutes, least[:, None, :], out=minutes) * times
    does = able_to_plow(case, rigs, visits) & visits.plowed
    return total * np.where(does, visits.to_scale / case.assumptions.job_efficiency, 0.0)[:, None, :]

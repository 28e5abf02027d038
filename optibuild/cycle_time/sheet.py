"""The time sheet of one stop: every figure from the blade to the minutes, in the order of the arithmetic."""

import numpy as np

from optibuild.cycle_time import plowing
from optibuild.cycle_time.clocks import design_depth_m
from optibuild.cycle_time.limits import plowing_limit, spreading_limit
from optibuild.cycle_time.reach import Asked, Setting, setting
from optibuild.cycle_time.visits import (
    carrying,
    deice_rates,
    deice_speeds,
    parts,
    pass_width_m,
    strip_count,
    turns_min,
    visits,
)
from optibuild.records.build import Builds
from optibuild.records.case import Case
from optibuild.records.loop import Stop

Line = tuple[str, float | str, str]
"""Label, value in inner units (or a word), dimension as in `units.DIMENSIONS` ('count', 'word' have none)."""


def explain_stop(
    case: Case, builds: Builds, build_index: int, site_index: int, clock_min: float, parcels: int = 1
) -> tuple[Line, ...]:
    """How a build's minutes at one of `parcels` equal parts of a site come about, all its works together.

    Feasible or not: limits are shown beside the figures, not enforced. Of several depots the nearest is used.
    """
    place = setting(case, builds, np.array([build_index]))
    stop = Stop(site_index, 1, case.sites[site_index].work)
    rows = visits(case, [stop], np.full(len(case.sites), parcels))
    clock = np.array([clock_min])
    found = Asked(rows, parts(case, place.crews, place.travel, clock, rows, design_depth_m(case, clock)))
    return (*_area_lines(case, found, clock_min), *_plow_lines(place, found, clock_min),
            *_deice_lines(place, found), *_sum_lines(place, found, clock_min))


def _area_lines(case: Case, found: Asked, clock_min: float) -> tuple[Line, ...]:
    rows = found.visits
    return (
        ("cycle limit", clock_min, "time"),
        ("snow depth", float(design_depth_m(case, np.array(clock_min))), "length"),
        ("area", float(rows.area_m2[0]), "area"),
        ("pass length", float(rows.pass_length_m[0]), "length"),
        ("width across the passes", float(rows.area_m2[0] / rows.pass_length_m[0]), "length"),
    )


def _plow_lines(place: Setting, found: Asked, clock_min: float) -> tuple[Line, ...]:
    if not (found.visits.plowed[0] and found.parts.able[0, 0]):
        return ()
    rigs, rows = place.crews.rigs, found.visits
    lanes = plowing.whole_up(rows.area_m2 / rows.pass_length_m / rows.clear_width_m)
    change = _end_lines if rows.to_end[0] else _turn_lines
    return (
        ("effective width of a pass", float(pass_width_m(place.case, rigs, rows.to_end)[0, 0]), "length"),
        ("lanes", float(lanes[0]), "count"),
        ("strips", float(strip_count(place.case, rigs, rows)[0, 0]), "count"),
        *change(place, found, clock_min),
        ("plowing is limited by", plowing_limit(place, rigs, rows, clock_min), "word"),
        ("plowing", float(found.parts.plow[0, 0, 0]), "time"),
    )


def _turn_lines(place: Setting, found: Asked, clock_min: float) -> tuple[Line, ...]:
    rigs, clear = place.crews.rigs, found.visits.clear_width_m
    run = found.visits.pass_length_m[0] / place.case.assumptions.plow_speed_m_per_min
    return (
        ("circle swept in a turn", float(rigs.circle_m[0]), "length"),
        ("clear width", float(clear[0]), "length"),
        ("one turn-around", float(turns_min(place.case, rigs, clear)[0, 0]), "time"),
        ("one run", float(run), "time"),
    )


def _end_lines(place: Setting, found: Asked, clock_min: float) -> tuple[Line, ...]:
    depth = design_depth_m(place.case, np.array([[clock_min]]))
    carried = carrying(place.case, place.crews.rigs, found.visits, depth)
    push = plowing.mean_push_m(found.visits.pass_length_m, carried.fill_length_m)
    return (
        ("run that fills the blade", float(carried.fill_length_m[0, 0, 0]), "length"),
        ("mean push", float(push[0, 0, 0]), "length"),
        ("full blades of snow", float(carried.blades[0, 0, 0]), "number"),
    )


def _deice_lines(place: Setting, found: Asked) -> tuple[Line, ...]:
    spreader = int(place.crews.spreader[0])
    if not (found.visits.deiced[0] and place.crews.spreaders.there[spreader]):
        return ()
    rates = deice_rates(place.case, found.visits, place.case.storm.pavement_degc)
    speeds = deice_speeds(place.case, place.crews.spreaders, rates)
    return (
        ("material rate", float(rates[0]), "areal_rate"),
        ("material", float(found.parts.material_kg[0]), "mass"),
        ("fill to spread between reloads", float(place.crews.fill_kg[0]), "mass"),
        ("spreading speed", float(speeds[spreader, 0]), "speed"),
        ("spreading is limited by", spreading_limit(place, spreader, found.visits), "word"),
        ("deicing", float(found.parts.deice[spreader, 0]), "time"),
    )


def _sum_lines(place: Setting, found: Asked, clock_min: float) -> tuple[Line, ...]:
    minutes, spreader = found.parts, int(place.crews.spreader[0])
    depot = int(np.argmin(minutes.out[:, 0] + minutes.home[:, 0]))
    working = found.visits.stop_time_min[0] + minutes.plow[0, 0, 0] + minutes.deice[spreader, 0]
    stop = working + minutes.reload[depot, 0]
    around = minutes.out[depot, 0] + minutes.home[depot, 0] + minutes.fixed_reload[depot, 0]
    reserve = place.case.solve.reserve_min
    return (
        ("arrive, look, log", float(found.visits.stop_time_min[0]), "time"),
        ("reloading what is used", float(minutes.reload[depot, 0]), "time"),
        ("the whole stop", float(stop), "time"),
        (f"drive out and home, depot {place.case.depots[depot].id}",
         float(minutes.out[depot, 0] + minutes.home[depot, 0]), "time"),
        ("reload at the end", float(minutes.fixed_reload[depot, 0]), "time"),
        ("reserve", reserve, "time"),
        ("left of the cycle limit", float(clock_min - stop - around - reserve), "time"),
    )

"""The time sheet of one stop: every figure from the blade to the minutes, in the order of the arithmetic."""

from dataclasses import replace

import numpy as np

from optibuild.cycle_time.clocks import design_depth_m
from optibuild.cycle_time.parts import parts
from optibuild.cycle_time.reach import Asked, Setting, setting_of
from optibuild.cycle_time.rig_minutes import (
    carrying,
    pass_width_m,
    side_min,
    strip_count,
    turns_min,
    whole_push_min,
    windrows_kg,
)
from optibuild.cycle_time.sheet_limits import Line, sum_lines, verdict_lines
from optibuild.cycle_time.slowest import plow_slowest, spread_slowest
from optibuild.cycle_time.spreader_minutes import deice_rates, deice_speeds
from optibuild.cycle_time.traction import driven_kg, empty_kg, pushable_kg
from optibuild.cycle_time.visits import visits
from optibuild.records.build import Builds
from optibuild.records.case import Case
from optibuild.records.loop import SLOWEST, ServiceTimes, Stop


def explain_stop(
    case: Case, builds: Builds, build_index: int, site_index: int, clock_min: float, parcels: int = 1
) -> tuple[Line, ...]:
    """How a build's minutes at one of `parcels` equal parts of a site come about, all its works together.

    Feasible or not: limits are shown beside the figures, not enforced. Of several depots the nearest is used.
    """
    setting = replace(setting_of(case, builds, np.array([build_index])), clocks_min=np.array([clock_min]))
    stop = Stop(site_index, 1, case.sites[site_index].work)
    rows = visits(case, [stop], np.full(len(case.sites), parcels), setting.to_scale)
    clock = np.array([clock_min])
    found = Asked(rows, parts(case, setting.crews, setting.travel, clock, rows, design_depth_m(case, clock)))
    return (*verdict_lines(setting, builds, found, build_index), *_area_lines(case, found, clock_min),
            *_plow_lines(setting, builds, found, clock_min), *_deice_lines(setting, found),
            *sum_lines(setting, found))


def sheet_clock_min(case: Case, times: ServiceTimes, build: int, site: int) -> float:
    """The longest cycle limit at which a build can do one parcel of a site with all its works; the site's own
    where it can at none [min]."""
    s = times.stops.index(Stop(site, 1, case.sites[site].work))
    can = times.possible()[times.build == build, :, s].any(axis=0)
    return float(times.clocks_min[can].max()) if can.any() else case.sites[site].cycle_limit_min


def _area_lines(case: Case, found: Asked, clock_min: float) -> tuple[Line, ...]:
    rows, storm = found.visits, case.storm
    snow = (
        ("cycle limit", clock_min, "time"),
        ("snow depth", float(design_depth_m(case, np.array(clock_min))), "length"),
        ("snow density, fresh", storm.snow_density_kg_per_m3, "density"),
        ("snow density, settled", case.assumptions.settled_density_kg_per_m3, "density"),
    ) if rows.plowed[0] or not rows.at_end[0] else ()
    return (
        *snow,
        ("area", float(rows.area_m2[0]), "area"),
        ("pass length", float(rows.pass_length_m[0]), "length"),
        ("width across the passes", float(rows.area_m2[0] / rows.pass_length_m[0]), "length"),
    )


def _plow_lines(setting: Setting, builds: Builds, found: Asked, clock_min: float) -> tuple[Line, ...]:
    if not (found.visits.plowed[0] and found.parts.able[0, 0]):
        return ()
    case, rigs, rows = setting.case, setting.crews.rigs, found.visits
    change = _end_lines if rows.to_end[0] else _turn_lines
    scale, depth = float(rows.to_scale[0]), design_depth_m(case, np.array([[clock_min]]))
    angle = 0.0 if rows.to_end[0] else float(rigs.angle_rad[0])
    return (
        ("blade width", float(rigs.blade_width_m[0]), "length"),
        ("blade height", float(rigs.blade_height_m[0]), "length"),
        ("blade angle, from straight across", angle, "angle"),
        ("overlap", case.assumptions.overlap_m, "length"),
        ("plowing speed", case.assumptions.plow_speed_m_per_min, "speed"),
        ("effective width of a pass", float(pass_width_m(case, rigs, rows.to_end)[0, 0]), "length"),
        ("clear width", float(rows.clear_width_m[0]), "length"),
        ("strips", float(strip_count(case, rigs, rows)[0, 0]), "count"),
        *change(setting, found),
        *_carried_lines(setting, builds, found, clock_min),
        ("job efficiency", case.assumptions.job_efficiency, "share"),
        *((("timed minutes over the model's", scale, "number"),) if scale != 1.0 else ()),
        ("plowing is limited by", SLOWEST[int(plow_slowest(case, rigs, rows, depth)[0, 0, 0])], "word"),
        ("plowing", float(found.parts.plow[0, 0, 0]), "time"),
    )


def _turn_lines(setting: Setting, found: Asked) -> tuple[Line, ...]:
    case, rigs, clear = setting.case, setting.crews.rigs, found.visits.clear_width_m
    run = found.visits.pass_length_m[0] / case.assumptions.plow_speed_m_per_min
    return (
        ("radius of a turn", float(rigs.radius_m[0]), "length"),
        ("circle swept in a turn", float(rigs.circle_m[0]), "length"),
        ("turning speed", case.assumptions.turning_speed_m_per_min, "speed"),
        ("one turn-around", float(turns_min(case, rigs, clear)[0, 0]), "time"),
        ("one run", float(run), "time"),
        ("runs and turns", float(side_min(case, rigs, found.visits)[0, 0]), "time"),
    )


def _end_lines(setting: Setting, found: Asked) -> tuple[Line, ...]:
    whole = whole_push_min(setting.case, found.visits)[0]
    passes = strip_count(setting.case, setting.crews.rigs, found.visits)[0, 0]
    return (("one push over the whole pass", float(whole), "time"),
            ("strips, pushed whole", float(passes * whole), "time"))


def _carried_lines(setting: Setting, builds: Builds, found: Asked, clock_min: float) -> tuple[Line, ...]:
    """What goes away in full blades; where snow goes to the end, if that takes longer than the strips."""
    case, rigs, rows = setting.case, setting.crews.rigs, found.visits
    depth = design_depth_m(case, np.array([[clock_min]]))
    carried = carrying(case, rigs, rows, depth)
    snow = rows.area_m2[0] * depth[0, 0] * case.storm.snow_density_kg_per_m3
    held = () if rows.to_end[0] else (
        ("held by its share of the windrows", float(windrows_kg(case, rigs, rows)[0, 0]), "mass"),)
    return (
        ("snow on it", float(snow), "mass"),
        *held,
        *_grip_lines(case, builds, int(setting.crews.build[0])),
        ("a full blade", float(rigs.capacity_kg[0]), "mass"),
        ("full blades to push", float(carried.blades[0, 0, 0]), "number"),
        ("run that fills the blade", float(carried.fill_length_m[0, 0, 0]), "length"),
        ("mean push", float(carried.push_m[0, 0, 0]), "length"),
        ("reversing speed", case.assumptions.reverse_speed_m_per_min, "speed"),
        ("one direction change", case.assumptions.direction_change_min, "time"),
        ("one push, there and back", float(carried.push_min[0, 0, 0]), "time"),
        ("full blades, pushed away", float((carried.blades * carried.push_min)[0, 0, 0]), "time"),
    )


def _grip_lines(case: Case, builds: Builds, build: int) -> tuple[Line, ...]:
    axes = (builds.truck, builds.plow, builds.spreader, builds.kit, builds.units)
    one = [axis[build:build + 1] for axis in axes]
    figures = case.assumptions
    return (
        ("gross, empty, blade on the ground", float(empty_kg(case, *one)[0]), "mass"),
        ("of it on driven wheels", float(driven_kg(case, *one)[0]), "mass"),
        ("grip on snow (mu_snow)", figures.mu_snow, "number"),
        ("rolling, sliding of snow", f"{figures.rolling:g}, {figures.sliding:g}", "word"),
        ("the truck can push, empty", float(pushable_kg(case, *one)[0]), "mass"),
    )


def _deice_lines(setting: Setting, found: Asked) -> tuple[Line, ...]:
    spreader = int(setting.crews.spreader[0])
    if not (found.visits.deiced[0] and setting.crews.spreaders.there[spreader]):
        return ()
    case, spreaders = setting.case, setting.crews.spreaders
    rates = deice_rates(case, found.visits, case.storm.pavement_degc)
    speeds = deice_speeds(case, spreaders, rates)
    strength = float(spreaders.strength[spreader])
    return (
        *((("strength of the material", strength, "share"),) if strength != 1.0 else ()),
        ("material rate", float(rates[0]) / strength, "areal_rate"),
        ("material", float(found.parts.material_kg[0]) / strength, "mass"),
        ("spread width", float(spreaders.width_m[spreader]), "length"),
        ("discharge", float(spreaders.discharge_kg_per_min[spreader]) / strength, "mass_rate"),
        ("fill to spread between reloads", float(setting.crews.fill_kg[0]) / strength, "mass"),
        ("spreading speed", float(speeds[spreader, 0]), "speed"),
        ("spreading is limited by",
         SLOWEST[int(spread_slowest(case, spreaders, found.visits)[spreader, 0])], "word"),
        ("spreading efficiency", case.assumptions.spreading_efficiency, "share"),
        ("deicing", float(found.parts.deice[spreader, 0]), "time"),
    )

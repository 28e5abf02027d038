"""What takes most of the longer work of a stop: strips, turning, carrying, discharge, or spreading speed."""

import numpy as np

from optibuild.cycle_time.clocks import design_depth_m
from optibuild.cycle_time.crews import Rigs, Spreaders
from optibuild.cycle_time.reach import Asked, Setting
from optibuild.cycle_time.rig_minutes import (
    blocks,
    carrying,
    part_of,
    run_min,
    strip_count,
    turns_min,
    whole_push_min,
)
from optibuild.cycle_time.spreader_minutes import deice_rates, deice_speeds
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Ints
from optibuild.records.case import Case
from optibuild.records.loop import SLOWEST

STRIPS, TURNING, CARRYING, DISCHARGE, SPREADING = range(len(SLOWEST))


def plow_slowest(case: Case, rigs: Rigs, visits: Visits, depth_m: np.ndarray) -> Ints:
    """Of SLOWEST, by rig, at depths [K, S]: [R, K, S]. To the side the greatest of runs, turns and full
    blades; to the end the longer of strips and full blades."""
    passes, carried = strip_count(case, rigs, visits), carrying(case, rigs, visits, depth_m)
    blades = carried.blades * carried.push_min
    whole = np.where(visits.to_end, whole_push_min(case, visits), run_min(case, visits))
    runs = (passes * whole)[:, None, :]
    turns = np.where(visits.to_end, 0.0, passes * turns_min(case, rigs, visits.clear_width_m))[:, None, :]
    drives = np.where(turns > runs, TURNING, STRIPS)
    return np.where(blades > np.maximum(runs, turns), CARRYING, drives)


def spread_slowest(case: Case, spreaders: Spreaders, visits: Visits) -> Ints:
    """Of SLOWEST, by spreader (G of them, none last), in the design storm [G, S]."""
    speeds = deice_speeds(case, spreaders, deice_rates(case, visits, case.storm.pavement_degc))
    return np.where(speeds < case.assumptions.spreading_speed_m_per_min, DISCHARGE, SPREADING)


def slowest(setting: Setting, rows: Asked) -> Ints:
    """Of SLOWEST, by crewed build and clock, at every stop [C, K, S]."""
    case, here, each = setting.case, setting.crews, rows.parts
    depth = design_depth_m(case, setting.clocks_min)
    depths = np.broadcast_to(depth[:, None], (len(depth), len(rows.visits)))
    plow = np.empty((len(here.rigs.radius_m), *depths.shape), dtype=np.int8)
    for some in blocks(len(plow), depths.size):
        plow[some] = plow_slowest(case, part_of(here.rigs, some), rows.visits, depths)
    spread = spread_slowest(case, here.spreaders, rows.visits).astype(np.int8)
    by_plow = each.plow[here.rig] >= each.deice[here.spreader][:, None, :]
    return np.where(by_plow, plow[here.rig], spread[here.spreader][:, None, :])

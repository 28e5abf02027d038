"""Cycle time: minutes a build needs at a stop, between stops and around a loop."""

from optibuild.cycle_time.clocks import clocks, design_depth_m
from optibuild.cycle_time.deicing import (
    deice_minutes,
    ineffective,
    material_kg,
    spreading_speed_m_per_min,
    table_rate_kg_per_m2,
)
from optibuild.cycle_time.loops import LoopTimes, evaluate_loop
from optibuild.cycle_time.plowing import (
    blade_capacity_m3,
    effective_width_m,
    end_minutes,
    fill_length_m,
    mean_push_m,
    side_minutes,
    strips,
    whole_up,
)
from optibuild.cycle_time.sheet import explain_stop
from optibuild.cycle_time.stops import service_times
from optibuild.cycle_time.travel import close_under_shortest, great_circle_m, travel
from optibuild.cycle_time.turning import (
    center_radius_m,
    radius_from_circle_m,
    steer_angle_rad,
    swept_circle_m,
    turn_min,
)
from optibuild.cycle_time.visits import stop_limit_min

__all__ = [
    "LoopTimes", "blade_capacity_m3", "center_radius_m", "clocks", "close_under_shortest", "deice_minutes",
    "design_depth_m", "effective_width_m", "end_minutes", "evaluate_loop", "explain_stop", "fill_length_m",
    "great_circle_m", "ineffective", "material_kg", "mean_push_m", "radius_from_circle_m", "service_times",
    "side_minutes", "spreading_speed_m_per_min", "steer_angle_rad", "stop_limit_min", "strips",
    "swept_circle_m", "table_rate_kg_per_m2", "travel", "turn_min", "whole_up",
]

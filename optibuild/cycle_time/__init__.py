"""Cycle time: minutes a build needs at a stop, between stops and around a loop."""

from optibuild.cycle_time.calibration import calibrate
from optibuild.cycle_time.clocks import clocks, design_depth_m
from optibuild.cycle_time.deicing import (
    material_kg,
    spreading_speed_m_per_min,
    table_rate_kg_per_m2,
)
from optibuild.cycle_time.depths import working_rates
from optibuild.cycle_time.earlier_loops import earlier_loops
from optibuild.cycle_time.loops import drive_loop, evaluate_loop
from optibuild.cycle_time.orders import loop_report
from optibuild.cycle_time.parcel_report import parcel_report
from optibuild.cycle_time.planned import planned_builds, planned_choice
from optibuild.cycle_time.plowing import (
    blade_capacity_m3,
    effective_width_m,
    fill_length_m,
    side_minutes,
    strips,
    whole_up,
    windrow_section_m2,
)
from optibuild.cycle_time.sheet import explain_stop, sheet_clock_min
from optibuild.cycle_time.stops import SomeBuilds, portions, service_times, site_parcels
from optibuild.cycle_time.timed import plow_model_min
from optibuild.cycle_time.traction import empty_kg, empty_rear_kg, pushable_kg
from optibuild.cycle_time.travel import circuity, close_under_shortest, great_circle_m, roundabouts, travel
from optibuild.cycle_time.turning import (
    center_radius_m,
    radius_from_circle_m,
    steer_angle_rad,
    swept_circle_m,
    turn_min,
)
from optibuild.cycle_time.visits import stop_limit_min

__all__ = [
    "SomeBuilds", "blade_capacity_m3", "calibrate", "center_radius_m", "circuity", "clocks",
    "close_under_shortest", "design_depth_m", "drive_loop", "earlier_loops", "effective_width_m", "empty_kg",
    "empty_rear_kg", "evaluate_loop", "explain_stop", "fill_length_m", "great_circle_m", "loop_report",
    "material_kg", "parcel_report", "planned_builds", "planned_choice", "plow_model_min", "portions",
    "pushable_kg", "radius_from_circle_m", "roundabouts", "service_times", "sheet_clock_min", "side_minutes",
    "site_parcels", "spreading_speed_m_per_min", "steer_angle_rad", "stop_limit_min", "strips",
    "swept_circle_m", "table_rate_kg_per_m2", "travel", "turn_min", "whole_up", "windrow_section_m2",
    "working_rates",
]

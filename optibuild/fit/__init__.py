"""Fit: static axle loads of every build against every rating, with ballast and rated fill solved together."""

from optibuild.fit.axle_loads import axle_loads, center_of_mass_m
from optibuild.fit.ballast import feasible_units, nearest_units
from optibuild.fit.builds import fit_builds
from optibuild.fit.details import build_details, holds_tank
from optibuild.fit.flags import (
    flags,
    gvwr_class,
    is_commercial_vehicle,
    needs_commercial_license,
    needs_new_load_label,
    over_light_truck_split,
    relabel_threshold_lb,
)
from optibuild.fit.load_states import state_loads
from optibuild.fit.moment_sheet import moment_sheet
from optibuild.fit.near_rating import near_rating
from optibuild.fit.rated_fill import fewest_units_of_largest_fill, fill_at, fill_lines
from optibuild.fit.sensitivity import sensitivity
from optibuild.fit.uses import item_uses
from optibuild.fit.verdicts import verdicts
from optibuild.fit.would_fit import would_fit

__all__ = [
    "axle_loads", "build_details", "center_of_mass_m", "feasible_units", "fewest_units_of_largest_fill",
    "fill_at", "fill_lines", "fit_builds", "flags", "gvwr_class", "holds_tank", "is_commercial_vehicle",
    "item_uses", "moment_sheet", "near_rating", "nearest_units", "needs_commercial_license",
    "needs_new_load_label", "over_light_truck_split", "relabel_threshold_lb", "sensitivity", "state_loads",
    "verdicts", "would_fit",
]

"""Fit: static axle loads of every build against every rating, with ballast and rated fill solved together."""

from optibuild.fit.axle_loads import axle_loads, center_of_mass_m
from optibuild.fit.ballast import feasible_units, nearest_units
from optibuild.fit.builds import fit_builds
from optibuild.fit.flags import (
    flags,
    gvwr_class,
    is_commercial_vehicle,
    needs_commercial_license,
    over_light_truck_split,
)
from optibuild.fit.load_states import state_loads
from optibuild.fit.moment_sheet import moment_sheet
from optibuild.fit.rated_fill import fewest_units_of_largest_fill, fill_at, fill_lines
from optibuild.fit.verdicts import verdicts

__all__ = [
    "axle_loads", "center_of_mass_m", "feasible_units", "fewest_units_of_largest_fill", "fill_at",
    "fill_lines", "fit_builds", "flags", "gvwr_class", "is_commercial_vehicle", "moment_sheet",
    "nearest_units", "needs_commercial_license", "over_light_truck_split", "state_loads", "verdicts",
]

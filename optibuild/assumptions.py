"""Every default figure: value, unit, source, and the range outside which an override is warned about.

`field` is the name in `records.Assumptions`. Sources: C = common practice, no source; M = from memory.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Assumption:
    """One default figure, as a user would type it. `low` and `high` bound what has been published.

    `allowed` is ours: outside it a plan would mean nothing, or its arrays would grow beyond any memory.
    """

    name: str
    field: str
    default: str
    dimension: str
    source: str
    allowed: tuple[str, str]
    low: str | None = None
    high: str | None = None
    si_default: str | None = None


ASSUMPTIONS: tuple[Assumption, ...] = (
    Assumption("occupant_mass", "occupant_mass_kg", "150 lb", "mass",
               "49 CFR 567.4(g)(3), 150 lb; in SI cases EU 1230/2012 Annex I, 75 kg",
               ("0 lb", "1000 lb"), "150 lb", "220 lb", si_default="75 kg"),
    Assumption("least_useful_fill", "least_useful_fill_kg", "300 lb", "mass", "C", ("0 lb", "20000 lb")),
    Assumption("catalog_uncertainty", "catalog_uncertainty", "2 %", "share", "C",
               ("0 %", "50 %"), "0 %", "10 %"),
    Assumption("plow_speed", "plow_speed_m_per_min", "8 mph", "speed",
               "range: published motor-grader and highway figures, 4-14 mph; value C",
               ("0.5 mph", "60 mph"), "4 mph", "14 mph"),
    Assumption("reverse_speed", "reverse_speed_m_per_min", "5 mph", "speed", "C",
               ("0.5 mph", "60 mph"), "1 mph", "10 mph"),
    Assumption("turning_speed", "turning_speed_m_per_min", "4 mph", "speed", "C",
               ("0.5 mph", "60 mph"), "1 mph", "10 mph"),
    Assumption("spreading_speed", "spreading_speed_m_per_min", "10 mph", "speed", "C",
               ("0.5 mph", "60 mph"), "3 mph", "35 mph"),
    Assumption("direction_change", "direction_change_min", "3 s", "time",
               "loader handbook ed. 47: four direction changes with turning about 0.20 min",
               ("0 s", "10 min"), "1 s", "15 s"),
    Assumption("overlap", "overlap_m", "0.3 m", "length", "grader productivity sheet 15A-20: usually 0.3 m",
               ("0 m", "3 m"), "0 m", "0.6 m"),
    Assumption("job_efficiency", "job_efficiency", "50 %", "share",
               "grader productivity sheet 15A-20: 0.5 for ordinary snow removal; a calibration constant",
               ("1 %", "100 %"), "30 %", "100 %"),
    Assumption("spreading_efficiency", "spreading_efficiency", "70 %", "share", "C",
               ("1 %", "100 %"), "30 %", "100 %"),
    Assumption("tau_step", "tau_step_min", "60 min", "time", "ours: grid of loop clocks",
               ("1 min", "24 h")),
    Assumption("most_parcels", "most_parcels", "12", "count", "ours: most equal parts of a site",
               ("1", "1000")),
    Assumption("least_depth", "least_depth_m", "0.5 in", "length",
               "a state department of transportation starts plowing at 0.5 in",
               ("0.01 in", "3 ft"), "0.1 in", "2 in"),
    Assumption("settled_density", "settled_density_kg_per_m3", "300 kg/m^3", "density",
               "settled snow 200-300 kg/m^3 in snow texts; M",
               ("20 kg/m^3", "917 kg/m^3"), "200 kg/m^3", "500 kg/m^3"),
    Assumption("mu_snow", "mu_snow", "0.15", "number",
               "traction on packed snow: SAE truck traction figures, 1996; M", ("0.01", "1"), "0.05", "0.4"),
    Assumption("rolling", "rolling", "0.03", "number", "rolling resistance on plowed snow; C",
               ("0", "0.5"), "0.01", "0.1"),
    Assumption("sliding", "sliding", "0.30", "number", "snow pushed over pavement; C",
               ("0.01", "2"), "0.1", "0.6"),
    Assumption("circuity", "circuity", "1.3", "number", "US road over straight distance 1.2-1.4; M",
               ("1", "10"), "1", "2"),
    Assumption("spare_share", "spare_share", "20 %", "share",
               "spares over vehicles required at peak: a US transit agency's guideline for fleets of 50 or "
               "more (FTA Circular 9030.1)",
               ("0 %", "100 %"), "0 %", "50 %"),
)

BY_NAME = {row.name: row for row in ASSUMPTIONS}

"""A case of round numbers in inner units (kg, m, min, USD) for tests of minutes and money; all invented."""

from dataclasses import replace
from math import inf, radians

import numpy as np

from optibuild.records import (
    NONE,
    Assumptions,
    Builds,
    Case,
    Crew,
    Depot,
    Event,
    FitLimits,
    Leg,
    Material,
    Money,
    Plow,
    Site,
    SolveSettings,
    Spreader,
    Storm,
    Truck,
)

TRUCK = Truck(
    id="truck", description="", size="", gvwr_kg=5000.0, gawr_front_kg=2500.0, gawr_rear_kg=3500.0,
    curb_front_kg=1500.0, curb_rear_kg=1200.0, wheelbase_m=3.0, front_axle_to_bumper_m=1.0,
    rear_axle_to_bed_end_m=1.2, bed_length_m=2.4, seat_m=1.6, seats=3, width_m=2.0, track_m=1.7,
    steer_angle_rad=radians(30), turning_circle_m=None, drive="all", plow_allowed=True,
    tire_capacity_front_kg=inf, tire_capacity_rear_kg=inf, price_usd=40_000.0, life_year=8.0,
    resale_usd=8_000.0, upkeep_usd_per_year=1_000.0, snow_share=0.5, fuel="gas", city_l_per_m=1e-4,
    highway_l_per_m=1e-4, work_fuel_l_per_min=0.1, wear_usd_per_min=0.05,
)
PLOW = Plow(
    id="plow", description="", kind="straight", width_m=3.0, height_m=0.75, angle_rad=0.0,
    blade_mass_kg=300.0, mount_mass_kg=50.0, center_ahead_m=0.5, min_gvwr_kg=0.0,
    price_usd=6_000.0, life_year=7.0, resale_usd=900.0, upkeep_usd_per_year=100.0, wear_usd_per_min=0.03,
)
SPREADER = Spreader(
    id="spreader", description="", kind="hopper", empty_mass_kg=200.0, volume_m3=1.0, center_m=-1.0,
    material_center_m=-1.0, spread_width_m=5.0, discharge_kg_per_min=10.0, material="salt", length_m=None,
    min_gvwr_kg=0.0, price_usd=5_000.0, life_year=7.0, resale_usd=750.0, upkeep_usd_per_year=0.0,
    wear_usd_per_min=0.02,
)
SITE = Site(
    id="site", name="", lat_deg=45.0, lon_deg=-90.0, area_m2=1500.0, pass_length_m=100.0, clear_width_m=20.0,
    snow_goes="side", work="both", plow_every_min=60.0, deice_every_min=60.0, deice_when="each",
    end_within_min=240.0, split_works=False,
    deadline_min=inf, trigger_m=0.025, deice_rate_kg_per_m2=0.01, stop_time_min=3.0,
    timed_min=None, timed_truck=None, timed_plow=None, timed_depth_m=None, most_gross_kg=inf,
    most_width_m=inf, most_turning_circle_m=inf, parcels=None, must_serve=True, pay_by="event", pay_usd=100.0,
)
EVENTS = (
    Event("snow", count=10.0, duration_min=240.0, snowfall_m=0.1, pavement_degc=-5.0),
    Event("dusting", count=20.0, duration_min=120.0, snowfall_m=0.0125, pavement_degc=-5.0),
)
ASSUMED = Assumptions(
    occupant_mass_kg=75.0, least_useful_fill_kg=100.0, catalog_uncertainty=0.02, plow_speed_m_per_min=200.0,
    reverse_speed_m_per_min=100.0, turning_speed_m_per_min=100.0, spreading_speed_m_per_min=250.0,
    direction_change_min=0.05, overlap_m=0.0, job_efficiency=0.5, spreading_efficiency=0.75,
    tau_step_min=60.0, most_parcels=12, least_depth_m=0.01, settled_density_kg_per_m3=300.0,
    mu_snow=0.15, rolling=0.03, sliding=0.3, circuity=1.3,
)
LEGS = (Leg("depot", "site", 10.0, 5000.0), Leg("site", "depot", 12.0, 6000.0))


def plain_case(**changes: object) -> Case:
    """One truck, plow, spreader, depot and site, 10 min out and 12 min home; fields replaced as asked."""
    case = Case(
        name="plain", question="cover", units="si", given_as="", trucks=(TRUCK,), plows=(PLOW,),
        spreaders=(SPREADER,), ballast=(), materials=(Material("salt", 1000.0, 0.1),),
        depots=(Depot("depot", 45.0, -90.0, 8.0, 150.0),), sites=(SITE,), season=EVENTS, travel=LEGS,
        storm=Storm(0.0005, 100.0, -5.0, 500.0),
        money=Money(inf, 0.4, 0.25, "working", True, (("gas", 1.0),), 5e-5, 0.07, 0.12, 0.15),
        crew=Crew(), fit=FitLimits(), solve=SolveSettings(), assumptions=ASSUMED,
    )
    return replace(case, **changes)


def plain_builds(
    *parts: tuple[int, int, int], fill_kg: float = 500.0, gross_kg: float = 4000.0
) -> Builds:
    """Builds that all fit, given as indices of truck, plow, spreader (NONE = none); half the gross an
    axle."""
    count = len(parts)
    truck, plow, spreader = np.array(parts, dtype=np.int64).reshape(count, 3).T
    return Builds(
        ids=(("truck",), ("plow", "-"), ("spreader", "-")), truck=truck, plow=plow, spreader=spreader,
        kit=np.full(count, NONE), units=np.zeros(count, dtype=np.int64), ballast_kg=np.zeros(count),
        rated_fill_kg=np.where(spreader == NONE, 0.0, fill_kg), retained_kg=np.zeros(count),
        worst_gross_kg=np.full(count, gross_kg), fits=np.ones(count, dtype=bool),
    )


FULL = (0, 0, 0)
"""The only truck with plow and spreader."""

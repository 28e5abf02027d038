"""Deicing of one stop and its whole minutes in the design storm, one number at a time."""

from math import inf

from optibuild.plan.recheck_plowing import plow_min, storm_depth_m
from optibuild.plan.recheck_tasks import Task
from optibuild.records import Case, Site

LB_PER_1000_FT2 = 0.45359237 / (1000.0 * 0.3048 ** 2)
# Pavement temperature [degF] above which a rate [lb/1000 ft^2] suffices: DuPage River / Salt Creek
# Workgroup, parking-lot guidance; at a boundary the colder row holds.
RATES = ((30.0, 3.0), (25.0, 5.0), (20.0, 6.0), (15.0, 7.0))
COLDEST_RATE = 8.0
DEGREE_NOISE = 1e-9


def deice_rate_kg_per_m2(site: Site, pavement_degc: float) -> float:
    """Dry deicer: the site's own rate, else the published one for the pavement temperature."""
    if site.deice_rate_kg_per_m2 is not None:
        return site.deice_rate_kg_per_m2
    degf = pavement_degc * 9.0 / 5.0 + 32.0
    rate = next((rate for above, rate in RATES if degf > above + DEGREE_NOISE), COLDEST_RATE)
    return rate * LB_PER_1000_FT2


def _material_kg_per_m2(job: Task, pavement_degc: float, case: Case) -> float:
    """What leaves the spreader: a weaker material takes more of it for the same dry deicer."""
    spreader = job.unit.spreader
    strength = case.material(spreader).strength if spreader else 1.0
    return deice_rate_kg_per_m2(job.site, pavement_degc) / strength


def deice_min(job: Task, pavement_degc: float, case: Case) -> float:
    """Minutes of deicing the stop once; 0 where it is not deiced, inf without a spreader."""
    if not job.deices:
        return 0.0
    spreader = job.unit.spreader
    if spreader is None:
        return inf
    rate = _material_kg_per_m2(job, pavement_degc, case)
    fastest = spreader.discharge_kg_per_min / (rate * spreader.spread_width_m) if rate > 0 else inf
    speed = min(case.assumptions.spreading_speed_m_per_min, fastest)
    return job.area_m2 / (spreader.spread_width_m * speed) / case.assumptions.spreading_efficiency


def material_kg(job: Task, pavement_degc: float, case: Case) -> float:
    """Material of one deicing [kg]."""
    return job.area_m2 * _material_kg_per_m2(job, pavement_degc, case) if job.deices else 0.0


def stop_min(job: Task, case: Case) -> float:
    """The whole stop in the design storm: arrive and look, plow, deice, and reloading what it used."""
    pavement = case.storm.pavement_degc
    return (job.site.stop_time_min + plow_min(job, storm_depth_m(job.clock_min, case), case)
            + deice_min(job, pavement, case)
            + material_kg(job, pavement, case) / job.unit.depot.reload_rate_kg_per_min)

"""Minutes and material of one stop, in the design storm and over a season, one number at a time."""

from dataclasses import dataclass
from math import ceil, cos, floor, inf

from optibuild.plan.recheck_mounting import turn_min
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Event, PlannedStop, Site

LB_PER_1000_FT2 = 0.45359237 / (1000.0 * 0.3048 ** 2)
# Pavement temperature [degF] above which a rate [lb/1000 ft^2] suffices: DuPage River / Salt Creek
# Workgroup, parking-lot guidance; at a boundary the colder row holds.
RATES = ((30.0, 3.0), (25.0, 5.0), (20.0, 6.0), (15.0, 7.0))
COLDEST_RATE = 8.0
DEGREE_NOISE = 1e-9


@dataclass(frozen=True)
class Task:
    """One stop of one build at a clock: the area it takes of its site [m^2] and what is done there."""

    unit: Mounted
    site: Site
    area_m2: float
    clock_min: float
    plows: bool
    deices: bool


@dataclass(frozen=True)
class StopSeason:
    """Minutes and material of one stop over an expected season."""

    work_min: float
    reload_min: float
    material_kg: float


def task(unit: Mounted, stop: PlannedStop, site: Site, parcels: int) -> Task:
    """What a planned stop does: its parcels of the `parcels` equal parts of the site."""
    area = site.area_m2 * stop.parcels / parcels
    return Task(unit, site, area, unit.planned.loop.cycle_limit_min, stop.work in ("plow", "both"),
                stop.work in ("deice", "both"))


def whole_up(value: float) -> int:
    """Rounded up, noise aside, and at least 1."""
    return max(1, ceil(value - 1e-9))


def whole_down(value: float) -> int:
    """Rounded down, noise aside."""
    return floor(value + 1e-9)


def plow_min(job: Task, depth_m: float, case: Case) -> float:
    """Minutes of plowing the stop once at a depth; 0 where it is not plowed, inf where it cannot be."""
    if not job.plows:
        return 0.0
    plow, site = job.unit.plow, job.site
    if plow is None:
        return inf
    angle = plow.angle_rad if site.snow_goes == "side" else 0.0
    cleared_m = plow.width_m * cos(angle) - case.assumptions.overlap_m
    if cleared_m <= 0:
        return inf
    strips = _strips(job.area_m2 / site.pass_length_m, site.clear_width_m, cleared_m)
    to_side = site.snow_goes == "side"
    minutes = _side_min(job, strips, case) if to_side else _end_min(job, strips, depth_m, case)
    return minutes / case.assumptions.job_efficiency


def _strips(width_m: float, clear_width_m: float, cleared_m: float) -> int:
    lanes = whole_up(width_m / clear_width_m)
    return lanes * whole_up(width_m / lanes / cleared_m)


def _side_min(job: Task, strips: int, case: Case) -> float:
    straight = job.site.pass_length_m / case.assumptions.plow_speed_m_per_min
    return strips * (straight + turn_min(job.unit, job.site.clear_width_m, case))


def _end_min(job: Task, strips: int, depth_m: float, case: Case) -> float:
    """Pushes to the end of the pass: SAE J1265 capacity of a straight blade (its factor 0.8 from memory)."""
    plow, given = job.unit.plow, case.assumptions
    assert plow is not None
    capacity_kg = 0.8 * plow.width_m * plow.height_m ** 2 * given.settled_density_kg_per_m3
    density = case.storm.snow_density_kg_per_m3
    gathered_kg_per_m = plow.width_m * depth_m * density
    full_after_m = capacity_kg / gathered_kg_per_m if gathered_kg_per_m > 0 else inf
    push_m = (job.site.pass_length_m + min(full_after_m, job.site.pass_length_m)) / 2.0
    pushes = max(strips, job.area_m2 * depth_m * density / capacity_kg)
    ahead, back = push_m / given.plow_speed_m_per_min, push_m / given.reverse_speed_m_per_min
    return pushes * (ahead + back + 2.0 * given.direction_change_min)


def storm_depth_m(clock_min: float, case: Case) -> float:
    """Depth that falls in one cycle of the design storm [m]."""
    return max(case.storm.snowfall_rate_m_per_min * clock_min, case.assumptions.least_depth_m)


def deice_rate_kg_per_m2(site: Site, pavement_degc: float) -> float:
    """The site's own rate, else the published one for the pavement temperature."""
    if site.deice_rate_kg_per_m2 is not None:
        return site.deice_rate_kg_per_m2
    degf = pavement_degc * 9.0 / 5.0 + 32.0
    rate = next((rate for above, rate in RATES if degf > above + DEGREE_NOISE), COLDEST_RATE)
    return rate * LB_PER_1000_FT2


def deice_min(job: Task, pavement_degc: float, case: Case) -> float:
    """Minutes of deicing the stop once; 0 where it is not deiced, inf without a spreader."""
    if not job.deices:
        return 0.0
    spreader = job.unit.spreader
    if spreader is None:
        return inf
    rate = deice_rate_kg_per_m2(job.site, pavement_degc)
    fastest = spreader.discharge_kg_per_min / (rate * spreader.spread_width_m) if rate > 0 else inf
    speed = min(case.assumptions.spreading_speed_m_per_min, fastest)
    return job.area_m2 / (spreader.spread_width_m * speed) / case.assumptions.spreading_efficiency


def material_kg(job: Task, pavement_degc: float) -> float:
    """Material of one deicing [kg]."""
    return job.area_m2 * deice_rate_kg_per_m2(job.site, pavement_degc) if job.deices else 0.0


def stop_min(job: Task, case: Case) -> float:
    """The whole stop in the design storm: arrive and look, plow, deice, and reloading what it used."""
    pavement = case.storm.pavement_degc
    return (job.site.stop_time_min + plow_min(job, storm_depth_m(job.clock_min, case), case)
            + deice_min(job, pavement, case)
            + material_kg(job, pavement) / job.unit.depot.reload_rate_kg_per_min)


def _services(event: Event, trigger_m: float, clock_min: float) -> int:
    """Services that an event's duration and snowfall ask for; without a trigger the clock alone decides."""
    by_clock = whole_up(event.duration_min / clock_min)
    return by_clock if trigger_m <= 0 else min(by_clock, max(1, whole_down(event.snowfall_m / trigger_m)))


def _reaches(event: Event, site: Site) -> bool:
    return site.plowed and (site.trigger_m <= 0 or whole_down(event.snowfall_m / site.trigger_m) >= 1)


def rounds(event: Event, clock_min: float, case: Case) -> int:
    """Rounds that a loop makes in one event."""
    plowed = any(_reaches(event, site) for site in case.sites)
    if not plowed and not any(site.deiced for site in case.sites):
        return 0
    least = min(site.trigger_m for site in case.sites)
    return _services(event, least, clock_min) + (1 if plowed and case.money.cleanup_round else 0)


def pushes(event: Event, clock_min: float, site: Site, case: Case) -> int:
    """Rounds of one event in which a site is plowed."""
    if not _reaches(event, site):
        return 0
    return _services(event, site.trigger_m, clock_min) + (1 if case.money.cleanup_round else 0)


def stop_season(job: Task, case: Case) -> StopSeason:
    """What a stop takes over an expected season."""
    work, material = 0.0, 0.0
    for event in case.season:
        visits = rounds(event, job.clock_min, case)
        plowings = pushes(event, job.clock_min, job.site, case) if job.plows else 0
        if plowings:
            depth = max(event.snowfall_m / plowings, case.assumptions.least_depth_m)
            work += event.count * plowings * plow_min(job, depth, case)
        calls = visits if job.deices else plowings
        work += event.count * (calls * job.site.stop_time_min
                               + visits * deice_min(job, event.pavement_degc, case))
        material += event.count * visits * material_kg(job, event.pavement_degc)
    return StopSeason(work, material / job.unit.depot.reload_rate_kg_per_min, material)

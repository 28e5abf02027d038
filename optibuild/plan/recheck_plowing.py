"""Minutes of plowing one stop once, one number at a time: passes, what the truck can push, timed sites."""

from collections.abc import Iterable
from dataclasses import replace
from math import cos, inf, isfinite
from typing import TypeVar

from optibuild.plan.recheck_loads import corners
from optibuild.plan.recheck_mounting import turn_min
from optibuild.plan.recheck_tasks import Task, whole_up
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Plow, Truck

Row = TypeVar("Row", Truck, Plow)


def storm_depth_m(clock_min: float, case: Case) -> float:
    """Depth that falls in one cycle of the design storm [m]."""
    return max(case.storm.snowfall_rate_m_per_min * clock_min, case.assumptions.least_depth_m)


def plow_min(job: Task, depth_m: float, case: Case) -> float:
    """Minutes of plowing the stop once at a depth; 0 where it is not plowed, inf where it cannot be."""
    if not job.plows:
        return 0.0
    return modelled_min(job, depth_m, case) * _timed_over_modelled(job, case)


def _timed_over_modelled(job: Task, case: Case) -> float:
    """What the clock said of the whole site over what the model says of the truck and plow that was timed.

    They are taken as they come: no spreader, no ballast. Inf where they could not have plowed there.
    """
    site = job.site
    if site.timed_min is None or site.timed_depth_m is None:
        return 1.0
    timed = replace(job.unit, truck=_named(case.trucks, site.timed_truck),
                    plow=_named(case.plows, site.timed_plow), spreader=None, ballast=())
    modelled = modelled_min(replace(job, unit=timed, share=1.0), site.timed_depth_m, case)
    return site.timed_min / modelled if isfinite(modelled) else inf


def _named(rows: Iterable[Row], name: str | None) -> Row:
    return next(row for row in rows if row.id == name)


def modelled_min(job: Task, depth_m: float, case: Case) -> float:
    """Minutes by passes and by what the blade holds, as if nobody had timed the site."""
    plow, site, given = job.unit.plow, job.site, case.assumptions
    if plow is None:
        return inf
    to_side = site.snow_goes == "side"
    cleared_m = plow.width_m * (cos(plow.angle_rad) if to_side else 1.0) - given.overlap_m
    full_kg = blade_kg(job.unit, plow, case)
    if cleared_m <= 0 or full_kg <= 0:
        return inf
    passes = whole_up(job.area_m2 / site.pass_length_m / min(cleared_m, site.clear_width_m))
    snow_kg_per_m2 = depth_m * case.storm.snow_density_kg_per_m3
    snow_kg = job.area_m2 * snow_kg_per_m2
    load_min = _load_min(site.pass_length_m, full_kg / (plow.width_m * snow_kg_per_m2), case)
    if to_side:
        over_kg = max(0.0, snow_kg - job.share * _edges_kg(job, plow, full_kg, case))
        minutes = passes * _windrow_min(job, case) + over_kg / full_kg * load_min
    else:
        minutes = max(passes * _push_min(site.pass_length_m, case), snow_kg / full_kg * load_min)
    return minutes / given.job_efficiency


def _windrow_min(job: Task, case: Case) -> float:
    """One pass to the side: a run and a turn-around."""
    run_min = job.site.pass_length_m / case.assumptions.plow_speed_m_per_min
    return run_min + turn_min(job.unit, job.site.clear_width_m, case)


def _load_min(pass_length_m: float, full_after_m: float, case: Case) -> float:
    """One full blade to the end of the pass: the first begins where it fills, the last at the far end."""
    return _push_min((pass_length_m + min(full_after_m, pass_length_m)) / 2.0, case)


def _push_min(push_m: float, case: Case) -> float:
    """One push to the end of the pass: ahead, back, and a change of direction at either end."""
    given = case.assumptions
    ahead, back = push_m / given.plow_speed_m_per_min, push_m / given.reverse_speed_m_per_min
    return ahead + back + 2.0 * given.direction_change_min


def _edges_kg(job: Task, plow: Plow, full_kg: float, case: Case) -> float:
    """Settled snow that lies in windrows along both edges of the whole site.

    The section of a windrow is H^2/2 (C), or smaller where the truck cannot push so much aside.
    """
    settled = case.assumptions.settled_density_kg_per_m3
    section_m2 = min(plow.height_m ** 2 / 2.0, full_kg / (settled * plow.width_m))
    return 2.0 * section_m2 * job.site.pass_length_m * settled


def blade_kg(unit: Mounted, plow: Plow, case: Case) -> float:
    """Snow that one push moves: what the blade carries or what the truck can push, whichever is less [kg].

    A straight blade carries 0.8 W H^2 of settled snow (SAE J1265, its factor from memory).
    """
    carried = 0.8 * plow.width_m * plow.height_m ** 2 * case.assumptions.settled_density_kg_per_m3
    return min(carried, pushable_kg(unit, case))


def pushable_kg(unit: Mounted, case: Case) -> float:
    """Snow that the driven wheels can slide, the blade on the ground, hopper empty, driver alone [kg].

    Grip of the driven axles less rolling resistance, over the friction of snow on pavement.
    """
    given = case.assumptions
    light = next(row for row in corners(unit, case) if (row.state, row.crew) == ("off empty", "driver"))
    driven_kg = light.gross_kg if unit.truck.drive == "all" else light.rear_kg
    pull_kg = given.mu_snow * driven_kg - given.rolling * light.gross_kg
    return max(0.0, pull_kg / given.sliding)

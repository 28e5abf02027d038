"""How often a loop goes round in a season, and what a stop takes of it."""

from dataclasses import dataclass

from optibuild.plan.recheck_plowing import plow_min
from optibuild.plan.recheck_service import deice_min, material_kg
from optibuild.plan.recheck_tasks import Task, whole_down, whole_up
from optibuild.records import Case, Event, Site


@dataclass(frozen=True)
class StopSeason:
    """Minutes and material of one stop, over an expected season or in one event."""

    work_min: float
    reload_min: float
    material_kg: float


def _services(event: Event, trigger_m: float, clock_min: float) -> int:
    """Services that an event's duration and snowfall ask for; without a trigger the clock alone decides."""
    by_clock = whole_up(event.duration_min / clock_min)
    return by_clock if trigger_m <= 0 else min(by_clock, max(1, whole_down(event.snowfall_m / trigger_m)))


def _reaches(event: Event, site: Site) -> bool:
    return site.plowed and (site.trigger_m <= 0 or whole_down(event.snowfall_m / site.trigger_m) >= 1)


def rounds(event: Event, clock_min: float, case: Case) -> int:
    """Rounds that a loop makes in one event, the last one with them; one where all there is waits for it."""
    plowed = any(_reaches(event, site) for site in case.sites)
    if not plowed and not any(site.deiced_each for site in case.sites):
        return 1 if any(site.deiced_at_end for site in case.sites) else 0
    least = min(site.trigger_m for site in case.sites)
    return _services(event, least, clock_min) + (1 if plowed and case.money.cleanup_round else 0)


def pushes(event: Event, clock_min: float, site: Site, case: Case) -> int:
    """Rounds of one event in which a site is plowed."""
    if not _reaches(event, site):
        return 0
    return _services(event, site.trigger_m, clock_min) + (1 if case.money.cleanup_round else 0)


def deicings(event: Event, job: Task, case: Case) -> int:
    """Rounds of one event in which a stop is deiced: all of them, or the last one alone."""
    if not job.deices:
        return 0
    visits = rounds(event, job.clock_min, case)
    return min(1, visits) if job.deices_at_end else visits


def stop_season(job: Task, case: Case) -> StopSeason:
    """What a stop takes over an expected season."""
    events = [(event.count, stop_event(event, job, case)) for event in case.season]
    return StopSeason(sum(count * one.work_min for count, one in events),
                      sum(count * one.reload_min for count, one in events),
                      sum(count * one.material_kg for count, one in events))


def stop_event(event: Event, job: Task, case: Case) -> StopSeason:
    """What a stop takes in one event; it is made as often as either of its works."""
    plowings = pushes(event, job.clock_min, job.site, case) if job.plows else 0
    spreadings = deicings(event, job, case)
    work = (max(plowings, spreadings) * job.site.stop_time_min
            + spreadings * deice_min(job, event.pavement_degc, case))
    if plowings:
        depth = max(event.snowfall_m / plowings, case.assumptions.least_depth_m)
        work += plowings * plow_min(job, depth, case)
    material = spreadings * material_kg(job, event.pavement_degc, case)
    return StopSeason(work, material / job.unit.depot.reload_rate_kg_per_min, material)

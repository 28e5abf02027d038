"""Every loop driven once more: arrivals, reloads, fill, duration, cycle limits, deadlines.

What waits for the last round of a storm is in `recheck_end`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf

from optibuild.plan.recheck_margins import MINUTE, Margin, at_most, same
from optibuild.plan.recheck_mounting import visited
from optibuild.plan.recheck_plowing import plow_min, storm_depth_m
from optibuild.plan.recheck_roads import Roads, fastest_roads
from optibuild.plan.recheck_rounds import Round, distance_of, drive_round, fill_of, totals_of
from optibuild.plan.recheck_service import deice_min, material_kg
from optibuild.plan.recheck_tasks import Task, in_every_round, task
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Plan, PlannedStop


@dataclass(frozen=True)
class Driven:
    """One loop as driven here: its tasks, a round of it, and the last round where something waits for it;
    `roads` are the ways between all places of the plan."""

    unit: Mounted
    tasks: tuple[Task, ...]
    plain: Round
    end: Round | None
    roads: Roads

    @property
    def end_name(self) -> str:
        """How the checks point at its last round."""
        return f"{self.unit.name}, end round"

    def stops(self) -> Iterator[tuple[str, PlannedStop, Task]]:
        """Each stop as planned and as a task, with how the checks point at it."""
        for number, (stop, job) in enumerate(zip(self.unit.planned.loop.stops, self.tasks, strict=True), 1):
            yield f"{self.unit.name}, stop {number} at {stop.site}", stop, job


def drive_loops(plan: Plan, units: list[Mounted], case: Case) -> list[Driven]:
    """Every loop of the plan, driven from its depot through its stops and back."""
    stops = {stop.site for unit in units for stop in unit.planned.loop.stops}
    roads = fastest_roads(case, stops | {unit.depot.id for unit in units})
    return [drive_loop(unit, plan, roads, case) for unit in units]


def drive_loop(unit: Mounted, plan: Plan, roads: Roads, case: Case) -> Driven:
    """One loop; the plan's rows say into how many parcels its sites are divided."""
    stops = unit.planned.loop.stops
    jobs = _tasks(unit, case, {row.id: max(1, row.parcels) for row in plan.sites})
    plain = drive_round(unit, [in_every_round(job) for job in jobs], [stop.reload_before for stop in stops],
                        roads, case)
    if not any(job.deices_at_end for job in jobs):
        return Driven(unit, jobs, plain, None, roads)
    end = drive_round(unit, list(jobs), [bool(stop.end_reload_before) for stop in stops], roads, case)
    return Driven(unit, jobs, plain, end, roads)


def _tasks(unit: Mounted, case: Case, parcels: dict[str, int]) -> tuple[Task, ...]:
    sites = [site for _, site in visited(unit, case)]
    return tuple(task(unit, stop, site, parcels.get(site.id, 1))
                 for stop, site in zip(unit.planned.loop.stops, sites, strict=True))


def service_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """Minutes of plowing and deicing stated at every stop, whichever round does them [min]."""
    for loop in loops:
        for where, stop, job in loop.stops():
            plowing = plow_min(job, storm_depth_m(job.clock_min, case), case)
            deicing = deice_min(job, case.storm.pavement_degc, case)
            yield same(stop.plow_min, plowing, where + ", plowing", MINUTE)
            yield same(stop.deice_min, deicing, where + ", deicing", MINUTE)


def material_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """Material stated at every stop, whichever round spreads it [kg]."""
    for loop in loops:
        for where, stop, job in loop.stops():
            yield same(stop.material_kg, material_kg(job, case.storm.pavement_degc, case), where)


def arrival_margins(loops: list[Driven]) -> Iterator[Margin]:
    """When each stop begins and ends in the first round, and the deadline it is said to have [min]."""
    for loop in loops:
        clocks = zip(loop.stops(), loop.plain.arrive_min, loop.plain.leave_min, strict=True)
        for (where, stop, job), arrive, leave in clocks:
            yield same(stop.arrive_min, arrive, where + ", arrival", MINUTE)
            yield same(stop.leave_min, leave, where + ", leaving", MINUTE)
            yield same(stop.deadline_min, _deadline_min(job), where + ", deadline", MINUTE)


def _deadline_min(job: Task) -> float | None:
    """The site's deadline; none where there is none or nothing is done before the last round."""
    return None if isinf(job.site.deadline_min) or in_every_round(job) is None else job.site.deadline_min


def total_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Duration, driving, fixed reloading and reloads of each loop's round."""
    for loop in loops:
        yield from totals_of(loop.unit.planned.loop, loop.plain, loop.unit.name)


def distance_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Distance of each loop's rounds [m]."""
    for loop in loops:
        stated = loop.unit.planned.loop
        yield distance_of(stated, loop.plain, loop.unit.name)
        if loop.end is not None and stated.end_round is not None:
            yield distance_of(stated.end_round, loop.end, loop.end_name)


def fill_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Material used between two reloads of a round [kg]."""
    for loop in loops:
        yield from fill_of(loop.unit, loop.plain, loop.unit.name)


def duration_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """A loop with its reserve is over within its cycle limit [min]."""
    for loop in loops:
        yield at_most(loop.plain.duration_min + case.solve.reserve_min,
                      loop.unit.planned.loop.cycle_limit_min, loop.unit.name, MINUTE)


def cycle_limit_margins(loops: list[Driven]) -> Iterator[Margin]:
    """No work that is done in every round waits longer than its site allows [min]."""
    for loop in loops:
        for where, _, job in loop.stops():
            often = in_every_round(job)
            if often is not None:
                yield at_most(often.clock_min, _limit_min(often), where, MINUTE)


def _limit_min(job: Task) -> float:
    asked = [job.site.plow_every_min] if job.plows else []
    if job.deices:
        own = job.site.deice_every_min
        asked.append(own if own is not None else job.site.plow_every_min)
    return min((limit for limit in asked if limit is not None), default=0.0)


def deadline_margins(loops: list[Driven]) -> Iterator[Margin]:
    """The first service of a site is finished by its deadline [min]; the last round has none."""
    for loop in loops:
        for (where, _, job), leave in zip(loop.stops(), loop.plain.leave_min, strict=True):
            if leave is not None:
                yield at_most(leave, job.site.deadline_min, where, MINUTE)

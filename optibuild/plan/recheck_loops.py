"""Every loop driven once more: arrivals, reloads, fill, duration, cycle limits, deadlines."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf

from optibuild.plan.recheck_margins import MINUTE, Margin, at_most, claim, same
from optibuild.plan.recheck_mounting import visited
from optibuild.plan.recheck_roads import Road, Roads, fastest_roads
from optibuild.plan.recheck_service import (
    Task,
    deice_min,
    material_kg,
    plow_min,
    stop_min,
    storm_depth_m,
    task,
)
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Plan, PlannedStop


@dataclass(frozen=True)
class Driven:
    """One loop as driven here: its tasks, when each begins and ends, and the roads taken in order."""

    unit: Mounted
    tasks: tuple[Task, ...]
    arrive_min: tuple[float, ...]
    leave_min: tuple[float, ...]
    roads: tuple[Road, ...]
    loads_kg: tuple[float, ...]
    reloads: int
    duration_min: float

    @property
    def drive_min(self) -> float:
        """Minutes on the road in one round."""
        return sum(road.minutes for road in self.roads)

    @property
    def reload_min(self) -> float:
        """Fixed minutes of reloading in one round."""
        return self.reloads * self.unit.depot.reload_time_min

    def stops(self) -> Iterator[tuple[str, PlannedStop, Task]]:
        """Each stop as planned and as a task, with how the checks point at it."""
        for number, (stop, job) in enumerate(zip(self.unit.planned.loop.stops, self.tasks, strict=True), 1):
            yield f"{self.unit.name}, stop {number} at {stop.site}", stop, job


def drive_loops(plan: Plan, units: list[Mounted], case: Case) -> list[Driven]:
    """Every loop of the plan, driven from its depot through its stops and back."""
    stops = {stop.site for unit in units for stop in unit.planned.loop.stops}
    roads = fastest_roads(case, stops | {unit.depot.id for unit in units})
    parcels = {row.id: max(1, row.parcels) for row in plan.sites}
    return [_drive(unit, _tasks(unit, case, parcels), roads, case) for unit in units]


def _tasks(unit: Mounted, case: Case, parcels: dict[str, int]) -> tuple[Task, ...]:
    sites = [site for _, site in visited(unit, case)]
    return tuple(task(unit, stop, site, parcels.get(site.id, 1))
                 for stop, site in zip(unit.planned.loop.stops, sites, strict=True))


def _drive(unit: Mounted, jobs: tuple[Task, ...], roads: Roads, case: Case) -> Driven:
    depot, place, clock, loads = unit.depot, unit.depot.id, 0.0, [0.0]
    taken: list[Road] = []
    arrive: list[float] = []
    leave: list[float] = []
    for stop, job in zip(unit.planned.loop.stops, jobs, strict=True):
        if stop.reload_before:
            taken.append(roads[place, depot.id])
            clock += taken[-1].minutes + depot.reload_time_min
            place = depot.id
            loads.append(0.0)
        taken.append(roads[place, job.site.id])
        arrive.append(clock + taken[-1].minutes)
        clock = arrive[-1] + stop_min(job, case)
        leave.append(clock)
        loads[-1] += material_kg(job, case.storm.pavement_degc)
        place = job.site.id
    taken.append(roads[place, depot.id])
    reloads = len(loads) - 1 + (1 if sum(loads) > 0 else 0)
    duration = clock + taken[-1].minutes + (depot.reload_time_min if sum(loads) > 0 else 0.0)
    return Driven(unit, jobs, tuple(arrive), tuple(leave), tuple(taken), tuple(loads), reloads, duration)


def service_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """Minutes of plowing and deicing stated at every stop [min]."""
    for loop in loops:
        for where, stop, job in loop.stops():
            plowing = plow_min(job, storm_depth_m(job.clock_min, case), case)
            deicing = deice_min(job, case.storm.pavement_degc, case)
            yield same(stop.plow_min, plowing, where + ", plowing", MINUTE)
            yield same(stop.deice_min, deicing, where + ", deicing", MINUTE)


def material_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """Material stated at every stop [kg]."""
    for loop in loops:
        for where, stop, job in loop.stops():
            yield same(stop.material_kg, material_kg(job, case.storm.pavement_degc), where)


def arrival_margins(loops: list[Driven]) -> Iterator[Margin]:
    """When each stop begins and ends in the first round, and the deadline it is said to have [min]."""
    for loop in loops:
        clocks = zip(loop.stops(), loop.arrive_min, loop.leave_min, strict=True)
        for (where, stop, job), arrive, leave in clocks:
            yield same(stop.arrive_min, arrive, where + ", arrival", MINUTE)
            yield same(stop.leave_min, leave, where + ", leaving", MINUTE)
            yield same(stop.deadline_min, _finite(job.site.deadline_min), where + ", deadline", MINUTE)


def total_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Duration, driving and fixed reloading of each loop [min]; the count of reloads is a claim."""
    for loop in loops:
        stated, name = loop.unit.planned.loop, loop.unit.name
        yield same(stated.duration_min, loop.duration_min, name + ", duration", MINUTE)
        yield same(stated.drive_min, loop.drive_min, name + ", driving", MINUTE)
        yield same(stated.reload_min, loop.reload_min, name + ", reloading", MINUTE)
        yield claim(stated.reloads == loop.reloads, name + ", number of reloads")


def distance_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Distance of each loop lies within that of the fastest ways, which may tie [m]."""
    for loop in loops:
        stated = loop.unit.planned.loop.distance_m
        least, most = sum(road.least_m for road in loop.roads), sum(road.most_m for road in loop.roads)
        yield Margin(min(stated - least, most - stated), 1e-6 * max(1.0, most), loop.unit.name)


def fill_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Material used between two reloads is no more than the rated fill less what is retained [kg]."""
    for loop in loops:
        usable = loop.unit.planned.rated_fill_kg - loop.unit.planned.retained_fill_kg
        for number, load in enumerate(loop.loads_kg, 1):
            yield at_most(load, usable, f"{loop.unit.name}, load {number}")


def duration_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """A loop with its reserve is over within its cycle limit [min]."""
    for loop in loops:
        yield at_most(loop.duration_min + case.solve.reserve_min, loop.unit.planned.loop.cycle_limit_min,
                      loop.unit.name, MINUTE)


def cycle_limit_margins(loops: list[Driven]) -> Iterator[Margin]:
    """No work waits longer than its site allows [min]."""
    for loop in loops:
        for where, _, job in loop.stops():
            yield at_most(job.clock_min, _limit_min(job), where, MINUTE)


def _limit_min(job: Task) -> float:
    asked = [job.site.plow_every_min] if job.plows else []
    if job.deices:
        own = job.site.deice_every_min
        asked.append(own if own is not None else job.site.plow_every_min)
    return min((limit for limit in asked if limit is not None), default=0.0)


def deadline_margins(loops: list[Driven]) -> Iterator[Margin]:
    """The first service of a site is finished by its deadline [min]."""
    for loop in loops:
        for (where, _, job), leave in zip(loop.stops(), loop.leave_min, strict=True):
            yield at_most(leave, job.site.deadline_min, where, MINUTE)


def _finite(deadline_min: float) -> float | None:
    return None if isinf(deadline_min) else deadline_min

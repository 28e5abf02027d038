"""One round of a loop driven once more: when it comes where, what it holds, when the truck is ready again."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibuild.plan.recheck_margins import MINUTE, Margin, at_most, claim, same
from optibuild.plan.recheck_roads import Road, Roads
from optibuild.plan.recheck_service import material_kg, stop_min
from optibuild.plan.recheck_tasks import Task
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, PlannedEndRound, PlannedLoop


@dataclass(frozen=True)
class Round:
    """When each stop begins and ends (None where it is passed over), the roads taken in order, the material
    used between reloads."""

    arrive_min: tuple[float | None, ...]
    leave_min: tuple[float | None, ...]
    roads: tuple[Road, ...]
    loads_kg: tuple[float, ...]
    reloads: int
    reload_min: float
    duration_min: float

    @property
    def drive_min(self) -> float:
        """Minutes on the road."""
        return sum(road.minutes for road in self.roads)


def drive_round(unit: Mounted, jobs: list[Task | None], reload_before: list[bool], roads: Roads,
                case: Case) -> Round:
    """A round from the depot through the jobs and back, with a reload at the end if it used material.

    A job that is None is passed over on the way.
    """
    depot, place, clock, loads = unit.depot, unit.depot.id, 0.0, [0.0]
    taken: list[Road] = []
    arrive: list[float | None] = []
    leave: list[float | None] = []
    for job, reload in zip(jobs, reload_before, strict=True):
        if reload:
            taken.append(roads[place, depot.id])
            clock += taken[-1].minutes + depot.reload_time_min
            place = depot.id
            loads.append(0.0)
        if job is None:
            arrive.append(None)
            leave.append(None)
            continue
        taken.append(roads[place, job.site.id])
        arrive.append(clock + taken[-1].minutes)
        clock += taken[-1].minutes + stop_min(job, case)
        leave.append(clock)
        loads[-1] += material_kg(job, case.storm.pavement_degc, case)
        place = job.site.id
    taken.append(roads[place, depot.id])
    reloads = len(loads) - 1 + (1 if sum(loads) > 0 else 0)
    duration = clock + taken[-1].minutes + (depot.reload_time_min if sum(loads) > 0 else 0.0)
    return Round(tuple(arrive), tuple(leave), tuple(taken), tuple(loads), reloads,
                 reloads * depot.reload_time_min, duration)


def totals_of(stated: PlannedLoop | PlannedEndRound, found: Round, name: str) -> Iterator[Margin]:
    """Duration, driving and fixed reloading of a round [min]; the count of reloads is a claim."""
    yield same(stated.duration_min, found.duration_min, name + ", duration", MINUTE)
    yield same(stated.drive_min, found.drive_min, name + ", driving", MINUTE)
    yield same(stated.reload_min, found.reload_min, name + ", reloading", MINUTE)
    yield claim(stated.reloads == found.reloads, name + ", number of reloads")


def distance_of(stated: PlannedLoop | PlannedEndRound, found: Round, name: str) -> Margin:
    """Distance of a round lies within that of the fastest ways, which may tie [m]."""
    least, most = sum(road.least_m for road in found.roads), sum(road.most_m for road in found.roads)
    return Margin(min(stated.distance_m - least, most - stated.distance_m), 1e-6 * max(1.0, most), name,
                  "figure")


def fill_of(unit: Mounted, found: Round, name: str) -> Iterator[Margin]:
    """Material used between two reloads is no more than the rated fill less what is retained [kg]; without a
    spreader there is nothing to check unless something is used."""
    usable = unit.planned.rated_fill_kg - unit.planned.retained_fill_kg
    for number, load in enumerate(found.loads_kg, 1):
        if unit.spreader is not None or load > 0.0:
            yield at_most(load, usable, f"{name}, load {number}")

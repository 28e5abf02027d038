"""The last round of a storm, where some works wait for it: its clock, its reloads, its fill."""

from collections.abc import Iterator

from optibuild.plan.recheck_loops import Driven
from optibuild.plan.recheck_margins import MINUTE, Margin, at_most, claim, same
from optibuild.plan.recheck_rounds import fill_of, totals_of
from optibuild.records import Case


def _within_min(loop: Driven) -> float:
    """The end round serves all its stops within the tightest promise of those that wait for it."""
    return min(job.site.end_within_min for job in loop.tasks if job.deices_at_end)


def end_arrival_margins(loops: list[Driven]) -> Iterator[Margin]:
    """When each stop begins and ends in the end round [min]; nothing is said where a loop has none."""
    for loop in loops:
        nothing = (None,) * len(loop.tasks)
        arrive, leave = (loop.end.arrive_min, loop.end.leave_min) if loop.end else (nothing, nothing)
        for (where, stop, _), begin, finish in zip(loop.stops(), arrive, leave, strict=True):
            yield same(stop.end_arrive_min, begin, where + ", arrival", MINUTE)
            yield same(stop.end_leave_min, finish, where + ", leaving", MINUTE)
            yield claim((stop.end_reload_before is None) == (loop.end is None), where + ", reload before")


def end_total_margins(loops: list[Driven]) -> Iterator[Margin]:
    """A loop has an end round just where a work waits for it, with the time found here [min]."""
    for loop in loops:
        stated = loop.unit.planned.loop.end_round
        yield claim((stated is None) == (loop.end is None), loop.end_name)
        if loop.end is not None and stated is not None:
            yield same(stated.within_min, _within_min(loop), loop.end_name + ", within", MINUTE)
            yield from totals_of(stated, loop.end, loop.end_name)


def end_fill_margins(loops: list[Driven]) -> Iterator[Margin]:
    """Material used between two reloads of the end round [kg]."""
    for loop in loops:
        if loop.end is not None:
            yield from fill_of(loop.unit, loop.end, loop.end_name)


def end_duration_margins(loops: list[Driven], case: Case) -> Iterator[Margin]:
    """The end round with its reserve is over within its time [min]."""
    for loop in loops:
        if loop.end is not None:
            yield at_most(loop.end.duration_min + case.solve.reserve_min, _within_min(loop), loop.end_name,
                          MINUTE)

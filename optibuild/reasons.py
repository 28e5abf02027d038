"""The loops of a written plan among all builds of its case, and changed: what reasons for it are made of."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optibuild import cycle_time, fit, integer_program, pipeline
from optibuild.integer_program import Column, Entry
from optibuild.pipeline import least_cost_at
from optibuild.records import Case, ChosenLoop, LoopTimes, Plan
from optibuild.written import Written, among_all_builds

__all__ = ["Fleet", "alone", "chosen", "driven", "entries", "fits", "fleet_of", "loop_of", "own_fleet"]


@dataclass(frozen=True)
class Fleet:
    """Some loops, one a truck, with what they cost in all [USD a season] and the items they take [I]."""

    loops: tuple[Column, ...]
    cost_usd: float
    bought: np.ndarray
    owned_used: np.ndarray


def chosen(case: Case, plan: Plan) -> Written:
    """The plan of this very case among all builds; its program is the one whose least cost it is. ValueError
    where a loop is none of the case."""
    of = among_all_builds(case, plan)
    if case.question != "value":
        return of
    return replace(of, made=replace(of.made, problem=least_cost_at(of.made.problem, of.choice.missed)))


def own_fleet(at: Written) -> Fleet:
    """The plan's own loops."""
    return fleet_of(at, pipeline.measured(at.made.problem, at.choice.loops))


def driven(at: Written) -> list[LoopTimes]:
    """The loops of the plan by the clock, each with the limit that binds it."""
    made = at.made
    return [cycle_time.drive_loop(made.case, made.builds, made.times, one) for one in at.choice.loops]


def loop_of(at: Written, crewed: int, clock: int, stops: Sequence[int]) -> Column | None:
    """A loop of these stops in this order, with the reloads by which it is over first; None where it breaks a
    limit."""
    made = at.made
    if not at.made.problem.allowed[clock, list(stops)].all():
        return None
    times = cycle_time.evaluate_loop(made.case, made.builds, made.times, crewed, clock, stops)
    if times is None or times.binds.left < 0.0:
        return None
    last = () if made.times.end is None else (times.end or times).reload_before
    chosen = ChosenLoop(crewed, clock, tuple(stops), times.reload_before, last)
    return pipeline.measured(at.made.problem, [chosen])[0]


def fleet_of(at: Written, loops: Sequence[Column]) -> Fleet:
    """What some loops cost in all, with their items: owned ones are used before any is bought."""
    tallied = integer_program.tally(at.made.problem, tuple((one, 1) for one in loops), at.choice.missed)
    return Fleet(tuple(loops), tallied.objective, tallied.bought, tallied.owned_used)


def alone(at: Written, stop: int, beside: Fleet) -> Column | None:
    """The cheapest truck of its own for a stop, with the items, the money and the drivers that a fleet
    leaves; None where there is none."""
    problem, one = at.made.problem, [stop]
    end = problem.end_round and replace(
        problem.end_round, minutes=problem.end_round.minutes[:, :, one],
        material_kg=problem.end_round.material_kg[one], limit_min=problem.end_round.limit_min[one],
        only=problem.end_round.only[one])
    left = np.where(problem.held, problem.available - beside.bought,
                    problem.available - beside.bought - beside.owned_used)
    found = integer_program.solve(replace(
        problem, minutes=problem.minutes[:, :, one], stop_limit_min=problem.stop_limit_min[one],
        deadline_min=problem.deadline_min[one], place=problem.place[one], amount=problem.amount[one],
        need=problem.amount[stop], stop_usd=problem.stop_usd[:, :, one],
        material_kg=problem.material_kg[one], missed_usd=np.full_like(problem.missed_usd, np.inf),
        most_missed_worth=np.inf, constant_usd=0.0, gap=0.0, end_round=end, available=left,
        owned=np.where(problem.held, problem.owned - beside.owned_used, 0.0),
        budget_usd=problem.budget_usd - float(beside.bought @ problem.price_usd),
        most_loops=problem.most_loops - len(beside.loops)))
    if found.objective is None:
        return None
    build, clock = found.loops[0][0].build, found.loops[0][0].clock
    return loop_of(at, build, clock, one)


def fits(at: Written) -> np.ndarray:
    """Which items are part of some build that fits [I]."""
    made = at.made
    used = fit.item_uses(made.case, made.builds, made.builds.fitting)
    return np.asarray((used > 0).any(axis=0))


def entries(at: Written, items: Sequence[int], seconds: float, tell: Callable[[], None]) -> tuple[Entry, ...]:
    """At which share of its price each of these items would enter the relaxation; nobody may own any."""
    return integer_program.entries(at.made.problem, items, own_fleet(at).loops, seconds, tell)

"""Loops of one stop: the plan before any thought."""

from math import inf

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.problem import (
    FILL_TOLERANCE,
    TIME_TOLERANCE_MIN,
    Bools,
    EndRound,
    Floats,
    LoopProblem,
)


def first_columns(problem: LoopProblem) -> list[Column]:
    """For every stop, its cheapest loop with no other stop, over all builds and clocks; and where that uses
    an item that can run out, the cheapest one of builds that use none."""
    end = problem.end_round
    plain_min, usd = _alone(problem, problem)
    bad = ((plain_min > problem.cycle_limit_min[None, :, None] + TIME_TOLERANCE_MIN)
           | _late(problem)) & problem.repeated
    usd = np.where(problem.repeated, usd, 0.0)
    if end is not None:
        end_min, end_usd = _alone(problem, end)
        bad |= end_min > end.limit_min + TIME_TOLERANCE_MIN
        usd = usd + end_usd
    for kind in problem.rounds:
        bad |= (kind.material_kg > problem.fill_kg[:, None] * (1 + FILL_TOLERANCE))[:, None, :]
    cost = problem.own_cost_usd[:, None, None] + usd + problem.stop_usd
    cost[bad | ~problem.allowed | ~problem.possible] = inf
    limited = (problem.uses[:, np.isfinite(problem.available)] > 0).any(axis=1)
    lasting = cost.copy()
    lasting[limited] = inf
    made = []
    for stop in range(problem.place.size if problem.start.size else 0):
        pairs = {divmod(int(np.argmin(usd[:, :, stop])), problem.cycle_limit_min.size): None
                 for usd in (cost, lasting) if np.isfinite(usd[:, :, stop]).any()}
        made += [column(problem, build, clock, (stop,), (False,), (False,) if end else ())
                 for build, clock in pairs]
    return made


def _alone(problem: LoopProblem, kind: LoopProblem | EndRound) -> tuple[Floats, Floats]:
    """Minutes of a kind of round with one stop and no other, and money of its driving [B, K, S]."""
    def drive(matrix: Floats) -> Floats:
        return matrix[problem.start][:, problem.place] + matrix[problem.place][:, problem.end].T

    wet = (kind.material_kg > 0) & problem.may_reload
    driven = drive(problem.travel_min) + np.where(wet[None, :], problem.reload_min[:, None], 0.0)
    usd = (kind.drive_usd_per_min[:, :, None] * driven[:, None, :]
           + kind.drive_usd_per_m[:, :, None] * drive(problem.distance_m)[:, None, :])
    return driven[:, None, :] + kind.minutes, usd


def _late(problem: LoopProblem) -> Bools:
    """Which stops end after their deadline even if they come first [B, K, S]."""
    out = problem.travel_min[problem.start][:, problem.place]
    return out[:, None, :] + problem.minutes > problem.deadline_min + TIME_TOLERANCE_MIN

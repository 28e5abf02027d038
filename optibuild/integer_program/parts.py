"""A part of a problem as a problem of its own: some groups of works, some builds, and what the loops outside
leave of items, money, drivers and worth."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.master import tally
from optibuild.integer_program.problem import EndRound, Floats, Ints, LoopProblem

Times = tuple[tuple[Column, int], ...]
"""Loops with how many trucks run each."""


@dataclass(frozen=True)
class Part:
    """A problem that is part of a whole, with the numbers there of its stops [S], builds [B] and groups, G of
    them [G]."""

    whole: LoopProblem
    problem: LoopProblem
    stops: Ints
    builds: Ints
    groups: Ints

    def outside(self, one: Column) -> Column:
        """A loop of the part as a loop of the whole."""
        return column(self.whole, int(self.builds[one.build]), one.clock,
                      tuple(int(self.stops[s]) for s in one.stops), one.reload_before, one.end_reload_before)


def covered(problem: LoopProblem, loops: Times) -> Floats:
    """How much of each work these loops do [T]."""
    done = np.zeros(problem.need.size)
    for one, times in loops:
        for work, amount in one.covers:
            done[work] += times * amount
    return done


def part(problem: LoopProblem, groups: Ints, builds: Ints, kept: Times, missed: tuple[int, ...]) -> Part:
    """What the `kept` loops leave to do in some groups of works, G of them [G], with some builds [B].

    `missed` groups outside stay missed. Places are numbered anew, for ways between all of them are looked at
    more than once.
    """
    left = np.maximum(0.0, problem.need - covered(problem, kept))
    works = np.flatnonzero(np.isin(problem.group, groups) & (left > 0))
    others = np.setdiff1d(np.arange(problem.need.size), works)
    does = problem.amount[:, works].any(axis=1) & ~problem.amount[:, others].any(axis=1)
    stops = np.flatnonzero(does & problem.possible[builds].any(axis=(0, 1)))
    places = np.unique(np.concatenate([problem.place[stops], problem.start[builds], problem.end[builds]]))
    at = np.zeros(len(problem.travel_min), np.int64)
    at[places] = np.arange(places.size)
    here = np.unique(problem.group[works])
    used = tally(problem, kept, ())
    spent = float((used.bought * problem.price_usd).sum())
    count = sum(times for _, times in kept)
    outside = float(problem.worth[[g for g in missed if g not in here]].sum()) if problem.worth.size else 0.0
    ways = np.ix_(places, places)
    return Part(problem, replace(
        problem, **_of_builds(problem, builds, stops), stop_limit_min=problem.stop_limit_min[stops],
        deadline_min=problem.deadline_min[stops], place=at[problem.place[stops]],
        amount=problem.amount[np.ix_(stops, works)], need=left[works], travel_min=problem.travel_min[ways],
        distance_m=problem.distance_m[ways], start=at[problem.start[builds]], end=at[problem.end[builds]],
        fixed_usd=problem.fixed_usd[builds], stop_usd=problem.stop_usd[builds].take(stops, axis=2),
        fill_kg=problem.fill_kg[builds], reload_min=problem.reload_min[builds],
        group=np.searchsorted(here, problem.group[works]), missed_usd=problem.missed_usd[here],
        uses=problem.uses[builds], owned=problem.owned - used.owned_used,
        available=problem.available - used.bought,
        budget_usd=problem.budget_usd - spent, most_loops=problem.most_loops - count,
        worth=problem.worth[here] if problem.worth.size else problem.worth,
        most_missed_worth=problem.most_missed_worth - outside, constant_usd=0.0,
        end_round=_end_of(problem, builds, stops)), stops, builds, here)


def _of_builds(kind: LoopProblem | EndRound, builds: Ints, stops: Ints) -> dict[str, Any]:
    """What a kind of round says of some builds and stops, in the order in memory that is compiled for."""
    return {"minutes": kind.minutes[builds].take(stops, axis=2), "material_kg": kind.material_kg[stops],
            "drive_usd_per_min": kind.drive_usd_per_min[builds],
            "drive_usd_per_m": kind.drive_usd_per_m[builds]}


def _end_of(problem: LoopProblem, builds: Ints, stops: Ints) -> EndRound | None:
    end = problem.end_round
    if end is None:
        return None
    return EndRound(**_of_builds(end, builds, stops), limit_min=end.limit_min[stops], only=end.only[stops])

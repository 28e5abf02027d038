"""A written plan back in the arrays of its case: where the bid, the reasons and the drill begin."""

from dataclasses import dataclass

import numpy as np

from optibuild import cycle_time, fit
from optibuild.pipeline import Stages, planned_stages, staged
from optibuild.records import Case, Choice, Plan

__all__ = ["Written", "among_all_builds", "among_its_builds", "in_case", "its_builds"]


@dataclass(frozen=True)
class Written:
    """A plan, the stages that it was brought back to, and its choice on the axes of their arrays."""

    plan: Plan
    made: Stages
    choice: Choice


def among_its_builds(case: Case, plan: Plan) -> Written:
    """A plan of this very case with the arrays of its own builds alone; ValueError where a loop is none of
    it."""
    builds = fit.fit_builds(case)
    parcels = np.array([site.parcels for site in plan.sites], dtype=np.int64)
    used = cycle_time.planned_builds(case, builds, plan)
    return _at(plan, staged(case, builds, cycle_time.SomeBuilds(used, parcels, False)))


def among_all_builds(case: Case, plan: Plan) -> Written:
    """The same with the arrays of all builds that it was chosen from."""
    return _at(plan, planned_stages(case))


def in_case(of: Written, changed: Case) -> Written:
    """The same builds, fitted as they are, and loops in a case with other events, times or money."""
    return _at(of.plan, staged(changed, of.made.builds, its_builds(of)))


def its_builds(of: Written) -> cycle_time.SomeBuilds:
    """The builds on the axes of a written plan's arrays, with its parcels."""
    return cycle_time.SomeBuilds(np.unique(of.made.times.build), of.made.times.parcels, False)


def _at(plan: Plan, made: Stages) -> Written:
    return Written(plan, made, cycle_time.planned_choice(made.case, made.builds, made.times, plan))

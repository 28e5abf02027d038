"""Many changes of a case, solved by a process of its own that tests may kill: python tests/many_solves.py
CASE RESULTS COUNT [BYTES]. Prints how many are done, a line each. BYTES: no file may be larger."""

import json
import os
import sys
from dataclasses import replace
from pathlib import Path

from optibuild.inputs import read_case
from optibuild.pipeline import from_json, to_json
from optibuild.records import Case, Plan
from optibuild.what_if import solve_many
from optibuild.what_if.solving import Solved, solve_case
from optibuild.what_if.workers import Task, do


def wages(case: Case, count: int) -> list[Case]:
    """The case, and the same with a wage that is a twentieth more each time."""
    now = case.money.wage_usd_per_min
    return [replace(case, name=f"wage {k}", money=replace(case.money, wage_usd_per_min=now * (1 + k / 20)))
            for k in range(count)]


def lasting(plan: Plan | None) -> str:
    """The text of a plan.json but for how long it took."""
    return "" if plan is None else to_json(replace(plan, outcome=replace(plan.outcome, seconds=0.0)))


def undisturbed(cases: list[Case]) -> list[str]:
    """The plans of cases solved one after the other in this process, the first one cold, the others from its
    loops, but for how long they took."""
    first = solve_case(cases[0])
    each = [first, *(solve_case(case, first.start) for case in cases[1:])]
    return ["" if one.plan is None else lasting(from_json(one.plan)) for one in each]


def without_dual_bounds(text: str) -> str:
    """The same without what duals prove of sites and its recheck: where several duals are best, a search that
    was begun may end at others than a cold one."""
    tree = json.loads(text)
    for site in tree["sites"]:
        del site["marginal_most_usd"]
    for check in tree["recheck"]["checks"]:
        if check["name"] == "cost without a site":
            del check["worst"], check["where"]
    return json.dumps(tree)


def do_or_die(task: Task) -> Solved:
    """What a worker does that is always lost at the second case."""
    if task.number == 1:
        os._exit(9)
    return do(task)


if __name__ == "__main__":
    if len(sys.argv) > 4:
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[4]), resource.RLIM_INFINITY))
    solve_many(wages(read_case(sys.argv[1]), int(sys.argv[3])), Path(sys.argv[2]), 2,
               progress=lambda at: print(at.done, flush=True))

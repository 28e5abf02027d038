"""One case of many solved from a start, and what it gives the others to begin with."""

import threading
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from optibuild.errors import StoppedWithoutPlan
from optibuild.integer_program import solver_versions
from optibuild.pipeline import Answer, answer, to_json
from optibuild.records import Case
from optibuild.records.sweep import Start
from optibuild.what_if.sharing import carried, digest, named, shared_stages, without_money

COLD = Start("", (), ())
_one_at_a_time = threading.Lock()
"""HiGHS has one scheduler a process, so a process that was given several cases solves one after the other."""


@dataclass(frozen=True)
class Solved:
    """A case that is done: the text of its plan.json (None: stopped without a plan), what it gives others to
    begin with (None where it was itself begun so), and the versions of what made it."""

    plan: str | None
    start: Start | None
    made_with: str


@cache
def made_with() -> str:
    """This program, by version and source, and the libraries that it searches with, each with its version:
    between two versions the source may change as well."""
    source = sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*.py")):
        source.update(path.read_bytes())
    return ", ".join((f"optibuild {version('optibuild')} (source {source.hexdigest()[:12]})",
                      *(f"{name} {number}" for name, number in solver_versions().items())))


def solve_case(case: Case, start: Start | None = None) -> Solved:
    """Solve a case. Without a start the search is a cold one, and tells what others may begin with.

    A search that is begun may end at another plan than a cold one where both are within the gap; where both
    are proved best they cost the same. Errors as `pipeline.answer`, but for a search stopped without a plan.
    """
    with _one_at_a_time:
        made = shared_stages(case)
        minutes = digest(without_money(case))
        given = start or COLD
        loops, near = (carried(made, some, given.digest == minutes) for some in (given.loops, given.near))
        try:
            found = answer(case, None, lambda _: loops, made, near)
        except StoppedWithoutPlan:
            return Solved(None, COLD if start is None else None, made_with())
    return Solved(to_json(found.plan), _start(minutes, found) if start is None else None, made_with())


def _start(minutes: str, answered: Answer) -> Start:
    """What others may begin with; nothing where the program was not asked."""
    found = answered.found
    if found is None:
        return COLD
    loops, near = (named(answered.made, some) for some in ([one for one, _ in found.loops], found.near))
    return Start(minutes, loops, near)

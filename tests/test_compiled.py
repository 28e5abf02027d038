"""Compiling comes before the clock: a search finds every compiled function made."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

# in a process of its own, where nothing is compiled or loaded yet; a neighborhood's part of the problem too
SOLVE = """
import json
import sys
from dataclasses import replace

import numpy as np
from loop_problems import seeded, with_end

from optibuild.integer_program import solve
from optibuild.integer_program.compiled import ready
from optibuild.integer_program.parts import part
from optibuild.integer_program import bounds, dominance, labelling, picking, spreading


def made():
    return {f"{module.__name__.rpartition('.')[2]}.{name}": len(function.signatures)
            for module in (bounds, dominance, labelling, picking, spreading)
            for name, function in vars(module).items() if hasattr(function, "signatures")}


at_end = sys.argv[1] == "end"
problem = replace(seeded(7), time_limit_s=20.0)
problem = with_end(problem, 7) if at_end else problem
before = made()
ready(at_end)
after = made()
found = solve(problem)
groups, builds = np.arange(problem.missed_usd.size), np.arange(problem.start.size)
solve(part(problem, groups, builds, (), ()).problem)
print(json.dumps([before, after, made(), len(found.loops)]))
"""


# those that Python calls; what they call is compiled, or loaded, with them
CALLED = {"bounds.completion", "bounds.gains", "bounds.loads_to_come", "dominance._keep",
          "labelling.run_labels", "picking.places_of", "picking.remembered", "picking.usable_stops",
          "picking.ways", "spreading._best_builds"}


@pytest.mark.parametrize("rounds", ["plain", "end"])
def test_a_search_compiles_nothing_more(rounds: str) -> None:
    """At first nothing is compiled or loaded; once made ready, every function that Python calls is there for
    one kind of arguments, and two searches, one of them on a part of the problem, bring no other kind.

    Orders are not spread over builds where the last round is another one.
    """
    done = subprocess.run([sys.executable, "-c", SOLVE, rounds], capture_output=True, text=True, check=True,
                          cwd=Path(__file__).parent)
    before, after, later, loops = json.loads(done.stdout)
    called = CALLED - {"spreading._best_builds"} if rounds == "end" else CALLED
    assert not any(before.values())
    assert {name: after[name] for name in called} == dict.fromkeys(called, 1)
    assert loops > 0 and later == after

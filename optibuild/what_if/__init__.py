"""What if: many like cases solved, and what follows from all of their plans."""

from optibuild.what_if.compare import plan_folders
from optibuild.what_if.frontier import frontier
from optibuild.what_if.settle import Varied, vary
from optibuild.what_if.sweep import solve_each, solve_many

__all__ = ["Varied", "frontier", "plan_folders", "solve_each", "solve_many", "vary"]

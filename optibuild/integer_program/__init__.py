"""The integer program: which loops to run, with which builds. It sees ids and arrays only."""

from optibuild.integer_program.outcome import PROVED_GAP, LoopOutcome, relative_gap
from optibuild.integer_program.problem import LoopProblem
from optibuild.integer_program.search import Progress, solve

__all__ = ["PROVED_GAP", "LoopOutcome", "LoopProblem", "Progress", "relative_gap", "solve"]

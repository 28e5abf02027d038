"""The integer program: which loops to run, with which builds. It sees ids and arrays only."""

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.entry import Entry, entries
from optibuild.integer_program.envelopes import worth_keeping
from optibuild.integer_program.master import program_text, tally
from optibuild.integer_program.outcome import PROVED_GAP, LoopOutcome, Progress, most_saved_usd
from optibuild.integer_program.problem import EndRound, LoopProblem
from optibuild.integer_program.search import solve
from optibuild.integer_program.singles import first_columns
from optibuild.integer_program.versions import solver_versions

__all__ = [
    "Column", "EndRound", "Entry", "LoopOutcome", "LoopProblem", "PROVED_GAP", "Progress", "column",
    "entries", "first_columns", "most_saved_usd", "program_text", "solve", "solver_versions",
    "tally", "worth_keeping",
]

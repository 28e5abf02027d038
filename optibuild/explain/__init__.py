"""Explain: what stands in the way where no plan exists, and the integer program as text."""

from optibuild.explain.program import write_program
from optibuild.explain.shortfalls import shortfall, shows_no_plan

__all__ = ["shortfall", "shows_no_plan", "write_program"]

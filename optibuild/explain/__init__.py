"""Explain: what stands in the way where no plan exists; why a plan is as it is, what it would save without a
site and what would break it; and the integer program as text."""

from optibuild.explain.drill import drill
from optibuild.explain.marginal import marginal_costs
from optibuild.explain.program import write_program
from optibuild.explain.shortfalls import shortfall, shows_no_plan
from optibuild.explain.why import why

__all__ = [
    "drill", "marginal_costs", "shortfall", "shows_no_plan", "why", "write_program",
]

"""Cost: owning, a season's work, and what to bid."""

from optibuild.cost.bid import contract_value_usd, expected_services, price_usd, shares
from optibuild.cost.loop_costs import combined_l_per_m, loop_costs
from optibuild.cost.owning import (
    annual_usd,
    capital_recovery_usd,
    owned_capital_usd,
    recovery_factor,
    upkeep_usd,
)
from optibuild.cost.season import push_count, season_rounds
from optibuild.cost.site_costs import site_costs

__all__ = [
    "annual_usd", "capital_recovery_usd", "combined_l_per_m", "contract_value_usd", "expected_services",
    "loop_costs", "owned_capital_usd", "price_usd", "push_count", "recovery_factor", "season_rounds",
    "shares", "site_costs", "upkeep_usd",
]

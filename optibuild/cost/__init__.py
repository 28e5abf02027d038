"""Cost: owning, a season's work, and what to bid."""

from optibuild.cost.bid import contract_value_usd, price_usd, shares
from optibuild.cost.bid_sheet import bid_sheet
from optibuild.cost.loop_costs import combined_l_per_m, loop_costs
from optibuild.cost.money_by_kind import money_by_kind
from optibuild.cost.owning import (
    annual_usd,
    capital_recovery_usd,
    owned_capital_usd,
    paid_at_purchase_usd,
    recovery_factor,
    upkeep_usd,
)
from optibuild.cost.pay import drivers_a_truck, most_trucks
from optibuild.cost.season import push_count, season_rounds
from optibuild.cost.site_costs import site_costs, site_prices
from optibuild.cost.site_events import billable_hours, single_events, site_events

__all__ = [
    "annual_usd", "bid_sheet", "billable_hours", "capital_recovery_usd", "combined_l_per_m",
    "contract_value_usd", "drivers_a_truck", "loop_costs", "money_by_kind",
    "most_trucks", "owned_capital_usd", "paid_at_purchase_usd", "price_usd", "push_count", "recovery_factor",
    "season_rounds", "shares", "single_events", "site_costs", "site_events", "site_prices", "upkeep_usd",
]

"""A frontier: the contract value that can be covered against budget, drivers or snowfall rate."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.plan import PlannedItem
from optibuild.records.provenance import OfCase

FrontierKey = Literal["budget", "drivers", "rate"]
SAME_USD = 0.005
"""Contract values that lie no farther apart are one."""


@dataclass(frozen=True)
class FrontierStep:
    """A value of the key from which on more contract value is covered, with the plan that does so.

    `value` and `fails_at` are in USD, drivers or m/min. `fails_at` is the nearest value at which this much is
    proved out of reach (None: nothing is proved); `exact` says that this is a cent, a truck, 1 % of the rate
    away, or that there is nothing beyond; what was not looked beyond is not exact. `bound_usd`: up to the
    next step nothing covers more. `cost_usd` of a season is None, and `rechecked` False, where the search was
    interrupted before.
    """

    value: float
    contract_value_usd: float
    bound_usd: float
    fails_at: float | None
    exact: bool
    cost_usd: float | None
    capital_usd: float
    trucks: int
    items: tuple[PlannedItem, ...]
    sites: tuple[str, ...]
    rechecked: bool


@dataclass(frozen=True)
class Frontier:
    """All steps, in order of their contract value; none where no plan exists.

    `offered_usd` is what all sites would pay, `ended` why the search for steps did, after so many `searches`
    (those for the costs of the steps told are not counted). `optional`: how many sites may be left out.
    `looked_from` and `looked_to` are the least and greatest snowfall rate looked at [m/min].
    `case` is the one asked.
    """

    key: FrontierKey
    steps: tuple[FrontierStep, ...]
    offered_usd: float
    searches: int
    ended: Literal["all known", "most searches", "interrupted"]
    optional: int
    case: OfCase
    looked_from: float | None = None
    looked_to: float | None = None

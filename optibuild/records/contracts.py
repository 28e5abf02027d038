"""What a bid is asked for: contracts of the sites, past winters, how cautious it is."""

from dataclasses import dataclass
from math import floor, inf
from typing import Literal

ContractForm = Literal["season", "event", "push", "inch", "hour"]
HUNDREDTH_IN_M = 0.0254 / 100


@dataclass(frozen=True)
class Contract:
    """One row of the table of contracts: how a site (None = every site) pays.

    `amount_usd` is for a season, an event, a push, an inch of snow or an hour at the site, by form. Of form
    event it holds for events whose snowfall lies from `from_depth_m` to below `to_depth_m`, compared by
    `hundredths`. `cap` is the number of events that form season includes, `overage_usd` the pay for each
    event beyond. An amount that is None is to be priced. A site's own rows of a form go before those for
    every site.
    """

    site: str | None
    form: ContractForm
    amount_usd: float | None
    from_depth_m: float = 0.0
    to_depth_m: float = inf
    cap: float = inf
    overage_usd: float | None = None


@dataclass(frozen=True)
class Winter:
    """One past winter: how many events of each class it had, in the order of the season."""

    id: str
    counts: tuple[float, ...]


@dataclass(frozen=True)
class BidSettings:
    """The chance of a loss that a safe price may have, as a share of seasons, and how many seasons are
    drawn."""

    chance_of_loss: float = 0.10
    seasons: int = 10_000


def hundredths(depth_m: float) -> float:
    """A depth [m] in whole hundredths of an inch, halves up: 6.995 in counts as 7.00; no limit stays so."""
    return depth_m if depth_m == inf else float(floor(depth_m / HUNDREDTH_IN_M + 0.5 + 1e-9))

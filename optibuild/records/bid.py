"""A bid: what sites cost, what they are offered for in every form of contract, and what that risks.

The first two nouns hold arrays over E event classes; those after them are what a bid sheet says, plain
numbers and words in USD, meters and minutes.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optibuild.records.build import Floats


@dataclass(frozen=True)
class SiteEvents:
    """What one site costs in a season and what can be billed there.

    `fixed_usd` falls due whatever falls from the sky; `event_usd` [E] is the cost of one event of each class.
    One event is billed as `pushes`, `served` (1 or 0), `inches` of snowfall where they are plowed, and
    `hours` at the site [E]. `snowfall_m` [E]; `count` [E] events of each class are expected a season.
    """

    trigger_m: float
    fixed_usd: float
    event_usd: Floats
    pushes: Floats
    served: Floats
    inches: Floats
    hours: Floats
    snowfall_m: Floats
    count: Floats

    @cached_property
    def expected_usd(self) -> float:
        """Cost of an expected season [USD]."""
        return self.fixed_usd + float(self.event_usd @ self.count)

    @cached_property
    def expected_events(self) -> float:
        """Events of an expected season in which the site is served."""
        return float(self.served @ self.count)


@dataclass(frozen=True)
class FormPrice:
    """One line of a bid sheet: a price for each `unit` (push, event, inch, hour, season).

    Depths bound the snowfall of the events it holds for; an inch price with a depth is for each inch above
    it, on top of the last band. `cap` is the number of events a season includes, `overage_usd`
    the price of each beyond. None where nothing applies; a price of None says that nothing can be billed.
    """

    form: str
    unit: str
    price_usd: float | None
    from_depth_m: float | None = None
    to_depth_m: float | None = None
    cap: float | None = None
    overage_usd: float | None = None


@dataclass(frozen=True)
class Terms:
    """What a contract pays: a sum, an amount for one event of each class [E], and an overage for each event
    beyond the cap, counted by what is `served` [E]. `prices` says the same in the units of the form."""

    form: str
    prices: tuple[FormPrice, ...]
    fixed_usd: float
    event_usd: Floats
    served: Floats
    cap: float = np.inf
    overage_usd: float = 0.0

    @property
    def priced(self) -> bool:
        """Whether the form can bill anything at this site."""
        return any(line.price_usd is not None for line in self.prices)


@dataclass(frozen=True)
class SiteCost:
    """What an expected season costs, by kind [USD].

    `driving_usd` is all of a loop but its stops: driving, reloads, start and idle time. `held_usd` is the
    capital of owned items, which bids recover and the choice of fleet does not charge.
    """

    service_usd: float
    driving_usd: float
    owning_usd: float
    held_usd: float

    @property
    def cost_usd(self) -> float:
        """The site's share of what the plan costs."""
        return self.service_usd + self.driving_usd + self.owning_usd

    @property
    def bid_usd(self) -> float:
        """What a bid has to recover."""
        return self.cost_usd + self.held_usd


@dataclass(frozen=True)
class Risk:
    """Profit over the simulated seasons under one form of contract, summed over `sites` sites.

    `error_usd` is the standard error of the mean, `worst_tenth_usd` the mean of the worst tenth of seasons.
    At `break_even_events` events of the expected mix the profit is 0, and `loss_above` says whether more of
    them make a loss (else fewer do); both are None where no number of events turns profit into loss.
    `loss_until_events` is where an overage ends that loss again.
    """

    form: str
    sites: int
    mean_usd: float
    error_usd: float
    worst_tenth_usd: float
    chance_of_loss: float
    break_even_events: float | None
    loss_above: bool | None
    loss_until_events: float | None = None


@dataclass(frozen=True)
class PricedContract:
    """What the contract as it stands brings in an expected season, and what is left of that after cost and
    overhead; `profit_margin` is a share of revenue, None where there is no revenue."""

    form: str
    revenue_usd: float
    profit_usd: float
    profit_margin: float | None


@dataclass(frozen=True)
class SiteBid:
    """A site's part of the bid. `price_usd` is what an expected season has to bring in whatever the form;
    `safe_season_usd` the least seasonal sum with no more than the accepted chance of a loss."""

    site: str
    cost: SiteCost
    price_usd: float
    prices: tuple[FormPrice, ...]
    risks: tuple[Risk, ...]
    safe_season_usd: float
    contract: PricedContract | None


@dataclass(frozen=True)
class CostSpread:
    """Cost of the whole list over the simulated seasons: mean, standard deviation, mean of the dearest tenth
    [USD]."""

    mean_usd: float
    sd_usd: float
    worst_tenth_usd: float


@dataclass(frozen=True)
class ListBid:
    """The same for the whole list, the spread of its cost, and the expected time paid for and billed."""

    cost: SiteCost
    price_usd: float
    risks: tuple[Risk, ...]
    safe_season_usd: float
    contract: PricedContract | None
    spread: CostSpread
    paid_min: float
    billable_min: float


@dataclass(frozen=True)
class Simulation:
    """How the seasons were drawn: how many, from which seed, from how many past winters (0 = none, each class
    a Poisson number), and which chance of a loss was accepted."""

    seasons: int
    seed: int
    past_winters: int
    chance_of_loss: float


@dataclass(frozen=True)
class Bid:
    """Everything a bid sheet says."""

    sites: tuple[SiteBid, ...]
    whole: ListBid
    simulation: Simulation


@dataclass(frozen=True)
class Marginal:
    """What the fleet would save in an expected season if it did not have a site [USD].

    `share_usd` is the site's share of the plan's cost, `most_usd` at most what the best plan could save (None
    where not known). `saved_usd` is what a plan found without it saves, None where none was sought.
    """

    site: str
    share_usd: float
    most_usd: float | None
    saved_usd: float | None

"""Why a plan is as it is: what binds each loop, who is the next best, from which price an item would
enter."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.loop_times import Limit
from optibuild.records.plan import Proof
from optibuild.records.provenance import OfPlan

Standing = Literal["below", "now", "not for nothing", "no fitting build", "owned", "none to be had",
                   "no price", "not settled"]
"""How an item that a plan does not use stands: it would enter the relaxation below a price; it is in use
there at its price as it is; it would not enter it even for nothing; it is in no build that fits; there are
owned ones, left idle, so that no price keeps it out; none can be had; its price costs nothing a year; or
time ran out before it was known."""
WhyNoOne = Literal["does nothing else", "the rest of its loop", "budget", "drivers", "items",
                   "several limits", "no build"]
"""Why nobody else can make a stop: its truck does nothing else; without it the rest of its loop breaks a
limit; or a truck of its own is kept out by what is left of budget, drivers or items, by several of these, or
there is no build for it."""
BetterIn = Literal["cost", "cost and value left out", "profit", "contract value"]
"""In what a plan is better by its question."""


@dataclass(frozen=True)
class LoopReason:
    """What keeps one truck's loop as it is.

    `limit` is the one of which the least share is left, with what is `left` of it (in `unit`: min, or kg of
    material in the hopper) and the `site` where that is (of a deadline or the fill). `room_for` is the site
    that another truck serves and that this one could take at the least extra cost, `room_usd` a season: the
    loop has room, and cost keeps the site out. It is None where no stop of another truck has room.
    """

    truck_no: int
    build: str
    limit: Limit
    left: float
    unit: Literal["min", "kg"]
    site: str | None
    room_for: str | None
    room_usd: float | None


@dataclass(frozen=True)
class NextBest:
    """Who else could make the stops of a site that one truck makes, at the least extra cost a season.

    `next_truck_no` is another truck of the plan, all orders of stops kept; None where none can take them:
    then `own_build` would, as a truck of their own. Both are None, and `extra_usd` too, where that is not
    possible either, or where the truck has no other stops and stays as it is: `no_one` says why.
    """

    site: str
    truck_no: int
    work: str
    parcels: int
    next_truck_no: int | None
    own_build: str | None
    extra_usd: float | None
    no_one: WhyNoOne | None = None


@dataclass(frozen=True)
class EntryPrice:
    """From which price on an item that the plan does not use would enter the relaxation.

    `price_usd` is its price, or its rent a year where it is leased; its resale falls with it. `entry_usd` is
    the greatest price, up to its own, at which the relaxation would use it. That is no bound on the price at
    which a plan does: it may use the item at more, or only at less. None where `standing` is not "below" or
    "now".
    """

    item: str
    table: str
    price_usd: float
    leased: bool
    entry_usd: float | None
    standing: Standing


@dataclass(frozen=True)
class PriceTried:
    """The case solved again with one item at another price: whether the plan uses the item, and its cost."""

    price_usd: float
    enters: bool
    cost_usd: float | None
    proof: Proof


@dataclass(frozen=True)
class Confirmed:
    """An item tried at prices, told from the highest down. A plan found uses it at `uses_at_usd` (None: at
    none tried), none does at `not_at_usd`, the least price above (None: it is used at its price as it is)."""

    item: str
    uses_at_usd: float | None
    not_at_usd: float | None
    tried: tuple[PriceTried, ...]


@dataclass(frozen=True)
class LimitTried:
    """The case solved again with a longer cycle limit for one site; None where no plan was found.

    `contract_value_usd` is that of the sites served; `site_value_usd` by how much more the site's contract
    pays (negative: less) with this limit, as one paid by the push does. `better_usd` is by how much the plan
    found is better than the one in hand by the question (negative: worse), in `better_in`: cover, its cost
    with the contract value left out; profit, contract value less cost; value, its contract value, or its cost
    where that is the same. `by_limit` says that no plan with the limit as it was can be so good, so that the
    limit alone makes it better.
    """

    limit_min: float
    cost_usd: float | None
    contract_value_usd: float | None
    site_value_usd: float | None
    better_in: BetterIn | None
    better_usd: float | None
    by_limit: bool
    proof: Proof


@dataclass(frozen=True)
class SiteLimit:
    """A site's cycle limit, None where it has none, and longer ones tried until a plan is better."""

    site: str
    now_min: float | None
    tried: tuple[LimitTried, ...]


@dataclass(frozen=True)
class Why:
    """Why a plan is as it is. `ended_early`: the user ended what was to be solved again; only what was solved
    before that is told."""

    of_plan: OfPlan
    loops: tuple[LoopReason, ...]
    sites: tuple[NextBest, ...]
    items: tuple[EntryPrice, ...]
    confirmed: tuple[Confirmed, ...]
    limits: tuple[SiteLimit, ...]
    ended_early: bool = False

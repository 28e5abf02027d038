"""Why a plan is as it is: what binds each loop, who is the next best, from which price an item would
enter."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.loop_times import Limit
from optibuild.records.plan import Proof

Standing = Literal["below", "now", "not for nothing", "no fitting build", "owned", "none to be had",
                   "no price", "not settled"]
"""How an item that a plan does not use stands: it would enter the relaxation below a price; it is in use
there at its price as it is; it would not even for nothing; it is in no build that fits; there are owned ones,
so that no price keeps it out; none can be had; its price costs nothing a year; or time ran out before it was
known."""


@dataclass(frozen=True)
class LoopReason:
    """What keeps one truck's loop as it is.

    `limit` is the one of which the least share is left, with what is `left` of it [`unit`: min, or kg of
    material in the hopper] and the `site` where that is (of a deadline or the fill). `room_for` is the site
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
    possible either, or where the truck has no other stops and stays as it is.
    """

    site: str
    truck_no: int
    work: str
    parcels: int
    next_truck_no: int | None
    own_build: str | None
    extra_usd: float | None


@dataclass(frozen=True)
class EntryPrice:
    """From which price on an item that the plan does not use would enter the relaxation.

    `price_usd` is its price, or its rent a year where it is leased; its resale falls with it. `entry_usd` is
    the greatest price at which the relaxation would use it: a bound, for entering the relaxation is not
    entering the plan. None where `standing` is not "below" or "now".
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
    """An item tried at falling prices until a plan uses it; the last one tried is the first confirmed."""

    item: str
    tried: tuple[PriceTried, ...]


@dataclass(frozen=True)
class LimitTried:
    """The case solved again with a longer cycle limit for one site.

    `saved_usd` is what the plan found costs less than the one in hand. `by_limit` says that no plan with the
    limit as it was can cost so little, so that the limit alone saves something.
    """

    limit_min: float
    cost_usd: float | None
    saved_usd: float | None
    by_limit: bool
    proof: Proof


@dataclass(frozen=True)
class SiteLimit:
    """A site's cycle limit, None where it has none, and longer ones tried until a plan costs less."""

    site: str
    now_min: float | None
    tried: tuple[LimitTried, ...]


@dataclass(frozen=True)
class Why:
    """Why a plan is as it is."""

    loops: tuple[LoopReason, ...]
    sites: tuple[NextBest, ...]
    items: tuple[EntryPrice, ...]
    confirmed: tuple[Confirmed, ...]
    limits: tuple[SiteLimit, ...]

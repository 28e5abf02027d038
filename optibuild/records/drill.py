"""A drill: what the rest of a fleet can still do without one of its trucks, which spare helps most, and what
a plan as it is withstands. Minutes, kilograms, US dollars."""

from dataclasses import dataclass

from optibuild.records.case import Work
from optibuild.records.provenance import OfPlan


@dataclass(frozen=True)
class LateStop:
    """A stop that comes late without the lost truck, and the truck that now makes it.

    `late_min` is by how much the loop takes longer than the stop's cycle limit, `limit_min` (None: it has
    none); `deadline_late_min` and `end_late_min` tell the same of its deadline and of the last round.
    """

    site: str
    work: Work
    parcels: int
    truck_no: int
    limit_min: float | None
    every_min: float
    late_min: float
    deadline_late_min: float
    end_late_min: float


@dataclass(frozen=True)
class PartlyServed:
    """A work of a site that is not wholly served though some of it is: `missing` of its `parcels`."""

    site: str
    work: Work
    missing: int
    parcels: int


@dataclass(frozen=True)
class Replanned:
    """A fleet planned again so that the fewest sites are left out and, of these plans, the least is late.

    A site is `not_served` where some of its works are missing; `partly` tells which, of sites with others
    done. Rounds are looked at up to `Drill.horizon_min`; those beyond might serve more.
    `late_min` sums the minutes late of the loops as driven over the sites; a part of a site counts by its
    share, and of deadline and last round the later one. `counted_min` is the same as the search counts it, in
    steps of `Drill.step_min`, and `bound_min` what it is at the least with no more sites left out (None where
    unknown). `proved`: no plan within the horizon leaves fewer sites out, and none with as many has less
    late, so counted.
    """

    late: tuple[LateStop, ...]
    not_served: tuple[str, ...]
    partly: tuple[PartlyServed, ...]
    late_min: float
    counted_min: float
    bound_min: float | None
    proved: bool


@dataclass(frozen=True)
class LostTruck:
    """One truck lost; those alike, with the same build at the same depot, give the same again."""

    truck_nos: tuple[int, ...]
    build: str
    left: Replanned


@dataclass(frozen=True)
class Spare:
    """A further truck of one of the plan's builds, and what is left late summed over every truck lost.

    `price_usd` and `annual_usd` are without a driver, None where an item that would have to be bought has no
    price; `can_be_had` is False where its items run out,
    `within_budget` where its price is more than the plan leaves of the budget. `proved`
    says that every plan behind it was proved.
    """

    build: str
    like_truck: int
    price_usd: float | None
    annual_usd: float | None
    can_be_had: bool
    within_budget: bool
    late_min: float
    not_served: int
    proved: bool


@dataclass(frozen=True)
class SpareTrucks:
    """How many spares go with the trucks that a plan requires, all of the build that helps most.

    `bid_usd` is what they add to the price of a season; with them it also recovers the capital of owned
    items, of which `annual_usd` knows nothing. The three sums are None where an item has no price.
    """

    share: float
    required: int
    count: int
    build: str
    price_usd: float | None
    annual_usd: float | None
    can_be_had: bool
    within_budget: bool
    bid_usd: float | None


@dataclass(frozen=True)
class BrokenPromise:
    """A promise that a plan does not keep in a changed case.

    `promise` is "cycle limit", "deadline", "end round", "front GAWR", "rear GAWR", "GVWR", "front tire
    capacity", "rear tire capacity", "min front share", "max front share", "min rear share" or "access:
    gross". `at` is the site, or the load state and crew. `over` and `limit` are in `unit` (min, kg, share).
    """

    promise: str
    truck_no: int
    at: str
    limit: float
    over: float
    unit: str


@dataclass(frozen=True)
class Endurance:
    """How much of one change a plan withstands with its loops as they are.

    `change` is "snowfall rate", "snow density", "travel speed" (slower) or "catalog weights". `holds` is the
    greatest change, a share in whole percent, at which every promise holds; `tried` the greatest looked at.
    `first` is what breaks one percent further (None where nothing does up to `tried`); `broken` is all that
    breaks at `step`, the worst first.
    """

    change: str
    holds: float
    tried: float
    first: BrokenPromise | None
    step: float
    broken: tuple[BrokenPromise, ...]


@dataclass(frozen=True)
class Drill:
    """Everything that `drill` says of a plan. Spares are told best first. `horizon_min` is the longest round
    looked at: a site that is not served is not served within it."""

    of_plan: OfPlan
    horizon_min: float
    step_min: float
    lost: tuple[LostTruck, ...]
    spares: tuple[Spare, ...]
    spare_trucks: SpareTrucks
    endurance: tuple[Endurance, ...]

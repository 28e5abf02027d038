"""A plan: field by field what plan.json holds. Lengths m, masses kg, times min, money USD."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.shortfall import Shortfall

Proof = Literal["proved best", "within the asked gap", "best found", "none"]
Stopped = Literal["proved", "gap reached", "time limit", "interrupted", "no plan exists"]
CheckKind = Literal["limit", "figure", "statement"]


@dataclass(frozen=True)
class PlannedCase:
    """The question a plan answers and the files it was made from (path to sha256); `variation` names the one
    of the case, where it is one."""

    name: str
    question: str
    given_as: str
    inputs: dict[str, str]
    variation: str | None = None


@dataclass(frozen=True)
class Outcome:
    """What is known of the plan (`proof`) and, apart from it, why the search ended (`stopped`).

    `asked_gap` is the gap at which the search was told to end.
    """

    proof: Proof
    stopped: Stopped
    objective_usd: float | None
    bound_usd: float | None
    gap: float | None
    cost_usd: float | None
    seconds: float
    asked_gap: float | None = None


@dataclass(frozen=True)
class PlannedItem:
    """How many of a catalog row are bought and how many owned ones are used."""

    id: str
    table: str
    bought: int
    owned_used: int
    price_usd: float
    annual_usd: float


@dataclass(frozen=True)
class PlannedBallast:
    """Ballast on one truck."""

    id: str
    count: int
    mass_kg: float


@dataclass(frozen=True)
class AxleLoads:
    """Axle loads of a build in one load state with one crew, and what is left to each rating."""

    state: str
    crew: str
    front_kg: float
    rear_kg: float
    gross_kg: float
    front_margin_kg: float
    rear_margin_kg: float
    gross_margin_kg: float


@dataclass(frozen=True)
class PlannedStop:
    """One visit, in the first round and, where the loop has one, in the end round.

    `arrive_min` and `leave_min` are None where only the end round comes here. `plow_min`, `deice_min` and
    `material_kg` are of whichever round does them; `deice_when` says which one spreads.
    """

    site: str
    parcels: int
    work: str
    arrive_min: float | None
    leave_min: float | None
    plow_min: float
    deice_min: float
    material_kg: float
    deadline_min: float | None
    reload_before: bool
    deice_when: Literal["each", "end"] | None = None
    end_arrive_min: float | None = None
    end_leave_min: float | None = None
    end_reload_before: bool | None = None


@dataclass(frozen=True)
class PlannedEndRound:
    """The last round of a storm, with all its works, and the time within which it must be over."""

    within_min: float
    duration_min: float
    drive_min: float
    reload_min: float
    distance_m: float
    reloads: int


@dataclass(frozen=True)
class PlannedLoop:
    """What one truck repeats through a storm; `end_round` where some of it is done in the last round only."""

    cycle_limit_min: float
    duration_min: float
    drive_min: float
    reload_min: float
    distance_m: float
    reloads: int
    stops: tuple[PlannedStop, ...]
    end_round: PlannedEndRound | None = None


@dataclass(frozen=True)
class MoneyByKind:
    """What a truck or a site costs a season; labor has the hire of hired trucks, wear that of attachments."""

    owning_usd: float
    labor_usd: float
    fuel_usd: float
    wear_usd: float
    material_usd: float

    @property
    def usd(self) -> float:
        """All kinds together."""
        return self.owning_usd + self.labor_usd + self.fuel_usd + self.wear_usd + self.material_usd


@dataclass(frozen=True)
class TruckSeason:
    """Hours and money of one truck over an expected season, owning apart; and all its money by kind.

    Trucks that use the same catalog row have its bought and its owned ones in equal parts.
    """

    hours: float
    usd: float
    by_kind: MoneyByKind


@dataclass(frozen=True)
class PlannedTruck:
    """One truck, what is mounted on it, and its loop.

    Where `retained_fill_kg` is above zero the ballast is taken out while the hopper holds more than that, and
    the loop spreads only what lies above it.
    """

    truck_no: int
    build: str
    truck: str
    plow: str | None
    spreader: str | None
    ballast: tuple[PlannedBallast, ...]
    depot: str
    rated_fill_kg: float
    retained_fill_kg: float
    axle_loads: tuple[AxleLoads, ...]
    loop: PlannedLoop
    season: TruckSeason


@dataclass(frozen=True)
class ServedWork:
    """Who does a work at a site and how often it comes round; a work of the end round does not."""

    work: str
    parcels: int
    truck_no: int
    cycle_limit_min: float | None
    revisit_min: float | None


@dataclass(frozen=True)
class SitePrice:
    """Prices of one site in the three plain contract forms."""

    push_usd: float | None
    event_usd: float | None
    season_usd: float


@dataclass(frozen=True)
class PlannedSite:
    """What a site gets and what it costs. `parcels` is the number of equal parts the site is divided into.

    `by_kind`: its cost by kind, None where it is left out.
    `marginal_most_usd`: without the site the best plan could cost at most so much less than this one; None
    where it is left out or the search proved nothing of the kind.
    """

    id: str
    served: bool
    parcels: int
    works: tuple[ServedWork, ...]
    cost_usd: float | None
    price: SitePrice | None
    marginal_most_usd: float | None = None
    by_kind: MoneyByKind | None = None


@dataclass(frozen=True)
class PlannedMoney:
    """The plan's money: what is paid once, and what a season costs by kind."""

    capital_usd: float
    budget_usd: float | None
    owning_usd: float
    labor_usd: float
    fuel_usd: float
    wear_usd: float
    material_usd: float
    season_usd: float
    contract_value_usd: float


@dataclass(frozen=True)
class Check:
    """One kind of promise: kept or not, and its worst margin (negative = broken).

    The margin is what is left to a limit; minus how far a figure lies from the one worked out again; or 0 for
    a statement that is true, -1 for one that is not.
    """

    name: str
    kind: CheckKind
    passed: bool
    worst: float | None
    unit: str
    where: str | None


@dataclass(frozen=True)
class Recheck:
    """The independent second computation of every promise."""

    passed: bool
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class UsedAssumption:
    """A default figure the plan rests on: its `value` in `unit`."""

    name: str
    value: float
    unit: str
    source: str
    overridden: bool


@dataclass(frozen=True)
class Plan:
    """Everything plan.json holds. `version` is that of this program, `solver` has those of the libraries that
    it searches with, by name."""

    format: str
    version: str
    case: PlannedCase
    outcome: Outcome
    items: tuple[PlannedItem, ...]
    trucks: tuple[PlannedTruck, ...]
    sites: tuple[PlannedSite, ...]
    money: PlannedMoney | None
    shortfall: Shortfall | None
    recheck: Recheck | None
    assumptions: tuple[UsedAssumption, ...]
    cautions: tuple[str, ...]
    solver: dict[str, str]

"""A case: one question, with everything that is needed to answer it. Inner units as in `catalog`."""

from dataclasses import dataclass
from math import inf
from typing import Literal

from optibuild.records.catalog import Ballast, Depot, Item, Material, Mount, Plow, Spreader, Truck
from optibuild.records.contracts import BidSettings, Contract, Winter

Work = Literal["plow", "deice", "both"]


@dataclass(frozen=True)
class Site:
    """A contracted place: where it is, how it is laid out, what was promised there."""

    id: str
    name: str
    lat_deg: float
    lon_deg: float
    area_m2: float
    pass_length_m: float
    clear_width_m: float
    snow_goes: Literal["side", "end"]
    work: Work
    plow_every_min: float | None
    deice_every_min: float | None
    deice_when: Literal["each", "end"]
    end_within_min: float
    split_works: bool
    deadline_min: float
    trigger_m: float
    deice_rate_kg_per_m2: float | None
    stop_time_min: float
    timed_min: float | None
    timed_truck: str | None
    timed_plow: str | None
    timed_depth_m: float | None
    most_gross_kg: float
    most_width_m: float
    most_turning_circle_m: float
    parcels: int | None
    must_serve: bool
    pay_by: Literal["season", "event", "push"] | None
    pay_usd: float

    @property
    def plowed(self) -> bool:
        """Whether plowing is contracted."""
        return self.work in ("plow", "both")

    @property
    def deiced(self) -> bool:
        """Whether deicing is contracted."""
        return self.work in ("deice", "both")

    @property
    def deiced_each(self) -> bool:
        """Whether it is deiced in every round."""
        return self.deiced and self.deice_when == "each"

    @property
    def deiced_at_end(self) -> bool:
        """Whether it is deiced once, in the last round of a storm."""
        return self.deiced and self.deice_when == "end"

    @property
    def cycle_limits_min(self) -> tuple[float, ...]:
        """The cycle limits of the works that are done in every round [min]; none where all are done at the
        end."""
        asked = (self.plow_every_min if self.plowed else None,
                 self.deice_every_min if self.deiced_each else None)
        return tuple(limit for limit in asked if limit is not None)

    @property
    def cycle_limit_min(self) -> float:
        """The tightest of them; where there is none, the time within which the end round is over [min]."""
        return min(self.cycle_limits_min, default=self.end_within_min)


@dataclass(frozen=True)
class Event:
    """One class of winter event: how many a season, how long, how deep, how cold."""

    id: str
    count: float
    duration_min: float
    snowfall_m: float
    pavement_degc: float


@dataclass(frozen=True)
class Leg:
    """One row of the travel table: from one place to another; its time is None where there is no way."""

    origin: str
    destination: str
    time_min: float | None
    distance_m: float | None
    passable: bool = True


@dataclass(frozen=True)
class Timing:
    """One plowing of a whole site that somebody timed, without arriving and looking."""

    site: str
    truck: str
    plow: str
    depth_m: float
    time_min: float


@dataclass(frozen=True)
class Storm:
    """The design storm in which the promises hold."""

    snowfall_rate_m_per_min: float
    snow_density_kg_per_m3: float
    pavement_degc: float
    travel_speed_m_per_min: float
    slowdown: float = 0.0
    fit_circuity: bool = False


@dataclass(frozen=True)
class Money:
    """Prices of labor, fuel and capital, and how a bid is made of them.

    `standby` is the share of the wage paid for hours of an event not worked, `overtime` what is paid on top
    of it for hours on duty beyond `overtime_after_min`.
    """

    budget_usd: float
    wage_usd_per_min: float
    burden: float
    paid: Literal["working", "storm"]
    cleanup_round: bool
    fuel_usd_per_l: tuple[tuple[str, float], ...]
    road_wear_usd_per_m: float
    interest: float
    overhead: float
    profit_margin: float
    standby: float = 0.0
    overtime_after_min: float = inf
    overtime: float = 0.5

    def fuel_price(self, fuel: str) -> float:
        """Price of a fuel [USD/L]; KeyError for one that has none."""
        return dict(self.fuel_usd_per_l)[fuel]


@dataclass(frozen=True)
class Crew:
    """Who rides, how many may drive, and the longest that one driver does."""

    occupants: int = 1
    drivers: float = inf
    start_minutes_min: float = 30.0
    shift_min: float = inf


@dataclass(frozen=True)
class FitLimits:
    """The user's own limits on axle shares and the reserve kept on every axle."""

    min_front_share: float = 0.20
    max_front_share: float | None = None
    front_share_of: Literal["gross", "curb"] = "gross"
    min_rear_share: float | None = None
    axle_reserve_kg: float = 0.0


@dataclass(frozen=True)
class SolveSettings:
    """How long and how far to search."""

    gap: float = 0.005
    time_limit_s: float = 120.0
    seed: int = 1
    reserve_min: float = 0.0


@dataclass(frozen=True)
class Assumptions:
    """Every default figure in inner units; its meaning and where it comes from: `optibuild.assumptions`."""

    occupant_mass_kg: float
    least_useful_fill_kg: float
    catalog_uncertainty: float
    plow_speed_m_per_min: float
    reverse_speed_m_per_min: float
    turning_speed_m_per_min: float
    spreading_speed_m_per_min: float
    direction_change_min: float
    overlap_m: float
    job_efficiency: float
    spreading_efficiency: float
    tau_step_min: float
    most_parcels: int
    least_depth_m: float
    settled_density_kg_per_m3: float
    mu_snow: float
    rolling: float
    sliding: float
    circuity: float
    spare_share: float = 0.20
    overridden: tuple[str, ...] = ()


@dataclass(frozen=True)
class Case:
    """Everything one question needs; ids are text as typed."""

    name: str
    question: Literal["cover", "value", "profit"]
    units: Literal["us", "si"]
    given_as: str
    trucks: tuple[Truck, ...]
    plows: tuple[Plow, ...]
    spreaders: tuple[Spreader, ...]
    ballast: tuple[Ballast, ...]
    materials: tuple[Material, ...]
    depots: tuple[Depot, ...]
    sites: tuple[Site, ...]
    season: tuple[Event, ...]
    travel: tuple[Leg, ...]
    storm: Storm
    money: Money
    crew: Crew
    fit: FitLimits
    solve: SolveSettings
    assumptions: Assumptions
    inputs: tuple[tuple[str, str], ...] = ()
    mounts: tuple[Mount, ...] = ()
    timings: tuple[Timing, ...] = ()
    past_winters: tuple[Winter, ...] = ()
    contracts: tuple[Contract, ...] = ()
    bid: BidSettings = BidSettings()

    @property
    def items(self) -> tuple[Item, ...]:
        """Trucks, plows, spreaders and ballast in catalog order: the item axis of every array."""
        return (*self.trucks, *self.plows, *self.spreaders, *self.ballast)

    def material(self, spreader: Spreader) -> Material:
        """The material a spreader holds."""
        return next(row for row in self.materials if row.id == spreader.material)

    def capacity_kg(self, spreader: Spreader) -> float:
        """What a spreader holds [kg]: volume x bulk density of its material."""
        return spreader.volume_m3 * self.material(spreader).bulk_density_kg_per_m3

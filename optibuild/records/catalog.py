"""What can be bought, or is already owned: one record a catalog row.

Inner units: kg, m, min, USD, radians, liters of fuel. Places on the truck are meters from the named
datum, positive toward the rear.
"""

from dataclasses import dataclass
from math import inf
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class Ownership:
    """What every item has: how it is paid for and kept, how many there are, how it wears out, how its worth
    falls.

    `snow_share` is the share of its owning that is charged to this work. `owned` ones are at hand,
    `available` ones can be bought. It lasts until `life_year` or `worked_life_min` is over, at
    `worked_min_per_year` of work. `loan_rate` is a share a year; None where there is no loan, or no lease.
    `value_falls`: along a line from price to resale, or by one share of what is left every year; None where
    nothing is said.
    """

    price_usd: float
    life_year: float
    resale_usd: float = 0.0
    upkeep_usd_per_year: float = 0.0
    snow_share: float = 1.0
    owned: int = 0
    available: float = inf
    owned_value_usd: float | None = 0.0
    remaining_life_year: float = 0.0
    worked_life_min: float = inf
    worked_min_per_year: float = 0.0
    value_falls: Literal["straight", "declining"] | None = None
    loan_rate: float | None = None
    loan_term_year: float | None = None
    loan_down: float = 0.0
    lease_usd_per_year: float | None = None


@dataclass(frozen=True)
class Truck(Ownership):
    """A truck as on its certification label, on the scale and under the tape.

    `hired_usd_per_min` is the rate of one that comes with its driver; None for one to be bought or leased.
    """

    id: str
    description: str
    size: str
    gvwr_kg: float
    gawr_front_kg: float
    gawr_rear_kg: float
    curb_front_kg: float
    curb_rear_kg: float
    wheelbase_m: float
    front_axle_to_bumper_m: float
    rear_axle_to_bed_end_m: float
    bed_length_m: float
    seat_m: float
    seats: int
    width_m: float
    track_m: float
    steer_angle_rad: float
    turning_circle_m: float | None
    drive: Literal["all", "rear"]
    plow_allowed: bool
    tire_capacity_front_kg: float
    tire_capacity_rear_kg: float
    fuel: str
    city_l_per_m: float
    highway_l_per_m: float
    work_fuel_l_per_min: float
    wear_usd_per_min: float
    insurance_usd_per_year: float = 0.0
    registration_usd_per_year: float = 0.0
    hired_usd_per_min: float | None = None

    @property
    def curb_kg(self) -> float:
        """Curb weight [kg]: both axles as weighed."""
        return self.curb_front_kg + self.curb_rear_kg


@dataclass(frozen=True)
class Plow(Ownership):
    """A plow: the mount stays on the truck, the blade comes off."""

    id: str
    description: str
    kind: str
    width_m: float
    height_m: float
    angle_rad: float
    blade_mass_kg: float
    mount_mass_kg: float
    center_ahead_m: float
    min_gvwr_kg: float
    wear_usd_per_min: float

    @property
    def mass_kg(self) -> float:
        """The whole plow [kg]: blade and mount."""
        return self.blade_mass_kg + self.mount_mass_kg


@dataclass(frozen=True)
class Spreader(Ownership):
    """A spreader and the one material it holds."""

    id: str
    description: str
    kind: str
    empty_mass_kg: float
    volume_m3: float
    center_m: float
    material_center_m: float
    spread_width_m: float
    discharge_kg_per_min: float
    material: str
    length_m: float | None
    min_gvwr_kg: float
    wear_usd_per_min: float


@dataclass(frozen=True)
class Ballast(Ownership):
    """A ballast kit: units of one mass at one place; removable ones may ride only while little is held."""

    id: str
    description: str
    unit_mass_kg: float
    center_m: float
    most_units: int
    removable: bool = False


Item = Truck | Plow | Spreader | Ballast


def price_is_blank(item: Item) -> bool:
    """Whether no price of a new one is given, as may be where none can be bought; the record then has 0."""
    hired = isinstance(item, Truck) and item.hired_usd_per_min is not None
    return not (item.price_usd or item.available or hired or item.lease_usd_per_year is not None
                or isinstance(item, Ballast))


def first_end_year(life_year: float, worked_life_min: float, worked_min_per_year: float) -> float:
    """Years that an item lasts [year]: its life, or the hours it can work at so many a year, whichever end
    first."""
    return min(life_year, worked_life_min / worked_min_per_year) if worked_min_per_year > 0 else life_year


@dataclass(frozen=True)
class Mount:
    """Whether a plow or spreader may be mounted on a truck: the word of a maker or of the user, by id."""

    truck: str
    attachment: str
    allowed: bool


@dataclass(frozen=True)
class Material:
    """What a spreader holds; `strength` is the dry deicer in it, as a share of its mass, and `waste` the
    share of what is bought that never reaches a site."""

    id: str
    bulk_density_kg_per_m3: float
    price_usd_per_kg: float
    strength: float = 1.0
    delivery_usd_per_kg: float = 0.0
    waste: float = 0.0


@dataclass(frozen=True)
class Depot:
    """Where trucks start, park and reload."""

    id: str
    lat_deg: float
    lon_deg: float
    reload_time_min: float
    reload_rate_kg_per_min: float

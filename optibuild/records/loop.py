"""What cycle_time and cost hand to the integer program, as arrays.

Axes: C crewed builds (a fitting build at a depot), K clocks (the cycle limits a loop may hold), S stops
(a site, a number of its parcels, a work), P places (depots first, then sites), E event classes, N sites.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optibuild.records.build import Bools, Floats, Ints
from optibuild.records.case import Work
from optibuild.records.shortfall import OutOfReach


@dataclass(frozen=True)
class Travel:
    """Minutes and meters between places [P, P], closed under shortest paths. Depots come first, then
    sites."""

    places: tuple[str, ...]
    minutes: Floats
    meters: Floats


@dataclass(frozen=True)
class Roundabout:
    """A given leg of the travel table that a way round beats, in minutes of the storm."""

    origin: str
    destination: str
    direct_min: float
    faster_min: float
    via: str


@dataclass(frozen=True)
class SeasonRounds:
    """How often a loop goes round and a site is plowed, in one event of each class.

    `rounds` [E, K]; `pushes` [E, K, N] and the snow depth that each push meets, `depth_m` [E, K, N];
    `count` [E] is the expected number of such events a season, `pay_factor` [E] what a paid minute of one
    costs over the plain wage: 1, and more where it holds overtime.
    """

    count: Floats
    rounds: Floats
    pushes: Floats
    depth_m: Floats
    pay_factor: Floats

    @cached_property
    def as_paid(self) -> "SeasonRounds":
        """The same with every event counted by what its minutes are paid; itself where all are paid alike."""
        if (self.pay_factor == 1.0).all():
            return self
        return replace(self, count=self.count * self.pay_factor, pay_factor=np.ones_like(self.pay_factor))


@dataclass(frozen=True)
class Stop:
    """One visit that a loop may make: `parcels` of a site, for one work."""

    site: int
    parcels: int
    work: Work


SLOWEST = ("strips", "turning", "carrying", "discharge", "spreading speed")
"""What may take most of the longer work of a stop: runs over the strips, turns, full blades pushed away; what
the spreader discharges, or its speed."""


@dataclass(frozen=True)
class ParcelFigures:
    """A work with its site cut into so many equal parcels: how many builds can do one of them alone, and the
    minutes of the fastest of these for one and for all, each parcel with its stop time (None for none)."""

    parcels: int
    builds: int
    one_min: float | None
    all_min: float | None


@dataclass(frozen=True)
class ParcelRow:
    """What more parcels change for one work of one site: now, and with twice as many."""

    site: str
    work: Work
    now: ParcelFigures
    twice: ParcelFigures


@dataclass(frozen=True)
class WorkingRate:
    """Area that a plow on its fastest truck works in an hour at each of D depths [D, m^2/h], with the snow
    `to_side` and `to_end`."""

    plow: str
    truck: str
    to_side: tuple[float, ...]
    to_end: tuple[float, ...]


@dataclass(frozen=True)
class EndTimes:
    """The last round of a storm, where some works wait for it: every stop with all its works.

    `minutes` [C, K, S] as in ServiceTimes, which then holds those of the rounds before; `material_kg` [S] of
    dry deicer. The end round of a loop is over within the least `limit_min` [S] of its stops (inf where a
    stop waits for nothing). `only` [S]: stops that no other round makes.
    """

    minutes: Floats
    material_kg: Floats
    limit_min: Floats
    only: Bools


@dataclass(frozen=True)
class ServiceTimes:
    """Minutes and material of every fitting build at every stop.

    `build` [C] indexes Builds, `depot` [C] indexes the case's depots. `clocks_min` [K] ascending.
    `minutes` [C, K, S] is the whole stop in the design storm (inf = impossible): arrive and look, plow,
    deice, and the minutes per mass of reloading what it uses. `plow_min`, `deice_min` [C, K, S] are its
    parts, whichever round does them. `material_kg` [S] is dry deicer, of which the build's material holds
    the share `strength` [C]. Where works wait for the last round, `minutes` and `material_kg` are those of
    the rounds before it and `end` has those of the last; else `end` is None.
    `slowest` [C, K, T], places in SLOWEST, is told of the T stops of one parcel, in order.
    `season_stop_min` [C, K, S]: all working minutes there over an expected season (plow, deice and stop
    time); `season_reload_min` [C, K, S]: minutes per mass; `season_material_kg` [K, S].
    `paid_stop_min` and `paid_reload_min` are the latter two with every event's minutes times its pay factor
    (hired trucks have none); the same arrays where all factors are 1.
    """

    build: Ints
    depot: Ints
    clocks_min: Floats
    stops: tuple[Stop, ...]
    parcels: Ints
    minutes: Floats
    plow_min: Floats
    deice_min: Floats
    material_kg: Floats
    strength: Floats
    season_stop_min: Floats
    season_reload_min: Floats
    season_material_kg: Floats
    paid_stop_min: Floats
    paid_reload_min: Floats
    travel: Travel
    slowest: Ints
    out_of_reach: tuple[OutOfReach, ...]
    end: EndTimes | None = None

    def possible(self) -> Bools:
        """Which stops a build can make within a clock, taken alone [C, K, S]."""
        return np.isfinite(self.minutes)


@dataclass(frozen=True)
class LoopCosts:
    """What a loop costs a season beside owning its items.

    What the program minimizes: `fixed_usd` [C] per loop; `drive_usd_per_min` and `drive_usd_per_m` [C, K]
    for one round's driving (and fixed reload minutes); `stop_usd` [C, K, S]. Where works wait for the last
    round, the drive money is that of the rounds before it, and `end_drive_usd_per_min`,
    `end_drive_usd_per_m` [C, K] that of the last; else these are 0. The rates they are made of, so that a
    plan's money can be split by kind: `labor_usd_per_min`, `work_fuel_usd_per_min`,
    `work_wear_usd_per_min`, `travel_fuel_usd_per_m`, `road_wear_usd_per_m`, `material_usd_per_kg` (of dry
    deicer) [C], and `season_rounds`, `end_rounds` [K], the expected rounds a season of either kind.
    `fixed_usd` is labor: what is paid whatever is worked, `fixed_paid_min` [C] by the clock; of minutes
    worked the share `paid_share` [C] is paid beside. Labor of a hired truck is its rate, for minutes worked.
    """

    fixed_usd: Floats
    drive_usd_per_min: Floats
    drive_usd_per_m: Floats
    stop_usd: Floats
    labor_usd_per_min: Floats
    work_fuel_usd_per_min: Floats
    work_wear_usd_per_min: Floats
    travel_fuel_usd_per_m: Floats
    road_wear_usd_per_m: Floats
    material_usd_per_kg: Floats
    season_rounds: Floats
    end_drive_usd_per_min: Floats
    end_drive_usd_per_m: Floats
    end_rounds: Floats
    fixed_paid_min: Floats
    paid_share: Floats


@dataclass(frozen=True)
class ChosenLoop:
    """One truck's loop as the program chose it: crewed build, clock, stops in order, reload before each.

    `end_reload_before` says the same of the round that ends a storm; it is empty where no work is done in
    that round alone. At a stop made only then `reload_before` is False.
    """

    crewed: int
    clock: int
    stops: tuple[int, ...]
    reload_before: tuple[bool, ...]
    end_reload_before: tuple[bool, ...]


@dataclass(frozen=True)
class Choice:
    """What the program chose: one loop a truck, the sites left out, items bought and owned ones used [I]."""

    loops: tuple[ChosenLoop, ...]
    missed: tuple[int, ...]
    bought: Ints
    owned_used: Ints

"""What cycle_time and cost hand to the integer program, as arrays.

Axes: C crewed builds (a fitting build at a depot), K clocks (the cycle limits a loop may hold), S stops
(a site, a number of its parcels, a work), P places (depots first, then sites), E event classes, N sites.
"""

from dataclasses import dataclass

import numpy as np

from optibuild.records.build import Bools, Floats, Ints
from optibuild.records.case import Work


@dataclass(frozen=True)
class Travel:
    """Minutes and metres between places, closed under shortest paths. Depots come first, then sites."""

    places: tuple[str, ...]
    minutes: Floats
    metres: Floats


@dataclass(frozen=True)
class SeasonRounds:
    """How often a loop goes round and a site is plowed, in one event of each class.

    `rounds` [E, K]; `pushes` [E, K, N] and the snow depth that each push meets, `depth_m` [E, K, N];
    `count` [E] is the expected number of such events a season.
    """

    count: Floats
    rounds: Floats
    pushes: Floats
    depth_m: Floats


@dataclass(frozen=True)
class Stop:
    """One visit that a loop may make: `parcels` of a site, for one work."""

    site: int
    parcels: int
    work: Work


@dataclass(frozen=True)
class OutOfReach:
    """A work that no build can do at a site, with the build that comes nearest and what stands in its way."""

    site: str
    work: Work
    reason: str
    nearest: str | None
    over_by: float | None
    unit: str | None


@dataclass(frozen=True)
class ServiceTimes:
    """Minutes and material of every fitting build at every stop.

    `build` [C] indexes Builds, `depot` [C] indexes the case's depots. `clocks_min` [K] ascending.
    `minutes` [C, K, S] is the whole stop in the design storm (inf = impossible): arrive and look, plow,
    deice, and the minutes per mass of reloading what it uses. `plow_min`, `deice_min` [C, K, S] are its
    parts. `material_kg` [S]. `season_plow_min` [C, K, S]: minutes of plowing over an expected season;
    `season_stop_min` [C, K, S]: all working minutes there (plow, deice and stop time);
    `season_reload_min` [C, K, S]: minutes per mass; `season_material_kg` [K, S].
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
    season_plow_min: Floats
    season_stop_min: Floats
    season_reload_min: Floats
    season_material_kg: Floats
    travel: Travel
    binds: tuple[str, ...]
    out_of_reach: tuple[OutOfReach, ...]

    def possible(self) -> Bools:
        """Which stops a build can make within a clock, taken alone [C, K, S]."""
        return np.isfinite(self.minutes)


@dataclass(frozen=True)
class LoopCosts:
    """What a loop costs a season beside owning its items.

    What the program minimises: `fixed_usd` [C] per loop; `drive_usd_per_min` and `drive_usd_per_m` [C, K]
    for one round's driving (and fixed reload minutes); `stop_usd` [C, K, S]. The rates they are made of,
    so that a plan's money can be split by kind: `labor_usd_per_min`, `work_fuel_usd_per_min`,
    `work_wear_usd_per_min`, `travel_fuel_usd_per_m`, `road_wear_usd_per_m`, `material_usd_per_kg` [C], and
    `season_rounds` [K], the expected rounds a season. `fixed_usd` is labor.
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


@dataclass(frozen=True)
class ChosenLoop:
    """One truck's loop as the program chose it: crewed build, clock, stops in order, reload before each."""

    crewed: int
    clock: int
    stops: tuple[int, ...]
    reload_before: tuple[bool, ...]


@dataclass(frozen=True)
class Choice:
    """What the program chose: one loop a truck, the sites left out, items bought and owned ones used [I]."""

    loops: tuple[ChosenLoop, ...]
    missed: tuple[int, ...]
    bought: Ints
    owned_used: Ints

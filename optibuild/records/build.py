"""What fit says of truck + plow + spreader + ballast combinations, as arrays over the builds."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optibuild.records.catalog import Item
from optibuild.records.plan import AxleLoads

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NONE = -1
"""Index of an attachment that is not there."""

LOAD_STATES = ("raised empty", "raised full", "off empty", "off full")
RETAINED_STATES = ("raised retained, ballast in", "raised retained, ballast out",
                   "off retained, ballast in", "off retained, ballast out")
"""Further states of a build whose ballast is taken out above the retained fill."""
CREWS = ("driver", "full")


def column(rows: Sequence[Item], field: str, none: float = 0.0) -> Floats:
    """One catalog column as an array [rows + 1], in inner units.

    The last entry, which the index NONE (-1) finds, is `none`: what a part that is not there counts as.
    """
    return np.array([*(getattr(row, field) for row in rows), none], dtype=np.float64)


@dataclass(frozen=True)
class Reason:
    """One rating a rejected build breaks: in which state, `load` against `limit`, by how much, in `unit` (kg,
    m, or a share of gross or curb weight)."""

    state: str
    crew: str
    rating: str
    load: float
    limit: float
    over: float
    unit: str


@dataclass(frozen=True)
class Builds:
    """Every evaluated build. All arrays have the builds as their first axis [B].

    `plow`, `spreader` and `kit` are indices into the case's tables, NONE where there is none; `units` is
    the number of ballast units of `kit`. `rated_fill_kg` is the most the hopper may hold. `retained_kg` is
    zero unless the ballast is taken out while the hopper holds more than that: then the hopper never goes
    below it without the ballast put back, and only what lies above it is spread. `worst_gross_kg` is the
    gross weight in the heaviest state a build has. `fits` is the verdict. `ids` holds the ids of the case's
    trucks, plows and spreaders, each ended by the sign for none, which NONE finds. Axle loads and words are
    worked out for the builds they are asked of (`fit.state_loads`, `fit.verdicts`).
    """

    ids: tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]
    truck: Ints
    plow: Ints
    spreader: Ints
    kit: Ints
    units: Ints
    ballast_kg: Floats
    rated_fill_kg: Floats
    retained_kg: Floats
    worst_gross_kg: Floats
    fits: Bools

    def __len__(self) -> int:
        return len(self.truck)

    @property
    def fitting(self) -> Ints:
        """Indices of the F builds that fit [F]."""
        return np.flatnonzero(self.fits)

    @property
    def usable_fill_kg(self) -> Floats:
        """What a build may spread between two reloads [B]."""
        return self.rated_fill_kg - self.retained_kg

    def name(self, index: int) -> str:
        """TRUCK+PLOW+SPREADER of one build."""
        parts = zip(self.ids, (self.truck, self.plow, self.spreader), strict=True)
        return "+".join(ids[column[index]] for ids, column in parts)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The names of all builds, made when first asked for."""
        return tuple(self.name(index) for index in range(len(self)))


@dataclass(frozen=True)
class Verdict:
    """What fit says of one build in words.

    `axle_loads` has a row for every load state and crew the build has, RETAINED_STATES among them; `binds`
    names the rating with the least margin in LOAD_STATES, or the first one that a rejected build breaks;
    `reasons` holds all that it breaks with the ballast tried, and is empty for a build that fits.
    """

    axle_loads: tuple[AxleLoads, ...]
    binds: str
    reasons: tuple[Reason, ...]
    flags: tuple[str, ...]


@dataclass(frozen=True)
class MomentLine:
    """One mass of a build: where it sits behind the front axle and what it puts on each axle."""

    item: str
    mass_kg: float
    place_m: float
    front_kg: float
    rear_kg: float

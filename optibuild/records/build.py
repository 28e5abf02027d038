"""What fit says of truck + plow + spreader + ballast combinations, as arrays over the builds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NONE = -1
"""Index of an attachment that is not there."""

LOAD_STATES = ("raised empty", "raised full", "off empty", "off full")
CREWS = ("driver", "full")


@dataclass(frozen=True)
class Reason:
    """One rating a rejected build breaks: in which state, by how much [kg, or share of gross]."""

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
    the number of ballast units of `kit`. Axle loads are [B, 4 load states, 2 crews] in kg, nan in a state
    the build does not have. `fits` is the verdict; `reasons` holds, for each rejected build, what it breaks
    with the ballast tried.
    """

    names: tuple[str, ...]
    truck: Ints
    plow: Ints
    spreader: Ints
    kit: Ints
    units: Ints
    ballast_kg: Floats
    rated_fill_kg: Floats
    front_kg: Floats
    rear_kg: Floats
    fits: Bools
    binds: tuple[str, ...]
    reasons: tuple[tuple[Reason, ...], ...]

    def __len__(self) -> int:
        return len(self.names)

    @property
    def fitting(self) -> Ints:
        """Indices of the builds that fit [F]."""
        return np.flatnonzero(self.fits)

    def worst_gross_kg(self) -> Floats:
        """Gross weight in the heaviest state a build has [B, kg]."""
        gross: Floats = np.nanmax(self.front_kg + self.rear_kg, axis=(1, 2))
        return gross


@dataclass(frozen=True)
class MomentLine:
    """One mass of a build: where it sits behind the front axle and what it puts on each axle."""

    item: str
    mass_kg: float
    place_m: float
    front_kg: float
    rear_kg: float

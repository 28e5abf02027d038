"""What fit says of single builds when asked: how far they are from another verdict, and what would help."""

from dataclasses import dataclass

from optibuild.records.build import MomentLine, Verdict


@dataclass(frozen=True)
class Sensitivity:
    """How far one build is from another verdict [kg, m].

    A margin is the least one to a rating of the label over all load states and crews, below zero where the
    rating is broken. A build that fits tells how much heavier its blade may get before it does not, a
    rejected one how much lighter it would have to be; the same for the hopper's center (with its material's)
    moved forward or rearward. None where there is no such part or no such change turns the verdict, and for
    the fill where ten more kilograms of blade turn it.
    """

    front_margin_kg: float
    rear_margin_kg: float
    gross_margin_kg: float
    blade_heavier_kg: float | None
    blade_lighter_kg: float | None
    hopper_forward_m: float | None
    hopper_rearward_m: float | None
    fill_lost_per_10_kg: float | None


@dataclass(frozen=True)
class EnoughBallast:
    """The fewest units of a kit that would make a build fit, whatever the kit's most_units says."""

    id: str
    units: int
    most_units: int


@dataclass(frozen=True)
class Replacement:
    """An attachment of the catalog with which a build would fit, with the ballast that goes with it.

    `fill_kg` is what may be spread between two reloads; None without a spreader.
    """

    id: str
    kit: str | None
    units: int
    fill_kg: float | None


@dataclass(frozen=True)
class NeededRating:
    """A rating [kg] that a build would need in its worst state, beside the one its truck has."""

    rating: str
    has_kg: float
    needs_kg: float


@dataclass(frozen=True)
class WouldFit:
    """What would make a rejected build fit, one thing at a time.

    `fill_kg` is the most that could be spread between two reloads if no fill were too small to be useful,
    None where the build does not pass even with its hopper empty; both fills are None without a spreader or
    where the makers or the tape forbid the build. `ratings` are all needed
    together, with the ballast that came nearest and the least useful fill aboard.
    """

    ballast: tuple[EnoughBallast, ...]
    plows: tuple[Replacement, ...]
    spreaders: tuple[Replacement, ...]
    fill_kg: float | None
    least_fill_kg: float | None
    ratings: tuple[NeededRating, ...]


@dataclass(frozen=True)
class MomentSheet:
    """The moments of one build in one load state with one crew, and what is heaviest there: front axle, rear
    axle or gross."""

    heaviest: tuple[str, ...]
    state: str
    crew: str
    lines: tuple[MomentLine, ...]


@dataclass(frozen=True)
class BuildDetails:
    """Everything that fit says of one build; `would_fit` is None for one that fits."""

    verdict: Verdict
    near_rating: bool
    moments: tuple[MomentSheet, ...]
    sensitivity: Sensitivity
    would_fit: WouldFit | None

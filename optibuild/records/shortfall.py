"""What is missing when no plan exists: works out of reach, money, drivers, and what would help."""

from dataclasses import dataclass

from optibuild.records.case import Work


@dataclass(frozen=True)
class Remedy:
    """One change that alone brings a work within reach of some build that fits.

    `change` is "snow to the side", "parcels", "cycle limit", "end round", "deadline", "gross", "width",
    "turning circle" (what the site would have to allow), "fill" (how much more a hopper would have to hold)
    or "blade width" (of the nearest build, at the same weight). `value` [`unit`] is the least that suffices:
    whole parcels, minutes and inches; None where there is nothing to count.
    """

    change: str
    value: float | None
    unit: str


@dataclass(frozen=True)
class OutOfReach:
    """A work that no build can do at a site, with the build that comes nearest and what stands in its way.

    `over_by` [`unit`] is by how much that build misses it; a fill is short of material, not of dry deicer.
    Nearest and amount are None where no build has the tools, or no way leads there and back.
    """

    site: str
    work: Work
    reason: str
    nearest: str | None
    over_by: float | None
    unit: str | None
    remedies: tuple[Remedy, ...] = ()


@dataclass(frozen=True)
class LeastBudget:
    """The smallest budget that covers everything, with its proven lower bound."""

    usd: float | None
    bound_usd: float
    proved: bool


@dataclass(frozen=True)
class Looser:
    """A change of one limit that would help."""

    what: str
    now: float
    needed: float
    unit: str


@dataclass(frozen=True)
class Shortfall:
    """What is missing when no plan exists."""

    unreachable: tuple[OutOfReach, ...]
    least_budget: LeastBudget | None
    leave_out: tuple[str, ...]
    looser: tuple[Looser, ...]

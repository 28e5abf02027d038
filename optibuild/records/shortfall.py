"""What is missing when no plan exists: works out of reach, money, drivers, and what would help."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.case import Work

Way = Literal["limits", "drivers", "items", "all cycle limits", "single cycle limits"]


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
    """The smallest budget that serves every site that must be served, with its proven lower bound, and the
    least season cost of doing so within that budget, with its own.

    Items and drivers are as the case has them, or raised to what the rows of the way "limits" say. The cost
    is None where the budget suffices or no plan was found; `confirmed` says that the case with this budget
    was solved, and its plan rechecked.
    """

    usd: float | None
    bound_usd: float
    proved: bool
    cost_usd: float | None = None
    cost_bound_usd: float | None = None
    cost_proved: bool = False
    confirmed: bool = False


@dataclass(frozen=True)
class Looser:
    """A limit that would have to be looser: from `now` to `needed`.

    All rows of one `way` belong together. `limits`: what is short whatever else is looser, together with the
    least budget. `drivers`, `items`: these alone would do instead. `all cycle limits`: one factor on those of
    all sites. `single cycle limits`: of the fewest sites. `of` names the item or the site. `confirmed` says
    that the case changed so was solved, and its plan rechecked; `not_enough` is the loosest value that was
    proved not to do, all else as the row says (None: none was).
    """

    what: str
    now: float
    needed: float
    unit: str
    confirmed: bool = False
    of: str | None = None
    not_enough: float | None = None
    way: Way = "limits"


@dataclass(frozen=True)
class LostValue:
    """Contract value of the sites to leave out, the least with its proven lower bound [USD a season].

    `counted_as_one` are those without contract value, which count 1 USD each; `confirmed` says that the case
    in which these sites may be left out was solved, and its plan rechecked.
    """

    usd: float
    bound_usd: float
    proved: bool
    counted_as_one: tuple[str, ...]
    confirmed: bool


@dataclass(frozen=True)
class Shortfall:
    """What is missing when no plan exists: works out of reach; else limits that are too tight and what would
    help. `leave_out` are sites of least contract value, of `lost_value`. At least `least_sites` sites would
    need a longer cycle limit, if nothing else changes (None: not known). `ended_early`: the user ended the
    search, so that more may be missing and other ways may exist."""

    unreachable: tuple[OutOfReach, ...]
    least_budget: LeastBudget | None
    leave_out: tuple[str, ...]
    looser: tuple[Looser, ...]
    lost_value: LostValue | None = None
    least_sites: int | None = None
    ended_early: bool = False

"""What one build does at one stop of a plan."""

from dataclasses import dataclass, replace
from math import ceil, floor

from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import PlannedStop, Site


@dataclass(frozen=True)
class Task:
    """One stop of one build at a clock: its share of the site and what is done there."""

    unit: Mounted
    site: Site
    share: float
    clock_min: float
    plows: bool
    deices: bool

    @property
    def area_m2(self) -> float:
        """The area it takes of its site [m^2]."""
        return self.site.area_m2 * self.share

    @property
    def deices_at_end(self) -> bool:
        """Whether its deicing waits for the last round of a storm."""
        return self.deices and self.site.deice_when == "end"


def task(unit: Mounted, stop: PlannedStop, site: Site, parcels: int) -> Task:
    """What a planned stop does, in whichever round: its parcels of the `parcels` equal parts of the site."""
    return Task(unit, site, stop.parcels / parcels, unit.planned.loop.cycle_limit_min,
                stop.work in ("plow", "both"), stop.work in ("deice", "both"))


def in_every_round(job: Task) -> Task | None:
    """What of a stop is done in the rounds before the last; None where there is nothing to come for."""
    if not job.deices_at_end:
        return job
    return replace(job, deices=False) if job.plows else None


def whole_up(value: float) -> int:
    """The `value` rounded up, noise aside, and at least 1."""
    return max(1, ceil(value - 1e-9))


def whole_down(value: float) -> int:
    """The `value` rounded down, noise aside."""
    return floor(value + 1e-9)

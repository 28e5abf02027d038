"""One loop by the clock: when it arrives and leaves in each kind of round, and which limit binds."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.shortfall import OutOfReach

Limit = Literal["cycle limit", "end round", "deadline", "fill"]


@dataclass(frozen=True)
class RoundTimes:
    """One kind of round of a loop, stop by stop; None at stops that it skips.

    `reloads` counts the one it ends with; `reload_min` are their fixed minutes (minutes by mass are part of
    the stops). `slack_min` is what is left of `within_min` beside the reserve, negative where it takes
    longer.
    """

    arrive_min: tuple[float | None, ...]
    leave_min: tuple[float | None, ...]
    reload_before: tuple[bool, ...]
    duration_min: float
    drive_min: float
    reload_min: float
    distance_m: float
    reloads: int
    within_min: float
    slack_min: float

    @property
    def in_time(self) -> bool:
        """Whether duration and reserve fit; equal is feasible."""
        return self.slack_min >= 0.0


@dataclass(frozen=True)
class Binding:
    """The limit of a loop of which the least share is left.

    `left` is in min, of the fill in kg of material; negative where the limit is broken. `at` is the position
    in the loop of the stop that has the deadline, or after which the hopper is emptiest.
    """

    limit: Limit
    left: float
    at: int | None = None


@dataclass(frozen=True)
class LoopTimes(RoundTimes):
    """A loop: the rounds that repeat, stop by stop in its order, and the last one.

    `stops` index ServiceTimes.stops. `end` is None where all rounds are alike.
    """

    stops: tuple[int, ...]
    binds: Binding
    end: RoundTimes | None


@dataclass(frozen=True)
class LoopReport:
    """The best loop of one build over whole sites.

    `build` indexes Builds, `crewed` and `clock` the axes C and K of ServiceTimes. No order of the stops of a
    `loop` that breaks a limit keeps all limits: then it is the shortest without some of them. Without a loop,
    `out_of_reach` tells which of the stops the build cannot make even alone.
    """

    build: int
    clock: int
    crewed: int | None
    loop: LoopTimes | None
    out_of_reach: tuple[OutOfReach, ...]

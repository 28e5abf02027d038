"""Many cases solved: what their searches begin with, and how far they are."""

from dataclasses import dataclass


@dataclass(frozen=True)
class NamedStop:
    """A stop by names: `parcels` of the parcels `of` a site. `end_reload_before` says what `reload_before`
    does of the last round; None where there is none of its own."""

    site: str
    work: str
    parcels: int
    of: int
    reload_before: bool
    end_reload_before: bool | None


@dataclass(frozen=True)
class NamedLoop:
    """A loop by names, which mean the same in every case that has them: what its build is made of, with
    `units` of the ballast kit and a `number` among those made of the same, and its cycle limit [min]."""

    truck: str
    plow: str | None
    spreader: str | None
    ballast: str | None
    units: int
    number: int
    depot: str
    cycle_limit_min: float
    stops: tuple[NamedStop, ...]


@dataclass(frozen=True)
class Start:
    """What a search begins with: the loops of a plan, and those `near` the best. In cases whose minutes have
    the same `digest` they keep every limit as they did."""

    digest: str
    loops: tuple[NamedLoop, ...]
    near: tuple[NamedLoop, ...]


@dataclass(frozen=True)
class SweepProgress:
    """How many of all cases are done, and for about how many seconds the rest takes; None: not known yet."""

    done: int
    total: int
    left_s: float | None

"""What a check is made of: one margin for each place where a promise is made."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite, nan

from optibuild.records import Check
from optibuild.records.plan import CheckKind

RATING_NOISE = 1e-9
SAME = 1e-6
MINUTE = 1e-6


@dataclass(frozen=True)
class Margin:
    """What is left of one promise (negative = broken), the `tolerance` of noise, where it was made, and of
    what kind it is: a limit that is kept, a figure that is the one found here, a statement that is true."""

    left: float
    tolerance: float
    where: str
    kind: CheckKind = "limit"

    @property
    def kept(self) -> bool:
        """Whether the promise holds; a margin that is no number never does."""
        return self.left >= -self.tolerance


def at_most(value: float, limit: float, where: str, tolerance: float | None = None) -> Margin:
    """`value` may not exceed `limit`, beyond noise of 1e-9 relative or the `tolerance` given."""
    noise = RATING_NOISE * abs(limit) if tolerance is None and isfinite(limit) else tolerance or 0.0
    return Margin(limit - value, noise, where)


def at_least(value: float, limit: float, where: str, tolerance: float | None = None) -> Margin:
    """`value` may not fall below `limit`; noise and `tolerance` as in `at_most`."""
    return at_most(-value, -limit, where, tolerance)


def same(stated: float | None, found: float | None, where: str, tolerance: float | None = None) -> Margin:
    """The figure `stated` by the plan is the one `found` here, to 1e-6 relative or the `tolerance` given."""
    if stated is None and found is None:
        return Margin(0.0, 0.0, where, "figure")
    if stated is None or found is None:
        return Margin(nan, 0.0, where, "figure")
    noise = SAME * max(1e-3, abs(found)) if tolerance is None else tolerance
    return Margin(-abs(stated - found), noise, where, "figure")


def claim(holds: bool, where: str) -> Margin:
    """A statement that is true or not: margin 0, or -1 where it is not."""
    return Margin(0.0 if holds else -1.0, 0.0, where, "statement")


def check(name: str, kind: CheckKind, unit: str, margins: Iterable[Margin]) -> Check:
    """One named check over all its margins: passed when each is kept, with the worst of them.

    The worst is one of the check's own kind, so that its margin tells what the kind says, unless something
    of another kind is broken.
    """
    rows = list(margins)
    broken = [row for row in rows if not row.kept]
    worst = min(broken or [row for row in rows if row.kind == kind], key=lambda row: row.left, default=None)
    if worst is None or (worst.kept and not isfinite(worst.left)):
        return Check(name, kind, True, None, unit, None)
    told = "" if worst.kind == "statement" else unit
    # Adding zero turns -0.0 into 0.0.
    return Check(name, kind, not broken, worst.left + 0.0 if isfinite(worst.left) else None, told,
                 worst.where)

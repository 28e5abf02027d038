"""What a check is made of: one margin for each place where a promise is made."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite, nan

from optibuild.records import Check

RATING_NOISE = 1e-9
SAME = 1e-6
MINUTE = 1e-6


@dataclass(frozen=True)
class Margin:
    """What is left of one promise (negative = broken), the noise allowed, and where it was made."""

    left: float
    slack: float
    where: str

    @property
    def kept(self) -> bool:
        """Whether the promise holds; a margin that is no number never does."""
        return self.left >= -self.slack


def at_most(value: float, limit: float, where: str, slack: float | None = None) -> Margin:
    """`value` may not exceed `limit`; noise of 1e-9 relative is let pass unless `slack` says otherwise."""
    noise = RATING_NOISE * abs(limit) if slack is None and isfinite(limit) else slack or 0.0
    return Margin(limit - value, noise, where)


def at_least(value: float, limit: float, where: str, slack: float | None = None) -> Margin:
    """`value` may not fall below `limit`; noise as in `at_most`."""
    return at_most(-value, -limit, where, slack)


def same(stated: float | None, found: float | None, where: str, slack: float | None = None) -> Margin:
    """A figure of the plan is the one found here, to 1e-6 relative unless `slack` says otherwise."""
    if stated is None and found is None:
        return Margin(0.0, 0.0, where)
    if stated is None or found is None:
        return Margin(nan, 0.0, where)
    return Margin(-abs(stated - found), SAME * max(1e-3, abs(found)) if slack is None else slack, where)


def claim(holds: bool, where: str) -> Margin:
    """A statement that is true or not: margin 0, or -1 where it is not."""
    return Margin(0.0 if holds else -1.0, 0.0, where)


def check(name: str, unit: str, margins: Iterable[Margin]) -> Check:
    """One named check over all its margins: passed when each is kept, with the worst of them."""
    rows = list(margins)
    broken = [row for row in rows if not row.kept]
    worst = min(broken or rows, key=lambda row: row.left, default=None)
    if worst is None or (worst.kept and not isfinite(worst.left)):
        return Check(name, True, None, unit, None)
    # Adding zero turns -0.0 into 0.0.
    return Check(name, not broken, worst.left + 0.0 if isfinite(worst.left) else None, unit, worst.where)

"""What searches along one axis prove together: plans hold wherever it is easier, bounds wherever it is
harder."""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import inf

from optibuild.records import Case, Plan
from optibuild.records.frontier import SAME_USD, FrontierKey


@dataclass(frozen=True)
class Axis:
    """Places `at` along the key, the harder ones less: USD, trucks, or minus the rate [m/min].

    `before` gives the place next to one on the harder side: steps are told no finer. `value` is the key's
    own, `case_at` the case with the key at a place.
    """

    key: FrontierKey
    before: Callable[[float], float]
    value: Callable[[float], float]
    case_at: Callable[[Case, float], Case]


@dataclass(frozen=True)
class Found:
    """A plan and the place `at` which it begins to hold."""

    at: float
    plan: Plan

    @property
    def worth_usd(self) -> float:
        """The contract value that it covers."""
        return self.plan.money.contract_value_usd if self.plan.money else 0.0


@dataclass(frozen=True)
class Rise:
    """A plan that covers more than any found where it is harder; up to the next one nothing covers more than
    `most_usd`. Its value is proved out of reach at `fails_at` (None: nowhere)."""

    found: Found
    most_usd: float
    fails_at: float | None


@dataclass
class Known:
    """Plans and bounds so far. A bound says that at its place and where it is harder no plan covers more
    (-inf: there is none); `asked` are places where a search for the most contract value was made."""

    axis: Axis
    offered_usd: float
    found: list[Found] = field(default_factory=list)
    bounds: list[tuple[float, float]] = field(default_factory=list)
    asked: list[float] = field(default_factory=list)

    def reached(self, at: float) -> Found | None:
        """The plan that covers most at a place."""
        there = [one for one in self.found if one.at <= at]
        return max(there, key=lambda one: (one.worth_usd, -one.at), default=None)

    def reached_usd(self, at: float) -> float:
        """What it covers; -inf where no plan is known."""
        best = self.reached(at)
        return best.worth_usd if best else -inf

    def most_usd(self, at: float) -> float:
        """What no plan at a place exceeds."""
        return min([self.offered_usd, *(usd for place, usd in self.bounds if place >= at)])

    def settled(self, at: float) -> bool:
        """Whether the plan known at a place covers the most."""
        return self.most_usd(at) <= self.reached_usd(at) + SAME_USD

    def cheapest(self, least_usd: float) -> Found | None:
        """The plan at the hardest place that covers so much."""
        enough = [one for one in self.found if one.worth_usd >= least_usd - SAME_USD]
        return min(enough, key=lambda one: one.at, default=None)

    def widest(self) -> tuple[float, float] | None:
        """The two neighbors, harder and easier, in units of the axis, between which most contract value is
        open; None where no place between is worth asking."""
        marks = sorted({*self.asked, *(one.at for one in self.found)})
        pairs = [(hard, easy) for hard, easy in zip(marks, marks[1:], strict=False) if self._open(hard, easy)]
        return max(pairs, key=lambda pair: self._width(*pair), default=None)

    def _open(self, hard: float, easy: float) -> bool:
        if self.axis.before(easy) <= hard or self._width(hard, easy) <= SAME_USD:
            return False
        return (self.reached_usd(easy) > self.reached_usd(hard) + SAME_USD
                or self.most_usd(easy) > self.most_usd(hard) + SAME_USD)

    def _width(self, hard: float, easy: float) -> float:
        least = self.reached_usd(hard)
        return self.most_usd(easy) - (least if least > -inf else -1.0)

    def rises(self) -> list[Rise]:
        """Every plan that covers more than those where it is harder, hardest first."""
        chain: list[Found] = []
        for one in sorted(self.found, key=lambda one: (one.at, -round(one.worth_usd, 2),
                                                       one.plan.recheck is None)):
            if not chain or one.worth_usd > chain[-1].worth_usd + SAME_USD:
                chain.append(one)
        ends = [*(self.axis.before(one.at) for one in chain[1:]), inf]
        return [Rise(one, max(one.worth_usd, self.most_usd(end)), self._fails_at(one))
                for one, end in zip(chain, ends, strict=False)]

    def _fails_at(self, one: Found) -> float | None:
        return max((at for at, usd in self.bounds if at < one.at and usd < one.worth_usd - SAME_USD),
                   default=None)

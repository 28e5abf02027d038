"""The most contract value against budget, drivers or snowfall rate: every step, from few searches.

Budget: from the least capital of the sites that must be served upward, each time the least capital that
covers more than is reached. Drivers and rate: the most contract value at both ends, then halfway between
neighbors that differ. What is not proved is told as a band between a plan and a bound, both of which hold
for more than the place they were found at.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from math import ceil, inf, sqrt
from typing import Literal

from optibuild.errors import StoppedWithoutPlan
from optibuild.pipeline import (
    LoopOutcome,
    LoopProblem,
    Progress,
    Stages,
    drivers_a_truck,
    planned_stages,
    unreachable,
)
from optibuild.records import Case, Plan
from optibuild.records.frontier import SAME_USD, Frontier, FrontierKey, FrontierStep
from optibuild.records.provenance import OfCase
from optibuild.what_if.band import Axis, Found, Known, Rise
from optibuild.what_if.searches import (
    SHARE,
    Enough,
    Searches,
    fewest_trucks,
    least_capital,
    most_value,
    plan_of,
)

Tell = Callable[[Progress], None] | None
Ended = Literal["all known", "most searches", "interrupted"]
CENT = 0.01
NOISE = 1e-6
FINER = 1.01
"""Snowfall rates are told apart where one is at least so many times the other."""
HEAVIEST = 4.0
"""Snowfall rates up to so many times the case's own are looked at."""
LIGHTEST = 0.01
"""None is looked at that is lighter than this share of the case's own."""
GLANCE = 0.2
"""Share of a search's time in which a plan that covers more for the same money is looked for."""
MUCH_USD = 1e12
"""A budget that buys everything, with which no build is left out for being dear."""


def frontier(case: Case, key: FrontierKey, most: int, progress: Tell = None) -> Frontier:
    """Every value of the key from which on more contract value can be covered, whatever the case's question;
    no steps where no plan exists.

    At most so many searches, each up to a quarter of the case's time limit; every step then takes one more
    for its least cost, and is rechecked. Ctrl-C ends it with what is known. Raises StoppedWithoutPlan where
    that is nothing, RecheckFailed where a plan does not keep its promises.
    """
    walk = _walk(case, key, Searches(most, progress))
    ended: Ended = "all known"
    try:
        with suppress(Enough):
            ended = "most searches"
            WALKS[key](walk)
            ended = "all known"
        walk.cost_steps()
    except KeyboardInterrupt:
        ended = "interrupted"
    known = walk.known
    if not known.found and known.most_usd(inf) > -inf:
        raise StoppedWithoutPlan("stopped before any plan was found; give it more time with solve.time_limit "
                                 "or more searches", ended == "interrupted")
    return Frontier(key, tuple(_step(walk, one) for one in known.rises()), known.offered_usd,
                    walk.searches.made, ended, walk.optional, OfCase(case.name, dict(case.inputs)),
                    *walk.looked)


# ---- one walk along a key


@dataclass
class Walk:
    """A case, the axis, and what is known along it, `looked` at from least to greatest. `base` are the stages
    of all places of budget and drivers; None for the rate, where each place has its own."""

    case: Case
    axis: Axis
    known: Known
    searches: Searches
    base: Stages | None
    looked: tuple[float | None, float | None] = (None, None)

    @property
    def optional(self) -> int:
        """How many sites may be left out."""
        return sum(not site.must_serve for site in self.case.sites)

    def stages_at(self, at: float) -> Stages:
        """The stages of the case at a place."""
        case = self.axis.case_at(self.case, at)
        if self.base is None:
            return planned_stages(case)
        limit = {"budget": "budget_usd", "drivers": "most_loops"}[self.axis.key]
        problem: LoopProblem = replace(self.base.problem, **{limit: at})  # type: ignore[arg-type]
        return replace(self.base, case=case, problem=problem)

    def value(self, at: float, share: float = SHARE, bound_at: float | None = None) -> None:
        """Ask for the most contract value at a place; its bound may be known to hold at an easier one,
        `bound_at`. What was found before a KeyboardInterrupt is kept."""
        made, holds = self.stages_at(at), at if bound_at is None else bound_at
        if unreachable(made.case, made.times):
            self.known.bounds.append((holds, -inf))
        else:
            start = self.known.reached(at) or self.known.cheapest(0.0)
            found = self.searches.ask(made, most_value(made.problem), start.plan if start else None, share)
            kept = self._keep(made, found, at)
            most = kept.worth_usd if kept and found.proof == "proved best" else -found.bound
            self.known.bounds.append((holds, -inf if found.stopped == "no plan exists" else most))
            _hand_on(found)
        self.known.asked += [at] if at < inf else []

    def spend(self, least_usd: float) -> Found | None:
        """Ask how far it takes, at the least, to cover so much contract value (0: what must be served); the
        plan. What was found before a KeyboardInterrupt is kept."""
        made = self.stages_at(inf)
        program = least_capital if self.axis.key == "budget" else fewest_trucks
        start = self.known.cheapest(least_usd)
        found = self.searches.ask(made, program(made.problem, least_usd), start.plan if start else None)
        kept = self._keep(made, found, inf)
        less_usd = least_usd - CENT if least_usd else -inf
        if found.stopped == "no plan exists":
            self.known.bounds.append((inf, less_usd))
        else:
            least = kept.at if kept and found.proof == "proved best" else _up(self.axis.key, found.bound)
            self.known.bounds += [(self.axis.before(least), less_usd)] if least > 0 else []
        _hand_on(found)
        return kept

    def _keep(self, made: Stages, found: LoopOutcome, at: float) -> Found | None:
        """The plan found, at the hardest place where it holds."""
        if found.objective is None:
            return None
        kept = self._found(at, plan_of(made, found))
        self.known.found.append(kept)
        return kept

    def _found(self, at: float, plan: Plan) -> Found:
        """A plan of the case at a place, which may hold where it is harder: its capital or trucks say."""
        if self.axis.key == "budget":
            at = _up("budget", plan.money.capital_usd if plan.money else 0.0)
        elif self.axis.key == "drivers":
            at = float(len(plan.trucks))
        return Found(at, plan)

    def halve(self, middle: Callable[[float, float], float]) -> None:
        """Ask at the `middle` of neighbors that differ, where most contract value is open first."""
        while (pair := self.known.widest()) is not None:
            self.value(middle(*pair))

    def cost_steps(self) -> None:
        """Give every step the plan of least cost that covers as much at its place."""
        for rise in self.known.rises():
            at = rise.found.at
            best = self.searches.least_cost(self.stages_at(at), rise.found.plan)
            self.known.found.append(self._found(at, best))


def _step(walk: Walk, rise: Rise) -> FrontierStep:
    plan, axis, at = rise.found.plan, walk.axis, rise.found.at
    return FrontierStep(
        axis.value(at), rise.found.worth_usd, rise.most_usd,
        None if rise.fails_at is None else axis.value(rise.fails_at),
        at == 0.0 or (rise.fails_at is not None and rise.fails_at >= axis.before(at)),
        plan.outcome.cost_usd if plan.recheck else None, plan.money.capital_usd if plan.money else 0.0,
        len(plan.trucks), plan.items, tuple(site.id for site in plan.sites if site.served),
        plan.recheck is not None)


def _hand_on(found: LoopOutcome) -> None:
    if found.stopped == "interrupted":
        raise KeyboardInterrupt


def _up(key: FrontierKey, at: float) -> float:
    """A place that can be typed: whole cents, or whole trucks; up."""
    return float(ceil(at - NOISE)) if key == "drivers" else round(ceil(at / CENT - NOISE) * CENT, 2)


def _walk(case: Case, key: FrontierKey, searches: Searches) -> Walk:
    case = replace(case, question="value")
    if key == "budget":
        # with no budget, builds cheap to buy would be left out beside those cheap to run
        case = replace(case, money=replace(case.money, budget_usd=MUCH_USD))
    base = planned_stages(case)
    axis = AXES[key](case)
    known = Known(axis, float(base.problem.worth.sum()))
    if key != "rate":
        return Walk(case, axis, known, searches, base)
    # were parcels cut anew at each rate, more might be covered in a heavier storm than in a lighter one
    parcels = base.times.parcels.tolist()
    sites = tuple(replace(site, parcels=n) for site, n in zip(case.sites, parcels, strict=True))
    return Walk(replace(case, sites=sites), axis, known, searches, None)


# ---- budget


def _budget_axis(case: Case) -> Axis:
    return Axis("budget", lambda at: round(at - CENT, 2), lambda at: at,
                lambda case, at: replace(case, money=replace(case.money, budget_usd=at)))


def _budget(walk: Walk) -> None:
    """From the least capital upward: the most value for it, then the least capital for more than that."""
    known, one = walk.known, walk.spend(0.0)
    if one is None or not walk.optional:
        return
    walk.value(inf)
    at = one.at
    while one is not None:
        at = max(at, one.at)
        if not known.settled(at):
            walk.value(at, GLANCE * SHARE)
        reached = known.reached_usd(at)
        if known.most_usd(inf) <= reached + SAME_USD:
            return
        one = walk.spend(reached + CENT)


# ---- drivers


def _drivers_axis(case: Case) -> Axis:
    each = drivers_a_truck(case)
    return Axis("drivers", lambda at: at - 1.0, lambda at: at * each,
                lambda case, at: replace(case, crew=replace(case.crew, drivers=at * each)))


def _drivers(walk: Walk) -> None:
    """The fewest trucks for what must be served, and for all that can be; then between them."""
    known, fewest = walk.known, walk.spend(0.0)
    if fewest is None or not walk.optional:
        return
    walk.value(inf)
    walk.spend(known.reached_usd(inf) - SAME_USD)
    if not known.settled(fewest.at):
        walk.value(fewest.at)
    walk.halve(lambda hard, easy: float((hard + easy) // 2))


# ---- snowfall rate


def _rate_axis(case: Case) -> Axis:
    return Axis("rate", lambda at: at * FINER, lambda at: -at,
                lambda case, at: replace(case, storm=replace(case.storm, snowfall_rate_m_per_min=-at)))


def _rate(walk: Walk) -> None:
    """The lightest storm and the heaviest looked at, the case's own; then between.

    Below the lightest nothing changes: no loop ever meets more than the least depth.
    """
    case = walk.case
    own = case.storm.snowfall_rate_m_per_min
    longest = max(max(site.cycle_limit_min, site.end_within_min) for site in case.sites)
    lightest = min(own, max(case.assumptions.least_depth_m / longest, LIGHTEST * own))
    walk.looked = lightest, HEAVIEST * own
    walk.value(-lightest, bound_at=inf)
    if not walk.known.found:
        return
    for rate in (HEAVIEST * own, own):
        if not walk.known.settled(-rate):
            walk.value(-rate)
    walk.halve(lambda hard, easy: -sqrt(hard * easy))


AXES = {"budget": _budget_axis, "drivers": _drivers_axis, "rate": _rate_axis}
WALKS = {"budget": _budget, "drivers": _drivers, "rate": _rate}

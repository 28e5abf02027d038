"""Longer cycle limits for one site, until a plan is better by the question."""

from dataclasses import dataclass

from optibuild.explain.asking import Tell, solved_again
from optibuild.explain.loosening import loosened
from optibuild.records import Case, LimitTried, Plan, SiteLimit
from optibuild.records.why import BetterIn
from optibuild.written import Written

TIMES_LONGER = 2.0
"""Limits are tried up to so many times the site's own."""
SAME_MIN, NOISE = 1e-6, 1e-6


def longer_limit(at: Written, name: str, progress: Tell = None) -> SiteLimit:
    """The smallest loosening of a site's cycle limit that lets a plan be better by the question, of the next
    clocks upward: the steps of the grid and the limits of other sites. Each is solved again from the plan in
    hand. KeyboardInterrupt where the user ended a search.

    Of a site with two cycle limits the tighter one is loosened, and the other where it is passed.
    """
    case = at.made.case
    n, site = next((n, site) for n, site in enumerate(case.sites) if site.id == name)
    if not site.cycle_limits_min:
        return SiteLimit(name, None, ())
    tried: list[LimitTried] = []
    for limit in next_limits(case, site.cycle_limit_min):
        tried.append(_tried(at, n, limit, progress))
        if (tried[-1].better_usd or 0.0) > 0.0:
            break
    return SiteLimit(name, site.cycle_limit_min, tuple(tried))


def next_limits(case: Case, now_min: float) -> list[float]:
    """The clocks above a cycle limit, up to twice of it, ascending [min]."""
    step, most = case.assumptions.tau_step_min, TIMES_LONGER * now_min
    asked = {limit for site in case.sites for limit in site.cycle_limits_min}
    grid = {step * n for n in range(1, int(most / step + SAME_MIN) + 1)}
    new = {clock for clock in grid if min(abs(clock - limit) for limit in asked) > SAME_MIN}
    return sorted(limit for limit in asked | new if now_min + SAME_MIN < limit <= most + SAME_MIN)


@dataclass(frozen=True)
class _Worth:
    """What a question looks at in a plan [USD]."""

    cost_usd: float
    value_usd: float
    left_out_usd: float


def _tried(at: Written, n: int, limit_min: float, progress: Tell) -> LimitTried:
    again = solved_again(loosened(at.made.case, {n: limit_min}), at.plan, progress)
    if again is None or again.plan.money is None:
        return LimitTried(limit_min, None, None, None, None, None, False, "none")
    plan, worth = again.plan, again.made.problem.worth
    now = _worth(at, plan)
    better_in, better = _better(at.made.case.question, _worth(at, at.plan), now)
    return LimitTried(limit_min, now.cost_usd, now.value_usd, float(worth[n] - at.made.problem.worth[n]),
                      better_in, better, _by_limit(at, now), plan.outcome.proof)


def _worth(at: Written, plan: Plan) -> _Worth:
    """What a plan is worth. What is left out counts as in the case as it is: a site left out that would pay
    by the push would be less of a loss with a longer limit, and nothing would be better."""
    money, cost = plan.money, plan.outcome.cost_usd
    assert money is not None and cost is not None
    left_out = sum(usd for usd, site in zip(at.made.problem.worth.tolist(), plan.sites, strict=True)
                   if not site.served)
    return _Worth(cost, money.contract_value_usd, left_out)


def _better(question: str, was: _Worth, now: _Worth) -> tuple[BetterIn, float]:
    """In what a plan is better by a question, and by how much [USD]; 0 where noise."""
    cheaper = was.cost_usd - now.cost_usd
    if question == "cover":
        regained = was.left_out_usd - now.left_out_usd
        named: BetterIn = "cost" if abs(regained) <= _noise(was.left_out_usd) else "cost and value left out"
        return named, _clear(cheaper + regained, was.cost_usd + was.left_out_usd)
    dearer = now.value_usd - was.value_usd
    if question == "profit":
        return "profit", _clear(cheaper + dearer, was.cost_usd)
    if _clear(dearer, was.value_usd):
        return "contract value", dearer
    return "cost", _clear(cheaper, was.cost_usd)


def _by_limit(at: Written, now: _Worth) -> bool:
    """Whether the plan in hand's bound, which holds for all plans with the limit as it is, is passed."""
    bound = at.plan.outcome.bound_usd
    reached = {"cover": now.cost_usd + now.left_out_usd, "value": -now.value_usd,
               "profit": now.cost_usd - now.value_usd}[at.made.case.question]
    return bound is not None and reached < bound - _noise(bound)


def _clear(usd: float, of_usd: float) -> float:
    return usd if abs(usd) > _noise(of_usd) else 0.0


def _noise(usd: float) -> float:
    return NOISE * max(1.0, abs(usd))

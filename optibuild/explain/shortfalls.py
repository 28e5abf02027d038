"""What is missing when no plan exists: which work no build can do, else which limits, and what would help."""

from collections.abc import Callable
from dataclasses import replace

from optibuild.explain.asking import NOISE
from optibuild.explain.leaving_out import least_left_out, surely_lost
from optibuild.explain.limits import drivers_instead, items_instead, limits_needed
from optibuild.explain.loosening import common_factor, single_limits
from optibuild.pipeline import Stages, planned_stages, unreachable
from optibuild.records import Case, Shortfall

Help = Callable[[Case, Stages, Shortfall], Shortfall]


def shortfall(case: Case, made: Stages | None = None) -> Shortfall:
    """Works of must-serve sites that no build can do; where there are none, what the limits would have to be,
    which sites to leave out, and what would help instead.

    `made` saves computing the stages again. The least budget is that of serving every must-serve site; it is
    None where no budget is given or none would be enough. Every search is limited in time; where the user
    ends one, what is known by then is returned.
    """
    made = made or planned_stages(case)
    found = Shortfall(unreachable(case, made.times), None, (), ())
    helps: tuple[Help, ...] = () if found.unreachable else (_limits, _left_out, _instead, _all_longer,
                                                        _single_longer)
    try:
        for more in helps:
            found = more(case, made, found)
            if more is _left_out and not shows_no_plan(case, found):
                break  # every site can be served, for all that is known
    except KeyboardInterrupt:
        return replace(found, ended_early=True)  # what is known by now
    return found


def shows_no_plan(case: Case, found: Shortfall) -> bool:
    """Whether a shortfall proves that no plan exists: a work out of reach, a limit too tight, value lost."""
    least = found.least_budget
    short = any(row.way == "limits" and row.not_enough is not None and row.not_enough >= row.now
                for row in found.looser)
    return bool(found.unreachable) or short or surely_lost(found.lost_value) or (
        least is not None and least.bound_usd > case.money.budget_usd * (1.0 + NOISE) + NOISE)


def _limits(case: Case, made: Stages, found: Shortfall) -> Shortfall:
    needed = limits_needed(case, made.problem)
    return replace(found, least_budget=needed.least_budget, looser=needed.looser)


def _left_out(case: Case, made: Stages, found: Shortfall) -> Shortfall:
    out, lost = least_left_out(case, made.problem)
    return replace(found, leave_out=out, lost_value=lost)


def _instead(case: Case, made: Stages, found: Shortfall) -> Shortfall:
    """Drivers or items alone, where they are not short anyway."""
    rows = found.looser
    if not any(row.what == "available" for row in rows):
        if not any(row.what == "drivers" for row in rows):
            rows += drivers_instead(case, made.problem)
        rows += items_instead(case, made.problem)
    return replace(found, looser=rows)


def _all_longer(case: Case, _: Stages, found: Shortfall) -> Shortfall:
    return replace(found, looser=(*found.looser, *common_factor(case)))


def _single_longer(case: Case, made: Stages, found: Shortfall) -> Shortfall:
    """Longer cycle limits of as few sites as possible, where those of all would do."""
    common = next((row.needed for row in found.looser if row.way == "all cycle limits"), None)
    if common is None:
        return found
    single, least = single_limits(case, made, common)
    return replace(found, looser=(*found.looser, *single), least_sites=least)

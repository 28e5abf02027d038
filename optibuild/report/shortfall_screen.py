"""What stands in the way where no plan exists, and what would help."""

from collections.abc import Callable
from math import ceil, floor

from optibuild.records import Case, LeastBudget, Looser, LostValue, Plan, Shortfall
from optibuild.records.catalog import price_is_blank
from optibuild.report.console import number, paragraph, usd
from optibuild.report.remedies import remedies
from optibuild.report.times_screen import away_words

NOTHING = ("Every site can be reached by some build, but not all of them with what there is. No single limit "
           "was found in the time given that would help: let a site be left out (must_serve = no).")
TOGETHER = "All of this is needed together."
INSTEAD = "What would do instead"
NO_LONGER = "No longer cycle limits were found, up to a day, that would do by themselves."
CONFIRMED = "Solved again so, and rechecked: a plan exists."
UNCONFIRMED = "Not confirmed by solving again."
ENDED = ("The search for what stands in the way and what would help was ended early: more may be missing, "
         "and other ways may exist.")
NOISE = 1e-6


Said = tuple[str, tuple[str, ...]]
"""A paragraph and the list under it, which may be empty."""


def shortfall_text(plan: Plan, case: Case) -> str:
    """What stands in the way and what would help, wrapped to the screen."""
    return "\n\n".join("\n".join([paragraph(text), *(paragraph(one, "  - ") for one in under)])
                       for text, under in shortfall_words(plan, case))


def shortfall_words(plan: Plan, case: Case) -> list[Said]:
    """Works out of reach with what would help; else limits that are too tight, and what would do instead."""
    found = plan.shortfall
    parts: list[Said] = [("No plan exists: not every site that must be served can be.", ())]
    if found:
        parts += [*_unreachable(found, case), *((text, ()) for text in _limits(found, case)),
                  *_instead(found, case)]
    if found and found.ended_early:
        parts.append((ENDED, ()))
    elif len(parts) == 1:
        parts.append((NOTHING, ()))
    return parts


def _unreachable(found: Shortfall, case: Case) -> list[Said]:
    return [(away_words(case, row), (*remedies(case, row), "Or let the site be left out: must_serve = no."))
            for row in found.unreachable]


def _of(found: Shortfall, way: str) -> list[Looser]:
    return [row for row in found.looser if row.way == way]


# ---- what is too tight


def _limits(found: Shortfall, case: Case) -> list[str]:
    """Budget, drivers and items that are short, with the cost of the plan that there is then."""
    rows = _of(found, "limits")
    told = [f"{_takes(row, case)}{_less(row)}" for row in rows]
    least = found.least_budget
    if least is not None and (short := _short_usd(least, case)) > 0:
        told.append(f"{_budget_words(least)}. The budget is {usd(case.money.budget_usd)}, short by "
                    f"{_enough(short) if least.proved else f'at least {_at_least(short)}'}."
                    f"{_cost_words(least)}")
    if not told:
        return []
    together = f"{TOGETHER} " if len(told) > 1 else ""
    sure = [row.confirmed for row in rows] or [least is not None and least.confirmed]
    return [*told, together + (CONFIRMED if all(sure) else UNCONFIRMED)]


def _takes(row: Looser, case: Case) -> str:
    if row.what == "available":
        blank = any(item.id == row.of and price_is_blank(item) for item in case.items)
        return (f"It takes {number(row.needed - row.now, 0)} more of {row.of}: available = "
                f"{number(row.needed, 0)} instead of {number(row.now, 0)}"
                f"{', and a price, which is blank' if blank else ''}.")
    needed = number(row.needed, 0)
    unit = row.unit.removesuffix("s") if needed == "1" else row.unit
    return f"It takes {needed} {unit}; the case allows {number(row.now, 0)}."


def _less(row: Looser) -> str:
    if row.not_enough is None:
        return " Fewer may do."
    if row.not_enough < row.needed - 1:
        return f" Proved: more than {number(row.not_enough, 0)}."
    return ""


def _short_usd(least: LeastBudget, case: Case) -> float:
    needed = least.usd if least.proved and least.usd is not None else least.bound_usd
    return needed - case.money.budget_usd


def _enough(value: float) -> str:
    """A sum that is enough, in whole dollars that are enough too."""
    return usd(ceil(value - NOISE))


def _at_least(value: float) -> str:
    """A lower bound in whole dollars that is one too."""
    return usd(floor(value + NOISE))


def _budget_words(found: LeastBudget) -> str:
    if found.usd is None:
        return f"It takes a budget of at least {_at_least(found.bound_usd)}"
    if found.proved:
        return f"The least budget that serves every site that must be served is {_enough(found.usd)}"
    return f"A budget of {_enough(found.usd)} is enough, and it takes at least {_at_least(found.bound_usd)}"


def _cost_words(found: LeastBudget) -> str:
    if found.cost_usd is None or found.cost_bound_usd is None:
        return ""
    bound = ("proved to be the least" if found.cost_proved
             else f"and no plan within it less than {_at_least(found.cost_bound_usd)}")
    return f" A plan within it costs {usd(found.cost_usd)} a season, {bound}."


# ---- what would do instead


def _instead(found: Shortfall, case: Case) -> list[Said]:
    """Every other way to a plan, one line each."""
    ways = [*_left_out(found.leave_out, found.lost_value), *_more(found, "drivers", case),
            *_more(found, "items", case), *_all_limits(found), *_single_limits(found)]
    if not ways:
        return []
    told: list[Said] = [(f"{INSTEAD}{', each by itself' if len(ways) > 1 else ''}:", tuple(ways))]
    return told if _of(found, "all cycle limits") or found.ended_early else [*told, (NO_LONGER, ())]


def _left_out(out: tuple[str, ...], lost: LostValue | None) -> list[str]:
    if lost is None:
        return []
    proved = "the least, proved" if lost.proved else f"proved: at least {_at_least(lost.bound_usd)}"
    what = f"{usd(lost.usd)} of contract value a season ({proved})."
    if set(out) <= set(lost.counted_as_one):
        what = f"none of them has pay, so that each counts 1 USD ({proved})."
    elif lost.counted_as_one:
        what += " A site without pay counts 1 USD."
    return [f"Leave out {_and(out)} (must_serve = no): {what} {_sure(lost.confirmed)}"]


def _more(found: Shortfall, way: str, case: Case) -> list[str]:
    rows = _of(found, way)
    if not rows:
        return []
    told = " ".join(_takes(row, case) + _less(row) for row in rows)
    return [f"More {way}, all else as it is. {told} {_sure(all(row.confirmed for row in rows))}"]


def _all_limits(found: Shortfall) -> list[str]:
    return [f"Make every cycle limit {number(row.needed, 2)} times as long{_not_times(row)}. "
            f"{_sure(row.confirmed)}" for row in _of(found, "all cycle limits")]


def _not_times(row: Looser) -> str:
    if row.not_enough is None:
        return " (less may do)"
    return f" ({number(row.not_enough, 2)} times is proved not to do)"


def _single_limits(found: Shortfall) -> list[str]:
    rows = _of(found, "single cycle limits")
    if not rows:
        return []
    told = _and([f"{row.of} at {_minutes(row.needed, ceil)} instead of {_minutes(row.now)}{_not_min(row)}"
                 for row in rows])
    least = found.least_sites
    fewest = "" if len(rows) == 1 else (
        ", the fewest sites on the grid of clocks" if least == len(rows) else " (fewer sites may do)")
    return [f"Make single cycle limits longer{fewest}: {told}. {_sure(all(row.confirmed for row in rows))}"]


def _not_min(row: Looser) -> str:
    if row.not_enough is None:
        return " (less may do)"
    return f" ({_minutes(row.not_enough, floor)} proved not to do)"


def _minutes(value: float, whole: Callable[[float], int] = round) -> str:
    """Minutes to a tenth, with `whole` rounded so that they still do, or still do not."""
    tenths = whole(round(10.0 * value, 6)) / 10.0
    return f"{number(tenths, 0 if tenths == round(tenths) else 1)} min"


def _sure(confirmed: bool) -> str:
    return CONFIRMED if confirmed else UNCONFIRMED


def _and(texts: list[str] | tuple[str, ...]) -> str:
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"

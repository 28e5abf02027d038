"""What stands in the way where no plan exists."""

from optibuild.records import Case, LeastBudget, Looser, Plan, Shortfall
from optibuild.report.console import number, paragraph, usd
from optibuild.report.remedies import remedies
from optibuild.report.times_screen import away_words

SCARCE = ("Every site can be reached by some build, but the items that can be had (owned, available) do not "
          "serve them all: raise `available`, or let a site be left out (must_serve = no).")


def shortfall_text(plan: Plan, case: Case) -> str:
    """Works out of reach with what would help; else the least budget and limits that are too tight."""
    found = plan.shortfall
    parts = [paragraph("No plan exists: not every site that must be served can be.")]
    if found:
        parts += [*_unreachable(found, case), *_budget(found.least_budget, case), *_looser(found)]
    if len(parts) == 1:
        parts.append(paragraph(SCARCE))
    return "\n\n".join(parts)


def _unreachable(found: Shortfall, case: Case) -> list[str]:
    told = []
    for row in found.unreachable:
        helps = (*remedies(case, row), "Or let the site be left out: must_serve = no.")
        lines = [paragraph(away_words(case, row)), *(paragraph(text, "  - ") for text in helps)]
        told.append("\n".join(lines))
    return told


def _budget(found: LeastBudget | None, case: Case) -> list[str]:
    if found is None:
        return []
    budget = case.money.budget_usd
    if found.usd is None:
        said = f"It takes a budget of at least {usd(found.bound_usd)}"
    elif found.proved:
        said = f"The least budget that serves every site that must be served is {usd(found.usd)}"
    else:
        said = f"A budget of {usd(found.usd)} is enough, and it takes at least {usd(found.bound_usd)}"
    short = (found.usd if found.proved and found.usd is not None else found.bound_usd) - budget
    return [paragraph(f"{said}. The budget is {usd(budget)}, short by {usd(short)}.")] if short > 0 else []


def _looser(found: Shortfall) -> list[str]:
    return [paragraph(f"It takes {_counted(row)}; the case allows {number(row.now, 0)}.")
            for row in found.looser]


def _counted(row: Looser) -> str:
    needed = number(row.needed, 0)
    return f"{needed} {row.unit.removesuffix('s') if needed == '1' else row.unit}"

"""The heading of a plan: its objective, agreed with what was proved, its default figures and cautions."""

from dataclasses import replace

from optibuild import cautions as texts
from optibuild.assumptions import ASSUMPTIONS
from optibuild.plan.assemble import Parts
from optibuild.records import Case, Outcome, PlannedTruck, UsedAssumption

COLDEST_SALT_DEGC = (5.0 - 32.0) * 5.0 / 9.0


def objective_usd(case: Case, parts: Parts, contract_value_usd: tuple[float, ...]) -> float:
    """What the case's question minimizes: cover, cost and the value of sites left out; value, minus contract
    value; profit, cost less contract value."""
    if case.question == "value":
        return -parts.money.contract_value_usd
    if case.question == "profit":
        return parts.cost_usd - parts.money.contract_value_usd
    optional = sum(value for value, site in zip(contract_value_usd, parts.sites, strict=True)
                   if not site.served)
    return parts.cost_usd + optional


def agreed(outcome: Outcome) -> Outcome:
    """The outcome with its bound not above the objective by rounding, and none where nothing is proved."""
    if outcome.objective_usd is None or outcome.gap is None or outcome.bound_usd is None:
        return replace(outcome, bound_usd=None, gap=None)
    return replace(outcome, bound_usd=min(outcome.bound_usd, outcome.objective_usd))


def no_plan(seconds: float) -> Outcome:
    """The outcome of a case that has no plan."""
    return Outcome("none", "no plan exists", None, None, None, None, seconds)


def cautions(case: Case, trucks: tuple[PlannedTruck, ...]) -> tuple[str, ...]:
    """The cautions of this plan, those that always hold first."""
    found = [*texts.PROVED, *texts.FIT, *texts.PLAN]
    if any(site.split_works for site in case.sites):
        found.append(texts.SPLIT)
    cold = [case.storm.pavement_degc, *(event.pavement_degc for event in case.season)]
    if any(truck.spreader for truck in trucks) and min(cold) <= COLDEST_SALT_DEGC + 1e-9:
        found.append(texts.COLD)
    tanks = {row.id for row in case.spreaders if row.kind == "tank"}
    if any(truck.spreader in tanks for truck in trucks):
        found.append(texts.SLOSHING)
    return tuple(found)


def used_assumptions(case: Case, fitted_circuity: float | None) -> tuple[UsedAssumption, ...]:
    """Every default figure in inner units, its source, and whether the user replaced it; the circuity is
    `fitted_circuity`, where it was fitted to the travel table."""
    used = tuple(UsedAssumption(row.name, float(getattr(case.assumptions, row.field)),
                                _inner_unit(row.field, row.name), row.source,
                                row.name in case.assumptions.overridden) for row in ASSUMPTIONS)
    if fitted_circuity is None:
        return used
    return tuple(replace(row, value=fitted_circuity, source="fitted to the travel table", overridden=True)
                 if row.name == "circuity" else row for row in used)


def _inner_unit(field: str, name: str) -> str:
    return field.removeprefix(name).removeprefix("_").replace("_per_", "/")

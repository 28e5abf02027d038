"""The stages in order. Reading this file tells the whole program; it places arrays and does no arithmetic."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from itertools import chain
from logging import getLogger
from math import inf, isfinite

import numpy as np

from optibuild import cost, cycle_time, fit, integer_program
from optibuild import plan as plans
from optibuild.cautions import FIT, SLOSHING
from optibuild.cycle_time import (
    calibrate,
    explain_stop,
    loop_report,
    parcel_report,
    roundabouts,
    sheet_clock_min,
    working_rates,
)
from optibuild.errors import RecheckFailed, StoppedWithoutPlan
from optibuild.fit import build_details, fit_builds, near_rating, verdicts
from optibuild.integer_program import (
    Column,
    EndRound,
    LoopOutcome,
    LoopProblem,
    Progress,
    first_columns,
    program_text,
)
from optibuild.plan import from_json, record_from_json, to_json
from optibuild.records import (
    Builds,
    Case,
    Choice,
    ChosenLoop,
    LoopCosts,
    Outcome,
    OutOfReach,
    Plan,
    PlannedCase,
    SeasonRounds,
    ServiceTimes,
    Shortfall,
)

__all__ = [
    "Answer", "Column", "LoopOutcome", "LoopProblem", "Progress", "Stages", "answer", "build_details",
    "calibrate", "drivers_a_truck", "earlier_loops", "explain_stop", "first_columns", "fit_builds",
    "fit_cautions", "from_json", "least_cost_at", "loop_report", "make_plan", "near_rating", "no_plan",
    "parcel_report", "place", "planned_stages", "program_text", "recheck", "record_from_json",
    "roundabouts", "sheet_clock_min", "solve", "staged", "stages", "to_json", "unreachable", "verdicts",
    "working_rates",
]

drivers_a_truck = cost.drivers_a_truck
recheck = plans.recheck
STAGES = getLogger("optibuild.stages")
"""What is told of each stage when it has ended, to whoever listens."""
NO_WAY_MIN = 1e7
"""What stands in the program for no way between two places: no loop lasts nineteen years."""


@dataclass(frozen=True)
class Stages:
    """What every stage before the program handed on, and the program itself."""

    case: Case
    builds: Builds
    rounds: SeasonRounds
    times: ServiceTimes
    costs: LoopCosts
    problem: LoopProblem


@dataclass(frozen=True)
class Answer:
    """A plan with the stages it came from; `found` is None where the program was not asked."""

    plan: Plan
    made: Stages
    found: LoopOutcome | None


def fit_cautions(case: Case, builds: Builds, rows: Sequence[int]) -> tuple[str, ...]:
    """The cautions that go with these builds."""
    return (*FIT, SLOSHING) if fit.holds_tank(case, builds, rows) else FIT


def stages(case: Case) -> Stages:
    """Fit, cycle time and cost of a case, placed into a LoopProblem."""
    return staged(case, _fitted(case))


def planned_stages(case: Case) -> Stages:
    """The same for a plan: where the minutes of all builds would be too many to hold at once, with the
    builds only that no other beats, found run by run."""
    builds = _fitted(case)
    parcels = cycle_time.site_parcels(case, builds)
    runs = cycle_time.portions(case, builds.fitting, parcels)
    kept = builds.fitting
    while len(runs) > 1:
        better = [_better(case, builds, run, parcels) for run in runs]
        before, kept = kept, np.sort(np.concatenate(better))
        runs = cycle_time.portions(case, kept, parcels) if kept.size < before.size else []
    return staged(case, builds, cycle_time.SomeBuilds(kept, parcels, True))


def _fitted(case: Case) -> Builds:
    builds = fit.fit_builds(case)
    STAGES.info("fit: %d builds, of which %d fit", len(builds), builds.fitting.size)
    return builds


def _better(case: Case, builds: Builds, run: np.ndarray, parcels: np.ndarray) -> np.ndarray:
    """The builds of a run that no other of it beats."""
    made = staged(case, builds, cycle_time.SomeBuilds(run, parcels, False))
    return np.unique(made.times.build[integer_program.worth_keeping(made.problem)])


def staged(case: Case, builds: Builds, some: cycle_time.SomeBuilds | None = None) -> Stages:
    """The stages after the fit, for all builds that fit or for `some` of them."""
    rounds = cost.season_rounds(case, cycle_time.clocks(case))
    times = cycle_time.service_times(case, builds, rounds, some)
    STAGES.info("minutes: %d builds at %d stops", len(times.build), len(times.stops))
    costs = cost.loop_costs(case, builds, times, rounds)
    STAGES.info("costs")
    return Stages(case, builds, rounds, times, costs, place(case, builds, times, costs))


def place(case: Case, builds: Builds, times: ServiceTimes, costs: LoopCosts) -> LoopProblem:
    """The arrays of the stages as a LoopProblem: one work row for each work a site asks, in parcels; sites
    are the groups; items are the case's items. The reserve kept in every loop comes off every cycle limit."""
    works = [(n, work) for n, site in enumerate(case.sites)
             for work in (("plow", "deice") if site.work == "both" and site.split_works else (site.work,))]
    row_of = {row: t for t, row in enumerate(works)}
    amount = np.zeros((len(times.stops), len(works)))
    for s, stop in enumerate(times.stops):
        for work in (stop.work,) if (stop.site, stop.work) in row_of else ("plow", "deice"):
            amount[s, row_of[stop.site, work]] = stop.parcels
    value = cost.contract_value_usd(case)
    must = np.array([site.must_serve for site in case.sites], dtype=bool)
    reserve = case.solve.reserve_min
    return LoopProblem(
        cycle_limit_min=times.clocks_min - reserve,
        minutes=times.minutes if times.end is None else np.where(times.end.only, 0.0, times.minutes),
        stop_limit_min=np.array([cycle_time.stop_limit_min(case.sites[stop.site], stop.work)
                                 for stop in times.stops]) - reserve,
        deadline_min=np.array([inf if only else case.sites[stop.site].deadline_min
                               for stop, only in zip(times.stops, _only_end(times), strict=True)]),
        place=np.array([len(case.depots) + stop.site for stop in times.stops], dtype=np.int64),
        amount=amount,
        need=np.array([float(times.parcels[n]) for n, _ in works]),
        travel_min=np.minimum(times.travel.minutes, NO_WAY_MIN),
        distance_m=np.where(np.isinf(times.travel.meters), 0.0, times.travel.meters),
        start=times.depot,
        end=times.depot,
        fixed_usd=costs.fixed_usd,
        drive_usd_per_min=costs.drive_usd_per_min,
        drive_usd_per_m=costs.drive_usd_per_m,
        stop_usd=costs.stop_usd,
        material_kg=times.material_kg,
        fill_kg=builds.usable_fill_kg[times.build] * times.strength,
        reload_min=np.array([case.depots[d].reload_time_min for d in times.depot]),
        may_reload=True,
        group=np.array([n for n, _ in works], dtype=np.int64),
        missed_usd=np.where(must, inf, value),
        uses=fit.item_uses(case, builds, times.build),
        price_usd=np.array([cost.paid_at_purchase_usd(item) for item in case.items]),
        annual_usd=np.array([cost.annual_usd(item, case.money) for item in case.items]),
        owned=np.array([float(item.owned) for item in case.items]),
        upkeep_usd=np.array([cost.upkeep_usd(item) for item in case.items]),
        available=np.array([float(item.available) for item in case.items]),
        budget_usd=case.money.budget_usd,
        most_loops=cost.most_trucks(case),
        constant_usd=-float(value.sum()) if case.question == "profit" else 0.0,
        worth=value,
        gap=case.solve.gap,
        time_limit_s=case.solve.time_limit_s,
        seed=case.solve.seed,
        end_round=None if times.end is None else EndRound(
            times.end.minutes, times.end.material_kg, times.end.limit_min - reserve, times.end.only,
            costs.end_drive_usd_per_min, costs.end_drive_usd_per_m),
    )


def _only_end(times: ServiceTimes) -> list[bool]:
    """Which stops the last round alone makes [S]."""
    return [False] * len(times.stops) if times.end is None else times.end.only.tolist()


def earlier_loops(made: Stages, earlier: Plan) -> tuple[tuple[ChosenLoop, ...], ...]:
    """For each truck of an earlier plan the loops that it may be in this case (none: no longer possible)."""
    return cycle_time.earlier_loops(made.case, made.builds, made.times, earlier)


def solve(case: Case, problem: LoopProblem, progress: Callable[[Progress], None] | None = None,
          known: Sequence[ChosenLoop] = (), near: Sequence[ChosenLoop] = ()) -> LoopOutcome:
    """Answer the case's question; the search begins with the loops of a plan and those `near` the best of a
    like case. `value` asks twice: for the least contract value left out, then for the least cost at that."""
    if case.question != "value":
        return integer_program.solve(problem, progress, measured(problem, known), measured(problem, near))
    free = replace(problem.without_money(), constant_usd=-float(problem.worth.sum()))
    first = integer_program.solve(free, progress, measured(free, known), measured(free, near))
    if first.objective is None:
        return first
    least = replace(least_cost_at(problem, first.missed),
                    time_limit_s=max(1.0, problem.time_limit_s - first.seconds))
    second = integer_program.solve(least, progress, measured(least, known), measured(least, near))
    best = second if second.objective is not None else first
    return replace(best, proof=first.proof, stopped=first.stopped, objective=first.objective,
                   bound=first.bound, gap=first.gap, seconds=first.seconds + second.seconds)


def measured(problem: LoopProblem, loops: Sequence[ChosenLoop]) -> list[Column]:
    """Loops as columns of a program: with its money, which differs from program to program."""
    return [integer_program.column(problem, one.crewed, one.clock, one.stops, one.reload_before,
                                   one.end_reload_before) for one in loops]


def least_cost_at(problem: LoopProblem, missed: tuple[int, ...]) -> LoopProblem:
    """The second program of the question `value`: least cost, at no more value left out than `missed`."""
    return replace(problem, missed_usd=np.where(np.isinf(problem.missed_usd), inf, 0.0),
                   most_missed_worth=float(problem.worth[list(missed)].sum()))


def make_plan(case: Case, progress: Callable[[Progress], None] | None = None,
              earlier: Plan | None = None) -> Plan:
    """The plan of a case, rechecked. The search begins with what is still possible of an `earlier` one.

    A case without a plan gives one with outcome "none" and the works out of reach in its shortfall. Raises
    StoppedWithoutPlan where the search ended with neither, RecheckFailed where a promise does not hold.
    """
    return answer(case, progress, lambda made: chain(*earlier_loops(made, earlier)) if earlier else ()).plan


def answer(case: Case, progress: Callable[[Progress], None] | None = None,
           begin: Callable[[Stages], Iterable[ChosenLoop]] | None = None,
           at_hand: Stages | None = None, near: Sequence[ChosenLoop] = ()) -> Answer:
    """The plan of a case as `make_plan` gives it, with what it was made from (which may be `at_hand`).
    `begin` is asked, right before the search, for the loops that it begins with; `near` as in `solve`."""
    made = at_hand or planned_stages(case)
    if unreachable(case, made.times):
        return Answer(no_plan(case, made, 0.0), made, None)
    known = tuple(begin(made)) if begin else ()
    if progress:
        progress(Progress(0, -inf, inf, 0.0))
    found = solve(case, made.problem, progress, known, near)
    STAGES.info("search: %s", found.proof)
    if found.objective is None:
        if found.stopped == "no plan exists":
            return Answer(no_plan(case, made, found.seconds), made, found)
        raise StoppedWithoutPlan(f"stopped ({found.stopped}) before any plan was found; "
                                 "give it more time with solve.time_limit", found.stopped == "interrupted")
    return Answer(_rechecked(case, made, found), made, found)


def _rechecked(case: Case, made: Stages, found: LoopOutcome) -> Plan:
    plan = assemble(made, found)
    checked = recheck(plan, case)
    STAGES.info("recheck: %d checks", len(checked.checks))
    if not checked.passed:
        broken = "; ".join(f"{row.name} ({row.where})" for row in checked.checks if not row.passed)
        raise RecheckFailed(f"the plan was not written: it fails its recheck: {broken}")
    return replace(plan, recheck=checked)


def assemble(made: Stages, found: LoopOutcome) -> Plan:
    """The program's answer as a plan."""
    case, times = made.case, made.times
    chosen = sorted((one for one, count in found.loops for _ in range(count)),
                    key=lambda one: (one.build, one.clock, one.stops))
    loops = tuple(ChosenLoop(one.build, one.clock, one.stops, one.reload_before, one.end_reload_before)
                  for one in chosen)
    driven = [cycle_time.drive_loop(case, made.builds, times, loop) for loop in loops]
    choice = Choice(loops, found.missed, np.rint(found.bought).astype(np.int64),
                    np.rint(found.owned_used).astype(np.int64))
    site_cost = cost.site_costs(case, made.builds, times, made.costs, choice, driven)
    value = tuple(float(usd) for usd in made.problem.worth)
    priced = plans.Priced(tuple(map(float, made.problem.price_usd)),
                          tuple(map(float, made.problem.annual_usd)),
                          tuple(map(float, made.problem.upkeep_usd)), value,
                          tuple(None if one is None else one.cost_usd for one in site_cost),
                          cost.site_prices(case, site_cost),
                          marginal_most_usd(case, made.problem, found),
                          *cost.money_by_kind(case, made.builds, times, made.costs, choice, driven))
    told = fit.verdicts(case, made.builds, sorted({int(times.build[loop.crewed]) for loop in loops}))
    parts = plans.assemble(case, made.builds, told, times, made.costs, choice, driven, priced)
    outcome = Outcome(found.proof, found.stopped, plans.objective_usd(case, parts, value), found.bound,
                      found.gap, parts.cost_usd, found.seconds, case.solve.gap)
    return _plan(case, plans.agreed(outcome), parts, None)


def marginal_most_usd(case: Case, problem: LoopProblem, found: LoopOutcome) -> tuple[float | None, ...]:
    """At most how much less the plan could cost without each site [USD]; None where that is not known, as in
    the question `value`, whose bound is one of contract value."""
    if case.question == "value":
        return (None,) * len(case.sites)
    return tuple(usd if isfinite(usd) else None
                 for usd in integer_program.most_saved_usd(problem, found).tolist())


def no_plan(case: Case, made: Stages, seconds: float) -> Plan:
    """A case without a plan, with the works no build can do."""
    return _plan(case, plans.no_plan(seconds), None, Shortfall(unreachable(case, made.times), None, (), ()))


def unreachable(case: Case, times: ServiceTimes) -> tuple[OutOfReach, ...]:
    """The works of must-serve sites that no build can do."""
    must = {site.id for site in case.sites if site.must_serve}
    return tuple(row for row in times.out_of_reach if row.site in must)


def _plan(case: Case, outcome: Outcome, parts: plans.Parts | None, shortfall: Shortfall | None) -> Plan:
    return Plan(
        plans.FORMAT, version("optibuild"),
        PlannedCase(case.name, case.question, case.given_as, dict(case.inputs)), outcome,
        parts.items if parts else (), parts.trucks if parts else (), parts.sites if parts else (),
        parts.money if parts else None, shortfall, None,
        plans.used_assumptions(case, cycle_time.circuity(case) if case.storm.fit_circuity else None),
        plans.cautions(case, parts.trucks if parts else ()), integer_program.solver_versions())

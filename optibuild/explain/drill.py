"""Each truck of a plan lost in turn, which spare helps most, how many spares to keep, and what the plan as it
is withstands."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from optibuild.explain.asking import of_plan
from optibuild.explain.least_late import Again, Tell, in_place, planned_again, squeezed_in
from optibuild.explain.lenient import NOISE_MIN, Lenient, lenient
from optibuild.explain.stress import endurance
from optibuild.records import Case, ChosenLoop, Plan
from optibuild.records.catalog import price_is_blank
from optibuild.records.drill import Drill, LostTruck, Replanned, Spare, SpareTrucks
from optibuild.stressing import bid_price_usd, held_usd
from optibuild.written import Written, among_its_builds

MOST_SECONDS, LEAST_SECONDS = 20.0, 2.0
"""Longest search for one plan, and the time that each has however many there are."""
NOISE, CENT = 1e-9, 0.01
NOTHING = Replanned((), (), (), 0.0, 0.0, 0.0, True)


def drill(case: Case, plan: Plan, progress: Tell = None) -> Drill:
    """What a plan of this very case is worth on a bad day. ValueError where the plan has no trucks or is none
    of this case, KeyboardInterrupt where the user ends a search: the others would tell nothing either.

    Promises are those to the sites: no reserve is kept, neither in loops nor on axles.
    """
    if not plan.trucks:
        raise ValueError("the plan has no trucks")
    of = lenient(among_its_builds(case, plan))
    begin = planned_loops(of)
    groups = alike(of.written)
    seconds = seconds_each(case, len(groups))
    left = {crewed: without(of, begin, crewed, seconds, progress) for crewed in groups}
    lost = tuple(LostTruck(tuple(plan.trucks[n].truck_no for n in trucks), build_name(of.written, trucks[0]),
                           left[crewed].said) for crewed, trucks in groups.items())
    spares = _spares(of, begin, groups, left, progress)
    return Drill(of_plan(plan), of.horizon_min, of.step_min, lost, spares,
                 spare_trucks(of.written, spares[0]), endurance(of.written))


def seconds_each(case: Case, searches: int) -> float:
    """Seconds for each of so many searches: half of the case's time limit shared by them, within bounds."""
    return min(MOST_SECONDS, max(LEAST_SECONDS, 0.5 * case.solve.time_limit_s / max(1, searches)))


def alike(written: Written) -> dict[int, list[int]]:
    """The places of the trucks in the plan by their crewed build: those with the same are lost alike."""
    groups: dict[int, list[int]] = {}
    for n, loop in enumerate(written.choice.loops):
        groups.setdefault(loop.crewed, []).append(n)
    return groups


def build_name(written: Written, n: int) -> str:
    """What the plan's n-th truck is, with its ballast, and with its depot where there are several."""
    truck = written.plan.trucks[n]
    ballast = "".join(f", {kit.count} {kit.id}" for kit in truck.ballast)
    return f"{truck.build}{ballast}" + (f" at {truck.depot}" if len(written.made.case.depots) > 1 else "")


def planned_loops(of: Lenient) -> list[ChosenLoop]:
    """The plan's loops on the axes of the lenient program, each with every promise kept."""
    kept = {int(s): at for at, s in enumerate(of.of.tolist()) if of.later_min[at] == 0.0}
    clocks = of.problem.cycle_limit_min
    return [replace(loop, clock=int(np.abs(clocks - of.written.made.times.clocks_min[loop.clock]).argmin()),
                    stops=tuple(kept[s] for s in loop.stops)) for loop in of.written.choice.loops]


def without(of: Lenient, begin: Sequence[ChosenLoop], crewed: int, seconds: float,
            progress: Tell) -> Again:
    """The plan without one truck of a crewed build; the search begins with its stops squeezed into the other
    loops."""
    gone, loops = _first(of, crewed), of.written.choice.loops
    rest = [n for n in range(len(loops)) if n != gone]
    known = squeezed_in(of, [begin[n] for n in rest], begin[gone])
    crewed_builds = [loops[n].crewed for n in rest]
    return planned_again(of, Counter(crewed_builds), known,
                         [of.written.plan.trucks[n].truck_no for n in rest], crewed_builds, seconds, progress)


def _first(of: Lenient, crewed: int) -> int:
    """The place of the first truck of a crewed build."""
    return next(n for n, loop in enumerate(of.written.choice.loops) if loop.crewed == crewed)


def _spares(of: Lenient, begin: Sequence[ChosenLoop], groups: dict[int, list[int]], left: dict[int, Again],
            progress: Tell) -> tuple[Spare, ...]:
    """Every build of the plan as a spare, the best first: it leaves the fewest sites out over all losses, of
    these the least late, of these it costs the least."""
    rows, seconds = [], seconds_each(of.written.made.case, len(groups) * (len(groups) - 1))
    for spare, trucks in groups.items():
        said = [(len(lost), _with_spare(of, begin, left[gone], gone, spare, seconds, progress))
                for gone, lost in groups.items()]
        cost = spare_cost(of.written, spare, 1)
        rows.append(Spare(
            build_name(of.written, trucks[0]), of.written.plan.trucks[trucks[0]].truck_no, cost.price_usd,
            cost.annual_usd, cost.can_be_had, cost.within_budget,
            sum(times * one.late_min for times, one in said),
            sum(times * len(one.not_served) for times, one in said), all(one.proved for _, one in said)))
    return tuple(sorted(rows, key=lambda row: (not row.can_be_had, row.not_served, round(row.late_min, 6),
                                               row.annual_usd or 0.0, row.build)))


def _with_spare(of: Lenient, begin: Sequence[ChosenLoop], alone: Again, gone: int, spare: int,
                seconds: float, progress: Tell) -> Replanned:
    """What a lost truck leaves with a spare in its place. Its like drives the plan as it was; where nothing
    was late without one, nothing is with one.

    The search begins with the plan without the truck, and with the spare on the lost truck's loop.
    """
    said, lost = alone.said, _first(of, gone)
    if spare == gone or not (said.late or said.not_served):
        return NOTHING
    others = [n for n in range(len(begin)) if n != lost]
    fleet = [*(begin[n].crewed for n in others), spare]
    known = [*alone.loops, *(begin[n] for n in others), *in_place(of, begin[lost], spare)]
    found = planned_again(of, Counter(fleet), known, range(len(fleet)), fleet, seconds, progress)
    before, now = ((len(one.not_served), one.late_min) for one in (said, found.said))
    return found.said if now <= before else _idle(said, found.said)


def _idle(alone: Replanned, found: Replanned) -> Replanned:
    """The plan without the spare, which is one of the fleet that has it and better as driven than the one
    found for that; what is proved is what that search proved."""
    same = (len(alone.not_served) == len(found.not_served)
            and alone.counted_min <= found.counted_min + NOISE_MIN)
    return replace(alone, bound_min=found.bound_min, proved=found.proved and same)


@dataclass(frozen=True)
class SpareCost:
    """What spares cost at once and a year (None where an item has no price), whether they can be had and
    within what is left of the budget, and the capital of owned ones that they take, which a bid recovers
    [USD]."""

    price_usd: float | None
    annual_usd: float | None
    can_be_had: bool
    within_budget: bool
    held_usd: float


def spare_cost(written: Written, crewed: int, count: int) -> SpareCost:
    """What so many spares of a crewed build cost.

    Owned items that the plan leaves idle are taken first; they cost their upkeep.
    """
    problem = written.made.problem
    used = problem.uses[[loop.crewed for loop in written.choice.loops]].sum(axis=0)
    needed = count * problem.uses[crewed]
    idle = np.minimum(needed, np.maximum(0.0, problem.owned - used))
    new = needed - idle
    bought = np.maximum(0.0, used - problem.owned)
    had = bool((bought + new <= problem.available + NOISE).all())
    price, left = float(new @ problem.price_usd), problem.budget_usd - float(bought @ problem.price_usd)
    case = written.made.case
    is_priced = not any(n and price_is_blank(item) for n, item in zip(new, case.items, strict=True))
    annual = float(new @ problem.annual_usd + idle @ problem.upkeep_usd)
    return SpareCost(price if is_priced else None, annual if is_priced else None, had,
                     price <= left + CENT, float(idle @ held_usd(case)))


def spares_needed(share: float, required: int) -> int:
    """Spares by their share of the trucks required at peak (not of the whole fleet), rounded up, at least 1.

    Source: spare ratio, FTA Circular 9030.1: spares over vehicles required at peak.
    """
    return max(1, ceil(share * required - NOISE))


def spare_trucks(written: Written, best: Spare) -> SpareTrucks:
    """The spares that go with the plan's trucks, of the build that helps most, and what they cost."""
    share, required = written.made.case.assumptions.spare_share, len(written.plan.trucks)
    count = spares_needed(share, required)
    like = next(n for n, truck in enumerate(written.plan.trucks) if truck.truck_no == best.like_truck)
    cost = spare_cost(written, written.choice.loops[like].crewed, count)
    bid = (None if cost.annual_usd is None else
           bid_price_usd(written.made.case, cost.annual_usd + cost.held_usd))
    return SpareTrucks(share, required, count, best.build, cost.price_usd, cost.annual_usd, cost.can_be_had,
                       cost.within_budget, bid)

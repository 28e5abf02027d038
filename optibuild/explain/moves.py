"""Single moves of a plan: the stops of one truck at one site, made by another truck instead."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from optibuild.pipeline import Column, LoopProblem
from optibuild.reasons import Fleet, alone, driven, fleet_of, loop_of
from optibuild.records import Case, LoopReason, NextBest, Plan
from optibuild.records.why import WhyNoOne
from optibuild.written import Written


@dataclass(frozen=True)
class Move:
    """A stop given by one truck to another, by their places in the fleet, and its extra cost [USD a
    season]."""

    giver: int
    taker: int
    stop: int
    extra_usd: float


def moves(at: Written, fleet: Fleet) -> list[Move]:
    """Every stop to every other truck that can take it, where that costs least.

    Orders are kept, of the loop that gives and of the one that takes; reloads and the cycle limits that both
    hold are chosen anew. A truck that is left without stops is given up.
    """
    found = []
    for a, giver in enumerate(fleet.loops):
        for stop in giver.stops:
            rest = [] if len(giver.stops) == 1 else [_cheapest(_without(at, giver, stop))]
            for b, taker in enumerate(fleet.loops):
                taken = None if a == b or None in rest else _cheapest(_with(at, taker, stop))
                if taken is not None:
                    others = [one for k, one in enumerate(fleet.loops) if k not in (a, b)]
                    changed = fleet_of(at, [*others, *(one for one in rest if one), taken])
                    found.append(Move(a, b, stop, changed.cost_usd - fleet.cost_usd))
    return found


def _cheapest(loops: Iterator[Column | None]) -> Column | None:
    """The cheapest of loops of one build."""
    return min((one for one in loops if one is not None), key=lambda one: (one.cost_usd, one.key),
               default=None)


def _without(at: Written, one: Column, stop: int) -> Iterator[Column | None]:
    rest = tuple(s for s in one.stops if s != stop)
    return (loop_of(at, one.build, clock, rest) for clock in range(at.made.problem.cycle_limit_min.size))


def _with(at: Written, one: Column, stop: int) -> Iterator[Column | None]:
    """The loop with a stop more, at every place of it and every clock; joined with the stop that it makes at
    the same site, where that is a stop too."""
    there = [s for s in one.stops if at.made.problem.place[s] == at.made.problem.place[stop]]
    more = _joined(at, stop, there[0]) if there else stop
    if more is None:
        return
    kept = tuple(s for s in one.stops if s not in there)
    for clock in range(at.made.problem.cycle_limit_min.size):
        for k in range(len(kept) + 1):
            yield loop_of(at, one.build, clock, (*kept[:k], more, *kept[k:]))


def _joined(at: Written, one: int, other: int) -> int | None:
    """The stop that does what two stops of a site do."""
    a, b = at.made.times.stops[one], at.made.times.stops[other]
    if a.work == b.work:
        wanted = a.site, a.parcels + b.parcels, a.work
    elif a.parcels == b.parcels and "both" not in (a.work, b.work):
        wanted = a.site, a.parcels, "both"
    else:
        return None
    return next((s for s, stop in enumerate(at.made.times.stops)
                 if (stop.site, stop.parcels, stop.work) == wanted), None)


def loop_reasons(plan: Plan, at: Written, found: list[Move]) -> tuple[LoopReason, ...]:
    """What keeps each loop as it is: the limit that binds it, and what it has room for at the least cost."""
    sites, stops = at.made.case.sites, at.made.times.stops
    told = []
    for b, (truck, times) in enumerate(zip(plan.trucks, driven(at), strict=True)):
        binds = times.binds
        into = min((one for one in found if one.taker == b), key=_order, default=None)
        told.append(LoopReason(
            truck.truck_no, truck.build, binds.limit, binds.left, "kg" if binds.limit == "fill" else "min",
            None if binds.at is None else sites[stops[times.stops[binds.at]].site].id,
            None if into is None else sites[stops[into.stop].site].id,
            None if into is None else into.extra_usd))
    return tuple(told)


def next_best(case: Case, plan: Plan, at: Written, fleet: Fleet, found: list[Move]) -> tuple[NextBest, ...]:
    """For every site served, and every truck that serves it, who else would do it at the least extra cost."""
    told = []
    for a, giver in enumerate(fleet.loops):
        for stop in giver.stops:
            best = min((one for one in found if (one.giver, one.stop) == (a, stop)), key=_order, default=None)
            made, now = at.made.times.stops[stop], plan.trucks[a].truck_no
            row = NextBest(case.sites[made.site].id, now, made.work, made.parcels, None, None, None)
            if best is not None:
                row = replace(row, next_truck_no=plan.trucks[best.taker].truck_no, extra_usd=best.extra_usd)
            elif len(giver.stops) > 1:
                row = _own(at, fleet, a, stop, row)
            else:
                row = replace(row, no_one="does nothing else")
            told.append((made.site, row))
    return tuple(row for _, row in sorted(told, key=lambda one: (one[0], one[1].truck_no)))


def _own(at: Written, fleet: Fleet, a: int, stop: int, row: NextBest) -> NextBest:
    """The row with the cheapest truck of its own for the stop, or why there is none."""
    giver = fleet.loops[a]
    rest = _cheapest(_without(at, giver, stop))
    if rest is None:
        return replace(row, no_one="the rest of its loop")
    left = fleet_of(at, [*fleet.loops[:a], *fleet.loops[a + 1:], rest])
    own = alone(at, stop, left)
    if own is None:
        return replace(row, no_one=_keeps_out(at, stop, left))
    extra = fleet_of(at, [*left.loops, own]).cost_usd - fleet.cost_usd
    build = at.made.builds.name(int(at.made.times.build[own.build]))
    return replace(row, own_build=build, extra_usd=extra)


def _keeps_out(at: Written, stop: int, left: Fleet) -> WhyNoOne:
    """What keeps a truck of its own for a stop from a fleet: the one limit that alone would have to go."""
    problem = at.made.problem
    budget, drivers = replace(problem, budget_usd=inf), replace(problem, most_loops=inf)
    items = replace(problem, available=np.full_like(problem.available, inf))
    everything = replace(items, budget_usd=inf, most_loops=inf)
    ways: tuple[tuple[WhyNoOne, LoopProblem], ...] = (
        ("budget", budget), ("drivers", drivers), ("items", items), ("several limits", everything))
    return next((name for name, freed in ways
                 if alone(replace(at, made=replace(at.made, problem=freed)), stop, left)), "no build")


def _order(one: Move) -> tuple[float, int, int]:
    return round(one.extra_usd, 6), one.giver, one.taker

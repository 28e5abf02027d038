"""Every known order of stops on every build: the cheapest way to find which builds a loop should go to."""

import numpy as np
from numba import njit

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.pricer import Duals
from optibuild.integer_program.problem import FILL_TOLERANCE, TIME_TOLERANCE_MIN, Ints, LoopProblem


def spread(problem: LoopProblem, orders: list[tuple[int, ...]], builds: Ints, duals: Duals,
           below: float) -> list[Column]:
    """Each order of stops on the build (of `builds` [B]) and clock where it has the least reduced cost, if
    that is under `below`.

    Reloads are made where the next stop would not fit, which is feasible but not always best: what is not
    found here is left to the labels. Nothing is tried where the last round is another one.
    """
    if problem.end_round is not None or not orders:
        return []
    first = np.cumsum([0, *map(len, orders)])
    stops = np.fromiter((s for order in orders for s in order), np.int64, int(first[-1]))
    priced = np.flatnonzero(duals.cut_duals < 0)
    cuts = np.array([duals.cuts[k] for k in priced], np.int64).reshape(-1, 3)
    best, build, clock = _best_builds(
        first, stops, builds, problem.minutes, problem.stop_usd, duals.own,
        duals.weight * problem.drive_usd_per_min, duals.weight * problem.drive_usd_per_m, duals.weight,
        problem.fill_kg * (1.0 + FILL_TOLERANCE), problem.reload_min, problem.allowed,
        problem.cycle_limit_min + TIME_TOLERANCE_MIN, problem.deadline_min + TIME_TOLERANCE_MIN,
        problem.place, problem.travel_min, problem.distance_m, problem.start, problem.end,
        problem.material_kg, problem.may_reload, duals.gain, cuts, duals.cut_duals[priced], problem.amount,
        below)
    return [column(problem, int(build[k]), int(clock[k]), order, _reloads(problem, order, int(build[k])))
            for k, order in enumerate(orders) if best[k] < below]


def _reloads(problem: LoopProblem, order: tuple[int, ...], build: int) -> tuple[bool, ...]:
    """Before which stops a build reloads that goes on while the next stop fits."""
    load, made = 0.0, []
    for s in order:
        material = float(problem.material_kg[s])
        full = load + material > problem.fill_kg[build] * (1.0 + FILL_TOLERANCE)
        load = material if full else load + material
        made.append(bool(full))
    return tuple(made)


@njit(cache=True, nogil=True)
def _best_builds(  # type: ignore[no-untyped-def]
    first, stops, builds, minutes, stop_usd, own, usd_per_min, usd_per_m, money, room, reload_min, allowed,
    limit, deadline, place, travel, distance, start, end, material, may_reload, gain, cuts, cut_duals, amount,
    below,
):
    """Least reduced cost, build and clock of each order (`below` where none has less)."""
    count = len(first) - 1
    best, build, clock = np.full(count, below), np.zeros(count, np.int64), np.zeros(count, np.int64)
    worth, straight_min, straight_m = np.zeros(count), np.zeros(count), np.zeros(count)
    for q in range(count):
        for k in range(first[q], first[q + 1]):
            worth[q] += gain[stops[k]]
            if k > first[q]:
                straight_min[q] += travel[place[stops[k - 1]], place[stops[k]]]
                straight_m[q] += distance[place[stops[k - 1]], place[stops[k]]]
        for c in range(len(cut_duals)):
            inside = 0.0
            for k in range(first[q], first[q + 1]):
                for w in range(3):
                    inside += amount[stops[k], cuts[c, w]]
            worth[q] += cut_duals[c] * (inside // 2)
    for b in builds:
        for k in range(len(limit)):
            for q in range(count):
                price = own[b] - worth[q]
                drive = usd_per_min[b, k] * straight_min[q] + usd_per_m[b, k] * straight_m[q]
                if price + drive >= best[q]:  # no way round by the start is shorter than straight on
                    continue
                t, load, wet, here, possible = 0.0, 0.0, False, start[b], True
                for n in range(first[q], first[q + 1]):
                    s = stops[n]
                    there = place[s]
                    full = load + material[s] > room[b]
                    if not allowed[k, s] or np.isinf(minutes[b, k, s]) or (
                            full and (material[s] > room[b] or not may_reload)):
                        possible = False
                        break
                    if full:
                        back = start[b]
                        gone = travel[here, back] + reload_min[b] + travel[back, there]
                        meters = distance[here, back] + distance[back, there]
                        load = 0.0
                    else:
                        gone, meters = travel[here, there], distance[here, there]
                    t += gone + minutes[b, k, s]
                    load += material[s]
                    wet = wet or material[s] > 0.0
                    price += usd_per_min[b, k] * gone + usd_per_m[b, k] * meters + money * stop_usd[b, k, s]
                    here = there
                    if t > deadline[s] or t > limit[k]:
                        possible = False
                        break
                gone, meters = travel[here, end[b]], distance[here, end[b]]
                if wet and may_reload:
                    gone += reload_min[b]
                price += usd_per_min[b, k] * gone + usd_per_m[b, k] * meters
                if possible and t + gone <= limit[k] and price < best[q]:
                    best[q], build[q], clock[q] = price, b, k
    return best, build, clock

"""What a part of a loop can still gain at the most, compiled: bounds by which the kernel drops labels."""

from typing import NamedTuple

import numpy as np
from numba import njit

from optibuild.integer_program.problem import Floats, Ints


class Completion(NamedTuple):
    """What going on from a place [p] costs at the least, by what is left of the time in equal steps of `step`
    minutes, or of the load in steps of `step` kg where `by_load` (0: no such bound; some stop takes less than
    a step).

    `best` [steps, p] comes back to no place that was just left and goes first to place `via` (-1: home);
    `second` goes first elsewhere. `lowest` [steps] is the least of `best` over places. `order` [p + 1, n]
    holds the stops by rising `arc`: the drive to them from a place (last row: from start) and their cost;
    the quickest of them takes `soonest` [p + 1] steps.
    """

    step: float
    by_load: bool
    best: Floats
    second: Floats
    via: Ints
    lowest: Floats
    order: Ints
    arc: Floats
    soonest: Ints


@njit(cache=True, nogil=True)
def _arcs(cost, place, drive, p):  # type: ignore[no-untyped-def]
    """Stops by rising drive and cost, from each place and the start."""
    n = len(cost)
    order, arc = np.empty((p + 1, n), np.int32), np.empty((p + 1, n))
    worth = np.empty(n)
    for u in range(p + 1):
        for s in range(n):
            worth[s] = drive[u, place[s]] + cost[s]
        order[u] = np.argsort(worth)
        for k in range(n):
            arc[u, k] = worth[order[u, k]]
    return order, arc


@njit(cache=True, nogil=True)
def completion(by_load, limit, taken, cost, place, travel, drive, least_steps, most_steps):  # type: ignore[no-untyped-def]
    """The `Completion` of a view's stops: money of drives, and what stops and drives take of a limit, which
    is minutes, or kilograms where drives take none."""
    n, p = len(taken), len(travel) - 2
    order, arc = _arcs(cost, place, drive, p)
    shortest = np.inf
    for s in range(n):
        for u in range(p):
            if u != place[s]:
                shortest = min(shortest, travel[u, place[s]] + taken[s])
    if not np.isfinite(limit) or shortest <= limit / most_steps:
        none = np.zeros((1, p))
        return Completion(0.0, by_load, none, none, np.zeros((1, p), np.int32), np.zeros(1), order, arc,
                          np.zeros(p + 1, np.int32))
    step = min(shortest, limit / least_steps) * (1.0 - 1e-9)
    steps = int(limit / step) + 2
    # rows of infinity before the first step spare the innermost loop a test
    cell, soonest = np.empty((p, n), np.int32), np.full(p + 1, steps, np.int32)
    for u in range(p + 1):
        for k in range(n):
            v = place[order[u, k]]
            took = np.int32(min((travel[u, v] + taken[order[u, k]]) / step, steps)) if v != u else steps
            soonest[u] = min(soonest[u], took)
            if u < p:
                cell[u, k] = v - took * p
    best, second = np.full(2 * steps * p, np.inf), np.full(2 * steps * p, np.inf)
    via, lowest = np.full(2 * steps * p, -1, np.int32), np.empty(steps)
    for b in range(steps):
        base = (steps + b) * p
        lowest[b] = np.inf
        for u in range(p):
            least, other, first = drive[u, p + 1], np.inf, -1
            floor = lowest[b - soonest[u]] if b >= soonest[u] else np.inf
            for k in range(n):
                if arc[u, k] + floor >= other:
                    break
                at = base + cell[u, k]
                value = arc[u, k] + best[at]
                if value < other:
                    if via[at] == u:
                        value = arc[u, k] + second[at]
                    v = place[order[u, k]]
                    if value < least:
                        if v != first:
                            other = least
                        least, first = value, v
                    elif value < other and v != first:
                        other = value
            best[base + u], second[base + u], via[base + u] = least, other, first
            lowest[b] = min(lowest[b], least)
    after = steps * p
    return Completion(step, by_load, best[after:].reshape(steps, p), second[after:].reshape(steps, p),
                      via[after:].reshape(steps, p), lowest, order, arc, soonest)


@njit(cache=True, nogil=True)
def loads_to_come(limit, minutes, material, place, travel, steps):  # type: ignore[no-untyped-def]
    """The most material that stops can take in the minutes left [steps + 1], in equal parts of the limit: a
    knapsack that may cut its last piece, each stop once, come to in the shortest way."""
    n, p = len(minutes), len(travel) - 2
    if not np.isfinite(limit) or limit <= 0.0:
        return np.full(1, material.sum())
    took, rate = np.empty(n), np.zeros(n)
    for s in range(n):
        way = np.inf
        for u in range(p + 1):
            if u != place[s]:
                way = min(way, travel[u, place[s]])
        took[s] = way + minutes[s]
        if material[s] > 0.0:
            rate[s] = material[s] / took[s] if took[s] > 0.0 else np.inf
    most = np.zeros(steps + 1)
    order = np.argsort(-rate)
    for b in range(steps + 1):
        left = limit * b / steps
        for s in order:
            if took[s] > left:
                most[b] += left * rate[s] if left > 0.0 else 0.0
                break
            most[b] += material[s]
            left -= took[s]
    return most


@njit(cache=True, nogil=True)
def gains(minutes, cost, place, travel, drive):  # type: ignore[no-untyped-def]
    """What each place can give at the most and how fast: most gain, least minutes to get there and do the
    shortest stop, best gain a minute, and the places in falling order of that. For `most_gain`."""
    n, p = len(minutes), len(travel) - 2
    most, least, rate = np.zeros(p), np.full(p, np.inf), np.zeros(p)
    for s in range(n):
        v = place[s]
        way, toll = np.inf, np.inf
        for u in range(p + 1):
            if u != v:
                way = min(way, travel[u, v])
                toll = min(toll, drive[u, v])
        took, gain = way + minutes[s], -(cost[s] + toll)
        least[v] = min(least[v], took)
        most[v] = max(most[v], gain)
        if gain > 0.0:
            rate[v] = max(rate[v], gain / took if took > 0.0 else np.inf)
    return most, least, rate, np.argsort(-rate)

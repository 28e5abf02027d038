"""What a part of a loop can still gain at the most, compiled: bounds by which the kernel drops labels."""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def completion(limit, minutes, cost, place, travel, drive, most_steps):  # type: ignore[no-untyped-def]
    """Least cost of going on from a place, by remaining time in equal steps: a bound that forgets places.

    Returns (step length, [p, steps] array); a step length of 0 says that no bound could be had because some
    stop takes less than a step.
    """
    n, p = len(minutes), len(travel) - 2
    shortest = np.inf
    for s in range(n):
        for u in range(p):
            if u != place[s]:
                shortest = min(shortest, travel[u, place[s]] + minutes[s])
    if not np.isfinite(limit) or shortest <= limit / most_steps:
        return 0.0, np.zeros((p, 1))
    step = min(shortest, limit / 48.0) * (1.0 - 1e-9)
    steps = int(limit / step) + 2
    least = np.empty((p, steps))
    for b in range(steps):
        for u in range(p):
            best = drive[u, p + 1]
            for s in range(n):
                v = place[s]
                if v != u:
                    after = b - int((travel[u, v] + minutes[s]) / step)
                    if after >= 0:
                        best = min(best, drive[u, v] + cost[s] + least[v, after])
            least[u, b] = best
    return step, least


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

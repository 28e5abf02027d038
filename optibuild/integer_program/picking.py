"""What of a problem a group of builds meets at a clock, compiled: its stops, their places, the ways between.

The same few lines in numpy take longer than the search that they prepare.
"""

import numpy as np
from numba import njit

from optibuild.integer_program.problem import TIME_TOLERANCE_MIN


@njit(cache=True, nogil=True)
def usable_stops(  # type: ignore[no-untyped-def]
    allowed, last_min, plain_min, stop_usd, gain, money, only_gainful, out, home, limit, deadline, only,
    end_limit,
):
    """Stops that can be made alone in time, and their money less their works' duals [n each].

    `last_min` [S] are minutes in the round that makes every stop, inf where a stop is impossible, `plain_min`
    those in a plain round; `out`, `home` [S] ways from start and to end. `only` and `end_limit` [S] are of
    the end round, None where there is none. Where `only_gainful`, stops that take more than they give are
    left out.
    """
    stops, cost, count = np.empty(len(allowed), np.int64), np.empty(len(allowed)), 0
    for s in range(len(allowed)):
        if not allowed[s] or not np.isfinite(last_min[s]):
            continue
        usd = money * stop_usd[s] - gain[s]
        if only_gainful and usd >= 0.0:
            continue
        left = out[s] + plain_min[s]
        in_time = left + home[s] <= limit + TIME_TOLERANCE_MIN and left <= deadline[s] + TIME_TOLERANCE_MIN
        if only is not None:
            around = out[s] + last_min[s] + home[s]
            in_time = (in_time or only[s]) and around <= end_limit[s] + TIME_TOLERANCE_MIN
        if in_time:
            stops[count], cost[count] = s, usd
            count += 1
    return stops[:count], cost[:count]


@njit(cache=True, nogil=True)
def places_of(place, stops, cost, total, pays):  # type: ignore[no-untyped-def]
    """The places of some stops in order [p], each stop's place among them [n], and the most that each place
    gives [p] (inf where leaving one out may lengthen a loop: not `pays`)."""
    number = np.full(total, -1, np.int64)
    for s in stops:
        number[place[s]] = 0
    count = 0
    for u in range(total):
        if number[u] == 0:
            number[u] = count
            count += 1
    places, local = np.empty(count, np.int64), np.empty(len(stops), np.int64)
    loss = np.zeros(count) if pays else np.full(count, np.inf)
    for k in range(len(stops)):
        u = number[place[stops[k]]]
        local[k] = u
        places[u] = place[stops[k]]
        if pays:
            loss[u] = max(loss[u], -cost[k])
    return places, local, loss


@njit(cache=True, nogil=True)
def ways(places, start, end, minutes, meters, usd_per_min, usd_per_m):  # type: ignore[no-untyped-def]
    """Minutes and money of driving between the places, then start, then end [p + 2, p + 2]; a round without
    stops does not drive."""
    p = len(places) + 2
    travel, drive = np.zeros((p, p)), np.zeros((p, p))
    for i in range(p):
        a = start if i == p - 2 else end if i == p - 1 else places[i]
        for j in range(p):
            b = start if j == p - 2 else end if j == p - 1 else places[j]
            travel[i, j] = minutes[a, b]
            drive[i, j] = usd_per_min * minutes[a, b] + usd_per_m * meters[a, b]
    travel[p - 2, p - 1] = drive[p - 2, p - 1] = 0.0
    return travel, drive


@njit(cache=True, nogil=True)
def remembered(near, places):  # type: ignore[no-untyped-def]
    """For labels at each place, the places they go on remembering, bit by bit [p, words]: those near it by
    `near` [P, P], and all."""
    p = len(places)
    words = (p + 63) // 64
    some, every = np.zeros((p, words), np.uint64), np.zeros((p, words), np.uint64)
    for i in range(p):
        for j in range(p):
            bit = np.uint64(1) << np.uint64(j & 63)
            every[i, j >> 6] |= bit
            if near[places[i], places[j]]:
                some[i, j >> 6] |= bit
    return some, every

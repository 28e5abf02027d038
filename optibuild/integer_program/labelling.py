"""The compiled kernel: least-cost loops of one build (or imaginary build) at one clock, by labels.

A label is a part of a loop that has just finished a stop: minutes, material since the last reload, cost less
the works' duals, and the places it remembers. One kernel serves pricing (keep what could still be best) and
listing (keep every set of stops within a cutoff).

Pricing keeps label 1 over label 2 at the same place when it is no later, carries no more, and costs no more
even after giving up the reward of every place it remembers and the other does not: whatever the other goes
on to do, it can do too, leaving those places out (true where drives obey the triangle inequality; elsewhere
the loss is infinite, which is the plain subset rule).

Where some work is done in the end round alone, a label also knows that round: its minutes, its material, the
least limit of its stops, and where the truck is in the plain round, which drives past the stops made only at
the end. All of it is compared alike. Numba compiles the kernel once more for that; where `end` is None, the
helpers that take it fold to nothing.
"""

import numpy as np
from numba import njit

from optibuild.integer_program.labels import EndLabels
from optibuild.integer_program.problem import FILL_TOLERANCE, TIME_TOLERANCE_MIN

PRICE, EXISTS, LIST = 0, 1, 2
"""What a run is for: the best loops, whether any exists, or all of them."""
DONE, FULL = 0, 1
RELOADS, END_RELOADS = 1, 2
"""Bits of a label: it reloaded before its stop in the plain round, in the end round."""


@njit(cache=True, nogil=True)
def most_gain(left, remembered, most, least, rate, order):  # type: ignore[no-untyped-def]
    """A bound on what the places not remembered can still give in the minutes left: a knapsack that may cut
    its last piece, each place once."""
    total = 0.0
    for v in order:
        if rate[v] <= 0.0 or left <= 0.0:
            break
        if least[v] > left or remembered[v >> 6] >> np.uint64(v & 63) & np.uint64(1):
            continue
        if np.isinf(rate[v]):
            total += most[v]
            continue
        took = most[v] / rate[v]
        total += most[v] if took <= left else rate[v] * left
        left -= took
    return total


@njit(cache=True, nogil=True)
def _after_losses(mine, other, loss, price, ceiling):  # type: ignore[no-untyped-def]
    """A label's cost after paying for the bits only it has; stops counting once above the ceiling."""
    for w in range(len(mine)):
        extra = mine[w] & ~other[w]
        b = 64 * w
        while extra and price <= ceiling:
            while not extra & np.uint64(1):
                extra >>= np.uint64(1)
                b += 1
            price += loss[b]
            extra >>= np.uint64(1)
            b += 1
    return price


@njit(cache=True, nogil=True)
def _visit(  # type: ignore[no-untyped-def]
    t, q, c, u, v, detour, start, travel, drive, reload_min, reload_usd,
):
    """Minutes, load and cost after driving from u to v, straight or by way of a reload."""
    if detour:
        return (t + (travel[u, start] + reload_min + travel[start, v]), 0.0,
                c + (drive[u, start] + reload_usd + drive[start, v]))
    return t + travel[u, v], q, c + drive[u, v]


@njit(cache=True, nogil=True)
def _end_labels(end, size):  # type: ignore[no-untyped-def]
    if end is None:
        return None
    return EndLabels(np.empty(size, np.int64), np.empty(size), np.empty(size), np.empty(size, np.bool_),
                     np.empty(size))


@njit(cache=True, nogil=True)
def _plain_place(ends, i, u, start):  # type: ignore[no-untyped-def]
    """Where the truck of a label at u is in the plain round; `start` where that has no stop yet."""
    if ends is None:
        return u
    return ends.here[i] if i >= 0 else start


@njit(cache=True, nogil=True)
def _only_at_end(end, s):  # type: ignore[no-untyped-def]
    if end is None:
        return False
    return end.only[s]


@njit(cache=True, nogil=True)
def _end_reloads_matter(end, fill):  # type: ignore[no-untyped-def]
    if end is None:
        return False
    return end.material.sum() > fill


@njit(cache=True, nogil=True)
def _loaded_at_end(ends, i):  # type: ignore[no-untyped-def]
    """Whether a label has used material since its last reload in the end round."""
    if ends is None:
        return False
    return i >= 0 and ends.load[i] > 0.0


@njit(cache=True, nogil=True)
def _end_visit(end, ends, i, s, c, u, v, detour, start, travel, reload_min):  # type: ignore[no-untyped-def]
    """A label's end round after one more stop: minutes, load, whether it used material, its limit; and the
    label's cost with that drive."""
    if end is None:
        return 0.0, 0.0, False, np.inf, c
    t, q, used, limit = 0.0, 0.0, False, np.inf
    if i >= 0:
        t, q, used, limit = ends.time[i], ends.load[i], ends.used[i], ends.limit[i]
    t, q, c = _visit(t, q, c, u, v, detour, start, travel, end.drive, reload_min, end.reload_usd)
    return (t + end.minutes[s], q + end.material[s], used or end.material[s] > 0.0,
            min(limit, end.limit[s]), c)


@njit(cache=True, nogil=True)
def _end_home(end, v, home, used):  # type: ignore[no-untyped-def]
    """Money of driving home in the end round, with its last reload."""
    if end is None:
        return 0.0
    return end.drive[v, home] + (end.reload_usd if used else 0.0)


@njit(cache=True, nogil=True)
def _left(end, left, end_time, end_limit):  # type: ignore[no-untyped-def]
    """The most minutes that a label's later stops can take, as long as they are in the end round.

    Without work of the end so far, either some comes, under one of its limits, or none does: then all stops
    to come are those of the plain round and take no longer than is `left` of that.
    """
    if end is None:
        return left
    if end_limit < np.inf:
        return end_limit + TIME_TOLERANCE_MIN - end_time
    return max(left, end.latest + TIME_TOLERANCE_MIN - end_time)


@njit(cache=True, nogil=True)
def _label_left(end, ends, i, left):  # type: ignore[no-untyped-def]
    """The same for a label that is there."""
    if end is None:
        return left
    return _left(end, left, ends.time[i], ends.limit[i])


@njit(cache=True, nogil=True)
def _end_no_worse(ends, j, here, time, load, used, limit):  # type: ignore[no-untyped-def]
    if ends is None:
        return True
    return (ends.here[j] == here and ends.time[j] <= time and ends.load[j] <= load and ends.used[j] <= used
            and ends.limit[j] >= limit)


@njit(cache=True, nogil=True)
def _end_no_better(ends, j, here, time, load, used, limit):  # type: ignore[no-untyped-def]
    if ends is None:
        return True
    return (ends.here[j] == here and time <= ends.time[j] and load <= ends.load[j] and used <= ends.used[j]
            and limit >= ends.limit[j])


@njit(cache=True, nogil=True)
def _keep_end(ends, count, here, time, load, used, limit):  # type: ignore[no-untyped-def]
    if ends is not None:
        ends.here[count], ends.time[count], ends.load[count] = here, time, load
        ends.used[count], ends.limit[count] = used, limit


@njit(cache=True, nogil=True)
def run_labels(  # type: ignore[no-untyped-def]
    mode, cutoff, keys, limit, minutes, cost, material, deadline, place, travel, drive,
    fill, reload_min, reload_usd, may_reload, fixed, memory, loss, cut_first, cut_which, cut_amount,
    cut_price, ahead, most, least_took, rate, order, homeward, to_come, labels, buckets, breadth, end,
):
    """Extend labels until none is left. Returns status, label arrays and the finished loops' labels."""
    n, p, words = len(minutes), len(travel) - 2, memory.shape[1]
    start, home = p, p + 1
    stop_words = (n + 63) // 64 if mode == LIST else 1
    size = len(labels.at_stop)
    at_stop, parent, time, load, value = labels.at_stop, labels.parent, labels.time, labels.load, labels.value
    used, via, dead, following, key = labels.used, labels.via, labels.dead, labels.following, labels.key
    seen, done, done_at, reduced = labels.seen, labels.done, labels.done_at, labels.reduced
    odd, cut_words = labels.odd, (len(cut_price) + 63) // 64
    new_odd = np.zeros(cut_words, np.uint64)
    head = np.full(buckets, -1, np.int32)
    slack = limit + TIME_TOLERANCE_MIN
    room = fill * (1.0 + FILL_TOLERANCE)
    parts = len(to_come) - 1
    ends = _end_labels(end, size)
    ways = 2 if end is None else 4
    reloads_matter = may_reload and material.sum() > fill
    end_reloads_matter = may_reload and _end_reloads_matter(end, fill)
    new_seen = np.empty(words, np.uint64)
    last_step = len(ahead.lowest) - 1
    count, finished = 0, 0
    i = -1
    while i < count:
        if i >= 0 and dead[i]:
            i += 1
            continue
        u = start if i < 0 else place[at_stop[i]]
        here = _plain_place(ends, i, u, start)
        # the least that a loop from this label costs, but for the next stop with the drive to it
        floor = -np.inf
        if ahead.step > 0.0:
            floor, step = fixed, last_step
            if i >= 0:
                ending = reload_min if used[i] and may_reload else 0.0
                left = _label_left(end, ends, i, slack - time[i] - ending)
                if ahead.by_load:
                    left = room - load[i]
                floor, step = value[i], min(int(left / ahead.step), last_step)
            floor += ahead.lowest[step - ahead.soonest[u]] if step >= ahead.soonest[u] else np.inf
        for nearest in range(n if i < 0 else min(n, breadth)):
            if floor + ahead.arc[u, nearest] > cutoff:
                break
            s = ahead.order[u, nearest]
            v = place[s]
            skipped = _only_at_end(end, s)
            there = here if skipped else v
            bit = np.uint64(1) << np.uint64(v & 63)
            if i >= 0 and (v == u or seen[i, v >> 6] & bit):
                continue
            for way in range(ways):
                detour, end_detour = way & RELOADS, way & END_RELOADS
                t, q, c = (0.0, 0.0, fixed) if i < 0 else (time[i], load[i], value[i])
                if detour and (not reloads_matter or skipped or q == 0.0):
                    continue
                if end_detour and not (end_reloads_matter and _loaded_at_end(ends, i)):
                    continue
                if not skipped:
                    t, q, c = _visit(
                        t, q, c, here, v, detour, start, travel, drive, reload_min, reload_usd)
                end_t, end_q, end_flag, end_limit, c = _end_visit(
                    end, ends, i, s, c, u, v, end_detour, start, travel, reload_min)
                t += minutes[s]
                q += material[s]
                c += cost[s]
                for w in range(cut_words):
                    new_odd[w] = odd[i, w] if i >= 0 else np.uint64(0)
                for k in range(cut_first[s], cut_first[s + 1]):
                    cut = cut_which[k]
                    flip = np.uint64(1) << np.uint64(cut & 63)
                    counted = cut_amount[k] + (1 if new_odd[cut >> 6] & flip else 0)
                    c += cut_price[cut] * (counted // 2)
                    if counted & 1:
                        new_odd[cut >> 6] |= flip
                    else:
                        new_odd[cut >> 6] &= ~flip
                flag = material[s] > 0.0 or (i >= 0 and used[i])
                ending = travel[there, home] + (reload_min if flag and may_reload else 0.0)
                if q > room or t > deadline[s] + TIME_TOLERANCE_MIN or t + ending > slack:
                    continue
                end_ending = travel[v, home] + (reload_min if end_flag and may_reload else 0.0)
                if end_q > room or end_t + end_ending > end_limit + TIME_TOLERANCE_MIN:
                    continue
                coming = to_come[min(int((slack - t) / slack * parts), parts - 1) + 1 if parts else 0]
                if q + coming <= room:
                    q = 0.0  # nothing that can still come makes the load matter
                left = _left(end, slack - t - (reload_min if flag and may_reload else 0.0), end_t, end_limit)
                # what the new label remembers, and the key of its set of stops
                for w in range(words):
                    new_seen[w] = (seen[i, w] & memory[v, w]) if i >= 0 else np.uint64(0)
                new_seen[v >> 6] |= bit
                if ahead.step > 0.0:
                    ahead_step = min(int((room - q if ahead.by_load else left) / ahead.step), last_step)
                    rest, towards = ahead.best[ahead_step, v], ahead.via[ahead_step, v]
                    if towards >= 0 and (
                            towards == u or new_seen[towards >> 6] >> np.uint64(towards & 63) & np.uint64(1)):
                        rest = ahead.second[ahead_step, v]
                    if c + rest > cutoff:
                        continue
                total = c + drive[there, home] + (reload_usd if flag and may_reload else 0.0)
                total += _end_home(end, v, home, end_flag and may_reload)
                if total > cutoff:
                    gain = most_gain(left, new_seen, most, least_took, rate, order)
                    if c + homeward - gain > cutoff:
                        continue
                new_key = keys[s] ^ (key[i] if i >= 0 else np.uint64(0))
                bucket = np.int64(v * (p + 1) + there) if mode != LIST else np.int64(
                    (new_key ^ (np.uint64(v) * np.uint64(0x9E3779B97F4A7C15))) % np.uint64(buckets))
                # buckets are kept in rising order of cost, so the likeliest to beat a label come first
                beaten = False
                spot, previous, j = -1, -1, head[bucket]
                while j >= 0:
                    after = following[j]
                    if mode == LIST:
                        same = key[j] == new_key and place[at_stop[j]] == v
                        if same:
                            for w in range(stop_words):
                                want = done[i, w] if i >= 0 else np.uint64(0)
                                if w == s >> 6:
                                    want |= np.uint64(1) << np.uint64(s & 63)
                                if done[j, w] != want:
                                    same = False
                        old_first = same and value[j] <= c
                        new_first = same and c <= value[j]
                    else:
                        old_first, new_first = value[j] <= c, c <= value[j]
                    if (old_first and time[j] <= t and load[j] <= q and used[j] <= flag
                            and _end_no_worse(ends, j, there, end_t, end_q, end_flag, end_limit)):
                        price = value[j]
                        if mode != LIST:
                            price = _after_losses(odd[j], new_odd, cut_price, price, c)
                            price = _after_losses(seen[j], new_seen, loss, price, c)
                        if price <= c:
                            beaten = True
                            break
                    elif (new_first and t <= time[j] and q <= load[j] and flag <= used[j]
                            and _end_no_better(ends, j, there, end_t, end_q, end_flag, end_limit)):
                        price = c
                        if mode != LIST:
                            price = _after_losses(new_odd, odd[j], cut_price, price, value[j])
                            price = _after_losses(new_seen, seen[j], loss, price, value[j])
                        if price <= value[j]:
                            dead[j] = True
                            if previous < 0:
                                head[bucket] = after
                            else:
                                following[previous] = after
                            j = after
                            continue
                    if value[j] <= c:
                        spot = j
                    previous = j
                    j = after
                if beaten:
                    continue
                if count == size:
                    return FULL, at_stop[:count], parent[:count], via[:count], key, done_at, reduced, finished
                at_stop[count], parent[count] = s, i
                time[count], load[count], value[count] = t, q, c
                used[count], via[count], dead[count] = flag, way, False
                _keep_end(ends, count, there, end_t, end_q, end_flag, end_limit)
                key[count] = new_key
                for w in range(words):
                    seen[count, w] = new_seen[w]
                for w in range(cut_words):
                    odd[count, w] = new_odd[w]
                if mode == LIST:
                    for w in range(stop_words):
                        done[count, w] = done[i, w] if i >= 0 else np.uint64(0)
                    done[count, s >> 6] |= np.uint64(1) << np.uint64(s & 63)
                if spot < 0:
                    following[count] = head[bucket]
                    head[bucket] = count
                else:
                    following[count] = following[spot]
                    following[spot] = count
                if total <= cutoff:
                    done_at[finished], reduced[finished] = count, total
                    finished += 1
                    if mode == EXISTS:
                        count += 1
                        return DONE, at_stop[:count], parent[:count], via[:count], key, done_at, reduced, 1
                count += 1
        i += 1
    return DONE, at_stop[:count], parent[:count], via[:count], key, done_at, reduced, finished

"""The compiled kernel: least-cost loops of one build (or imaginary build) at one clock, by labels.

A label is a part of a loop that has just finished a stop: minutes, material since the last reload, cost less
the works' duals, and the places it remembers. One kernel serves pricing (keep what could still be best) and
listing (keep every set of stops within a cutoff).

Pricing keeps label 1 over label 2 at the same place when it is no later, carries no more, and costs no more
even after giving up the reward of every place it remembers and the other does not: whatever the other goes
on to do, it can do too, leaving those places out (true where drives obey the triangle inequality; elsewhere
the loss is infinite, which is the plain subset rule).
"""

from dataclasses import dataclass, replace

import numpy as np
from numba import njit

from optibuild.integer_program.problem import FILL_TOLERANCE, TIME_TOLERANCE_MIN, Floats, Ints

PRICE, EXISTS, LIST = 0, 1, 2
"""What a run is for: the best loops, whether any exists, or all of them."""
DONE, FULL = 0, 1
MOST_STEPS = 400
"""Steps of remaining time beyond which no completion bound is made."""


@dataclass(frozen=True)
class View:
    """One build or imaginary build at one clock, over the stops it can make (arrays over those stops).

    `cost` [n] is the stop's money less its works' duals; `drive` [P', P'] the money between places;
    places are numbered 0..p-1 for the stops', then start, then end. `memory` [p, W] holds, bit by bit, the
    places a label at a place goes on remembering; `loss` [p] the reward given up by leaving a place out.
    """

    stops: Ints
    keys: np.ndarray
    limit_min: float
    minutes: Floats
    cost: Floats
    material: Floats
    deadline: Floats
    place: Ints
    travel: Floats
    drive: Floats
    fill: float
    reload_min: float
    reload_usd: float
    may_reload: bool
    fixed: float
    memory: np.ndarray
    nearby: np.ndarray
    loss: Floats
    cuts: "CutTable"


@dataclass(frozen=True)
class CutTable:
    """Rank-1 cuts by stop, in rows one after another: stop s counts `amount` towards each cut in
    `which[first[s]:first[s+1]]`; every second count pays `price` [C]."""

    first: Ints
    which: Ints
    amount: Ints
    price: Floats


@dataclass(frozen=True)
class Found:
    """Loops found by a run, best first: reduced cost and a key of the set of stops [n each].

    `complete` is False where labels ran out: then nothing is proved.
    """

    reduced: Floats
    keys: np.ndarray
    complete: bool
    stops: Ints
    ends: Ints
    at_stop: np.ndarray
    parent: np.ndarray
    via: np.ndarray

    def loop(self, k: int) -> tuple[tuple[int, ...], tuple[bool, ...]]:
        """Stops in order (indices of the problem) and whether the truck reloads before each."""
        order: list[int] = []
        reloads: list[bool] = []
        label = int(self.ends[k])
        while label >= 0:
            order.append(int(self.stops[self.at_stop[label]]))
            reloads.append(bool(self.via[label]))
            label = int(self.parent[label])
        return tuple(reversed(order)), tuple(reversed(reloads))


def stop_keys(count: int) -> np.ndarray:
    """A random 64-bit word for each stop; the key of a set is their exclusive or."""
    return np.random.default_rng(20_011).integers(1, 2**64 - 1, size=count, dtype=np.uint64)


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
def run_labels(  # type: ignore[no-untyped-def]
    mode, cutoff, keys, limit, minutes, cost, material, deadline, place, travel, drive,
    fill, reload_min, reload_usd, may_reload, fixed, memory, loss, cut_first, cut_which, cut_amount,
    cut_price, step, least, most_labels, buckets,
):
    """Extend labels until none is left. Returns status, label arrays and the finished loops' labels."""
    n, p, words = len(minutes), len(travel) - 2, memory.shape[1]
    start, end = p, p + 1
    stop_words = (n + 63) // 64 if mode == LIST else 1
    size = most_labels  # untouched pages cost nothing, so arrays are allocated whole
    at_stop = np.empty(size, np.int32)
    parent = np.empty(size, np.int32)
    time = np.empty(size)
    load = np.empty(size)
    value = np.empty(size)
    used = np.empty(size, np.bool_)
    via = np.empty(size, np.bool_)
    dead = np.empty(size, np.bool_)
    following = np.empty(size, np.int32)
    key = np.empty(size, np.uint64)
    seen = np.empty((size, words), np.uint64)
    done = np.empty((size, stop_words), np.uint64)
    done_at = np.empty(size, np.int32)
    reduced = np.empty(size)
    cut_words = (len(cut_price) + 63) // 64
    odd = np.empty((size, cut_words), np.uint64)
    new_odd = np.zeros(cut_words, np.uint64)
    head = np.full(buckets, -1, np.int32)
    slack = limit + TIME_TOLERANCE_MIN
    room = fill * (1.0 + FILL_TOLERANCE)
    most, least_took, rate, order = gains(minutes, cost, place, travel, drive)
    homeward = drive[:p, end].min()
    reloads_matter = may_reload and material.sum() > fill
    new_seen = np.empty(words, np.uint64)
    count, finished = 0, 0
    i = -1
    while i < count:
        if i >= 0 and dead[i]:
            i += 1
            continue
        u = start if i < 0 else place[at_stop[i]]
        for s in range(n):
            v = place[s]
            bit = np.uint64(1) << np.uint64(v & 63)
            if i >= 0 and (v == u or seen[i, v >> 6] & bit):
                continue
            for detour in range(2):
                t, q, c = (0.0, 0.0, fixed) if i < 0 else (time[i], load[i], value[i])
                if detour == 0:
                    t += travel[u, v]
                    c += drive[u, v]
                else:
                    if i < 0 or not reloads_matter or q == 0.0:
                        break
                    t += travel[u, start] + reload_min + travel[start, v]
                    c += drive[u, start] + reload_usd + drive[start, v]
                    q = 0.0
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
                ending = reload_min if flag and may_reload else 0.0
                if q > room or t > deadline[s] + TIME_TOLERANCE_MIN or t + travel[v, end] + ending > slack:
                    continue
                if step > 0.0 and c + least[v, min(int((slack - t) / step), least.shape[1] - 1)] > cutoff:
                    continue
                # what the new label remembers, and the key of its set of stops
                for w in range(words):
                    new_seen[w] = (seen[i, w] & memory[v, w]) if i >= 0 else np.uint64(0)
                new_seen[v >> 6] |= bit
                total = c + drive[v, end] + (reload_usd if flag and may_reload else 0.0)
                if total > cutoff:
                    gain = most_gain(slack - t, new_seen, most, least_took, rate, order)
                    if c + homeward - gain > cutoff:
                        continue
                new_key = keys[s] ^ (key[i] if i >= 0 else np.uint64(0))
                bucket = np.int64(v) if mode != LIST else np.int64(
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
                    if old_first and time[j] <= t and load[j] <= q and used[j] <= flag:
                        price = value[j]
                        if mode != LIST:
                            price = _after_losses(odd[j], new_odd, cut_price, price, c)
                            price = _after_losses(seen[j], new_seen, loss, price, c)
                        if price <= c:
                            beaten = True
                            break
                    elif new_first and t <= time[j] and q <= load[j] and flag <= used[j]:
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
                if count == most_labels:
                    return FULL, at_stop[:count], parent[:count], via[:count], key, done_at, reduced, finished
                at_stop[count], parent[count] = s, i
                time[count], load[count], value[count] = t, q, c
                used[count], via[count], dead[count] = flag, detour == 1, False
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


def quick(view: View, mode: int, cutoff: float) -> Found:
    """A run in which labels forget what they have served when compared: fast, and proves nothing."""
    return run(replace(view, loss=np.zeros_like(view.loss)), mode, cutoff)


def exact(view: View, mode: int, cutoff: float) -> Found:
    """A run that proves what it does not find.

    Labels first remember nearby places only, which is fast and finds at least every loop there is. If all it
    finds come back to some place, labels that remember every place decide; where those grow too many, the
    loops that come back are returned.
    """
    found = run(replace(view, memory=view.nearby), mode, cutoff)
    if not found.ends.size:
        return found
    once = [k for k in range(found.ends.size) if _visits_once(view, found.loop(k)[0])]
    if once:
        return replace(found, reduced=found.reduced[once], keys=found.keys[once], ends=found.ends[once])
    decided = run(view, mode, cutoff, most_labels=30_000)
    return decided if decided.complete else found


def _visits_once(view: View, stops: tuple[int, ...]) -> bool:
    places = view.place[np.searchsorted(view.stops, stops)]
    return len(set(places.tolist())) == len(stops)


def run(view: View, mode: int, cutoff: float, most_loops: int = 20, most_labels: int = 400_000) -> Found:
    """Loops with a reduced cost of at most `cutoff`: the best few (PRICE), any one (EXISTS), all (LIST)."""
    step, least = completion(
        view.limit_min, view.minutes, view.cost, view.place, view.travel, view.drive, MOST_STEPS)
    buckets = 1 << 16 if mode == LIST else len(view.travel)
    status, at_stop, parent, via, key, done_at, reduced, finished = run_labels(
        mode, cutoff, view.keys, view.limit_min, view.minutes, view.cost, view.material, view.deadline,
        view.place, view.travel, view.drive, view.fill, view.reload_min, view.reload_usd, view.may_reload,
        view.fixed, view.memory, view.loss, view.cuts.first, view.cuts.which, view.cuts.amount,
        view.cuts.price, step, least, most_labels, buckets)
    ends = done_at[:finished]
    chosen = np.argsort(reduced[:finished], kind="stable")
    if mode != LIST:
        chosen = chosen[:most_loops]
    return Found(reduced[chosen], key[ends[chosen]], status == DONE, view.stops, ends[chosen],
                 at_stop.copy(), parent.copy(), via.copy())

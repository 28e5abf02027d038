"""Runs of the labelling kernel: what goes in, what comes out, and how a run is quick or proves."""

import threading
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optibuild.integer_program.bounds import Completion, completion, gains, loads_to_come
from optibuild.integer_program.labelling import DONE, END_RELOADS, LIST, RELOADS, run_labels
from optibuild.integer_program.labels import EndView, Labels, labels_for
from optibuild.integer_program.problem import TIME_TOLERANCE_MIN, Floats, Ints

MOST_LOOPS = 60
"""Loops that a run for the best of one build and clock gives."""
MOST_LABELS = 400_000
"""Labels of a run beyond which it gives up."""
LIKELY, EVERY = 80, 1 << 30
"""Stops, the cheapest to go on to, that a quick run goes on to from a stop; any other run."""
MOST_DECIDING = 10_000
"""Labels, each of which remembers every place, of a run that decides whether loops that come back are all."""
LOAD_STEPS = 24
"""Steps of remaining time by which it is known what can still be loaded."""
LEAST_STEPS, MOST_STEPS = 160, 400
"""Steps of what is left in a completion bound, and those beyond which none is made."""


@dataclass(frozen=True)
class View:
    """One build or imaginary build at one clock, over the n stops it can make (`stops`, `minutes`,
    `material`, `deadline` [n]).

    `cost` [n] is the stop's money less its works' duals; `travel` and `drive` [P', P'] the minutes and the
    money between places; `fill` is what the hopper holds, `fixed` the money of the loop itself; places are
    numbered 0..p-1 for the stops', then start, then end, and a round without stops does not drive from start
    to end. `memory` [p, W] holds, bit by bit in W words, the places a label at a place goes on remembering;
    `loss` [p] the reward given up by leaving a place out. `end` is the end round where that differs, and
    `ahead` what bounds may count on of the stops to come.
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
    end: EndView | None
    ahead: "Ahead"

    @cached_property
    def completion(self) -> Completion:
        """What going on costs at the least, by the time left or, where only the load is limited, by that."""
        ahead = self.ahead
        by_load = np.isinf(ahead.limit_min) and not self.may_reload and self.end is None
        limit, taken, travel = ((self.fill, self.material, np.zeros_like(self.travel)) if by_load
                                else (ahead.limit_min, ahead.minutes, self.travel))
        return completion(by_load, limit, taken, self.cost, self.place, travel, ahead.drive,
                          LEAST_STEPS, MOST_STEPS)


@dataclass(frozen=True)
class Ahead:
    """What no loop of a view can do better: `minutes` [n] of each stop, money of each drive [P', P'] and
    minutes in all, on the clock of the round that makes every stop."""

    limit_min: float
    minutes: Floats
    drive: Floats


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

    `complete` is False where labels ran out: then nothing is proved. Otherwise an exact run proves that no
    loop has a reduced cost below `floor` (the cutoff where it finds none).
    """

    reduced: Floats
    keys: np.ndarray
    complete: bool
    floor: float
    stops: Ints
    ends: Ints
    at_stop: np.ndarray
    parent: np.ndarray
    via: np.ndarray
    has_end: bool

    def loop(self, k: int) -> tuple[tuple[int, ...], tuple[bool, ...], tuple[bool, ...]]:
        """Stops in order (indices of the problem), whether the truck reloads before each, and whether it
        does in the end round (nothing where that is as the others)."""
        labels = []
        label = int(self.ends[k])
        while label >= 0:
            labels.append(label)
            label = int(self.parent[label])
        labels.reverse()
        order = tuple(int(self.stops[self.at_stop[label]]) for label in labels)
        reloads, end_reloads = (tuple(bool(self.via[label] & bit) for label in labels)
                                for bit in (RELOADS, END_RELOADS))
        return order, reloads, end_reloads if self.has_end else ()


def stop_keys(count: int) -> np.ndarray:
    """A random 64-bit word for each stop [S]; the key of a set is their exclusive or."""
    return np.random.default_rng(20_011).integers(1, 2**64 - 1, size=count, dtype=np.uint64)


def quick(view: View, mode: int, cutoff: float) -> Found:
    """A run in which labels forget what they have served when compared and go on to the likeliest stops only:
    fast, and proves nothing. Loops found have a reduced cost of at most `cutoff`."""
    return run(view, mode, cutoff, loss=np.zeros_like(view.loss), breadth=LIKELY)


def exact(view: View, mode: int, cutoff: float) -> Found:
    """A run that proves what it does not find: that no other loop has a reduced cost of at most `cutoff`.

    Labels first remember nearby places only, which is fast and finds at least every loop there is. If all it
    finds come back to some place, labels that remember every place decide; where those grow too many, the
    loops that come back are returned.
    """
    found = run(view, mode, cutoff, memory=view.nearby)
    if not found.ends.size:
        return found
    once = [k for k in range(found.ends.size) if _visits_once(view, found.loop(k)[0])]
    if once:
        return replace(found, reduced=found.reduced[once], keys=found.keys[once], ends=found.ends[once])
    decided = run(view, mode, cutoff, most_labels=MOST_DECIDING)
    return decided if decided.complete else found


def _visits_once(view: View, stops: tuple[int, ...]) -> bool:
    places = view.place[np.searchsorted(view.stops, stops)]
    return len(set(places.tolist())) == len(stops)


_kept = threading.local()


def _room(size: int, seen_words: int, stops: int, cuts: int) -> Labels:
    """Room for labels; the usual one is kept by each thread, for fresh memory costs more than a short run."""
    shape = (size, seen_words, (stops + 63) // 64 or 1, (cuts + 63) // 64)
    if size != MOST_LABELS:
        return labels_for(*shape)
    if getattr(_kept, "shape", None) != shape:
        _kept.shape, _kept.labels = shape, labels_for(*shape)
    labels: Labels = _kept.labels
    return labels


def run(view: View, mode: int, cutoff: float, most_labels: int = MOST_LABELS,
        memory: np.ndarray | None = None, loss: Floats | None = None, breadth: int = EVERY) -> Found:
    """Loops with a reduced cost of at most `cutoff`: the best few (PRICE), any one (EXISTS), all (LIST).

    `memory` [p, words] and `loss` [p] stand in for those of the view; from a stop, labels go on to the
    `breadth` cheapest.
    """
    ahead = view.ahead
    memory, loss = view.memory if memory is None else memory, view.loss if loss is None else loss
    most, least_took, rate, order = gains(ahead.minutes, view.cost, view.place, view.travel, ahead.drive)
    to_come = loads_to_come(view.limit_min + TIME_TOLERANCE_MIN, view.minutes, view.material, view.place,
                            view.travel, LOAD_STEPS)
    places = len(view.loss)
    room = _room(most_labels, memory.shape[1], view.stops.size if mode == LIST else 0, view.cuts.price.size)
    status, at_stop, parent, via, key, done_at, reduced, finished = run_labels(
        mode, cutoff, view.keys, view.limit_min, view.minutes, view.cost, view.material, view.deadline,
        view.place, view.travel, view.drive, view.fill, view.reload_min, view.reload_usd, view.may_reload,
        view.fixed, memory, loss, view.cuts.first, view.cuts.which, view.cuts.amount,
        view.cuts.price, view.completion, most, least_took, rate, order,
        float(ahead.drive[:places, -1].min()), to_come, room,
        1 << 16 if mode == LIST else (places + 1) ** 2, breadth, view.end)
    ends = done_at[:finished]
    chosen = np.argsort(reduced[:finished], kind="stable")
    if mode != LIST:
        chosen = chosen[:MOST_LOOPS]
    floor = float(reduced[chosen[0]]) if finished else cutoff
    return Found(reduced[chosen], key[ends[chosen]], status == DONE, floor, view.stops, ends[chosen],
                 at_stop.copy(), parent.copy(), via.copy(), view.end is not None)

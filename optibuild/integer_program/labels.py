"""Room for the labels of the compiled kernel, and what it is told of the end round."""

from typing import NamedTuple

import numpy as np

from optibuild.integer_program.problem import Bools, Floats, Ints


class EndView(NamedTuple):
    """The end round of a view over n stops and their places: minutes, material, limits, whether a stop is
    made in this round only [n], the money of drives (`drive` [P', P']) and of a reload; `latest` is the
    greatest limit that a loop with work of the end can have."""

    minutes: Floats
    material: Floats
    limit: Floats
    only: Bools
    drive: Floats
    reload_usd: float
    latest: float


class Labels(NamedTuple):
    """Room for labels [labels]: the last stop, the label before, minutes (`time`), material since the last
    reload (`load`), cost less duals (`value`), whether material was used, reloads before the stop, whether
    another label beats it, the next in its bucket, the key of its set of stops, the places it remembers, the
    stops it made (to list them), which cuts wait for a second work; and the finished loops' labels and
    reduced costs."""

    at_stop: Ints
    parent: Ints
    time: Floats
    load: Floats
    value: Floats
    used: Bools
    via: Ints
    dead: Bools
    following: Ints
    key: Ints
    seen: Ints
    done: Ints
    odd: Ints
    done_at: Ints
    reduced: Floats


def labels_for(size: int, seen_words: int, stop_words: int, cut_words: int) -> Labels:
    """Room for so many labels, with words of 64 bits a label for places, stops made and cuts. Pages that are
    never touched cost nothing."""
    def words(count: int) -> Ints:
        return np.empty((size, count), np.uint64)

    figures = np.empty((size, 4))  # what labels are compared by lies side by side
    return Labels(
        np.empty(size, np.int32), np.empty(size, np.int32), figures[:, 0], figures[:, 1], figures[:, 2],
        np.empty(size, np.bool_), np.empty(size, np.uint8), np.empty(size, np.bool_),
        np.empty(size, np.int32), np.empty(size, np.uint64), words(seen_words), words(stop_words),
        words(cut_words), np.empty(size, np.int32), np.empty(size))


class EndLabels(NamedTuple):
    """What labels know of the end round, its `time`, `load` and `limit`, and the place where the truck is in
    the plain round [labels]."""

    here: Ints
    time: Floats
    load: Floats
    used: Bools
    limit: Floats

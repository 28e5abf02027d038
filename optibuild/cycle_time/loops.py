"""One loop in a given order of stops: when it arrives and leaves, and where it best reloads."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf, isfinite
from typing import NamedTuple

import numpy as np

from optibuild.cycle_time.reach import FILL_TOLERANCE, TIME_TOLERANCE_MIN
from optibuild.records.build import Builds, Floats
from optibuild.records.case import Case
from optibuild.records.loop import ChosenLoop, ServiceTimes
from optibuild.records.loop_times import Binding, Limit, LoopTimes, RoundTimes

DEPOT = -1
"""Where the depot stands among the places of a round: behind the stops, so that it is also the last."""


class Visit(NamedTuple):
    """What a round does at a stop; the material is that of the build."""

    minutes: float
    material_kg: float
    deadline_min: float


@dataclass(frozen=True)
class Round:
    """One kind of round over some stops, in plain numbers.

    `visits` has an entry for every stop, None where the round skips it. `drive_min` and `meters` are between
    places: the stops, then the depot.
    """

    visits: tuple[Visit | None, ...]
    drive_min: list[list[float]]
    meters: list[list[float]]
    reload_min: float
    fill_kg: float
    within_min: float
    reserve_min: float

    def between_min(self, here: int, there: int, reload: bool) -> float:
        """Minutes from a place to the next, with the reload between."""
        return sum(self.drive_min[a][b] for a, b in legs(here, there, reload)) + reload * self.reload_min

    def home_min(self, here: int) -> float:
        """Minutes from the last stop until the truck is ready again: full, if the round used material."""
        return self.drive_min[here][DEPOT] + self.last_reload_min

    @property
    def last_reload_min(self) -> float:
        """Fixed minutes of the reload that the round ends with."""
        return self.ends_with_reload * self.reload_min

    @cached_property
    def ends_with_reload(self) -> bool:
        """Whether the round uses material."""
        return any(visit is not None and visit.material_kg > 0 for visit in self.visits)


class Way(NamedTuple):
    """A round so far: when it left its last stop, what it used since it was full, where that stop is, and
    before which stops of the loop it reloaded."""

    leave_min: float
    used_kg: float
    here: int
    reload_before: tuple[bool, ...]


START = Way(0.0, 0.0, DEPOT, ())


def evaluate_loop(
    case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int, stops: Sequence[int]
) -> LoopTimes | None:
    """The least duration of a loop that makes these stops (indices into times.stops) in this order.

    `crewed` and `clock` index the axes C and K. None where no choice of reloads keeps fill and deadlines, or
    where a stop is impossible for the build; a round longer than it may be has a negative slack. No work has
    an earliest time, so a truck that waited would only be later everywhere: it never does.
    """
    rounds, order = rounds_of(case, builds, times, crewed, clock, stops), range(len(stops))
    reloads = [least_reloads(one, order) for one in rounds]
    kept = [before for before in reloads if before is not None]
    return loop_times(rounds, stops, order, kept) if len(kept) == len(rounds) else None


def drive_loop(case: Case, builds: Builds, times: ServiceTimes, chosen: ChosenLoop) -> LoopTimes:
    """The times of a loop as it was chosen, with its own reloads."""
    rounds = rounds_of(case, builds, times, chosen.crewed, chosen.clock, chosen.stops)
    reloads = (chosen.reload_before, chosen.end_reload_before)[:len(rounds)]
    return loop_times(rounds, chosen.stops, range(len(chosen.stops)), reloads)


def rounds_of(
    case: Case, builds: Builds, times: ServiceTimes, crewed: int, clock: int, stops: Sequence[int]
) -> tuple[Round, ...]:
    """The round that a loop of these stops repeats, and its last one where that is another.

    The repeated one skips what only the last one makes. The last one is over within the least limit of its
    stops; deadlines are kept by the first round, so it has none.
    """
    chosen, depot = np.array(stops, dtype=np.int64), int(times.depot[crewed])
    site = [times.stops[stop].site for stop in stops]
    places = [*(len(case.depots) + n for n in site), depot]
    road = np.ix_(places, places)
    strength = float(times.strength[crewed])
    deadlines = [case.sites[n].deadline_min for n in site]
    every = Round(
        _visits(times.minutes[crewed, clock, chosen], times.material_kg[chosen] / strength, deadlines),
        times.travel.minutes[road].tolist(), times.travel.meters[road].tolist(),
        case.depots[depot].reload_time_min, float(builds.usable_fill_kg[times.build[crewed]]),
        float(times.clocks_min[clock]), case.solve.reserve_min)
    end = times.end
    if end is None or not np.isfinite(end.limit_min[chosen]).any():
        return (every,)
    repeated = zip(every.visits, end.only[chosen].tolist(), strict=True)
    last = _visits(end.minutes[crewed, clock, chosen], end.material_kg[chosen] / strength, [inf] * len(site))
    return (replace(every, visits=tuple(None if only else visit for visit, only in repeated)),
            replace(every, visits=last, within_min=float(end.limit_min[chosen].min())))


def _visits(minutes: Floats, material_kg: Floats, deadline_min: list[float]) -> tuple[Visit, ...]:
    return tuple(map(Visit, minutes.tolist(), material_kg.tolist(), deadline_min))


def onward(one: Round, way: Way, stop: int) -> Iterator[Way]:
    """The ways on to one more stop: straight, or by the depot with a reload. Only those that keep fill and
    deadline; a hopper that is still full needs no reload."""
    visit = one.visits[stop]
    if visit is None:
        yield way._replace(reload_before=(*way.reload_before, False))
        return
    for reload in (False, True) if way.used_kg > 0 else (False,):
        leave = way.leave_min + one.between_min(way.here, stop, reload) + visit.minutes
        used = visit.material_kg + (0.0 if reload else way.used_kg)
        if (used <= one.fill_kg * (1 + FILL_TOLERANCE) and leave < inf
                and leave <= visit.deadline_min + TIME_TOLERANCE_MIN):
            yield Way(leave, used, stop, (*way.reload_before, reload))


def legs(here: int, there: int, reload: bool) -> tuple[tuple[int, int], ...]:
    """The legs from place to place, by the depot where it reloads."""
    return ((here, DEPOT), (DEPOT, there)) if reload else ((here, there),)


def least_reloads(one: Round, order: Iterable[int]) -> tuple[bool, ...] | None:
    """Before which stops of this order to reload so that the round is over first; None where no way keeps
    fill and deadlines.

    Exact: of the ways to a stop, one that leaves later with no less used can never be the better one.
    """
    ways = [START]
    for stop in order:
        further = sorted(on for way in ways for on in onward(one, way, stop))
        ways = [way for k, way in enumerate(further)
                if all(earlier.used_kg > way.used_kg for earlier in further[:k])]
    return ways[0].reload_before if ways and one.home_min(ways[0].here) < inf else None


def loop_times(
    rounds: Sequence[Round], stops: Sequence[int], order: Sequence[int], reloads: Sequence[tuple[bool, ...]]
) -> LoopTimes:
    """The times of the stops made in this order, each kind of round with its own reloads."""
    told = [_round_times(one, order, before) for one, before in zip(rounds, reloads, strict=True)]
    _, binds = min(_limits(rounds, order, told), key=lambda limit: limit[0])
    return LoopTimes(**vars(told[0]), stops=tuple(stops[n] for n in order), binds=binds,
                     end=told[1] if len(told) > 1 else None)


def _round_times(one: Round, order: Sequence[int], reload_before: tuple[bool, ...]) -> RoundTimes:
    clock, here = 0.0, DEPOT
    driven: list[tuple[int, int]] = []
    at: list[tuple[float | None, float | None]] = []
    for stop, reload in zip(order, reload_before, strict=True):
        visit = one.visits[stop]
        if visit is None:
            at.append((None, None))
            continue
        driven += legs(here, stop, reload)
        arrive = clock + one.between_min(here, stop, reload)
        clock, here = arrive + visit.minutes, stop
        at.append((arrive, clock))
    driven.append((here, DEPOT))
    reloads = sum(reload_before) + one.ends_with_reload
    duration = clock + one.home_min(here)
    return RoundTimes(
        tuple(arrive for arrive, _ in at), tuple(leave for _, leave in at), reload_before, duration,
        sum(one.drive_min[a][b] for a, b in driven), reloads * one.reload_min,
        sum(one.meters[a][b] for a, b in driven), reloads, one.within_min,
        _settled(one.within_min - one.reserve_min - duration, TIME_TOLERANCE_MIN))


def _settled(left: float, noise: float) -> float:
    """What is left of a limit; nothing, where it is missed by no more than noise."""
    return 0.0 if -noise <= left < 0 else left


def _limits(
    rounds: Sequence[Round], order: Sequence[int], told: Sequence[RoundTimes]
) -> Iterator[tuple[float, Binding]]:
    """Every limit of a loop with the share of it that is left."""
    names: tuple[Limit, ...] = ("cycle limit", "end round")
    for name, one, times in zip(names, rounds, told, strict=False):
        yield times.slack_min / one.within_min, Binding(name, times.slack_min)
        used = 0.0
        for at, (stop, reload) in enumerate(zip(order, times.reload_before, strict=True)):
            visit = one.visits[stop]
            used = (0.0 if reload else used) + (visit.material_kg if visit else 0.0)
            if used > 0:
                left = _settled(one.fill_kg - used, one.fill_kg * FILL_TOLERANCE)
                yield left / one.fill_kg, Binding("fill", left, at)
    for at, (stop, leave) in enumerate(zip(order, told[0].leave_min, strict=True)):
        visit = rounds[0].visits[stop]
        if visit is not None and leave is not None and isfinite(visit.deadline_min):
            left = _settled(visit.deadline_min - leave, TIME_TOLERANCE_MIN)
            yield left / visit.deadline_min, Binding("deadline", left, at)

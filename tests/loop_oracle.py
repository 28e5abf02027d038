"""The slow, obvious answer to a small LoopProblem: every loop, then every way to cover the works with them.

Shares no code with the engine. Minutes and money of a loop are summed step by step as the problem's
description says; a loop is given up only when it is already late, overfull or out of time to get home
(drives are closed under shortest paths, so more stops never help).
"""

from collections import defaultdict
from dataclasses import asdict, dataclass
from itertools import product
from math import inf, isfinite
from operator import add
from types import SimpleNamespace
from typing import Any

from optibuild.integer_program import LoopOutcome, LoopProblem

LATE_MIN, OVERFULL = 1e-6, 1e-9

Key = tuple[int, tuple[float, ...]]
Stock = tuple[float, ...]
State = tuple[tuple[float, ...], Stock, int, frozenset[int]]


@dataclass(frozen=True)
class Part:
    """A loop under way: where the truck is, minutes and money so far, material since the last reload and in
    all, and the stops made with whether it reloaded before each."""

    here: int
    minutes: float
    money: float
    load: float
    used: float
    stops: tuple[int, ...] = ()
    reload_before: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Answer:
    """Least cost without what is lost by missing groups; the groups missed."""

    cost_usd: float
    missed: frozenset[int]


def plain(problem: LoopProblem) -> Any:
    """The problem's arrays as plain lists."""
    return SimpleNamespace(**{name: value.tolist() if hasattr(value, "tolist") else value
                              for name, value in asdict(problem).items()})


def _drive(p: Any, part: Part, build: int, clock: int, to: int) -> Part:
    minutes, metres = p.travel_min[part.here][to], p.distance_m[part.here][to]
    money = p.drive_usd_per_min[build][clock] * minutes + p.drive_usd_per_m[build][clock] * metres
    return Part(to, part.minutes + minutes, part.money + money, part.load, part.used, part.stops,
                part.reload_before)


def _reload(p: Any, part: Part, build: int, clock: int) -> Part:
    minutes = p.reload_min[build]
    return Part(part.here, part.minutes + minutes, part.money + p.drive_usd_per_min[build][clock] * minutes,
                0.0, part.used, part.stops, part.reload_before)


def add_stop(p: Any, part: Part, build: int, clock: int, stop: int, reload: bool) -> Part | None:
    """The loop with one more stop at its end; None where the stop cannot be made then."""
    if reload:
        part = _reload(p, _drive(p, part, build, clock, p.start[build]), build, clock)
    part = _drive(p, part, build, clock, p.place[stop])
    minutes = part.minutes + p.minutes[build][clock][stop]
    load = part.load + p.material_kg[stop]
    possible = (p.stop_limit_min[stop] >= p.cycle_limit_min[clock]
                and p.place[stop] not in [p.place[s] for s in part.stops]
                and minutes <= p.deadline_min[stop] + LATE_MIN
                and load <= p.fill_kg[build] * (1 + OVERFULL))
    if not possible:
        return None
    return Part(part.here, minutes, part.money + p.stop_usd[build][clock][stop], load,
                part.used + p.material_kg[stop], (*part.stops, stop), (*part.reload_before, reload))


def drive_home(p: Any, part: Part, build: int, clock: int) -> Part | None:
    """The loop finished, with its last reload; None where it takes longer than its cycle limit."""
    part = _drive(p, part, build, clock, p.end[build])
    if p.may_reload and part.used > 0:
        part = _reload(p, part, build, clock)
    return part if part.minutes <= p.cycle_limit_min[clock] + LATE_MIN else None


def every_run(p: Any) -> dict[Key, float]:
    """For each build and amounts of work, the cost of the cheapest of all its loops: every order of every
    set of stops, at every clock, with every choice of reloads."""
    cheapest: dict[Key, float] = defaultdict(lambda: inf)
    for build, clock in product(range(len(p.fixed_usd)), range(len(p.cycle_limit_min))):
        _extend(p, build, clock, Part(p.start[build], 0.0, p.fixed_usd[build], 0.0, 0.0), cheapest)
    return cheapest


def _extend(p: Any, build: int, clock: int, part: Part, cheapest: dict[Key, float]) -> None:
    choices = (False, True) if p.may_reload and part.load else (False,)
    for stop, reload in product(range(len(p.place)), choices):
        longer = add_stop(p, part, build, clock, stop, reload)
        home = drive_home(p, longer, build, clock) if longer else None
        if longer and home:
            amounts = tuple(sum(p.amount[s][t] for s in longer.stops) for t in range(len(p.need)))
            cheapest[build, amounts] = min(cheapest[build, amounts], home.money)
            _extend(p, build, clock, longer, cheapest)


def taken(p: Any, used: Stock) -> tuple[list[float], list[float]]:
    """Items bought and owned ones used where so many of each are used: the owned ones first."""
    kept = [min(n, owned) for n, owned in zip(used, p.owned, strict=True)]
    return [n - k for n, k in zip(used, kept, strict=True)], kept


def in_stock(p: Any, used: Stock) -> bool:
    """Whether so many of each item are within stock and budget."""
    bought, _ = taken(p, used)
    spent = sum(n * price for n, price in zip(bought, p.price_usd, strict=True))
    return spent <= p.budget_usd + 1e-6 and all(n <= m for n, m in zip(bought, p.available, strict=True))


def item_cost(p: Any, used: Stock) -> float:
    """A year of so many of each item."""
    bought, kept = taken(p, used)
    return (sum(n * usd for n, usd in zip(bought, p.annual_usd, strict=True))
            + sum(n * usd for n, usd in zip(kept, p.upkeep_usd, strict=True)))


def money_only(p: Any) -> Any:
    """The problem with items that nobody owns and nothing limits turned into money of the builds that use
    them: how many are used matters to nothing else."""
    counts = [i for i in range(len(p.price_usd))
              if p.owned[i] > 0 or isfinite(p.available[i]) or isfinite(p.budget_usd)]
    fixed = [usd + sum(n * p.annual_usd[i] for i, n in enumerate(uses) if i not in counts)
             for usd, uses in zip(p.fixed_usd, p.uses, strict=True)]
    kept = {name: [getattr(p, name)[i] for i in counts]
            for name in ("price_usd", "annual_usd", "owned", "upkeep_usd", "available")}
    return SimpleNamespace(**(vars(p) | kept | {
        "fixed_usd": fixed, "uses": [[uses[i] for i in counts] for uses in p.uses]}))


def answers(problem: LoopProblem) -> list[Answer]:
    """The least cost for every set of groups that may be missed together: for the first work that still
    lacks something, every loop that does some of it, or the miss of its group, is tried in turn.

    What is still lacking, items used, loops run and groups missed are all that later choices depend on.
    """
    p = money_only(plain(problem))
    runs = [(build, amounts, usd) for (build, amounts), usd in every_run(p).items()]
    layer: dict[State, float] = {(tuple(p.need), (0.0,) * len(p.price_usd), 0, frozenset()): 0.0}
    least: dict[frozenset[int], float] = defaultdict(lambda: inf)
    while layer:
        following: dict[State, float] = defaultdict(lambda: inf)
        for state, usd in layer.items():
            work = next((t for t, need in enumerate(state[0]) if need > 1e-9), None)
            if work is None:
                least[state[3]] = min(least[state[3]], usd + item_cost(p, state[1]))
            else:
                for after, more in _next(p, state, work, runs):
                    following[after] = min(following[after], usd + more)
        layer = following
    return [Answer(usd, missed) for missed, usd in least.items()]


def _next(p: Any, state: State, work: int,
          runs: list[tuple[int, tuple[float, ...], float]]) -> list[tuple[State, float]]:
    lacking, used, loops, missed = state
    group, found = p.group[work], []
    if isfinite(p.missed_usd[group]):
        left = tuple(0.0 if g == group else need for g, need in zip(p.group, lacking, strict=True))
        found.append(((left, used, loops, missed | {group}), 0.0))
    allowed = {}
    if loops + 1 <= p.most_loops:
        more = {b: tuple(map(add, used, uses)) for b, uses in enumerate(p.uses)}
        allowed = {b: stock for b, stock in more.items() if in_stock(p, stock)}
    counted = loops + 1 if isfinite(p.most_loops) else 0
    for build, amounts, usd in runs:
        if amounts[work] > 0 and build in allowed:
            left = tuple(max(0.0, need - done) for need, done in zip(lacking, amounts, strict=True))
            found.append(((left, allowed[build], counted, missed), usd))
    return found


def least_objective(problem: LoopProblem) -> float:
    """The objective of the best plan; inf where there is none."""
    p = plain(problem)
    return min((found.cost_usd + sum(p.missed_usd[g] for g in found.missed) + p.constant_usd
                for found in answers(problem)
                if not p.worth or sum(p.worth[g] for g in found.missed) <= p.most_missed_worth + 1e-6),
               default=inf)


def recount(problem: LoopProblem, outcome: LoopOutcome) -> float:
    """The objective of the engine's plan summed afresh from its loops; AssertionError where it breaks a
    promise: a loop that cannot be, a work not covered, an item or the budget overdrawn."""
    p = plain(problem)
    used, done = (0.0,) * len(p.price_usd), [0.0] * len(p.need)
    usd, loops = p.constant_usd + sum(p.missed_usd[g] for g in outcome.missed), 0
    for loop, times in outcome.loops:
        part: Part | None = Part(p.start[loop.build], 0.0, p.fixed_usd[loop.build], 0.0, 0.0)
        for stop, reload in zip(loop.stops, loop.reload_before, strict=True):
            part = add_stop(p, part, loop.build, loop.clock, stop, reload) if part else None
            done = [a + times * b for a, b in zip(done, p.amount[stop], strict=True)]
        home = drive_home(p, part, loop.build, loop.clock) if part else None
        assert home, f"not a loop: {loop}"
        used = tuple(a + times * b for a, b in zip(used, p.uses[loop.build], strict=True))
        usd, loops = usd + times * home.money, loops + times
    assert in_stock(p, used) and loops <= p.most_loops
    assert all(amount >= need - 1e-9 or group in outcome.missed
               for amount, need, group in zip(done, p.need, p.group, strict=True))
    return usd + item_cost(p, used)

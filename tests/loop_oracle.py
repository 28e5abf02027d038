"""The slow, obvious answer to a small LoopProblem: every loop, then every way to cover the works with them.

Shares no code with the engine. Minutes and money of a loop are summed step by step as the problem's
description says; a loop is given up only when it is already late, overfull or out of time to get home
(drives are closed under shortest paths, so more stops never help).
"""

from collections import defaultdict
from dataclasses import asdict, dataclass, replace
from itertools import product
from math import inf, isfinite
from operator import add
from types import SimpleNamespace
from typing import Any

from optibuild.integer_program import Column, LoopOutcome, LoopProblem

LATE_MIN, OVERFULL = 1e-6, 1e-9

Key = tuple[int, tuple[float, ...]]
Stock = tuple[float, ...]
State = tuple[tuple[float, ...], Stock, int, frozenset[int]]


@dataclass(frozen=True)
class Part:
    """One kind of round of a loop under way: where the truck is, minutes and money of driving so far,
    material since the last reload and in all, and how many stops it has made."""

    here: int
    minutes: float = 0.0
    money: float = 0.0
    load: float = 0.0
    used: float = 0.0
    made: int = 0


@dataclass(frozen=True)
class Answer:
    """Least cost without what is lost by missing groups; the groups missed."""

    cost_usd: float
    missed: frozenset[int]


def plain(problem: LoopProblem) -> Any:
    """The problem's arrays as plain lists, with its kinds of round: the plain one keeps deadlines and the
    cycle limit and drives past the stops made only at the end; the end round keeps its stops' limits."""
    def lists(values: dict[str, Any]) -> dict[str, Any]:
        return {name: value.tolist() if hasattr(value, "tolist") else value for name, value in values.items()}

    values = asdict(problem)
    end = values.pop("end_round")
    p = SimpleNamespace(**lists(values))
    count = len(p.place)
    ever = SimpleNamespace(
        minutes=p.minutes, material=p.material_kg, by_min=p.drive_usd_per_min, by_m=p.drive_usd_per_m,
        past=[False] * count, due=p.deadline_min, longest=lambda clock, stops: p.cycle_limit_min[clock])
    p.rounds = [ever]
    if end is not None:
        e = SimpleNamespace(**lists(end))
        ever.past = e.only
        p.rounds.append(SimpleNamespace(
            minutes=e.minutes, material=e.material_kg, by_min=e.drive_usd_per_min, by_m=e.drive_usd_per_m,
            past=[False] * count, due=[inf] * count,
            longest=lambda clock, stops: min(e.limit_min[s] for s in stops)))
    return p


def _drive(p: Any, r: Any, part: Part, build: int, clock: int, to: int) -> Part:
    minutes, meters = p.travel_min[part.here][to], p.distance_m[part.here][to]
    money = r.by_min[build][clock] * minutes + r.by_m[build][clock] * meters
    return replace(part, here=to, minutes=part.minutes + minutes, money=part.money + money)


def _reload(p: Any, r: Any, part: Part, build: int, clock: int) -> Part:
    minutes = p.reload_min[build]
    money = part.money + r.by_min[build][clock] * minutes
    return replace(part, minutes=part.minutes + minutes, money=money, load=0.0)


def may_follow(p: Any, clock: int, stops: tuple[int, ...], stop: int) -> bool:
    """Whether a stop may come after these in a loop of a clock: at a place of its own, within its limit."""
    return (p.stop_limit_min[stop] >= p.cycle_limit_min[clock]
            and p.place[stop] not in [p.place[s] for s in stops])


def add_stop(p: Any, r: Any, part: Part, build: int, clock: int, stop: int, reload: bool) -> Part | None:
    """The round with one more stop at its end; None where the stop cannot be made then."""
    if r.past[stop]:
        return None if reload else part
    if reload:
        part = _reload(p, r, _drive(p, r, part, build, clock, p.start[build]), build, clock)
    part = _drive(p, r, part, build, clock, p.place[stop])
    minutes, load = part.minutes + r.minutes[build][clock][stop], part.load + r.material[stop]
    if (minutes == inf or minutes > r.due[stop] + LATE_MIN
            or load > p.fill_kg[build] * (1 + OVERFULL)):
        return None
    return replace(part, minutes=minutes, load=load, used=part.used + r.material[stop], made=part.made + 1)


def drive_home(p: Any, r: Any, part: Part, build: int, clock: int, stops: tuple[int, ...]) -> Part | None:
    """The round finished, with its last reload; None where it takes longer than a loop of these stops may.
    A round without stops does not drive."""
    if part.made:
        part = _drive(p, r, part, build, clock, p.end[build])
    if p.may_reload and part.used > 0:
        part = _reload(p, r, part, build, clock)
    return part if part.minutes <= r.longest(clock, stops) + LATE_MIN else None


def every_run(p: Any) -> dict[Key, float]:
    """For each build and amounts of work, the cost of the cheapest of all its loops: every order of every
    set of stops, at every clock, with every choice of reloads in each kind of round."""
    cheapest: dict[Key, float] = defaultdict(lambda: inf)
    for build, clock in product(range(len(p.fixed_usd)), range(len(p.cycle_limit_min))):
        ways = [[Part(p.start[build])] for _ in p.rounds]
        _extend(p, build, clock, (), ways, cheapest)
    return cheapest


def _extend(p: Any, build: int, clock: int, stops: tuple[int, ...], ways: list[list[Part]],
            cheapest: dict[Key, float]) -> None:
    """Try every stop next; `ways` are, for each kind of round, those of driving it so far."""
    for stop in range(len(p.place)):
        if not may_follow(p, clock, stops, stop):
            continue
        longer = (*stops, stop)
        after, homes = [], []
        for r, parts in zip(p.rounds, ways, strict=True):
            ways_on = [(part, reload) for part in parts for reload in (False, True)
                       if not reload or p.may_reload and part.load]
            made = [more for part, reload in ways_on
                    if (more := add_stop(p, r, part, build, clock, stop, reload))]
            home = [(more, done) for more in made
                    if (done := drive_home(p, r, more, build, clock, longer))]
            after.append([more for more, _ in home])
            homes.append([done.money for _, done in home])
        if all(homes):
            amounts = tuple(sum(p.amount[s][t] for s in longer) for t in range(len(p.need)))
            usd = (p.fixed_usd[build] + sum(p.stop_usd[build][clock][s] for s in longer)
                   + sum(min(usd) for usd in homes))
            cheapest[build, amounts] = min(cheapest[build, amounts], usd)
            _extend(p, build, clock, longer, after, cheapest)


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
        assert all(may_follow(p, loop.clock, loop.stops[:k], stop) for k, stop in enumerate(loop.stops))
        promised = (loop.reload_before, loop.duration_min), (loop.end_reload_before, loop.end_duration_min)
        for r, (reload_before, minutes) in zip(p.rounds, promised, strict=False):
            home = _driven(p, r, loop, reload_before)
            assert home and abs(home.minutes - minutes) <= LATE_MIN, f"not a loop: {loop}"
            usd += times * home.money
        used = tuple(a + times * b for a, b in zip(used, p.uses[loop.build], strict=True))
        usd += times * (p.fixed_usd[loop.build]
                        + sum(p.stop_usd[loop.build][loop.clock][s] for s in loop.stops))
        done = [a + times * sum(p.amount[s][t] for s in loop.stops) for t, a in enumerate(done)]
        loops += times
    assert in_stock(p, used) and loops <= p.most_loops
    assert all(amount >= need - 1e-9 or group in outcome.missed
               for amount, need, group in zip(done, p.need, p.group, strict=True))
    return usd + item_cost(p, used)


def _driven(p: Any, r: Any, loop: Column, reload_before: tuple[bool, ...]) -> Part | None:
    part: Part | None = Part(p.start[loop.build])
    for stop, reload in zip(loop.stops, reload_before, strict=True):
        part = add_stop(p, r, part, loop.build, loop.clock, stop, reload) if part else None
    return drive_home(p, r, part, loop.build, loop.clock, loop.stops) if part else None

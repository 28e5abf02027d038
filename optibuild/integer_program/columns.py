"""One loop as a column of the program: what it covers, takes and costs, computed exactly."""

from dataclasses import dataclass

import numpy as np

from optibuild.integer_program.problem import Floats, LoopProblem


@dataclass(frozen=True)
class Column:
    """A loop of one build at one clock. `cost_usd` holds a year of the items nobody owns; `price_usd` what
    is paid for those; `covers` the works and amounts."""

    build: int
    clock: int
    stops: tuple[int, ...]
    reload_before: tuple[bool, ...]
    duration_min: float
    drive_min: float
    distance_m: float
    reloads: int
    cost_usd: float
    price_usd: float
    covers: tuple[tuple[int, float], ...]

    @property
    def key(self) -> tuple[int, int, tuple[int, ...], tuple[bool, ...]]:
        """What tells two columns apart."""
        return self.build, self.clock, self.stops, self.reload_before


def column(
    problem: LoopProblem, build: int, clock: int, stops: tuple[int, ...], reload_before: tuple[bool, ...]
) -> Column:
    """Measure a loop: duration [min], drive [min], distance [m], cost and price [USD], coverage."""
    start, end = int(problem.start[build]), int(problem.end[build])
    drive, distance, reloads, here = 0.0, 0.0, 0, start
    for stop, reload in zip(stops, reload_before, strict=True):
        there = int(problem.place[stop])
        for a, b in ((here, start), (start, there)) if reload else ((here, there),):
            drive += float(problem.travel_min[a, b])
            distance += float(problem.distance_m[a, b])
        reloads += reload
        here = there
    drive += float(problem.travel_min[here, end])
    distance += float(problem.distance_m[here, end])
    chosen = list(stops)
    if problem.may_reload and float(problem.material_kg[chosen].sum()) > 0:
        reloads += 1
    reload_min = reloads * float(problem.reload_min[build]) if reloads else 0.0
    cost = (
        float(problem.own_cost_usd[build])
        + float(problem.drive_usd_per_min[build, clock]) * (drive + reload_min)
        + float(problem.drive_usd_per_m[build, clock]) * distance
        + float(problem.stop_usd[build, clock, chosen].sum())
    )
    return Column(
        build, clock, stops, reload_before,
        drive + reload_min + float(problem.minutes[build, clock, chosen].sum()),
        drive, distance, reloads, cost, float(problem.own_price_usd[build]),
        coverage(problem, chosen),
    )


def coverage(problem: LoopProblem, stops: list[int]) -> tuple[tuple[int, float], ...]:
    """Works and amounts that a set of stops does."""
    amounts: Floats = problem.amount[stops].sum(axis=0)
    return tuple((int(work), float(amounts[work])) for work in np.flatnonzero(amounts))


def keep_undominated(problem: LoopProblem, columns: list[Column]) -> list[Column]:
    """Of columns that do the same works with the same scarce items, those no other beats in cost (and in
    price, where there is a budget). Leaving the others out never changes the optimum."""
    rowed = np.flatnonzero(problem.held | problem.scarce)
    budgeted = np.isfinite(problem.budget_usd)
    groups: dict[tuple[tuple[tuple[int, float], ...], tuple[float, ...]], list[Column]] = {}
    for one in sorted(columns, key=lambda c: (c.cost_usd, c.price_usd, c.key)):
        signature = (one.covers, tuple(problem.uses[one.build, rowed]))
        kept = groups.setdefault(signature, [])
        if not kept or (budgeted and one.price_usd < kept[-1].price_usd):
            kept.append(one)
    return [one for kept in groups.values() for one in kept]

"""One loop as a column of the program: what it covers, takes and costs, computed exactly."""

from dataclasses import dataclass

import numpy as np

from optibuild.integer_program.problem import EndRound, Floats, LoopProblem


@dataclass(frozen=True)
class Column:
    """A loop of one build at one clock. `cost_usd` holds a year of the items nobody owns; `price_usd` what
    is paid for those; `covers` the works and amounts.

    Duration, drive, distance and reloads are a plain round's. `end_reload_before` and `end_duration_min` are
    the end round's; where the problem has none of its own, it is as the others and the former is empty.
    """

    build: int
    clock: int
    stops: tuple[int, ...]
    reload_before: tuple[bool, ...]
    end_reload_before: tuple[bool, ...]
    duration_min: float
    end_duration_min: float
    drive_min: float
    distance_m: float
    reloads: int
    cost_usd: float
    price_usd: float
    covers: tuple[tuple[int, float], ...]

    @property
    def key(self) -> tuple[int, int, tuple[int, ...], tuple[bool, ...], tuple[bool, ...]]:
        """What tells two columns apart."""
        return self.build, self.clock, self.stops, self.reload_before, self.end_reload_before


def column(
    problem: LoopProblem, build: int, clock: int, stops: tuple[int, ...], reload_before: tuple[bool, ...],
    end_reload_before: tuple[bool, ...] = (),
) -> Column:
    """Measure a loop: duration [min], drive [min], distance [m], cost and price [USD], coverage."""
    repeated = [(stop, reload) for stop, reload in zip(stops, reload_before, strict=True)
                if problem.repeated[stop]]
    plain = end = _drive(problem, problem, build, clock, repeated)
    usd = [float(problem.own_cost_usd[build]), *plain.usd]
    if problem.end_round is not None:
        end = _drive(problem, problem.end_round, build, clock,
                     list(zip(stops, end_reload_before, strict=True)))
        usd += end.usd
    chosen = list(stops)
    usd.append(float(problem.stop_usd[build, clock, chosen].sum()))
    return Column(
        build, clock, stops, reload_before, end_reload_before, plain.duration_min, end.duration_min,
        plain.drive_min, plain.distance_m, plain.reloads, sum(usd), float(problem.own_price_usd[build]),
        coverage(problem, chosen),
    )


@dataclass(frozen=True)
class _Driven:
    """A round driven: from leaving the depot to being ready again, drive, reloads, and money of driving by
    the minute and by the meter."""

    duration_min: float
    drive_min: float
    distance_m: float
    reloads: int
    usd: tuple[float, float]


def _drive(problem: LoopProblem, kind: LoopProblem | EndRound, build: int, clock: int,
           visits: list[tuple[int, bool]]) -> _Driven:
    """One kind of round over its stops, each with whether the truck reloads before it."""
    start, end = int(problem.start[build]), int(problem.end[build])
    drive, distance, reloads, here = 0.0, 0.0, 0, start
    for stop, reload in visits:
        there = int(problem.place[stop])
        for a, b in ((here, start), (start, there)) if reload else ((here, there),):
            drive += float(problem.travel_min[a, b])
            distance += float(problem.distance_m[a, b])
        reloads += reload
        here = there
    stops = [stop for stop, _ in visits]
    if stops:
        drive += float(problem.travel_min[here, end])
        distance += float(problem.distance_m[here, end])
    if problem.may_reload and float(kind.material_kg[stops].sum()) > 0:
        reloads += 1
    reload_min = reloads * float(problem.reload_min[build]) if reloads else 0.0
    usd = (float(kind.drive_usd_per_min[build, clock]) * (drive + reload_min),
           float(kind.drive_usd_per_m[build, clock]) * distance)
    return _Driven(drive + reload_min + float(kind.minutes[build, clock, stops].sum()), drive, distance,
                   reloads, usd)


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

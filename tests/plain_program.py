"""A LoopProblem as one plain mixed-integer program for HiGHS (through scipy): every truck that could run has
its own arcs, and the time and the load of a stop grow along them. Shares nothing with the engine or with the
other answers: neither loops nor prices nor code."""

from itertools import product
from math import inf, isfinite

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from optibuild.integer_program import LoopProblem

Row = dict[int, float]


def least_objective(problem: LoopProblem) -> float:
    """The objective of the best plan as HiGHS proves it; inf where it proves there is none."""
    assert problem.end_round is None
    program = _Program()
    trucks = int(min(problem.need.sum(), problem.most_loops))
    slots = []
    for build, clock in product(range(problem.start.size), range(problem.cycle_limit_min.size)):
        alike = [_Slot(program, problem, build, clock) for _ in range(trucks)]
        for one, other in zip(alike, alike[1:], strict=False):  # of trucks alike, the order is no choice
            program.row(_sum((one.weight, 1.0), (other.weight, -1.0)), 0.0, inf)
        slots += alike
    if isfinite(problem.most_loops):
        program.row({slot.runs: 1.0 for slot in slots}, -inf, problem.most_loops)
    _cover(program, problem, slots)
    _items(program, problem, slots)
    return program.least() + problem.constant_usd


class _Program:
    """Variables by number, with cost, upper bound and whether whole; rows with both bounds."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.whole: list[int] = []
        self.rows: list[Row] = []
        self.bounds: list[tuple[float, float]] = []

    def variable(self, cost: float = 0.0, upper: float = 1.0, whole: bool = True) -> int:
        """A variable from 0 to `upper`; its number."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, entries: Row, low: float, high: float) -> None:
        """low <= entries <= high."""
        self.rows.append(entries)
        self.bounds.append((low, high))

    def least(self) -> float:
        """The least cost; inf where no values satisfy the rows."""
        if not self.cost:
            return 0.0 if all(low <= 0.0 <= high for low, high in self.bounds) else inf
        places = [(k, v, value) for k, row in enumerate(self.rows) for v, value in row.items()]
        at, of, value = np.array(places).reshape(-1, 3).T
        table = csr_array((value, (at.astype(int), of.astype(int))), (len(self.rows), len(self.cost)))
        low, high = np.array(self.bounds).reshape(-1, 2).T
        found = milp(np.array(self.cost), integrality=np.array(self.whole),
                     bounds=Bounds(0.0, np.array(self.upper)),
                     constraints=LinearConstraint(table, low, high),
                     options={"mip_rel_gap": 0.0, "time_limit": 60.0})
        if found.status == 2:
            return inf
        assert found.status == 0, found.message
        return float(found.fun)


def _sum(*parts: tuple[Row, float]) -> Row:
    """Rows added up, each times a factor."""
    total: Row = {}
    for row, factor in parts:
        for variable, value in row.items():
            total[variable] = total.get(variable, 0.0) + factor * value
    return total


class _Slot:
    """One truck that may run one loop of a build at a clock: its `runs`, the visits of each stop as a sum of
    arcs into it, and a `weight` by which trucks alike are put in order."""

    def __init__(self, program: _Program, p: LoopProblem, build: int, clock: int) -> None:
        self.program, self.p, self.build, self.clock = program, p, build, clock
        self.limit = float(p.cycle_limit_min[clock])
        self.refill = float(p.reload_min[build]) if p.may_reload else 0.0
        self.runs = program.variable(float(p.fixed_usd[build]))
        self.wet = program.variable(self._usd(self.refill, 0.0))
        self.stops = [s for s in range(p.place.size) if self._earliest(s) <= self._latest(s)
                      and p.stop_limit_min[s] >= self.limit and p.material_kg[s] <= p.fill_kg[build]]
        self.done = {s: program.variable(0.0, max(0.0, self._latest(s)), False) for s in self.stops}
        fill = min(float(p.fill_kg[build]), float(p.material_kg.sum()))
        self.load = {s: program.variable(0.0, fill, False) for s in self.stops}
        self.into: dict[int, Row] = {s: {} for s in self.stops}
        self.out_of: dict[int, Row] = {s: {} for s in self.stops}
        self._first_and_last()
        for s, t in product(self.stops, self.stops):
            if p.place[s] != p.place[t]:
                self._between(s, t, False)
                if p.may_reload and p.material_kg.any():
                    self._between(s, t, True)
        self._visits()
        self.weight = _sum(*((self.into[s], s + 1.0) for s in self.stops))

    def _leg(self, *route: int) -> tuple[float, float]:
        """Minutes and money of a drive by these places."""
        pairs = list(zip(route, route[1:], strict=False))
        minutes = sum(float(self.p.travel_min[pair]) for pair in pairs)
        return minutes, self._usd(minutes, sum(float(self.p.distance_m[pair]) for pair in pairs))

    def _usd(self, minutes: float, meters: float) -> float:
        return (float(self.p.drive_usd_per_min[self.build, self.clock]) * minutes
                + float(self.p.drive_usd_per_m[self.build, self.clock]) * meters)

    def _minutes(self, s: int) -> float:
        return float(self.p.minutes[self.build, self.clock, s])

    def _earliest(self, s: int) -> float:
        """When a stop is done at the earliest."""
        return self._leg(int(self.p.start[self.build]), int(self.p.place[s]))[0] + self._minutes(s)

    def _latest(self, s: int) -> float:
        """When a stop must be done at the latest, to be in time and home in time."""
        home, _ = self._leg(int(self.p.place[s]), int(self.p.end[self.build]))
        return min(self.limit - home, float(self.p.deadline_min[s]))

    def _arc(self, usd: float, tail: int | None, head: int | None) -> int:
        """An arc of the loop; a stop's own money is on the arc into it."""
        own = 0.0 if head is None else float(self.p.stop_usd[self.build, self.clock, head])
        arc = self.program.variable(usd + own)
        if head is not None:
            self.into[head][arc] = 1.0
        if tail is not None:
            self.out_of[tail][arc] = 1.0
        return arc

    def _first_and_last(self) -> None:
        """One arc from the start and one to the end where the truck runs; home within the limit."""
        program, p, firsts, lasts = self.program, self.p, {}, {}
        for s in self.stops:
            first = self._arc(self._leg(int(p.start[self.build]), int(p.place[s]))[1], None, s)
            program.row({self.done[s]: 1.0, first: -self._earliest(s)}, 0.0, inf)
            home, usd = self._leg(int(p.place[s]), int(p.end[self.build]))
            last = self._arc(usd, s, None)
            # done + home + the last reload <= limit where this is the last stop
            slack = self._latest(s) + home + self.refill - self.limit
            if slack > 0.0:
                program.row({self.done[s]: 1.0, self.wet: self.refill, last: slack}, -inf,
                            self.limit - home + slack)
            firsts[first], lasts[last] = 1.0, 1.0
        for ends in (firsts, lasts):
            program.row(ends | {self.runs: -1.0}, 0.0, 0.0)

    def _between(self, s: int, t: int, reload: bool) -> None:
        """A drive from one stop to another, straight or by the start to reload."""
        p, here, there = self.p, int(self.p.place[s]), int(self.p.place[t])
        by = (int(p.start[self.build]),) if reload else ()
        drive, usd = self._leg(here, *by, there)
        if reload:
            drive, usd = drive + self.refill, usd + self._usd(self.refill, 0.0)
        took = drive + self._minutes(t)
        if self._earliest(s) + took > self._latest(t):
            return
        arc = self._arc(usd, s, t)
        # done[t] >= done[s] + took where the arc is driven
        most = self._latest(s) + took
        self.program.row({self.done[t]: 1.0, self.done[s]: -1.0, arc: -most}, took - most, inf)
        if not reload:
            material = float(p.material_kg[t])
            most = self.program.upper[self.load[s]] + material
            self.program.row({self.load[t]: 1.0, self.load[s]: -1.0, arc: -most}, material - most, inf)

    def _visits(self) -> None:
        """In and out alike, each place at most once, material loaded, and a last reload where any is used."""
        program, p = self.program, self.p
        for s in self.stops:
            program.row(_sum((self.into[s], 1.0), (self.out_of[s], -1.0)), 0.0, 0.0)
            if material := float(p.material_kg[s]):
                program.row(_sum(({self.load[s]: 1.0}, 1.0), (self.into[s], -material)), 0.0, inf)
                program.row(_sum(({self.wet: 1.0}, 1.0), (self.into[s], -1.0)), 0.0, inf)
        for place in {int(p.place[s]) for s in self.stops}:
            here = [(self.into[s], 1.0) for s in self.stops if p.place[s] == place]
            program.row(_sum(*here, ({self.runs: 1.0}, -1.0)), -inf, 0.0)


def _cover(program: _Program, p: LoopProblem, slots: list[_Slot]) -> None:
    """Every work is done or its group is missed, within the worth that may be missed."""
    missed = [program.variable(usd if isfinite(usd) else 0.0, float(isfinite(usd)))
              for usd in p.missed_usd.tolist()]
    for work, need in enumerate(p.need.tolist()):
        does = [(slot.into[s], float(p.amount[s, work])) for slot in slots for s in slot.stops
                if p.amount[s, work]]
        program.row(_sum(*does, ({missed[p.group[work]]: 1.0}, need)), need, inf)
    if isfinite(p.most_missed_worth):
        program.row(dict(zip(missed, p.worth.tolist(), strict=True)), -inf, p.most_missed_worth)


def _items(program: _Program, p: LoopProblem, slots: list[_Slot]) -> None:
    """Items used are bought or owned, within stock and budget."""
    bought, kept = ([program.variable(*pair) for pair in zip(usd.tolist(), most.tolist(), strict=True)]
                    for usd, most in ((p.annual_usd, p.available), (p.upkeep_usd, p.owned)))
    for i, pair in enumerate(zip(bought, kept, strict=True)):
        used = {slot.runs: float(p.uses[slot.build, i]) for slot in slots}
        program.row(used | dict.fromkeys(pair, -1.0), 0.0, 0.0)
    if isfinite(p.budget_usd):
        program.row(dict(zip(bought, p.price_usd.tolist(), strict=True)), -inf, p.budget_usd)

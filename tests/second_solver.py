"""A LoopProblem of whole numbers as a general constraint program: every truck a circuit of its own, arc by
arc, handed to another solver. Shares nothing with the engine, neither loops nor prices."""

from itertools import product
from math import inf, isfinite
from typing import Any

from loop_oracle import plain
from ortools.sat.python import cp_model

from optibuild.integer_program import LoopProblem

BIG = 1_000_000


def least_objective(problem: LoopProblem) -> float:
    """The objective of the best plan as the other solver proves it; inf where it proves there is none."""
    p, model = plain(problem), cp_model.CpModel()
    trucks = int(min(sum(p.need), p.most_loops))
    loops = product(range(len(p.fixed_usd)), range(len(p.cycle_limit_min)), range(trucks))
    slots = [_Slot(model, p, build, clock) for build, clock, _ in loops]
    cost: Any = sum(slot.money for slot in slots) + _items(model, p, slots) + _cover(model, p, slots)
    if isfinite(p.most_loops):
        model.add(sum(slot.runs for slot in slots) <= int(p.most_loops))
    model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 60
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return inf
    assert status == cp_model.OPTIMAL, solver.status_name(status)
    return solver.objective_value + p.constant_usd


def _cover(model: cp_model.CpModel, p: Any, slots: list["_Slot"]) -> Any:
    """Every work done or its group missed; returns what the misses lose."""
    missed = [model.new_bool_var("") for _ in p.missed_usd]
    for group, usd in enumerate(p.missed_usd):
        if not isfinite(usd):
            model.add(missed[group] == 0)
    for work, need in enumerate(p.need):
        done = sum(int(p.amount[s][work]) * visit for slot in slots for s, visit in slot.visits.items())
        model.add(done + int(need) * missed[p.group[work]] >= int(need))
    if isfinite(p.most_missed_worth):
        lost = sum(int(usd) * miss for usd, miss in zip(p.worth, missed, strict=True))
        model.add(lost <= int(p.most_missed_worth))
    return sum(int(usd) * miss for usd, miss in zip(p.missed_usd, missed, strict=True) if isfinite(usd))


def _items(model: cp_model.CpModel, p: Any, slots: list["_Slot"]) -> Any:
    """Items bought and owned ones used, within stock and budget; returns what they cost a year."""
    cost: Any = 0
    spent: Any = 0
    for i, owned in enumerate(p.owned):
        bought = model.new_int_var(0, int(min(p.available[i], BIG)), "")
        kept = model.new_int_var(0, int(owned), "")
        model.add(sum(int(p.uses[slot.build][i]) * slot.runs for slot in slots) == bought + kept)
        cost += int(p.annual_usd[i]) * bought + int(p.upkeep_usd[i]) * kept
        spent += int(p.price_usd[i]) * bought
    if isfinite(p.budget_usd) and len(p.owned):
        model.add(spent <= int(p.budget_usd))
    return cost


class _Slot:
    """One truck that may run one loop of a build at a clock: `visits` by stop, `runs`, and its `money`."""

    def __init__(self, model: cp_model.CpModel, p: Any, build: int, clock: int) -> None:
        self.model, self.p, self.build, self.clock = model, p, build, clock
        self.limit = int(p.cycle_limit_min[clock])
        stops = [s for s in range(len(p.place)) if isfinite(p.minutes[build][clock][s])
                 and p.stop_limit_min[s] >= p.cycle_limit_min[clock]]
        self.runs, self.wet = model.new_bool_var(""), model.new_bool_var("")
        self.visits = {s: model.new_bool_var("") for s in stops}
        self.at = {s: model.new_int_var(0, int(min(self.limit, p.deadline_min[s])), "") for s in stops}
        fill = int(min(p.fill_kg[build], BIG))
        self.load = {s: model.new_int_var(0, fill, "") for s in stops}
        self.per_min = int(p.drive_usd_per_min[build][clock])
        self.per_m = int(p.drive_usd_per_m[build][clock])
        self.refill = int(p.reload_min[build]) if p.may_reload else 0
        self.money: Any = int(p.fixed_usd[build]) * self.runs + self.per_min * self.refill * self.wet
        self.arcs: list[Any] = [(0, 0, ~self.runs)]
        for s in stops:
            self._stop(s)
        for s, t in product(stops, stops):
            if s != t:
                self._between(s, t)
        for place in {p.place[s] for s in stops}:
            model.add_at_most_one(self.visits[s] for s in stops if p.place[s] == place)
        model.add_circuit(self.arcs)

    def _leg(self, *route: int) -> tuple[int, int]:
        """Minutes of a drive by these places, and its money."""
        minutes = sum(int(self.p.travel_min[a][b]) for a, b in zip(route, route[1:], strict=False))
        meters = sum(int(self.p.distance_m[a][b]) for a, b in zip(route, route[1:], strict=False))
        return minutes, self.per_min * minutes + self.per_m * meters

    def _arc(self, tail: int, head: int, money: int) -> Any:
        taken = self.model.new_bool_var("")
        self.arcs.append((tail, head, taken))
        self.money += money * taken
        return taken

    def _stop(self, s: int) -> None:
        """A stop as the first, as the last, or not made at all."""
        p, model, visit = self.p, self.model, self.visits[s]
        self.arcs.append((s + 1, s + 1, ~visit))
        self.money += int(p.stop_usd[self.build][self.clock][s]) * visit
        material = int(p.material_kg[s])
        if material > int(min(p.fill_kg[self.build], BIG)):
            model.add(visit == 0)
        else:
            model.add(self.load[s] >= material).only_enforce_if(visit)
        if material:
            model.add_implication(visit, self.wet)
        out, usd = self._leg(p.start[self.build], p.place[s])
        first = self._arc(0, s + 1, usd)
        model.add(self.at[s] >= out + int(p.minutes[self.build][self.clock][s])).only_enforce_if(first)
        home, usd = self._leg(p.place[s], p.end[self.build])
        last = self._arc(s + 1, 0, usd)
        model.add(self.at[s] + home + self.refill * self.wet <= self.limit).only_enforce_if(last)

    def _between(self, s: int, t: int) -> None:
        """A drive from one stop to another, straight or by way of a reload."""
        p, model, minutes = self.p, self.model, int(self.p.minutes[self.build][self.clock][t])
        drive, usd = self._leg(p.place[s], p.place[t])
        straight = self._arc(s + 1, t + 1, usd)
        model.add(self.at[t] >= self.at[s] + drive + minutes).only_enforce_if(straight)
        model.add(self.load[t] >= self.load[s] + int(p.material_kg[t])).only_enforce_if(straight)
        if p.may_reload:
            drive, usd = self._leg(p.place[s], p.start[self.build], p.place[t])
            drive += self.refill
            detour = self._arc(s + 1, t + 1, usd + self.per_min * self.refill)
            model.add(self.at[t] >= self.at[s] + drive + minutes).only_enforce_if(detour)

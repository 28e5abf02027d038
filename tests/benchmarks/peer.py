"""The plan of a peer: a general-purpose routing solver given the very arrays that our program gets.

PyVRP 0.14 (extra `bench`). A vehicle type of its model is a build at a cycle limit, with a fixed cost, a
longest duration, a capacity and a profile, the matrices of minutes and of money between two places. What our
program has beside that is said in the profile, in thousandths of a minute and in cents:

- minutes and money of a stop, which differ by build and limit, lie on the arcs into it; a stop that a build
  cannot make, or that may not ride at a limit, has arcs that no loop has minutes for
- a parcel is a client; the arc from one to the next of its site has what a stop of two parcels takes more
  than a stop of one, so that clients of a site in a row are one stop
- a reload is a trip's end at the start, its minutes and money on the arcs into a depot: the last one of a
  loop counts too. A loop without material needs none, so such loops have vehicle types of their own, of
  capacity 0
- deadlines are the ends of time windows. Minutes and loads are rounded up, limits down
- what the cheapest vehicle type pays at a client is left out of the arcs and added at the end, for the peer
  measures by money which clients are near each other

What its model cannot say, and what is done about it:

- a budget, few drivers, items that are owned or can run out, sites that may be left out, works that may be
  split, rounds that end a storm, no reloads: such cases are not compared (`cannot_say`)
- a site of three parcels and more: every parcel after the first is taken for a second one
- at most one stop a site and loop. Two apart in a loop are made one, at the first or the last of them

So each of its best plans is measured again by `column`, and the best counts that our program could have
given. Its search is set as it comes.

Its search tries an empty vehicle of every type for every client, and has no move that gives a loop to
another type. Given every vehicle type that some plan may need (11,665 at 25 sites: 1,300 builds that none
beats in everything, those with and without material, five limits) it made 4 iterations in 28 s; given a
hundred it makes some 250 a second. So it gets those TYPES that run most of SAMPLES invented loops cheapest,
and all that our plan has, as many of each as our plan has trucks.

    python tests/benchmarks/peer.py CASE PLAN_DIR SECONDS [TYPES]
"""

import json
import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from math import inf, isfinite
from pathlib import Path
from typing import Any

import numpy as np
from pyvrp import (
    Activity,
    ActivityType,
    Client,
    Depot,
    IteratedLocalSearchCallbacks,
    IteratedLocalSearchParams,
    Location,
    ProblemData,
    Route,
    Solution,
    SolveParams,
    VehicleType,
)
from pyvrp import solve as search

from optibuild.inputs import read_case
from optibuild.integer_program import Column, LoopProblem, column
from optibuild.integer_program.dominance import undominated
from optibuild.pipeline import Stages, stages
from optibuild.records import NONE

TYPES, SAMPLES, SAMPLE_STOPS, NEAREST = 100, 3000, 8, 12
"""Vehicle types of the peer; the invented loops that they are chosen by, of so many stops at the most, all
among so many places nearest to one of them."""
MOST_MATRIX_BYTES = 1.5e9
"""Fewer types where their matrices would take more than this."""
MINUTE, DOLLAR, KG = 1000, 100, 100
"""Units of the peer's whole numbers in one of ours."""
NEVER_MIN, NEVER_USD = 10_000.0, 1e6
"""On an arc that no loop may take."""

Vehicle = tuple[int, int, bool]
"""A build, a clock, and whether its loops use material."""


@dataclass(frozen=True)
class PeerPlan:
    """What the peer found: its cost as measured by `column` (inf where it found none that our program could
    have given) and as the peer told it; how long it was prepared and searched [s]; its iterations, how many
    vehicle types it had, and how many better plans it had against the rules."""

    cost_usd: float
    told_usd: float
    setup_s: float
    search_s: float
    iterations: int
    types: int
    refused: int


def cannot_say(p: LoopProblem) -> str | None:
    """What the problem holds that the peer's model has no words for; None where there is nothing."""
    reasons = {
        "a budget": isfinite(p.budget_usd), "few drivers": isfinite(p.most_loops),
        "owned items": p.held.any(), "items that can run out": p.scarce.any(),
        "sites that may be left out": np.isfinite(p.missed_usd).any(),
        "works that may be split": len(np.unique(p.place)) != p.need.size,
        "rounds that end a storm": p.end_round is not None, "no reloads": not p.may_reload,
        "money earned by driving": p.may_cost_less_than_nothing,
    }
    return next((reason for reason, there in reasons.items() if there), None)


class Clients:
    """The clients: `stop` [C] of one parcel, `second` [C] the stop of two (NONE where there is none)."""

    def __init__(self, p: LoopProblem) -> None:
        self.of = {(int(p.place[s]), round(float(p.amount[s].sum()))): s for s in range(p.place.size)}
        need = {int(p.place[s]): round(float(p.need[np.flatnonzero(p.amount[s])[0]]))
                for s in range(p.place.size)}
        self.place = np.repeat(list(need), list(need.values()))
        self.stop = np.array([self.of[place, 1] for place in self.place])
        self.second = np.array([self.of.get((place, 2), NONE) for place in self.place])
        self.rows = {place: np.flatnonzero(self.place == place).tolist() for place in need}


def _only(p: LoopProblem, stops: np.ndarray) -> LoopProblem:
    """The problem with these stops alone."""
    return replace(p, minutes=p.minutes[:, :, stops], stop_usd=p.stop_usd[:, :, stops],
                   **{name: getattr(p, name)[stops] for name in
                      ("stop_limit_min", "deadline_min", "place", "amount", "material_kg")})


def all_vehicles(p: LoopProblem) -> list[Vehicle]:
    """Every vehicle type that some plan may need: builds that none beats in everything, at every limit."""
    found: list[Vehicle] = []
    for wet, stops in ((True, np.arange(p.place.size)), (False, np.flatnonzero(p.material_kg == 0))):
        part = _only(p, stops)
        for start, end in sorted(set(zip(p.start.tolist(), p.end.tolist(), strict=True))):
            builds = undominated(part, np.flatnonzero((p.start == start) & (p.end == end)))
            found += [(int(b), k, wet) for b in builds for k in range(p.cycle_limit_min.size)
                      if p.fill_kg[b] > 0 or not wet]
    return found


def _sampled_loop(p: LoopProblem, of: dict[tuple[int, int], int], rng: np.random.Generator) -> list[int]:
    """Stops near each other, each of some of its site's parcels, in an order of short ways."""
    places = np.unique(p.place)
    here = rng.choice(places)
    near = places[np.argsort(p.travel_min[here, places], kind="stable")][:NEAREST]
    chosen = list(rng.choice(near, min(int(rng.integers(1, SAMPLE_STOPS + 1)), near.size), replace=False))
    here, order = int(p.start[0]), []
    while chosen:
        here = min(chosen, key=lambda place: p.travel_min[here, place])
        chosen.remove(here)
        order.append(int(here))
    return [of[place, int(rng.integers(1, 1 + max(n for at, n in of if at == place)))] for place in order]


def _usd(p: LoopProblem, builds: np.ndarray, stops: list[int], wet: bool) -> np.ndarray:
    """About what a loop of these stops costs, by build and clock [n, K]; inf where it is too long."""
    places = p.place[stops]
    material = float(p.material_kg[stops].sum())
    out, home = p.travel_min[p.start[builds], places[0]], p.travel_min[places[-1], p.end[builds]]
    with np.errstate(divide="ignore"):
        trips = np.ceil(material / p.fill_kg[builds] - 1e-9) if wet else np.zeros(builds.size)
    again = np.maximum(trips - 1, 0) * (out + home)
    drive = p.travel_min[places[:-1], places[1:]].sum() + out + home + again + trips * p.reload_min[builds]
    meters = (p.distance_m[places[:-1], places[1:]].sum() + p.distance_m[p.start[builds], places[0]]
              + p.distance_m[places[-1], p.end[builds]])
    minutes = drive[:, None] + p.minutes[builds][:, :, stops].sum(axis=2)
    fits = (minutes <= p.cycle_limit_min) & p.allowed[:, stops].all(axis=1)
    usd = (p.own_cost_usd[builds, None] + p.drive_usd_per_min[builds] * np.where(fits, drive[:, None], 0.0)
           + p.drive_usd_per_m[builds] * meters[:, None] + p.stop_usd[builds][:, :, stops].sum(axis=2))
    return np.where(fits, usd, inf)


def best_vehicles(p: LoopProblem, count: int) -> list[Vehicle]:
    """The vehicle types that run most of SAMPLES invented loops cheapest."""
    of, rng, every = Clients(p).of, np.random.default_rng(p.seed), all_vehicles(p)
    builds = {wet: np.unique([b for b, _, its in every if its == wet]) for wet in (True, False)}
    wins: Counter[Vehicle] = Counter()
    for _ in range(SAMPLES):
        stops = _sampled_loop(p, of, rng)
        wet = bool(p.material_kg[stops].sum() > 0)
        usd = _usd(p, builds[wet], stops, wet) if builds[wet].size else np.full((1, 1), inf)
        row, clock = np.unravel_index(int(usd.argmin()), usd.shape)
        if isfinite(usd[row, clock]):
            wins[int(builds[wet][row]), int(clock), wet] += 1
    return [one for one, _ in sorted(wins.items(), key=lambda row: (-row[1], row[0]))[:count]]


class Model:
    """A LoopProblem in the peer's words, with so many vehicles of each type `available`. Locations are the
    depots and then the clients, one each."""

    def __init__(self, p: LoopProblem, vehicles: list[Vehicle], available: int) -> None:
        self.p, self.vehicles, self.available, self.clients = p, vehicles, available, Clients(p)
        self.depots = np.unique(np.concatenate([p.start, p.end]))
        at = np.concatenate([self.depots, self.clients.place])
        self.road_min, self.road_m = p.travel_min[np.ix_(at, at)], p.distance_m[np.ix_(at, at)]
        self.after_sibling = (at[:, None] == at) & (np.arange(at.size) >= self.depots.size)
        self.base = np.min([self._base(one) for one in vehicles], axis=0)
        profiles = [self._profile(one) for one in vehicles]
        self.data = ProblemData(
            [Location(0, 0)] * at.size, [self._client(c) for c in range(self.clients.stop.size)],
            [Depot(d) for d in range(self.depots.size)],
            [self._type(v) for v in range(len(vehicles))],
            [usd for _, usd in profiles], [minutes for minutes, _ in profiles])

    def _stops(self, vehicle: Vehicle) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Minutes and money of a first parcel and of each further one at every client [C], inf where the
        vehicle cannot."""
        (b, k, wet), stop, second = vehicle, self.clients.stop, self.clients.second
        p, more = self.p, second != NONE
        can = p.allowed[k, stop] & np.isfinite(p.minutes[b, k, stop]) & (wet | (p.material_kg[stop] == 0))
        can_both = can & more & np.isfinite(p.minutes[b, k, second])
        first_min, first_usd = (np.where(can, of[b, k, stop], inf) for of in (p.minutes, p.stop_usd))
        more_min, more_usd = (np.subtract(of[b, k, second], of[b, k, stop], where=can_both,
                                          out=np.full(stop.size, inf)) for of in (p.minutes, p.stop_usd))
        return first_min, first_usd, more_min, more_usd

    def _base(self, vehicle: Vehicle) -> np.ndarray:
        """The least that the vehicle pays at each client [C]."""
        _, first_usd, _, more_usd = self._stops(vehicle)
        return np.minimum(first_usd, more_usd)

    def _profile(self, vehicle: Vehicle) -> tuple[np.ndarray, np.ndarray]:
        """Minutes and money of each arc in the peer's units [L, L]."""
        b, k, wet = vehicle
        first_min, first_usd, more_min, more_usd = self._stops(vehicle)
        per_min, reload = self.p.drive_usd_per_min[b, k], float(self.p.reload_min[b]) * wet
        depots = np.full(self.depots.size, reload)
        minutes = self.road_min + np.concatenate([depots, first_min])
        usd = (per_min * self.road_min + self.p.drive_usd_per_m[b, k] * self.road_m
               + np.concatenate([per_min * depots, first_usd - self.base]))
        minutes = np.where(self.after_sibling, np.concatenate([depots, more_min]), minutes)
        usd = np.where(self.after_sibling, np.concatenate([depots, more_usd - self.base]), usd)
        never = ~np.isfinite(minutes)
        minutes[never], usd[never] = NEVER_MIN, NEVER_USD
        np.fill_diagonal(minutes, 0.0)
        np.fill_diagonal(usd, 0.0)
        return _up(minutes, MINUTE), np.rint(usd * DOLLAR).astype(np.int64)

    def _client(self, c: int) -> Client:
        stop = self.clients.stop[c]
        return Client(self.depots.size + c, delivery=[int(_up(self.p.material_kg[stop], KG))],
                      **_late(self.p.deadline_min[stop]))

    def _type(self, v: int) -> VehicleType:
        p, (b, k, wet) = self.p, self.vehicles[v]
        start, end = (int(np.searchsorted(self.depots, place[b])) for place in (p.start, p.end))
        limit, fill = p.cycle_limit_min[k], p.fill_kg[b] if wet else 0.0
        return VehicleType(
            num_available=self.available,
            capacity=[_down(min(fill, 2 * float(p.material_kg[self.clients.stop].sum())), KG)],
            start_depot=start, end_depot=end, fixed_cost=round(float(p.own_cost_usd[b]) * DOLLAR),
            shift_duration=_down(min(limit, NEVER_MIN / 2), MINUTE), profile=v,
            reload_depots=[start] if wet else [])

    def told_usd(self, route: Route) -> float:
        """What a loop costs as the peer counts it."""
        base = sum(float(self.base[one.idx]) for one in route if one.is_client())
        return (route.fixed_vehicle_cost() + route.distance_cost()) / DOLLAR + base

    def loops(self, plan: Solution) -> list[Column]:
        """A plan's loops as our program measures them; none where one of them is against its rules."""
        found = [self._loop(route) for route in plan.routes()]
        return [] if None in found else [one for one in found if one is not None]

    def _loop(self, route: Route) -> Column | None:
        """The best of our loops that serve a route's clients in its order; None where none is possible."""
        b, k, _ = self.vehicles[route.vehicle_type()]
        visits: list[tuple[int, bool]] = []
        reload = False
        for one in list(route)[1:-1]:
            if one.is_depot():
                reload = bool(visits)
            else:
                visits.append((int(self.clients.place[one.idx]), reload))
                reload = False
        parcels, best = Counter(place for place, _ in visits), None
        for order in (_once(visits, first=True), _once(visits, first=False)):
            stops = [self.clients.of.get((place, parcels[place])) for place, _ in order]
            found = tuple(stop for stop in stops if stop is not None)
            if len(found) < len(stops):
                continue
            one = column(self.p, b, k, found, tuple(before for _, before in order))
            if self.keeps_rules(one) and (best is None or one.cost_usd < best.cost_usd):
                best = one
        return best

    def keeps_rules(self, one: Column) -> bool:
        """Whether our program could have given this loop: limit, deadlines, fill, one stop a site."""
        p, here, clock, load = self.p, int(self.p.start[one.build]), 0.0, 0.0
        for stop, reload in zip(one.stops, one.reload_before, strict=True):
            if reload:
                clock += p.travel_min[here, p.start[one.build]] + p.reload_min[one.build]
                here, load = int(p.start[one.build]), 0.0
            clock += p.travel_min[here, p.place[stop]] + p.minutes[one.build, one.clock, stop]
            load += p.material_kg[stop]
            here = int(p.place[stop])
            if clock > p.deadline_min[stop] + 1e-6 or load > p.fill_kg[one.build] * (1 + 1e-9):
                return False
        stops = list(one.stops)
        return (one.duration_min <= float(p.cycle_limit_min[one.clock]) + 1e-6
                and bool(p.allowed[one.clock, stops].all()) and len(set(p.place[stops])) == len(stops))

    def route_of(self, one: Column) -> Route:
        """A loop of ours as the peer's."""
        visits: list[Activity] = []
        for stop, reload in zip(one.stops, one.reload_before, strict=True):
            if reload:
                depot = int(np.searchsorted(self.depots, self.p.start[one.build]))
                visits.append(Activity(ActivityType.DEPOT, depot))
            clients = self.clients.rows[int(self.p.place[stop])]
            visits += [Activity(ActivityType.CLIENT, c)
                       for c in clients[:round(float(self.p.amount[stop].sum()))]]
        return Route(self.data, visits, self.vehicles.index(vehicle_of(self.p, one)))


def _once(visits: list[tuple[int, bool]], first: bool) -> list[tuple[int, bool]]:
    """Visits with every place once, where it comes first or last. A reload before a visit that is left out
    comes before the next one that stays."""
    numbered = list(enumerate(place for place, _ in visits))
    stays = {place: row for row, place in (reversed(numbered) if first else numbered)}
    once: list[tuple[int, bool]] = []
    reload = False
    for row, (place, before) in enumerate(visits):
        reload = reload or before
        if stays[place] == row:
            once.append((place, reload and bool(once)))
            reload = False
    return once


def vehicle_of(p: LoopProblem, one: Column) -> Vehicle:
    """The vehicle type that runs a loop."""
    return one.build, one.clock, bool(p.material_kg[list(one.stops)].sum() > 0)


def _up(value: Any, unit: int) -> Any:
    return np.ceil(np.asarray(value) * unit - 1e-6).astype(np.int64)


def _down(value: float, unit: int) -> int:
    return int(np.floor(value * unit + 1e-6))


def _late(deadline_min: float) -> dict[str, int]:
    return {"tw_late": _down(deadline_min, MINUTE)} if isfinite(deadline_min) else {}


def our_loops(made: Stages, plan: dict[str, Any]) -> list[Column]:
    """The loops of a plan.json as columns."""
    case, builds, times, p = made.case, made.builds, made.times, made.problem
    crewed = {(builds.name(b), case.depots[d].id, case.ballast[builds.kit[b]].id if builds.kit[b] != NONE
               else None): c
              for c, (b, d) in enumerate(zip(times.build.tolist(), times.depot.tolist(), strict=True))}
    stop_of = {(case.sites[stop.site].id, stop.parcels): s for s, stop in enumerate(times.stops)}
    found = []
    for truck in plan["trucks"]:
        build = crewed[truck["build"], truck["depot"], next((b["id"] for b in truck["ballast"]), None)]
        clock = int(np.argmin(np.abs(times.clocks_min - truck["loop"]["cycle_limit_min"])))
        stops = truck["loop"]["stops"]
        found.append(column(p, build, clock, tuple(stop_of[s["site"], s["parcels"]] for s in stops),
                            tuple(s["reload_before"] for s in stops)))
    return found


class _Bests(IteratedLocalSearchCallbacks):
    """Keeps every best plan of the peer's search, and counts its iterations."""

    def __init__(self) -> None:
        self.found: list[Solution] = []
        self.iterations = 0

    def on_best(self, best: Solution) -> None:
        self.found.append(best)

    def on_iteration(self, *_: Any) -> None:
        self.iterations += 1


def peer_plan(folder: Path, plan: dict[str, Any], seconds: float, types: int = TYPES) -> PeerPlan | None:
    """The peer's plan of a case that we have a plan of; None where its model cannot say the case. `seconds`
    are for its search alone; `types` 0 gives it every vehicle type."""
    made = stages(read_case(folder))
    p, started = made.problem, time.perf_counter()
    if cannot_say(p) is not None:
        return None
    ours = our_loops(made, plan)
    most = int(MOST_MATRIX_BYTES / (16 * (Clients(p).stop.size + np.unique([p.start, p.end]).size) ** 2))
    chosen = best_vehicles(p, min(types, most)) if types else all_vehicles(p)
    vehicles = list(dict.fromkeys([*(vehicle_of(p, one) for one in ours), *chosen]))
    model, bests = Model(p, vehicles, len(ours)), _Bests()
    _check_told(model, ours)
    setup_s, begun = time.perf_counter() - started, time.perf_counter()
    last = search(model.data, lambda _: time.perf_counter() > begun + seconds, seed=p.seed,
                  collect_stats=False, params=SolveParams(ils=IteratedLocalSearchParams(callbacks=bests)))
    search_s, cost, told, refused = time.perf_counter() - begun, inf, inf, 0
    for best in reversed(bests.found or [last.best]):
        loops = model.loops(best) if best.is_feasible() else []
        if loops:
            cost, told = sum(one.cost_usd for one in loops), sum(map(model.told_usd, best.routes()))
            break
        refused += 1
    return PeerPlan(cost, told, setup_s, search_s, bests.iterations, len(vehicles), refused)


def _check_told(model: Model, ours: list[Column]) -> None:
    """Each of our loops must be one of the peer's and cost there what it costs here, within rounding; but
    for those with a stop of three parcels and more."""
    for one in ours:
        if max(amount for stop in one.stops for amount in model.p.amount[stop]) > 2:
            continue
        route = model.route_of(one)
        told, arcs = model.told_usd(route), len(route)
        if abs(told - one.cost_usd) > arcs / DOLLAR or route.has_excess_load() or route.time_warp() > arcs:
            raise AssertionError(f"the peer was told another problem: {one} costs {told:.2f} USD there "
                                 f"and is {route.time_warp() / MINUTE} min late")


def main(folder: str, plan_folder: str, seconds: str, types: str = str(TYPES)) -> None:
    """One comparison, with what scale.py does not print."""
    plan = json.loads((Path(plan_folder) / "plan.json").read_text())
    found, ours = peer_plan(Path(folder), plan, float(seconds), int(types)), plan["outcome"]["cost_usd"]
    if found is None:
        print("the peer's model cannot say this case")
        return
    print(f"ours {ours:,.2f} USD, peer {found.cost_usd:,.2f} USD (as it told {found.told_usd:,.2f}), ratio "
          f"{found.cost_usd / ours:.4f}; {found.types} vehicle types; setup {found.setup_s:.1f} s, search "
          f"{found.search_s:.1f} s, {found.iterations} iterations; {found.refused} plans against the rules")


if __name__ == "__main__":
    main(*sys.argv[1:])

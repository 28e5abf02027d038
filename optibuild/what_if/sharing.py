"""What the solves of like cases share: builds and minutes where only money differs, and loops by name."""

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from math import inf
from typing import Any

import numpy as np

from optibuild.cost import loop_costs
from optibuild.cycle_time import drive_loop
from optibuild.pipeline import Column, Stages, place, planned_stages
from optibuild.records import BidSettings, Case, ChosenLoop, SolveSettings
from optibuild.records.sweep import NamedLoop, NamedStop

OF_ITEMS: dict[str, Any] = {
    "price_usd": 0.0, "resale_usd": 0.0, "upkeep_usd_per_year": 0.0, "wear_usd_per_min": 0.0,
    "life_year": 1.0, "snow_share": 1.0, "owned": 0, "available": inf, "owned_value_usd": None,
    "remaining_life_year": 0.0, "worked_life_min": inf, "worked_min_per_year": 0.0, "value_falls": None,
    "loan_rate": None, "loan_term_year": None, "loan_down": 0.0, "lease_usd_per_year": None,
    "insurance_usd_per_year": 0.0, "registration_usd_per_year": 0.0, "description": ""}
OF_MATERIALS: dict[str, Any] = {"price_usd_per_kg": 0.0, "delivery_usd_per_kg": 0.0, "waste": 0.0}
OF_SITES: dict[str, Any] = {"name": "", "must_serve": True, "pay_by": None, "pay_usd": 0.0}
OF_MONEY: dict[str, Any] = {
    "budget_usd": inf, "wage_usd_per_min": 0.0, "burden": 0.0, "fuel_usd_per_l": (),
    "road_wear_usd_per_m": 0.0, "interest": 0.0, "overhead": 0.0, "profit_margin": 0.0, "standby": 0.0}
"""Fields that neither builds nor minutes depend on. A field that is not here counts as one that they do: then
less is shared than could be, and nothing is wrong."""

_last: dict[Case, Stages] = {}
"""The stages last made, by their case without its money: one entry, for arrays may be large."""


def without_money(case: Case) -> Case:
    """The case as builds and minutes see it: what they do not depend on is set to one value."""
    tables: dict[str, Any] = {
        name: tuple(_set(row, OF_ITEMS) for row in getattr(case, name))
        for name in ("trucks", "plows", "spreaders", "ballast")}
    return replace(
        case, name="", question="cover", given_as="", inputs=(), past_winters=(), contracts=(),
        bid=BidSettings(),
        sites=tuple(replace(site, **OF_SITES) for site in case.sites),
        materials=tuple(replace(row, **OF_MATERIALS) for row in case.materials),
        money=replace(case.money, **OF_MONEY), crew=replace(case.crew, drivers=inf),
        solve=SolveSettings(reserve_min=case.solve.reserve_min), **tables)


def _set(row: Any, values: dict[str, Any]) -> Any:
    """An item with those of the fields that it has."""
    return replace(row, **{name: value for name, value in values.items() if hasattr(row, name)})


def digest(case: Case) -> str:
    """A text that two cases have in common only where they are equal: sha256 of all fields."""
    return hashlib.sha256(json.dumps(asdict(case)).encode()).hexdigest()


def shared_stages(case: Case) -> Stages:
    """The stages of a case, with the builds and minutes of the case before where only money differs.

    They are shared where all builds that fit are in them: those left out otherwise were left out for money.
    """
    key = without_money(case)
    made = _last.get(key)
    if made is None:
        _last.clear()
        made = planned_stages(case)
        if np.unique(made.times.build).size == made.builds.fitting.size:
            _last[key] = made
        return made
    costs = loop_costs(case, made.builds, made.times, made.rounds)
    return replace(made, case=case, costs=costs, problem=place(case, made.builds, made.times, costs))


def named(made: Stages, loops: Iterable[Column]) -> tuple[NamedLoop, ...]:
    """Loops of a program by the names of their case."""
    names = _build_names(made)
    return tuple(NamedLoop(*names[one.build], float(made.times.clocks_min[one.clock]),
                           tuple(_named_stops(made, one))) for one in loops)


def _named_stops(made: Stages, one: Column) -> Iterator[NamedStop]:
    at_end = one.end_reload_before or (None,) * len(one.stops)
    for s, before, end_before in zip(one.stops, one.reload_before, at_end, strict=True):
        stop = made.times.stops[s]
        yield NamedStop(made.case.sites[stop.site].id, stop.work, stop.parcels,
                        int(made.times.parcels[stop.site]), before, end_before)


def _build_names(made: Stages) -> list[tuple[str, str | None, str | None, str | None, int, int, str]]:
    """What every crewed build is made of, by name [C]; those made of the same are numbered."""
    case, builds, b = made.case, made.builds, made.times.build
    columns = [[None if k < 0 else rows[k].id for k in index[b].tolist()]
               for rows, index in ((case.trucks, builds.truck), (case.plows, builds.plow),
                                   (case.spreaders, builds.spreader), (case.ballast, builds.kit))]
    depots = [case.depots[d].id for d in made.times.depot.tolist()]
    rows = list(zip(*columns, builds.units[b].tolist(), depots, strict=True))
    met: Counter[tuple[object, ...]] = Counter()
    numbers = []
    for row in rows:
        numbers.append(met[row])
        met[row] += 1
    return [(*row[:5], number, row[5]) for row, number in zip(rows, numbers, strict=True)]


def carried(made: Stages, loops: Iterable[NamedLoop], same_minutes: bool) -> tuple[ChosenLoop, ...]:
    """Loops of another case as this one has them, each once: with the stops that are still there, at the same
    cycle limit; none where its build or that limit is gone.

    A loop that breaks a limit now is left out; with the `same_minutes` none does.
    """
    crewed = {row: c for c, row in enumerate(_build_names(made))}
    clocks = {float(limit): k for k, limit in enumerate(made.times.clocks_min)}
    stops: dict[tuple[str, str, int, int], int] = {
        (made.case.sites[stop.site].id, stop.work, stop.parcels, int(made.times.parcels[stop.site])): s
        for s, stop in enumerate(made.times.stops)}
    found: dict[ChosenLoop, None] = {}
    for one in loops:
        c = crewed.get((one.truck, one.plow, one.spreader, one.ballast, one.units, one.number, one.depot))
        k = clocks.get(one.cycle_limit_min)
        kept = [(s, row) for row in one.stops
                if (s := stops.get((row.site, row.work, row.parcels, row.of))) is not None]
        if c is not None and k is not None and kept:
            loop = ChosenLoop(
                c, k, tuple(s for s, _ in kept), tuple(row.reload_before for _, row in kept),
                () if made.times.end is None else tuple(bool(row.end_reload_before) for _, row in kept))
            if same_minutes or _possible(made, loop):
                found[loop] = None
    return tuple(found)


def _possible(made: Stages, loop: ChosenLoop) -> bool:
    """Whether a loop keeps every limit of its case."""
    chosen = list(loop.stops)
    allowed, possible = made.problem.allowed[loop.clock], made.problem.possible[loop.crewed, loop.clock]
    if not (allowed & possible)[chosen].all():
        return False
    return drive_loop(made.case, made.builds, made.times, loop).binds.left >= 0.0

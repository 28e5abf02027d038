"""What solves of like cases share: minutes where only money differs, loops by name where they still hold."""

from collections.abc import Iterator
from dataclasses import fields, replace
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from towns import town

from optibuild import pipeline
from optibuild.inputs import read_case
from optibuild.records import Case
from optibuild.records.sweep import NamedLoop
from optibuild.what_if import sharing
from optibuild.what_if.solving import COLD, solve_case

SMALL = Path(__file__).parent / "data" / "small"
OTHER = {"value_falls": "straight", "owned_value_usd": 3_000.0, "loan_term_year": 4.0,
         "lease_usd_per_year": 4_000.0, "available": 3.0, "budget_usd": 9e5, "owned": 1, "snow_share": 0.5,
         "worked_life_min": 9e5, "worked_min_per_year": 9e3, "pay_by": "season", "must_serve": False,
         "burden": 0.3, "interest": 0.09, "overhead": 0.2, "profit_margin": 0.3, "standby": 0.5, "waste": 0.1,
         "loan_down": 0.1, "description": "other", "name": "other"}
"""What a field is changed to where twice as much and one is no sensible value of it."""


def small() -> Case:
    """The case that fits in the head."""
    return read_case(SMALL)


def changed(row: Any, name: str) -> Any:
    """A record with one field changed."""
    now = getattr(row, name)
    if name == "fuel_usd_per_l":
        return replace(row, fuel_usd_per_l=tuple((fuel, 2.0 * usd) for fuel, usd in now))
    if name == "loan_rate":
        return replace(row, loan_rate=0.05, loan_term_year=4.0)
    return replace(row, **{name: OTHER[name] if name in OTHER else 2.0 * now + 1.0})


def changes(case: Case) -> Iterator[tuple[str, Case]]:
    """The case with each field changed that minutes are said not to depend on, in all rows of its table."""
    tables = {**dict.fromkeys(("trucks", "plows", "spreaders", "ballast"), sharing.OF_ITEMS),
              "materials": sharing.OF_MATERIALS, "sites": sharing.OF_SITES}
    for table, names in tables.items():
        rows = getattr(case, table)
        for name in (field.name for field in fields(rows[0]) if field.name in names):
            yield f"{table}.{name}", replace(case, **{table: tuple(changed(row, name) for row in rows)})
    for name in sharing.OF_MONEY:
        yield f"money.{name}", replace(case, money=changed(case.money, name))
    yield "crew.drivers", replace(case, crew=replace(case.crew, drivers=7))
    yield "question", replace(case, question="profit")
    yield "solve", replace(case, solve=replace(case.solve, gap=0.1, time_limit_s=7.0, seed=3))


CHANGES = dict(changes(read_case(SMALL)))


def differing(one: Any, other: Any) -> list[str]:
    """The fields in which two records of arrays differ."""
    return [field.name for field in fields(one)
            if not np.array_equal(getattr(one, field.name), getattr(other, field.name))]


@pytest.mark.parametrize("change", CHANGES)
def test_minutes_are_shared_and_right_where_only_money_differs(change: str) -> None:
    """With each figure of money changed, one at a time, the minutes of the case before are used, and the
    program is in every array the one that is made without sharing."""
    before = sharing.shared_stages(small())
    made = sharing.shared_stages(CHANGES[change])
    assert made.times is before.times
    assert made.case is CHANGES[change]
    assert differing(made.problem, pipeline.planned_stages(CHANGES[change]).problem) == []


@pytest.mark.parametrize("change", [
    lambda case: replace(case, storm=replace(case.storm, snowfall_rate_m_per_min=1e-4)),
    lambda case: replace(case, season=case.season[:1]),
    lambda case: replace(case, sites=case.sites[1:]),
    lambda case: replace(case, money=replace(case.money, overtime_after_min=60.0)),
    lambda case: replace(case, solve=replace(case.solve, reserve_min=5.0))],
    ids=["rate", "season", "sites", "overtime", "reserve"])
def test_minutes_are_made_anew_where_they_depend_on_the_change(change: Any) -> None:
    """Where snow, season, sites, overtime or the reserve differ, nothing is taken over, and the program is
    that made without sharing."""
    before = sharing.shared_stages(small())
    made = sharing.shared_stages(change(small()))
    assert made.times is not before.times
    assert differing(made.problem, pipeline.planned_stages(change(small())).problem) == []


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> tuple[pipeline.Stages, tuple[NamedLoop, ...]]:
    """A town of ten sites of given parcels, and the loops near its best plan, by name."""
    case = read_case(town(tmp_path_factory.mktemp("town") / "case", 10))
    case = replace(case, sites=tuple(
        replace(site, parcels=2 if n < 2 else 1) for n, site in enumerate(case.sites)))
    solved = solve_case(case)
    assert solved.start is not None and len(solved.start.near) > 50
    return pipeline.planned_stages(case), solved.start.near


def test_in_the_same_case_every_loop_is_itself(
        start: tuple[pipeline.Stages, tuple[NamedLoop, ...]]) -> None:
    """By name and back, all loops are there with clock, stops and reloads, with or without a look at limits,
    and named again they are what they were."""
    made, near = start
    found = sharing.carried(made, near, False)
    assert found == sharing.carried(made, near, True)
    assert sharing.named(made, pipeline.measured(made.problem, found)) == near


def test_only_loops_within_the_limits_are_carried(
        start: tuple[pipeline.Stages, tuple[NamedLoop, ...]]) -> None:
    """In heavier snow some loops remain and others are longer than their clock: those that remain, measured
    by the program, are within it, and those that are left out are not."""
    made, near = start
    rate = 1.3 * made.case.storm.snowfall_rate_m_per_min
    there = pipeline.planned_stages(
        replace(made.case, storm=replace(made.case.storm, snowfall_rate_m_per_min=rate)))
    some, every = (sharing.carried(there, near, same) for same in (False, True))
    assert 0 < len(some) < len(every)
    for loop, one in zip(every, pipeline.measured(there.problem, every), strict=True):
        short = one.duration_min <= there.problem.cycle_limit_min[one.clock] + 1e-6
        assert short == (loop in some)


def test_loops_keep_what_is_still_there(start: tuple[pipeline.Stages, tuple[NamedLoop, ...]]) -> None:
    """Without a site its loops have their other stops; without a truck, its loops are gone; at clocks that
    are all others, every loop is."""
    made, near = start
    gone, truck = made.case.sites[0].id, near[0].truck
    fewer = pipeline.planned_stages(replace(made.case, sites=made.case.sites[1:]))
    found = sharing.named(fewer, pipeline.measured(fewer.problem, sharing.carried(fewer, near, False)))
    assert any(stop.site == gone for loop in near for stop in loop.stops)
    assert all(stop.site != gone for loop in found for stop in loop.stops)
    assert {tuple(s.site for s in loop.stops) for loop in found} >= {
        tuple(s.site for s in loop.stops) for loop in near if gone not in [s.site for s in loop.stops]}
    others = pipeline.planned_stages(replace(made.case, trucks=tuple(
        row for row in made.case.trucks if row.id != truck)))
    left = sharing.carried(others, near, False)
    assert len(left) == sum(loop.truck != truck for loop in near) < len(near)
    tau = replace(made.case.assumptions, tau_step_min=7.0)
    sites = tuple(replace(site, plow_every_min=121.0, deice_every_min=None if not site.deiced else 121.0,
                          deadline_min=inf) for site in made.case.sites)
    moved = pipeline.planned_stages(replace(made.case, assumptions=tau, sites=sites))
    assert not set(moved.times.clocks_min.tolist()) & set(made.times.clocks_min.tolist())
    assert sharing.carried(moved, near, False) == ()


def test_a_case_without_a_plan_gives_nothing_to_begin_with() -> None:
    """With 10,000 USD to spend the small case has no plan, and with no time none is found: both are told, and
    the next case begins cold."""
    case = small()
    poor = solve_case(replace(case, money=replace(case.money, budget_usd=10_000.0)))
    assert poor.plan is not None and pipeline.from_json(poor.plan).money is None
    assert poor.start is not None and poor.start.loops == ()
    begun = solve_case(case, COLD)
    assert begun.plan is not None and begun.start is None
    cold = pipeline.make_plan(case)
    assert pipeline.from_json(begun.plan).outcome.cost_usd == pytest.approx(cold.outcome.cost_usd)

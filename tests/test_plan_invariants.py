"""What must hold of whole plans whatever the numbers: more money, looser promises, other units or order."""

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path

import numpy as np
import pytest
from seeded_cases import SMALL, seeded_case, small_case

from optibuild.inputs import read_case
from optibuild.pipeline import make_plan
from optibuild.records import Case, Plan


@cache
def objective(case: Case) -> float:
    """The objective of a case's plan, proved; inf where it has none."""
    outcome = make_plan(case).outcome
    assert outcome.proof in ("proved best", "none")
    return inf if outcome.objective_usd is None else outcome.objective_usd


def not_above(usd: float, other: float) -> bool:
    """Whether one objective is no worse than another, the solver's tolerance aside."""
    return usd <= other + 1e-6 * max(1.0, abs(other)) if other < inf else True


def with_budget(case: Case, budget_usd: float) -> Case:
    """The case with another budget."""
    return replace(case, money=replace(case.money, budget_usd=budget_usd))


@pytest.mark.parametrize("question", ["cover", "value"])
@pytest.mark.parametrize("seed", [1, 2, 8, 12, 16, 19])
def test_more_budget_is_never_worse(seed: int, question: str) -> None:
    """From 30,000 USD to no limit, every step of budget leaves the objective as good or better."""
    case = seeded_case(seed, question=question)
    steps = [objective(with_budget(case, usd)) for usd in (30_000.0, 55_000.0, 90_000.0, inf)]
    assert all(not_above(richer, poorer) for poorer, richer in zip(steps, steps[1:], strict=False))


def loosened(case: Case, site: int) -> Case:
    """The case with one site's cycle limits an hour looser, at most the four hours that one site has."""
    def later(minutes: float | None) -> float | None:
        return None if minutes is None else min(240.0, minutes + 60.0)

    sites = list(case.sites)
    sites[site] = replace(sites[site], plow_every_min=later(sites[site].plow_every_min),
                          deice_every_min=later(sites[site].deice_every_min))
    return replace(case, sites=tuple(sites))


@pytest.mark.parametrize("seed", range(12))
def test_a_looser_cycle_limit_never_costs_more(seed: int) -> None:
    """A site's cycle limits moved up the hourly grid of clocks, which stays as it is, leave the objective as
    good or better."""
    case = seeded_case(seed)
    assert {row for site in case.sites for row in (site.plow_every_min, site.deice_every_min) if row} <= {
        60.0, 120.0, 180.0, 240.0}
    assert not_above(objective(loosened(case, seed % 4)), objective(case))


GIVEN_AWAY = {"id": "extra", "price_usd": 1.0, "resale_usd": 0.2, "owned": 0}


def with_dear_twin(case: Case) -> Case:
    """The case with a truck like its last at a higher price, where that one can always be bought."""
    last = case.trucks[-1]
    if last.owned or last.available < inf:
        return case
    return replace(case, trucks=(*case.trucks, replace(last, id="extra", price_usd=last.price_usd + 5_000)))


USELESS: tuple[Callable[[Case], Case], ...] = (
    lambda c: replace(c, trucks=(replace(c.trucks[0], **GIVEN_AWAY, curb_rear_kg=9_000.0), *c.trucks)),
    lambda c: replace(c, trucks=(replace(c.trucks[0], **GIVEN_AWAY, available=0.0), *c.trucks)),
    lambda c: replace(c, plows=(replace(c.plows[0], **GIVEN_AWAY, blade_mass_kg=3_000.0), *c.plows)),
    lambda c: replace(c, plows=(*c.plows, replace(c.plows[1], **GIVEN_AWAY, min_gvwr_kg=50_000.0))),
    lambda c: replace(c, spreaders=(
        replace(c.spreaders[1], **GIVEN_AWAY, empty_mass_kg=9_000.0), *c.spreaders)),
    with_dear_twin,
)
"""A truck heavier than its ratings; one that cannot be had; a plow no axle carries; one no truck is rated
for; a spreader no bed carries; a truck like another at a higher price."""


@pytest.mark.parametrize("seed", range(30))
def test_a_useless_item_changes_nothing(seed: int) -> None:
    """A catalog row of no use, put first or last, leaves the objective as it was."""
    case = seeded_case(seed % 18)
    more = USELESS[seed % len(USELESS)](case)
    before, after = objective(case), objective(more)
    assert after == (before if before == inf else pytest.approx(before, rel=1e-6))


def chosen(plan: Plan) -> list[tuple[object, ...]]:
    """Builds with ballast and stops: what the user would do."""
    return sorted((truck.build, tuple((row.id, row.count) for row in truck.ballast),
                   truck.loop.cycle_limit_min,
                   tuple((stop.site, stop.parcels, stop.work) for stop in truck.loop.stops))
                  for truck in plan.trucks)


POUND, INCH, FOOT, MILE, GALLON = 0.45359237, 0.0254, 0.3048, 1609.344, 3.785411784
METRIC: dict[str, tuple[str, Callable[[float], float]]] = {
    "lb": ("kg", lambda x: x * POUND), "in": ("m", lambda x: x * INCH), "ft": ("m", lambda x: x * FOOT),
    "acre": ("m^2", lambda x: x * 4046.8564224), "ft^3": ("m^3", lambda x: x * FOOT**3),
    "lb/ft^3": ("kg/m^3", lambda x: x * POUND / FOOT**3), "lb/min": ("kg/min", lambda x: x * POUND),
    "mi/gal": ("L/100km", lambda x: 100_000 * GALLON / (x * MILE)),
    "USD/ton": ("USD/kg", lambda x: x / 2000 / POUND), "degF": ("degC", lambda x: (x - 32) * 5 / 9),
}
"""Exact by definition: the international pound and inch, 43,560 square feet an acre, 231 cubic inches a
gallon."""


def rewrite(folder: Path, change: Callable[[list[list[str]]], list[list[str]]]) -> Path:
    """The small case in a folder, every table changed."""
    for table in SMALL.glob("*.csv"):
        with table.open(newline="") as source, (folder / table.name).open("w", newline="") as copy:
            csv.writer(copy).writerows(change(list(csv.reader(source))))
    (folder / "case.toml").write_text((SMALL / "case.toml").read_text())
    return folder


def metric(rows: list[list[str]]) -> list[list[str]]:
    """A table with every customary column in kilograms, meters and liters."""
    for column, heading in enumerate(rows[0]):
        unit = re.search(r"\[(.+)\]", heading)
        if unit and unit[1] in METRIC:
            name, to = METRIC[unit[1]]
            rows[0][column] = heading.replace(unit[0], f"[{name}]")
            for row in rows[1:]:
                row[column] = repr(to(float(row[column].replace(",", "")))) if row[column] else ""
    return rows


def test_kilograms_and_meters_give_the_same_plan(tmp_path: Path) -> None:
    """The small case with its tables and storm in SI units gives the same builds, ballast and loops at the
    same cost as in customary ones."""
    folder = rewrite(tmp_path, metric)
    text = (folder / "case.toml").read_text()
    text = text.replace('"1 in/h"', '"25.4 mm/h"').replace('"25 degF"', f'"{(25 - 32) * 5 / 9!r} degC"')
    (folder / "case.toml").write_text(text)
    written = "".join(table.read_text() for table in sorted(folder.glob("*")))
    assert not re.search(r"\[(lb|in|ft|acre|mi/gal|degF)|degF|in/h", written)
    plan, usual = make_plan(read_case(folder)), make_plan(small_case())
    assert plan.outcome.cost_usd == pytest.approx(usual.outcome.cost_usd, rel=1e-9)
    assert chosen(plan) == chosen(usual)


@pytest.mark.parametrize("seed", range(4))
def test_order_of_input_rows_does_not_matter(seed: int, tmp_path: Path) -> None:
    """Every table of the small case with its rows in another order gives the same objective and builds."""
    rng = np.random.default_rng(seed)
    folder = rewrite(tmp_path, lambda rows: [rows[0], *(rows[1 + k] for k in rng.permutation(len(rows) - 1))])
    plan, usual = make_plan(read_case(folder)), make_plan(small_case())
    assert plan.outcome.objective_usd == pytest.approx(usual.outcome.objective_usd, rel=1e-9)
    assert sorted(truck.build for truck in plan.trucks) == sorted(truck.build for truck in usual.trucks)


@pytest.mark.parametrize("gap", [0.02, 0.5])
@pytest.mark.parametrize("seed", [0, 1, 6, 8, 12, 16])
def test_bound_and_gap_of_a_plan(seed: int, gap: float) -> None:
    """With a gap asked, the plan's bound is at most its objective and at most the proved optimum, the gap is
    not negative and within what was asked, and the plan passed its recheck."""
    case = seeded_case(seed)
    plan = make_plan(replace(case, solve=replace(case.solve, gap=gap)))
    outcome = plan.outcome
    assert outcome.objective_usd is not None and outcome.bound_usd is not None and outcome.gap is not None
    assert outcome.bound_usd <= outcome.objective_usd
    assert not_above(outcome.bound_usd, objective(case))
    assert not_above(objective(case), outcome.objective_usd)
    assert 0.0 <= outcome.gap <= gap
    assert plan.recheck is not None and plan.recheck.passed

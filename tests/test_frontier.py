"""Contract value against budget, drivers and snowfall rate: every step, against enumeration of all plans."""

import json
import shutil
from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from loop_oracle import answers
from openpyxl import load_workbook
from seeded_cases import seeded_case

from optibuild.cli import main
from optibuild.errors import StoppedWithoutPlan
from optibuild.inputs import read_case
from optibuild.pipeline import LoopProblem, make_plan, stages
from optibuild.records import Case
from optibuild.records.frontier import Frontier, FrontierKey, FrontierStep
from optibuild.report import frontier_document, frontier_text
from optibuild.what_if import frontier

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
SEEDS = range(20)
RATE_SEEDS = (0, 1)
MOST = 200
CENT = 0.01
STEP_KEYS = {"value", "contract_value_usd", "bound_usd", "fails_at", "exact", "cost_usd", "capital_usd",
             "trucks", "items", "sites", "rechecked", "bought_more", "gained", "lost"}
ITEM_KEYS = {"id", "table", "bought", "owned_used", "price_usd", "annual_usd"}


@cache
def found(seed: int, key: FrontierKey) -> Frontier:
    """The frontier of a seeded case, to the end."""
    return frontier(seeded_case(seed), key, MOST)


def counting(problem: LoopProblem, **changes: Any) -> LoopProblem:
    """The program with all money taken out and some put back, nothing lost by leaving optional sites out."""
    free = {name: np.zeros_like(getattr(problem, name))
            for name in ("fixed_usd", "drive_usd_per_min", "drive_usd_per_m", "stop_usd", "annual_usd",
                         "upkeep_usd")}
    return replace(problem, **{**free, **changes})


def staircase(problem: LoopProblem) -> list[tuple[float, float]]:
    """Every (cost of the counting program, contract value) that no cheaper plan reaches: all sets of sites
    left out are looked at, each with its least cost over every fleet and every loop."""
    total = float(problem.worth.sum())
    points = sorted((one.cost_usd, -(total - sum(float(problem.worth[n]) for n in one.missed)))
                    for one in answers(problem))
    steps: list[tuple[float, float]] = []
    for cost, less in points:
        if not steps or -less > steps[-1][1] + CENT / 2:
            steps.append((cost, -less))
    return steps


@cache
def by_budget(seed: int) -> list[tuple[float, float]]:
    """The steps of capital by enumeration."""
    problem = stages(seeded_case(seed)).problem
    return staircase(counting(problem, annual_usd=problem.price_usd, budget_usd=inf))


@cache
def by_drivers(seed: int) -> list[tuple[float, float]]:
    """The steps of trucks by enumeration; one driver a truck here."""
    problem = stages(seeded_case(seed)).problem
    return staircase(counting(problem, fixed_usd=np.ones_like(problem.fixed_usd), most_loops=inf))


def told(steps: tuple[FrontierStep, ...]) -> list[tuple[float, float]]:
    """Where each step begins and what it covers."""
    return [(row.value, row.contract_value_usd) for row in steps]


# ---- against enumeration


@pytest.mark.parametrize("seed", SEEDS)
def test_budget_steps_are_those_of_enumeration(seed: int) -> None:
    """The steps by budget are those of the least capital over all plans, to the cent up, and all proved."""
    steps, expected = found(seed, "budget").steps, by_budget(seed)
    assert [usd for _, usd in told(steps)] == pytest.approx([usd for _, usd in expected])
    assert [at for at, _ in told(steps)] == pytest.approx([at for at, _ in expected], abs=CENT, rel=1e-6)
    assert all(row.exact and row.bound_usd == pytest.approx(row.contract_value_usd) for row in steps)


@pytest.mark.parametrize("seed", SEEDS)
def test_driver_steps_are_those_of_enumeration(seed: int) -> None:
    """The steps by drivers, within the case's budget, are those of the fewest trucks over all plans, and all
    proved."""
    steps, expected = found(seed, "drivers").steps, by_drivers(seed)
    assert told(steps) == [(at, pytest.approx(usd)) for at, usd in expected]
    assert all(row.exact and row.bound_usd == pytest.approx(row.contract_value_usd) for row in steps)


def test_the_seeded_cases_have_steps_to_find() -> None:
    """Among the seeds some have no plan, some one step, some four and more by budget and two by drivers."""
    budget, drivers = ([len(walk(seed)) for seed in SEEDS] for walk in (by_budget, by_drivers))
    assert {0, 1} <= {*budget} and sum(n >= 4 for n in budget) >= 3
    assert 0 in drivers and sum(n >= 2 for n in drivers) >= 5


def at_rate(case: Case, rate_m_per_min: float) -> Case:
    """The case in a storm of another snowfall rate."""
    return replace(case, storm=replace(case.storm, snowfall_rate_m_per_min=rate_m_per_min))


@cache
def most_by_enumeration(seed: int, rate_m_per_min: float) -> float | None:
    """The most contract value over all plans at a snowfall rate; None without a plan."""
    problem = stages(at_rate(seeded_case(seed), rate_m_per_min)).problem
    return max((float(problem.worth.sum()) - sum(float(problem.worth[n]) for n in one.missed)
                for one in answers(counting(problem))), default=None)


@pytest.mark.parametrize("seed", RATE_SEEDS)
def test_rate_steps_hold_at_a_grid_of_rates(seed: int) -> None:
    """At nine rates from a quarter to four times the case's own, enumeration of all plans covers what the
    step of that rate says; within 1 % above a step it may be that of either side."""
    case, steps = seeded_case(seed), found(seed, "rate").steps
    own = case.storm.snowfall_rate_m_per_min
    for rate in (own * 4.0 ** (k / 4.0) for k in range(-4, 5)):
        sides = [max((row.contract_value_usd for row in steps if row.value * above >= rate), default=None)
                 for above in (1.0, 1.0101)]
        most = most_by_enumeration(seed, rate)
        assert any(most == (None if usd is None else pytest.approx(usd)) for usd in sides)


@pytest.mark.parametrize("seed", RATE_SEEDS)
def test_rate_steps_are_known_to_within_one_percent(seed: int) -> None:
    """Every step by rate is proved out of reach at a rate at most 1 % heavier, but for the heaviest looked
    at, four times the case's own, of which nothing is known beyond it."""
    case, walk = seeded_case(seed), found(seed, "rate")
    for row in walk.steps:
        heaviest = row.value == pytest.approx(4.0 * case.storm.snowfall_rate_m_per_min)
        assert row.exact != heaviest
        assert row.fails_at is None if heaviest else (
            row.fails_at is not None and row.value < row.fails_at <= 1.010001 * row.value)
    reached = any(row.value == walk.looked_to for row in walk.steps)
    assert ("not looked beyond" in frontier_text(walk, case)) == reached
    assert walk.looked_to == pytest.approx(4.0 * case.storm.snowfall_rate_m_per_min)


def test_rate_steps_hold_for_sites_cut_as_at_the_own_rate() -> None:
    """At four times the own rate `plan`, which cuts sites anew, covers all that is offered. With the parcels
    of the own rate it covers what the frontier says, which is less; the screen says that cut finer, more may
    be covered, before it says what is proved."""
    case = read_case(SMALL)
    case = replace(case, sites=tuple(replace(site, must_serve=False) for site in case.sites))
    walk = frontier(case, "rate", MOST)
    heaviest = replace(at_rate(case, walk.looked_to or 0.0), question="value")
    assert all(site.parcels is None for site in case.sites)
    parcels = stages(case).times.parcels.tolist()
    as_cut = replace(heaviest, sites=tuple(replace(site, parcels=n)
                                           for site, n in zip(case.sites, parcels, strict=True)))
    free, cut = (plan.money and plan.money.contract_value_usd for plan in map(make_plan, (heaviest, as_cut)))
    assert free == pytest.approx(walk.offered_usd)
    assert walk.steps[0].value == walk.looked_to
    assert cut == pytest.approx(walk.steps[0].contract_value_usd)
    assert walk.steps[0].bound_usd < walk.offered_usd
    said = " ".join(frontier_text(walk, case).split())
    assert "cut as at the case's own rate; cut finer, more may be covered. Proved: " in said
    assert "Looked at from 0.125 in/h to 4.000 in/h" in said  # the least depth, 1 in, in 8 h


def test_where_nothing_is_paid_it_is_said_and_one_search_is_one() -> None:
    """No site has pay: one step of 0 USD after 1 search, and one sentence why."""
    case = seeded_case(1)
    case = replace(case, sites=tuple(replace(site, pay_by=None, pay_usd=0.0) for site in case.sites))
    said = " ".join(frontier_text(frontier(case, "budget", MOST), case).split())
    assert "No site has pay" in said and "No site has pay" not in frontier_text(found(1, "budget"), case)
    assert " 1 search." in " ".join(frontier_text(frontier(bound_case(), "budget", MOST), case).split())


# ---- what always holds


@pytest.mark.parametrize("key", ["budget", "drivers", "rate"])
@pytest.mark.parametrize("seed", RATE_SEEDS)
def test_easier_is_never_worse(seed: int, key: FrontierKey) -> None:
    """Contract value rises strictly with budget and drivers and as the storm gets lighter; every step has a
    rechecked plan, within its budget or drivers."""
    steps = found(seed, key).steps
    order = [-row.value if key == "rate" else row.value for row in steps]
    assert order == sorted(set(order))
    values = [row.contract_value_usd for row in steps]
    assert values == sorted(set(values))
    assert all(row.rechecked and row.cost_usd is not None for row in steps)
    assert all(row.capital_usd <= row.value + 1e-6 for row in steps if key == "budget")
    assert all(row.trucks <= row.value for row in steps if key == "drivers")


@pytest.mark.parametrize(("most", "seconds"), [(2, 60.0), (3, 60.0), (5, 60.0), (MOST, 0.02), (MOST, 0.4)])
@pytest.mark.parametrize("seed", [1, 5, 8])
def test_the_band_holds_however_little_is_searched(seed: int, most: int, seconds: float) -> None:
    """With few searches or hardly any time each step is reached by enumeration at no larger budget, and up
    to the next step enumeration never exceeds its bound; what is said to fail at a budget does."""
    case = seeded_case(seed)
    case = replace(case, solve=replace(case.solve, time_limit_s=seconds))
    try:
        steps = frontier(case, "budget", most).steps
    except StoppedWithoutPlan:
        return
    exact = by_budget(seed)

    def most_within(budget: float) -> float:
        return max((usd for at, usd in exact if at <= budget + 1e-6), default=-inf)

    assert steps
    for k, row in enumerate(steps):
        before_next = steps[k + 1].value - CENT if k + 1 < len(steps) else inf
        assert most_within(row.value) >= row.contract_value_usd - 1e-6
        assert most_within(before_next) <= row.bound_usd + 1e-6
        assert row.fails_at is None or most_within(row.fails_at) < row.contract_value_usd - 1e-6


def test_few_searches_leave_a_band() -> None:
    """Two searches cannot tell all steps of a case with four: it says so, and the bound lies above."""
    walk = frontier(seeded_case(1), "budget", 2)
    assert walk.ended == "most searches" and walk.searches == 2
    assert "--most" in frontier_text(walk, seeded_case(1))
    assert any(row.bound_usd > row.contract_value_usd + 1.0 for row in walk.steps)


def test_searches_are_few() -> None:
    """By budget it takes at most two searches a step and two more: for the least capital, and with money
    no object."""
    for seed in SEEDS:
        walk = found(seed, "budget")
        assert walk.searches <= 2 * len(walk.steps) + 2


@pytest.mark.parametrize("calls", [1, 4, 8, 16, 32])
def test_an_interrupted_search_keeps_the_steps_known(calls: int) -> None:
    """Ctrl-C, wherever it falls, leaves steps that enumeration reaches and bounds that it never exceeds; the
    plans without a cost are those not rechecked."""
    heard = 0

    def progress(_: object) -> None:
        nonlocal heard
        heard += 1
        if heard >= calls:
            raise KeyboardInterrupt

    try:
        walk = frontier(seeded_case(1), "budget", MOST, progress)
    except StoppedWithoutPlan as stopped:
        assert stopped.interrupted and calls == 1
        return
    exact = by_budget(1)
    assert walk.ended == "interrupted" and heard >= calls
    for row in walk.steps:
        assert max(usd for at, usd in exact if at <= row.value + 1e-6) >= row.contract_value_usd - 1e-6
        assert row.rechecked == (row.cost_usd is not None)
    assert walk.steps[-1].bound_usd >= exact[-1][1] - 1e-6


def test_two_drivers_a_truck_count_double() -> None:
    """Where a shift is half as long as the longest event, every truck takes two drivers: steps lie at twice
    the trucks of enumeration."""
    case = seeded_case(1)
    longest = max(event.duration_min for event in case.season if event.count > 0)
    walk = frontier(replace(case, crew=replace(case.crew, shift_min=longest / 2.0)), "drivers", MOST)
    assert told(walk.steps) == [(2.0 * at, pytest.approx(usd)) for at, usd in by_drivers(1)]
    assert all(row.exact for row in walk.steps)


def test_rates_are_told_in_the_units_of_the_case() -> None:
    """0.02 m in 60 min is 20 mm/h in a metric case and 0.787 in/h (20 / 25.4) in an American one."""
    case = seeded_case(1)
    walk = found(1, "rate")
    one = replace(walk, steps=(replace(walk.steps[0], value=0.02 / 60.0),))
    for units, said in (("si", "20.000"), ("us", "0.787")):
        assert said in frontier_text(one, replace(case, units=units))


# ---- one step


def bound_case() -> Case:
    """A seeded case in which every site must be served."""
    case = seeded_case(1)
    return replace(case, sites=tuple(replace(site, must_serve=True) for site in case.sites))


def test_where_all_must_be_served_there_is_one_step() -> None:
    """One search finds the one step, and the screen names the remedy."""
    walk = frontier(bound_case(), "budget", MOST)
    assert (len(walk.steps), walk.searches, walk.optional) == (1, 1, 0)
    assert walk.steps[0].contract_value_usd == walk.offered_usd
    assert "must_serve = no" in frontier_text(walk, bound_case())


def test_no_plan_gives_no_steps() -> None:
    """Where no truck can be had and some site must be served, there is no step, and it is told why."""
    case = replace(bound_case(), trucks=tuple(
        replace(row, owned=0, available=0.0) for row in seeded_case(1).trucks))
    for key in ("budget", "drivers", "rate"):
        walk = frontier(case, key, MOST)  # type: ignore[arg-type]
        assert walk.steps == ()
        assert "No plan exists" in frontier_text(walk, case)


# ---- the command


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.mark.parametrize(("key", "unit"), [("budget", "USD"), ("drivers", "drivers"), ("rate", "m/min")])
def test_the_command_writes_json_csv_and_workbook(tmp_path: Path, key: str, unit: str) -> None:
    """The JSON has exactly the keys promised, the same as --json prints; CSV and workbook have a row for each
    step, with the same headings and contract values."""
    done = run("frontier", SMALL, "--out", tmp_path / "out", "--key", key, "--json")
    assert done.exit_code == 0, done.output
    tree = json.loads((tmp_path / "out" / f"frontier_{key}.json").read_text())
    assert json.loads(done.stdout) == tree
    assert set(tree) == {"format", "key", "unit", "offered_usd", "searches", "ended", "optional",
                         "looked_from", "looked_to", "case", "steps"}
    assert tree["case"]["name"] == "small" and "sites.csv" in tree["case"]["inputs"]
    assert (tree["format"], tree["key"], tree["unit"]) == ("optibuild-frontier/1", key, unit)
    assert all(set(row) == STEP_KEYS for row in tree["steps"])
    assert all(set(item) == ITEM_KEYS for row in tree["steps"] for item in row["items"])
    lines = (tmp_path / "out" / f"frontier_{key}.csv").read_text().splitlines()
    assert len(lines) == 1 + len(tree["steps"]) > 1
    head, *rows = load_workbook(tmp_path / "out" / f"frontier_{key}.xlsx")[f"frontier_{key}"].values
    assert ",".join(map(str, head)) == lines[0].replace('"', "")
    at = next(k for k, title in enumerate(head) if str(title).startswith("contract"))
    assert [row[at] for row in rows] == pytest.approx([row["contract_value_usd"] for row in tree["steps"]])


@pytest.mark.parametrize("key", ["budget", "drivers", "rate"])
def test_the_screen_keeps_to_80_columns(tmp_path: Path, key: str) -> None:
    """No line of the screen is longer than 80 characters."""
    done = run("frontier", SMALL, "--out", tmp_path, "--key", key)
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 80


def test_steps_name_what_is_bought_and_gained() -> None:
    """Adding what each step buys and gains up from the first gives the last step's purchases and sites."""
    walk = found(1, "budget")
    tree = frontier_document(walk)
    bought: dict[str, int] = {}
    sites: set[str] = set()
    for row in tree["steps"]:
        sites = (sites | {*row["gained"]}) - {*row["lost"]}
        for name, n in row["bought_more"].items():
            bought[name] = bought.get(name, 0) + n
        assert sites == {*row["sites"]}
        assert {name: n for name, n in bought.items() if n} == {
            item["id"]: item["bought"] for item in row["items"] if item["bought"]}


def test_no_plan_ends_with_exit_code_four(tmp_path: Path) -> None:
    """A case without a plan ends with exit code 4 and writes a frontier without steps."""
    folder = tmp_path / "case"
    shutil.copytree(SMALL, folder)
    text = (folder / "sites.csv").read_text()
    (folder / "sites.csv").write_text(text.replace("0.4,150", "400,150"))
    done = run("frontier", folder, "--out", tmp_path / "out")
    assert done.exit_code == 4, done.output
    assert json.loads((tmp_path / "out" / "frontier_budget.json").read_text())["steps"] == []


def test_a_file_of_another_is_left_alone(tmp_path: Path) -> None:
    """A CSV of that name that is not ours is not overwritten."""
    (tmp_path / "frontier_budget.csv").write_text("mine")
    assert run("frontier", SMALL, "--out", tmp_path).exit_code == 2
    assert (tmp_path / "frontier_budget.csv").read_text() == "mine"

"""The example cases give what their READMEs say, and the plans hold."""

import csv
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import readme_commands

from optibuild.inputs import read_case
from optibuild.pipeline import make_plan
from optibuild.plan import SCHEMA_PATH, to_json
from optibuild.records import Plan

ROOT = Path(__file__).parents[1]
EXAMPLES = ("contract-bid", "fleet-budget", "planner-what-if")
SCHEMA = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
ROW = re.compile(r"^\| ([^|]+?) \| ([\d,]+)(?: USD)? \|$", re.MULTILINE)
# half of the last digit printed, and two cents of rounding
HALF_A_DOLLAR = 0.52


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the examples and catalogs to plan in."""
    return readme_commands.copy_checkout(tmp_path_factory.mktemp("checkout"))


@cache
def expected(example: str) -> dict[str, float]:
    """The figures in an example's README, by name."""
    text = (ROOT / "examples" / example / "README.md").read_text(encoding="utf-8")
    return {name: float(value.replace(",", "")) for name, value in ROW.findall(text)}


@cache
def planned(example: str, folder: Path) -> dict[str, Any]:
    """plan.json as written by the first command that an example's README shows."""
    line = readme_commands.commands(ROOT / "examples" / example / "README.md")[0]
    done = readme_commands.run(line, folder)
    assert done.returncode == 0, done.stderr
    return json.loads((folder / line.split()[-1] / "plan.json").read_text(encoding="utf-8"))


def figures(tree: dict[str, Any]) -> dict[str, float]:
    """The figures of a plan that an example's README may state, by name."""
    money = tree["money"]
    return {"season cost": tree["outcome"]["cost_usd"], "capital": money["capital_usd"],
            "contract value": money["contract_value_usd"], "trucks": len(tree["trucks"]),
            "sites left out": sum(not site["served"] for site in tree["sites"])}


def test_every_example_is_planned_here() -> None:
    """The examples that ship are those of this file, and each README says where its case is."""
    for example in EXAMPLES:
        line = readme_commands.commands(ROOT / "examples" / example / "README.md")[0]
        assert f"plan examples/{example} --out " in line


@pytest.mark.parametrize("example", EXAMPLES)
def test_example_is_planned_and_rechecked(example: str, checkout: Path) -> None:
    """The command of an example's README writes a plan that is valid and passes every check."""
    tree = planned(example, checkout)
    jsonschema.validate(tree, SCHEMA, jsonschema.Draft202012Validator)
    assert tree["recheck"]["passed"]
    assert tree["outcome"]["proof"] in ("proved best", "within the asked gap")


@pytest.mark.parametrize("example", EXAMPLES)
def test_objective_is_within_the_asked_gap_of_the_proved_one(example: str, checkout: Path) -> None:
    """Cost (or contract value) differs from the proved best in the README by no more than the asked gap."""
    case = read_case(checkout / "examples" / example)
    name = "contract value" if case.question == "value" else "season cost"
    best, found = expected(example)[name], figures(planned(example, checkout))[name]
    assert found == pytest.approx(best, rel=max(case.solve.gap, 1e-6), abs=HALF_A_DOLLAR)


@pytest.mark.parametrize("example", EXAMPLES)
def test_asked_to_prove_it_an_example_shows_every_figure_of_its_readme(example: str, checkout: Path) -> None:
    """With a gap of 0 asked, cost, capital, trucks and sites left out are the README's, to the dollar."""
    case = read_case(checkout / "examples" / example)
    plan = make_plan(replace(case, solve=replace(case.solve, gap=0.0)))
    stated = {name: value for name, value in expected(example).items() if ", " not in name}
    found = figures(json.loads(to_json(plan)))
    assert plan.outcome.proof == "proved best"
    assert len(stated) >= 4
    assert stated == pytest.approx({name: found[name] for name in stated}, abs=HALF_A_DOLLAR)


def test_budget_of_the_fleet_buyer_is_kept(checkout: Path) -> None:
    """The fleet buyer's plan spends at most the 85,000 USD there are and leaves out optional sites only."""
    tree = planned("fleet-budget", checkout)
    case = read_case(checkout / "examples" / "fleet-budget")
    optional = {site.id for site in case.sites if not site.must_serve}
    assert case.money.budget_usd == pytest.approx(85_000)
    assert tree["money"]["capital_usd"] <= case.money.budget_usd
    assert {site["id"] for site in tree["sites"] if not site["served"]} <= optional


def test_variations_of_the_planner_cost_what_the_readme_says(checkout: Path) -> None:
    """`vary`, the planner's second command, finds the costs that planning with edited tables gives below."""
    line = readme_commands.commands(ROOT / "examples" / "planner-what-if" / "README.md")[1]
    done = readme_commands.run(line, checkout)
    assert done.returncode == 0, done.stderr
    rows = {row["name"]: row for row in json.loads((checkout / "fenwater" / "vary.json").read_text())["rows"]}
    stated = expected("planner-what-if")
    assert rows["base"]["cost_usd"] == pytest.approx(stated["season cost"], abs=HALF_A_DOLLAR)
    for kind in ("light trucks only", "heavy trucks only"):
        assert rows[kind]["cost_usd"] == pytest.approx(stated[f"season cost, {kind}"], abs=HALF_A_DOLLAR)


def _without(folder: Path, sizes: tuple[str, ...]) -> Plan:
    """The planner's plan where trucks of some sizes cannot be bought."""
    file = folder / "examples" / "planner-what-if" / "trucks.csv"
    kept = file.read_text(encoding="utf-8")
    rows = list(csv.DictReader(kept.splitlines()))
    try:
        with file.open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, list(rows[0]))
            writer.writeheader()
            writer.writerows(row | ({"available": "0"} if row["size"] in sizes else {}) for row in rows)
        return make_plan(read_case(file.parent))
    finally:
        file.write_text(kept, encoding="utf-8")


def test_planner_sees_which_way_it_goes(checkout: Path) -> None:
    """Light only, heavy only and both together cost what the README says; both together never cost more."""
    light, heavy = ("half-ton", "three-quarter-ton"), ("one-ton", "class 4-5")
    both = figures(planned("planner-what-if", checkout))["season cost"]
    for kind, others in (("light", heavy), ("heavy", light)):
        found = figures(json.loads(to_json(_without(checkout, others))))
        stated = {name.partition(", ")[0]: value for name, value in expected("planner-what-if").items()
                  if name.endswith(f", {kind} trucks only")}
        assert stated == pytest.approx({name: found[name] for name in stated}, abs=HALF_A_DOLLAR)
        assert both <= found["season cost"] * (1 + 1e-6)


def test_more_budget_never_serves_less(checkout: Path) -> None:
    """The fleet buyer serves at most as much with 60,000 USD as with 85,000 USD."""
    file = checkout / "examples" / "fleet-budget" / "case.toml"
    kept = file.read_text(encoding="utf-8")
    try:
        file.write_text(kept.replace("85000 USD", "60000 USD"), encoding="utf-8")
        poorer = make_plan(read_case(file.parent))
    finally:
        file.write_text(kept, encoding="utf-8")
    richer = figures(planned("fleet-budget", checkout))
    assert poorer.money and poorer.money.capital_usd <= 60_000
    assert poorer.money.contract_value_usd <= richer["contract value"]


def test_small_case_is_proved_best() -> None:
    """The case of three trucks and four sites is planned, rechecked and proved best, all sites served."""
    plan = make_plan(read_case(ROOT / "tests" / "data" / "small"))
    assert plan.recheck and plan.recheck.passed
    assert (plan.outcome.proof, plan.outcome.gap) == ("proved best", 0)
    assert {site.id for site in plan.sites if site.served} == {"bank", "clinic", "yard", "school"}

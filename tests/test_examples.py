"""The example cases give what their READMEs say, the plans hold, and every command shown there runs."""

import csv
import json
import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
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
NUMBER = re.compile(r"\d{1,3}(?:,\d{3})+")
# sums that READMEs do in front of the reader: the capped hospital; more value for more money, what is left
# with the one purchase and with the other, and what is asked for
WORKED = {"contract-bid": (37_572 + 11.7 * 1_947,),
          "fleet-budget": (95_540 - 91_940, 78_638 - 60_312, 91_940 - 40_105, 95_540 - 44_336,
                           60_912 - 60_912 % 1_000 + 1_000),
          "planner-what-if": ()}
# half of the last digit printed, and two cents of rounding
HALF_A_DOLLAR = 0.52
LINES = [(example, line) for example in EXAMPLES
         for line in readme_commands.commands(ROOT / "examples" / example / "README.md")]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the examples and catalogs to plan in."""
    return readme_commands.copy_checkout(tmp_path_factory.mktemp("checkout"))


@cache
def ran(example: str, folder: Path) -> dict[str, subprocess.CompletedProcess[str]]:
    """Every command of an example's README, run in the order shown."""
    return {line: readme_commands.run(line, folder) for name, line in LINES if name == example}


@cache
def expected(example: str) -> dict[str, float]:
    """The figures in an example's README, by name."""
    text = (ROOT / "examples" / example / "README.md").read_text(encoding="utf-8")
    return {name: float(value.replace(",", "")) for name, value in ROW.findall(text)}


def written(example: str, folder: Path, name: str) -> Any:
    """A JSON file in the folder that an example's README plans into."""
    line = next(line for line in ran(example, folder) if "optibuild plan " in line)
    return json.loads((folder / line.split()[-1] / name).read_text(encoding="utf-8"))


def figures(tree: dict[str, Any]) -> dict[str, float]:
    """The figures of a plan that an example's README may state, by name."""
    money = tree["money"]
    return {"season cost": tree["outcome"]["cost_usd"], "capital": money["capital_usd"],
            "contract value": money["contract_value_usd"], "trucks": len(tree["trucks"]),
            "sites left out": sum(not site["served"] for site in tree["sites"])}


def stated(example: str, apart: str = "") -> dict[str, float]:
    """What a README states of its plan, or of the plan that it tells `apart` behind a comma."""
    rows = {tuple(name.split(", ", 1)): value for name, value in expected(example).items()}
    return {name[0]: value for name, value in rows.items() if name[1:] == ((apart,) if apart else ())}


def rows_of(table: Path) -> list[dict[str, str]]:
    """A table as typed."""
    with table.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def prices(example: str) -> dict[str, float]:
    """Price of each item that an example may buy, as typed; its own tables go before the shared catalogs."""
    found: dict[str, float] = {}
    for name in ("trucks", "plows", "spreaders", "ballast"):
        own = ROOT / "examples" / example / f"{name}.csv"
        table = own if own.exists() else ROOT / "catalogs" / f"{name}.csv"
        found |= {row["id"]: float(row["price [USD]"] or 0) for row in rows_of(table)}
    return found


@contextmanager
def edited(file: Path, text: str) -> Iterator[None]:
    """A file of the copy with another text for a while."""
    kept = file.read_text(encoding="utf-8")
    file.write_text(text, encoding="utf-8")
    try:
        yield
    finally:
        file.write_text(kept, encoding="utf-8")


def test_every_example_is_planned_here() -> None:
    """The examples that ship are those of this file, and each README says where its case is."""
    assert {page.parent.name for page in ROOT.glob("examples/*/README.md")} == set(EXAMPLES)
    for example in EXAMPLES:
        assert any(name == example and f"plan examples/{example} --out " in line for name, line in LINES)


@pytest.mark.parametrize(("example", "line"), LINES)
def test_command_of_an_example_runs(example: str, line: str, checkout: Path) -> None:
    """A command shown in an example's README ends well after those before it, and writes no traceback."""
    done = ran(example, checkout)[line]
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("example", EXAMPLES)
def test_screens_that_an_example_quotes_are_real(example: str, checkout: Path) -> None:
    """Each block that a README quotes stands, letter by letter, in what one of its commands prints."""
    screens = [done.stdout for done in ran(example, checkout).values()]
    quoted = readme_commands.fenced(ROOT / "examples" / example / "README.md", "text")
    assert len(quoted) >= 2
    for block in quoted:
        assert any(block.rstrip() in screen for screen in screens), block


@pytest.mark.parametrize("example", EXAMPLES)
def test_story_of_an_example_has_no_figure_of_its_own(example: str, checkout: Path) -> None:
    """Each figure from 1,000 on in a README is printed by its commands, typed in its tables, or worked out.

    Those that it states of its plans are held by other tests.
    """
    folder = ROOT / "examples" / example
    typed = [float(word) for file in [*folder.glob("*.csv"), folder / "case.toml"]
             for word in re.findall(r"\b\d+\b", file.read_text(encoding="utf-8"))]
    known = {f"{value:,.0f}" for value in (*typed, *WORKED[example], *expected(example).values())}
    for done in ran(example, checkout).values():
        known |= set(NUMBER.findall(done.stdout))
    assert set(NUMBER.findall((folder / "README.md").read_text(encoding="utf-8"))) <= known


@pytest.mark.parametrize("example", EXAMPLES)
def test_example_is_planned_and_rechecked(example: str, checkout: Path) -> None:
    """The command of an example's README writes a plan that is valid and passes every check."""
    tree = written(example, checkout, "plan.json")
    jsonschema.validate(tree, SCHEMA, jsonschema.Draft202012Validator)
    assert tree["recheck"]["passed"]


@pytest.mark.parametrize("example", EXAMPLES)
def test_example_is_proved_best_and_shows_every_figure_of_its_readme(example: str, checkout: Path) -> None:
    """Cost or contract value is proved best, and with capital, trucks and sites it is the README's."""
    tree = written(example, checkout, "plan.json")
    found = figures(tree)
    assert tree["outcome"]["proof"] == "proved best"
    assert len(stated(example)) >= 4
    assert stated(example) == pytest.approx({name: found[name] for name in stated(example)},
                                            abs=HALF_A_DOLLAR)


@pytest.mark.parametrize("example", EXAMPLES)
def test_capital_is_what_the_tables_ask_for_the_purchase(example: str, checkout: Path) -> None:
    """The README's capital is the sum of the typed prices of what is bought.

    The buyer's by hand: 45,500 + 5,300 + 2 x 11,200 + 2,300 + 2,900 + 34 x 7 = 78,638 USD.
    """
    price = prices(example)
    bought = {item["id"]: item["bought"] for item in written(example, checkout, "plan.json")["items"]}
    assert sum(price[name] * count for name, count in bought.items()) == pytest.approx(
        stated(example)["capital"])


def test_budget_of_the_fleet_buyer_is_kept(checkout: Path) -> None:
    """The fleet buyer's plan spends at most the 85,000 USD there are and leaves out optional sites only."""
    tree = written("fleet-budget", checkout, "plan.json")
    case = read_case(checkout / "examples" / "fleet-budget")
    optional = {site.id for site in case.sites if not site.must_serve}
    assert case.money.budget_usd == pytest.approx(85_000)
    assert tree["money"]["capital_usd"] <= case.money.budget_usd
    assert {site["id"] for site in tree["sites"] if not site["served"]} <= optional


def test_frontier_of_the_fleet_buyer_adds_up(checkout: Path) -> None:
    """Each step of the frontier is worth the promised sites and some of the others, and costs what is typed.

    By hand: the promised six pay 19,500 + 17,500 + 9,800 + 8,600 + 12,500 + (4 + 10 + 6 + 2) events x 120 =
    70,540 USD; bank, offices and works may add 8,200, 13,200 and 11,800. Every step is proved, more money
    never covers less, and the plan for 85,000 USD is the last step that it can pay.
    """
    steps, price = written("fleet-budget", checkout, "frontier_budget.json")["steps"], prices("fleet-budget")
    more = [sum(some) for count in range(4) for some in combinations((8_200, 13_200, 11_800), count)]
    for step in steps:
        assert any(step["contract_value_usd"] == pytest.approx(70_540 + extra) for extra in more)
        assert step["value"] == pytest.approx(
            sum(price[item["id"]] * item["bought"] for item in step["items"]))
        assert step["exact"] and step["bound_usd"] == pytest.approx(step["contract_value_usd"])
    assert all(low["value"] < high["value"] and low["contract_value_usd"] < high["contract_value_usd"]
               for low, high in pairwise(steps))
    assert steps[-1]["contract_value_usd"] == pytest.approx(70_540 + sum((8_200, 13_200, 11_800)))
    paid = max((step for step in steps if step["value"] <= 85_000), key=lambda step: step["value"])
    assert stated("fleet-budget")["contract value"] == pytest.approx(paid["contract_value_usd"])


def test_fleet_buyer_who_asks_for_profit_spends_less_and_is_left_with_most(checkout: Path) -> None:
    """Asked for profit the plan is the README's second one, and no step of the frontier leaves more a year.

    By hand: 91,940 - 40,105 = 51,835 and 95,540 - 44,336 = 51,204 USD, 631 less.
    """
    case = read_case(checkout / "examples" / "fleet-budget")
    found = figures(json.loads(to_json(make_plan(replace(case, question="profit")))))
    said = stated("fleet-budget", "asked for profit")
    assert len(said) == 3
    assert said == pytest.approx({name: found[name] for name in said}, abs=HALF_A_DOLLAR)
    left, dearer = (plan["contract value"] - plan["season cost"] for plan in (said, stated("fleet-budget")))
    assert (left, dearer, left - dearer) == (51_835, 51_204, 631)
    steps = written("fleet-budget", checkout, "frontier_budget.json")["steps"]
    assert max(step["contract_value_usd"] - step["cost_usd"] for step in steps
               if step["value"] <= 85_000) <= found["contract value"] - found["season cost"] + HALF_A_DOLLAR


def test_bid_of_the_contractor_is_cost_and_overhead_over_what_margin_leaves(checkout: Path) -> None:
    """The season's price of the list is its cost x 1.12 / 0.85: 12 % overhead on cost, 15 % of price left."""
    sites = written("contract-bid", checkout, "bid.json")["sites"]
    cost = stated("contract-bid")["season cost"]
    assert len(sites) == 25
    assert sum(site["price_usd"] for site in sites) == pytest.approx(cost * 1.12 / 0.85, abs=1)


def test_capped_sum_of_the_hospital_brings_what_its_season_does(checkout: Path) -> None:
    """The sum for 20 events and the price of each beyond bring its seasonal price over the ten winters typed.

    By hand: the winters had 44, 25, 13, 37, 31, 43, 21, 24, 39 and 33 events, in all of which it is served,
    and so 24 + 5 + 0 + 17 + 11 + 23 + 1 + 4 + 19 + 13 = 117 beyond 20; 37,572 + 11.7 x 1,946.72 = 60,348 USD.
    """
    site = next(row for row in written("contract-bid", checkout, "bid.json")["sites"]
                if row["site"] == "hospital")
    capped = next(row for row in site["prices"] if row["form"] == "season with cap")
    assert capped["cap"] == 20
    assert capped["price_usd"] + 11.7 * capped["overage_usd"] == pytest.approx(site["price_usd"], abs=1)


def test_contractor_is_paid_for_the_west_hall(checkout: Path) -> None:
    """Its price lies above what any plan could save without it, and what it saves cannot be below 0."""
    site = next(row for row in written("contract-bid", checkout, "bid.json")["sites"]
                if row["site"] == "warehouse-west")
    assert 0 < site["marginal"]["most_usd"] < site["price_usd"]


def test_variations_of_the_planner_cost_what_the_readme_says(checkout: Path) -> None:
    """`vary`, the planner's second command, finds the costs that planning with edited tables gives below.

    Small lots take no heavy truck, so that the price of heavy ones moves their cost by nothing. A half-ton
    with the 8-ft plow is in every plan that may have light trucks, as the README decides.
    """
    ran("planner-what-if", checkout)
    folder = checkout / "fenwater"
    for file in folder.glob("plans/*/plan.json"):
        builds = {(truck["truck"], truck["plow"]) for truck in json.loads(file.read_text())["trucks"]}
        assert (("ht-rc-short", "p80-straight") in builds) == (file.parent.name != "heavy-trucks-only")
    rows = {row["name"]: row for row in json.loads((folder / "vary.json").read_text())["rows"]}
    assert rows["base"]["cost_usd"] == pytest.approx(stated("planner-what-if")["season cost"],
                                                     abs=HALF_A_DOLLAR)
    for kind in ("light trucks only", "heavy trucks only"):
        assert rows[kind]["cost_usd"] == pytest.approx(stated("planner-what-if", kind)["season cost"],
                                                       abs=HALF_A_DOLLAR)
    small = [rows[f"map: heavy trucks = {price} %, lots = -30 %"]["cost_usd"]
             for price in ("-15", "+0", "+15")]
    assert small == pytest.approx([rows["lots = -30 %"]["cost_usd"]] * 3)


def _without(folder: Path, sizes: tuple[str, ...]) -> Plan:
    """The planner's plan where trucks of some sizes cannot be bought."""
    file = folder / "examples" / "planner-what-if" / "trucks.csv"
    rows = [row | ({"available": "0"} if row["size"] in sizes else {}) for row in rows_of(file)]
    lines = [",".join(f'"{cell}"' for cell in row) for row in ([*rows[0]], *(row.values() for row in rows))]
    with edited(file, "\n".join(lines) + "\n"):
        return make_plan(read_case(file.parent))


@pytest.mark.parametrize(("kind", "others"), [("light", ("one-ton", "class 4-5")),
                                              ("heavy", ("half-ton", "three-quarter-ton"))])
def test_planner_sees_which_way_it_goes(kind: str, others: tuple[str, ...], checkout: Path) -> None:
    """Light or heavy trucks alone cost what the README says, and never less than both together."""
    found = figures(json.loads(to_json(_without(checkout, others))))
    said = stated("planner-what-if", f"{kind} trucks only")
    assert len(said) == 3
    assert said == pytest.approx({name: found[name] for name in said}, abs=HALF_A_DOLLAR)
    assert stated("planner-what-if")["season cost"] <= found["season cost"] + HALF_A_DOLLAR


def test_small_case_is_proved_best() -> None:
    """The case of three trucks and four sites is planned, rechecked and proved best, all sites served."""
    plan = make_plan(read_case(ROOT / "tests" / "data" / "small"))
    assert plan.recheck and plan.recheck.passed
    assert (plan.outcome.proof, plan.outcome.gap) == ("proved best", 0)
    assert {site.id for site in plan.sites if site.served} == {"bank", "clinic", "yard", "school"}

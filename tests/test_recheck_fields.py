"""Every field of plan.json: a wrong value there is caught by the recheck, or the field promises nothing."""

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

import end_plan as ep
import pytest
import small_plan as sp
from bid_cases import bid_case, seeded_plan
from seeded_cases import small_case

from optibuild.errors import UsageError
from optibuild.pipeline import make_plan
from optibuild.plan import from_json, recheck, to_json
from optibuild.records import Case, Plan
from optibuild.records.plan import Proof, Stopped

PROMISES_NOTHING = {
    "version": "the program that wrote it: words, no figure",
    "solver.*": "the libraries that it searched with: words, no figure",
    "case.name": "what the user calls the case",
    "case.given_as": "where the case lay; it may have moved",
    "case.inputs.*": "the command reads the files again and compares their bytes itself (test_cli)",
    "case.variation": "the command reads the variation by its name and compares the plan with it (test_vary)",
    "outcome.stopped": "why a search ended leaves no trace; that it goes with the proof is held",
    "outcome.seconds": "how long it took",
    "sites[left out].parcels": "nobody does any of them",
    "sites[].marginal_most_usd": "at most so much is saved: any larger figure is as true; one below what the "
                                 "stops cost is caught (test_recheck)",
    "assumptions[].source": "where a figure comes from: words",
    "cautions[]": "words that go with every plan",
    "recheck.*": "what is worked out again here",
}
"""Fields, with `[]` for any row and `.*` for all below, and why a wrong value there breaks no promise."""

WORDS = {"outcome.proof": get_args(Proof), "outcome.stopped": get_args(Stopped)}
"""Words that may stand in a field, whatever the plans have there."""
# Seeds whose plans hold what the other plans do not: see `test_the_plans_hold_everything`.
SEEDS = (1, 2, 4)
PLANS = ("by hand", "end round by hand", "small case", *(f"seed {seed}" for seed in SEEDS))


@cache
def planned(name: str) -> tuple[Plan, Case]:
    """A plan and its case."""
    if name == "by hand":
        return sp.PLAN, sp.CASE
    if name == "end round by hand":
        return ep.PLAN, ep.CASE
    if name == "small case":
        return make_plan(small_case()), small_case()
    seed = int(name.removeprefix("seed "))
    return seeded_plan(seed), bid_case(seed)


Path = tuple[str | int, ...]


def leaves(tree: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every value of a tree with the way to it."""
    if isinstance(tree, (dict, list)):
        for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree):
            yield from leaves(value, (*path, key))
    else:
        yield path, tree


def field_of(path: Path, tree: Any) -> str:
    """The field that a path leads to, as the list above names it."""
    told = "".join("[]" if isinstance(step, int) else f".{step}" for step in path).removeprefix(".")
    if path[0] == "sites" and not tree["sites"][path[1]]["served"]:
        told = told.replace("sites[]", "sites[left out]")
    return re.sub(r"^(solver|case\.inputs|recheck)\b.*", r"\1.*", told)


def wrong_values(value: Any, others: set[str]) -> list[Any]:
    """Values that are not the one that stands there: a thousandth or a cent more and less, one more and less,
    the opposite, three of the other words that stand in such places, a figure or a word where there is none
    and none where there is one."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1]
    if isinstance(value, float):
        step = max(1e-3 * abs(value), 0.01)
        return [value + step, value - step, None]
    if isinstance(value, str):
        return sorted(others - {value})[:3] or [value + "x"]
    return [1.0, "x"] if value is None else []


def with_value(text: str, path: Path, value: Any) -> str:
    """A plan's text with one value replaced."""
    tree = json.loads(text)
    spot = tree
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return json.dumps(tree)


def caught(text: str, case: Case) -> bool:
    """Whether a text is refused as no plan or fails its recheck."""
    try:
        return not recheck(from_json(text), case).passed
    except UsageError:
        return True


@cache
def slipped(name: str) -> dict[str, list[str]]:
    """For each field of a plan the wrong values that nothing caught, in its first, middle and last row."""
    plan, case = planned(name)
    text = to_json(plan)
    tree = json.loads(text)
    rows: dict[str, list[tuple[Path, Any]]] = defaultdict(list)
    for path, value in leaves(tree):
        rows[field_of(path, tree)].append((path, value))
    found: dict[str, list[str]] = {}
    for field, values in rows.items():
        words = {value for _, value in values if isinstance(value, str)} | set(WORDS.get(field, ()))
        found[field] = [f"{path}: {value} -> {wrong}"
                        for path, value in dict.fromkeys((values[0], values[len(values) // 2], values[-1]))
                        for wrong in wrong_values(value, words)
                        if not caught(with_value(text, path, wrong), case)]
    return found


@pytest.mark.parametrize("name", PLANS)
def test_a_wrong_value_is_caught_in_every_field_that_promises_something(name: str) -> None:
    """The plan as it is passes; with any one value changed, in any field but those listed, it does not."""
    plan, case = planned(name)
    assert recheck(plan, case).passed
    assert [told for field, told in slipped(name).items() if told and field not in PROMISES_NOTHING] == []


def test_fields_that_promise_nothing_are_there_and_are_not_caught() -> None:
    """Each field of the list is one of these plans, and some wrong value of it is let pass: the list holds
    none that a check is about."""
    assert {field for name in PLANS for field, told in slipped(name).items() if told} == set(PROMISES_NOTHING)


def test_the_plans_hold_everything() -> None:
    """Together the plans have what only some have: a budget, end rounds, deadlines, ballast, prices for a
    push, bounds on what a site saves, and sites left out."""
    trees = [json.loads(to_json(planned(name)[0])) for name in PLANS]
    fields = {field_of(path, tree) for tree in trees for path, value in leaves(tree) if value is not None}
    wanted = {"money.budget_usd", "trucks[].loop.end_round.within_min", "trucks[].loop.stops[].deadline_min",
              "trucks[].loop.stops[].end_arrive_min", "trucks[].ballast[].count", "sites[].price.push_usd",
              "sites[].marginal_most_usd", "sites[left out].parcels", "outcome.gap"}
    assert wanted <= fields

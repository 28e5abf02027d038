"""plan.json: round trip, schema, and files that are no plan."""

import json
from dataclasses import fields, is_dataclass, replace
from math import inf, nan
from typing import Any

import end_plan as ep
import jsonschema
import pytest
import small_plan as sp

from optibuild.errors import UsageError
from optibuild.plan import SCHEMA_PATH, from_json, recheck, to_json
from optibuild.records import LeastBudget, Looser, OutOfReach, Plan, Remedy, Shortfall, SitePrice
from optibuild.records import plan as plan_records
from optibuild.records import shortfall as shortfall_records

SCHEMA = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
SHORTFALL = replace(
    sp.with_outcome(proof="none", stopped="no plan exists", objective_usd=None, bound_usd=None, gap=None,
                    cost_usd=None),
    trucks=(), items=(), money=None,
    shortfall=Shortfall((OutOfReach("a", "plow", "cycle limit", None, 4.5, "min",
                                    (Remedy("parcels", 3.0, "parcels"),)),),
                        LeastBudget(None, 20_000, False), ("c",), (Looser("plow_every", 60, 75, "min"),)))
FULL = replace(sp.with_site_row(0, cost_usd=100.0, price=SitePrice(None, 12.5, 130.0)),
               recheck=recheck(sp.PLAN, sp.CASE))
WHOLE, WHOLE_IDS = (sp.PLAN, ep.PLAN, FULL, SHORTFALL), ("plan", "end round", "full", "shortfall")


@pytest.mark.parametrize("plan", WHOLE, ids=WHOLE_IDS)
def test_written_plan_reads_back_the_same(plan: Plan) -> None:
    """A plan written and read again is equal, and once read it always writes the same text."""
    text = to_json(plan)
    settled = from_json(text)
    assert settled == plan
    assert to_json(from_json(to_json(settled))) == to_json(settled)
    assert text.endswith("}\n")


@pytest.mark.parametrize("plan", WHOLE, ids=WHOLE_IDS)
def test_written_plan_keeps_to_the_schema(plan: Plan) -> None:
    """What is written is valid against the JSON Schema that ships with the package."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(json.loads(to_json(plan)), SCHEMA, jsonschema.Draft202012Validator)


def test_schema_has_every_field_and_requires_it() -> None:
    """Every record of a plan is in the schema with exactly its fields, in their order, all required."""
    named = {**vars(shortfall_records), **vars(plan_records)}
    records = [row for row in named.values() if isinstance(row, type) and is_dataclass(row)]
    described = {**SCHEMA["$defs"], "Plan": SCHEMA}
    assert {row.__name__ for row in records} == set(described)
    for row in records:
        names = [field.name for field in fields(row)]
        assert list(described[row.__name__]["properties"]) == names
        assert described[row.__name__]["required"] == names


def test_end_round_stands_in_the_loop() -> None:
    """The end round's clock stands beside the loop's own; what one of them does not have is null."""
    loop, plain = (json.loads(to_json(plan))["trucks"][0]["loop"] for plan in (ep.PLAN, sp.PLAN))
    assert loop["end_round"] == {"within_min": 105, "duration_min": 93.5, "drive_min": 24, "reload_min": 10,
                                 "distance_m": 13_100, "reloads": 2}
    assert (loop["stops"][1]["arrive_min"], loop["stops"][1]["end_arrive_min"]) == (None, 37)
    assert [stop["deice_when"] for stop in loop["stops"]] == ["end", "end", None]
    assert (plain["end_round"], plain["stops"][0]["end_arrive_min"]) == (None, None)


def test_keys_stand_in_the_order_declared() -> None:
    """The first keys of the file are those that interfaces of the format name first."""
    assert list(json.loads(to_json(sp.PLAN)))[:5] == ["format", "version", "case", "outcome", "items"]


@pytest.mark.parametrize("value", [inf, -inf, nan])
def test_what_is_no_number_becomes_null(value: float) -> None:
    """Infinite and undefined numbers are written as null and read as not given."""
    plan = sp.with_outcome(bound_usd=value)
    assert json.loads(to_json(plan))["outcome"]["bound_usd"] is None
    assert from_json(to_json(plan)).outcome.bound_usd is None


def test_ids_stay_text_in_any_script() -> None:
    """An id with leading zeros or in another script is read back as typed."""
    plan = sp.with_stop(1, 0, site="007 Żabno \"q\"")
    assert from_json(to_json(plan)).trucks[0].loop.stops[0].site == "007 Żabno \"q\""


def test_unknown_keys_are_let_pass() -> None:
    """A later version may add a key."""
    tree = json.loads(to_json(sp.PLAN))
    tree["trucks"][0]["color"] = "orange"
    assert from_json(json.dumps(tree)) == sp.PLAN


def planted(path: list[str | int], value: Any) -> str:
    """The plan's text with one value replaced."""
    tree = json.loads(to_json(sp.PLAN))
    spot = tree
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return json.dumps(tree)


BAD: dict[str, tuple[str, str]] = {
    "empty": ("", "not readable as JSON"),
    "cut off": (to_json(sp.PLAN)[:200], "not readable as JSON"),
    "too deep": ("[" * 100_000, "not readable as JSON"),
    "NaN": (to_json(sp.PLAN).replace("0.99", "NaN").replace("0.01", "NaN"), "NaN is no JSON number"),
    "a list": ("[]", "does not carry the format"),
    "another format": (planted(["format"], "optibuild-plan/9"), "does not carry the format"),
    "no trucks key": (json.dumps({key: value for key, value in json.loads(to_json(sp.PLAN)).items()
                                  if key != "trucks"}), "lacks trucks"),
    "text for a number": (planted(["trucks", 1, "loop", "stops", 0, "plow_min"], "25"),
                          'trucks[1].loop.stops[0].plow_min needs a number, found "25"'),
    "true for a number": (planted(["trucks", 0, "rated_fill_kg"], True), "needs a number"),
    "null for a number": (planted(["trucks", 0, "rated_fill_kg"], None), "needs a number, found null"),
    "a fraction for a count": (planted(["items", 0, "bought"], 1.5), "items[0].bought needs a whole number"),
    "true for a count": (planted(["items", 0, "bought"], True), "needs a whole number"),
    "a number for an id": (planted(["sites", 0, "id"], 7), "sites[0].id needs text, found 7"),
    "a word for a claim": (planted(["sites", 0, "served"], "yes"), "needs true or false"),
    "an object for a list": (planted(["trucks"], {}), "trucks needs a list"),
    "a list for an object": (planted(["outcome"], []), "outcome needs an object"),
    "a list for the files": (planted(["case", "inputs"], []), "case.inputs needs an object"),
    "an unknown proof": (planted(["outcome", "proof"], "certain"),
                         'outcome.proof needs one of "proved best"'),
    "too large": (planted(["outcome", "seconds"], 10 ** 400), "outcome.seconds is too large a number"),
}


@pytest.mark.parametrize("kind", BAD)
def test_file_that_is_no_plan_says_why(kind: str) -> None:
    """Text that is no plan is refused as wrong usage, naming what is wrong."""
    text, reason = BAD[kind]
    with pytest.raises(UsageError) as refused:
        from_json(text)
    assert reason in str(refused.value)
    assert str(refused.value).startswith("this is no plan: ")


def test_overflowing_number_is_refused() -> None:
    """A number such as 1e999 is not taken for infinity."""
    text = planted(["outcome", "seconds"], 123.25).replace("123.25", "1e999")
    with pytest.raises(UsageError, match="outcome.seconds is too large a number"):
        from_json(text)

"""The map file: by the rules of RFC 7946 (The GeoJSON Format, 2016), and the plan's own places and loops."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import end_plan as ep
import pytest
import small_plan as sp

from optibuild import Case, Plan
from optibuild.records import OutOfReach, Shortfall
from optibuild.report.geojson import plan_geojson

NO_PLAN = replace(sp.PLAN, trucks=(), items=(), sites=(), money=None, shortfall=Shortfall(
    (OutOfReach("a", "deice", "no way", None, None, None),), None, (), ()))
# the reserved members of other types, which a type must not have (section 7.1)
RESERVED = {"FeatureCollection": {"coordinates", "geometries", "geometry", "properties"},
            "Feature": {"coordinates", "geometries", "features"},
            "Point": {"geometries", "geometry", "properties", "features"},
            "LineString": {"geometries", "geometry", "properties", "features"}}


def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object whose names are all different (RFC 8259, section 4)."""
    assert len(dict(pairs)) == len(pairs)
    return dict(pairs)


def no_number(text: str) -> float:
    """NaN and Infinity are no JSON (RFC 8259, section 6)."""
    raise ValueError(text)


def read(plan: Plan, case: Case) -> Any:
    """The file as strict JSON."""
    return json.loads(plan_geojson(plan, case), object_pairs_hook=once, parse_constant=no_number)


def is_position(value: Any) -> bool:
    """Two numbers, longitude and latitude in degrees (sections 3.1.1 and 4)."""
    return (isinstance(value, list) and len(value) == 2 and all(type(one) in (int, float) for one in value)
            and abs(value[0]) <= 180 and abs(value[1]) <= 90)


def positions(feature: Any) -> list[Any]:
    """The positions of a feature that is a point or a line."""
    shape = feature["geometry"]
    return [shape["coordinates"]] if shape["type"] == "Point" else shape["coordinates"]


def faults(tree: Any) -> Iterator[str]:
    """Every rule of RFC 7946 that a collection of points and lines breaks."""
    if tree.get("type") != "FeatureCollection" or not isinstance(tree.get("features"), list):
        yield "3.3 collection"
        return
    idents = [feature.get("id") for feature in tree["features"]]
    if not all(isinstance(one, str) for one in idents) or len(set(idents)) < len(idents):
        yield "3.2 id"
    for feature in tree["features"]:
        shape = feature.get("geometry") or {}
        if feature.get("type") != "Feature" or not isinstance(feature.get("properties"), dict):
            yield "3.2 feature"
        if shape.get("type") not in ("Point", "LineString"):
            yield "3.1 geometry"
            continue
        found = positions(feature)
        if not all(map(is_position, found)):
            yield "3.1.1 position"
        if shape["type"] == "LineString" and len(found) < 2:
            yield "3.1.4 line"
        if (RESERVED["Feature"] & {*feature}) or (RESERVED[shape["type"]] & {*shape}):
            yield "7.1 types"
    if RESERVED["FeatureCollection"] & {*tree}:
        yield "7.1 types"
    if "crs" in json.dumps([*tree, *(key for feature in tree["features"] for key in feature)]):
        yield "4 crs"
    lons, lats = zip(*(place for feature in tree["features"] for place in positions(feature)), strict=True)
    if tree.get("bbox") != [min(lons), min(lats), max(lons), max(lats)]:
        yield "5 bbox"


@pytest.mark.parametrize(("plan", "case"), [(sp.PLAN, sp.CASE), (ep.PLAN, ep.CASE), (NO_PLAN, sp.CASE)],
                         ids=["plain", "end round", "no plan"])
def test_every_rule_is_kept(plan: Plan, case: Case) -> None:
    """A plan, one with end rounds, and none: no rule of RFC 7946 is broken."""
    assert list(faults(read(plan, case))) == []


@pytest.mark.parametrize(("spoil", "said"), [
    (lambda tree: tree.update(crs={"type": "name"}), "4 crs"),
    (lambda tree: tree.update(bbox=tree["bbox"][::-1]), "5 bbox"),
    (lambda tree: tree["features"][0].pop("properties"), "3.2 feature"),
    (lambda tree: tree["features"][0].update(id=tree["features"][1]["id"]), "3.2 id"),
    (lambda tree: tree["features"][0].update(coordinates=[0, 0]), "7.1 types"),
    (lambda tree: tree["features"][0]["geometry"].update(coordinates=[45.0, -90.5]), "3.1.1 position"),
    (lambda tree: tree["features"][-1]["geometry"]["coordinates"].__delitem__(slice(1, None)), "3.1.4 line"),
])
def test_the_rules_would_be_missed(spoil: Callable[[Any], Any], said: str) -> None:
    """Each rule, broken on purpose, is told: the check above can fail."""
    tree = read(sp.PLAN, sp.CASE)
    spoil(tree)
    assert said in list(faults(tree))


def of_kind(plan: Plan, case: Case, kind: str) -> dict[str, Any]:
    """The features of a kind by their id."""
    return {one["id"]: one for one in read(plan, case)["features"] if one["properties"]["kind"] == kind}


def test_longitude_comes_first() -> None:
    """The yard is at 90 degrees west and 45 north, lot c at 46: [-90, 45] and [-90, 46]; the box reaches from
    lot a, at 90.02 west, to the yard and lot c."""
    assert of_kind(sp.PLAN, sp.CASE, "depot")["depot yard"]["geometry"] == {
        "type": "Point", "coordinates": [-90.0, 45.0]}
    assert of_kind(sp.PLAN, sp.CASE, "site")["site c"]["geometry"]["coordinates"] == [-90.0, 46.0]
    assert read(sp.PLAN, sp.CASE)["bbox"] == [-90.02, 45.0, -90.0, 46.0]


def test_loops_go_by_the_depot_where_they_reload() -> None:
    """Truck 1 goes from the yard to lot a and home; truck 2 to lot b, reloads at the yard, to lot a and home.
    Each says that its lines are straight, and has the minutes and meters of its loop."""
    loops = of_kind(sp.PLAN, sp.CASE, "loop")
    yard, a, b = [-90.0, 45.0], [-90.02, 45.0], [-90.0, sp.B_LAT]
    assert [one["geometry"] for one in loops.values()] == [
        {"type": "LineString", "coordinates": [yard, a, yard]},
        {"type": "LineString", "coordinates": [yard, b, yard, a, yard]}]
    second = [*loops.values()][1]["properties"]
    assert second["lines"] == "straight lines from stop to stop, not the roads driven"
    assert second["places"] == ["yard", "b", "yard", "a", "yard"] and second["sites"] == ["b", "a"]
    assert (second["duration_min"], second["limit_min"], second["distance_m"], second["reloads"]) == (
        79, 90, 11_200, 2)


def test_an_end_round_is_a_line_of_its_own() -> None:
    """The plain round goes by a and b; the end round by a, the yard to reload, c and b."""
    loops = of_kind(ep.PLAN, ep.CASE, "loop")
    assert [(one["properties"]["round"], one["properties"]["places"]) for one in loops.values()] == [
        ("each", ["yard", "a", "b", "yard"]), ("end", ["yard", "a", "yard", "c", "b", "yard"])]


def test_sites_say_what_they_get() -> None:
    """Lot a is served by both trucks at a cost worked out by hand, lot c is left out; where no plan exists,
    lot a says which of its works is out of reach."""
    sites = of_kind(sp.PLAN, sp.CASE, "site")
    told = sites["site a"]["properties"]
    assert [work["truck_no"] for work in told["works"]] == [1, 2] and told["cost_usd"] == sp.COST_A
    assert (told["served"], sites["site c"]["properties"]["served"]) == (True, False)
    without = of_kind(NO_PLAN, sp.CASE, "site")
    assert [row["properties"]["out_of_reach"] for row in without.values()] == [["deice"], [], []]


@pytest.mark.parametrize("name", ["=cmd()", "\u05d0\u05d1 \u200f\u0645", "n" * 300, 'a "quoted" \\ name'])
def test_any_name_stays_itself(name: str) -> None:
    """A name that is a formula elsewhere, right to left, long or quoted comes back as typed."""
    assert of_kind(sp.PLAN, sp.case_site(0, name=name), "site")["site a"]["properties"]["name"] == name

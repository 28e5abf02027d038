"""report.html: sections, figures, what it lets in, the map and the axle pictures."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import combinations, pairwise
from math import asin, cos, radians, sin, sqrt
from pathlib import Path

import end_plan as ep
import pytest
import small_plan as sp
from chart_reading import record
from page_reading import Node, read, table, under
from test_charts import a_drill

from optibuild.cautions import BID
from optibuild.inputs import read_case
from optibuild.records import (
    Case,
    Check,
    LeastBudget,
    LoopReason,
    OutOfReach,
    Plan,
    PlannedLoop,
    PlannedSite,
    Recheck,
    Remedy,
    Shortfall,
    UsedAssumption,
    Why,
)
from optibuild.records.comparison import Compared, Comparison, Difference
from optibuild.records.drill import SpareTrucks
from optibuild.records.frontier import Frontier, FrontierStep
from optibuild.report import Found, page
from optibuild.report.page.labels import Box, Named, placed
from optibuild.report.page.map_picture import DASHES

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
LB = 0.45359237
PLAIN = ["answer", "map", "loops", "axles", "money", "bid", "binds", "changes", "assumptions", "cautions",
         "provenance"]
NONE_EXISTS = replace(
    sp.with_outcome(proof="none", stopped="no plan exists", objective_usd=None, bound_usd=None, gap=None,
                    cost_usd=None),
    trucks=(), items=(), money=None,
    sites=tuple(replace(row, served=False, works=(), cost_usd=None, price=None) for row in sp.PLAN.sites),
    shortfall=Shortfall(
        (OutOfReach("a", "plow", "cycle limit", "light+blade+-", 4.5, "min",
                    (Remedy("parcels", 3.0, "parcels"),)),),
        LeastBudget(None, 25_000, False), ("c",), (), None, None, False))


def drawn(plan: Plan = sp.PLAN, case: Case = sp.CASE, found: Found | None = None) -> Node:
    """The page of a plan, read back."""
    return read(page(plan, case, found))


def section(document: Node, name: str) -> Node:
    """One section by its anchor."""
    return document.one("section", id=name)


def scaled(text: str) -> tuple[float, int]:
    """A number as shown, and its decimals."""
    return float(text.replace(",", "")), len(text.partition(".")[2])


# ---- sections


def test_sections_of_a_plan_stand_in_order() -> None:
    """A plan alone has its own sections, in order, each with a heading that the list of sections names."""
    document = drawn()
    assert [node.attributes["id"] for node in document.all("section")] == PLAIN
    assert [node.text for node in document.one("nav").all("a")] == [node.text for node in document.all("h2")]
    links = [node.attributes["href"] for node in document.one("nav").all("a")]
    assert links == [f"#{name}" for name in PLAIN]


def test_what_was_asked_besides_comes_after_what_would_change_the_answer() -> None:
    """A comparison and a frontier have sections of their own, between the reasons and the assumptions."""
    base = record(Compared, name="base", question="cover", proof="proved best", stopped="proved",
                  objective_usd=100.0, cost_usd=100.0, bound_usd=100.0, gap=0.0, trucks={"half-ton": 1},
                  served=2, sites=2, changes=(), at=(), left_out=(), swapped=(), items=(),
                  difference=Difference("base", 0.0, 0.0))
    dear = replace(base, name="dear fuel", objective_usd=130.0, bound_usd=130.0,
                   difference=Difference("more", 30.0, 30.0))
    steps = tuple(record(FrontierStep, value=value, contract_value_usd=value / 10, bound_usd=value / 10,
                         capital_usd=value, trucks=1, items=(), sites=("a",), rechecked=True)
                  for value in (1000.0, 2000.0))
    document = drawn(found=Found(
        comparison=Comparison((base, dear), (), (), 0),
        frontiers=(record(Frontier, key="budget", steps=steps, offered_usd=300.0, searches=4,
                          ended="all known", optional=1),)))
    at = PLAIN.index("assumptions")
    assert [node.attributes["id"] for node in document.all("section")] == [
        *PLAIN[:at], "variations", "frontier", *PLAIN[at:]]
    assert "dear fuel" in section(document, "variations").text
    head, _, values = table(under(section(document, "frontier"), "Steps by budget"))
    assert [row[0] for row in values] == [1000.0, 2000.0] and head[0] == "budget [USD]"


def test_a_case_without_a_plan_has_what_stands_in_the_way() -> None:
    """Without trucks the page tells the shortfall, draws the sites and leaves out what there is not."""
    document = drawn(NONE_EXISTS)
    assert [node.attributes["id"] for node in document.all("section")] == [
        "answer", "map", "assumptions", "cautions", "provenance"]
    answer = section(document, "answer").text
    assert "No plan exists" in answer and "parcels = 3" in answer and "25,000 USD" in answer
    assert len(document.all("circle", stroke="#4a5561")) == 3
    assert document.all("path", class_="loop") == []


def test_losses_without_a_late_minute_are_told_in_a_table() -> None:
    """Where a lost truck leaves sites out but makes nothing late, its section has no empty chart: it says so
    and has the table."""
    drill = replace(
        a_drill(((1, 2), 0.0, ("a",), True)), spares=(), endurance=(), step_min=15.0,
        spare_trucks=record(SpareTrucks, share=0.1, required=2, count=1, build="light", price_usd=100.0,
                            annual_usd=10.0, can_be_had=True, within_budget=True, bid_usd=10.0))
    found = section(drawn(found=Found(drill=drill)), "drill")
    assert not found.all("figure")
    assert found.all("p")[0].text.startswith(
        "Worst to lose: truck 1 or 2. 1 site is then not served within 480 min; none is late.")
    assert [row[5] for row in table(under(found, "One truck lost"))[2]] == [1]


# ---- figures


def test_every_figure_of_a_table_is_its_value_rounded() -> None:
    """A cell shows its unrounded value to the decimals of its column, and there are more than a hundred."""
    cells = [cell for tag in ("th", "td") for cell in drawn().all(tag) if "data-value" in cell.attributes]
    for cell in cells:
        shown, decimals = scaled(cell.text)
        assert shown == pytest.approx(float(cell.attributes["data-value"]), abs=0.5000001 * 10.0**-decimals)
    assert len(cells) > 100


@pytest.mark.parametrize(("system", "kg"), [("si", 1.0), ("us", LB)])
def test_figures_are_those_of_the_plan(system: str, kg: float) -> None:
    """Minutes, masses in the units of the case (a pound is 0.45359237 kg) and dollars are the plan's own."""
    document = drawn(case=replace(sp.CASE, units=system))
    trucks = table(under(section(document, "loops"), "Trucks"))[2]
    assert [row[3] for row in trucks] == pytest.approx([400 / kg] * 2)  # rated fill
    assert [row[5:8] for row in trucks] == [[34, 60, 26], [79, 90, 11]]
    near = table(under(section(document, "binds"), BINDS))[2]
    # raised full, full crew: 3390 of 3400
    assert [row[2] for row in near] == [26, 11]
    assert [row[5] for row in near] == pytest.approx([10 / kg] * 2)
    items = table(under(section(document, "money"), "Items"))[2]
    assert [row[5] for row in items] == pytest.approx([10_000, 9282, 928.2, 0, 10_000 + 9282 + 928.2])
    prices = table(under(section(document, "bid"), "Prices of the sites"))[2]
    assert [row[-1] for row in prices] == pytest.approx([sp.PRICE_A, sp.PRICE_B])


BINDS = "Nearest limits, truck by truck"


def test_one_table_tells_what_binds() -> None:
    """Of truck 1 are left 26 of 60 min and 55 of 80 to its deadline, of truck 2 11 of 90 and, with a deadline
    of 71, 1 of 71: the check of the least share stands there, its site, and the tightest rating. Where
    reasons were asked, what they found binds, and what the loop has room for, stand in the same table."""
    plan = sp.with_stop(2, 1, deadline_min=71)
    found = section(drawn(plan), "binds")
    head, rows, _ = table(found)
    assert head == ["truck", "check", "left", "unit", "at", "rating", "rating, left [kg]", "in the state"]
    assert rows == [
        ["1", "loop within its cycle limit", "26.0", "min", "–", "GVWR", "10", "raised full, full"],
        ["2", "deadlines", "1.0", "min", "a", "GVWR", "10", "raised full, full"]]
    why = record(Why, loops=(LoopReason(1, "", "fill", 30, "kg", "a", "b", 120),
                             LoopReason(2, "", "end round", 4, "min", None, None, None)),
                 sites=(), items=(), confirmed=(), limits=())
    head, rows, _ = table(section(drawn(plan, found=Found(why=why)), "binds"))
    assert head[-2:] == ["room for", "extra [USD]"]
    assert [row[1:5] + row[-2:] for row in rows] == [
        ["fill between reloads", "30.0", "kg", "a", "b", "120"],
        ["end round within its time", "4.0", "min", "–", "–", "–"]]


def test_what_all_trucks_share_is_told_under_what_binds() -> None:
    """Of a budget 789.8 USD are left, and no driver; what has no limit, and what is no limit of all, is not
    told."""
    def told(budget_left: float | None) -> list[str]:
        checks = (Check("budget", "limit", True, budget_left, "USD", None),
                  Check("drivers", "limit", True, 0, "drivers", None),
                  Check("stock", "limit", True, 1, "items", None))
        plan = replace(sp.PLAN, recheck=record(Recheck, passed=True, checks=checks))
        return [row.text for row in section(drawn(plan), "binds").one("dl").all("div")]
    assert told(789.8) == ["Budget790 USD left", "Drivers0 drivers left"]
    assert told(None) == ["Drivers0 drivers left"]


def test_names_that_no_site_has_make_no_column() -> None:
    """Lot c, left out, would have paid 500 a season; without a name of its own there is none to tell."""
    for name, cells in (("Lot c", ["c", "Lot c", "500", "season"]), ("", ["c", "500", "season"])):
        found = section(drawn(case=sp.case_site(2, name=name)), "answer")
        assert table(under(found, "Sites left out"))[1] == [cells]


def test_answer_carries_its_figures() -> None:
    """The three lines carry capital, owning, season and bound as plan.json has them."""
    lines = section(drawn(), "answer").one("dl")
    assert [node.text for node in lines.all("dt")] == ["Buy", "Cost", "Proof"]
    assert {name: float(value) for name, value in lines.attributes.items()} == pytest.approx({
        "data-capital-usd": 20_210.2, "data-owning-usd": sp.OWNING_USD, "data-season-usd": sp.SEASON_USD,
        "data-bound-usd": 0.99 * sp.OBJECTIVE_USD})
    assert "20,210 USD of a budget of 21,000 USD" in lines.text


def test_own_assumptions_come_before_the_defaults() -> None:
    """A figure that the user has set is told first, beside the default that it replaces."""
    used = tuple(replace(row, overridden=row.name == "plow_speed") for row in sp.PLAN.assumptions)
    found = section(drawn(replace(sp.PLAN, assumptions=used)), "assumptions")
    assert [node.text for node in found.all("h3")] == ["The case", "The season", "Your own", "Defaults"]
    head, rows, _ = table(under(found, "Your own"))
    assert (head[0], head[2]) == ("assumption", "default")
    assert rows == [["plow_speed", "12 km/h", "8 mph", "from memory"]]  # 200 m/min


def test_what_the_case_says_comes_before_the_defaults() -> None:
    """By hand from small_plan: 0.03 m in 90 min are 20 mm/h, 600 m/min 36 km/h, 0.4 USD/min 24 USD/h; the
    heavy event lasts 270 min and brings 0.12 m. In a US case: 0.79 in/h, 22 mph, 25 degF."""
    found = section(drawn(), "assumptions")
    rows = dict(table(under(found, "The case"))[1])
    assert rows == {
        "snowfall of the storm": "20.0 mm/h", "density of fresh snow": "100.0 kg/m\u00b3",
        "pavement": "-4 degC", "speed on the road": "36 km/h", "wage": "24.00 USD/h",
        "burden on the wage": "25 %", "paid for": "the minutes of the rounds", "price of gas": "2.00 USD/L",
        "interest": "10 %", "overhead, of cost": "12 %", "profit margin, of price": "15 %",
        "people in a truck": "2", "drivers": "2", "longest shift": "no limit",
        "start of a loop, paid": "30 min"}
    assert table(under(found, "The season"))[1][1] == ["heavy", "2.0", "4.5", "12.00", "-6"]
    us = dict(table(under(section(drawn(case=replace(sp.CASE, units="us")), "assumptions"), "The case"))[1])
    assert [us[name] for name in ("snowfall of the storm", "speed on the road", "pavement")] == [
        "0.79 in/h", "22 mph", "25 degF"]


def test_prices_come_with_their_cautions() -> None:
    """Where the plan prices sites, the cautions on prices stand after its own; a page without prices has
    none of them."""
    assert [node.text for node in section(drawn(), "cautions").all("li")] == [*sp.PLAN.cautions, *BID]
    assert [node.text for node in section(drawn(NONE_EXISTS), "cautions").all("li")] == [*sp.PLAN.cautions]


def test_results_read_beside_the_plan_are_named_with_their_digest() -> None:
    """The page names each such file with its sha256; without any it has no such table."""
    html = page(sp.PLAN, sp.CASE, Found(), {"why.json": "02", "bid.json": "01"})
    found = section(read(html), "provenance")
    assert table(under(found, "Results read beside the plan"))[1] == [["bid.json", "01"], ["why.json", "02"]]
    assert "Results" not in section(drawn(), "provenance").text


def test_metric_cases_tell_the_least_depth_in_centimeters() -> None:
    """0.01 m are 1 cm."""
    used = (UsedAssumption("least_depth", 0.01, "m", "from memory", True),)
    found = section(drawn(replace(sp.PLAN, assumptions=used)), "assumptions")
    assert table(under(found, "Your own"))[1][0][1] == "1 cm"


def test_provenance_names_files_solvers_and_seconds() -> None:
    """Every file with its sha256, the version, the solver, how the search ended and after how long."""
    found = section(drawn(), "provenance")
    assert table(under(found, "Files"))[1] == [["trucks.csv", "00"]]
    told = found.one("dl").text
    assert all(word in told for word in ("optibuild 0.1.0", "HiGHS 1.15.1", "gap reached", "1.5 s", "2.00 %"))


# ---- what it lets in


def test_policy_lets_in_the_one_style_sheet_and_nothing_else() -> None:
    """The digest in the policy is that of the style sheet (CSP Level 3); there is nothing to load or run."""
    html = page(sp.PLAN, sp.CASE)
    document = read(html)
    style = document.one("style").text
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = document.one("meta", http_equiv="Content-Security-Policy").attributes["content"]
    assert policy == (f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'")
    nodes = document.all()
    assert not {"script", "link", "img", "iframe", "object", "embed", "base", "form", "use"} & {
        node.tag for node in nodes}
    names = {name for node in nodes for name in node.attributes}
    assert not [name for name in names if name.startswith("on") or name in ("style", "src", "xlink:href")]
    assert not re.search(r"https?:|//|@import|url\((?!#)", html.replace("data://", ""))
    targets = {node.attributes["id"] for node in nodes if "id" in node.attributes}
    links = [node.attributes["href"] for node in nodes if "href" in node.attributes]
    assert all(link.startswith("#") and link[1:] in targets for link in links)


def test_ids_are_used_once_and_names_are_given_by_what_is_there() -> None:
    """No id twice; every picture has a title and a description of its own."""
    document = drawn()
    ids = [node.attributes["id"] for node in document.all() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    for svg in document.all("svg"):
        assert svg.attributes["role"] in ("img", "group")
        assert svg.one("title", id=svg.attributes["aria-labelledby"]).text
        assert svg.one("desc", id=svg.attributes["aria-describedby"]).text
    for figure in document.all("figure"):
        assert figure.one("figcaption").text and figure.one("details").one("table")


ODD = ("<script>alert(1)</script>", "=cmd()", "\u05d0\u05ea\u05e8 \u05e9\u05dc\u05d2", "w" * 300,
       '"><img src=x onerror=alert(1)>', "{{ 7 * 7 }}", "turn\u202eback")


def renamed(loop: PlannedLoop, name: str) -> PlannedLoop:
    """A loop with another name for site a."""
    return replace(loop, stops=tuple(replace(stop, site=name) if stop.site == "a" else stop
                                     for stop in loop.stops))


@pytest.mark.parametrize("odd", ODD, ids=["script", "formula", "hebrew", "long", "quote", "template", "turn"])
def test_text_of_the_user_is_text(odd: str) -> None:
    """Whatever a user calls case, site, depot, truck and ballast: it makes no element and no attribute, and
    stands on the page as typed; only marks that turn the direction become question marks."""
    build = f"{odd}+blade+hopper"
    trucks = tuple(replace(row, build=build, truck=odd, depot=odd,
                           ballast=tuple(replace(kit, id=odd) for kit in row.ballast),
                           loop=renamed(row.loop, odd)) for row in sp.PLAN.trucks)
    items = tuple(replace(row, id=odd) if row.table in ("trucks", "ballast") else row
                  for row in sp.PLAN.items)
    plan = replace(sp.PLAN, case=replace(sp.PLAN.case, name=odd, inputs={odd: "00"}), trucks=trucks,
                   items=items, cautions=(odd,),
                   sites=(replace(sp.PLAN.sites[0], id=odd), *sp.PLAN.sites[1:]))
    case = replace(sp.case_site(0, id=odd, name=odd), name=odd, depots=(replace(sp.YARD, id=odd),))
    found, plain = drawn(plan, case), drawn()
    assert {node.tag for node in found.all()} == {node.tag for node in plain.all()}
    assert {name for node in found.all() for name in node.attributes} == {
        name for node in plain.all() for name in node.attributes}
    shown = odd.replace("\u202e", "?")
    assert found.one("h1").text == shown
    assert table(under(section(found, "bid"), "Prices of the sites"))[1][0][0] == shown
    assert section(found, "cautions").all("li")[0].text == shown
    assert found.one("h1").attributes["dir"] == "auto"


def test_a_long_name_is_cut_in_the_map_and_told_in_full() -> None:
    """A name of 300 letters stands on the map with an ellipsis; the mark of its stop tells all of it."""
    name = "w" * 300
    plan = replace(sp.PLAN, sites=(replace(sp.PLAN.sites[0], id=name), *sp.PLAN.sites[1:]),
                   trucks=tuple(replace(row, loop=renamed(row.loop, name)) for row in sp.PLAN.trucks))
    found = drawn(plan, sp.case_site(0, id=name)).one("svg", class_="map")
    names = [node.text for node in found.all("text", class_="name")]
    assert any(text.startswith("wwww") and "\u2026" in text for text in names)
    assert all(len(text) < 40 for text in names)
    assert {node.attributes["data-stop"] for node in found.all("g", data_at=name)} == {"1.1", "2.2"}
    assert all(name in node.attributes["aria-label"] for node in found.all("g", data_at=name))


# ---- map


def haversine_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Great-circle distance on the mean radius of the Earth, 6,371,008.8 m (IUGG)."""
    (lat, lon), (lat2, lon2) = (tuple(map(radians, spot)) for spot in (one, other))
    half = sin((lat2 - lat) / 2) ** 2 + cos(lat) * cos(lat2) * sin((lon2 - lon) / 2) ** 2
    return 2 * 6_371_008.8 * asin(sqrt(half))


def test_map_is_to_scale() -> None:
    """Between any two sites of the small case the map has their great-circle distance, to one part in a
    thousand; north is up, east is right, and the scale bar is as long as it says."""
    case = read_case(SMALL)
    plan = replace(NONE_EXISTS, shortfall=None, sites=tuple(
        PlannedSite(site.id, False, 1, (), None, None) for site in case.sites))
    found = drawn(plan, case).one("svg", class_="map")
    per_m = float(found.attributes["data-units-per-m"])
    spots = {node.attributes["data-site"]: (float(node.attributes["cx"]), float(node.attributes["cy"]))
             for node in found.all("circle") if "data-site" in node.attributes}
    assert set(spots) == {site.id for site in case.sites}
    for one, other in combinations(case.sites, 2):
        (x, y), (x2, y2) = spots[one.id], spots[other.id]
        straight = haversine_m((one.lat_deg, one.lon_deg), (other.lat_deg, other.lon_deg))
        assert sqrt((x2 - x) ** 2 + (y2 - y) ** 2) / per_m == pytest.approx(straight, rel=1e-3)
    assert spots["school"][1] < spots["yard"][1] and spots["clinic"][0] > spots["yard"][0]
    bar = next(node for node in found.all("path") if "data-scale" in node.attributes)
    miles = float(bar.attributes["data-scale"].removesuffix(" mi"))
    assert float(bar.attributes["data-length"]) / per_m == pytest.approx(miles * 1609.344)
    ends = re.findall(r"[MH]([\d.]+)", bar.attributes["d"])
    assert float(ends[1]) - float(ends[0]) == pytest.approx(float(bar.attributes["data-length"]), abs=0.002)


def test_loops_go_through_depot_stops_and_reloads_in_order() -> None:
    """Truck 2 goes from the yard to b, back to the yard to reload, on to a and home."""
    found = drawn().one("svg", class_="map")
    sites = {node.attributes["data-site"]: [float(node.attributes[name]) for name in ("cx", "cy")]
             for node in found.all("circle") if "data-site" in node.attributes}
    line = next(node for node in found.all("path", class_="loop", data_truck="2"))
    numbers = list(map(float, line.attributes["d"].removeprefix("M").split()))
    corners = [numbers[k:k + 2] for k in range(0, len(numbers), 2)]
    assert len(corners) == 5
    assert corners[0] == corners[2] == corners[4]
    assert corners[1] == pytest.approx(sites["b"], abs=0.001)
    assert corners[3] == pytest.approx(sites["a"], abs=0.001)


def test_a_loop_with_a_last_round_is_drawn_as_that_goes() -> None:
    """The last round goes from the yard to a, home to reload, on to c and b and home: six corners, of which
    the first, third and last are the yard."""
    line = drawn(ep.PLAN, ep.CASE).one("svg", class_="map").all("path", class_="loop", data_truck="1")[0]
    numbers = list(map(float, line.attributes["d"].removeprefix("M").split()))
    corners = [tuple(numbers[k:k + 2]) for k in range(0, len(numbers), 2)]
    assert len(corners) == 6 and corners[0] == corners[2] == corners[5]
    assert len({*corners}) == 4


def test_stops_take_the_focus_and_tell_their_minutes() -> None:
    """Each stop is a mark that the keyboard reaches, named by what it tells: parcels, minutes, deadline."""
    found = drawn().one("svg", class_="map")
    stops = {node.attributes["data-stop"]: node for node in found.all("g", class_="stop")}
    assert list(stops) == ["1.1", "2.1", "2.2"]
    assert all(node.attributes["tabindex"] == "0" for node in stops.values())
    assert stops["2.2"].attributes["aria-label"] == (
        "a Lot a. truck 2, stop 2: both, 1 of 2 parcels. from 49.0 to 70.0 min, deadline 80 min")
    assert [node.text for node in stops["2.2"].all("p")] == [
        "a Lot a", "truck 2, stop 2: both, 1 of 2 parcels", "from 49.0 to 70.0 min, deadline 80 min"]


def test_the_example_of_a_mark_is_one_of_the_map() -> None:
    """Two trucks, of which only the second has two stops; with one stop each, the first stop of the last."""
    plan = sp.with_loop(2, stops=sp.LOOP_2.stops[1:])
    for shown, said in ((sp.PLAN, "2.2 is the second stop of truck 2."),
                        (plan, "2.1 is the first stop of truck 2.")):
        found = section(drawn(shown), "map")
        assert found.all("p")[-1].text.endswith(f"A mark says truck and stop: {said}")
        assert said[:3] in {node.attributes["data-stop"] for node in found.all("g", class_="stop")}


EDGE = Box(0, 0, 100, 60)
MARK = Box(-10, -7, 10, 7)


def test_a_name_at_the_edge_stands_under_its_mark_within_the_map() -> None:
    """Ten letters of 5.6 take 56: beside a mark 12 from the left edge there is another, and left of it and in
    the middle under it there is no room: the name begins at the edge, under the mark."""
    name, other = Named("n" * 10, 12, 30, MARK), Named("other", 40, 30, MARK)
    place, _ = placed([name, other], 1.0, EDGE)
    assert place is not None and (name.x + place.left, place.wide) == (0, pytest.approx(56))
    assert place.base - 9 >= MARK.bottom


def test_a_name_stands_where_the_fewest_lines_cross_it() -> None:
    """A name begins 3 right of its mark, 10 + 3 from its spot. Where a line crosses that place it ends 4 left
    of the mark: -10 - 4, less three letters of 5.6. A line that ends before the name, or goes along above
    it, moves nothing."""
    name, right, left = Named("nnn", 50, 30, MARK), 13.0, -14 - 16.8
    for line, at in ((((70.0, 0.0), (70.0, 60.0)), left), (((70.0, 0.0), (70.0, 9.0)), right),
                     (((0.0, 5.0), (100.0, 5.0)), right)):
        (place,) = placed([name], 1.0, EDGE, (), [line])
        assert place is not None and place.left == pytest.approx(at)


def test_a_name_that_has_no_room_is_left_out() -> None:
    """Where all is taken there is no place; where only a line further down is free, the name goes there."""
    name = Named("nnn", 50, 30, MARK)
    assert placed([name], 1.0, EDGE, [EDGE]) == [None]
    (place,) = placed([name], 1.0, EDGE, [Box(0, 0, 100, 45)])
    assert place is not None and 30 + place.base - 9 >= 45


def test_lines_do_not_run_through_names() -> None:
    """The one style sheet draws a seam around the letters of a name, under them, in the color of the page."""
    css = drawn().one("style").text
    paper = re.findall(r":root \{[^}]*background: (\w+);", css)
    seam = re.findall(r"\.name \{ paint-order: stroke; stroke: (\w+); stroke-width: (\d)px;", css)
    assert seam == [(paper[0], "4")]


def test_every_site_of_a_crowded_map_is_named_where_the_page_is_wide() -> None:
    """25 sites of the example of a bid, most of four parcels, on five loops: each has its name once."""
    case = read_case(ROOT / "examples" / "contract-bid")
    stops = [replace(sp.LOOP_1.stops[0], site=site.id) for site in case.sites]
    trucks = tuple(replace(sp.PLAN.trucks[0], truck_no=k + 1, depot=case.depots[0].id,
                           loop=replace(sp.LOOP_1, stops=tuple(stops[k::5]))) for k in range(5))
    plan = replace(sp.PLAN, trucks=trucks, sites=tuple(
        replace(sp.PLAN.sites[0], id=site.id, parcels=1 + k % 4) for k, site in enumerate(case.sites)))
    found = drawn(plan, case).one("svg", class_="map")
    names = [node.text.partition(" (")[0] for node in found.all("text", class_="broad")]
    assert len(case.sites) == 25
    assert sorted(name for name in names if not name.startswith("depot ")) == sorted(
        site.id for site in case.sites)


def many(loops: int) -> Plan:
    """The small plan with its second truck so many times."""
    return replace(sp.PLAN, trucks=tuple(replace(sp.PLAN.trucks[1], truck_no=k + 1) for k in range(loops)))


def test_eight_loops_look_different() -> None:
    """No two of eight loops have the same color and dashes, and no two neighbors the same of either."""
    lines = [node for node in drawn(many(8)).one("svg", class_="map").all("path", class_="loop")
             if "told" not in node.attributes["class"]]
    looks = [(node.attributes["stroke"], node.attributes["stroke-dasharray"]) for node in lines]
    assert len(set(looks)) == 8
    assert all(one[0] != other[0] and one[1] != other[1] for one, other in pairwise(looks))
    assert len(set(DASHES)) == len(DASHES) == 8


def _luminance(color: str) -> float:
    parts = [int(color[k:k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colors_stand_out_from_white() -> None:
    """WCAG 2.2: text at least 4.5 to 1 (1.4.3), graphics at least 3 to 1 (1.4.11)."""
    document = drawn(many(12))
    css = document.one("style").text
    # not (^|[^-])color: that would be background-color and border-color too
    texts = set(re.findall(r"[ {]color: (#\w{6})", css))
    texts |= {node.attributes["fill"] for svg in document.all("svg") for node in svg.all("text")
              if node.attributes.get("fill", "").startswith("#")}
    loops = document.one("svg", class_="map").all("path", class_="loop")
    shapes = {node.attributes["stroke"] for node in loops}
    assert len(texts) >= 3 and len(shapes) == 6
    for colors, least in ((texts, 4.5), (shapes, 3.0)):
        assert all(1.05 / (_luminance(color) + 0.05) >= least for color in colors)


# ---- axle loads


def test_axle_bars_are_as_long_as_the_loads() -> None:
    """One scale for all bars of a picture: front, rear, gross and rated fill are so many units a kilogram,
    the lines of the ratings 1750, 1800 and 3400 kg stand where such bars would end."""
    picture = section(drawn(), "axles").one("figure").one("svg")
    bars = [node for node in picture.all("rect") if "data-load" in node.attributes]
    loads = {part: [float(node.attributes["data-kg"]) for node in bars
                    if node.attributes["data-load"] == part] for part in ("front", "rear", "gross", "fill")}
    assert loads == {"front": [row.front_kg for row in sp.LOADS], "rear": [row.rear_kg for row in sp.LOADS],
                     "gross": [row.gross_kg for row in sp.LOADS], "fill": [400]}
    per_kg = float(bars[0].attributes["width"]) / 1690
    left = float(bars[0].attributes["x"])
    for node in bars:
        kg = float(node.attributes["data-kg"])
        assert float(node.attributes["width"]) / per_kg == pytest.approx(kg, abs=0.05)
        assert float(node.attributes["x"]) == left
    marks = {node.attributes["data-rating"]: float(re.findall(r"M([\d.]+)", node.attributes["d"])[0])
             for node in picture.all("path") if "data-rating" in node.attributes}
    # the hopper holds 0.4 m^3 of 1250 kg/m^3
    assert {part: (x - left) / per_kg for part, x in marks.items()} == pytest.approx(
        {"front": 1750, "rear": 1800, "gross": 3400, "fill": 500}, abs=0.05)


def test_a_margin_within_the_doubt_of_weights_is_told() -> None:
    """Raised full, full crew: 3390 of 3400 leaves 10, less than 2 % of 3390; with no doubt nothing is said,
    nor where 100 are left (2 % of 3390 are 67.8, of 1730 34.6)."""
    said = "Less left than catalog weights may be off (2 %): weigh before you rely on it."
    assert said in section(drawn(), "axles").text
    sure = replace(sp.CASE, assumptions=replace(sp.CASE.assumptions, catalog_uncertainty=0.0))
    assert "weigh before" not in section(drawn(case=sure), "axles").text
    wide = tuple(replace(row, front_margin_kg=100, rear_margin_kg=100, gross_margin_kg=100)
                 for row in sp.LOADS)
    roomy = replace(sp.PLAN, trucks=tuple(replace(row, axle_loads=wide) for row in sp.PLAN.trucks))
    assert "weigh before" not in section(drawn(roomy), "axles").text


def test_a_tank_is_called_a_tank() -> None:
    """What holds the material of a spreader of kind tank is a tank."""
    assert "the hopper holds 500 kg" in section(drawn(), "axles").text
    tank = replace(sp.CASE, spreaders=(replace(sp.HOPPER, kind="tank"),))
    assert "the tank holds 500 kg" in section(drawn(case=tank), "axles").text


def test_trucks_built_alike_share_a_picture() -> None:
    """Both trucks carry the same: one picture names both, its table has every load state and what is left."""
    figure = section(drawn(), "axles").one("figure")
    isolated = "\u2068light+blade+hopper\u2069"  # its direction stays its own
    assert figure.one("figcaption").text == f"{isolated}: trucks 1, 2"
    head, rows, values = table(figure)
    assert head == ["load state", "crew", "front [kg]", "front, left [kg]", "rear [kg]", "rear, left [kg]",
                    "gross [kg]", "gross, left [kg]"]
    assert [row[:2] for row in rows] == [[row.state, row.crew] for row in sp.LOADS]
    assert values[1][2:] == [1730, 20, 1260, 540, 2990, 410]  # raised empty, full crew
    other = sp.with_truck(2, build="light+blade+-", spreader=None)
    assert len(section(drawn(other), "axles").all("figure")) == 2


# ---- bytes


def test_the_same_plan_is_the_same_bytes() -> None:
    """Two processes with other hash seeds draw the same page."""
    code = ("import sys; sys.path.insert(0, 'tests'); import small_plan as sp\n"
            "from optibuild.report import page\nsys.stdout.buffer.write(page(sp.PLAN, sp.CASE).encode())\n")
    pages = [subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, timeout=120,
                            check=True, env={**os.environ, "PYTHONHASHSEED": seed}).stdout
             for seed in ("1", "2")]
    assert pages[0] == pages[1] == page(sp.PLAN, sp.CASE).encode()


def test_three_hundred_sites_are_less_than_three_megabytes() -> None:
    """A plan of 300 sites on 100 trucks is a page below 3 MB."""
    sites = tuple(replace(sp.LOT_A, id=f"site-{k}", lat_deg=45 + k % 20 / 100, lon_deg=-90 + k // 20 / 100)
                  for k in range(300))
    stops = [replace(sp.LOOP_1.stops[0], site=site.id) for site in sites]
    trucks = tuple(replace(sp.PLAN.trucks[0], truck_no=k + 1, build=f"build-{k}",
                           loop=replace(sp.LOOP_1, stops=tuple(stops[3 * k:3 * k + 3]))) for k in range(100))
    plan = replace(sp.PLAN, trucks=trucks,
                   sites=tuple(replace(sp.PLAN.sites[0], id=site.id, parcels=1) for site in sites))
    html = page(plan, replace(sp.CASE, sites=sites))
    assert 300_000 < len(html.encode()) < 3_000_000
    assert len(read(html).all("g", class_="stop")) == 300

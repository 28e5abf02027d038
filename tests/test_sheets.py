"""sheets.html: a sheet for each truck, driver and site. Figures by hand from `small_plan` and `end_plan`."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import end_plan as ep
import pytest
import small_plan as sp
from chart_reading import record
from page_reading import Node, read, table, under
from test_page import ODD

from optibuild.cautions import BID, COLD, FIT, PLAN, SLOSHING, SPLIT
from optibuild.records import Bid, Case, Contract, ContractForm, FormPrice, Plan, SiteBid
from optibuild.report.page import sheets

ROOT = Path(__file__).parents[1]
NO_PLAN = replace(sp.PLAN, trucks=(), items=(), money=None, sites=tuple(
    replace(row, served=False, works=(), cost_usd=None, price=None) for row in sp.PLAN.sites))


def drawn(plan: Plan = sp.PLAN, case: Case = sp.CASE) -> Node:
    """The sheets of a plan, read back."""
    return read(sheets(plan, case))


def sheet(name: str, plan: Plan = sp.PLAN, case: Case = sp.CASE) -> Node:
    """One sheet by its anchor."""
    return drawn(plan, case).one("section", id=name)


def lines(node: Node) -> dict[str, str]:
    """What stands behind each word of a sheet."""
    return {word.text: said.text for row in node.all("dl") for word, said in zip(
        row.all("dt"), row.all("dd"), strict=True)}


def flat(node: Node) -> str:
    """All text of a node, each run of blanks as one."""
    return " ".join(node.text.split())


# ---- the file


def test_every_truck_driver_and_served_site_has_a_sheet() -> None:
    """Two trucks, their two drivers, lots a and b; lot c, which is left out, has none. The contents name
    each."""
    document = drawn()
    found = [(node.attributes["data-sheet"], node.attributes["id"]) for node in document.all(
        "section", class_="sheet")]
    assert found == [("truck", "truck-1"), ("truck", "truck-2"), ("driver", "driver-1"),
                     ("driver", "driver-2"), ("site", "site-1"), ("site", "site-2")]
    links = document.one("nav").all("a")
    assert [node.attributes["href"] for node in links] == [f"#{name}" for _, name in found]
    assert [node.text for node in links] == ["Truck 1", "Truck 2", "Driver of truck 1", "Driver of truck 2",
                                             "Lot a", "Lot b"]


@pytest.mark.parametrize(("system", "paper"), [("us", "letter"), ("si", "A4")])
def test_each_sheet_is_a_page_of_its_own(system: str, paper: str) -> None:
    """In print each sheet ends its page, contents are left out, and the paper is that of the units."""
    document = drawn(case=replace(sp.CASE, units=system))
    css = document.one("style").text
    printed = css[css.index("@media print"):]
    assert re.search(r"\.sheet \{[^}]*break-after: page", printed) and ".screen { display: none; }" in printed
    assert f"@page {{ size: {paper}; }}" in css
    assert "screen" in document.one("nav").attributes["class"] and "screen" in document.one(
        "header").attributes["class"]


def test_without_a_plan_one_line_says_so() -> None:
    """The file is there all the same, and names the page that tells why."""
    document = drawn(NO_PLAN)
    assert document.all("section") == [] and document.all("nav") == []
    assert flat(document.one("body")) == ("tiny No plan exists, so there are no sheets to hand out; "
                                          "report.html tells what stands in the way.")
    assert document.one("header").attributes == {}


def test_policy_lets_in_the_one_style_sheet_and_nothing_else() -> None:
    """The digest in the policy is that of the style sheet (CSP Level 3); there is nothing to load or run, and
    every link leads to a sheet or to a place."""
    html = sheets(sp.PLAN, sp.CASE)
    document = read(html)
    digest = base64.b64encode(hashlib.sha256(document.one("style").text.encode()).digest()).decode()
    policy = document.one("meta", http_equiv="Content-Security-Policy").attributes["content"]
    assert policy == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    nodes = document.all()
    assert not {"script", "link", "img", "iframe", "object", "embed", "base", "form", "input", "svg"} & {
        node.tag for node in nodes}
    assert not [name for node in nodes for name in node.attributes
                if name.startswith("on") or name in ("style", "src")]
    assert not re.search(r"https?:|//|@import|url\(", html)
    ids = [node.attributes["id"] for node in nodes if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    links = [node.attributes["href"] for node in document.all("a")]
    assert {link[1:] for link in links if link.startswith("#")} <= set(ids)
    # RFC 5870: "geo:", latitude, comma, longitude
    assert {re.sub(r"^geo:-?\d+\.\d{5},-?\d+\.\d{5}$", "geo", link) for link in links
            if not link.startswith("#")} == {"geo"}


@pytest.mark.parametrize("odd", ODD, ids=["script", "formula", "hebrew", "long", "quote", "template", "turn"])
def test_text_of_the_user_is_text(odd: str) -> None:
    """Whatever a user calls case, site, depot, truck, ballast and material: it makes no element and no
    attribute and stands as typed; only marks that turn the direction become question marks."""
    bag, hopper = replace(sp.SANDBAG, id=odd), replace(sp.HOPPER, material=odd)
    trucks = tuple(replace(row, build=odd, truck=odd, depot=odd,
                           ballast=tuple(replace(kit, id=odd) for kit in row.ballast),
                           loop=replace(row.loop, stops=tuple(
                               replace(stop, site=odd) if stop.site == "a" else stop
                               for stop in row.loop.stops))) for row in sp.PLAN.trucks)
    plan = replace(sp.PLAN, case=replace(sp.PLAN.case, name=odd), trucks=trucks,
                   sites=(replace(sp.PLAN.sites[0], id=odd), *sp.PLAN.sites[1:]))
    case = replace(sp.case_site(0, id=odd, name=f"at {odd}"), name=odd, ballast=(bag,), spreaders=(hopper,),
                   trucks=(replace(sp.TRUCK, id=odd),), depots=(replace(sp.YARD, id=odd),),
                   materials=(replace(sp.CASE.materials[0], id=odd),))
    found, plain = drawn(plan, case), drawn()
    assert [node.tag for node in found.all()] == [node.tag for node in plain.all()]
    assert {name for node in found.all() for name in node.attributes} == {
        name for node in plain.all() for name in node.attributes}
    shown = odd.replace("\u202e", "?")
    assert found.one("h1").text == shown
    assert found.one("section", id="site-1").one("h2").text == f"at {shown}"
    parts = table(under(found.one("section", id="truck-1"), "Parts"))[1]
    assert (parts[0][1], parts[-1][1]) == (shown, shown)
    assert f"of {shown}: " in lines(found.one("section", id="truck-1"))["Rated fill"]


def test_the_same_plan_is_the_same_bytes() -> None:
    """Two processes with other hash seeds write the same sheets."""
    code = ("import sys; sys.path.insert(0, 'tests'); import small_plan as sp\n"
            "from optibuild.report.page import sheets\n"
            "sys.stdout.buffer.write(sheets(sp.PLAN, sp.CASE).encode())\n")
    made = [subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, timeout=120,
                           check=True, env={**os.environ, "PYTHONHASHSEED": seed}).stdout
            for seed in ("1", "2")]
    assert made[0] == made[1] == sheets(sp.PLAN, sp.CASE).encode()


def test_five_hundred_sites_are_840_sheets() -> None:
    """500 sites on 170 trucks, each with its driver, are 840 sheets below 6 MB."""
    sites = tuple(replace(sp.LOT_A, id=f"site-{k}", name=f"Site {k}") for k in range(500))
    stops = [replace(sp.LOOP_1.stops[0], site=site.id) for site in sites]
    trucks = tuple(replace(sp.PLAN.trucks[0], truck_no=k + 1,
                           loop=replace(sp.LOOP_1, stops=tuple(stops[3 * k:3 * k + 3]))) for k in range(170))
    plan = replace(sp.PLAN, trucks=trucks, sites=tuple(replace(sp.PLAN.sites[0], id=site.id)
                                                       for site in sites))
    html = sheets(plan, replace(sp.CASE, sites=sites))
    assert html.count('<section class="sheet"') == 840
    assert 500_000 < len(html.encode()) < 6_000_000


# ---- trucks


def test_parts_have_their_mass_and_place() -> None:
    """Two bags of 40 kg, 0.3 m ahead of the bed's end, which is 1.2 m behind the rear axle: 0.9 m behind
    that. The hopper, 1.2 m ahead of the bed's end, sits on the axle; the truck weighs 1300 + 1000."""
    _, rows, values = table(under(sheet("truck-1"), "Parts"))
    assert [(row[0], row[1], row[-1]) for row in rows] == [
        ("truck", "light", ""), ("mount of the plow", "blade", "at the bumper"),
        ("plow", "blade", "0.30 m ahead of the bumper"),
        ("spreader, empty", "hopper", "1.20 m ahead of the bed's end; 0.00 m behind the rear axle"),
        ("ballast", "sandbag", "0.30 m ahead of the bed's end; 0.90 m behind the rear axle")]
    assert [row[2:5] for row in values] == [[1, 2300, 2300], [1, 60, 60], [1, 240, 240], [1, 150, 150],
                                            [2, 40, 80]]


def test_a_mass_beyond_the_bed_or_ahead_of_the_axle_says_so() -> None:
    """A bag 0.2 m beyond the bed's end is 1.4 m behind the axle; one 1.5 m ahead of it is 0.3 m ahead."""
    for center, said in ((0.2, "0.20 m behind the bed's end; 1.40 m behind the rear axle"),
                         (-1.5, "1.50 m ahead of the bed's end; 0.30 m ahead of the rear axle")):
        case = replace(sp.CASE, ballast=(replace(sp.SANDBAG, center_m=center),))
        assert table(under(sheet("truck-1", case=case), "Parts"))[1][-1][-1] == said


def test_us_cases_have_inches_and_pounds() -> None:
    """0.3 m / 0.0254 = 11.8 in, 0.9 m = 35.4 in; 80 kg / 0.45359237 = 176.37 lb; 400 kg = 882 lb; 0.32 and
    0.4 m^3 / 0.3048^3 = 11.30 and 14.13 ft^3; 1250 kg/m^3 = 78 lb/ft^3."""
    found = sheet("truck-1", case=replace(sp.CASE, units="us"))
    head, rows, values = table(under(found, "Parts"))
    assert rows[-1][-1] == "11.8 in ahead of the bed's end; 35.4 in behind the rear axle"
    assert head[4] == "mass in all [lb]" and values[-1][4] == pytest.approx(80 / 0.45359237)
    assert lines(found)["Rated fill"].startswith(
        "882 lb of salt: 11.30 ft\u00b3, 80 % of the hopper's 14.13 ft\u00b3 (level, at 78 lb/ft\u00b3;")


def test_rated_fill_is_told_as_how_full_the_hopper_is() -> None:
    """400 kg of 1250 kg/m^3 are 0.32 m^3, 80 % of 0.4 m^3; the driver is told the same."""
    for name in ("truck-1", "driver-1"):
        assert lines(sheet(name))["Rated fill"] == (
            "400 kg of salt: 0.32 m\u00b3, 80 % of the hopper's 0.40 m\u00b3 (level, at 1,250 kg/m\u00b3; "
            "wet material weighs more)")
    figures = next(node for node in sheet("truck-1").all("dl") if "data-fill-kg" in node.attributes)
    assert {name: float(value) for name, value in figures.attributes.items()} == pytest.approx(
        {"data-fill-kg": 400, "data-fill-m3": 0.32, "data-fill-share": 0.8})


def test_axle_loads_stand_beside_cells_to_write_in() -> None:
    """Under the ratings 1750, 1800 and 3400 every load state has its three loads, each with an empty cell:
    8 x 3 of them; and lines for who weighed, when and where."""
    found = sheet("truck-1")
    head, rows, values = table(under(found, "Axle loads to verify on the scale"))
    assert head == ["load state", "aboard", "front [kg]", "front, weighed", "rear [kg]", "rear, weighed",
                    "gross [kg]", "gross, weighed"]
    assert rows[0][0] == "rating" and values[0][2::2] == [1750, 1800, 3400]
    aboard = {"driver": "1", "full": "2"}
    assert [row[:2] for row in rows[1:]] == [[row.state, aboard[row.crew]] for row in sp.LOADS]
    assert [row[2::2] for row in values[1:]] == [
        [row.front_kg, row.rear_kg, row.gross_kg] for row in sp.LOADS]
    blank = found.all("td", class_="write")
    assert len(blank) == 24 and not any(node.inside for node in blank)
    told = lines(found)
    assert [told[word] for word in ("Weighed by", "Date and time", "Scale")] == ["", "", ""]
    assert [node.text for node in found.all("li")] == list(FIT)
    assert "may be off (2 %): weigh before you rely on it." in found.text  # 10 of 3390 are left


def test_ballast_that_comes_out_is_told_to_the_shop() -> None:
    """Above 100 kg of material the bags come out; 300 of 400 kg can be spread. The other truck's sheet does
    not say so."""
    plan = sp.with_truck(1, retained_fill_kg=100)
    said = ("Truck 1: take 2 sandbag out above 100 kg of material, put back below; 300 kg can be spread "
            "between reloads.")
    assert said in flat(sheet("truck-1", plan))
    assert "put back below" not in flat(sheet("truck-2", plan))


def test_a_truck_without_a_spreader_has_no_fill() -> None:
    """Neither a rated fill nor words on full and empty; one with a tank has the caution on sloshing."""
    plain = sheet("truck-1", sp.with_truck(1, spreader=None, ballast=()))
    assert "Rated fill" not in lines(plain) and "Full:" not in plain.text and "Raised:" in plain.text
    assert [row[0] for row in table(under(plain, "Parts"))[1]] == ["truck", "mount of the plow", "plow"]
    tank = sheet("truck-1", case=replace(sp.CASE, spreaders=(replace(sp.HOPPER, kind="tank"),)))
    assert tank.all("li")[-1].text == SLOSHING and "of the tank's" in lines(tank)["Rated fill"]


# ---- drivers


def told(node: Node, heading: str) -> tuple[list[str], list[list[str]], list[str]]:
    """Headings, rows and second lines of a driver's table."""
    grid = under(node, heading)
    head, rows, _ = table(grid)
    return head, [row for row in rows if len(row) > 1], [row.text for row in grid.all("tr", class_="under")]


def test_a_driver_has_stops_in_order_with_reloads() -> None:
    """Truck 2: at b from 6 to 34, home to reload, at a from 49 to 70 of 80 min, back and reloaded at 79; both
    lots promise 90 min; a is plowed from 3 cm, b from 6; a takes 120 kg; the other parcel of a is truck 1's.
    A lot without a name is told by its id."""
    head, rows, second = told(sheet("driver-2"), "Every round: starts again within 90 min")
    assert head == ["stop", "arrive by [min]", "leave by [min]", "deadline [min]"]
    assert rows == [["1. Lot b", "6", "34", ""], ["reload at yard", "", "", ""],
                    ["2. Lot a", "49", "70", "80"], ["back at yard, reloaded", "79", "", ""]]
    assert second == [
        f"plow from 6.0 cm; the whole site; cycle limit 90 min; {sp.B_LAT:.5f}, -90.00000",
        "plow from 3.0 cm, deice; 1 of 2 parcels, the rest: truck 1; 120 kg of salt; cycle limit 90 min; "
        "45.00000, -90.02000"]
    assert [node.attributes["href"] for node in sheet("driver-2").all("a")] == [
        f"geo:{sp.B_LAT:.5f},-90.00000", "geo:45.00000,-90.02000"]
    assert "20 min of driving over 11.2 km." in flat(sheet("driver-2"))
    unnamed = sheet("driver-1", case=sp.case_site(0, name=""))
    assert told(unnamed, "Every round: starts again within 60 min")[1][0][0] == "1. a"


def test_minutes_of_a_driver_are_whole() -> None:
    """A stop from 4.4 to 25.6 min is told as 4 and 26; the figures behind them stay as they are."""
    found = sheet("driver-1", sp.with_stop(1, 0, arrive_min=4.4, leave_min=25.6))
    _, rows, values = table(under(found, "Every round: starts again within 60 min"))
    assert (rows[0][1:3], values[0][1:3]) == (["4", "26"], [4.4, 25.6])


def test_the_limit_of_a_stop_is_that_of_its_works() -> None:
    """Where lot a is to be plowed every 90 and deiced every 70 min, a stop for both has 70, one that plows
    90."""
    case = sp.case_site(0, deice_every_min=70)
    for work, limit in (("both", 70), ("plow", 90), ("deice", 70)):
        plan = sp.with_stop(1, 0, work=work)
        _, _, second = told(sheet("driver-1", plan, case), "Every round: starts again within 60 min")
        assert f"; cycle limit {limit} min; " in second[0]


def test_the_last_round_has_a_table_of_its_own() -> None:
    """Every round plows a and b, leaves at 22 and 59, ends at 65; the last one deices a and c besides,
    reloads between, leaves at 25, 47.5 and 82.5, ends at 93.5 of 105 min. No deadline and no cycle limit
    holds in it."""
    found = sheet("driver-1", ep.PLAN, ep.CASE)
    _, rows, second = told(found, "Every round: starts again within 90 min")
    assert [row[:3] for row in rows] == [["1. Lot a", "4", "22"], ["2. Lot b", "31", "59"],
                                         ["back at yard", "65", ""]]
    assert [line.partition(";")[0] for line in second] == ["plow from 3.0 cm", "plow from 6.0 cm"]
    assert all("; cycle limit 90 min; " in line for line in second)
    head, rows, second = told(found, "Last round of a storm: over within 105 min")
    assert head == ["stop", "arrive by [min]", "leave by [min]"]
    assert [row[0] for row in rows] == ["1. Lot a", "reload at yard", "2. Lot c", "3. Lot b",
                                        "back at yard, reloaded"]
    _, _, values = table(under(found, "Last round of a storm: over within 105 min"))
    assert [row[1:] for row in values if len(row) > 1] == [
        [4, 25], [None, None], [37, 47.5], [54.5, 82.5], [93.5, None]]
    assert [line.partition(";")[0] for line in second] == [
        "plow from 3.0 cm, deice", "deice", "plow from 6.0 cm"]
    assert ["120 kg of salt" in second[0], "300 kg of salt" in second[1], "salt" in second[2]] == [
        True, True, False]
    assert not any("cycle limit" in line for line in second)
    assert "instead of the last of the rounds above" in found.text


def test_drivers_are_told_of_fatigue() -> None:
    """The longest event lasts 270 min = 4.5 h; with a shift of 4 h another driver takes over. Cautions on
    driving hours stand on every sheet, those on cold and shared sites where they apply."""
    assert lines(sheet("driver-1"))["Shift"] == (
        "the longest event expected lasts 4.5 h; no limit is set: plan rest and relief")
    case = replace(sp.CASE, crew=replace(sp.CASE.crew, shift_min=240))
    assert lines(sheet("driver-1", case=case))["Shift"].endswith("; another driver takes over after 4.0 h")
    assert [node.text for node in sheet("driver-2").all("li")] == list(PLAN)
    cold = replace(sp.PLAN, cautions=(COLD,))
    assert [node.text for node in sheet("driver-2", cold, sp.case_site(1, split_works=True)).all("li")] == [
        *PLAN, SPLIT, COLD]


# ---- sites

ASKED = replace(sp.CASE, sites=tuple(replace(site, pay_by=None) for site in sp.CASE.sites))


def test_all_that_a_customer_reads() -> None:
    """Works, limits, trigger, deadline and price of lot a, and not one word or figure more. The storm brings
    0.03 m in 90 min, 20 mm/h; 10 light and 2 heavy events bring deicing. The caution on prices, whose
    costs are not the customer's, stays on the screen."""
    price = sp.PRICE_A
    assert flat(sheet("site-1", case=ASKED)) == (
        "For the customer Lot a a "
        "Workplowing and deicing "
        "Plowingfrom 3.0 cm of snow; no longer than 90 min between two plowings "
        "Deicingno longer than 90 min between two deicings "
        "Deadlinefirst service finished within 80 min of the crew's start "
        "Holds forsnowfall of up to 20.0 mm/h "
        f"Price forprice [USD] a season{price:,.2f} an event{price / 12:,.2f} "
        "Each is the whole price by that form of contract: choose one. "
        "An event is one storm, from its first snow to its end, however often the site is served in it; 12 "
        f"are expected a season.For you, not printed: {BID[0]}")
    assert [node.text for node in sheet("site-1", case=ASKED).all("p", class_="screen")] == [
        f"For you, not printed: {BID[0]}"]


def test_a_push_is_told_with_its_depth() -> None:
    """Lot b, which is only plowed, has a price by push, of its trigger 6 cm, which 2 events of a season
    bring; no deadline was promised."""
    found = sheet("site-2", case=ASKED)
    assert table(under(found, "Price"))[2] == [
        [None, pytest.approx(usd)] for usd in (sp.PRICE_B, sp.PRICE_B / 2, sp.PRICE_B / 6)]
    assert ("An event is one storm that brings 6.0 cm of snow or more, from its first snow to its end, "
            "however often the site is served in it; 2 are expected a season.") in found.text
    assert "A push is one plowing, of 6.0 cm of snow or more." in found.text
    assert list(lines(found)) == ["Work", "Plowing", "Holds for"]


def test_deicing_at_the_end_is_promised_so() -> None:
    """Lot c is deiced once, in a last round of at most 120 min; its deadline is that of no round."""
    assert lines(sheet("site-3", ep.PLAN, ep.CASE)) == {
        "Work": "deicing", "Deicing": "once at the end of a storm, in a last round of at most 120 min",
        "Holds for": "snowfall of up to 20.0 mm/h"}


def test_an_agreed_price_goes_before_one_worked_out() -> None:
    """Lot a pays 300 USD a push, lot b 150 an event: their sheets name that and no other price."""
    for name, row in (("site-1", ("a push", 300)), ("site-2", ("an event", 150))):
        _, rows, values = table(under(sheet(name), "Price as agreed"))
        assert (rows[0][0], values[0][1]) == row and len(rows) == 1


def test_rows_of_the_contracts_table_are_told_in_words() -> None:
    """A sum for 20 events with 90 USD beyond and two bands of depth, of lot a alone; a form with a blank
    amount is not agreed; what holds for every site is lot b's."""
    case = replace(sp.CASE, contracts=(
        Contract("a", "season", 5000, cap=20, overage_usd=90), Contract("a", "event", 200, 0.0, 0.1),
        Contract("a", "event", 400, 0.1), Contract("a", "push", None), Contract(None, "hour", 110)))
    _, rows, values = table(under(sheet("site-1", case=case), "Price as agreed"))
    assert [(row[0], value[1]) for row, value in zip(rows, values, strict=True)] == [
        ("a season of up to 20 events", 5000), ("each event beyond", 90),
        ("an event, below 10.0 cm of snow", 200), ("an event, from 10.0 cm of snow", 400)]
    other = table(under(sheet("site-2", case=case), "Price as agreed"))[1]
    assert other == [["an hour at the site", "110.00"]]


def test_a_form_that_is_asked_without_its_amount_has_no_price() -> None:
    """Lot a is to be paid by season, how much is not said: its sheet has no figure in dollars; lot b, of
    which nothing is asked, has the price worked out."""
    case = replace(ASKED, contracts=(Contract("a", "season", None),))
    found = sheet("site-1", case=case)
    assert lines(found)["Price"] == "for a season: price to follow"
    assert "USD" not in found.text and not found.all("table") and BID[0] not in found.text
    assert table(under(sheet("site-2", case=case), "Price"))[2][0][1] == pytest.approx(sp.PRICE_B)


def offered(*lines_of_a: FormPrice) -> Bid:
    """A bid whose lot a has these prices."""
    return record(Bid, sites=(record(SiteBid, site="a", prices=lines_of_a),))


def test_a_form_that_is_asked_has_the_price_of_the_bid() -> None:
    """Lot a asks for a sum of 20 events, every lot for events by depth: with a bid its sheet has the bid's
    sum, overage and bands, no price of a form not asked and no "to follow". Lot b, of which the bid has
    nothing, waits still; a band that can never be billed has no line."""
    case = replace(ASKED, contracts=(Contract("a", "season", None, cap=20),
                                     Contract(None, "event", None, 0, 0.1),
                                     Contract(None, "event", None, 0.1)))
    plain = (FormPrice(form, form, usd) for form, usd in (("push", 11), ("event", 22), ("season", 33)))
    bands = (FormPrice("event by depth", "event", usd, low, high)
             for usd, low, high in ((44.5, 0, 0.1), (55, 0.1, None), (None, 0.3, None)))
    bid = offered(*plain, *bands, FormPrice("season with cap", "season", 6600, cap=20, overage_usd=77))
    found = read(sheets(sp.PLAN, case, bid))
    grid = under(found.one("section", id="site-1"), "Price")
    assert table(grid)[1] == [
        ["a season of up to 20 events", "6,600.00"], ["each event beyond", "77.00"],
        ["an event, below 10.0 cm of snow", "44.50"], ["an event, from 10.0 cm of snow", "55.00"]]
    assert "choose one" in found.one("section", id="site-1").text
    assert "to follow" not in found.one("section", id="site-1").text
    assert lines(found.one("section", id="site-2"))["Price"] == "for an event: price to follow"


@pytest.mark.parametrize(("form", "each"), [("season", "a season"), ("push", "a push"), ("event", "an event"),
                                            ("inch", "an inch of snow"), ("hour", "an hour at the site")])
def test_each_form_has_its_own_price_of_the_bid(form: ContractForm, each: str) -> None:
    """Whichever plain form lot a asks for, its sheet has that line of the bid and only that; what has been
    agreed stands before a bid."""
    names = ("push", "event", "inch", "hour", "season")
    bid = offered(*(FormPrice(name, name, 100.0 + n) for n, name in enumerate(names)))
    case = replace(ASKED, contracts=(Contract("a", form, None),))
    grid = under(read(sheets(sp.PLAN, case, bid)).one("section", id="site-1"), "Price")
    assert table(grid)[1] == [[each, f"{100 + names.index(form)}.00"]]
    settled = replace(ASKED, contracts=(Contract("a", form, 9.0),))
    agreed = under(read(sheets(sp.PLAN, settled, bid)).one("section", id="site-1"), "Price as agreed")
    assert table(agreed)[1] == [[each, "9.00"]]


def test_a_form_without_a_price_is_said_to_have_none() -> None:
    """Asked by the push and by the event, where the bid has a price by the event alone, the sheet shows that
    one, leaves nothing to choose and promises no other."""
    case = replace(ASKED, contracts=(Contract("a", "push", None), Contract("a", "event", None)))
    bid = offered(FormPrice("push", "push", None), FormPrice("event", "event", 22.0))
    sheet = read(sheets(sp.PLAN, case, bid)).one("section", id="site-1")
    assert table(under(sheet, "Price"))[1] == [["an event", "22.00"]]
    assert lines(sheet)["No price"] == "for a push, in which nothing is expected here"
    assert "choose one" not in sheet.text and "to follow" not in sheet.text


@pytest.mark.parametrize("case", [sp.CASE, ASKED], ids=["agreed", "asked"])
def test_no_customer_reads_of_costs_or_of_others(case: Case) -> None:
    """With telling names everywhere, a customer's sheet holds those of its own site alone; none of the
    plan's costs stands on it, rounded or not, in text or attribute. (What is for the screen is not handed
    out.)"""
    names = ("Quince", "Walnut", "Medlar")
    marked = replace(case, sites=tuple(replace(site, name=name) for site, name in zip(
        case.sites, names, strict=True)))
    trucks = tuple(replace(row, build="Secretbuild") for row in sp.PLAN.trucks)
    found = drawn(replace(sp.PLAN, trucks=trucks, case=replace(sp.PLAN.case, name="Secretcase")), marked)
    assert sp.PLAN.money is not None
    costs = [sp.COST_A, sp.COST_B, sp.SAVED_A, sp.SAVED_B, sp.OWNING_USD, sp.SEASON_USD, sp.COST_USD,
             sp.PLAN.money.capital_usd, *(row.season.usd for row in sp.PLAN.trucks),
             *(row.price_usd for row in sp.PLAN.items)]
    for own, node in enumerate(found.all("section", data_sheet="site")):
        node.inside = [part for part in node.inside if isinstance(part, str)
                       or "screen" not in part.attributes.get("class", "")]
        texts = [node.text, *(value for one in [node, *node.all()] for value in one.attributes.values())]
        said = " ".join(texts)
        assert names[own] in said and not any(name in said for name in (*names[:own], *names[own + 1:]))
        assert not re.search(r"Secret|light|blade|hopper|sandbag|yard|[Tt]ruck|parcel|[Cc]ost", said)
        figures = [float(text.replace(",", "")) for text in re.findall(r"\d[\d,]*\.?\d*", said)]
        assert not [cost for cost in costs if any(abs(cost - figure) < 0.51 for figure in figures)]
    assert "Quince" in found.one("section", id="driver-1").text

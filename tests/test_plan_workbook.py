"""plan.xlsx and the CSV files: what plan.json holds, number by number, and the case once more."""

import csv
import io
import json
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree
from zipfile import ZipFile

import end_plan as ep
import pytest
import small_plan as sp
from openpyxl import load_workbook
from python_calamine import CalamineWorkbook

from optibuild import Plan
from optibuild.inputs import case_workbook, check_case, read_case, write_case
from optibuild.pipeline import make_plan, to_json
from optibuild.plan import recheck
from optibuild.records import LeastBudget, Looser, LostValue, OutOfReach, Remedy, Shortfall
from optibuild.report.csv_tables import plan_csv_files
from optibuild.report.plan_tables import plan_workbook

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
EXAMPLES = sorted(path.parent for path in (ROOT / "examples").glob("*/case.toml"))
LB_KG, MI_M = 0.45359237, 1609.344
HOSTILE = ("=cmd|' /C calc'!A0", "@SUM(A1)", "+1-1", "-2+3", "'=x", "\u05d0\u05d1 \u200f\u0645", "n" * 300,
           "_x000D_", "<b>&amp;", " two  blanks ")
BUILT_IN = {"0", "3", "4", "49"}
"""Number formats that need no entry: General, #,##0, #,##0.00 and @ (ECMA-376, part 1, 18.8.30)."""
CHECKED = replace(sp.PLAN, recheck=recheck(sp.PLAN, sp.CASE))
NO_PLAN = replace(sp.PLAN, trucks=(), items=(), sites=(), money=None, shortfall=Shortfall(
    (OutOfReach("a", "both", "gross", "light+blade+hopper", 45.359237, "kg",
                (Remedy("gross", 907.18474, "kg"), Remedy("snow to the side", None, ""))),),
    LeastBudget(30_000.0, 29_000.0, False), ("c",),
    (Looser("drivers", 2, 3, "drivers", True), Looser("cycle limit", 90, 120, "min", False, "b", 110,
                                                      "single cycle limits")),
    LostValue(500.0, 400.0, False, (), True)))
Rows = list[dict[str, Any]]


def by_openpyxl(book: bytes) -> dict[str, Rows]:
    """The sheets of a plan as rows by heading, read by openpyxl; a blank is None."""
    found = {}
    for sheet in load_workbook(BytesIO(book)):
        titles, *rows = sheet.iter_rows(values_only=True)
        found[sheet.title] = [dict(zip(map(str, titles), row, strict=True)) for row in rows]
    return found


def by_calamine(book: bytes) -> dict[str, Rows]:
    """The same, read by another library, written in another language."""
    read = CalamineWorkbook.from_filelike(BytesIO(book))
    found = {}
    for name in read.sheet_names:
        titles, *rows = read.get_sheet_by_name(name).to_python(skip_empty_area=False)
        found[name] = [{str(title): None if cell == "" else cell for title, cell in
                        zip(titles, row, strict=True)} for row in rows]
    return found


READERS = pytest.mark.parametrize("read", [by_openpyxl, by_calamine])


def equal(found: Rows, expected: Rows) -> None:
    """The same rows with the same headings; numbers to one part in 10^12."""
    assert [[*row] for row in found] == [[*row] for row in expected]
    for row, other in zip(found, expected, strict=True):
        for title, value in other.items():
            exact = value is None or isinstance(value, str)
            assert row[title] == (value if exact else pytest.approx(value, rel=1e-12, abs=1e-12)), title


KINDS = ("owning", "labor", "fuel", "wear", "material")


def yes_no(value: bool) -> str:
    """A claim as the tables word it."""
    return "yes" if value else "no"


@pytest.mark.parametrize(("units", "mass", "kg", "road", "m"), [("si", "kg", 1.0, "km", 1000.0),
                                                                ("us", "lb", LB_KG, "mi", MI_M)])
@READERS
def test_sheets_hold_the_numbers_of_plan_json(read: Any, units: str, mass: str, kg: float, road: str,
                                              m: float) -> None:
    """Items, axle loads, loops, stops and prices are those of plan.json, kilograms and meters turned by hand
    into pounds of 0.45359237 kg and miles of 1609.344 m, or into kilometers."""
    sheets = read(plan_workbook(CHECKED, replace(sp.CASE, units=units)))
    told = json.loads(to_json(CHECKED))
    equal(sheets["note items"], [{"id": row["id"], "table": row["table"], "bought": row["bought"],
                                  "owned_used": row["owned_used"], "price [USD]": row["price_usd"],
                                  "annual [USD/year]": row["annual_usd"]} for row in told["items"]])
    masses = ("front", "rear", "gross", "front_margin", "rear_margin", "gross_margin")
    equal(sheets["note axle_loads"], [
        {"truck_no": truck["truck_no"], "state": row["state"], "crew": row["crew"],
         **{f"{name} [{mass}]": row[f"{name}_kg"] / kg for name in masses}}
        for truck in told["trucks"] for row in truck["axle_loads"]])
    equal(sheets["note loops"], [
        {"truck_no": truck["truck_no"], "round": "each", "depot": truck["depot"],
         "stops": len(loop["stops"]), "sites": " ".join(stop["site"] for stop in loop["stops"]),
         "limit [min]": loop["cycle_limit_min"], "duration [min]": loop["duration_min"],
         "slack [min]": loop["cycle_limit_min"] - loop["duration_min"], "drive [min]": loop["drive_min"],
         "reload [min]": loop["reload_min"], "reloads": loop["reloads"],
         f"distance [{road}]": loop["distance_m"] / m}
        for truck in told["trucks"] for loop in (truck["loop"],)])
    equal(sheets["note stops"], [
        {"truck_no": truck["truck_no"], "stop_no": number, "site": stop["site"], "work": stop["work"],
         "parcels": stop["parcels"], "reload_before": yes_no(stop["reload_before"]),
         "arrive [min]": stop["arrive_min"], "leave [min]": stop["leave_min"], "plow [min]": stop["plow_min"],
         "deice [min]": stop["deice_min"], f"material [{mass}]": stop["material_kg"] / kg,
         "deadline [min]": stop["deadline_min"], "deice_when": stop["deice_when"], "end_reload_before": None,
         "end_arrive [min]": None, "end_leave [min]": None}
        for truck in told["trucks"] for number, stop in enumerate(truck["loop"]["stops"], 1)])
    prices = [row["price"] or dict.fromkeys(("push_usd", "event_usd", "season_usd")) for row in told["sites"]]
    equal(sheets["note bid"], [
        {"site": row["id"], "served": yes_no(row["served"]), "cost [USD]": row["cost_usd"],
         **{f"{kind} [USD]": row["by_kind"] and row["by_kind"][f"{kind}_usd"] for kind in KINDS},
         "price_push [USD]": price["push_usd"], "price_event [USD]": price["event_usd"],
         "price_season [USD]": price["season_usd"], "saves_at_most [USD]": row["marginal_most_usd"]}
        for row, price in zip(told["sites"], prices, strict=True)])


@READERS
def test_builds_money_and_assumptions_by_hand(read: Any) -> None:
    """Both trucks are one build. Of its corners the least front margin is 1750 - 1730 = 20, rear 1800 - 1770
    = 30, gross 3400 - (1680 + 1710) = 10 kg; new it costs 10,000 + 4,641 + 928.2 + 2 x 4.641. What a season
    brings beyond its cost is 2,700 less owning and work. Speeds of 200 and 60 pi m/min are 12 and 3.6 pi km/h
    and a share of 0.5 is 50 %."""
    sheets = read(plan_workbook(CHECKED, sp.CASE))
    equal(sheets["note builds"], [
        {"build": "light+blade+hopper", "trucks": 2, "truck": "light", "plow": "blade", "spreader": "hopper",
         "ballast": "sandbag", "ballast_units": 2, "rated_fill [kg]": 400, "least_front_margin [kg]": 20,
         "least_rear_margin [kg]": 30, "least_gross_margin [kg]": 10, "price_new [USD]": 15_578.482,
         "annual_new [USD/year]": sp.TRUCK_YEAR + sp.PLOW_YEAR + sp.HOPPER_YEAR + 2 * 1.4641}])
    money = {row["what"]: row["amount [USD]"] for row in sheets["note money"]}
    assert money == pytest.approx({
        "capital": 20_210.2, "budget": 21_000, "owning": sp.OWNING_USD, "labor and hire": 1112,
        "fuel": 361.296, "wear": 96.66, "material": 456,
        "work (labor, fuel, wear, material)": sp.SEASON_USD, "cost (owning and work)": sp.COST_USD,
        "contract value": 2700, "contract value less cost": 2700 - sp.COST_USD})
    half = sp.OWNING_USD / 2  # see small_plan for each truck's labor, fuel, wear and salt
    assert [[row[f"season_{kind} [USD]"] for kind in KINDS] for row in sheets["note trucks"]] == [
        pytest.approx([half, 445, 128.8, 34, 240]), pytest.approx([half, 667, 232.496, 62.66, 216])]
    unpaid = read(plan_workbook(sp.with_money(contract_value_usd=0.0), sp.CASE))["note money"]
    assert not [row for row in unpaid if "contract" in row["what"]]  # no site pays
    figures = {row["assumption"]: (row["value"], row["unit"]) for row in sheets["note assumptions"]}
    assert len(figures) == len(CHECKED.assumptions)
    assert figures["plow_speed"] == (pytest.approx(12), "km/h")
    assert figures["turning_speed"] == (pytest.approx(3.6 * 3.14159265358979), "km/h")
    assert figures["job_efficiency"] == (pytest.approx(50), "%")
    assert figures["most_parcels"] == (12, None)


def test_a_last_round_is_a_loop_of_its_own() -> None:
    """The plain round takes 65 of 90 min at a and b; the end round 93.5 of 105 at a, c and b, two reloads."""
    rows = by_openpyxl(plan_workbook(ep.PLAN, ep.CASE))["note loops"]
    told = [(row["round"], row["sites"], row["limit [min]"], row["duration [min]"], row["slack [min]"],
             row["reloads"], row["distance [km]"]) for row in rows]
    assert told == [("each", "a b", 90, 65, 25, 0, 10.6), ("end", "a c b", 105, 93.5, 11.5, 2, 13.1)]


def digits(value: Any) -> Any:
    """A number to 14 digits, so that rounding it twice does not matter; anything else as it is."""
    return float(f"{value:.14g}") if isinstance(value, int | float) else value


def leaves(tree: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Every text and number of a JSON tree with its key."""
    if isinstance(tree, dict):
        for name, below in tree.items():
            yield from leaves(below, name)
    elif isinstance(tree, list):
        for below in tree:
            yield from leaves(below, key)
    elif tree is not None and not isinstance(tree, bool):
        yield key, tree


@pytest.mark.parametrize("plan", [CHECKED, ep.PLAN], ids=["plain", "end round"])
def test_nothing_of_plan_json_is_left_out(plan: Plan) -> None:
    """Every text and every number in kilograms, minutes, hours and dollars of plan.json stands in some cell;
    shares, meters and assumptions are there in other units, the seconds of the search are not. A workbook
    keeps 15 or 16 digits of a number."""
    cells = {digits(cell) for rows in by_openpyxl(plan_workbook(plan, sp.CASE)).values() for row in rows
             for cell in row.values()}
    told = json.loads(to_json(plan))
    other = {"seconds", "gap", "asked_gap", "distance_m", "unit", "worst"}
    del told["assumptions"]
    assert [leaf for leaf in leaves(told) if leaf[0] not in other and digits(leaf[1]) not in cells] == []


# ---- as a workbook


def test_headings_stay_in_sight_and_numbers_have_formats() -> None:
    """Every sheet of the plan is frozen below bold headings and has widths; numbers are numbers, minutes with
    one decimal, money with none in items and two in the bid."""
    book = load_workbook(BytesIO(plan_workbook(CHECKED, sp.CASE)))
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert all(cell.font.bold for cell in sheet[1])
        assert all(9 <= sheet.column_dimensions[cell.column_letter].width <= 44 for cell in sheet[1])
    assert (book["note stops"]["G2"].value, book["note stops"]["G2"].number_format) == (4, "#,##0.0")
    assert (book["note items"]["E2"].value, book["note items"]["E2"].number_format) == (10_000, "#,##0")
    assert book["note bid"]["C2"].number_format == "#,##0.00"


def parsed(parts: ZipFile, name: str) -> ElementTree.Element:
    """A part of a package."""
    return ElementTree.fromstring(parts.read(name))


@pytest.mark.parametrize("with_case", [True, False])
def test_package_is_whole(with_case: bool, tmp_path: Path) -> None:
    """By ECMA-376: every sheet has its own id and a relation to a part with a content type; every style of a
    cell exists, and so do its font and number format; groups are counted rightly. One sheet is selected: what
    is typed into several goes into all of them."""
    book = plan_workbook(CHECKED, sp.CASE, case_workbook(read_case(SMALL)) if with_case else None)
    main = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    rid = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
    with ZipFile(BytesIO(book)) as parts:
        assert parts.testzip() is None and len(set(parts.namelist())) == len(parts.namelist())
        sheets = list(parsed(parts, "xl/workbook.xml").iter(f"{main}sheet"))
        assert len({one.get("sheetId") for one in sheets}) == len({one.get("name") for one in sheets}) \
            == len(sheets)
        targets = {one.get("Id"): one.get("Target") for one in parsed(parts, "xl/_rels/workbook.xml.rels")}
        kinds = {one.get("PartName"): one.get("ContentType") for one in parsed(parts, "[Content_Types].xml")}
        styles = parsed(parts, "xl/styles.xml")
        for group in ("numFmts", "fonts", "cellXfs"):
            found = styles.find(f"{main}{group}")
            assert found is not None and int(found.get("count", "-1")) == len(found)
        formats = {one.get("numFmtId") for one in styles.iter(f"{main}numFmt")} | BUILT_IN
        used = styles.find(f"{main}cellXfs")
        assert used is not None and {one.get("numFmtId") for one in used} <= formats
        assert all(int(one.get("fontId", 0)) < len([*styles.iter(f"{main}font")]) for one in used)
        selected = 0
        for one in sheets:
            path = targets[one.get(rid)]
            assert path is not None and str(kinds[path]).endswith("worksheet+xml")
            sheet = parsed(parts, path.lstrip("/"))
            selected += sum(view.get("tabSelected") == "1" for view in sheet.iter(f"{main}sheetView"))
            assert all(int(cell.get("s", 0)) < len(used) for cell in sheet.iter(f"{main}c"))
        assert selected == 1


def test_same_bytes_each_time(tmp_path: Path) -> None:
    """Made again more than two seconds later, a zip file's step of time, of a search that took longer, all
    bytes are the same, those of the CSV files too."""
    first = plan_workbook(CHECKED, sp.CASE, case_workbook(read_case(SMALL)))
    time.sleep(2.1)
    slower = replace(CHECKED, outcome=replace(CHECKED.outcome, seconds=99.0))
    assert plan_workbook(slower, sp.CASE, case_workbook(read_case(SMALL))) == first
    assert plan_csv_files(slower, "us") == plan_csv_files(CHECKED, "us")


def called(plan: Plan, name: str) -> Plan:
    """A plan whose every text that a user can choose is `name`."""
    trucks = tuple(replace(
        row, build=name, truck=name, plow=name, spreader=name, depot=name,
        ballast=tuple(replace(kit, id=name) for kit in row.ballast),
        loop=replace(row.loop, stops=tuple(replace(stop, site=name) for stop in row.loop.stops)))
        for row in plan.trucks)
    short = replace(NO_PLAN.shortfall, leave_out=(name,)) if NO_PLAN.shortfall else None
    return replace(plan, trucks=trucks, items=tuple(replace(row, id=name) for row in plan.items),
                   sites=tuple(replace(row, id=name) for row in plan.sites), shortfall=short,
                   case=replace(plan.case, name=name), cautions=(name,))


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_text_in_every_sheet_and_file(name: str) -> None:
    """Formulas, right-to-left script, 300 letters, what reads like an escape or like XML: in every sheet that
    names something it stands as typed, as text in a quoted cell; nothing anywhere is a formula; in CSV what a
    spreadsheet would calculate has an apostrophe before it."""
    plan = called(CHECKED, name)
    made = plan_workbook(plan, sp.CASE)
    naming = ("plan", "items", "builds", "trucks", "stops", "sites", "bid", "shortfall")
    with ZipFile(BytesIO(made)) as parts:
        assert not any(b"<f>" in parts.read(part) or b"<f " in parts.read(part) for part in parts.namelist())
    book = load_workbook(BytesIO(made))
    cells = [cell for sheet in book for row in sheet for cell in row if isinstance(cell.value, str)]
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in cells)
    read = CalamineWorkbook.from_filelike(BytesIO(made))
    files = plan_csv_files(plan, "si")
    for table in naming:
        assert any(name in row for row in read.get_sheet_by_name(f"note {table}").to_python()), table
        told = [cell for row in csv.reader(io.StringIO(files[f"{table}.csv"])) for cell in row]
        assert (f"'{name}" if re.match(r"'*[=+@\-]", name) else name) in told, table


# ---- as a case


@pytest.mark.parametrize("path", [SMALL, *EXAMPLES], ids=lambda path: path.name)
def test_plan_xlsx_reads_back_as_the_case(path: Path, tmp_path: Path) -> None:
    """Given as a case, plan.xlsx is the case it was made from, apart from where it was read; no sheet of the
    plan is taken for a table, and no problem is told that the case does not have itself."""
    case, told = check_case(path)
    assert case is not None
    made = plan_workbook(CHECKED, case, case_workbook(case))
    (tmp_path / "plan.xlsx").write_bytes(made)
    back, problems = check_case(tmp_path / "plan.xlsx")
    assert back is not None
    assert replace(back, given_as="", inputs=()) == replace(case, given_as="", inputs=())
    assert {row.code for row in problems} <= {row.code for row in told}
    assert [row["value"] for row in by_openpyxl(made)["note plan"]][:2] == [
        by_calamine(made)["note plan"][0]["value"], "tiny"]


def test_the_case_in_plan_xlsx_gives_the_same_plan(tmp_path: Path) -> None:
    """The plan of the small case and the plan of its own plan.xlsx buy and drive the same; the sheets of the
    case stay, to the last comment, format, width and list of words, as `new` and others write them."""
    case = read_case(SMALL)
    plan = make_plan(case)
    made = plan_workbook(plan, case, case_workbook(case))
    (tmp_path / "plan.xlsx").write_bytes(made)
    again = make_plan(read_case(tmp_path / "plan.xlsx"))
    assert (again.items, again.trucks, again.sites, again.money) == (plan.items, plan.trucks, plan.sites,
                                                                     plan.money)
    write_case(case, tmp_path / "case.xlsx")
    before, after = load_workbook(tmp_path / "case.xlsx"), load_workbook(BytesIO(made))
    assert [sheet.title for sheet in after][-len(before.sheetnames):] == before.sheetnames
    for sheet in before:
        assert looks(after[sheet.title]) == looks(sheet)


def looks(sheet: Any) -> Any:
    """Every cell of a sheet with its comment and format, widths, what stays in sight, and lists of words."""
    cells = [(cell.coordinate, cell.value, cell.data_type, cell.number_format, cell.font.bold,
              cell.fill.fgColor.rgb, cell.comment.text if cell.comment else None)
             for row in sheet for cell in row]
    widths = {name: column.width for name, column in sheet.column_dimensions.items()}
    words = [(str(one.sqref), one.formula1) for one in sheet.data_validations.dataValidation]
    return cells, widths, sheet.freeze_panes, words


# ---- where no plan exists, and as CSV


@READERS
def test_where_no_plan_exists_the_shortfall_is_a_sheet(read: Any, tmp_path: Path) -> None:
    """45.359237 kg too much is 100 lb, and 907.18474 kg would do, which is 2,000 lb; the budget that is
    needed, the limits and the site to leave out are rows; sheets without rows are left out."""
    us = replace(sp.CASE, units="us")
    sheets = read(plan_workbook(NO_PLAN, us, case_workbook(read_case(SMALL))))
    assert {name for name in sheets if name.startswith("note")} == {
        "note plan", "note shortfall", "note assumptions"}
    told = [(row["way"], row["what"], row["of"], row["now"], row["needed"], row["not_enough"], row["unit"],
             row["confirmed"]) for row in sheets["note shortfall"]]
    assert told == [
        ("out of reach", "gross, over by", "a", None, pytest.approx(100), None, "lb", None),
        ("would reach it", "gross", "a", None, pytest.approx(2000), None, "lb", None),
        ("would reach it", "snow to the side", "a", None, None, None, None, None),
        ("limits", "budget", None, None, 30_000, 29_000, "USD", "no"),
        ("limits", "drivers", None, 2, 3, None, "drivers", "yes"),
        ("single cycle limits", "cycle limit", "b", 90, 120, 110, "min", "no"),
        ("leave out", "site", "c", None, None, None, None, "yes"),
        ("leave out", "contract value lost", None, None, 500, None, "USD", "yes")]


@pytest.mark.parametrize("plan", [CHECKED, ep.PLAN, NO_PLAN], ids=["plain", "end round", "no plan"])
def test_every_sheet_is_a_csv_file_too(plan: Plan) -> None:
    """The files are the same ones for every plan, so that none is left of an earlier one; those of sheets
    hold the sheet, numbers to four decimals."""
    files = plan_csv_files(plan, "us")
    assert set(files) == {f"{name}.csv" for name in (
        "plan", "items", "builds", "trucks", "axle_loads", "loops", "stops", "sites", "money", "bid",
        "shortfall", "checks", "assumptions")}
    for name, rows in by_openpyxl(plan_workbook(plan, replace(sp.CASE, units="us"))).items():
        told = list(csv.DictReader(io.StringIO(files[f"{name.removeprefix('note ')}.csv"])))
        assert [[*row] for row in told] == [[*row] for row in rows]
        for row, other in zip(told, rows, strict=True):
            for title, value in other.items():
                if value is None or isinstance(value, str):
                    assert row[title].removeprefix("'") == (value or "")
                else:
                    assert float(row[title]) == pytest.approx(value, abs=1e-4)

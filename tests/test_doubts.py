"""Values that are legal but look mistyped: each is doubted where it stands, and nothing that ships is."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from optibuild.errors import Problem
from optibuild.inputs import CODES, TABLES, check_case
from optibuild.inputs.declared.keys import KEYS
from optibuild.units import quantity

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
SHIPPED = [SMALL, *sorted(file.parent for file in ROOT.glob("examples/*/case.toml"))]
Edits = list[tuple[str, str, str]]


@pytest.fixture
def doubted(tmp_path: Path) -> Callable[..., list[Problem]]:
    """The doubts about the small case after some edits (file, old, new); the case must stay usable."""
    def check(*edits: tuple[str, str, str]) -> list[Problem]:
        case = shutil.copytree(SMALL, tmp_path / "case")
        for file, old, new in edits:
            text = (case / file).read_text(encoding="utf-8")
            assert old in text
            (case / file).write_text(text.replace(old, new), encoding="utf-8")
        read, problems = check_case(case)
        assert read is not None
        return [problem for problem in problems if problem.code.startswith("doubt.")]
    return check


@pytest.mark.parametrize("case", SHIPPED, ids=lambda path: path.name)
def test_what_ships_is_not_doubted(case: Path) -> None:
    """The small case and every example, with the catalogs they name, have no warning at all."""
    assert check_case(case)[1] == ()


def test_the_whole_catalog_is_not_doubted(tmp_path: Path) -> None:
    """Every row of the shipped catalogs, beside the small case's sites, is read without a warning."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    for table in ("trucks", "plows", "spreaders", "ballast", "materials"):
        shutil.copy(ROOT / "catalogs" / f"{table}.csv", case)
    assert check_case(case)[1] == ()


def test_every_likely_range_lies_in_the_legal_one_and_holds_the_default() -> None:
    """A likely range is read in the column's own dimension, has a reason, and never doubts a default."""
    declared = [row for table in TABLES.values() for row in table] + list(KEYS.values())
    ranged = [row for row in declared if row.likely]
    assert len(ranged) > 60
    for row in ranged:
        assert row.likely is not None and row.because
        ends = sorted(quantity(text, row.dimension) for text in row.likely)
        if row.default not in (None, "no limit"):
            assert ends[0] <= quantity(row.default or "", row.dimension) <= ends[1], row.name


# file, old, new, code, row, column, what the expected range and the remedy must say
SINGLE: list[tuple[str, str, str, str, int, str, str, str]] = [
    # 3,200 kg = 3200 / 0.45359237 = 7,054.79 lb
    ("trucks.csv", '"7,050","3,900","4,150","2,850","2,100"', "3200,2070,2075,1293,953", "doubt.unit", 2,
     "gvwr [lb]", "4,000 to 66,000 lb", "3,200 kg, that is 7,054.79 lb"),
    ("sites.csv", "0.8,250", "400,250", "doubt.value", 4, "area [acre]", "to 50 acre", "keep it"),
    # 8,712 sq ft / 43,560 = 0.2 acre
    ("sites.csv", "0.8,250", "8712,250", "doubt.unit", 4, "area [acre]", "to 50 acre", "that is 0.2 acre"),
    # 180 min = 3 h
    ("sites.csv", "plow,3,,,1", "plow,180,,,1", "doubt.unit", 2, "plow_every [h]", "0.25 to 24 h",
     "that is 3 h"),
    # 7.5 ft x 12 = 90 in
    ("plows.csv", ",90,27,", ",7.5,27,", "doubt.unit", 2, "width [in]", "60 to 192 in", "that is 90 in"),
    # 900 mm would be 35 in, too narrow as well: no unit explains it
    ("plows.csv", ",90,27,", ",900,27,", "doubt.value", 2, "width [in]", "60 to 192 in", "range"),
    ("plows.csv", "straight,90,27,450", "straight,90,27,45", "doubt.value", 2, "blade_mass [lb]",
     "100 to 3,000 lb", "range"),
    ("materials.csv", "salt,75", "salt,7.5", "doubt.value", 2, "bulk_density [lb/ft^3]",
     "30 to 130 lb/ft^3", "range"),
    ("trucks.csv", ",15,20,", ",150,20,", "doubt.value", 2, "city [mi/gal]", "2 to 45 mi/gal", "range"),
    ("season.csv", "16,invented", "61,invented", "doubt.value", 4, "pavement [degF]", "-40 to 50 degF",
     "range"),
    ("season.csv", "2,14,9,16", "2,14,90,16", "doubt.unit", 4, "snowfall [in]", "0 to 60 in", "mm"),
    ("depots.csv", ",8,600,", ",8,6,", "doubt.value", 2, "reload_rate [lb/min]", "20 to 20,000 lb/min",
     "range"),
    ("trucks.csv", '"38,000"', "38", "doubt.value", 2, "price [USD]", "500 to 600,000 USD", "range"),
]


@pytest.mark.parametrize(("file", "old", "new", "code", "row", "column", "expected", "remedy"), SINGLE)
def test_a_value_out_of_its_likely_range(file: str, old: str, new: str, code: str, row: int, column: str,
                                         expected: str, remedy: str,
                                         doubted: Callable[..., list[Problem]]) -> None:
    """A doubt stands in its cell and says the range in the column's unit, why, and the unit it looks like."""
    at = [problem for problem in doubted((file, old, new))
          if (problem.places[0].row, problem.places[0].column) == (row, column)]
    problem, = at
    assert problem.code == code and problem.severity == "warning" and problem.places[0].file == file
    assert expected in (problem.expected or "") and re.search(r": \w", problem.expected or "")
    assert remedy in problem.remedy


def test_pounds_under_kilograms_are_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """A gross rating of 33,000 lb typed as kg is told in kg: at most 66,000 lb x 0.45359237 = 29,937 kg."""
    headings = "gvwr [lb],gawr_front [lb],gawr_rear [lb],curb_front [lb],curb_rear [lb]"
    found = doubted(("trucks.csv", headings, headings.replace("lb", "kg")),
                    ("trucks.csv", '"14,000","6,000","9,700","4,300","3,300"', "33000,10000,23000,7000,5500"))
    problem = next(row for row in found if row.places[0].column == "gvwr [kg]")
    assert problem.code == "doubt.unit" and problem.value == "33,000 kg"
    assert problem.expected is not None and problem.expected.startswith("1,810 to 29,900 kg: ")
    assert "33,000 lb" in problem.remedy


@pytest.mark.parametrize(("resale", "doubts"), [("0.25", 3), ("25", 0), ("0", 0), ("1", 0)])
def test_a_quarter_of_a_percent_kept_at_resale_is_doubted(resale: str, doubts: int,
                                                          doubted: Callable[..., list[Problem]]) -> None:
    """In a column of percent 0.25 is a quarter of one; nothing, one percent and more are believed."""
    problems = doubted(("trucks.csv", "note\n", "resale [%],note\n"),
                       ("trucks.csv", ",invented\n", f",{resale},invented\n"))
    found = [row for row in problems if row.places[0].column == "resale [%]"]
    assert len(found) == doubts and {row.code for row in found} <= {"doubt.value"}


@pytest.mark.parametrize(("old", "new", "code", "expected"), [
    ('snowfall_rate = "1 in/h"', 'snowfall_rate = "10 in/h"', "doubt.unit", "0 to 6 in/h"),
    ('wage = "24 USD/h"', 'wage = "2.4 USD/h"', "doubt.value", "7 to 300 USD/h"),
    ('pavement = "25 degF"', 'pavement = "25 degC"', "doubt.value", "-40 to 50 degF"),
    ("[crew]", '[money.fuel]\ndiesel = "30 USD/gal"\n[crew]', "doubt.value", "0.5 to 20 USD/gal"),
])
def test_a_key_out_of_its_likely_range(old: str, new: str, code: str, expected: str,
                                       doubted: Callable[..., list[Problem]]) -> None:
    """A key of case.toml is doubted at its line, with the range in the unit people use for it."""
    problem, = doubted(("case.toml", old, new))
    assert problem.code == code and problem.places[0].row > 0
    assert problem.expected is not None and problem.expected.startswith(f"{expected}: ")


def test_a_truck_without_payload_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """Curb weights of 2,850 + 4,000 = 6,850 lb are 97 % of 7,050 lb; 95 % is 6,697.5 lb."""
    problem, = doubted(("trucks.csv", '"2,850","2,100"', '"2,850","4,000"'))
    assert problem.code == "doubt.payload" and problem.value == "6,850 lb"
    assert [place.column for place in problem.places] == ["curb_front [lb]", "curb_rear [lb]", "gvwr [lb]"]
    assert problem.expected is not None and "to 6,700 lb" in problem.expected


def test_kilograms_beside_a_rating_in_pounds_are_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """1,950 + 1,500 = 3,450 lb are 24.6 % of 14,000 lb: axle weights in kg under a heading in lb."""
    problem, = doubted(("trucks.csv", '"4,300","3,300"', '"1,950","1,500"'))
    assert problem.code == "doubt.curb" and "25 % of gvwr" in problem.text


def test_a_plow_far_too_heavy_is_doubted_with_the_truck(tmp_path: Path) -> None:
    """2,600 lb at 38 + 28 in and 600 lb at 38 in ahead of 140 in put 3,825.7 + 762.9 = 4,588.6 lb on an axle
    that has 3,900 - 2,850 = 1,050 lb left: more than four times that."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    for table in ("plows.csv", "trucks.csv"):
        shutil.copy(SMALL.parent / "bad" / "doubt.heavy" / table, case)
    problem, = check_case(case)[1]
    assert problem.code == "doubt.heavy" and problem.value == "4,588.57 lb"
    assert "1,050 lb left" in problem.text
    assert [(place.file, place.row) for place in problem.places] == [("plows.csv", 4), ("trucks.csv", 2)]


def test_a_plow_that_is_only_too_heavy_is_not_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """The one-ton's axle has 6,000 - 4,300 = 1,700 lb left, and 2,600 with 600 lb put less than four times
    that on it: a matter of fit, not of typing."""
    assert doubted(("plows.csv", "850,140", '"2,600",600')) == []


@pytest.mark.parametrize(("old", "new", "codes"), [
    (",-45,24", ",45,24", ["doubt.center"]),  # a hopper lies in the bed, never behind it
    (",-45,24", ",-96,24", []),  # the beds are 96 in long
    (",-45,24", ",120,24", ["doubt.center"]),
    (",14,20", ",39,20", []),  # a tailgate spreader hangs up to 1 m = 39.37 in behind
    (",14,20", ",40,20", ["doubt.center"]),
])
def test_a_center_outside_every_bed_is_doubted(old: str, new: str, codes: list[str],
                                               doubted: Callable[..., list[Problem]]) -> None:
    """A spreader's center must lie over the longest bed, a tailgate spreader's up to 1 m behind it; what is
    no farther than 10 ft behind a bed is doubted and used."""
    assert [problem.code for problem in doubted(("spreaders.csv", old, new))] == codes


@pytest.mark.parametrize(("old", "new", "hint"), [
    ("44.51,-90.50", "44.51,90.50", "sign of lon"),
    ("44.51,-90.50", "-44.51,-90.50", "sign of lat"),
    ("44.50,-90.48", "-89.48,44.50", "each other's column"),
    ("44.51,-90.50", "46.51,-90.50", "Check lat and lon"),
])
def test_a_site_far_from_every_depot_is_doubted(old: str, new: str, hint: str,
                                                doubted: Callable[..., list[Problem]]) -> None:
    """A site over 100 km away names both places; a wrong sign or swapped columns are told as such."""
    problem, = doubted(("sites.csv", old, new))
    assert problem.code == "doubt.far" and hint in problem.remedy
    assert [(place.file, place.column) for place in problem.places] == [
        ("sites.csv", "lat"), ("sites.csv", "lon"), ("depots.csv", "lat")]


def test_the_distance_to_the_nearest_depot(doubted: Callable[..., list[Problem]]) -> None:
    """One degree of latitude is pi / 180 x 6,371 km = 111.19 km: 111 km is said."""
    problem, = doubted(("sites.csv", "44.51,", "45.50,"))
    assert "111 km" in problem.text


def test_a_site_within_100_km_is_not_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """0.89 degrees of latitude are 0.89 x 111.19 = 98.96 km."""
    assert doubted(("sites.csv", "44.51,", "45.39,")) == []


def test_work_without_anything_to_do_it_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """Two sites are to be deiced, and the table of spreaders has no row."""
    spreaders = (SMALL / "spreaders.csv").read_text(encoding="utf-8")
    rows = spreaders.split("\n", 1)[1]
    problem, = doubted(("spreaders.csv", rows, ""))
    assert problem.code == "doubt.work" and "2 sites are to be deiced" in problem.text


def test_trucks_that_may_have_no_plow_are_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """Three sites ask for plowing; plow_allowed = no for every truck leaves nothing that plows."""
    problem, = doubted(("trucks.csv", "mi/gal],note", "mi/gal],plow_allowed"),
                       ("trucks.csv", ",invented\n", ",no\n"))
    assert problem.code == "doubt.work" and problem.text.startswith("3 sites are to be plowed")


def test_a_site_narrower_than_every_truck_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """6.5 ft = 78 in are less than the trucks' 80 in; 7 ft are not, and deiced sites need no plow's room."""
    problem, = doubted(("sites.csv", "0.4,150,45", "0.4,150,6.5"), ("sites.csv", "0.6,200,60", "0.6,200,6.5"))
    assert problem.code == "doubt.narrow" and problem.places[0].row == 2
    assert problem.value == "78 in" and problem.expected == "at least 80 in, the width of the narrowest truck"


def test_a_site_wide_enough_for_some_truck_is_believed(doubted: Callable[..., list[Problem]]) -> None:
    """7 ft = 84 in are more than the trucks' 80 in."""
    assert doubted(("sites.csv", "0.4,150,45", "0.4,150,7")) == []


def test_a_budget_below_every_truck_is_doubted_unless_one_is_owned(
        doubted: Callable[..., list[Problem]], tmp_path: Path) -> None:
    """30,000 USD buy none of 38,000, 44,000 and 58,000 USD."""
    problem, = doubted(("case.toml", "wage =", 'budget = "30000 USD"\nwage ='))
    assert problem.code == "doubt.budget" and problem.expected == "at least 38,000 USD: no truck is owned"
    trucks = tmp_path / "case" / "trucks.csv"
    text = trucks.read_text(encoding="utf-8").replace("mi/gal],note", "mi/gal],owned")
    trucks.write_text(text.replace(",invented\n", ",1\n"), encoding="utf-8")
    assert check_case(tmp_path / "case")[1] == ()


@pytest.mark.parametrize("question", ["value", "profit"])
def test_a_question_about_pay_needs_pay(question: str, doubted: Callable[..., list[Problem]]) -> None:
    """Most contract value, or profit, is asked of sites without any pay."""
    problem, = doubted(
        ("case.toml", '"cover"', f'"{question}"'), ("sites.csv", 'season,"9,000"', ","),
        ("sites.csv", 'season,"16,000"', ","), ("sites.csv", "push,450", ","),
        ("sites.csv", "event,220", ","))
    assert problem.code == "doubt.pay" and problem.value == question


def test_a_price_of_a_fuel_that_no_truck_burns_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """gass for gas: the trucks go on at the default price of gas, so the key is asked after."""
    problem, = doubted(("case.toml", "[crew]", '[money.fuel]\ngass = "9 USD/gal"\n[crew]'))
    assert problem.code == "doubt.fuel" and "Did you mean 'gas'?" in problem.remedy


def test_a_season_left_of_the_case_to_begin_from_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """A case of one's own with the three events that `new` invents is told so. What else of `new` may be
    left stands with its tests."""
    invented = (("season.csv", "light,12,5,1.5,27", "dusting,13,5,1.2,27"),
                ("season.csv", "medium,6,9,4,22", "snowfall,7,9,3.5,22"),
                ("season.csv", "heavy,2,14,9,16", "big-storm,2,16,9,15"))
    problem, = doubted(*invented)
    assert problem.code == "doubt.template" and problem.text.endswith(": season")
    assert problem.severity == "warning"


def test_every_doubt_is_a_warning_that_is_told_here() -> None:
    """No code of the tree doubt.* is an error, and each stands in a test of this file."""
    told = Path(__file__).read_text(encoding="utf-8")
    doubts = [row for row in CODES.values() if row.code.startswith("doubt.")]
    assert all(row.severity == "warning" and f'"{row.code}"' in told for row in doubts)


def test_a_weight_typed_twice_is_doubted(doubted: Callable[..., list[Problem]]) -> None:
    """A mount as heavy as its blade: the whole plow's weight stands in both columns."""
    problem, = doubted(("plows.csv", "450,80", "450,450"))
    assert problem.code == "doubt.twice" and problem.places[0].column == "mount_mass [lb]"


def test_a_depot_far_from_every_site_is_doubted_once(doubted: Callable[..., list[Problem]]) -> None:
    """Where all four sites are far, the depot's own place is told, once, with the sign that looks wrong."""
    problem, = doubted(("depots.csv", "44.50,-90.50", "44.50,90.50"))
    assert problem.code == "doubt.far" and "all 4 sites" in problem.text
    assert [(place.file, place.row) for place in problem.places] == [
        ("depots.csv", 2), ("depots.csv", 2), ("sites.csv", 2)]
    assert "sign of lon" in problem.remedy


# every row of the sites gets deice_when = each and a blank end_within
WAITING = (("sites.csv", ",note\n", ",deice_when,end_within [h]\n"), ("sites.csv", ",invented\n", ",each,\n"))
BANK, CLINIC = 'plow,3,,,1,yes,season,"9,000",', 'both,2,2,1.5,1,yes,season,"16,000",'


@pytest.mark.parametrize(("old", "new", "at"), [
    ("deice,,3,,1,yes,event,220,each,", "deice,,,2,1,yes,event,220,end,3", [(5, "deadline [h]", "2 h")]),
    ("deice,,3,,1,yes,event,220,each,", "deice,,,,1,yes,event,220,end,3", []),
    (f"{CLINIC}each,", f"{CLINIC}end,3", [(3, "deice_every [h]", "2 h")]),  # its deadline is that of plowing
    (f"{CLINIC}each,", f"{CLINIC}each,3", [(3, "end_within [h]", "3 h")]),
    (f"{CLINIC}each,", f"{CLINIC}each,4", []),  # 4 h is the default
    (f"{BANK}each,", f"{BANK}each,3", [(2, "end_within [h]", "3 h")]),
    (f"{BANK}each,", f"{BANK}end,3", [(2, "deice_when", "end"), (2, "end_within [h]", "3 h")]),
])
def test_a_cell_of_a_site_that_nothing_reads_is_doubted(old: str, new: str, at: list[tuple[int, str, str]],
                                                        doubted: Callable[..., list[Problem]]) -> None:
    """What belongs to rounds that a site's works never ride in is told where it was typed, and only there."""
    found = doubted(*WAITING, ("sites.csv", old, new))
    assert {problem.code for problem in found} <= {"doubt.unused"}
    assert [(*_cell(problem), problem.value) for problem in found] == at


def _cell(problem: Problem) -> tuple[int, str]:
    return problem.places[0].row, problem.places[0].column


CLOSED = "bank,yard,5,,no\nyard,bank,,2,no\nbank,clinic,,,no\nclinic,bank,5,3,yes\n"
FIT = "storm.fit_circuity"


@pytest.mark.parametrize(("ways", "fitted", "at"), [
    (CLOSED, "no", [(2, "time [min]"), (3, "distance [mi]")]),
    (CLOSED, "yes", [(2, "time [min]")]),  # circuity is fitted to closed roads as well
    ("bank,yard,5,3,yes\n", "yes", []),
    ("bank,yard,5,,yes\nyard,bank,5,0,yes\n", "yes", [(11, FIT)]),
    ("", "yes", [(11, FIT)]),
])
def test_what_nothing_reads_of_the_ways_is_doubted(ways: str, fitted: str, at: list[tuple[int, str]],
                                                   doubted: Callable[..., list[Problem]],
                                                   tmp_path: Path) -> None:
    """The time of a closed way, its distance unless circuity is fitted, and a fit without any distance."""
    doubted(("case.toml", "[money]", f'fit_circuity = "{fitted}"\n[money]'))
    table = "from,to,time [min],distance [mi],passable\n"
    (tmp_path / "case" / "travel.csv").write_text(table + ways, encoding="utf-8")
    found = check_case(tmp_path / "case")[1]
    assert {problem.code for problem in found} <= {"doubt.unused"} and [*map(_cell, found)] == at


@pytest.mark.parametrize(("keys", "at"), [
    ("rolling = 0.1\nmu_snow = 0.1", ["assumptions.rolling", "assumptions.mu_snow"]),
    ("mu_snow = 0.03", ["assumptions.mu_snow"]),  # rolling is 0.03 by default
    ("rolling = 0.2", ["assumptions.rolling"]),  # mu_snow is 0.15 by default
    ("rolling = 0.1\nmu_snow = 0.11", []),
])
def test_wheels_that_cannot_move_their_truck_are_doubted(keys: str, at: list[str],
                                                         doubted: Callable[..., list[Problem]]) -> None:
    """Grip no larger than rolling resistance leaves nothing to push with: told at the keys that are given."""
    found = doubted(("case.toml", "[solve]", f"[assumptions]\n{keys}\n[solve]"))
    assert {problem.code for problem in found} <= {"doubt.traction"}
    assert [place.column for problem in found for place in problem.places] == at


def test_wheels_are_not_doubted_where_nothing_is_plowed(doubted: Callable[..., list[Problem]]) -> None:
    """Where every site is only deiced, no truck has to push."""
    assert doubted(("sites.csv", ",plow,", ",deice,"), ("sites.csv", ",both,", ",deice,"),
                   ("case.toml", "[solve]", "[assumptions]\nrolling = 0.2\n[solve]")) == []

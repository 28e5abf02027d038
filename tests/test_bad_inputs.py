"""Wrong input: each kind is found, at its place, with a remedy, and nothing is guessed."""

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from optibuild.errors import InputProblems, UsageError
from optibuild.inputs import CODES, check_case, read_case

SMALL = Path(__file__).parent / "data" / "small"
LONG_ROW = "bag,ballast bag,60,-12,20,8,invented"


@dataclass(frozen=True)
class Bad:
    """One edit of the small case and the one problem it must make: code, file, row, column."""

    file: str
    old: str
    new: str
    code: str
    at: tuple[str, int, str]


def _truck(old: str, new: str, code: str, column: str) -> Bad:
    return Bad("trucks.csv", old, new, code, ("trucks.csv", 2, column))


def _key(old: str, new: str, code: str, key: str) -> Bad:
    text = (SMALL / "case.toml").read_text(encoding="utf-8").replace(old, new)
    name = key.rpartition(".")[2]
    row = next(n for n, line in enumerate(text.splitlines(), start=1) if line.startswith(f"{name} "))
    return Bad("case.toml", old, new, code, ("case.toml", row, key))


BAD = [
    # trucks: cells
    _truck('"7,050"', "heavy", "value.number", "gvwr [lb]"),
    _truck('"7,050"', "7050 lb", "value.number", "gvwr [lb]"),
    _truck('"7,050"', '"7,05"', "value.number", "gvwr [lb]"),
    _truck('"7,050"', '"0,750"', "value.number", "gvwr [lb]"),
    _truck('"7,050"', "$7050", "value.number", "gvwr [lb]"),
    _truck('"7,050"', "7_050", "value.number", "gvwr [lb]"),
    _truck('"7,050"', "٧٠٥٠", "value.number", "gvwr [lb]"),
    _truck('"2,850"', "-2850", "value.range", "curb_front [lb]"),
    _truck('"2,850"', "nan", "value.finite", "curb_front [lb]"),
    _truck('"2,850"', "inf", "value.finite", "curb_front [lb]"),
    _truck('"2,850"', "-Infinity", "value.finite", "curb_front [lb]"),
    _truck('"2,850"', "1e999", "value.finite", "curb_front [lb]"),
    _truck('"2,850"', "1e-999", "value.finite", "curb_front [lb]"),
    _truck('"2,850"', "1e300", "value.range", "curb_front [lb]"),
    _truck('"2,850"', "0", "value.range", "curb_front [lb]"),
    _truck('"2,850"', "", "value.missing", "curb_front [lb]"),
    _truck(",38,3,", ",38,2.5,", "value.whole", "seats"),
    _truck(",38,3,", ",38,-2,", "value.range", "seats"),
    _truck(",38,3,", ",0,3,", "value.range", "steer_angle [deg]"),
    _truck('"38,000"', "", "value.missing", "price [USD]"),
    _truck(",15,20,", ",0,20,", "value.range", "city [mi/gal]"),
    _truck("\nht,", "\nh+t,", "value.id", "id"),
    _truck("\nht,", "\n-,", "value.id", "id"),
    # a plain id may hold '+', but nothing that cannot be printed
    Bad("materials.csv", "\nsalt,", "\n\"sa\nlt\",", "value.id", ("materials.csv", 2, "id")),
    # trucks: the row as a whole
    _truck('"3,900","4,150"', '"2,900","3,150"', "truck.ratings", "gvwr [lb]"),
    _truck('"2,100"', '"4,225"', "truck.curb", "gvwr [lb]"),
    _truck('"2,850","2,100"', '"2,400","4,200"', "truck.curb_axle", "curb_rear [lb]"),
    _truck(",38,3,", ",38,0,", "value.range", "seats"),
    _key("occupants = 1", "occupants = 4", "truck.seats", "crew.occupants"),
    Bad("trucks.csv", "steer_angle [deg]", "turning_circle [in]", "truck.turning",
        ("trucks.csv", 2, "turning_circle [in]")),
    Bad("trucks.csv", "\ntqt,", "\nht,", "id.twice", ("trucks.csv", 3, "id")),
    # loads more than 10 ft = 120 in behind the bed's end, or further ahead than the longest bed of 96 in
    Bad("spreaders.csv", ",-45,24", ",121,24", "spreader.center", ("spreaders.csv", 3, "center [in]")),
    Bad("spreaders.csv", ",-45,24", ",-97,24", "spreader.center", ("spreaders.csv", 3, "center [in]")),
    Bad("ballast.csv", ",60,-12,", ",60,-97,", "spreader.center", ("ballast.csv", 2, "center [in]")),
    # headings
    Bad("trucks.csv", "gvwr [lb]", "gvwr", "unit.missing", ("trucks.csv", 1, "gvwr")),
    Bad("trucks.csv", "gvwr [lb]", "gvwr [lbs]", "unit.wrong", ("trucks.csv", 1, "gvwr [lbs]")),
    Bad("trucks.csv", "gvwr [lb]", "gvwr [in]", "unit.wrong", ("trucks.csv", 1, "gvwr [in]")),
    Bad("trucks.csv", "seats", "seats [lb]", "unit.unwanted", ("trucks.csv", 1, "seats [lb]")),
    Bad("trucks.csv", "seats", "sets", "heading.unknown", ("trucks.csv", 1, "sets")),
    Bad("trucks.csv", "seats", "size", "heading.twice", ("trucks.csv", 1, "size")),
    Bad("trucks.csv", "curb_rear [lb]", "note", "heading.missing", ("trucks.csv", 1, "curb_rear")),
    # rows and files
    Bad("ballast.csv", LONG_ROW, LONG_ROW + ",", "row.long", ("ballast.csv", 2, "")),
    Bad("ballast.csv", LONG_ROW, LONG_ROW.replace("60", "1,060"), "row.long", ("ballast.csv", 2, "")),
    Bad("ballast.csv", LONG_ROW, '"' + LONG_ROW, "file.csv", ("ballast.csv", 2, "")),
    Bad("ballast.csv", "id,description", "\nid,description", "file.csv", ("ballast.csv", 1, "")),
    Bad("ballast.csv", "bag,", "ba\0g,", "file.text", ("ballast.csv", 2, "")),
    # other tables
    Bad("depots.csv", "44.50,", "144.9,", "value.range", ("depots.csv", 2, "lat")),
    Bad("sites.csv", "bank,", "yard-depot,", "id.twice", ("sites.csv", 2, "id")),
    Bad("sites.csv", "end,plow,4,", "end,plow,,", "site.limit", ("sites.csv", 4, "plow_every [h]")),
    Bad("sites.csv", "deice,,3,", "deice,,,", "site.limit", ("sites.csv", 5, "deice_every [h]")),
    Bad("sites.csv", "no,push,450", "no,push,", "site.pay", ("sites.csv", 4, "pay [USD]")),
    Bad("sites.csv", "no,push,450", "maybe,push,450", "value.word", ("sites.csv", 4, "must_serve")),
    Bad("sites.csv", "side,both", "side,bothe", "value.word", ("sites.csv", 3, "work")),
    Bad("season.csv", "light,12,", "light,-12,", "value.range", ("season.csv", 2, "count")),
    # case.toml
    _key("wage =", "wages =", "key.unknown", "money.wages"),
    _key("occupants = 1", "occupants = 1.5", "value.whole", "crew.occupants"),
    _key("occupants = 1", "occupants = true", "value.kind", "crew.occupants"),
    _key("occupants = 1", "occupants = -1", "value.range", "crew.occupants"),
    _key("occupants = 1", "occupants = nan", "value.finite", "crew.occupants"),
    _key('"24 USD/h"', "24", "unit.missing", "money.wage"),
    _key('"24 USD/h"', '"24 USD"', "unit.wrong", "money.wage"),
    _key('"24 USD/h"', '"much"', "value.number", "money.wage"),
    _key('"24 USD/h"', '"inf USD/h"', "value.finite", "money.wage"),
    _key('"24 USD/h"', "nan", "value.finite", "money.wage"),
    _key("[solve]", '[assumptions]\ntau_step = "30 s"\n[solve]', "value.range", "assumptions.tau_step"),
    _key('"24 USD/h"', '""', "value.missing", "money.wage"),
    _key('"1 in/h"', '"1,5 in/h"', "value.number", "storm.snowfall_rate"),
    _key('"cover"', '"coverage"', "value.word", "case.question"),
    _key("gap = 0", "gap = 5", "value.range", "solve.gap"),
    _key("gap = 0", "gap = 1", "value.range", "solve.gap"),
    _key("gap = 0", 'gap = "1"', "value.range", "solve.gap"),
    _key("gap = 0", '[assumptions]\ncircuity = 5', "assumption.range", "assumptions.circuity"),
    Bad("case.toml", "[case]", "[case", "file.toml", ("case.toml", 3, "")),
    _key("[storm]", '[tables]\ntrucks = "/trucks.csv"\n[storm]', "file.path", "tables.trucks"),
    _key("[storm]", '[tables]\ntrucks = "trucks.xls"\n[storm]', "file.path", "tables.trucks"),
    _key("[storm]", '[tables]\ntrucks = 5\n[storm]', "value.kind", "tables.trucks"),
    _key("[storm]", '[tables]\ntruck = "trucks.csv"\n[storm]', "key.unknown", "tables.truck"),
    Bad("case.toml", "[storm]", '[tables]\ntravel = "no.csv"\n[storm]', "file.missing", ("no.csv", 0, "")),
]


def _edited(folder: Path, file: str, old: str, new: str) -> Path:
    case = folder / "case"
    shutil.copytree(SMALL, case)
    text = (case / file).read_text(encoding="utf-8")
    assert old in text
    (case / file).write_text(text.replace(old, new), encoding="utf-8")
    return case


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: f"{bad.file}-{bad.code}-{bad.new[:20]!r}")
def test_one_mistake_makes_one_problem_at_its_place(bad: Bad, tmp_path: Path) -> None:
    """A wrong cell, heading, key or file is told by its own code, where it stands, with a remedy."""
    case, problems = check_case(_edited(tmp_path, bad.file, bad.old, bad.new))
    found = [problem for problem in problems if problem.code == bad.code]
    assert found and {problem.code for problem in problems} - {bad.code} <= _FOLLOWS.get(bad.code, set())
    places = [(place.file, place.row, place.column) for problem in found for place in problem.places]
    assert bad.at in places
    assert all(problem.remedy and problem.title for problem in found)
    assert (case is None) == (CODES[bad.code].severity == "error")


# a row that cannot be used may leave a table without rows, too much weight is over an axle's rating too, and
# a circle too tight for the wheelbase is doubted too; nothing else may follow from a mistake
_FOLLOWS = {"row.long": {"table.empty"}, "truck.curb": {"truck.curb_axle"}, "truck.turning": {"doubt.unit"}}


def _remove(name: str) -> Callable[[Path], object]:
    return lambda case: (case / name).unlink()


def _only_heading(name: str) -> Callable[[Path], object]:
    def cut(case: Path) -> None:
        heading = (case / name).read_text(encoding="utf-8").splitlines()[0]
        (case / name).write_text(heading + "\n\n , ,\n", encoding="utf-8")
    return cut


def _write(name: str, content: bytes) -> Callable[[Path], object]:
    return lambda case: (case / name).write_bytes(content)


def _link(name: str, target: str) -> Callable[[Path], object]:
    def link(case: Path) -> None:
        (case / name).unlink()
        (case / name).symlink_to(target)
    return link


def _no_attachments(case: Path) -> None:
    for name in ("plows.csv", "spreaders.csv", "materials.csv"):
        (case / name).unlink()


STRUCTURE: list[tuple[Callable[[Path], object], str, str]] = [
    (_remove("trucks.csv"), "file.missing", "trucks.csv"),
    (_remove("season.csv"), "file.missing", "season.csv"),
    (_remove("materials.csv"), "table.empty", "materials.csv"),
    (_only_heading("sites.csv"), "table.empty", "sites.csv"),
    (_only_heading("trucks.csv"), "table.empty", "trucks.csv"),
    (_only_heading("depots.csv"), "table.empty", "depots.csv"),
    (_no_attachments, "table.empty", "plows.csv"),
    (_write("sites.csv", b""), "file.csv", "sites.csv"),
    (_write("sites.csv", b"\xff\xfei\0d"[:5]), "file.text", "sites.csv"),
    (_write("case.toml", b"\xff\xfei"), "file.text", "case.toml"),
    (_write("case.toml", b"a = " + b"[" * 100_000), "file.toml", "case.toml"),
    (_link("trucks.csv", "../trucks.csv"), "file.path", "trucks.csv"),
    (_link("case.toml", "../case.toml"), "file.path", "case.toml"),
    (_write("travel.csv", b"from,to,time [min]\nbank,clinik,5\n"), "id.unknown", "travel.csv"),
    (_write("travel.csv", b"from,to,time [min]\nbank,yard,5\nbank,yard,6\n"), "id.twice", "travel.csv"),
    (_write("mounts.csv", b"truck,attachment,allowed\nhtt,p75,no\n"), "id.unknown", "mounts.csv"),
    (_write("mounts.csv", b"truck,attachment,allowed\nht,p76,no\n"), "id.unknown", "mounts.csv"),
    (_write("mounts.csv", b"truck,attachment,allowed\nht,p75,no\nht,p75,yes\n"), "id.twice", "mounts.csv"),
    (_write("mounts.csv", b"truck,attachment,allowed\nht,p75,\n"), "value.missing", "mounts.csv"),
]


@pytest.mark.parametrize(("edit", "code", "file"), STRUCTURE)
def test_a_mistake_of_structure_is_told_alone(edit: Callable[[Path], object], code: str, file: str,
                                               tmp_path: Path) -> None:
    """A missing, empty, unreadable or linked file is told by name, and nothing else is blamed for it."""
    shutil.copy(SMALL / "trucks.csv", tmp_path)
    shutil.copy(SMALL / "case.toml", tmp_path)
    shutil.copytree(SMALL, tmp_path / "case")
    edit(tmp_path / "case")
    case, problems = check_case(tmp_path / "case")
    assert case is None
    assert [(problem.code, problem.places[0].file) for problem in problems] == [(code, file)]


def test_a_pipe_is_refused(tmp_path: Path) -> None:
    """A file that may never end is not read at all."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    (case / "sites.csv").unlink()
    os.mkfifo(case / "sites.csv")
    assert [problem.code for problem in check_case(case)[1]] == ["file.missing"]


def test_a_linked_folder_on_the_way_is_refused(tmp_path: Path) -> None:
    """A table reached through a symbolic link to a folder is refused like a linked file."""
    case = _edited(tmp_path, "case.toml", "[storm]", '[tables]\ntrucks = "more/trucks.csv"\n[storm]')
    (case / "more").symlink_to(SMALL)
    assert [problem.code for problem in check_case(case)[1]] == ["file.path"]


@pytest.mark.parametrize(("file", "old", "new", "hint"), [
    ("trucks.csv", "wheelbase [in]", "wheel_base [in]", "Did you mean 'wheelbase'?"),
    ("trucks.csv", "gvwr [lb]", "gvwr [lbs]", "Did you mean 'lb'?"),
    ("case.toml", "snowfall_rate", "snow_fall_rate", "Did you mean 'storm.snowfall_rate'?"),
    ("sites.csv", "both", "bth", "Did you mean 'both'?"),
    ("spreaders.csv", "length [in],note", "length [in],material", "Did you mean 'salt'?"),
    ("trucks.csv", "gvwr [lb]", "gvwr (lb)", "Write 'gvwr [lb]', the unit in square brackets."),
    ("depots.csv", "-90.50,8,", "-90.50,n/a,", "Leave the cell blank"),
    ("case.toml", '"1 in/h"', '"1,5 in/h"', "Write decimals with a point"),
    ("trucks.csv", "20,invented", "20,deisel", "Did you mean 'diesel'?"),
])
def test_a_misspelling_names_the_nearest_right_word(file: str, old: str, new: str, hint: str,
                                                    tmp_path: Path) -> None:
    """A misspelt column, unit, key, word, material or fuel is told with the one that was meant."""
    case = _edited(tmp_path, file, old, new)
    text = (case / file).read_text(encoding="utf-8")
    if new.endswith("material"):
        (case / file).write_text(text.replace(",invented", ",sallt"), encoding="utf-8")
    if new.endswith("deisel"):
        text = text.replace("mi/gal],note", "mi/gal],fuel").replace(",invented\n", ",gas\n")
        (case / file).write_text(text, encoding="utf-8")
    assert any(hint in problem.remedy for problem in check_case(case)[1])


@pytest.mark.parametrize(("old", "new", "expected"), [
    ('"1 in/h"', '"-1 in/h"', "a number in in/h, at least 0 and at most 39.3701"),  # 1000 mm/h / 25.4
    ('"1 in/h"', '"fast"', "a number in in/h, at least 0 and at most 39.3701"),
    ('"25 degF"', '"500 degF"', "a number in degF, at least -130 and at most 140"),  # -90 and 60 degC
])
def test_a_range_is_told_in_the_unit_of_the_key(old: str, new: str, expected: str, tmp_path: Path) -> None:
    """What a key should have held is said in the unit that was typed, or in that of its default."""
    problem, = check_case(_edited(tmp_path, "case.toml", old, new))[1]
    assert problem.expected == expected


@pytest.mark.parametrize(("file", "text", "optional"), [
    ("travel.csv", "from,to,time [min]\nbank,nowhere,5\n", True),
    ("mounts.csv", "truck,attachment,allowed\nnowhere,p75,no\n", True),
    ("mounts.csv", "truck,attachment,allowed\nht,nowhere,no\n", True),
    ("timings.csv", "site,truck,plow,depth [in],time [min]\nnowhere,ht,p75,2,30\n", True),
    ("timings.csv", "site,truck,plow,depth [in],time [min]\nbank,ht,nowhere,2,30\n", True),
    ("contracts.csv", "site,form,amount [USD]\nnowhere,push,100\n", True),
    ("spreaders.csv", "id,empty_mass [lb],volume [ft^3],center [in],material,price [USD]\n"
                      "tail,150,9,15,nowhere,2600\n", False),
])
def test_a_row_that_names_nothing_may_go_where_its_table_may(file: str, text: str, optional: bool,
                                                             tmp_path: Path) -> None:
    """A row of an optional table may be deleted, says the remedy; a spreader whose material is unknown stays
    to be corrected."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    (case / file).write_text(text, encoding="utf-8")
    problem, = [row for row in check_case(case)[1] if row.code == "id.unknown"]
    assert problem.remedy == (
        "Correct the id, add the row it should name, or delete this row: the table may be left out."
        if optional else "Correct the id, or add the row it should name.")


@pytest.mark.parametrize(("typed", "remedy"), [
    ("90 in", "Leave out 'in': the heading says the unit."),
    ("7.5 ft", "Write 90, the number alone."),
    ("long", "Write the number alone in a cell, with its unit in a key."),
])
def test_a_remedy_says_a_thing_once(typed: str, remedy: str, tmp_path: Path) -> None:
    """Where what to write is known (7.5 ft x 12 = 90 in) the general remedy for text is left out."""
    problem, = check_case(_edited(tmp_path, "plows.csv", "straight,90,27,450", f"straight,{typed},27,450"))[1]
    assert problem.remedy == remedy


def test_a_blank_key_may_be_left_out(tmp_path: Path) -> None:
    """A key that has a default says so where it is blank; a needed cell has to be filled in."""
    key, = check_case(_edited(tmp_path / "1", "case.toml", '"24 USD/h"', '""'))[1]
    assert key.remedy == "Fill in the value, or delete the row: then the default holds."
    cell, = check_case(_edited(tmp_path / "2", "trucks.csv", '"2,850"', ""))[1]
    assert cell.remedy == "Fill in the value."


@pytest.mark.parametrize("gap", ["1", '"1"'])
def test_a_gap_of_1_says_how_to_write_percent(gap: str, tmp_path: Path) -> None:
    """A gap of 1 without a % sign is the whole cost, and most likely was to be one percent."""
    problem, = check_case(_edited(tmp_path, "case.toml", "gap = 0", f"gap = {gap}"))[1]
    assert "write '1 %'" in problem.remedy


def test_two_materials_and_a_blank_one_is_a_problem(tmp_path: Path) -> None:
    """With more than one material a spreader must say which it holds."""
    case = _edited(tmp_path, "materials.csv", "salt,75,90,invented", "salt,75,90,\nbrine,72,40,")
    found = [(problem.code, problem.expected) for problem in check_case(case)[1]]
    assert found == [("value.missing", "salt or brine")] * 2


def test_resale_above_the_price_is_a_problem(tmp_path: Path) -> None:
    """An item cannot be worth more at the end of its life than new."""
    case = _edited(tmp_path, "materials.csv", "salt", "salt")
    (case / "plows.csv").write_text(
        "id,width [in],blade_mass [lb],price [USD],resale [USD]\np,90,450,5000,5001\n", encoding="utf-8")
    problem, = check_case(case)[1]
    assert (problem.code, problem.places[0].column) == ("value.range", "resale [USD]")


def test_all_problems_are_listed_in_one_run(tmp_path: Path) -> None:
    """Mistakes in four files are told together, in the order of the files and rows."""
    case = shutil.copytree(SMALL, tmp_path / "case")
    for file, old, new in (("trucks.csv", "\not,", "\nht,"), ("trucks.csv", '"3,900"', "x"),
                           ("sites.csv", "44.51", "94.51"), ("case.toml", "wage", "wag"),
                           ("plows.csv", ",450,", ",-450,")):
        text = (case / file).read_text(encoding="utf-8")
        (case / file).write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputProblems) as raised:
        read_case(case)
    assert raised.value.exit_code == 3
    assert str(raised.value) == "5 problems in the input"
    places = [problem.places[0] for problem in raised.value.problems]
    assert [(place.file, place.row) for place in places] == [
        ("case.toml", 12), ("plows.csv", 2), ("sites.csv", 2), ("trucks.csv", 2), ("trucks.csv", 4)]


def test_a_case_that_is_not_there_is_wrong_usage(tmp_path: Path) -> None:
    """No folder, a file instead of a folder, and a folder without case.toml end with exit code 2."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("", encoding="utf-8")
    for name in ("nowhere", "empty", "file"):
        with pytest.raises(UsageError) as raised:
            read_case(tmp_path / name)
        assert raised.value.exit_code == 2


def test_a_share_too_large_says_how_to_write_percent(tmp_path: Path) -> None:
    """burden = 25 is 2,500 %: the remedy is to write the percent sign."""
    _, problems = check_case(_edited(tmp_path, "case.toml", "[crew]", 'burden = 25\n[crew]'))
    assert [problem.code for problem in problems] == ["value.range"] and "write '25 %'" in problems[0].remedy


@pytest.mark.parametrize(("hours", "codes"), [(4.9, []), (5.1, ["table.clocks"])])
def test_last_rounds_ask_for_clocks_where_nothing_else_does(hours: float, codes: list[str],
                                                            tmp_path: Path) -> None:
    """A grid of 1 min up to 4.9 h and the sites' own 4 and 4.9 h are at most 294 + 2 clocks; up to 5.1 h they
    are at least 306, more than 300."""
    case = _edited(tmp_path, "case.toml", "[solve]", '[assumptions]\ntau_step = "1 min"\n[solve]')
    table = "id,lat,lon,area [acre],work,deice_when,end_within [h]\n"
    rows = f"bank,44.51,-90.50,0.4,deice,end,\nschool,44.52,-90.49,0.6,deice,end,{hours}\n"
    (case / "sites.csv").write_text(table + rows, encoding="utf-8")
    found = check_case(case)[1]
    assert [problem.code for problem in found] == codes
    assert all((place.row, place.column) == (3, "end_within [h]") for place in
               (problem.places[0] for problem in found))


def test_last_rounds_ask_for_no_clocks_beside_cycle_limits(tmp_path: Path) -> None:
    """With one site that is plowed every 2 h the grid of 1 min ends there: 20 h of last round add nothing."""
    case = _edited(tmp_path, "case.toml", "[solve]", '[assumptions]\ntau_step = "1 min"\n[solve]')
    table = "id,lat,lon,area [acre],work,plow_every [h],deice_when,end_within [h]\n"
    rows = "bank,44.51,-90.50,0.4,plow,2,each,\nschool,44.52,-90.49,0.6,deice,,end,20\n"
    (case / "sites.csv").write_text(table + rows, encoding="utf-8")
    assert check_case(case)[1] == ()

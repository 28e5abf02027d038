"""variations.toml: every change makes the very case that the same makes when it is typed in the files.

Each test writes variations.toml beside a copy of the small case, and edits another copy as plain text.
"""

import shutil
from collections.abc import Callable, Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
from books import saved, small_book

from optibuild.errors import InputProblems, UsageError
from optibuild.inputs import check_variants, read_case, read_variants
from optibuild.records import Case, Variant

SMALL = Path(__file__).parent / "data" / "small"
Edits = Mapping[str, tuple[tuple[str, str], ...]]
HARD = "id,count,duration [h],snowfall [in],pavement [degF]\nhard,20,10,6,15\n"
MOUNTS = "truck,attachment,allowed\nht,p75,no\ntqt,p75,yes\n"
LONG = "id,name,lat,lon,area [acre]"


def varied(folder: Path, text: str, **files: str) -> dict[str, Variant]:
    """The variants of the small case with a variations.toml and some more files (`hard_csv` is hard.csv)."""
    case = Path(shutil.copytree(SMALL, folder / "case"))
    for name, content in {**files, "variations_toml": text}.items():
        (case / ".".join(name.rsplit("_", 1))).write_text(content, encoding="utf-8")
    return {variant.name: variant for variant in read_variants(case)}


def by_hand(folder: Path, edits: Edits, **files: str) -> Case:
    """The small case with its files edited: in each file texts that stand there once, replaced."""
    case = Path(shutil.copytree(SMALL, folder / "hand"))
    for name, content in files.items():
        (case / ".".join(name.rsplit("_", 1))).write_text(content, encoding="utf-8")
    for name, pairs in edits.items():
        content = (case / name).read_text(encoding="utf-8")
        for old, new in pairs:
            assert content.count(old) == 1, (name, old, content.count(old))
            content = content.replace(old, new)
        (case / name).write_text(content, encoding="utf-8")
    return read_case(case)


def bare(case: Case) -> Case:
    """A case without what says where it was read."""
    return replace(case, name="", given_as="", inputs=())


def add_column(file: str, heading: str, cells: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Edits that add a last column to a table of the small case: its heading, and cells by the row's id."""
    pairs = []
    for row, line in enumerate((SMALL / file).read_text(encoding="utf-8").splitlines()):
        cell = heading if row == 0 else cells.get(line.partition(",")[0], "")
        pairs.append((line, f"{line},{cell}"))
    return tuple(pairs)


# a change, and the same by hand: expected texts are worked out in the comments
CHANGES: dict[str, tuple[str, Edits]] = {
    "set by id": ('{ table = "trucks", where = { id = "tqt" }, column = "price", set = "47500 USD" }',
                  {"trucks.csv": (('"44,000"', "47500"),)}),
    # 44,000 + 2,500
    "add by the value of a column": (
        '{ table = "trucks", where = { size = "three-quarter-ton" }, column = "price", add = "2500 USD" }',
        {"trucks.csv": (('"44,000"', "46500"),)}),
    "take away": ('{ table = "trucks", where = { id = "ot" }, column = "price", add = "-8000 USD" }',
                  {"trucks.csv": (('"58,000"', "50000"),)}),
    # 100 kg / 0.45359237 kg is 220.462262184878 lb to 15 digits; and 3,600 lb
    "add in another unit": (
        '{ table = "trucks", where = { id = "tqt" }, column = "curb_front", add = "100 kg" }',
        {"trucks.csv": (('"3,600"', "3820.462262184878"),)}),
    # -2.5 degC is -4.5 degF of difference: 16 - 4.5
    "add degrees": ('{ table = "season", where = { id = "heavy" }, column = "pavement", add = "-2.5 degC" }',
                    {"season.csv": (("heavy,2,14,9,16,", "heavy,2,14,9,11.5,"),)}),
    # -5 degC x 9/5 + 32
    "set in another unit": (
        '{ table = "season", where = { id = "light" }, column = "pavement", set = "-5 degC" }',
        {"season.csv": (("light,12,5,1.5,27,", "light,12,5,1.5,23,"),)}),
    # 5,000, 6,500 and 8,500 times 1.05
    "scale by a pattern of ids": (
        '{ table = "plows", where = { id = "p*" }, column = "price", scale = "+5 %" }',
        {"plows.csv": (('"5,000"', "5250"), ('"6,500"', "6825"), ('"8,500"', "8925"))}),
    # 0.4 x 1.1 = 0.44, where floats give 0.44000000000000006
    "scale in exact decimals": ('{ table = "sites", where = { id = "bank" }, column = "area", scale = 1.1 }',
                                {"sites.csv": (("-90.50,0.4,", "-90.50,0.44,"),)}),
    # 12, 6 and 2 times 1 - 10 %
    "scale every row": ('{ table = "season", column = "count", scale = "-10 %" }',
                        {"season.csv": (("light,12,", "light,10.8,"), ("medium,6,", "medium,5.4,"),
                                        ("heavy,2,", "heavy,1.8,"))}),
    # 13 mi/gal is left; 15 and 10 times 2
    "scale where one of two values": (
        '{ table = "trucks", where = { id = ["ht", "ot"] }, column = "city", scale = 2 }',
        {"trucks.csv": ((",15,20,", ",30,20,"), (",10,14,", ",20,14,"))}),
    "a word": ('{ table = "sites", where = { work = "BOTH" }, column = "snow_goes", set = "end" }',
               {"sites.csv": (("180,60,side", "180,60,end"),)}),
    "yes and no": ('{ table = "sites", where = { pay_by = "season" }, column = "must_serve", set = false }',
                   {"sites.csv": (("yes,season,\"9,000\"", "no,season,9000"),
                                  ("yes,season,\"16,000\"", "no,season,16000"))}),
    "several columns": (
        '{ table = "sites", where = { id = "yard" }, set = { must_serve = "yes", pay = "500 USD" } }',
        {"sites.csv": (("no,push,450", "yes,push,500"),)}),
    "a blank": ('{ table = "sites", where = { id = "clinic" }, set = { deice_every = "", deadline = "" } }',
                {"sites.csv": (("both,2,2,1.5,", "both,2,,,"),)}),
    "rows by a number in another unit": (
        '{ table = "sites", where = { pass_length = "60 yd" }, column = "area", set = "0.7 acre" }',
        {"sites.csv": (("-90.48,0.5,", "-90.48,0.7,"),)}),
    "rows by a blank": ('{ table = "sites", where = { deadline = "" }, column = "trigger", set = "3 in" }',
                          {"sites.csv": (("3,,,1,", "3,,,3,"), ("4,,,2,", "4,,,3,"), (",3,,1,", ",3,,3,"))}),
    "rows by two columns": ('{ table = "sites", where = { snow_goes = "side", must_serve = true, '
                            'work = "d*" }, column = "area", set = "0.65 acre" }',
                            {"sites.csv": (("-90.49,0.6,", "-90.49,0.65,"),)}),
    # 1.5 h + 30 min; no limit and 30 min more is no limit
    "add to filled cells and no limits": ('{ table = "sites", column = "deadline", add = "30 min" }',
                                          {"sites.csv": (("2,2,1.5,", "2,2,2,"),)}),
    "a column that is not there": (
        '{ table = "trucks", where = { id = "ot" }, column = "available", set = 2 }',
        {"trucks.csv": add_column("trucks.csv", "available", {"ot": "2"})}),
    "a column that is not there, in the unit typed": (
        '{ table = "plows", where = { id = "p90" }, column = "resale", set = "900 USD" }',
        {"plows.csv": add_column("plows.csv", "resale [USD]", {"p90": "900"})}),
    # the default, 20 %, times 1.1
    "scale a default": ('{ table = "trucks", where = { id = "ht" }, column = "resale", scale = "+10 %" }',
                        {"trucks.csv": add_column("trucks.csv", "resale [%]", {"ht": "22"})}),
    # 0.25 is 25 %
    "a share as a number": ('{ table = "trucks", where = { id = "ht" }, column = "resale", set = 0.25 }',
                            {"trucks.csv": add_column("trucks.csv", "resale [%]", {"ht": "25"})}),
    "drop": ('{ table = "sites", where = { id = "y*" }, drop = true }',
             {"sites.csv": (('yard,Invented Freight Yard,44.49,-90.52,0.8,250,80,end,plow,4,,,2,no,push,450,'
                             'invented\n', ""),)}),
    # the copy is the last row; 38,000 times 0.55
    "copy": ('{ table = "trucks", where = { id = "ht" }, copy = "{id}-used", column = "price", scale = 0.55, '
             'set = { size = "used" } }',
             {"trucks.csv": (("169,38,3,\"58,000\",\"2,200\",10,14,invented\n",
                              "169,38,3,\"58,000\",\"2,200\",10,14,invented\n"
                              'ht-used,invented half-ton,used,7050,3900,4150,2850,2100,140,38,3,20900,1500,'
                              '15,20,\n'),)}),
    "note columns find rows": ('{ table = "plows", where = { note = "inv*", width = "8 ft" }, drop = true }',
                               {"plows.csv": (('p80,"heavy-duty straight blade, 8 ft",straight,96,29,680,110,'
                                               '"6,500",250,invented\n', ""),)}),
    "a heading as written": ('{ table = "sites", where = { "Plow every [h]" = "4 h" }, '
                             'column = "area [acre]", set = "1 acre" }',
                             {"sites.csv": (("-90.52,0.8,", "-90.52,1,"),)}),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_change_is_the_case_with_the_same_typed_in_its_files(change: str, tmp_path: Path) -> None:
    """Each kind of change gives the case that editing the files as text gives, field by field."""
    text, edits = CHANGES[change]
    variant = varied(tmp_path, f'[[variation]]\nname = "x"\nchange = [{text}]\n')["x"]
    assert bare(variant.case) == bare(by_hand(tmp_path, edits))
    assert bare(variant.case) != bare(read_case(SMALL)) and variant.changed


# keys of a variation, and the same in case.toml
KEYS: dict[str, tuple[str, Edits]] = {
    "a key that is there": ('"money.wage" = "30 USD/h"', {"case.toml": (('"24 USD/h"', '"30 USD/h"'),)}),
    "keys that are not there": (
        '"money.budget" = "250000 USD", "assumptions.circuity" = 1.3',
        {"case.toml": (('"24 USD/h"', '"24 USD/h"\nbudget = "250000 USD"'),
                       ("gap = 0", "gap = 0\n[assumptions]\ncircuity = 1.3"))}),
    "a key left out": ('"money.wage" = ""', {"case.toml": (('wage = "24 USD/h"\n', ""),)}),
    "a fuel": ('"money.fuel.gas" = "5 USD/gal"',
               {"case.toml": (('"24 USD/h"', '"24 USD/h"\nfuel.gas = "5 USD/gal"'),)}),
    "sections": ("money.wage = \"30 USD/h\", crew = { occupants = 2 }",
                 {"case.toml": (('"24 USD/h"', '"30 USD/h"'), ("occupants = 1", "occupants = 2"))}),
    "a table elsewhere": ('"tables.season" = "hard.csv"',
                          {"case.toml": (("[solve]", '[tables]\nseason = "hard.csv"\n[solve]'),)}),
}


@pytest.mark.parametrize("keys", KEYS)
def test_keys_are_set_as_in_the_case_file(keys: str, tmp_path: Path) -> None:
    """Keys set by a variation give the case that the same keys in case.toml give."""
    text, edits = KEYS[keys]
    variant = varied(tmp_path, f'[[variation]]\nname = "x"\nset = {{ {text} }}\n', hard_csv=HARD)["x"]
    assert bare(variant.case) == bare(by_hand(tmp_path, edits, hard_csv=HARD))
    assert bare(variant.case) != bare(read_case(SMALL)) and variant.changed


def test_a_table_is_replaced_and_then_changed(tmp_path: Path) -> None:
    """A replaced table is read from its file, and the changes after it change that one: 20 - 5 events."""
    text = ('[[variation]]\nname = "x"\nchange = [{ table = "season", replace = "hard.csv" },\n'
            '{ table = "season", where = { id = "hard" }, column = "count", add = -5 }]\n')
    variant = varied(tmp_path, text, hard_csv=HARD)["x"]
    assert bare(variant.case) == bare(by_hand(tmp_path, {}, season_csv=HARD.replace(",20,", ",15,")))
    assert variant.changed == ("tables.season: not given -> hard.csv", "season: count of hard 20 -> 15")
    assert "hard.csv" in dict(variant.case.inputs) and "season.csv" not in dict(variant.case.inputs)


def test_rows_without_ids_are_copied(tmp_path: Path) -> None:
    """A copy in a table without ids says true, and its cells are set like any other's."""
    text = ('[[variation]]\nname = "x"\nchange = [{ table = "mounts", where = { truck = "ht" }, copy = true, '
            'set = { truck = "ot" } }]\n')
    variant = varied(tmp_path, text, mounts_csv=MOUNTS)["x"]
    assert bare(variant.case) == bare(by_hand(tmp_path, {}, mounts_csv=MOUNTS + "ot,p75,no\n"))


def test_cells_between_semicolons_keep_their_decimal_commas(tmp_path: Path) -> None:
    """1,25E2 and 1.100 of a file with decimal commas stay as they are; a changed cell is 75 x 1.001."""
    table = "id;bulk_density [lb/ft^3];price [USD/ton]\nsalt;75;44,5\nsand;1,25E2;1.100\n"
    text = ('[[variation]]\nname = "x"\nchange = [{ table = "materials", where = { price = "44.5 USD/ton" }, '
            'set = { price = "" }, column = "bulk_density", scale = 1.001 }]\n')
    spreaders = (SMALL / "spreaders.csv").read_text(encoding="utf-8")
    spreaders = spreaders.replace("length [in]", "length [in],material")
    spreaders = spreaders.replace('"2,500",,', '"2,500",,salt,').replace('"7,000",92,', '"7,000",92,salt,')
    hand = "id,bulk_density [lb/ft^3],price [USD/ton]\nsalt,75.075,\nsand,125,1100\n"
    variant = varied(tmp_path, text, materials_csv=table, spreaders_csv=spreaders)["x"]
    assert bare(variant.case) == bare(by_hand(tmp_path, {}, materials_csv=hand, spreaders_csv=spreaders))


def test_past_winters_follow_a_season_that_changes(tmp_path: Path) -> None:
    """The counts of past winters are columns by the names of the events, and blank counts follow them."""
    years = "".join(f"{year},{year % 7},5,2\n" for year in range(2010, 2024))
    winters = f"winter,light,medium,heavy\n{years}"
    text = ('[[variation]]\nname = "x"\nchange = [{ table = "past_winters", where = { winter = "2013" }, '
            'column = "heavy", set = 6 },\n'
            '{ table = "past_winters", where = { winter = "2010" }, drop = true },\n'
            '{ table = "season", column = "count", set = "" }]\n')
    variant = varied(tmp_path, text, past_winters_csv=winters)["x"]
    changed = winters.replace("2010,1,5,2\n", "").replace("2013,4,5,2\n", "2013,4,5,6\n")
    seasons = {"season.csv": (("light,12,", "light,,"), ("medium,6,", "medium,,"), ("heavy,2,", "heavy,,"))}
    assert "2010,1,5,2\n" in winters and "2013,4,5,2\n" in winters
    assert bare(variant.case) == bare(by_hand(tmp_path, seasons, past_winters_csv=changed))


def test_what_two_parents_share_is_done_once(tmp_path: Path) -> None:
    """Base price 44,000; the grandparent adds 1,000 once, one parent scales by 2, the other adds 500, and
    the last sets the wage that its parent had set: 44,000 + 1,000 = 45,000; x 2 = 90,000; + 500 = 90,500."""
    price = '{ table = "trucks", where = { id = "tqt" }, column = "price", '
    text = f"""
[[variation]]
name = "last"
inherit = ["doubled", "more"]
set = {{ "money.wage" = "40 USD/h" }}
[[variation]]
name = "doubled"
inherit = "first"
set = {{ "money.wage" = "30 USD/h" }}
change = [{price}scale = 2 }}]
[[variation]]
name = "more"
inherit = "first"
change = [{price}add = "500 USD" }}]
[[variation]]
name = "first"
change = [{price}add = "1000 USD" }}]
"""
    found = varied(tmp_path, text)
    assert list(found) == ["base", "last", "doubled", "more", "first"]
    edits = {"trucks.csv": (('"44,000"', "90500"),), "case.toml": (("24 USD/h", "40 USD/h"),)}
    assert bare(found["last"].case) == bare(by_hand(tmp_path, edits))


SWEEPS = """
[[combination]]
name = "grid"
of = [["base", "dear"], "budget", "salt"]

[[variation]]
name = "dear"
change = [{ table = "trucks", where = { id = "ot" }, column = "price", add = "2000 USD" }]

[[sweep]]
name = "budget"
key = "money.budget"
values = ["", "150000 USD"]

[[sweep]]
name = "salt"
table = "materials"
where = { id = "salt" }
column = "price"
add = ["10 USD/ton", "-10 USD/ton"]
"""


def test_sweeps_and_combinations_make_a_case_for_each_value(tmp_path: Path) -> None:
    """Every case is named, in the order of the file, and knows where in its sweeps it stands."""
    found = varied(tmp_path, SWEEPS)
    pairs = [(first, budget, salt) for first in ("base", "dear") for budget in ("blank", "150000 USD")
             for salt in ("10 USD/ton", "-10 USD/ton")]
    grid = [f"grid: {first}, budget = {budget}, salt = {salt}" for first, budget, salt in pairs]
    assert list(found) == ["base", *grid, "dear", "budget = blank", "budget = 150000 USD",
                           "salt = 10 USD/ton", "salt = -10 USD/ton"]
    assert [found[name].at for name in grid] == [
        (("base or dear", first), ("budget", budget), ("salt", salt)) for first, budget, salt in pairs]
    assert found["salt = 10 USD/ton"].at == (("salt", "10 USD/ton"),)
    assert found["base"].at == found["dear"].at == ()


def test_a_combined_case_has_the_changes_of_each_part(tmp_path: Path) -> None:
    """90 - 10 USD/ton, 58,000 + 2,000 USD and the budget together are the case with all three by hand."""
    variant = varied(tmp_path, SWEEPS)["grid: dear, budget = 150000 USD, salt = -10 USD/ton"]
    edits = {"materials.csv": (("salt,75,90", "salt,75,80"),), "trucks.csv": (('"58,000"', "60000"),),
             "case.toml": (('"24 USD/h"', '"24 USD/h"\nbudget = "150000 USD"'),)}
    assert bare(variant.case) == bare(by_hand(tmp_path, edits))
    assert variant.changed == ("trucks: price of ot 58,000 -> 60,000 USD",
                               "money.budget: no limit -> 150000 USD",
                               "materials: price of salt 90 -> 80 USD/ton")


def test_changes_are_told_in_plain_words(tmp_path: Path) -> None:
    """Numbers with their unit, three rows by name and the others counted, rows dropped and copied."""
    text = """
[[variation]]
name = "x"
change = [
  { table = "sites", column = "clear_width", add = "5 ft" },
  { table = "sites", where = { id = "yard" }, drop = true },
  { table = "plows", where = { id = "p90" }, copy = "{id}-old", set = { owned = 1 } },
]
set = { "money.wage" = "" }
"""
    assert varied(tmp_path, text)["x"].changed == (
        "money.wage: 24 USD/h -> 25 USD/h",
        "sites: clear_width of bank 45 -> 50 ft, clinic 60 -> 65 ft, yard 80 -> 85 ft and 1 more",
        "sites: yard dropped", "plows: p90-old copied from p90", "plows: owned of p90-old blank -> 1")


def test_base_is_first_and_is_the_case_itself(tmp_path: Path) -> None:
    """The base is what read_case gives; a variant is called so too, and its inputs hold variations.toml."""
    text = '[[variation]]\nname = "x"\nset = { "money.budget" = "150000 USD" }\n'
    base, variant = varied(tmp_path, text).values()
    assert base == Variant("base", (), (), read_case(tmp_path / "case"))
    digest = ("variations.toml", sha256(text.encode()).hexdigest())
    assert variant.case == replace(base.case, money=replace(base.case.money, budget_usd=150_000.0),
                                   inputs=tuple(sorted((*base.case.inputs, digest))))


def test_a_workbook_is_varied_as_a_folder_is(tmp_path: Path) -> None:
    """Beside a workbook the same variations.toml makes the same cases as beside the folder it was made of."""
    text = """
[[variation]]
name = "x"
set = { "money.wage" = "30 USD/h", "money.budget" = "150000 USD" }
change = [{ table = "trucks", where = { id = "tqt" }, column = "price", add = "2500 USD" },
          { table = "plows", where = { id = "p8*" }, drop = true },
          { table = "season", replace = "hard.csv" }]
"""
    in_folder = varied(tmp_path, text, hard_csv=HARD)["x"]
    book = tmp_path / "small.xlsx"
    book.write_bytes(saved(small_book()))
    shutil.copy(tmp_path / "case" / "hard.csv", tmp_path)
    (tmp_path / "variations.toml").write_text(text, encoding="utf-8")
    in_book = read_variants(book)[1]
    assert bare(in_book.case) == bare(in_folder.case)
    assert in_book.changed == in_folder.changed
    assert [name for name, _ in in_book.case.inputs] == sorted([book.name, "hard.csv", "variations.toml"])


@pytest.mark.parametrize("name", ["+5 % trucks", "=1+1", "Schnee, \u00e4ltere \U0001f69b", 'a "b" \\ #c',
                                  "x = 1: y, z"])
def test_names_with_odd_characters_are_kept(name: str, tmp_path: Path) -> None:
    """Any name that can be printed is a name, here inherited by another."""
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    text = (f'[[variation]]\nname = "{quoted}"\nset = {{ "money.budget" = "150000 USD" }}\n'
            f'[[variation]]\nname = "y"\ninherit = "{quoted}"\nset = {{ "money.wage" = "30 USD/h" }}\n')
    found = varied(tmp_path, text)
    assert list(found) == ["base", name, "y"]
    assert found["y"].case.money.budget_usd == 150_000


def test_an_id_with_a_star_in_it_is_found_alone(tmp_path: Path) -> None:
    """Where a row is called p*0, this is its id and no pattern: p80 and p90 keep their price."""
    plows = (SMALL / "plows.csv").read_text(encoding="utf-8").replace("p75,", "p*0,")
    text = ('[[variation]]\nname = "x"\nchange = [{ table = "plows", where = { id = "p*0" }, '
            'column = "price", set = "1000 USD" }]\n')
    found = varied(tmp_path, text, plows_csv=plows)["x"].case
    assert [plow.price_usd for plow in found.plows] == [1000, 6500, 8500]


@pytest.mark.parametrize("read", [read_variants, check_variants])
def test_without_the_file_the_call_is_wrong(read: Callable[[Path], object], tmp_path: Path) -> None:
    """Where no variations.toml lies beside the case, or no case is there, that is said."""
    with pytest.raises(UsageError, match="no variations.toml"):
        read(SMALL)
    with pytest.raises(UsageError, match="no case"):
        read(tmp_path / "none")


def test_read_variants_raises_all_problems(tmp_path: Path) -> None:
    """Two wrong variations are two problems of one error."""
    text = "".join(f'[[variation]]\nname = "{name}"\nset = {{ "money.budgt" = "{name} USD" }}\n'
                   for name in "12")
    with pytest.raises(InputProblems) as raised:
        varied(tmp_path, text)
    assert [problem.code for problem in raised.value.problems] == ["key.unknown"] * 2

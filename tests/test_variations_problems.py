"""What is wrong in variations.toml: told with its place, whatever is written, and never an exception."""

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optibuild.errors import Problem
from optibuild.inputs import check_case, check_variants
from optibuild.inputs.varying.toml_rows import row_of, rows_of

SMALL = Path(__file__).parent / "data" / "small"


def problems(folder: Path, text: str, **files: str) -> list[Problem]:
    """The problems of the small case with a variations.toml, and other files beside it."""
    case = Path(shutil.copytree(SMALL, folder / "case", dirs_exist_ok=True))
    for name, content in {**files, "variations_toml": text}.items():
        (case / name.replace("_", ".")).write_text(content, encoding="utf-8")
    return list(check_variants(case)[1])


def variation(change: str) -> str:
    """A variation called x that makes one change, on line 3."""
    return f'[[variation]]\nname = "x"\nchange = [{change}]\n'


FORM = "variation.form"
CHANGE = '{ table = "trucks", where = { id = "tqt" }, '
# what stands in the change of a variation, or in the whole file -> code, and a word of what is said
WRONG: dict[str, tuple[str, str]] = {
    variation(CHANGE + 'column = "price", set = "47500" }'): ("unit.missing", "price has no unit"),
    variation(CHANGE + 'column = "price", set = 47500 }'): ("unit.missing", "price has no unit"),
    variation(CHANGE + 'column = "price", set = "47x USD" }'): ("unit.wrong", "x USD"),
    variation(CHANGE + 'column = "price", set = "many USD" }'): ("value.number", "many USD"),
    variation(CHANGE + 'column = "price", set = "47500 lb" }'): ("unit.wrong", "lb"),
    variation(CHANGE + 'column = "price", set = true }'): ("value.kind", "neither a number nor text"),
    variation(CHANGE + 'column = "price", set = inf }'): ("value.finite", "finite"),
    variation(CHANGE + 'column = "price", scale = "5 %" }'): ("value.number", "5 %"),
    variation(CHANGE + 'column = "price", scale = -1.0 }'): ("value.range", "negative"),
    variation(CHANGE + 'column = "price", scale = nan }'): ("value.finite", "finite"),
    variation(CHANGE + 'column = "drive", scale = 2 }'): ("value.kind", "no numbers"),
    variation(CHANGE + 'column = "id", set = 7 }'): ("value.kind", "not text"),
    variation(CHANGE + 'column = "seats", add = 0.5 }'): ("value.whole", "3.5"),
    variation(CHANGE + 'column = "seats", set = "4 lb" }'): ("value.number", "no unit"),
    variation(CHANGE + 'column = "city", add = "1 L/100km" }'): ("unit.wrong", "cannot be added"),
    variation(CHANGE + 'column = "city", set = "0 L/100km" }'): ("value.range", "out of range"),
    variation('{ table = "season", column = "pavement", scale = 2 }'): ("value.kind", "temperature"),
    variation(CHANGE + 'column = "owned_value", scale = 2 }'): ("variation.blank", "owned_value"),
    variation('{ table = "trucks", where = { gvwr = "9*" }, drop = true }'): ("value.number", "9*"),
    variation('{ table = "trucks", where = { gvwr = "9600" }, drop = true }'): ("unit.missing", "gvwr"),
    variation('{ table = "trucks", where = { sise = "x" }, drop = true }'): ("variation.unknown", "sise"),
    variation('{ table = "truks", drop = true }'): ("variation.unknown", "truks"),
    variation('{ table = "mounts", drop = true }'): ("variation.rows", "not there"),
    variation('{ table = "trucks", where = { id = [] }, drop = true }'): ("variation.rows", "no row"),
    variation('{ table = "sites", drop = true }'): ("table.empty", "sites"),
    variation('{ table = "trucks", where = { id = "tqt" }, copy = "tqt" }'): ("id.twice", "tqt"),
    variation('{ table = "trucks", copy = true }'): (FORM, "no id for the copies"),
    variation('{ table = "travel", copy = "x" }'): (FORM, "have no ids"),
    variation('{ table = "trucks" }'): (FORM, "what it does"),
    variation('{ drop = true }'): (FORM, "'table'"),
    variation('{ table = "trucks", drop = "yes" }'): (FORM, "true nor false"),
    variation('{ table = "trucks", drop = true, column = "price", scale = 2 }'): (FORM, "dropped"),
    variation('{ table = "trucks", column = "price" }'): (FORM, "goes with one of"),
    variation('{ table = "trucks", column = "price", set = "1 USD", scale = 2 }'): (FORM, "one of"),
    variation('{ table = "trucks", scale = 2 }'): (FORM, "goes with one of"),
    variation('{ table = "trucks", column = "price", set = 2026-01-01 }'): (FORM, "neither text"),
    variation('{ table = "trucks", where = "ht", drop = true }'): (FORM, "'where'"),
    variation('{ table = "trucks", replace = "x.csv", drop = true }'): (FORM, "alone"),
    variation('{ table = "trucks", replace = "/x.csv" }'): ("file.path", "absolute"),
    variation('{ table = "trucks", replace = "x.csv" }'): ("file.missing", "x.csv"),
    variation('{ table = "trucks", replace = 3 }'): ("value.kind", "not text"),
    '[[variation]]\nname = "x"\nset = { "tables.truks" = "x.csv" }': ("key.unknown", "truks"),
    '[[variation]]\nname = "x"\nset = { "money.budget" = "3" }': ("unit.missing", "money.budget"),
    '[[variation]]\nname = "x"\nset = { "money.budget" = [1] }': (FORM, "money.budget"),
    '[[variation]]\nname = "x"\nset = { "solve.seed" = 0xFFFFFFFFFFFFFFFFFFFF }': (FORM, "too large"),
    '[[variation]]\nname = "x"\nset = 3': (FORM, "'set'"),
    '[[variation]]\nname = "x"\nchange = 3': (FORM, "'change'"),
    '[[variation]]\nname = "x"\nchanges = []': (FORM, "'changes'"),
    '[[variation]]\nname = "x"\ninherit = "y"': ("variation.unknown", "no variation"),
    '[[variation]]\nname = "x"\ninherit = 3': (FORM, "'inherit'"),
    '[[variation]]\nset = {}': ("variation.name", "no name"),
    '[[variation]]\nname = "a\\u0007"': ("variation.name", "cannot be the name"),
    f'[[variation]]\nname = "{"x" * 101}"': ("variation.name", "cannot be the name"),
    '[variation]\nname = "x"': (FORM, "no list of tables"),
    '[[variatoin]]\nname = "x"': (FORM, "variatoin"),
    '[[sweep]]\nname = "s"\nkey = "money.budget"': (FORM, "one list"),
    '[[sweep]]\nname = "s"\nkey = "money.budget"\nvalues = []': (FORM, "no list of values"),
    '[[sweep]]\nname = "s"\nkey = "money.budget"\nadd = ["1 USD"]': (FORM, "'key' and 'values' alone"),
    '[[sweep]]\nname = "s"\ntable = "trucks"\nscale = [2]': (FORM, "'column'"),
    '[[sweep]]\nname = "s"\nkey = "solve.seed"\nvalues = [2, 2]': ("variation.twice", "s = 2"),
    '[[combination]]\nname = "c"\nof = []': (FORM, "'of'"),
    '[[combination]]\nname = "c"\nof = ["c"]': ("variation.unknown", "a combination itself"),
    '[[combination]]\nname = "c"\nof = ["s"]': ("variation.unknown", "no sweep"),
    'x = 1 2': ("file.toml", "cannot be read"),
}


@pytest.mark.parametrize("text", WRONG)
def test_what_is_wrong_is_told_with_its_place(text: str, tmp_path: Path) -> None:
    """Each mistake makes a problem of its kind that says what is wrong and stands in variations.toml."""
    code, word = WRONG[text]
    found = problems(tmp_path, text)
    assert [problem.code for problem in found if problem.severity == "error"] == [code]
    assert word in found[0].text
    assert any(place.file == "variations.toml" and place.row for place in found[0].places)


def test_a_problem_that_the_base_has_too_is_told_once(tmp_path: Path) -> None:
    """A wrong word in sites.csv is told as it is without variations, though one reads the table too."""
    sites = (SMALL / "sites.csv").read_text(encoding="utf-8").replace("60,side,both", "60,sied,both")
    found = problems(tmp_path, variation('{ table = "sites", column = "area", scale = 2 }'), sites_csv=sites)
    assert found == list(check_case(tmp_path / "case")[1])
    assert [problem.code for problem in found] == ["value.word"]


def test_a_new_problem_names_its_variations_and_its_line(tmp_path: Path) -> None:
    """9,600 lb x 0.5 is less than 3,600 + 2,500 lb: told once for the variation and its heir, with row 4."""
    text = ('[[variation]]\nname = "light"\nchange = [{ table = "plows", column = "price", scale = 1.1 },\n'
            '  { table = "trucks", where = { id = "tqt" }, column = "gvwr", scale = 0.5 },\n]\n'
            '[[variation]]\nname = "heir"\ninherit = "light"\nset = { "money.budget" = "150000 USD" }\n')
    found = {problem.code: problem for problem in problems(tmp_path, text)}
    curb = found["truck.curb"]
    assert curb.text.startswith("in 'light' and 1 more: ")
    assert [(place.file, place.row) for place in curb.places][-1] == ("variations.toml", 4)
    assert curb.places[0].file == "trucks.csv" and curb.places[0].row == 3


def test_a_problem_of_a_copy_stands_in_the_variation(tmp_path: Path) -> None:
    """The copied row is in no file, so that its problem has the place of the change that copied it."""
    found = problems(tmp_path, variation(
        '{ table = "trucks", where = { id = "ht" }, copy = "{id}2", column = "seats", set = 0 }'))
    assert [problem.code for problem in found] == ["value.range"]
    assert [(place.file, place.row, place.column) for place in found[0].places] == [
        ("variations.toml", 3, "seats")]


def test_the_nearest_right_name_is_offered(tmp_path: Path) -> None:
    """An id, a column, a table, a key, a variation and a word of the file, each with one slip."""
    slips = {
        variation('{ table = "sites", where = { id = "clinc" }, drop = true }'): "'clinic'",
        variation('{ table = "sites", column = "aera", scale = 2 }'): "'area'",
        variation('{ table = "site", drop = true }'): "'sites'",
        '[[variation]]\nname = "x"\nset = { "money.bugdet" = "1 USD" }': "'money.budget'",
        '[[variation]]\nname = "dear"\n[[variation]]\nname = "x"\ninherit = "daer"': "'dear'",
        variation('{ table = "sites", colunm = "area", scale = 2 }'): "'column'",
    }
    for text, meant in slips.items():
        assert f"Did you mean {meant}?" in problems(tmp_path, text)[0].remedy


def test_all_problems_are_told_in_one_run(tmp_path: Path) -> None:
    """Of four wrong variations each is told, and of a sweep each value that is wrong."""
    text = ('[[variation]]\nname = "a"\nchange = [{ table = "no", drop = true }]\n'
            '[[variation]]\nname = "b"\nset = { "no.key" = 1 }\n'
            '[[variation]]\nname = "c"\ninherit = "no"\n'
            '[[sweep]]\nname = "d"\nkey = "money.budget"\nvalues = ["1", "2 USD", "3 lb"]\n')
    assert sorted((problem.places[0].row, problem.code) for problem in problems(tmp_path, text)
                  if problem.severity == "error") == [
        (3, "variation.unknown"), (6, "key.unknown"), (7, "variation.unknown"), (13, "unit.missing"),
        (13, "unit.wrong")]


ROWS = '''# a comment with [[variation]] in it
note = """
[[variation]]
"""
[[variation]]
name = "a # b"
change = [
  { table = "x", where = { id = "}" } },  # {
  { table = "y" }, { table = "z" },
]
[variation.set]
"money.budget" = "1 USD"
money.wage = 2

[[ "variation" ]]
set = { "a.b" = 1 }
[[variation.change]]
table = "q"
[[variation.change]]
table = "r"
[[sweep]]
values = [
  1,
]
'''


@pytest.mark.parametrize(("path", "row"), [
    (("variation", 0), 5), (("variation", 0, "change", 0), 8), (("variation", 0, "change", 1), 9),
    (("variation", 0, "change", 2), 9), (("variation", 0, "set", "money.budget"), 12),
    (("variation", 0, "set", "money", "wage"), 13), (("variation", 1), 15),
    (("variation", 1, "set", "a.b"), 16), (("variation", 1, "change", 0, "table"), 18),
    (("variation", 1, "change", 1), 19), (("sweep", 0, "values"), 22), (("sweep", 1), 0),
    (("variation", 0, "inherit"), 5)])
def test_lines_are_those_an_editor_shows(path: tuple[str | int, ...], row: int) -> None:
    """The line of each table, key and change, counted by eye, with comments and texts that look like them."""
    assert row_of(rows_of(ROWS), *path) == row


WORDS = st.sampled_from(["name", "set", "change", "inherit", "table", "where", "column", "add", "scale",
                         "drop", "copy", "replace", "key", "values", "of", "money.budget", "id", "price",
                         "note", "x"])
PLAIN = st.sampled_from([
    '"x"', '"trucks"', '"sites"', '"travel"', '"price"', '"resale"', '"id"', '"*"', '"t*"', '"base"',
    '"{id}-2"', '"5 USD"', '"+5 %"', '"5 %"', '"1e400 USD"', '"-"', '""', '"hard.csv#x"', '"a\\u0007"',
    '"money.budget"', "1", "-1", "1.5", "0xFFFFFFFFFFFFFFFFFFFFFFFFFFFF", "1e308", "inf", "nan", "true",
    "false", "2026-01-01", "12:30:00", "'\\'"])
VALUES = st.recursive(PLAIN, lambda inner: st.one_of(
    st.lists(inner, max_size=3).map(lambda some: f"[{', '.join(some)}]"),
    st.dictionaries(WORDS, inner, max_size=4).map(
        lambda some: "{" + ", ".join(f'"{key}" = {value}' for key, value in some.items()) + "}")),
    max_leaves=8)
PARTS = st.tuples(st.sampled_from(["[[variation]]", "[[sweep]]", "[[combination]]", "[variation.set]",
                                   "[[variation.change]]", "[other]"]),
                  st.dictionaries(WORDS, VALUES, max_size=5)).map(
    lambda part: "\n".join([part[0], *(f'"{key}" = {value}' for key, value in part[1].items())]))
ACTIONS = st.tuples(
    st.sampled_from(["trucks", "plows", "sites", "season", "materials", "mounts"]),
    st.sampled_from(["id", "price", "resale", "area", "count", "pavement", "drive", "work", "city", "owned"]),
    st.sampled_from(["set", "add", "scale"]), PLAIN, st.sampled_from(["id", "price", "note"]), PLAIN).map(
    lambda of: variation(f'{{ table = "{of[0]}", column = "{of[1]}", {of[2]} = {of[3]}, '
                         f'where = {{ {of[4]} = {of[5]} }} }}'))


@given(st.one_of(st.lists(PARTS, max_size=4).map("\n".join), ACTIONS))
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_that_is_written_raises(tmp_path: Path, text: str) -> None:
    """Whatever stands in variations.toml gives cases or problems that are errors, never both or neither."""
    case = tmp_path / "case"
    if not case.exists():
        shutil.copytree(SMALL, case)
    (case / "variations.toml").write_text(text, encoding="utf-8")
    variants, found = check_variants(case)
    assert (variants is None) == any(problem.severity == "error" for problem in found)
    assert all(problem.text.isprintable() for problem in found)


@pytest.mark.parametrize("deep", ["[" * 5000, '[[variation]]\nname = "x"\nset.' + "a." * 3000 + "a = 1",
                                  "[[variation]]\nchange = " + "[" * 300 + "]" * 300])
def test_what_is_nested_too_deep_is_a_problem(deep: str, tmp_path: Path) -> None:
    """A text that is nested without end is refused, not followed."""
    assert "error" in {problem.severity for problem in problems(tmp_path, deep)}


COPIED = '{ table = "plows", where = { id = "p80" }, copy = "{id}-2" }'


@pytest.mark.parametrize(("file", "rows", "changes", "told"), [
    ("mounts.csv", "truck,attachment,allowed\ntqt,p80,no\n", COPIED,
     ["rows of mounts name 'p80'; the copy 'p80-2' has none"]),
    ("mounts.csv", "truck,attachment,allowed\ntqt,p90,no\n", COPIED, []),
    # the rows of the table are copied too, for the copy
    ("mounts.csv", "truck,attachment,allowed\ntqt,p80,no\n", COPIED + ", { table = \"mounts\", where = "
     '{ attachment = "p80" }, copy = true, set = { attachment = "p80-2" } }', []),
    ("travel.csv", "from,to,time [min]\nyard,bank,9\n",
     '{ table = "sites", where = { id = ["bank", "clinic"] }, copy = "{id}-2" }',
     ["rows of travel name 'bank'; the copy 'bank-2' has none"]),
    ("timings.csv", "site,truck,plow,depth [in],time [min]\nyard,ht,p80,3,40\n",
     '{ table = "trucks", where = { id = "ht" }, copy = "{id}-2" }',
     ["rows of timings name 'ht'; the copy 'ht-2' has none"]),
])
def test_a_copy_of_what_other_tables_name_is_told(file: str, rows: str, changes: str, told: list[str],
                                                  tmp_path: Path) -> None:
    """A plow that mounts names, a site of travel and a truck of timings have no such rows under the ids of
    their copies: a warning; none where nothing names the row, or where its rows are copied with it."""
    case = Path(shutil.copytree(SMALL, tmp_path / "case"))
    (case / file).write_text(rows, encoding="utf-8")
    (case / "variations.toml").write_text(variation(changes), encoding="utf-8")
    read, found = check_variants(case)
    assert read is not None
    copied = [problem for problem in found if problem.code == "variation.copied"]
    assert [problem.text.partition(": ")[2] for problem in copied] == told


def test_a_faulty_case_with_variations_is_told_once(tmp_path: Path) -> None:
    """The table mounts lacks a column that is needed: told of the case alone, whatever its variations."""
    case = Path(shutil.copytree(SMALL, tmp_path / "case"))
    (case / "mounts.csv").write_text("truck,attachment\ntqt,p80\n", encoding="utf-8")
    (case / "variations.toml").write_text(variation('{ table = "sites", column = "area", scale = 2 }'),
                                          encoding="utf-8")
    read, found = check_variants(case)
    assert read is None and [problem.code for problem in found] == ["heading.missing"]


def test_an_empty_replacement_is_one_error(tmp_path: Path) -> None:
    """`replace = ""` names no file: an error, and no warning that it changes nothing."""
    found = problems(tmp_path, variation('{ table = "season", replace = "" }'))
    assert [problem.code for problem in found] == ["file.path"]

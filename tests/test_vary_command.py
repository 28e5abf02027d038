"""The command `vary`: plans equal to those of cases edited by hand, exit codes, what it writes and keeps."""

import csv
import json
import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from test_same_plan import assert_same, unordered
from test_vary import SCHEMA
from towns import with_one_way_streets

from optibuild import what_if
from optibuild.cli import main
from optibuild.cli.vary import progress_line
from optibuild.inputs import read_case, read_variants
from optibuild.pipeline import make_plan, to_json
from optibuild.plan import SCHEMA_PATH
from optibuild.records.sweep import SweepProgress

SMALL = Path(__file__).parent / "data" / "small"
HARD = "id,count,duration [h],snowfall [in],pavement [degF]\nhard,20,10,6,15\n"
VARIATIONS = """
[[variation]]
name = "set"
change = [{ table = "sites", where = { work = "both" }, column = "plow_every", set = "90 min" }]

[[variation]]
name = "add"
change = [{ table = "trucks", where = { size = "half-ton" }, column = "price", add = "15000 USD" }]

[[variation]]
name = "scale"
change = [{ table = "plows", where = { id = "p*" }, column = "price", scale = "+10 %" }]

[[variation]]
name = "drop"
change = [{ table = "trucks", where = { id = "ht" }, drop = true }]

[[variation]]
name = "copy"
change = [{ table = "plows", where = { id = "p80" }, copy = "{id}-used", set = { price = "2500 USD" } }]

[[variation]]
name = "replace"
change = [{ table = "season", replace = "hard.csv" }]

[[variation]]
name = "key"
set = { "money.wage" = "30 USD/h" }

[[variation]]
name = "inherit"
inherit = ["add", "key"]
change = [{ table = "trucks", where = { id = "tqt" }, column = "price", set = "43000 USD" }]

[[variation]]
name = "no money"
set = { "money.budget" = "1000 USD" }

[[sweep]]
name = "interest"
key = "money.interest"
values = ["9 %"]

[[sweep]]
name = "yard"
table = "sites"
where = { id = "yard" }
column = "area"
scale = [1.5]

[[combination]]
name = "both"
of = ["interest", "yard"]
"""
Edits = Mapping[str, tuple[tuple[str, str], ...]]
ADD = ('"38,000"', "53000")  # 38,000 + 15,000
KEY = ('wage = "24 USD/h"', 'wage = "30 USD/h"')
INTEREST = ('[money]\n', '[money]\ninterest = "9 %"\n')
YARD = ("44.49,-90.52,0.8,", "44.49,-90.52,1.2,")  # 0.8 x 1.5
USED = 'p80-used,"heavy-duty straight blade, 8 ft",straight,96,29,680,110,2500,250,invented\n'
BY_HAND: dict[str, Edits] = {
    "base": {},
    "set": {"sites.csv": (("0.5,180,60,side,both,2,2,", "0.5,180,60,side,both,1.5,2,"),)},
    "add": {"trucks.csv": (ADD,)},
    # 5,000, 6,500 and 8,500 and a tenth of each
    "scale": {"plows.csv": (('"5,000"', "5500"), ('"6,500"', "7150"), ('"8,500"', "9350"))},
    "drop": {"trucks.csv": (('ht,invented half-ton,half-ton,"7,050","3,900","4,150","2,850","2,100",140,38,3,'
                             '"38,000","1,500",15,20,invented\n', ""),)},
    "copy": {"plows.csv": (('"8,500",300,invented\n', f'"8,500",300,invented\n{USED}'),)},
    "replace": {"case.toml": (("[case]\n", '[tables]\nseason = "hard.csv"\n\n[case]\n'),)},
    "key": {"case.toml": (KEY,)},
    "inherit": {"trucks.csv": (ADD, ('"44,000"', "43000")), "case.toml": (KEY,)},
    "interest = 9 %": {"case.toml": (INTEREST,)},
    "yard = 1.5": {"sites.csv": (YARD,)},
    "both: interest = 9 %, yard = 1.5": {"case.toml": (INTEREST,), "sites.csv": (YARD,)},
}
TABLES = {"vary.json", "report.html", "vary.xlsx", "vary.csv", "vary_swaps.csv", "vary_items.csv",
          "vary_sizes.csv"}


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def case_with(folder: Path, variations: str | None, **edits: tuple[tuple[str, str], ...]) -> Path:
    """The small case in a folder, with ways that take different times there and back, or else two directions
    of a loop cost the same; with a variations.toml and its files edited as text (`case_toml`)."""
    case = with_one_way_streets(Path(shutil.copytree(SMALL, folder)))
    (case / "hard.csv").write_text(HARD, encoding="utf-8")
    for name, pairs in edits.items():
        edit(case / ".".join(name.rsplit("_", 1)), pairs)
    if variations is not None:
        (case / "variations.toml").write_text(variations, encoding="utf-8")
    return case


def edit(file: Path, pairs: tuple[tuple[str, str], ...]) -> None:
    """Texts that stand there once, replaced."""
    content = file.read_text(encoding="utf-8")
    for old, new in pairs:
        assert content.count(old) == 1, (old, content.count(old))
        content = content.replace(old, new)
    file.write_text(content, encoding="utf-8")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the case and its variations, compared by two workers."""
    home = tmp_path_factory.mktemp("vary")
    case_with(home / "case", VARIATIONS)
    done = run("vary", home / "case", "--out", home / "out", "--workers", 2)
    assert done.exit_code == 0, done.stderr
    (home / "screen.txt").write_text(done.stdout, encoding="utf-8")
    return home


def document(home: Path) -> dict[str, Any]:
    """vary.json."""
    tree: dict[str, Any] = json.loads((home / "out" / "vary.json").read_text(encoding="utf-8"))
    return tree


def row(home: Path, name: str) -> dict[str, Any]:
    """A row of vary.json."""
    return next(one for one in document(home)["rows"] if one["name"] == name)


def without_names(text: str) -> str:
    """plan.json without its case and seconds."""
    text = re.sub(r' "case": \{.*?\n \},\n', "", text, count=1, flags=re.DOTALL)
    return re.sub(r'"seconds": [0-9.e-]+', '"seconds": 0', text)


@pytest.mark.parametrize("name", BY_HAND)
def test_the_plan_of_a_variation_is_that_of_the_case_edited_by_hand(
        name: str, made: Path, tmp_path: Path) -> None:
    """For every kind of change at gap 0: a copy of the case whose files were edited as plain text gives, byte
    by byte but for names, seconds and inputs, the plan.json of the variation in a cold search; and the one
    written, whose search began with the base's loops in another process, is the same but for the bounds of
    what sites save, for which one of several equally good duals speaks."""
    case = case_with(tmp_path / "hand", None)
    for file, pairs in BY_HAND[name].items():
        edit(case / file, pairs)
    by_hand = to_json(make_plan(read_case(case)))
    rows = [one for one in read_variants(made / "case") if one.name in ("base", name)]
    (*_, cold) = what_if.vary(rows, lambda cases: [None] * (len(rows) - 1) + [make_plan(cases[-1])]).plans
    assert cold is not None and '"proof": "proved best"' in by_hand
    assert without_names(to_json(cold)) == without_names(by_hand)
    written = unordered((made / "out" / row(made, name)["plan"]).read_bytes())
    told = unordered(by_hand.encode())
    del written["case"], told["case"]
    assert_same(written, told)


def test_every_file_is_there_and_says_the_same(made: Path) -> None:
    """All tables, a plan.json for each row that keeps the plan's schema, rows as in variations.toml after the
    base, figures in JSON those of the plans, and the CSV sorted by cost."""
    out, tree = made / "out", document(made)
    assert {path.name for path in out.iterdir()} == {*TABLES, "plans", "solved"}
    jsonschema.validate(tree, SCHEMA)
    names = sorted(path.name for path in SMALL.iterdir())
    assert tree["case"] == {"name": "small", "inputs": {
        name: sha256((made / "case" / name).read_bytes()).hexdigest()
        for name in sorted({*names, "travel.csv"}) if (made / "case" / name).exists()}}
    assert [one["name"] for one in tree["rows"]] == [
        "base", "set", "add", "scale", "drop", "copy", "replace", "key", "inherit", "no money",
        "interest = 9 %", "yard = 1.5", "both: interest = 9 %, yard = 1.5"]
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    for one in tree["rows"]:
        plan = json.loads((out / one["plan"]).read_text(encoding="utf-8"))
        jsonschema.validate(plan, schema)
        assert plan["case"]["variation"] == (None if one["name"] == "base" else one["name"])
        assert plan["outcome"]["cost_usd"] == one["cost_usd"]
        assert sum(one["trucks"].values()) == len(plan["trucks"])
    with open(out / "vary.csv", encoding="utf-8", newline="") as file:
        costs = [line["cost [USD]"] for line in csv.DictReader(file)]
    assert costs[-1] == "" and [float(usd) for usd in costs[:-1]] == sorted(map(float, costs[:-1]))
    assert max(map(len, (made / "screen.txt").read_text(encoding="utf-8").splitlines())) <= 80


def test_a_variation_without_a_plan_is_a_row_and_no_error(made: Path) -> None:
    """1,000 USD buy no truck: no plan exists, which the row, its plan.json and the screen say."""
    found = row(made, "no money")
    assert (found["proof"], found["stopped"], found["cost_usd"], found["difference"]["verdict"]) == (
        "none", "no plan exists", None, "no plan")
    plan = json.loads((made / "out" / found["plan"]).read_text(encoding="utf-8"))
    assert plan["outcome"]["stopped"] == "no plan exists" and plan["trucks"] == []
    assert "no plan 1" in (made / "screen.txt").read_text(encoding="utf-8")


def test_two_way_sweeps_make_a_map(made: Path) -> None:
    """The combination stands in two sweeps: one cell, proved."""
    (found,) = document(made)["maps"]
    assert (found["down"], found["across"], found["down_values"], found["across_values"]) == (
        "interest", "yard", ["9 %"], ["1.5"])
    assert [(cell["name"], cell["decided"]) for cell in found["cells"]] == [
        ("both: interest = 9 %, yard = 1.5", True)]


@pytest.mark.parametrize("command", ["recheck", "why", "bid", "drill"])
def test_what_works_on_a_plan_works_on_that_of_a_variation(command: str, made: Path) -> None:
    """The plan without half-ton trucks is rechecked, explained, priced and drilled in its own case."""
    done = run(command, made / "out" / "plans" / "drop", "--json")
    assert done.exit_code == 0, done.stderr
    assert "tqt+" in done.stdout or command in ("recheck", "bid")


def test_a_plan_is_of_its_variation_and_no_other(made: Path, tmp_path: Path) -> None:
    """The plan of one variation fails its recheck as that of another, of none, and of one that is not there;
    variations.toml is one of its inputs, and that of the base does not need it."""
    out = tmp_path / "plan"
    plan = json.loads((made / "out" / "plans" / "add" / "plan.json").read_text(encoding="utf-8"))
    text = (made / "case" / "variations.toml").read_bytes()
    assert plan["case"]["inputs"]["variations.toml"] == sha256(text).hexdigest()
    out.mkdir()
    for name, said in (("key", "failed"), ("gone", "no variation 'gone'"), (None, "variations.toml")):
        plan["case"]["variation"] = name
        (out / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
        done = run("recheck", out)
        assert done.exit_code == 6
        assert said in " ".join((done.stdout + done.stderr).split())
    base = json.loads((made / "out" / "plans" / "base" / "plan.json").read_text(encoding="utf-8"))
    assert "variations.toml" not in base["case"]["inputs"]


def test_a_changed_variations_file_is_noticed(made: Path, tmp_path: Path) -> None:
    """A comment added to variations.toml: the plan's inputs are no longer the same, exit 6 names the file."""
    case = Path(shutil.copytree(made / "case", tmp_path / "case"))
    with open(case / "variations.toml", "a", encoding="utf-8") as file:
        file.write("# more\n")
    done = run("recheck", made / "out" / "plans" / "add", "--case", case)
    said = " ".join(done.stderr.split())
    assert done.exit_code == 6 and "changed: variations.toml. Run `optibuild vary` again." in said


def test_a_real_pair_is_undecided_until_it_is_settled(tmp_path: Path) -> None:
    """At a gap of 30 % the dearer half-ton may cost more or not. Settled, it surely does; the difference of
    two searches at gap 0 lies within what is said, before and after."""
    text = VARIATIONS.partition('[[variation]]\nname = "scale"')[0]
    case = case_with(tmp_path / "case", text, case_toml=(("gap = 0", "gap = 0.3"),))
    variants = [one for one in read_variants(case) if one.name in ("base", "add")]
    cold = [make_plan(replace(one.case, solve=replace(one.case.solve, gap=0))) for one in variants]
    costs = [one.outcome.cost_usd for one in cold]
    assert costs[0] is not None and costs[1] is not None

    def solve(cases: Any) -> Any:
        return [make_plan(one) for one in cases]

    plain, settled = (what_if.vary(variants, solve, settle).comparison for settle in (False, True))
    assert plain.undecided == ("add",)
    low, high = plain.rows[1].difference.from_usd, plain.rows[1].difference.to_usd
    assert low is not None and high is not None and low <= costs[1] - costs[0] <= high
    assert settled.undecided == () and settled.rows[1].difference.verdict == "more"
    assert settled.rounds >= 1 and settled.rows[1].gap < plain.rows[1].gap
    low, high = settled.rows[1].difference.from_usd, settled.rows[1].difference.to_usd
    assert low is not None and high is not None and 0 < low <= costs[1] - costs[0] + 1e-6 <= high + 2e-6


# ---- what goes wrong


@pytest.mark.parametrize("as_json", [False, True])
def test_problems_in_variations_end_with_3_and_their_place(as_json: bool, tmp_path: Path) -> None:
    """An unknown column in row 4 and a name that is there twice: both told with their rows, nothing is
    written or solved."""
    text = ('[[variation]]\nname = "a"\n\nchange = [{ table = "trucks", column = "prise", set = "1 USD" }]\n'
            '[[variation]]\nname = "a"\nset = { "money.wage" = "30 USD/h" }\n')
    case = case_with(tmp_path / "case", text)
    done = run("vary", case, "--out", tmp_path / "out", *(["--json"] if as_json else []))
    assert done.exit_code == 3 and not (tmp_path / "out").exists()
    if as_json:
        tree = json.loads(done.stdout)
        places = {(place["file"], place["row"]) for one in tree["problems"] for place in one["places"]}
        assert {("variations.toml", 4), ("variations.toml", 6)} <= places and not tree["ok"]
    else:
        assert "row 4" in done.stderr and "row 6" in done.stderr and "price" in done.stderr


def test_wrong_calls_end_with_2_and_write_nothing(tmp_path: Path) -> None:
    """A case without variations.toml, and a folder with a vary.csv of someone else's: each says so."""
    case = case_with(tmp_path / "case", None)
    done = run("vary", case, "--out", tmp_path / "out")
    assert done.exit_code == 2 and "there is no variations.toml" in " ".join(done.stderr.split())
    (case / "variations.toml").write_text('[[variation]]\nname = "a"\nset = { "money.wage" = "30 USD/h" }\n',
                                          encoding="utf-8")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "vary.csv").write_text("mine", encoding="utf-8")
    done = run("vary", case, "--out", tmp_path / "out")
    assert done.exit_code == 2 and "vary.csv" in done.stderr
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["vary.csv"]


@pytest.mark.parametrize(("plans", "code", "said"), [
    ("none exists", 4, "no plan exists"), ("stopped", 5, "before any plan was found"),
    ("interrupted", 5, "goes on from there")])
def test_exit_codes_where_there_is_no_plan_at_all(plans: str, code: int, said: str, tmp_path: Path,
                                                  monkeypatch: pytest.MonkeyPatch) -> None:
    """No case has a plan: 4, and the files say so. Every search stopped, or the user stopped it: 5, nothing
    is written, and an interruption tells where the results are from which the same command goes on."""
    def solved(cases: Any, **_: Any) -> Any:
        if plans == "interrupted":
            raise KeyboardInterrupt
        return [make_plan(one) if plans == "none exists" else None for one in cases]

    monkeypatch.setattr(what_if, "solve_many", solved)
    text = '[[variation]]\nname = "a"\nset = { "money.wage" = "30 USD/h" }\n'
    case = case_with(tmp_path / "case", text, case_toml=(("[money]\n", '[money]\nbudget = "1000 USD"\n'),))
    done = run("vary", case, "--out", tmp_path / "out")
    assert done.exit_code == code
    assert said in " ".join((done.stdout + done.stderr).split())
    assert (tmp_path / "out" / "vary.json").exists() == (code == 4)


def test_what_was_solved_is_not_solved_again(made: Path, tmp_path: Path,
                                             monkeypatch: pytest.MonkeyPatch) -> None:
    """The same command in a copy of the folder whose variations.toml has a comment and a new name more: no
    process is started, for every case was solved before."""
    case, out = tmp_path / "case", tmp_path / "out"
    shutil.copytree(made / "case", case)
    shutil.copytree(made / "out", out)
    edit(case / "variations.toml", (('name = "drop"', 'name = "without half-tons" # new'),))
    monkeypatch.setattr(what_if.sweep, "Processes", None)
    done = run("vary", case, "--out", out, "--sort", "name", "--json")
    assert done.exit_code == 0, done.stderr
    names = [one["name"] for one in json.loads(done.stdout)["rows"]]
    assert "without half-tons" in names and "drop" not in names
    plan = json.loads((out / "plans" / "without-half-tons" / "plan.json").read_text(encoding="utf-8"))
    text = (case / "variations.toml").read_bytes()
    assert plan["case"]["inputs"]["variations.toml"] == sha256(text).hexdigest()
    assert run("recheck", out / "plans" / "without-half-tons").exit_code == 0


def test_what_is_no_longer_told_of_is_removed(made: Path, tmp_path: Path) -> None:
    """Without its combination and with a variation renamed, the same command takes out the map and the plan
    of the old name. A plan.json of someone else in the folder of another name that is gone stays, and so does
    a note beside the plan of a third."""
    case, out = tmp_path / "case", tmp_path / "out"
    shutil.copytree(made / "case", case)
    shutil.copytree(made / "out", out)
    text = (case / "variations.toml").read_text(encoding="utf-8").partition("[[combination]]")[0]
    for name in ("drop", "set", "add"):
        text = text.replace(f'name = "{name}"', f'name = "{name} it"').replace(f'"{name}",', f'"{name} it",')
    (case / "variations.toml").write_text(text, encoding="utf-8")
    (out / "plans" / "set" / "plan.json").write_text("mine", encoding="utf-8")
    (out / "plans" / "add" / "note.txt").write_text("mine", encoding="utf-8")
    assert (out / "vary_sizes.csv").exists() and (out / "plans" / "drop").exists()
    done = run("vary", case, "--out", out)
    assert done.exit_code == 0, done.stderr
    assert not (out / "vary_sizes.csv").exists() and not (out / "plans" / "drop").exists()
    assert (out / "plans" / "drop-it" / "plan.json").exists() and (out / "vary.csv").exists()
    assert (out / "plans" / "set" / "plan.json").read_text(encoding="utf-8") == "mine"
    assert [path.name for path in (out / "plans" / "add").iterdir()] == ["note.txt"]


@pytest.mark.parametrize("moved", [1, 3, 15])
def test_a_command_ended_while_it_writes_goes_on(moved: int, made: Path, tmp_path: Path,
                                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """Ended after so many of its files are in place, the same command finds a folder that it takes for its
    own, and ends with all files."""
    out = tmp_path / "out"
    shutil.copytree(made / "out" / "solved", out / "solved")
    real, done = os.replace, []

    def replacing(source: Path, target: Path) -> None:
        if len(done) == moved:
            raise SystemExit(9)
        done.append(target)
        real(source, target)

    monkeypatch.setattr("optibuild.cli.folder.os.replace", replacing)
    assert run("vary", made / "case", "--out", out).exit_code == 9
    monkeypatch.undo()
    assert len(done) == moved and not (out / "vary.xlsx").exists()
    again = run("vary", made / "case", "--out", out)
    assert again.exit_code == 0, again.stderr
    assert {path.name for path in out.iterdir()} == {*TABLES, "plans", "solved"}


@pytest.mark.parametrize(("at", "line"), [
    (SweepProgress(0, 12, None), "0 of 12 cases"),
    (SweepProgress(3, 1200, 119.0), "3 of 1,200 cases, about 119 s left"),
    (SweepProgress(3, 12, 600.0), "3 of 12 cases, about 10 min left"),
    (SweepProgress(12, 12, 0.0), "12 of 12 cases"),
])
def test_the_line_of_progress(at: SweepProgress, line: str) -> None:
    """How many are done of how many, and about how long the rest takes, once that is known."""
    assert progress_line(at) == line

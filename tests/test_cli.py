"""The commands: exit codes, messages, what is written and what is left alone."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from math import inf, isfinite
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from optibuild import pipeline
from optibuild.cli import main
from optibuild.cli.progress import covered_sites, progress_line
from optibuild.errors import RecheckFailed, StoppedWithoutPlan
from optibuild.records import Case

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
SCHEMA = json.loads((ROOT / "optibuild" / "plan" / "plan.schema.json").read_text(encoding="utf-8"))
WRITTEN = {"plan.json", "plan.xlsx", "plan.geojson", "report.html", "sheets.html",
           *(f"{name}.csv" for name in ("plan", "items", "builds", "trucks", "axle_loads", "loops", "stops",
                                        "sites", "money", "bid", "shortfall", "checks", "assumptions"))}

Edit = tuple[str, str, str]


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def process(*words: object, **extra: str) -> subprocess.CompletedProcess[bytes]:
    """One command in a process of its own."""
    return subprocess.run([sys.executable, "-m", "optibuild", *map(str, words)], capture_output=True,
                          timeout=120, env={**os.environ, **extra}, cwd=ROOT)


@pytest.fixture
def small(tmp_path: Path) -> Callable[..., Path]:
    """Makes a copy of the small case with edits: (file, old text, new text)."""
    def copy(*edits: Edit) -> Path:
        folder = tmp_path / "case"
        shutil.copytree(SMALL, folder)
        for file, old, new in edits:
            text = (folder / file).read_text(encoding="utf-8")
            assert old in text
            (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
        return folder
    return copy


BUDGET = ("case.toml", "[money]\n", '[money]\nbudget = "{} USD"\n')


def budget(usd: int) -> Edit:
    """The edit that gives the small case a budget."""
    file, old, new = BUDGET
    return file, old, new.format(usd)


@pytest.mark.parametrize("words", [
    ("plan", SMALL), ("plan",), ("nonsense",), ("check", "no-such-folder"), ("fit", SMALL, "--nonsense"),
    ("fit", SMALL, "--truck", "htt"), ("fit", SMALL, "--explain", "ht+p75"),
    ("times", SMALL, "--site", "nowhere"), ("recheck", "no-such-folder"),
    ("plan", SMALL, "--out", "x", "--gap", "half"), ("plan", SMALL, "--out", "x", "--gap", "1"),
    ("plan", SMALL, "--out", "x", "--gap", "-1 %"), ("plan", SMALL, "--out", "x", "--time-limit", "0 min"),
    ("plan", SMALL, "--out", "x", "--time-limit", "2 lb"), ("plan", SMALL, "--out", str(SMALL / "case.toml")),
    ("plan", SMALL, "--out", str(SMALL / "case.toml" / "deeper")),
])
def test_wrong_usage_ends_with_2(words: tuple[object, ...], tmp_path: Path,
                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong call ends with 2 and a message on standard error, and writes nothing."""
    monkeypatch.chdir(tmp_path)
    done = run(*words)
    assert done.exit_code == 2
    assert done.stderr
    assert not done.stdout
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("gap", ["1", "5"])
def test_a_gap_without_percent_says_how_to_write_it(gap: str, tmp_path: Path) -> None:
    """A bare 1 or 5 would be all of the cost or more: the sign that is missing is named."""
    told = " ".join(run("plan", SMALL, "--out", tmp_path / "x", "--gap", gap).stderr.split())
    assert f"write '{gap} %'" in told


def test_a_misspelt_id_names_the_nearest() -> None:
    """An id that the case does not have is answered with the one it looks like."""
    assert "did you mean 'ht+p75+tg'?" in run("fit", SMALL, "--explain", "ht+p75+tgg").stderr


BAD_INPUT: dict[str, tuple[Edit, str]] = {
    "missing file": (("case.toml", "[case]", '[tables]\ntrucks = "none.csv"\n[case]'), "none.csv"),
    "wrong unit": (("trucks.csv", "gvwr [lb]", "gvwr [ft]"), "gvwr [ft]"),
    "text for a number": (("trucks.csv", '"7,050"', "heavy"), "row 2, gvwr [lb]"),
    "negative weight": (("trucks.csv", '"2,850"', "-2850"), "row 2, curb_front [lb]"),
    "duplicate id": (("trucks.csv", "\ntqt,", "\nht,"), "row 3, id"),
    "GAWR sum below GVWR": (("trucks.csv", '"3,900","4,150"', '"3,400","3,600"'), "row 2"),
    "curb weight above GVWR": (("trucks.csv", '"2,850","2,100"', '"3,850","4,100"'), "row 2"),
    "zero sites": (("sites.csv", (SMALL / "sites.csv").read_text(encoding="utf-8").partition("\n")[2], ""),
                   "sites.csv"),
    "nan": (("plows.csv", "450,80", "nan,80"), "row 2, blade_mass [lb]"),
    "inf": (("plows.csv", "450,80", "inf,80"), "row 2, blade_mass [lb]"),
    "1e999": (("plows.csv", "450,80", "1e999,80"), "row 2, blade_mass [lb]"),
    "latitude of 144.9": (("sites.csv", "44.51,", "144.9,"), "row 2, lat"),
    "2.5 seats": (("trucks.csv", ",38,3,", ",38,2.5,"), "row 2, seats"),
    "negative count": (("season.csv", "light,12,", "light,-12,"), "row 2, count"),
}


@pytest.mark.parametrize("kind", BAD_INPUT)
@pytest.mark.parametrize("command", ["check", "fit", "times", "plan"])
def test_bad_input_ends_with_3_and_place_and_remedy(kind: str, command: str, small: Callable[..., Path],
                                                    tmp_path: Path) -> None:
    """Bad input is told with its place and a remedy, ends with 3, and no plan folder is left behind."""
    edit, place = BAD_INPUT[kind]
    out = tmp_path / "plan"
    done = run(command, small(edit), *(("--out", out) if command == "plan" else ()))
    assert done.exit_code == 3
    told = done.stdout if command == "check" else done.stderr
    assert re.search(r"^\d+ errors? ", told)
    assert place in told
    assert "remedy:" in told
    assert "Traceback" not in done.output
    assert not out.exists()
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["case"]


def test_all_problems_are_told_at_once_under_their_files(small: Callable[..., Path]) -> None:
    """Three problems in two files are listed in one run, each under its file."""
    done = run("check", small(*(BAD_INPUT[kind][0] for kind in ("nan", "2.5 seats", "text for a number"))))
    lines = done.stdout.splitlines()
    assert lines[0] == "3 errors in the input"
    assert [line for line in lines if line in ("plows.csv", "trucks.csv")] == ["plows.csv", "trucks.csv"]


def test_check_counts_what_a_case_holds() -> None:
    """The small case has 3 trucks, 3 plows, 2 spreaders and 4 sites, as its tables show."""
    tree = json.loads(run("check", SMALL, "--json").stdout)
    assert tree["ok"] is True
    assert tree["problems"] == []
    assert {"trucks": 3, "plows": 3, "spreaders": 2, "sites": 4}.items() <= tree["counts"].items()
    assert "3 trucks, 3 plows, 2 spreaders" in run("check", SMALL).stdout


def test_check_json_carries_the_problem_record(small: Callable[..., Path]) -> None:
    """A problem in JSON has its code, place, value and remedy; the exit code stays 3."""
    done = run("check", small(BAD_INPUT["nan"][0]), "--json")
    tree = json.loads(done.stdout)
    assert done.exit_code == 3
    assert tree["ok"] is False
    assert tree["counts"] is None
    (problem,) = tree["problems"]
    assert set(problem) == {"code", "severity", "title", "text", "remedy", "places", "value", "expected"}
    assert problem["places"] == [{"file": "plows.csv", "sheet": "", "row": 2, "column": "blade_mass [lb]",
                                  "cell": "F2"}]


def test_a_warning_alone_is_no_failure(small: Callable[..., Path]) -> None:
    """A doubtful figure is told on standard error and the command goes on."""
    case = small(("case.toml", "[solve]", '[assumptions]\nplow_speed = "20 mph"\n[solve]'))
    done = run("fit", case)
    assert done.exit_code == 0
    assert "warning" in done.stderr
    assert "warning" not in done.stdout


def test_fit_json_tells_loads_in_every_state() -> None:
    """A build with plow and spreader has four load states, whose axle loads sum to gross; raised empty the
    half-ton weighs 4,950 + 150 (driver) + 530 (p75) + 180 (tg) = 5,810 lb."""
    chosen = ("--truck", "ht", "--plow", "p75", "--spreader", "tg")
    (build,) = json.loads(run("fit", SMALL, "--json", *chosen).stdout)["builds"]
    assert build["build"] == "ht+p75+tg"
    assert build["fits"] is True
    states = [row["state"] for row in build["axle_loads"]]
    assert states == ["raised empty", "raised full", "off empty", "off full"]
    assert build["axle_loads"][0]["gross_kg"] == pytest.approx(5810 * 0.45359237)
    for row in build["axle_loads"]:
        assert row["front_kg"] + row["rear_kg"] == pytest.approx(row["gross_kg"])


def test_fit_filters_and_shows_the_rejected() -> None:
    """--plow - leaves builds without a plow; --rejected lists what the heavy plow breaks on the half-ton."""
    bare = json.loads(run("fit", SMALL, "--json", "--plow", "-").stdout)["builds"]
    assert bare
    assert {row["plow"] for row in bare} == {None}
    shown = run("fit", SMALL, "--truck", "ht", "--plow", "p90", "--rejected").stdout
    assert "front GAWR, raised empty" in " ".join(shown.split())


def test_fit_explain_sums_its_moments() -> None:
    """The moment sheets of the half-ton with p75 and tg: the front axle is heaviest raised empty, 5,810 lb,
    the rear one off full, 5,810 - 450 (blade) + 600 lb of fill, the hopper's 8 ft^3 of salt at 75 lb/ft^3,
    and gross raised full, 6,410."""
    lines = run("fit", SMALL, "--explain", "ht+p75+tg").stdout.splitlines()
    totals = [line.split()[1] for line in lines if line.startswith("total")]
    assert totals == ["5,810", "5,960", "6,410"]


def test_fit_rejected_shows_only_what_does_not_fit() -> None:
    """With --rejected no build that fits is listed, on the screen or as JSON, and the two kinds make up
    all."""
    rejected, whole = (json.loads(run("fit", SMALL, "--json", *words).stdout)["builds"]
                       for words in (("--rejected",), ()))
    assert rejected == [row for row in whole if not row["fits"]]
    assert 0 < len(rejected) < len(whole)
    assert "binds" not in run("fit", SMALL, "--rejected").stdout


def test_fit_marks_and_filters_what_is_near_a_rating() -> None:
    """--near-rating keeps exactly the builds that JSON says are near; the screen marks them in words."""
    near, whole = (json.loads(run("fit", SMALL, "--json", *words).stdout)["builds"]
                   for words in (("--near-rating",), ()))
    assert near == [row for row in whole if row["near_rating"]]
    assert 0 < len(near) < len(whole)
    shown = run("fit", SMALL, "--near-rating").stdout
    assert "near rating" in " ".join(shown.split())
    titles = set(re.findall(r"^(\w+), [a-z-]+\n---", shown, re.MULTILINE))
    assert titles == {row["truck"] for row in near if row["fits"]}
    certain = run("fit", SMALL, "--plow", "-", "--spreader", "tg", "--truck", "ot").stdout
    assert "near rating" not in " ".join(certain.split()).lower()


def test_fit_explain_tells_a_rejected_build_what_would_help() -> None:
    """The half-ton with the 9 ft vee blade. By hand on 140 in: 2,850 lb of curb, a driver of 150 at 62, 140
    of mount at -38 and 850 of blade at -66 in, 960 of bags at 176 put 2,850 + 83.6 + 178 + 1,250.7 - 246.9 =
    4,115.4 lb on the front axle. With 18 bags (277.7 lb off) a blade of b lb would do where b·206/140 is
    1,066.1, at 724.6 lb, and a nineteenth bag is over GVWR."""
    shown = " ".join(run("fit", SMALL, "--explain", "ht+p90+-").stdout.split())
    assert "What would make it fit" in shown
    assert "- Lighter plow: p80 with 12 bag. - Lighter plow: p75." in shown
    assert "front GAWR 4,115 lb (has 3,900 lb)" in shown and "49 CFR 567.4-567.7" in shown
    (row,) = json.loads(run("fit", SMALL, "--json", "--explain", "ht+p90+-").stdout)["builds"]
    assert row["sensitivity"]["blade_lighter_kg"] / 0.45359237 == pytest.approx(850 - 724.56, abs=0.01)
    assert [one["id"] for one in row["would_fit"]["plows"]] == ["p80", "p75"]
    assert [one["state"] for one in row["moments"]] == ["raised empty", "off empty"]
    assert row["moments"][0]["lines"][-1]["front_kg"] / 0.45359237 == pytest.approx(4115.4, abs=0.1)


def test_fit_explain_of_a_build_that_fits_has_nothing_to_mend() -> None:
    """A build that fits tells how much heavier its blade may get, and has no remedies."""
    shown = run("fit", SMALL, "--explain", "ht+p75+-").stdout
    assert "before the build no longer fits" in " ".join(shown.split())
    assert "What would make it fit" not in shown
    for row in json.loads(run("fit", SMALL, "--json", "--explain", "ht+p75+-").stdout)["builds"]:
        assert row["would_fit"] is None
    assert "moments" not in json.loads(run("fit", SMALL, "--json").stdout)["builds"][0]


def test_a_tank_comes_with_its_caution(small: Callable[..., Path]) -> None:
    """Where a build that is shown carries a tank, sloshing is said to be ignored, and only there."""
    case = small(("spreaders.csv", "hopper in the bed,hopper", "tank in the bed,tank"))
    assert "sloshing is ignored" in " ".join(run("fit", case).stdout.split())
    assert "sloshing" not in run("fit", case, "--spreader", "tg").stdout
    assert "sloshing" not in run("fit", SMALL).stdout


def test_times_explain_ends_in_what_is_left() -> None:
    """The sheet of a stop shows the area typed, says yes first, and ends with what is left of its limits."""
    shown = run("times", SMALL, "--explain", "clinic", "ht+p75+tg").stdout
    assert re.search(r"^area +0\.500 +acre$", shown, re.MULTILINE)
    left = [line.partition("  ")[0] for line in shown.splitlines()[-2:]]
    assert left == ["left of the cycle limit", "left of the deadline"]
    assert re.search(r"^can be done alone in a loop +yes$", shown, re.MULTILINE)


@pytest.mark.parametrize("options", [
    ("--explain", "clinic", "ht+p75+tg", "--site", "bank"), ("--parcels", "--site", "bank"),
    ("--parcels", "--depths"), ("--loop", "ht+p75+tg"), ("--depths", "--site", "bank", "--site", "yard")])
def test_times_refuses_options_that_do_not_go_together(options: tuple[str, ...]) -> None:
    """What would be ignored is wrong usage: exit code 2 and a word about it."""
    done = run("times", SMALL, *options)
    assert done.exit_code == 2 and "--" in done.stderr and not done.stdout


def test_times_json_has_every_work_in_reach() -> None:
    """Every site of the small case is in reach, and only builds with a spreader deice the school."""
    tree = json.loads(run("times", SMALL, "--json").stdout)
    assert {row["site"] for row in tree["times"]} == {"bank", "clinic", "yard", "school"}
    assert tree["out_of_reach"] == []
    assert not [row for row in tree["times"] if row["site"] == "school" and row["build"].endswith("+-")]


@pytest.mark.parametrize(("slowdown", "told"), [
    (0, "not 30.0 min. See that"), (50, "not 45.0 min (minutes of the storm, slowdown included). See that")])
def test_ways_round_say_whose_minutes_they_tell(slowdown: int, told: str, small: Callable[..., Path]) -> None:
    """A leg of 30 min that a way round beats is told as 30 min, or as 45 min of a storm that slows by half;
    then it is said that these are not the minutes of the table."""
    case = small(("case.toml", "[storm]\n", f'[storm]\nslowdown = "{slowdown} %"\n'))
    (case / "travel.csv").write_text(
        "from,to,time [min]\nyard-depot,bank,30\nyard-depot,clinic,4\nclinic,bank,4\n", encoding="utf-8")
    shown = run("times", case).stdout
    assert told in " ".join(shown.split())
    assert max(map(len, shown.splitlines())) <= 80


def test_loop_json_has_no_remedies_that_nobody_sought() -> None:
    """What one build cannot do alone has the keys of `times` but for remedies and changes, which are sought
    over all builds; the school has to be deiced, which a build without a spreader cannot."""
    tree = json.loads(run("times", SMALL, "--loop", "ht+p75+-", "--site", "school", "--json").stdout)
    (row,) = tree["out_of_reach"]
    assert set(row) == {"site", "work", "reason", "nearest", "over_by", "unit"}
    assert row["reason"] == "needs a spreader"


VARIANTS: dict[str, tuple[Edit, ...]] = {
    "cover": (),
    "value": (("case.toml", '"cover"', '"value"'), budget(60_000)),
    "profit": (("case.toml", '"cover"', '"profit"'),),
    "metric": (("case.toml", '[case]\n', '[case]\nunits = "si"\n'),),
    "budget too small": (budget(40_000),),
    "out of reach": (("sites.csv", "bank,Invented Bank,44.51", "bank,Invented Bank,54.51"),),
}
NO_PLAN = {"budget too small", "out of reach"}


@pytest.mark.parametrize("kind", VARIANTS)
def test_what_plan_writes_keeps_to_the_schema_and_rechecks(kind: str, small: Callable[..., Path],
                                                           tmp_path: Path) -> None:
    """plan.json keeps to the schema and passes `recheck`; 4 where no plan exists, with the shortfall."""
    case, out = small(*VARIANTS[kind]), tmp_path / "plan"
    done = run("plan", case, "--out", out)
    assert done.exit_code == (4 if kind in NO_PLAN else 0)
    assert {entry.name for entry in out.iterdir()} == WRITTEN
    tree = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    jsonschema.validate(tree, SCHEMA, jsonschema.Draft202012Validator)
    assert bool(tree["trucks"]) is (kind not in NO_PLAN)
    assert (tree["shortfall"] is not None) is (kind in NO_PLAN)
    again = run("recheck", out)
    assert again.exit_code == 0
    assert "BROKEN" not in again.stdout
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["case", "plan"]


def test_no_plan_says_what_stands_in_the_way(small: Callable[..., Path], tmp_path: Path) -> None:
    """Too little money: the least budget that serves the sites, 38,000 + 5,000 + 2,500 USD for the cheapest
    truck, plow and spreader, and what is short of it."""
    done = run("plan", small(budget(40_000)), "--out", tmp_path / "plan")
    told = " ".join(done.stdout.split())
    assert "is 45,500 USD. The budget is 40,000 USD, short by 5,500 USD." in told


def test_no_plan_names_the_site_out_of_reach(small: Callable[..., Path], tmp_path: Path) -> None:
    """A bank 10 degrees of latitude away cannot be reached within a day: named, with what to look at."""
    done = run("plan", small(*VARIANTS["out of reach"]), "--out", tmp_path / "plan")
    told = " ".join(done.stdout.split())
    assert "bank, plow: cycle limit missed by" in told
    assert "No single change of the site" in told and "add a depot nearer by" in told


def test_where_a_plan_is_written_fits_the_screen(tmp_path: Path) -> None:
    """The note of the folder, which has a long name, is wrapped to 80 columns and has lost nothing."""
    out = tmp_path / "a-plan-in-a-folder-with-a-very-long-name" / "and-another-one-in-it"
    done = run("plan", SMALL, "--out", out, "--json")
    assert max(map(len, done.stderr.splitlines())) <= 80
    told = (f"Written to {out}: report.html, sheets.html, plan.json, plan.xlsx, plan.geojson and "
            f"{sum(name.endswith('.csv') for name in WRITTEN)} tables (CSV).")
    assert "".join(done.stderr.split()) == "".join(told.split())


def test_plan_json_is_pure_in_a_process_of_its_own(tmp_path: Path) -> None:
    """With --json nothing but the plan reaches standard output: the solver's banner does not."""
    done = process("plan", SMALL, "--out", tmp_path / "plan", "--json")
    assert done.returncode == 0, done.stderr
    assert done.stdout == (tmp_path / "plan" / "plan.json").read_bytes()
    assert json.loads(done.stdout)["outcome"]["proof"] == "proved best"
    assert b"HiGHS" not in done.stderr


def test_two_processes_write_the_same_bytes(tmp_path: Path) -> None:
    """Two runs of the same case write the same files, the seconds aside."""
    seconds = re.compile(rb'"seconds": [0-9.e-]+|data-seconds="[0-9.e-]+"|[0-9.]+ s(?=[)<])')
    texts = []
    for name, seed in (("one", "1"), ("two", "2")):
        assert process("plan", SMALL, "--out", tmp_path / name, PYTHONHASHSEED=seed).returncode == 0
        texts.append({entry.name: seconds.sub(b"", entry.read_bytes())
                      for entry in sorted((tmp_path / name).iterdir())})
    assert texts[0] == texts[1]


def test_a_reader_that_stops_early_is_no_failure_to_tell() -> None:
    """Piped into a reader that closes, the command ends without a word."""
    done = subprocess.run(f"'{sys.executable}' -m optibuild fit '{SMALL}' --json | head -c 10", shell=True,
                          capture_output=True, timeout=60, cwd=ROOT)
    assert len(done.stdout) == 10
    assert done.stderr == b""


def test_plan_leaves_files_of_others_alone(tmp_path: Path) -> None:
    """A folder that is there keeps what is not ours; our files are replaced."""
    out = tmp_path / "plan"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    (out / "plan.json").write_text("old")
    assert run("plan", SMALL, "--out", out).exit_code == 0
    assert {entry.name for entry in out.iterdir()} == WRITTEN | {"notes.txt"}
    assert (out / "notes.txt").read_text() == "mine"
    assert (out / "plan.json").read_text() != "old"


def test_a_folder_that_cannot_take_the_plan_stays_as_it_was(tmp_path: Path) -> None:
    """Where one of the files cannot be put in place, none is: a folder stands where stops.csv should."""
    out = tmp_path / "plan"
    (out / "stops.csv").mkdir(parents=True)
    (out / "plan.json").write_text("old")
    done = run("plan", SMALL, "--out", out)
    assert done.exit_code == 2
    assert "stops.csv" in done.stderr
    assert {entry.name for entry in out.iterdir()} == {"stops.csv", "plan.json"}
    assert (out / "plan.json").read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize(("error", "code", "words"), [
    (StoppedWithoutPlan("stopped (time limit)"), 5, "stopped (time limit)"),
    (StoppedWithoutPlan("stopped (interrupted)", True), 5, "interrupted"),
    (KeyboardInterrupt(), 5, "interrupted before there was a result"),
    (RecheckFailed("the plan was not written"), 6, "the plan was not written"),
    (ZeroDivisionError("by nothing"), 1, "unexpected failure: ZeroDivisionError: by nothing"),
])
def test_endings_without_a_plan_write_nothing(error: BaseException, code: int, words: str, tmp_path: Path,
                                              monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped, interrupted, failing its recheck or the unexpected: own exit code, no traceback, no folder."""
    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(pipeline, "answer", fail)
    done = run("plan", SMALL, "--out", tmp_path / "plan")
    assert done.exit_code == code
    assert words in done.stderr
    assert "Traceback" not in done.output
    assert not list(tmp_path.iterdir())


def test_interrupt_keeps_the_best_plan(small: Callable[..., Path], tmp_path: Path,
                                       monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C once a plan is known: that plan is written, said to be interrupted, and the command ends with 0;
    afterwards Ctrl-C means what it meant before."""
    before, real = signal.getsignal(signal.SIGINT), pipeline.solve

    def interrupting(case: Case, problem: pipeline.LoopProblem,
                     progress: Callable[[pipeline.Progress], None], *known: object) -> pipeline.LoopOutcome:
        def tell(at: pipeline.Progress) -> None:
            if isfinite(at.best):
                signal.raise_signal(signal.SIGINT)
            progress(at)
        return real(case, problem, tell)

    monkeypatch.setattr(pipeline, "solve", interrupting)
    done = run("plan", small(), "--out", tmp_path / "plan", "--json")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["outcome"]["stopped"] == "interrupted"
    assert signal.getsignal(signal.SIGINT) == before


def test_progress_is_one_line() -> None:
    """The progress line names sites, loops, best, bound and gap: (110 - 99) / 110 = 10 %."""
    assert progress_line("7/8", 1234, 110.0, 99.0, 2.5) == (
        "   2.5 s  7/8 sites  1,234 loops  best 110 USD  bound 99 USD  gap 10.00 %")
    assert progress_line("0/8", 0, inf, -inf, 0.0) == (
        "   0.0 s  0/8 sites  0 loops  best -  bound -  gap -")


def test_progress_line_is_shortened_where_it_is_long() -> None:
    """A longer line leaves out the unit of money, then digits: (250,000 - 249,000) / 250,000 = 0.4 %, and
    (-12,345,678 + 98,765,432) / 12,345,678 = 700 %."""
    assert progress_line("40/40", 34_567, 250_000.0, 249_000.0, 12.0) == (
        "  12.0 s  40/40 sites  34,567 loops  best 250,000  bound 249,000  gap 0.40 %")
    assert progress_line("90+/99", 345_678, -12_345_678.0, -98_765_432.0, 3600.0) == (
        "3600.0 s  90+/99 sites  345.7k loops  best -12.35M  bound -98.77M  gap 700.00 %")


@pytest.mark.parametrize("size", [1.0, 1e3, 1e5, 1e6, 1e7, 1e8])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_progress_line_fits_the_screen_with_its_gap(size: float, sign: float) -> None:
    """Up to a billion dollars the line has at most 79 characters and ends with the gap, here 50 % of the
    best."""
    line = progress_line("400/400", int(1e4 + size // 1e3), sign * 9.87654 * size,
                         sign * 9.87654 * size - 4.93827 * size, 9999.9)
    assert len(line) <= 79
    assert line.endswith("gap 50.00 %")


def test_a_gap_beyond_measure_is_one_word() -> None:
    """Where the best costs about nothing, the gap is no number worth reading."""
    assert progress_line("4/4", 10, 0.0, -500.0, 1.0).endswith("gap over 1000 %")


def test_sites_covered_are_those_that_must_be() -> None:
    """Before there is a plan no site is covered; after it, those that must be, and more where others may."""
    assert [covered_sites(False, 5, 3), covered_sites(True, 5, 3), covered_sites(True, 5, 5)] == [
        "0/5", "3+/5", "5/5"]


def test_stopped_but_proved_impossible_ends_with_4(small: Callable[..., Path], tmp_path: Path,
                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that only ran out of time ends with 4 where the least budget proves that no plan exists."""
    def stop(*_: object) -> None:
        raise StoppedWithoutPlan("stopped (time limit)")

    monkeypatch.setattr(pipeline, "answer", stop)
    done = run("plan", small(budget(40_000)), "--out", tmp_path / "plan")
    assert done.exit_code == 4
    tree = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    least = tree["shortfall"]["least_budget"]
    assert (least["usd"], least["bound_usd"], least["proved"]) == (45500.0, 45500.0, True)


def test_the_program_is_written_with_its_legend(small: Callable[..., Path], tmp_path: Path) -> None:
    """The LP text names the site that each row covers and the drivers that limit the loops."""
    file = tmp_path / "loops.lp"
    case = small(("case.toml", "occupants = 1", "occupants = 1\ndrivers = 3"))
    assert run("plan", case, "--out", tmp_path / "plan", "--program", file).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert "\\ cover_1: both, all parcels of site clinic" in text
    assert re.search(r"^\\ loops: ", text, re.MULTILINE)
    assert "\\ budget" not in text
    assert "Minimize" in text
    assert re.search(r"^cover_1: .*>= 1$", text, re.MULTILINE)


def test_options_override_the_case(small: Callable[..., Path], tmp_path: Path) -> None:
    """--gap replaces solve.gap: the plan says so, and its recheck holds it to that gap."""
    out = tmp_path / "plan"
    assert run("plan", small(), "--out", out, "--gap", "30 %", "--time-limit", "1 min").exit_code == 0
    tree = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert tree["outcome"]["asked_gap"] == 0.3
    assert run("recheck", out).exit_code == 0


@pytest.fixture
def planned(small: Callable[..., Path], tmp_path: Path) -> tuple[Path, Path]:
    """A written plan and its case."""
    case, out = small(), tmp_path / "plan"
    assert run("plan", case, "--out", out).exit_code == 0
    return case, out


def test_recheck_finds_a_doctored_plan(planned: tuple[Path, Path]) -> None:
    """A plan whose first stop is said to end a minute early fails, with 6, naming the check."""
    _, out = planned
    tree = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    tree["trucks"][0]["loop"]["stops"][0]["leave_min"] -= 1.0
    (out / "plan.json").write_text(json.dumps(tree), encoding="utf-8")
    done = run("recheck", out)
    assert done.exit_code == 6
    assert "BROKEN" in done.stdout
    assert json.loads(run("recheck", out, "--json").stdout)["passed"] is False


@pytest.mark.parametrize("change", ["edited", "gone", "broken", "new"])
def test_recheck_names_the_inputs_that_changed(change: str, planned: tuple[Path, Path]) -> None:
    """An input edited, removed, spoilt or newly there ends with 6 and its name."""
    case, out = planned
    if change == "gone":
        (case / "sites.csv").unlink()
    elif change == "new":
        (case / "travel.csv").write_text("from,to,time [min]\nyard-depot,bank,5\n", encoding="utf-8")
    else:
        old = (case / "sites.csv").read_text(encoding="utf-8")
        (case / "sites.csv").write_text(old.replace("0.4,", "0.41," if change == "edited" else "big,"),
                                        encoding="utf-8")
    done = run("recheck", out)
    assert done.exit_code == 6
    assert ("travel.csv" if change == "new" else "sites.csv") in done.stderr
    assert not done.stdout


def test_recheck_finds_a_case_that_moved(planned: tuple[Path, Path]) -> None:
    """A case elsewhere is asked for, and accepted with --case."""
    case, out = planned
    moved = case.rename(case.parent / "elsewhere")
    assert run("recheck", out).exit_code == 2
    assert "--case" in run("recheck", out).stderr
    assert run("recheck", out, "--case", moved).exit_code == 0


def test_a_traceback_is_shown_when_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With --verbose it is told where the unexpected happened, and the exit code stays 1."""
    def fail(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(pipeline, "answer", fail)
    done = run("plan", SMALL, "--out", tmp_path / "plan", "--verbose")
    assert done.exit_code == 1
    assert "in fail\n    raise ZeroDivisionError\n" in done.stderr
    assert " ".join(done.stderr.split()).endswith("report it, with what --verbose tells of it")


def test_public_names_load_when_used() -> None:
    """Every public name of the package is there, and an unknown one is an AttributeError."""
    import optibuild

    assert all(getattr(optibuild, name) is not None for name in optibuild.__all__)
    assert re.fullmatch(r"\d+\.\d+\.\d+", optibuild.__version__)
    with pytest.raises(AttributeError, match="nonsense"):
        optibuild.nonsense  # noqa: B018


def test_plan_never_replaces_files_that_are_not_ours(tmp_path: Path) -> None:
    """A plan onto the case's own folder, or a program onto one of its tables, is refused untouched."""
    case = tmp_path / "case"
    shutil.copytree(Path(__file__).parent / "data" / "small", case)
    before = (case / "sites.csv").read_bytes()
    for options in (["--out", str(case)], ["--out", str(case / "o"), "--program", str(case / "sites.csv")]):
        result = subprocess.run([sys.executable, "-m", "optibuild", "plan", str(case), *options],
                                capture_output=True, text=True)
        assert result.returncode == 2 and "name another" in " ".join(result.stderr.split())
        assert (case / "sites.csv").read_bytes() == before

"""Clumsy calls: each is told what, where and what to do next, by its exit code and, if asked, as JSON."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from test_cli import ROOT, SMALL, process, run

from optibuild import inputs, pipeline
from optibuild.cli import main
from optibuild.errors import TooLarge

OF_CASE = ("check", "fit", "times", "plan", "vary", "frontier")
OF_PLAN = ("bid", "why", "drill", "recheck")
NEEDS_OUT = ("plan", "vary", "frontier")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case, a plan of it, a plan whose case is gone, one without trucks, and what is neither."""
    home = tmp_path_factory.mktemp("clumsy")
    for name in ("case", "bad", "no-sites", "poor"):
        shutil.copytree(SMALL, home / name)
    (home / "no-sites" / "sites.csv").unlink()
    _edit(home / "bad" / "plows.csv", ",450,", ",-450,")
    _edit(home / "poor" / "case.toml", "[money]\n", '[money]\nbudget = "40000 USD"\n')
    (home / "bad" / "variations.toml").write_text(
        '[[variation]]\nname = "a"\nset = {"money.wage" = "30 USD/h"}\n')
    (home / "empty").mkdir()
    (home / "file").write_text("x")
    before = Path.cwd()
    os.chdir(home)
    try:
        assert run("plan", "case", "--out", "plan").exit_code == 0
        assert run("plan", "poor", "--out", "none").exit_code == 4
    finally:
        os.chdir(before)
    for name in ("moved", "spoilt"):
        shutil.copytree(home / "plan", home / name)
    _edit(home / "moved" / "plan.json", '"given_as": "case"', '"given_as": "gone"')
    (home / "spoilt" / "plan.json").write_text("{")
    return home


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


CLUMSY: dict[str, tuple[int, str, str]] = {
    # call: exit code, what is wrong and where, what to do next
    "check nowhere": (2, "no case 'nowhere'", "name a folder with case.toml, or a workbook"),
    "check file": (2, "no case 'file'", "name a folder with case.toml, or a workbook"),
    "check case/sites.csv": (2, "no case 'case/sites.csv'", "name a folder with case.toml"),
    "check empty": (2, "'empty' is no case: it has no case.toml", "`optibuild new DIR` writes one"),
    "check plan": (2, "'plan' is no case", "name the case that this was made from"),
    "fit no-sites": (3, "the table 'sites' is not there", "Add it, or give its path"),
    "chek case": (2, "No such command 'chek'", "Did you mean one of: 'check'"),
    "check": (2, "Missing argument 'CASE'", "--help' for help"),
    "check case --nonsense": (2, "No such option '--nonsense'", "--help' for help"),
    "plan case": (2, "Missing option '--out'", "--help' for help"),
    "plan case --out file": (2, "'file' is a file", "name a folder"),
    "plan case --out file/deeper": (2, "'file/deeper' cannot be written", "name another folder"),
    "plan case --out case": (2, "which the case reads", "name another folder"),
    "plan case --out /proc/plan": (2, "'/proc/plan' was not written", "name another folder"),
    "plan case --out new --gap half": (2, "'half' is not a number with a unit", "--help' for help"),
    "plan case --out new --start empty": (2, "'empty/plan.json' cannot be read", "name the folder that"),
    "plan case --out new --program nowhere/x.lp": (2, "no folder 'nowhere'", "make it, or name another"),
    "fit case --truck zz": (2, "the case has no truck 'zz'", "there are ht, tqt, ot"),
    "times case --site clinik": (2, "no site 'clinik'", "did you mean 'clinic'?"),
    "columns site": (2, "no table 'site'", "did you mean 'sites'?"),
    "new case": (2, "'case' holds case.toml", "name another place"),
    "new file": (2, "'file' is a file", "name a folder"),
    "new book.xlsx": (2, "'book.xlsx' is the name of a workbook", "name a folder, and add --workbook"),
    "vary case --out new": (2, "no variations.toml beside the case 'case'", "write what to vary"),
    "why empty": (2, "'empty/plan.json' cannot be read", "name the folder that `optibuild plan"),
    "why plan/plan.json": (2, "'plan/plan.json/plan.json' cannot be read", "name the folder that"),
    "drill spoilt": (2, "'spoilt/plan.json': this is no plan", "run `optibuild plan` again"),
    "bid none": (2, "its plan has no trucks", "change the case and run `optibuild plan` again"),
    "bid moved": (2, "the case of this plan is not at 'gone'", "say where with --case"),
    "recheck moved": (2, "the case of this plan is not at 'gone'", "say where with --case"),
    "recheck moved --case empty": (2, "the case of this plan is not at 'empty'", "say where with --case"),
    "recheck moved --case bad": (6, "changed: plows.csv", "Run `optibuild plan` again"),
    "bid moved --case case --site zz": (2, "no served site 'zz'", "there are bank, clinic, yard, school"),
    "report plan --with empty": (2, "'empty' holds none of bid.json", "name a folder that bid, why"),
}


@pytest.mark.parametrize("call", CLUMSY)
def test_a_clumsy_call_is_told_what_where_and_what_next(call: str, folder: Path,
                                                        monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong call ends with the exit code of the README, says what and where, and names the next step; no
    traceback, no result, nothing written."""
    monkeypatch.chdir(folder)
    before = sorted(folder.rglob("*"))
    code, what, following = CLUMSY[call]
    done = run(*call.split())
    told = " ".join(done.stderr.split())
    assert done.exit_code == code
    assert what in told and following in told
    assert "Traceback" not in told and not done.stdout
    assert sorted(folder.rglob("*")) == before


def _document(*words: object) -> tuple[int, dict[str, Any]]:
    done = run(*words, "--json")
    return done.exit_code, json.loads(done.stdout)


def test_every_command_with_json_is_tried_below() -> None:
    """The commands of the next tests are all that take --json, `columns` aside, which reads no input."""
    there = {name for name, command in main.commands.items()
             if any(one.name == "as_json" for one in command.params)}
    assert there == {*OF_CASE, *OF_PLAN, "columns"}


@pytest.mark.parametrize("command", OF_CASE)
def test_a_wrong_case_is_told_as_json(command: str, folder: Path, tmp_path: Path) -> None:
    """A plow of negative mass: exit code 3 and its code in JSON, and no folder; no case at all: 2."""
    out = ["--out", tmp_path / "out"] if command in NEEDS_OUT else []
    code, tree = _document(command, folder / "bad", *out)
    assert code == 3 and tree["ok"] is False
    assert [row["code"] for row in tree["problems"]] == ["value.range"]
    code, tree = _document(command, folder / "empty", *out)
    assert code == tree["exit_code"] == 2 and tree["ok"] is False
    assert "has no case.toml" in tree["error"] and tree["problems"] == []
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", OF_PLAN)
def test_a_wrong_plan_is_told_as_json(command: str, folder: Path) -> None:
    """No plan: exit code 2. A plan with a case that has changed since: 6, naming the table. In JSON both."""
    code, tree = _document(command, folder / "empty")
    assert code == tree["exit_code"] == 2 and "plan.json" in tree["error"]
    code, tree = _document(command, folder / "moved", "--case", folder / "bad")
    assert code == tree["exit_code"] == 6 and "plows.csv" in tree["error"]


@pytest.mark.parametrize("words", [("columns", "zz"), ("plan", SMALL), ("fit", SMALL, "--nonsense")])
def test_wrong_usage_is_told_as_json_too(words: tuple[object, ...]) -> None:
    """What is refused before a command begins is JSON on standard output and words on standard error."""
    code, tree = _document(*words)
    assert code == tree["exit_code"] == 2
    assert "".join(tree["error"].split()) in "".join(run(*words).stderr.split())


@pytest.mark.parametrize(("error", "code", "words"), [
    (TooLarge("more than fits"), 3, "more than fits"),
    (KeyboardInterrupt(), 5, "the same command begins anew"),
    (MemoryError("none left"), 1, "unexpected failure: MemoryError: none left")])
def test_whatever_ends_a_command_is_told_as_json(error: BaseException, code: int, words: str,
                                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """Too large a case, Ctrl-C and a defect: their exit code and words as JSON, and the words on standard
    error."""
    monkeypatch.setattr(pipeline, "fit_builds", _raising(error))
    done = run("fit", SMALL, "--json")
    tree = json.loads(done.stdout)
    assert done.exit_code == tree["exit_code"] == code
    assert words in tree["error"] and words in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("where", [">/dev/full", ">&-"])
def test_an_error_that_cannot_be_written_as_json_is_told_in_words(where: str, folder: Path) -> None:
    """Where standard output is full or closed, the problems are told on standard error; the exit code is
    theirs."""
    line = f"{sys.executable} -m optibuild fit {folder / 'bad'} --json {where}"
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, timeout=120, cwd=ROOT)
    assert done.returncode == 3
    assert done.stderr.startswith("1 error in the input\n") and "Traceback" not in done.stderr


def _raising(error: BaseException) -> Callable[..., None]:
    def fail(*_: object) -> None:
        raise error
    return fail


@pytest.mark.parametrize("command", ["check", "fit", "times"])
def test_ctrl_c_ends_every_command_alike(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while a case is read ends with 5 and one line that says so, in commands that search nothing
    too."""
    monkeypatch.setattr(inputs, "check_case", _raising(KeyboardInterrupt()))
    done = run(command, SMALL)
    assert done.exit_code == 5 and not done.stdout
    assert " ".join(done.stderr.split()).startswith("Error: interrupted before there was a result; ")


def test_a_terminal_of_plain_ascii_is_enough(tmp_path: Path) -> None:
    """With LC_ALL=C and nothing that makes up for it, a case with an accent in its name is shown all the
    same, escaped, by check as by an error."""
    case = shutil.copytree(SMALL, tmp_path / "café")
    done = process("check", case, LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    assert done.returncode == 0, done.stderr
    assert b"The case can be used" in done.stdout and done.stdout.isascii()
    done = process("check", tmp_path / "thé", LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    assert done.returncode == 2
    assert done.stderr.startswith(b"Error: there is no case") and done.stderr.isascii()

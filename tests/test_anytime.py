"""A search that is cut short: by its time limit or by Ctrl-C, each in a process of its own."""

import errno
import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from towns import town

from optibuild import pipeline
from optibuild.inputs import read_case
from optibuild.records import Case, Plan

ROOT = Path(__file__).parents[1]
SITES = 40
INTERRUPTS_ITSELF = """
import signal, sys
from optibuild import pipeline
from optibuild.cli import main
real = pipeline.planned_stages
def planned_stages(case):
    signal.raise_signal(signal.SIGINT)
    print("went on", file=sys.stderr)
    return real(case)
pipeline.planned_stages = planned_stages
main()
"""
"""The command with a Ctrl-C that comes while the arrays are made, before the search."""


def run(*words: object) -> subprocess.CompletedProcess[str]:
    """One command."""
    return subprocess.run([sys.executable, "-m", "optibuild", *map(str, words)], capture_output=True,
                          text=True, timeout=240, cwd=ROOT)


def interrupted(words: list[object], once: str) -> tuple[int, str]:
    """One command with a terminal for its standard error, sent a Ctrl-C once that shows what matches `once`;
    its exit code and all that the terminal was sent."""
    master, slave = pty.openpty()
    process = subprocess.Popen([sys.executable, "-m", "optibuild", *map(str, words)], stderr=slave, cwd=ROOT,
                               stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    os.close(slave)
    try:
        shown = _read(master, once)
        assert re.search(once, shown), f"it ended before Ctrl-C: {shown[-300:]}"
        process.send_signal(signal.SIGINT)
        shown += _read(master, None)
        return process.wait(60), shown
    finally:
        process.kill()
        process.wait()
        os.close(master)


def _read(terminal: int, once: str | None, most_s: float = 180.0) -> str:
    """What a terminal is sent until it matches, or until nobody has it open any more."""
    shown, until = "", time.monotonic() + most_s
    while time.monotonic() < until and not (once and re.search(once, shown)):
        if select.select([terminal], [], [], 1.0)[0]:
            try:
                part = os.read(terminal, 65_536)
            except OSError as error:  # how Linux tells that the other end is closed
                assert error.errno == errno.EIO
                break
            if not part:
                break
            shown += part.decode()
    return shown


def outcome(folder: Path) -> dict[str, Any]:
    """The outcome in a written plan."""
    tree: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["outcome"]
    return tree


def files(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {entry.name: entry.read_bytes() for entry in folder.iterdir()}


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A town whose best plan takes some seconds to prove."""
    return town(tmp_path_factory.mktemp("town") / "case", SITES)


@pytest.fixture(scope="module")
def least_usd(case: Path, tmp_path_factory: pytest.TempPathFactory) -> float:
    """What the best plan costs, from a search that nothing cuts short."""
    out = tmp_path_factory.mktemp("best") / "plan"
    assert run("plan", case, "--out", out).returncode == 0
    assert outcome(out)["proof"] == "proved best"
    return float(outcome(out)["objective_usd"])


def test_the_time_limit_gives_the_best_plan_so_far(case: Path, least_usd: float, tmp_path: Path) -> None:
    """One second is not enough: the plan is said to be the best found, its gap is what its cost and bound
    say, the best plan lies between these, it passes its recheck, and the search took little more time."""
    out = tmp_path / "plan"
    assert run("plan", case, "--out", out, "--time-limit", "1 s").returncode == 0
    found = outcome(out)
    assert (found["proof"], found["stopped"]) == ("best found", "time limit")
    assert found["bound_usd"] <= least_usd * (1 + 1e-6) and least_usd <= found["objective_usd"] * (1 + 1e-6)
    assert found["gap"] == pytest.approx(1 - found["bound_usd"] / found["objective_usd"], abs=1e-9)
    assert found["gap"] > 1e-3
    assert found["seconds"] < 10
    assert run("recheck", out).returncode == 0


def test_interrupt_gives_the_best_plan(case: Path, least_usd: float, tmp_path: Path) -> None:
    """Ctrl-C once there is a plan: it is written and said to be interrupted, the command ends with 0, and the
    best plan lies between bound and cost. Every progress line fits the terminal and tells the sites, all of
    which are covered once there is a plan."""
    out = tmp_path / "plan"
    code, shown = interrupted(["plan", case, "--out", out], r"best [1-9]")
    assert code == 0, shown
    found = outcome(out)
    assert found["stopped"] == "interrupted"
    assert 0 <= found["bound_usd"] <= least_usd * (1 + 1e-6)
    assert least_usd <= found["objective_usd"] * (1 + 1e-6)
    assert run("recheck", out).returncode == 0
    lines = [line.rstrip() for line in re.split(r"[\r\n]+", shown) if " loops " in line]
    assert max(map(len, lines)) <= 79
    assert lines[0].strip().split("  ")[1:] == [f"0/{SITES} sites", "0 loops", "best -", "bound -", "gap -"]
    assert f"  {SITES}/{SITES} sites  " in lines[-1]


def stopped_at(case: Case, step: int) -> tuple[Plan, int]:
    """The plan of a search that Ctrl-C reaches when it tells of its progress the so-manieth time (0: never),
    and how often it told."""
    told = 0

    def tell(_: pipeline.Progress) -> None:
        nonlocal told
        told += 1
        if told == step:
            raise KeyboardInterrupt

    return pipeline.make_plan(case, tell), told


def test_the_bound_is_true_whenever_the_search_is_interrupted(tmp_path: Path) -> None:
    """A search of a town of 12 sites, interrupted midway, later and at its last step: bounds never fall, the
    last one says something, none is above the best plan's cost, and no plan is below it."""
    case = read_case(town(tmp_path / "case", 12))
    best, steps = stopped_at(case, 0)
    least = best.outcome.objective_usd
    assert best.outcome.proof == "proved best" and steps >= 4 and least is not None
    found = [stopped_at(case, step)[0] for step in (steps // 2, 3 * steps // 4, steps)]
    bounds = [plan.outcome.bound_usd or 0.0 for plan in found]
    assert bounds == sorted(bounds) and 0 < bounds[-1] <= least * (1 + 1e-6)
    for plan in found:
        assert plan.outcome.stopped == "interrupted"
        assert (plan.outcome.objective_usd or 0.0) >= least * (1 - 1e-6)
        assert plan.recheck and plan.recheck.passed


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """A folder that holds something of ours and something of the user's."""
    out = tmp_path / "plan"
    out.mkdir()
    (out / "plan.json").write_text('{"format": "optibuild-plan/1"}', encoding="utf-8")
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    return out


def test_interrupt_before_any_plan_leaves_things_as_they_were(earlier: Path, tmp_path: Path) -> None:
    """With money for a truck or two there is no plan, which takes the search some time to see: Ctrl-C before
    that ends with 5, says so without a traceback, and leaves the folder's files and its neighbors alone."""
    case = town(tmp_path / "case", 25)
    text = (case / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(text + '[money]\nbudget = "100000 USD"\n', encoding="utf-8")
    before, neighbors = files(earlier), sorted(tmp_path.iterdir())
    code, shown = interrupted(["plan", case, "--out", earlier], r"[1-9]\d* loops  best -")
    assert code == 5, shown
    assert "before any plan was found" in " ".join(shown.split())
    assert "Traceback" not in shown
    assert files(earlier) == before
    assert sorted(tmp_path.iterdir()) == neighbors


def test_interrupt_before_the_search_leaves_things_as_they_were(earlier: Path) -> None:
    """Ctrl-C while the arrays are made ends with 5 at once: they are not finished, nor the search begun."""
    before = files(earlier)
    words = [sys.executable, "-c", INTERRUPTS_ITSELF, "plan", "tests/data/small", "--out", str(earlier)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60, cwd=ROOT)
    assert done.returncode == 5, done.stderr
    assert " ".join(done.stderr.split()).startswith("Error: interrupted before there was a result; ")
    assert files(earlier) == before

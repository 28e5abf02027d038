"""How much is told beside the result, and on what kind of terminal: --quiet, --verbose, color, width."""

import io
import os
import pty
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from test_cli import ROOT, SMALL, run

from optibuild.cli import main
from optibuild.cli.streams import STAGES, live, rewrite

STAGE = re.compile(r"^ *(\d+\.\d\d) s  (.+)$", re.MULTILINE)


@pytest.fixture
def doubtful(tmp_path: Path) -> Path:
    """The small case with a plow speed that looks mistyped: a warning."""
    case = tmp_path / "case"
    case.mkdir()
    for path in SMALL.iterdir():
        text = path.read_text(encoding="utf-8")
        case.joinpath(path.name).write_text(
            text.replace("[solve]", '[assumptions]\nplow_speed = "20 mph"\n[solve]'), encoding="utf-8")
    return case


@pytest.mark.parametrize("place", ["before", "after"])
def test_quiet_leaves_the_result_alone(place: str, doubtful: Path) -> None:
    """--quiet, before the command or after it, silences the warning and changes nothing of the result."""
    loud = run("fit", doubtful)
    quiet = run("-q", "fit", doubtful) if place == "before" else run("fit", doubtful, "--quiet")
    assert "warning" in loud.stderr
    assert quiet.exit_code == 0 and quiet.stderr == ""
    assert quiet.stdout == loud.stdout


def test_quiet_silences_no_error() -> None:
    """An error is told word for word, with its exit code, however quiet."""
    quiet, loud = run("check", "nowhere", "--quiet"), run("check", "nowhere")
    assert quiet.exit_code == loud.exit_code == 2
    assert quiet.stderr == loud.stderr != ""


def test_verbose_tells_the_stages_and_their_seconds(tmp_path: Path) -> None:
    """Every stage of a plan is told once, in order. Their seconds make up no more than the whole. The small
    case has 3 trucks x (3 plows or none) x (2 spreaders or none), less the 3 bare trucks: 33 builds."""
    started = time.perf_counter()
    done = run("plan", SMALL, "--out", tmp_path / "plan", "--verbose")
    took_s = time.perf_counter() - started
    assert done.exit_code == 0
    told = STAGE.findall(done.stderr)
    assert [words.partition(":")[0] for _, words in told] == [
        "case read", "program loaded", "fit", "minutes", "costs", "search", "recheck", "files written", "end"]
    assert told[2][1].startswith("fit: 33 builds, ") and told[5][1] == "search: proved best"
    assert 0.0 < sum(float(seconds) for seconds, _ in told) <= took_s + 0.005 * len(told)
    assert not STAGE.search(done.stdout)
    assert STAGES.handlers == []


def test_without_verbose_no_stage_is_told() -> None:
    """Nobody who did not ask is told of stages, not even after a verbose command in the same process."""
    assert STAGE.search(run("fit", SMALL, "--verbose").stderr)
    assert run("fit", SMALL).stderr == ""


@pytest.mark.parametrize("words", [("-q", "check", SMALL, "-v"), ("check", SMALL, "-v", "-q"), ("-qv",)])
def test_quiet_and_verbose_at_once_are_refused(words: tuple[object, ...]) -> None:
    """Who asks for both is told that this cannot be."""
    done = run(*words)
    assert done.exit_code == 2 and "--quiet and --verbose cannot be asked at once" in done.stderr


class Terminal(io.StringIO):
    """A standard error that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_a_line_is_written_over_only_where_that_can_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Progress needs a terminal, and one that can go back to the start of a line."""
    monkeypatch.setenv("TERM", "xterm")
    assert not live()
    monkeypatch.setattr(sys, "stderr", Terminal())
    assert live()
    monkeypatch.setenv("TERM", "dumb")
    assert not live()


@pytest.mark.parametrize("columns", [30, 80, 200])
def test_a_line_that_is_written_over_stays_one_line(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """However narrow the terminal, the line leaves its last column free, or it would break and could not be
    written over; the empty line ends at the start."""
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("COLUMNS", str(columns))
    rewrite("x" * 300)
    rewrite("")
    _, first, empty, end = screen.getvalue().split("\r")
    assert len(first) == len(empty) == min(80, columns) - 1
    assert empty.strip() == end == ""


def on_a_terminal(words: list[str], **extra: str) -> bytes:
    """What a command shows on a terminal of its own, its result and its errors."""
    ours, theirs = pty.openpty()
    done = subprocess.Popen([sys.executable, "-m", "optibuild", *words], stdin=theirs, stdout=theirs,
                            stderr=theirs, cwd=ROOT, env={**os.environ, "TERM": "xterm-256color", **extra})
    os.close(theirs)
    shown = b""
    try:
        while read := os.read(ours, 65536):
            shown += read
    except OSError:
        pass  # so Linux says that the other end was closed
    finally:
        os.close(ours)
        done.wait(timeout=60)
    return shown


@pytest.mark.parametrize("words", [["--help"], ["check", "nowhere"]], ids=" ".join)
def test_there_is_no_color(words: list[str]) -> None:
    """On a terminal that could show colors nothing is shown but text, with NO_COLOR and without."""
    shown = on_a_terminal(words)
    assert shown and b"\x1b" not in shown
    assert on_a_terminal(words, NO_COLOR="1") == shown


@pytest.mark.parametrize("words", [("--help",), ("plan", "--help"), ("check", "nowhere"), ("check", SMALL)])
def test_a_narrow_terminal_loses_no_word(words: tuple[object, ...]) -> None:
    """On 40 columns help, errors and results are broken to 40 and say the same."""
    wide, narrow = (CliRunner().invoke(main, [str(word) for word in words], env={"COLUMNS": columns})
                    for columns in ("80", "40"))
    assert max(map(len, narrow.output.splitlines())) <= 40 < max(map(len, wide.output.splitlines())) <= 80
    said = [re.sub(r"[\s-]", "", done.output) for done in (wide, narrow)]
    assert said[0] == said[1]

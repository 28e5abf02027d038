"""What a newcomer meets first: help with examples that run, completion, and a quick start."""

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
import readme_commands
from click.testing import CliRunner, Result
from test_cli import ROOT, run

from optibuild.cli import main

EXAMPLE = re.compile(r"^ *Example: optibuild (.+)$", re.MULTILINE)
# in the order in which a newcomer would: each needs what those before it wrote
IN_ORDER = ("new", "check", "columns", "fit", "times", "plan", "bid", "frontier", "report", "recheck")
HEAVY = {"distributed", "highspy", "matplotlib", "numba", "pulp"}
# the unit library looks whether scipy is there; that loads none of its parts
HEAVY_PARTS = {f"scipy.{part}" for part in ("linalg", "optimize", "sparse", "spatial", "special", "stats")}


def example(name: str) -> list[str]:
    """The one example in a command's help, as words; `` is the group's own."""
    command = main.commands[name] if name else main
    (line,) = EXAMPLE.findall(command.help or "")
    return shlex.split(line)


@pytest.fixture(scope="module")
def examples(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    """The examples that follow from one another, run one after the other in an empty folder."""
    home = Path.cwd()
    os.chdir(tmp_path_factory.mktemp("newcomer"))
    try:
        return {name: CliRunner().invoke(main, example(name)) for name in IN_ORDER}
    finally:
        os.chdir(home)


@pytest.mark.parametrize("name", IN_ORDER)
def test_the_example_of_a_command_runs(name: str, examples: dict[str, Result]) -> None:
    """The example in the help of a command does what the help says, from an empty folder on."""
    assert example(name)[0] == name
    assert examples[name].exit_code == 0, examples[name].output


def test_the_other_examples_are_run_as_commands_of_the_readme() -> None:
    """What takes long is not run twice: it stands in the README, each command of which is run there."""
    shown = [line.removeprefix(".venv/bin/") for line in readme_commands.commands(ROOT / "README.md")]
    for name in set(main.commands) - set(IN_ORDER):
        assert any(line.startswith(f"optibuild {shlex.join(example(name))}") for line in shown)


@pytest.mark.parametrize("name", ["", *sorted(main.commands)])
def test_every_help_shows_its_example_on_a_line(name: str) -> None:
    """The help of every command, and of the program, ends with an example that is not broken into lines."""
    shown = run(*([name] if name else []), "--help").stdout
    assert f"  Example: optibuild {shlex.join(example(name))}\n" in shown


def test_the_example_of_the_program_is_the_one_to_begin_with() -> None:
    """The program's own example needs nothing that is not there: it is that of `new`."""
    assert example("") == example("new")


def test_what_to_do_first_are_the_examples(examples: dict[str, Result]) -> None:
    """Without a command the help is printed, and at its end what to do first: examples that ran above."""
    done = run()
    assert done.exit_code == 0 and done.stdout.startswith("Usage: ")
    steps = [line.partition("    ")[0].split() for line in done.stdout.partition("First:\n")[2].splitlines()]
    assert steps == [["optibuild", *example(name)] for name in ("new", "check", "plan")]


@pytest.mark.parametrize("command", [main, *main.commands.values()], ids=lambda command: command.name)
def test_every_option_says_what_it_does(command: click.Command) -> None:
    """Every option of every command has a help text, and every command --quiet and --verbose."""
    options = [one for one in command.params if isinstance(one, click.Option)]
    assert all(one.help for one in options)
    assert {"quiet", "verbose"} <= {one.name for one in options}


@pytest.mark.parametrize(("typed", "wanted"), [
    ("optibuild ch", {"check"}), ("optibuild re", {"report", "recheck"}),
    ("optibuild plan --ti", {"--time-limit"}), ("optibuild vary case --sort c", {"cost", "capital"}),
])
@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_completes_commands_options_and_choices(shell: str, typed: str, wanted: set[str]) -> None:
    """What the printed lines call in each shell names the words that can follow."""
    last = typed.split()[-1]
    asked = {"_OPTIBUILD_COMPLETE": f"{shell}_complete", "COMP_WORDS": typed,
             "COMP_CWORD": last if shell == "fish" else str(len(typed.split()) - 1)}
    done = CliRunner().invoke(main, [], prog_name="optibuild", env=asked)
    assert wanted == {word for word in re.split(r"[\n,\t]", done.output) if word.startswith(last[:2])}
    assert f"_OPTIBUILD_COMPLETE={shell}_complete" in run("--completion", shell).stdout


def test_bash_takes_the_printed_lines() -> None:
    """Bash reads what --completion prints and then has a completion for optibuild."""
    script = f"{run('--completion', 'bash').stdout}\ncomplete -p optibuild"
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout.split()[-3:] == ["-F", "_optibuild_completion", "optibuild"]


@pytest.mark.parametrize("call", [["--help"], ["columns", "units"], ["check", "examples/contract-bid"]],
                         ids=" ".join)
def test_what_is_asked_first_loads_nothing_heavy(call: list[str]) -> None:
    """Help, the guide and the check of a case load neither the solvers nor what tables and pictures need."""
    code = ("import json, sys\nfrom optibuild.cli import main\n"
            f"try:\n    main({call!r})\nexcept SystemExit as end:\n    assert not end.code\n"
            "print(json.dumps(sorted(sys.modules)))\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    loaded = set(json.loads(done.stdout.splitlines()[-1]))
    assert not HEAVY & {name.partition(".")[0] for name in loaded}
    assert not HEAVY_PARTS & loaded

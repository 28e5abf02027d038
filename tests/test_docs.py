"""What the READMEs and docstrings say is true: commands run, tables are the code's own, units are named."""

import importlib
import inspect
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import column_tables
import pytest
import readme_commands
import readme_screens
from test_architecture import NAMES, PACKAGE

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"
SET_UP = [line for line in readme_commands.commands(README) if line.startswith(readme_commands.SET_UP)]
SHOWN = [line for line in readme_commands.commands(README) if line not in SET_UP]
PARTS = sorted(entry.name for entry in PACKAGE.iterdir() if (entry / "__init__.py").exists())
# the unit that a formula's name ends in, and how its docstring writes it
NAMED_UNITS = {"_m": "m", "_m3": "m^3", "_min": "min", "_kg": "kg", "_usd": "USD", "_rad": "rad",
               "_m_per_min": "m/min", "_l_per_m": "L/m", "_kg_per_m2": "kg/m^2"}


def test_readme_has_exactly_two_set_up_commands() -> None:
    """One line installs and plans an example, one line installs and runs the tests."""
    assert len(SET_UP) == 2
    assert re.fullmatch(r"python3 -m venv \.venv && \.venv/bin/pip install \. && "
                        r"\.venv/bin/optibuild plan examples/\S+ --out \S+", SET_UP[0])
    assert SET_UP[1] == ("python3 -m venv .venv && .venv/bin/pip install '.[test]' "
                         "&& .venv/bin/python -m pytest -n auto --dist loadfile")


def test_readme_shows_every_command_there_is() -> None:
    """Each command of the program is shown in the README, so that the next test runs it."""
    from optibuild.cli import main

    shown = {line.split()[1] for line in [*SHOWN, SET_UP[0].rpartition("&& ")[2]] if "bin/optibuild" in line}
    assert shown == set(main.commands)


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Every README command run in the order in which a reader would, after the first set-up line's plan."""
    folder = readme_commands.copy_checkout(tmp_path_factory.mktemp("checkout"))
    lines = [SET_UP[0].rpartition("&& ")[2], *SHOWN]
    return {line: readme_commands.run(line, folder) for line in lines}


@pytest.mark.parametrize("line", [SET_UP[0].rpartition("&& ")[2], *SHOWN])
def test_readme_command_runs(line: str, results: dict[str, Any]) -> None:
    """A command shown in the README ends well and writes no traceback."""
    done = results[line]
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


def test_screens_in_the_readme_are_real(results: dict[str, Any]) -> None:
    """The screens that the README quotes are what the commands print; mend: readme_screens.py."""
    text = README.read_text(encoding="utf-8")
    printed = {line: done.stdout for line, done in results.items()}
    assert len(readme_commands.fenced(README, "text")) == len(readme_screens.SCREENS)
    assert text == readme_screens.up_to_date(text, printed)


@pytest.mark.parametrize("page", column_tables.PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_tables_in_readmes_are_the_declarations(page: Path) -> None:
    """The guide of columns, keys and units, and the cautions, are the code's; mend: column_tables.py."""
    text = page.read_text(encoding="utf-8")
    assert text == column_tables.up_to_date(text)


def test_guide_and_cautions_stand_in_a_readme_once() -> None:
    """What is made from the package has its place in one of the READMEs."""
    found = [name for page in column_tables.PAGES
             for name in column_tables.BLOCK.findall(page.read_text(encoding="utf-8"))]
    assert sorted(found) == sorted(column_tables.BLOCKS)


@pytest.mark.parametrize("page", [README, DEVELOPERS, *sorted(ROOT.glob("*/README.md")),
                                  *sorted(ROOT.glob("examples/*/README.md"))],
                         ids=lambda page: str(page.relative_to(ROOT)))
def test_files_that_a_page_names_exist(page: Path) -> None:
    """Every link, and every module named with its folder, leads to a file."""
    text = page.read_text(encoding="utf-8")
    for link in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (page.parent / link).exists(), link
    for name in re.findall(r"`([a-z_]+/[a-z_.]+\.(?:py|json))`", text):
        assert (ROOT / name).exists() or (PACKAGE / name).exists(), name


def _defined(part: str) -> list[Callable[..., Any]]:
    module = importlib.import_module(f"optibuild.{part}")
    found = [getattr(module, name) for name in module.__all__]
    return [one for one in found if inspect.isfunction(one) or inspect.isclass(one)]


@pytest.mark.parametrize("part", PARTS)
def test_everything_a_part_offers_has_a_docstring(part: str) -> None:
    """Every function and class that a part exports says what it is for."""
    module = importlib.import_module(f"optibuild.{part}")
    names = getattr(module, "__all__", ())
    found = [getattr(module, name) for name in names]
    assert module.__doc__
    assert not [one for one in found if callable(one) and inspect.isroutine(one) and not inspect.getdoc(one)]


@pytest.mark.parametrize("name", sorted(name for name in NAMES if not name.endswith("__main__")))
def test_every_public_function_and_class_of_a_module_has_a_docstring(name: str) -> None:
    """Every module-level name without a leading underscore says what it is for."""
    module = importlib.import_module(name)
    assert module.__doc__
    own = [one for key, one in vars(module).items() if not key.startswith("_")
           and (inspect.isfunction(one) or inspect.isclass(one)) and one.__module__ == name]
    assert not [one.__name__ for one in own if not (one.__doc__ or "").strip()]


@pytest.mark.parametrize("part", ["fit", "cycle_time", "cost"])
def test_formulas_name_the_unit_of_what_they_give(part: str) -> None:
    """A formula whose name ends in a unit writes that unit in brackets, or begins with the word Minutes."""
    checked = 0
    for one in _defined(part):
        suffixes = [end for end in NAMED_UNITS if one.__name__.endswith(end)]
        if suffixes and inspect.isfunction(one):
            unit, text = NAMED_UNITS[max(suffixes, key=len)], inspect.getdoc(one) or ""
            said = re.search(rf"\[[^\]]*{re.escape(unit)}[^\]]*\]", text)
            assert said or (unit == "min" and text.startswith("Minutes")), one.__name__
            checked += 1
    assert checked

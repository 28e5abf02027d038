"""The guide for practitioners says nothing that the program does not: names, commands, sources, sums."""

import re
import subprocess
from math import cos, hypot, pi, radians, sin, tan
from pathlib import Path

import pytest
import readme_commands

from optibuild.assumptions import BY_NAME
from optibuild.cli import main
from optibuild.cost import annual_usd
from optibuild.inputs import KEYS, TABLES, read_case

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "examples" / "GUIDE.md"
TEXT = PAGE.read_text(encoding="utf-8")
LINES = readme_commands.commands(PAGE)
COLUMNS = {name: {one.name for one in columns} for name, columns in TABLES.items()}
OPTIONS = {name: {word for one in command.params for word in one.opts}
           for name, command in main.commands.items()}
PLAIN = re.sub(r"^```.*?^```$", "", TEXT, flags=re.DOTALL | re.MULTILINE)
QUOTED = re.findall(r"`([^`]+)`", PLAIN)
# what stands between backticks and is neither a column, a key nor a command
OTHERS = {"case.toml", "raised empty"}
SOURCES = ("49 CFR 567.4(g)(3)", "40 CFR 600 App. II(a)(2)", "15A-20", "SAE J1265", "SAE 1992, chapter 1",
           "performance handbooks (from memory)", "ed. 47", "Minnesota Snow and Ice Control Field Handbook",
           "DuPage River / Salt Creek Workgroup", "engineering-economy tables", "body-builder manuals")
FEET, LB_PER_FT3 = 12.0, 0.3048**3 / 0.45359237
"""Inches in a foot; pounds a cubic foot of one kilogram a cubic meter."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the guide's commands are run."""
    return tmp_path_factory.mktemp("guide")


@pytest.fixture(scope="module")
def printed(folder: Path) -> dict[str, subprocess.CompletedProcess[str]]:
    """Every command of the guide, run in the order shown."""
    return {line: readme_commands.run(line, folder) for line in LINES}


@pytest.fixture(scope="module")
def screens(printed: dict[str, subprocess.CompletedProcess[str]]) -> dict[str, str]:
    """What they print, by the option that they are known by."""
    return {line.split()[1]: done.stdout for line, done in printed.items() if "--calibrate" not in line}


@pytest.mark.parametrize("line", LINES)
def test_command_of_the_guide_runs(line: str, printed: dict[str, subprocess.CompletedProcess[str]]) -> None:
    """A command shown in the guide ends well."""
    assert printed[line].returncode == 0, printed[line].stderr


def test_columns_stand_under_their_table() -> None:
    """Every name in the first cells of a table headed "columns of ..." is a column of that table."""
    checked = set()
    for block in re.split(r"^(?=\| columns of )", PLAIN, flags=re.MULTILINE)[1:]:
        head, *rows = [line for line in block.split("\n\n")[0].splitlines() if not line.startswith("|-")]
        table = re.findall(r"`(\w+)`", head)[0]
        for row in rows:
            named = re.findall(r"`(\w+)`", row.split("|")[1])
            assert named and set(named) <= COLUMNS[table], row
            checked |= {table}
    assert checked == {"trucks", "plows", "spreaders", "sites"}


def _known(word: str) -> bool:
    name, *rest = word.removeprefix("optibuild ").split()
    if name in main.commands:
        return all(option in OPTIONS[name] for option in rest if option.startswith("-"))
    return word in {*KEYS, *TABLES, *OTHERS} or any(word in names for names in COLUMNS.values())


@pytest.mark.parametrize("word", sorted(set(QUOTED)))
def test_quoted_word_exists(word: str) -> None:
    """What the guide quotes is a column, a table, a key of case.toml, or a command with its own options."""
    assert _known(word)


def test_a_word_that_does_not_exist_would_be_found() -> None:
    """A misspelt column, an option that a command has not, and a key that there is not are all refused."""
    assert not any(map(_known, ("gawr_frnt", "optibuild times CASE --calibrat", "solve.reserves", "plann")))


@pytest.mark.parametrize("source", SOURCES)
def test_source_is_named_in_the_code_too(source: str) -> None:
    """The guide claims no source that the package does not name beside the formula or figure."""
    code = " ".join(" ".join(file.read_text(encoding="utf-8").split())
                    for file in sorted((ROOT / "optibuild").rglob("*.py")))
    assert source in TEXT and source in code


def test_default_figures_of_the_guide_are_those_of_the_program() -> None:
    """A person of 150 lb, 2 % of weights, 3 s a change and 0.5 in of snow are a case's own defaults."""
    said = {"occupant_mass": "150 lb", "catalog_uncertainty": "2 %", "direction_change": "3 s",
            "least_depth": "0.5 in"}
    assert {name: BY_NAME[name].default for name in said} == said
    assert all(words in TEXT for words in said.values())


def test_front_axle_by_pencil_is_the_programs(screens: dict[str, str]) -> None:
    """Moments about the rear axle, by hand from typed weights and places, give what guide and `fit` say."""
    hung = [(150, 62), (75, -38), (410, -66), (150, 127 + 48 + 15)]
    front = 2_760 + sum(pounds * (1 - place / 127) for pounds, place in hung)
    assert f"{front:,.0f}, which leaves {3_900 - front:,.0f} lb of 3,900" in TEXT
    assert re.search(rf"^total +5,605 +\S+ +{front:,.0f} ", screens["fit"], re.MULTILINE)


def test_minutes_by_pencil_are_the_programs(screens: dict[str, str]) -> None:
    """The guide's five steps, done here in feet and pounds from the typed figures, give what `times` says."""
    area, length, depth, fresh, settled = 0.55 * 43_560, 170.0, 2 / FEET, 100 * LB_PER_FT3, 300 * LB_PER_FT3
    width, height, ahead, back, turning = 90 / FEET, 27 / FEET, 704.0, 440.0, 352.0
    strips = -(-area / length // (width * cos(radians(30)) - 0.3 / 0.3048))
    turn = pi * 127 / FEET / sin(radians(37)) / turning
    circle = 2 * hypot(127 / tan(radians(37)) + 90 * cos(radians(30)) / 2, 127 + 66) / FEET
    blade = 0.8 * width * height**2 * settled
    left = area * depth * fresh - 2 * length * height**2 / 2 * settled
    push = (length + blade / (width * depth * fresh)) / 2
    runs = strips * (length / ahead + turn)
    pushed = left / blade * (push / ahead + push / back + 2 * 3 / 60)
    assert circle < 50 and blade < (0.15 - 0.03) * 5_195 / 0.30  # no backing up in a turn, wheels that hold
    for words in (f"{strips:.0f} strips", f"{runs:.2f} min", f"{circle:.1f} ft", f"{left / blade:.1f} blades",
                  f"({runs:.2f} + {pushed:.2f}) / 0.50 = {(runs + pushed) / 0.5:.1f} min"):
        assert words in TEXT
    assert re.search(rf"^plowing +{(runs + pushed) / 0.5:.3f} +min$", screens["times"], re.MULTILINE)


def test_year_of_owning_by_pencil_is_the_programs(
        folder: Path, printed: dict[str, subprocess.CompletedProcess[str]]) -> None:
    """37,200 USD recovered over 8 years at 7 %, 7 % of 9,300 and 1,900 of upkeep are 8,781 USD a year."""
    assert printed
    case = read_case(folder / "my-case")
    truck = next(row for row in case.trucks if row.id == "three-quarter")
    factor = 0.07 * 1.07**8 / (1.07**8 - 1)
    year = 37_200 * factor + 9_300 * 0.07 + 1_900
    assert annual_usd(truck, case.money) == pytest.approx(year)
    assert f"{factor:.5f}" in TEXT and f"{year:,.0f} USD" in TEXT

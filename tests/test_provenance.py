"""What a plan says of its making, and that the same inputs give the same files in every process."""

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from hashlib import sha256
from pathlib import Path
from typing import Any

import highspy
import numba
import numpy as np
import pulp
import pytest
from test_same_plan import assert_same, unordered
from towns import shuffled, town, with_one_way_streets

from optibuild.assumptions import ASSUMPTIONS

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
Files = dict[str, bytes]


def plan(case: Path, out: Path, hash_seed: str = "0", exit_code: int = 0) -> Files:
    """The files that the command writes in a process of its own, without the seconds."""
    done = subprocess.run([sys.executable, "-m", "optibuild", "plan", str(case), "--out", str(out)], cwd=ROOT,
                          capture_output=True, timeout=240, env={**os.environ, "PYTHONHASHSEED": hash_seed})
    assert done.returncode == exit_code, done.stderr
    files = {file.name: file.read_bytes() for file in sorted(out.iterdir())}
    told = re.sub(rb'data-seconds="[0-9.e-]+"|[0-9.]+ s(?=[)<])', b"", files["report.html"])
    return files | {"plan.json": re.sub(rb'"seconds": [0-9.e-]+', b'"seconds": 0', files["plan.json"]),
                    "report.html": told}


def tree_of(files: Files) -> dict[str, Any]:
    """The plan.json of some files."""
    tree: dict[str, Any] = json.loads(files["plan.json"])
    return tree


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """The small case, its own to change."""
    return Path(shutil.copytree(SMALL, tmp_path / "case"))


def with_lines(case: Path, section: str, line: str) -> Path:
    """The case with a line added to a section of its case.toml."""
    text = (case / "case.toml").read_text(encoding="utf-8")
    head = f"[{section}]\n"
    text = text.replace(head, head + line) if head in text else f"{text}\n{head}{line}"
    (case / "case.toml").write_text(text, encoding="utf-8")
    return case


@pytest.mark.parametrize("budget", ["200000 USD", "1000 USD"], ids=["a plan", "none"])
def test_a_plan_names_what_it_was_made_from(budget: str, small: Path, tmp_path: Path) -> None:
    """Whether a plan exists or not: the SHA-256 of every file read and of no other, the program's version and
    those of the libraries that it searches with by their own word, every default figure with its source and
    the user's own told as such, how good the plan is and why the search ended, and the seconds."""
    with_lines(small, "money", f'budget = "{budget}"\n')
    with_lines(small, "assumptions", "mu_snow = 0.2\n")
    exists = budget != "1000 USD"
    tree = tree_of(plan(small, tmp_path / "plan", exit_code=0 if exists else 4))
    assert tree["case"]["inputs"] == {
        file.name: sha256(file.read_bytes()).hexdigest() for file in small.iterdir()}
    made = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert tree["version"] == made
    assert tree["solver"] == {"HiGHS": highspy.Highs().version(), "PuLP": pulp.__version__,
                              "numba": numba.__version__, "numpy": np.__version__}
    told = {row["name"]: row for row in tree["assumptions"]}
    assert list(told) == [row.name for row in ASSUMPTIONS]
    assert all(row["source"] for row in told.values())
    assert [name for name, row in told.items() if row["overridden"]] == ["mu_snow"]
    assert told["mu_snow"]["value"] == 0.2
    ended = ("proved best", "proved") if exists else ("none", "no plan exists")
    assert (tree["outcome"]["proof"], tree["outcome"]["stopped"]) == ended
    assert tree["outcome"]["seconds"] == 0  # there, and taken out above


def test_two_processes_write_the_same_files(small: Path, tmp_path: Path) -> None:
    """Two processes with different hash seeds write the same bytes into all files, the seconds aside: 13
    tables, plan.json, workbook, map file, page and sheets."""
    one, two = (plan(small, tmp_path / seed, seed) for seed in ("1", "2"))
    assert len(one) == 18
    assert one == two


def test_two_processes_write_the_same_files_for_twelve_sites(tmp_path: Path) -> None:
    """Parcels, reloads, split works and works of the last round in a town of 12 sites, to a gap of 0: all of
    it, with what each site would save, in the same bytes."""
    case = town(tmp_path / "case", 12, seed=3)
    one, two = (plan(case, tmp_path / seed, seed) for seed in ("3", "4"))
    assert tree_of(one)["outcome"]["gap"] == 0
    assert all(site["marginal_most_usd"] is not None for site in tree_of(one)["sites"])
    assert one == two


@pytest.fixture(scope="module")
def one_way(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Files]:
    """The small case with ways that take different times there and back, and the files of its plan."""
    folder = tmp_path_factory.mktemp("one-way")
    case = with_one_way_streets(Path(shutil.copytree(SMALL, folder / "case")))
    return case, plan(case, folder / "plan")


@pytest.mark.parametrize("seed", [1, 2])
def test_rows_in_another_order_make_the_same_small_plan(
        seed: int, one_way: tuple[Path, Files], tmp_path: Path) -> None:
    """The small case, with ways that take different times there and back, and with the rows of all its tables
    shuffled: other digests, and the same plan, but for the numbers of its trucks."""
    case, one = one_way
    two = plan(shuffled(case, tmp_path / "shuffled", seed), tmp_path / "two")
    assert tree_of(one)["case"]["inputs"] != tree_of(two)["case"]["inputs"]
    assert_same(unordered(one["plan.json"]), unordered(two["plan.json"]))

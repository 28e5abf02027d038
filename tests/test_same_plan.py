"""The command gives the same plan for the same case: in every process, and whatever the order of its rows."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from towns import shuffled, town, with_one_way_streets

ROOT = Path(__file__).parents[1]
Tree = dict[str, Any]


def plan(case: Path, out: Path, hash_seed: str = "0") -> bytes:
    """The plan.json that the command writes in a process of its own."""
    done = subprocess.run([sys.executable, "-m", "optibuild", "plan", str(case), "--out", str(out)], cwd=ROOT,
                          capture_output=True, timeout=240, env={**os.environ, "PYTHONHASHSEED": hash_seed})
    assert done.returncode == 0, done.stderr
    return (out / "plan.json").read_bytes()


@pytest.mark.parametrize(("gap", "stopped"), [("0", "proved"), ("2 %", "gap reached")])
def test_two_processes_write_the_same_plan(gap: str, stopped: str, tmp_path: Path) -> None:
    """Two searches of a town of 12 sites, proved best or ended at the gap, write the same bytes, the seconds
    aside."""
    case = town(tmp_path / "case", 12, gap=gap)
    texts = [plan(case, tmp_path / "plan", seed) for seed in ("1", "2")]
    assert json.loads(texts[0])["outcome"]["stopped"] == stopped
    one, two = (re.sub(rb'"seconds": [0-9.e-]+', b"", text) for text in texts)
    assert one == two


def unordered(text: bytes) -> Tree:
    """A plan without what the order of rows decides: items and sites by id, trucks by what they are and do,
    with their numbers to match; hashes of files and the places of least margins left out, and the bounds of
    what sites save, for which one of several equally good duals of the relaxation speaks."""
    tree: Tree = json.loads(text)
    trucks = sorted(tree["trucks"], key=lambda row: json.dumps(
        [row["build"], row["ballast"], sorted(stop["site"] for stop in row["loop"]["stops"])]))
    number = {row["truck_no"]: n for n, row in enumerate(trucks)}
    for row in trucks:
        row["truck_no"] = number[row["truck_no"]]
    for site in tree["sites"]:
        for work in site["works"]:
            work["truck_no"] = number[work["truck_no"]]
        site["works"].sort(key=lambda work: work["truck_no"])
        del site["marginal_most_usd"]
    for check in tree["recheck"]["checks"]:
        del check["where"]
        if check["name"] == "cost without a site":
            del check["worst"]
    del tree["outcome"]["seconds"], tree["case"]["inputs"], tree["case"]["given_as"]
    by_id = {name: sorted(tree[name], key=lambda row: str(row["id"])) for name in ("items", "sites")}
    return {**tree, **by_id, "trucks": trucks}


def leaves(tree: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every value of a tree with the way to it."""
    if isinstance(tree, (dict, list)):
        pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
        for key, value in pairs:
            yield from leaves(value, f"{path}/{key}")
    else:
        yield path, tree


def assert_same(one: Tree, two: Tree) -> None:
    """The same words in the same places, and numbers that differ by no more than the order of sums makes."""
    mine, other = dict(leaves(one)), dict(leaves(two))
    assert mine.keys() == other.keys()
    for path, value in mine.items():
        wanted = other[path]
        if isinstance(value, float) and isinstance(wanted, float):
            wanted = pytest.approx(wanted, rel=1e-9, abs=1e-6)
        assert value == wanted, path


@pytest.fixture(scope="module")
def one_way(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes]:
    """A town whose ways take different times there and back, and its plan."""
    folder = tmp_path_factory.mktemp("one-way")
    case = with_one_way_streets(town(folder / "case", 12))
    return case, plan(case, folder / "plan")


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_rows_does_not_matter(seed: int, one_way: tuple[Path, bytes], tmp_path: Path) -> None:
    """A town whose ways take different times there and back, proved best, and the same with the rows of all
    its tables shuffled: the same plan to the last stop and minute, but for the numbers of its trucks, which
    follow the order of builds and stops."""
    case, made = one_way
    one = unordered(made)
    two = unordered(plan(shuffled(case, tmp_path / "shuffled", seed), tmp_path / "two"))
    assert one["outcome"]["proof"] == "proved best"
    assert_same(one, two)


def without_direction(tree: Tree) -> Tree:
    """What a loop driven the other way round leaves as it is: all but order and times of its stops."""
    trucks = [{"build": row["build"], "ballast": row["ballast"], "season": row["season"],
               "cycle_limit_min": row["loop"]["cycle_limit_min"], "minutes": row["loop"]["duration_min"],
               "distance_m": row["loop"]["distance_m"],
               "stops": sorted([at["site"], at["parcels"], at["work"]] for at in row["loop"]["stops"])}
              for row in tree["trucks"]]
    return {"trucks": trucks, **{name: tree[name] for name in ("outcome", "items", "sites", "money")}}


def test_where_ways_are_alike_only_the_direction_of_loops_may_differ(tmp_path: Path) -> None:
    """Where every way takes as long as the way back, a loop costs the same both ways round, and which one is
    planned follows the order of rows. All else is the same."""
    case = town(tmp_path / "case", 12)
    one = unordered(plan(case, tmp_path / "one"))
    two = unordered(plan(shuffled(case, tmp_path / "shuffled", 2), tmp_path / "two"))
    assert_same(without_direction(one), without_direction(two))

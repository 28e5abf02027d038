"""How fast many like cases are solved: python tests/benchmarks/sweeps.py [COUNT]

A town of 40 sites (`scale_cases.py`) with the first 12 trucks, 8 plows and 6 spreaders of its catalog, gap
0.5 %, changed COUNT times (200): wage, prices of trucks, budget, number of events and price of fuel in turn,
by a seed. (Another snowfall rate is another matter: there the root bound may lie 2 % below the plan, and the
solve takes as long from a start as without.) Solved by `solve_many` with one worker and with two, each solve
on one thread, and every eleventh by a process of its own, cold, on all cores as the plan command does it.
Prints Markdown: seconds from start to end, with starting processes, and seconds in which cores were busy, of
the cold runs for COUNT of them; and how much dearer the plans of the sweep are than those of the cold runs.
"""

import pickle
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
from machine import machine
from scale_cases import write_case

from optibuild.inputs import read_case
from optibuild.records import Case
from optibuild.what_if import solve_many

ROWS = {"trucks.csv": 12, "plows.csv": 8, "spreaders.csv": 6}
EVERY = 11
CAPITAL_USD = 730_000
"""What the plan of the case spends on purchases, about."""
COLD = """import pickle, sys
from optibuild.errors import StoppedWithoutPlan
from optibuild.pipeline import make_plan
with open(sys.argv[1], "rb") as source:
    case = pickle.load(source)
try:
    print(make_plan(case).outcome.cost_usd)
except StoppedWithoutPlan:
    print(None)
"""


def base(folder: Path) -> Case:
    """The case that all others are changes of."""
    write_case(folder, 40, 1, False, "0.5 %", "60 s")
    for name, rows in ROWS.items():
        lines = (folder / name).read_text().splitlines(keepends=True)
        (folder / name).write_text("".join(lines[:rows + 1]))
    return read_case(folder)


def _wage(case: Case, rng: np.random.Generator) -> Case:
    factor = rng.uniform(0.8, 1.25)
    return replace(case, money=replace(case.money, wage_usd_per_min=factor * case.money.wage_usd_per_min))


def _prices(case: Case, rng: np.random.Generator) -> Case:
    return replace(case, trucks=tuple(
        replace(truck, price_usd=truck.price_usd * rng.uniform(0.9, 1.1)) for truck in case.trucks))


def _budget(case: Case, rng: np.random.Generator) -> Case:
    return replace(case, money=replace(case.money, budget_usd=CAPITAL_USD * rng.uniform(0.98, 1.2)))


def _events(case: Case, rng: np.random.Generator) -> Case:
    return replace(case, season=tuple(
        replace(event, count=event.count * rng.uniform(0.7, 1.3)) for event in case.season))


def _fuel(case: Case, rng: np.random.Generator) -> Case:
    factor = rng.uniform(0.7, 1.5)
    return replace(case, money=replace(case.money, fuel_usd_per_l=tuple(
        (fuel, factor * usd) for fuel, usd in case.money.fuel_usd_per_l)))


WAYS: tuple[Callable[[Case, np.random.Generator], Case], ...] = (_wage, _prices, _budget, _events, _fuel)


def changed(case: Case, count: int) -> list[Case]:
    """The case itself, then its changes."""
    rng = np.random.default_rng(9)
    return [case, *(replace(WAYS[k % len(WAYS)](case, rng), name=f"change {k}") for k in range(1, count))]


def core_s() -> float:
    """Seconds that processes started here and ended have kept a core busy."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def sweep(cases: list[Case], folder: Path, workers: int) -> tuple[float, list[float]]:
    """Seconds, and the cost of each plan (inf for none)."""
    began = time.perf_counter()
    plans = solve_many(cases, folder, workers)
    costs = [plan.outcome.cost_usd if plan is not None else None for plan in plans]
    return time.perf_counter() - began, [inf if cost is None else cost for cost in costs]


def cold(case: Case, file: Path) -> tuple[float, float]:
    """Seconds of a process that makes the plan of one case, and what the plan costs (inf for none)."""
    file.write_bytes(pickle.dumps(case))
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", COLD, str(file)], check=True, capture_output=True, text=True)
    seconds = time.perf_counter() - began
    return seconds, inf if done.stdout.strip() == "None" else float(done.stdout)


def main(count: int) -> None:
    """Print the table."""
    print(f"{count} cases of 40 sites; {machine()}; {time.strftime('%Y-%m-%d')}\n")
    print("| way | seconds | a case | of cores |\n|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cases = changed(base(folder / "case"), count)
        taken, busy = {}, {}
        for workers in (2, 1):
            before = core_s()
            taken[workers], costs = sweep(cases, folder / f"results-{workers}", workers)
            busy[workers] = core_s() - before
            print(f"| {workers} at work | {taken[workers]:.1f} | {taken[workers] / count:.2f} "
                  f"| {busy[workers]:.1f} |", flush=True)
        before = core_s()
        alone = [cold(case, folder / "one") for case in cases[::EVERY]]
        share = len(alone) / count
        cold_s, cold_busy = sum(seconds for seconds, _ in alone) / share, (core_s() - before) / share
    print(f"| cold, one after the other ({len(alone)} measured) | {cold_s:.0f} | {cold_s / count:.2f} "
          f"| {cold_busy:.0f} |\n")
    print(f"Two workers are {taken[1] / taken[2]:.2f} times as fast as one and {cold_s / taken[2]:.1f} times "
          f"as fast as cold runs, which keep cores busy {cold_busy / busy[2]:.1f} times as long.")
    dearer = [ours / theirs - 1 for ours, (_, theirs) in zip(costs[::EVERY], alone, strict=True)
              if max(ours, theirs) < inf]
    print(f"Of {len(alone)} cases both have a plan in {len(dearer)}; that of the sweep is dearer by "
          f"{min(dearer):.3%} to {max(dearer):.3%}.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)

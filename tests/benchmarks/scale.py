"""How far plans are proved at scale: python tests/benchmarks/scale.py [plain|full] [SITES ...]

The whole `plan` command with imports, second run (compiled kernels on disk), on cases of `scale_cases.py`:
40 trucks x 24 plows x 16 spreaders. Asked gap and time limit of a size are those of TARGETS. Prints Markdown,
a row for each seed: medians over the runs, and the machine.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from machine import machine
from scale_cases import write_case

# sites: (gap, time limit) of the plain and of the full case, seeds, runs
TARGETS = {
    25: (("0 %", "6 s"), ("0 %", "20 s"), 3, 3),
    50: (("0 %", "20 s"), ("0.5 %", "60 s"), 3, 3),
    100: (("0.5 %", "60 s"), ("1 %", "120 s"), 3, 3),
    300: (("1 %", "300 s"), ("2 %", "600 s"), 2, 1),
    1000: (("3 %", "1800 s"), ("5 %", "1800 s"), 2, 1),
}
WATCH = "import resource; print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"


def timed(case: Path, out: Path) -> tuple[float, float, dict[str, Any] | None]:
    """Wall time of one plan command [s], its peak memory [MB], and its plan (None where none was found)."""
    command = [sys.executable, "-m", "optibuild", "plan", str(case), "--out", str(out), "--json"]
    code = f"import subprocess; subprocess.run({command!r}, capture_output=True); {WATCH}"
    started = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    seconds = time.perf_counter() - started
    written = out / "plan.json"
    return seconds, float(done.stdout), json.loads(written.read_text()) if written.exists() else None


def row(sites: int, full: bool, seed: int, runs: int, folder: Path) -> str:
    """A line of the table."""
    gap, limit = TARGETS[sites][full]
    case = write_case(folder / f"{sites}-{seed}-{full}", sites, seed, full, gap, limit)
    found = [timed(case, folder / f"plan-{sites}-{seed}-{full}") for _ in range(runs)]
    plan = found[-1][2]
    seconds, memory = (statistics.median(run[k] for run in found) for k in (0, 1))
    if plan is None or not plan["trucks"]:
        return f"| {sites} | {seed} | none | | | | | | {seconds:.1f} | {memory:.0f} |"
    outcome, trucks = plan["outcome"], plan["trucks"]
    parcels = sum(site["parcels"] for site in plan["sites"])
    stops = sum(len(truck["loop"]["stops"]) for truck in trucks) / len(trucks)
    return (f"| {sites} | {seed} | {outcome['proof']} | {outcome['gap']:.2%} | {outcome['cost_usd']:,.0f} "
            f"| {len(trucks)} | {parcels} | {stops:.1f} | {seconds:.1f} | {memory:.0f} |")


def main(kind: str, sizes: list[int]) -> None:
    """Print the table."""
    print(f"{kind}; {machine()}; {time.strftime('%Y-%m-%d')}\n")
    print("| sites | seed | proof | gap | cost USD | trucks | parcels | stops a loop | median s | MB |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        for sites in sizes:
            for seed in range(1, TARGETS[sites][2] + 1):
                print(row(sites, kind == "full", seed, TARGETS[sites][3], Path(name)), flush=True)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "plain", [int(one) for one in sys.argv[2:]] or [25, 50, 100])

"""How far plans are proved at scale: python tests/benchmarks/scale.py [plain|full] [SITES ...] [--peer]

The whole `plan` command with imports, second run (compiled kernels on disk), on cases of `scale_cases.py`:
40 trucks x 24 plows x 16 spreaders. Asked gap and time limit of a size are those of TARGETS. Prints Markdown,
a row for each seed: medians over the runs, and the machine.

With --peer, a general-purpose routing solver (`peer.py`, extra `bench`) then searches each case PEER_TIMES as
long as that command took. The last column is its cost over ours: 1 and above, it found nothing better;
"none", it found no plan; "-", not asked, or a case that its model cannot say.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from math import isfinite
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
PEER_TIMES = 10
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


def peer_ratio(case: Path, plan: dict[str, Any], seconds: float) -> str:
    """The cost of the peer's plan over that of ours, in words."""
    from peer import peer_plan  # PyVRP is only there where it is asked for

    found = peer_plan(case, plan, seconds)
    if found is None:
        return "-"
    return f"{found.cost_usd / plan['outcome']['cost_usd']:.3f}" if isfinite(found.cost_usd) else "none"


def row(sites: int, full: bool, seed: int, runs: int, folder: Path, peer: bool) -> str:
    """A line of the table."""
    gap, limit = TARGETS[sites][full]
    case = write_case(folder / f"{sites}-{seed}-{full}", sites, seed, full, gap, limit)
    found = [timed(case, folder / f"plan-{sites}-{seed}-{full}") for _ in range(runs)]
    plan = found[-1][2]
    seconds, memory = (statistics.median(run[k] for run in found) for k in (0, 1))
    if plan is None or not plan["trucks"]:
        return f"| {sites} | {seed} | none | | | | | | {seconds:.1f} | {memory:.0f} | - |"
    outcome, trucks = plan["outcome"], plan["trucks"]
    parcels = sum(site["parcels"] for site in plan["sites"])
    stops = sum(len(truck["loop"]["stops"]) for truck in trucks) / len(trucks)
    ratio = peer_ratio(case, plan, PEER_TIMES * seconds) if peer else "-"
    return (f"| {sites} | {seed} | {outcome['proof']} | {outcome['gap']:.2%} | {outcome['cost_usd']:,.0f} "
            f"| {len(trucks)} | {parcels} | {stops:.1f} | {seconds:.1f} | {memory:.0f} | {ratio} |")


def main(kind: str, sizes: list[int], peer: bool) -> None:
    """Print the table."""
    print(f"{kind}; {machine()}; {time.strftime('%Y-%m-%d')}\n")
    print("| sites | seed | proof | gap | cost USD | trucks | parcels | stops a loop | median s | MB "
          "| peer / ours |")
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        for sites in sizes:
            for seed in range(1, TARGETS[sites][2] + 1):
                print(row(sites, kind == "full", seed, TARGETS[sites][3], Path(name), peer), flush=True)


if __name__ == "__main__":
    asked = [one for one in sys.argv[1:] if one != "--peer"]
    main(asked[0] if asked else "plain", [int(one) for one in asked[1:]] or [25, 50, 100],
         "--peer" in sys.argv)

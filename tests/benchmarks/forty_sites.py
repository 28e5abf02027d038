"""How long `optibuild plan` takes to prove 40 sites best: python tests/benchmarks/forty_sites.py [SITES]

The whole command with imports, second run (compiled kernels on disk), one visit a site, no budget, the
example catalog. Prints Markdown: medians over three runs a seed, and the machine.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from generated import write_case
from machine import machine

SEEDS = (1, 2, 3)
RUNS = 3


def timed(case: Path, out: Path) -> tuple[float, dict]:
    """Wall time of one plan command [s], and its plan."""
    command = [sys.executable, "-m", "optibuild", "plan", str(case), "--out", str(out), "--json"]
    started = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - started, json.loads((out / "plan.json").read_text())


def main(sites: int) -> None:
    """Print the table."""
    print(f"{sites} sites, example catalog; {machine()}; {time.strftime('%Y-%m-%d')}\n")
    print("| seed | proof | gap | cost USD | trucks | stops a loop | median s | runs s |")
    print("|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for seed in SEEDS:
            case = write_case(Path(folder) / f"case{seed}", sites, seed)
            timed(case, Path(folder) / "warm")
            runs = [timed(case, Path(folder) / f"plan{seed}") for _ in range(RUNS)]
            seconds, plan = [run[0] for run in runs], runs[-1][1]
            outcome, trucks = plan["outcome"], plan["trucks"]
            stops = sum(len(truck["loop"]["stops"]) for truck in trucks) / len(trucks)
            print(f"| {seed} | {outcome['proof']} | {outcome['gap']:.2%} | {outcome['cost_usd']:,.0f} "
                  f"| {len(trucks)} | {stops:.1f} | {statistics.median(seconds):.1f} "
                  f"| {', '.join(f'{one:.1f}' for one in seconds)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)

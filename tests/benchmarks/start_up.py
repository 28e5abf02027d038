"""How long the program takes to start: python tests/benchmarks/start_up.py [RUNS]

`--help`, which should take less than 0.25 s, and the check of an example, less than 1 s: each RUNS times (11)
as a process of its own, after one that is not counted. Prints Markdown: the median of the seconds, the least
and the most, and the seconds in which a core was busy. Then what the check spends its time on before it
begins, as Python's own import profile tells it, the least of RUNS: the ten heaviest packages, each with all
of its modules. The profile makes everything slower: the shares count.
"""

import resource
import statistics
import subprocess
import sys
import time
from collections import defaultdict
from pathlib import Path

from machine import machine

ROOT = Path(__file__).parents[2]
CALLS = {"--help": 0.25, "check examples/contract-bid": 1.0}
HEAVIEST = 10


def started(call: str, *options: str) -> tuple[float, float, str]:
    """One process: its seconds, those in which a core was busy, and its standard error."""
    before, began = _busy_s(), time.perf_counter()
    done = subprocess.run([sys.executable, *options, "-m", "optibuild", *call.split()], cwd=ROOT, check=True,
                          capture_output=True, text=True)
    return time.perf_counter() - began, _busy_s() - before, done.stderr


def _busy_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def packages(call: str, runs: int) -> list[tuple[float, str, int]]:
    """Milliseconds that each package takes to load by itself, its name and how many modules it has; the most
    first."""
    least: dict[str, float] = defaultdict(lambda: float("inf"))
    for _ in range(runs):
        for line in started(call, "-X", "importtime")[2].splitlines()[1:]:
            own, _, name = (part.strip() for part in line.split("|"))
            least[name] = min(least[name], int(own.removeprefix("import time:")) / 1e3)
    found: dict[str, list[float]] = defaultdict(list)
    for name, own_ms in least.items():
        top = name.partition(".")[0]
        found["the standard library" if top in sys.stdlib_module_names else top].append(own_ms)
    return sorted(((sum(own), name, len(own)) for name, own in found.items()), reverse=True)


def main(runs: int) -> None:
    """The table of the calls, then that of the packages."""
    print(f"{machine()}\n\n| call | limit s | median s | least s | most s | busy s |")
    print("|---|---|---|---|---|---|")
    for call, limit_s in CALLS.items():
        started(call)
        took, busy, _ = zip(*(started(call) for _ in range(runs)), strict=True)
        print(f"| {call} | {limit_s} | {statistics.median(took):.2f} | {min(took):.2f} | {max(took):.2f} | "
              f"{statistics.median(busy):.2f} |")
    loaded = packages(call, runs)
    whole = sum(own for own, _, _ in loaded)
    print(f"\n| loaded by {call} | modules | ms | share |\n|---|---|---|---|")
    for own, name, count in loaded[:HEAVIEST]:
        print(f"| {name} | {count} | {own:.0f} | {own / whole:.0%} |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 11)

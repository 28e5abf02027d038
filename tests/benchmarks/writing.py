"""How long a plan takes to write: python tests/benchmarks/writing.py [SITES ...]

Everything that `plan` writes beside the search: tables, workbook, map file, page, sheets, plan.json. The plan
of the small case is repeated, its sites and trucks by other names, until it has so many sites (50 and 500).
Prints Markdown: seconds of a process of its own, imports included, median of five, and the page's size.
"""

import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

from machine import machine

from optibuild.inputs import case_workbook, read_case
from optibuild.pipeline import make_plan, to_json
from optibuild.records import Case, Plan
from optibuild.report import plan_files

SMALL = Path(__file__).parents[1] / "data" / "small"
RUNS = 5


def repeated(case: Case, plan: Plan, sites: int) -> tuple[Case, Plan]:
    """Case and plan side by side with themselves, a mile further north each time."""
    times = -(-sites // len(case.sites))
    names = [[f"{site.id} {k}" for site in case.sites] for k in range(times)]
    of = [dict(zip([site.id for site in case.sites], row, strict=True)) for row in names]
    more = replace(case, sites=tuple(
        replace(site, id=of[k][site.id], lat_deg=site.lat_deg + 0.015 * k)
        for k in range(times) for site in case.sites))
    trucks = tuple(replace(truck, truck_no=truck.truck_no + k * len(plan.trucks), loop=replace(
        truck.loop, stops=tuple(replace(stop, site=of[k][stop.site]) for stop in truck.loop.stops)))
        for k in range(times) for truck in plan.trucks)
    served = tuple(replace(site, id=of[k][site.id], works=tuple(
        replace(work, truck_no=work.truck_no + k * len(plan.trucks)) for work in site.works))
        for k in range(times) for site in plan.sites)
    return more, replace(plan, trucks=trucks, sites=served)


def main(counts: list[int]) -> None:
    """The table, a row for each number of sites; each run is a process of its own."""
    print(f"{machine()}\n\n| sites | median s | runs s | page MB |\n|---|---|---|---|")
    for sites in counts:
        runs, size = [], 0.0
        for _ in range(RUNS):
            done = subprocess.run([sys.executable, __file__, "once", str(sites)], check=True,
                                  capture_output=True, text=True)
            seconds, size = map(float, done.stdout.split())
            runs.append(seconds)
        told = ", ".join(f"{seconds:.2f}" for seconds in runs)
        print(f"| {sites} | {statistics.median(runs):.2f} | {told} | {size:.2f} |")


def once(sites: int) -> None:
    """Write one plan; the seconds from its being there, and the size of the page [MB]."""
    case, plan = repeated(read_case(SMALL), make_plan(read_case(SMALL)), sites)
    started = time.perf_counter()
    files = plan_files(plan, case, case_workbook(case))
    text = to_json(plan)
    print(time.perf_counter() - started, len(files["report.html"]) / 1e6 if text else 0.0)


if __name__ == "__main__":
    if sys.argv[1:2] == ["once"]:
        once(int(sys.argv[2]))
    else:
        main([int(one) for one in sys.argv[1:]] or [50, 500])

"""How long the minutes of many builds at many stops take: python tests/benchmarks/service_minutes.py

Invented: 500 builds (20 trucks, half with rear-wheel drive, x 25 plows, one spreader), 2,000 sites of one
parcel, six cycle limits, half of the sites stacked at the end, a season of four events. Prints Markdown: the
median of five runs on one core and the peak of memory, for few rigs (what a pass moves is limited by the
blade) and for many (by each build's own grip).
"""

import os
import random
import resource
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))

from machine import machine
from times_case import ASSUMED, EVENTS, PLOW, SITE, TRUCK, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import clocks, service_times
from optibuild.records import Case

TRUCKS, PLOWS, SITES, RUNS = 20, 25, 2000, 5
LIMITS_MIN = (60.0, 90.0, 120.0, 150.0, 180.0, 240.0)


def case(mu_snow: float) -> Case:
    """The case; at little grip every build pushes another mass."""
    draw = random.Random(1).uniform
    trucks = tuple(replace(
        TRUCK, id=f"t{n}", wheelbase_m=draw(3.0, 4.5), drive=("all", "rear")[n % 2],
        curb_front_kg=draw(1200, 2200), curb_rear_kg=draw(900, 1800)) for n in range(TRUCKS))
    plows = tuple(replace(PLOW, id=f"p{n}", width_m=draw(2.0, 3.2), mount_mass_kg=draw(20, 90))
                  for n in range(PLOWS))
    sites = tuple(replace(
        SITE, id=f"s{n}", lat_deg=45 + draw(0, 0.03), lon_deg=-90 + draw(0, 0.03), parcels=1,
        area_m2=draw(300, 1200), pass_length_m=draw(20, 120), plow_every_min=LIMITS_MIN[n % 6],
        deice_every_min=LIMITS_MIN[n % 6], snow_goes=("side", "end")[n % 2]) for n in range(SITES))
    deeper = tuple(replace(event, id=f"{event.id} 2", snowfall_m=2 * event.snowfall_m) for event in EVENTS)
    return plain_case(trucks=trucks, plows=plows, sites=sites, travel=(), season=(*EVENTS, *deeper),
                      assumptions=replace(ASSUMED, mu_snow=mu_snow, tau_step_min=1000.0))


def main() -> None:
    """Both cases, in a table."""
    print(f"{machine()}; {TRUCKS * PLOWS} builds x {SITES} parcels x {len(LIMITS_MIN)} limits\n")
    print("| what limits a pass | median s | runs s | peak memory MB |\n|---|---|---|---|")
    for words, mu_snow in (("the blade", 0.15), ("each build's grip", 0.08)):
        made = case(mu_snow)
        builds = replace(plain_builds(*((t, p, 0) for t in range(TRUCKS) for p in range(PLOWS))), ids=tuple(
            (*(row.id for row in rows), "-") for rows in (made.trucks, made.plows, made.spreaders)))
        rounds, runs = season_rounds(made, clocks(made)), []
        for _ in range(RUNS):
            started = time.perf_counter()
            times = service_times(made, builds, rounds)
            runs.append(time.perf_counter() - started)
            assert times.minutes.shape == (TRUCKS * PLOWS, len(LIMITS_MIN), SITES)
            del times
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"| {words} | {statistics.median(runs):.2f} | {', '.join(f'{run:.2f}' for run in runs)} "
              f"| {peak:.0f} |")


if __name__ == "__main__":
    main()

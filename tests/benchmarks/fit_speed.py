"""How long fit takes for a million combinations: python tests/benchmarks/fit_speed.py [TRUCKS]

An invented catalog of 60 plows, 62 spreaders, two ballast kits and so many trucks, half of which know their
tires; every load state, both crews. Prints Markdown: the median of five runs on one core, the peak of memory,
and the roofline: what the runs would take if they did nothing but move their arrays through main memory.
"""

import os
import random
import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from machine import machine

from optibuild.fit import fit_builds
from optibuild.records import Builds, Case

sys.path.insert(0, str(Path(__file__).parents[1]))

PLOWS, SPREADERS, RUNS = 60, 62, 5
KITS, RATINGS = 2, 4
"""Ratings: both axles, gross and the least front share; tires share the row of their axle."""


def catalog(trucks: int) -> Case:
    """Trucks of classes 2 to 5 with light and heavy plows, hoppers ahead of and behind the rear axle."""
    from fit_cases import fit_case, kit, plow, spreader, truck

    draw = random.Random(1)

    def a_truck(number: int) -> Any:
        gross = draw.uniform(6500, 19_500)
        gawr = (gross * 0.5, gross * 0.65)
        tires = tuple(rated * draw.uniform(0.95, 1.2) for rated in gawr) if number % 2 else (np.inf, np.inf)
        return truck(f"t{number}", gvwr=gross, gawr=gawr, curb=(gross * 0.38, gross * 0.27), tires=tires,
                     wheelbase=draw.uniform(120, 200))

    return fit_case(
        [a_truck(number) for number in range(trucks)],
        [plow(f"p{n}", blade=draw.uniform(300, 1200), mount=100) for n in range(PLOWS)],
        [spreader(f"s{n}", empty=draw.uniform(150, 900), holds=draw.uniform(500, 6000),
                  center=draw.uniform(-60, 10)) for n in range(SPREADERS)],
        [kit("middle"), kit("end", 100, -8, 10)], occupants=2, least_fill=300, min_front_share=0.2)


def seconds(work: Callable[[], object]) -> list[float]:
    """Wall times of five runs after one to warm up [s]."""
    work()
    found = []
    for _ in range(RUNS):
        started = time.perf_counter()
        work()
        found.append(time.perf_counter() - started)
    return found


def bytes_moved(combinations: int, builds: Builds) -> float:
    """Doubles read and written by the array operations as they stand, times eight.

    A sum or a minimum of two arrays into a third counts three, one with a small table two. Left out: masks,
    whole-number steps, and what few combinations need.
    """
    options, rejected = KITS + 1, int(np.count_nonzero(~builds.fits))
    room_and_lines = RATINGS * (1 + 2 + 2 + 2)
    interval = options * (RATINGS * (2 + 3) + 4)
    fills = (2 * KITS + 1) * RATINGS * (2 + 3 + 3)
    peak = KITS * (4 + RATINGS * (3 + 2 + 3))
    clip_and_choose = KITS * 12 + options * 6
    nearest = KITS * (RATINGS**2 * (2 + 2 + 3) + RATINGS * (4 + 3 * 5)) + RATINGS * 4
    told = 9 * 4
    every = room_and_lines + interval + fills + peak + clip_and_choose
    return 8.0 * (combinations * every + rejected * nearest + len(builds) * told)


def copied_bytes_per_s() -> float:
    """Memory bandwidth: bytes read and written by copying 256 MB, the best of five [B/s]."""
    source = np.ones(32 * 2**20)
    target = np.empty_like(source)
    return 2.0 * source.nbytes / min(seconds(lambda: np.copyto(target, source)))


def peak_mb() -> float:
    """Largest memory this process has held so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(trucks: int) -> None:
    """Print the table."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    case = catalog(trucks)
    combinations = trucks * ((PLOWS + 1) * (SPREADERS + 1) - 1)
    before = peak_mb()
    times = seconds(lambda: fit_builds(case))
    held, builds = peak_mb(), fit_builds(case)
    median, moved = statistics.median(times), bytes_moved(combinations, builds)
    bandwidth = copied_bytes_per_s()
    print(f"{machine()}, one of them used; numpy {np.__version__}; {time.strftime('%Y-%m-%d')}\n")
    for name, value in {
        "combinations": f"{combinations:,}", "builds told": f"{len(builds):,}",
        "of these fit": f"{np.count_nonzero(builds.fits):,}",
        "median of five": f"{median:.2f} s ({', '.join(f'{one:.2f}' for one in times)})",
        "combinations a second": f"{combinations / median:,.0f}",
        "peak memory": f"{held:.0f} MB ({before:.0f} MB before the first run)",
        "bytes moved": f"{moved / 1e9:.1f} GB, {moved / combinations:,.0f} a combination",
        "memory bandwidth": f"{bandwidth / 1e9:.1f} GB/s (a copy in this run)",
        "roofline": f"{moved / bandwidth:.2f} s; the median is {median / (moved / bandwidth):.1f} times that",
    }.items():
        print(f"| {name} | {value} |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 264)

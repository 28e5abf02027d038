"""How long `check` takes to read 100,000 sites and 50,000 catalog rows, from CSV and from a workbook.

`python tests/benchmarks/big_tables.py [RUNS]` prints the median time and the most memory of the whole
command, each run in a process of its own. Aims: 10 s from CSV, 30 s from a workbook, 1.5 GB.
"""

import csv
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import numpy as np
from openpyxl import Workbook

ROOT = Path(__file__).parents[2]
SITES, ROWS = 100_000, {"trucks": 20_000, "plows": 15_000, "spreaders": 15_000}


def write_case(folder: Path) -> None:
    """A case folder of that size: the example catalog's rows over again with figures of their own."""
    rng = np.random.default_rng(1)
    for table in ("trucks", "plows", "spreaders", "ballast", "materials"):
        with open(ROOT / "catalogs" / f"{table}.csv", newline="", encoding="utf-8") as file:
            heading, *rows = csv.reader(file)
        wanted = ROWS.get(table, len(rows))
        price = heading.index("price [USD]") if table in ROWS else None
        made = [[f"{rows[n % len(rows)][0]}-{n}", *rows[n % len(rows)][1:]] for n in range(wanted)] \
            if table in ROWS else rows
        for row in made if price is not None else ():
            row[price] = str(int(rng.integers(1000, 60000)))
        _write(folder / f"{table}.csv", heading, made)
    (folder / "case.toml").write_text('[case]\nname = "large, invented"\n')
    (folder / "depots.csv").write_text("id,lat,lon\nyard,41.5,-93.5\n")
    (folder / "season.csv").write_text(
        "id,count,duration [h],snowfall [in],pavement [degF]\nmiddle,8,9,3.5,24\n")
    example = ROOT / "examples" / "contract-bid" / "sites.csv"
    with open(example, newline="", encoding="utf-8") as file:
        heading, *rows = csv.reader(file)
    where = [heading.index(name) for name in ("lat", "lon", "area [acre]")]
    sites = []
    for n in range(SITES):
        row = [f"{rows[n % len(rows)][0]}-{n}", *rows[n % len(rows)][1:]]
        for index, value in zip(where, (41.5 + rng.normal(0, 0.2), -93.5 + rng.normal(0, 0.2),
                                        np.exp(rng.normal(-0.3, 0.5))), strict=True):
            row[index] = f"{value:.5f}"
        sites.append(row)
    _write(folder / "sites.csv", heading, sites)


def _write(path: Path, heading: list[str], rows: list[list[str]]) -> None:
    with open(path, "w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([heading, *rows])


def write_workbook(folder: Path, path: Path) -> None:
    """The same tables as sheets of one workbook, figures as numbers."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("case")
    sheet.append(["key", "value"])
    sheet.append(["case.name", "large, invented"])
    for table in sorted(folder.glob("*.csv")):
        sheet = book.create_sheet(table.stem)
        with open(table, newline="", encoding="utf-8") as file:
            for cells in csv.reader(file):
                sheet.append([_cell(cell) for cell in cells])
    book.save(path)


def _cell(text: str) -> str | float | None:
    try:
        return float(text.replace(",", "")) if text else None
    except ValueError:
        return text


def measure(case: Path, runs: int) -> None:
    """The median wall time and the greatest memory of `optibuild check` on a case."""
    times = []
    for _ in range(runs):
        started = time.perf_counter()
        subprocess.run([sys.executable, "-m", "optibuild", "check", str(case)], check=True,
                       capture_output=True)
        times.append(time.perf_counter() - started)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{case.name}: median {median(times):.1f} s of {', '.join(f'{t:.1f}' for t in times)}; "
          f"most memory of a process so far {most:,.0f} MB")


if __name__ == "__main__":
    RUNS = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as made:
        FOLDER = Path(made) / "folder"
        FOLDER.mkdir()
        write_case(FOLDER)
        measure(FOLDER, RUNS)
        write_workbook(FOLDER, Path(made) / "case.xlsx")
        measure(Path(made) / "case.xlsx", RUNS)

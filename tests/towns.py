"""Generated cases small enough for the suite: the towns of the benchmarks with the first rows of their
catalogs; and the same case with its rows in another order."""

import csv
from pathlib import Path

import numpy as np
from benchmarks.scale_cases import write_case

CATALOG_ROWS = {"trucks.csv": 8, "plows.csv": 6, "spreaders.csv": 6}


def town(folder: Path, sites: int, seed: int = 1, full: bool = False, gap: str = "0") -> Path:
    """A case of so many sites, with few enough items that the stages before the search take a second."""
    write_case(folder, sites, seed, full, gap, "5 min")
    for name, rows in CATALOG_ROWS.items():
        lines = (folder / name).read_text(encoding="utf-8").splitlines(keepends=True)
        (folder / name).write_text("".join(lines[:rows + 1]), encoding="utf-8")
    return folder


def with_one_way_streets(folder: Path, seed: int = 1) -> Path:
    """The case with a travel table in which no way takes as long as the way back, so that no loop costs the
    same both ways round."""
    rng = np.random.default_rng([7, seed])
    at = [(row["id"], float(row["lat"]), float(row["lon"])) for name in ("depots.csv", "sites.csv")
          for row in csv.DictReader((folder / name).read_text(encoding="utf-8").splitlines())]
    legs = [f"{a},{b},{100.0 * np.hypot(lat - la, lon - lo) * rng.uniform(1.2, 1.8) + 1.0:.4f}"
            for a, lat, lon in at for b, la, lo in at if a != b]
    (folder / "travel.csv").write_text("\n".join(["from,to,time [min]", *legs, ""]), encoding="utf-8")
    return folder


def shuffled(folder: Path, copy: Path, seed: int) -> Path:
    """A copy of a case with the rows of every table in another order."""
    rng = np.random.default_rng([8, seed])
    copy.mkdir()
    for file in folder.iterdir():
        heading, *rows = file.read_text(encoding="utf-8").splitlines(keepends=True)
        if file.suffix == ".csv":
            rng.shuffle(rows)
        (copy / file.name).write_text("".join([heading, *rows]), encoding="utf-8")
    return copy

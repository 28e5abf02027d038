"""Cases made by a seed: an invented town of so many sites around the example catalog's trucks."""

import csv
import shutil
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
HEADING = ("id,name,lat,lon,area [acre],pass_length [ft],clear_width [ft],snow_goes,work,plow_every [h],"
           "deice_every [h],deadline [h],trigger [in],parcels,must_serve,note")


def write_case(folder: Path, sites: int, seed: int, gap: str = "0 %", time_limit: str = "2 min") -> Path:
    """A case of `sites` sites, one visit each, four cycle limits, deadlines on a tenth, no budget."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    for table in ("trucks", "plows", "spreaders", "ballast", "materials"):
        shutil.copy(ROOT / "catalogs" / f"{table}.csv", folder)
    (folder / "case.toml").write_text(
        f'[case]\nname = "generated {sites} sites, seed {seed}"\n\n'
        f'[solve]\ngap = "{gap}"\ntime_limit = "{time_limit}"\n')
    (folder / "depots.csv").write_text(
        "id,lat,lon,reload_time [min],reload_rate [lb/min]\nyard,41.5,-93.5,8,600\n")
    (folder / "season.csv").write_text(
        "id,count,duration [h],snowfall [in],pavement [degF]\nlight,12,5,1.5,28\nmiddle,8,9,3.5,24\n"
        "heavy,3,16,8,18\nice,6,4,0,27\n")
    with open(folder / "sites.csv", "w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADING.split(","))
        for n in range(sites):
            writer.writerow(_site(n, rng))
    return folder


def _site(n: int, rng: np.random.Generator) -> list[object]:
    """A lot of median 0.7 acre, kept small enough for one visit within its cycle limit."""
    work = rng.choice(["plow", "both"], p=[0.45, 0.55])
    limit = float(rng.choice([2, 2.5, 3, 4], p=[0.3, 0.2, 0.3, 0.2]))
    area = min(0.45 * limit, float(np.exp(rng.normal(np.log(0.7), 0.5))))
    deadline = limit - 0.5 if rng.random() < 0.1 else ""
    lat, lon = 41.5 + rng.normal(0, 0.035), -93.5 + rng.normal(0, 0.045)
    return [f"s{n:04d}", "invented", round(lat, 5), round(lon, 5), round(area, 2),
            int(rng.integers(120, 320)), int(rng.integers(40, 120)),
            rng.choice(["side", "end"], p=[0.8, 0.2]), work, limit, "", deadline,
            rng.choice([1, 2]), 1, "yes", "invented"]

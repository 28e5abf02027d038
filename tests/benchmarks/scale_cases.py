"""Cases for the integer program at scale, made by a seed: an invented catalog of 40 trucks x 24 plows x 16
spreaders, and an invented town of so many sites.

Plain: works of a site together, reloads, no budget. Full: a third of the sites that want both works may split
them, the budget is tight, some items are owned and others limited.
"""

import csv
from collections.abc import Iterable
from pathlib import Path

import numpy as np

TRUCKS, PLOWS, SPREADERS = 40, 24, 16
BUDGETS_USD = {(25, 1): 265_000, (25, 2): 325_000, (25, 3): 365_000,
               (50, 1): 570_000, (50, 2): 475_000, (50, 3): 500_000}
OTHER_BUDGET_A_SITE_USD = 14_000
"""Budgets of the full case by sites and seed, midway between what a plan found without a budget spends and
the least that one was found to spend; about that a site for larger ones."""
# size, GVWR and axle ratings [lb], curb front and rear [lb], wheelbase [in], circle [in], price [USD], mi/gal
SIZES = (
    ("half-ton", 6900, 3900, 3900, 2760, 2050, 133, 540, 39_000, 17),
    ("three-quarter-ton", 10_000, 5600, 6300, 3550, 2550, 142, 564, 47_000, 13),
    ("one-ton", 14_000, 6400, 9900, 4100, 3500, 147, 590, 60_000, 11),
    ("class 5", 19_500, 7300, 13_700, 4700, 4300, 169, 620, 74_000, 9),
)
STORM = '[storm]\nsnowfall_rate = "0.5 in/h"\n'


def write_case(folder: Path, sites: int, seed: int, full: bool, gap: str, time_limit: str) -> Path:
    """A case of so many sites in a folder of its own."""
    rng = np.random.default_rng([6, sites, seed])
    folder.mkdir(parents=True, exist_ok=True)
    stock_for = sites if full else 0
    budget_usd = BUDGETS_USD.get((sites, seed), OTHER_BUDGET_A_SITE_USD * sites)
    budget = f'[money]\nbudget = "{budget_usd} USD"\n' if full else ""
    (folder / "case.toml").write_text(
        f'[case]\nname = "generated, {sites} sites, seed {seed}"\n{STORM}{budget}'
        f'[solve]\ngap = "{gap}"\ntime_limit = "{time_limit}"\n')
    _write(folder / "trucks.csv", _trucks(np.random.default_rng(6), stock_for))
    _write(folder / "plows.csv", _plows(np.random.default_rng(7), stock_for))
    _write(folder / "spreaders.csv", _spreaders(np.random.default_rng(8), stock_for))
    _write(folder / "ballast.csv", [
        {"id": "bag", "unit_mass [lb]": 60, "center [in]": -14, "price [USD]": 7}])
    _write(folder / "materials.csv", [{"id": "salt", "bulk_density [lb/ft^3]": 80, "price [USD/ton]": 92}])
    _write(folder / "depots.csv", [{"id": "yard", "lat": 41.5, "lon": -93.5}])
    _write(folder / "season.csv", [
        {"id": name, "count": count, "duration [h]": hours, "snowfall [in]": snow, "pavement [degF]": degrees}
        for name, count, hours, snow, degrees in (("light", 12, 5, 1.5, 28), ("middle", 8, 9, 3.5, 24),
                                                  ("heavy", 3, 16, 8, 18), ("ice", 6, 4, 0, 27))])
    _write(folder / "sites.csv", [_site(n, rng, full) for n in range(sites)])
    return folder


def _write(file: Path, rows: Iterable[dict[str, object]]) -> None:
    rows = list(rows)
    with open(file, "w", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _stock(n: int, sites: int) -> dict[str, object]:
    """In the full case of 50 sites every seventh item is owned once, every fifth can be bought twice only; in
    others as much more or less as there are sites. No `sites`: the plain case."""
    sevenths = n // 7
    owned = (sevenths + 1) * sites // 50 - sevenths * sites // 50 if n % 7 == 0 else 0
    return {"owned": owned, "available": max(1, 2 * sites // 50) if sites and n % 5 == 0 else ""}


def _trucks(rng: np.random.Generator, stock_for: int) -> list[dict[str, object]]:
    """Ten of each size, that differ in weights, wheelbase and price."""
    rows = []
    for n in range(TRUCKS):
        size, gvwr, front, rear, curb_front, curb_rear, base, circle, price, economy = SIZES[n % len(SIZES)]
        longer = rng.uniform(0.94, 1.12)
        rows.append({
            "id": f"t{n:02d}", "size": size, "gvwr [lb]": gvwr, "gawr_front [lb]": front,
            "gawr_rear [lb]": rear, "curb_front [lb]": round(curb_front * rng.uniform(0.97, 1.04)),
            "curb_rear [lb]": round(curb_rear * rng.uniform(0.97, 1.04)),
            "wheelbase [in]": round(base * longer), "turning_circle [in]": round(circle * longer),
            "drive": "rear" if n % 6 == 5 else "all",
            "price [USD]": round(price * rng.uniform(0.92, 1.1), -2), "upkeep [USD/year]": 1700,
            "city [mi/gal]": economy, "highway [mi/gal]": economy + 4, **_stock(n, stock_for)})
    return rows


def _plows(rng: np.random.Generator, stock_for: int) -> list[dict[str, object]]:
    """Blades of 7.5 to 10 ft and 550 to 900 lb, heavier and dearer as they are wider and higher."""
    rows = []
    for n in range(PLOWS):
        width, height = 90 + 30 * (n % 6) / 5, 27 + 2 * (n // 6)
        mass = 550 + 350 * (0.6 * (width - 90) / 30 + 0.4 * (height - 27) / 6)
        rows.append({"id": f"p{n:02d}", "width [in]": width, "height [in]": height,
                     "blade_mass [lb]": round(mass), "mount_mass [lb]": 90,
                     "price [USD]": round((4200 + 8 * (mass - 400)) * rng.uniform(0.95, 1.08), -1),
                     **_stock(n, stock_for)})
    return rows


def _spreaders(rng: np.random.Generator, stock_for: int) -> list[dict[str, object]]:
    """Six tailgate spreaders and ten hoppers of up to 3 cubic yards."""
    rows = []
    for n in range(SPREADERS):
        tailgate = n < 6
        volume = 7 + 1.5 * n if tailgate else 15 + 7.2 * (n - 6)
        rows.append({"id": f"s{n:02d}", "kind": "tailgate" if tailgate else "hopper",
                     "empty_mass [lb]": round(90 + 8 * volume if tailgate else 260 + 5.5 * volume),
                     "volume [ft^3]": volume, "center [in]": 14 if tailgate else -40,
                     "spread_width [ft]": 20 if tailgate else 24, "discharge [lb/min]": 60 + 10 * n,
                     "price [USD]": round((1200 + 160 * volume if tailgate else 3200 + 60 * volume)
                                          * rng.uniform(0.95, 1.08), -1), **_stock(n, stock_for)})
    return rows


def _site(n: int, rng: np.random.Generator, full: bool) -> dict[str, object]:
    """A lot of median 0.7 acre."""
    work = str(rng.choice(["plow", "both"], p=[0.45, 0.55]))
    limit = float(rng.choice([2, 2.5, 3, 4], p=[0.3, 0.2, 0.3, 0.2]))
    return {
        "id": f"s{n:04d}", "lat": round(41.5 + rng.normal(0, 0.035), 5),
        "lon": round(-93.5 + rng.normal(0, 0.045), 5),
        "area [acre]": round(0.7 * np.exp(rng.normal(0, 0.5)), 2),
        "pass_length [ft]": int(rng.integers(120, 320)), "clear_width [ft]": int(rng.integers(40, 120)),
        "snow_goes": str(rng.choice(["side", "end"], p=[0.8, 0.2])), "work": work, "plow_every [h]": limit,
        "split_works": "yes" if full and work == "both" and rng.random() < 0.6 else "no",
        "deadline [h]": limit - 0.5 if rng.random() < 0.1 else "", "trigger [in]": int(rng.choice([1, 2]))}

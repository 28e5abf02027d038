"""Small whole cases, drawn from a seed by changing the four-site case of tests/data/small."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from optibuild.inputs import read_case
from optibuild.records import Case, Site

SMALL = Path(__file__).parent / "data" / "small"


@cache
def small_case() -> Case:
    """The four-site case as written."""
    return read_case(SMALL)


def seeded_case(seed: int, **changes: Any) -> Case:
    """Two trucks, two plows, two spreaders and four sites: areas, prices, pay, works, parcels, stock, budget
    and drivers drawn from the seed. Pay is near what a site costs, so that some are better left out."""
    rng = np.random.default_rng([20_252, seed])
    case = small_case()
    must = float(rng.choice([0.2, 0.5, 0.9]))
    trucks, plows = (sorted(rng.choice(3, 2, replace=False)) for _ in range(2))
    made = replace(
        case,
        trucks=tuple(_item(rng, case.trucks[k]) for k in trucks),
        plows=tuple(_item(rng, case.plows[k]) for k in plows),
        spreaders=tuple(_item(rng, row) for row in case.spreaders),
        sites=tuple(_site(rng, site, must) for site in case.sites),
        money=replace(case.money, budget_usd=float(rng.choice([np.inf, 40_000, 55_000, 90_000]))),
        crew=replace(case.crew, drivers=float(rng.choice([np.inf, np.inf, 2.0, 1.0]))),
        solve=replace(case.solve, reserve_min=float(rng.choice([0.0, 10.0]))))
    return replace(made, **changes)


def _item(rng: np.random.Generator, item: Any) -> Any:
    """A catalog row at another price, perhaps owned, perhaps limited."""
    owned, few = rng.random() < 0.25, rng.random() < 0.2
    price = float(item.price_usd * rng.uniform(0.7, 1.3))
    return replace(item, price_usd=price, resale_usd=0.2 * price, owned=int(owned),
                   available=float(rng.integers(0, 3)) if few else np.inf)


def _site(rng: np.random.Generator, site: Site, must: float) -> Site:
    """A site of another size in one to three parcels, perhaps optional, perhaps with its works split."""
    return replace(
        site, area_m2=site.area_m2 * float(rng.uniform(0.5, 1.8)), parcels=int(rng.choice([1, 1, 2, 3])),
        must_serve=bool(rng.random() < must), split_works=site.work == "both" and bool(rng.random() < 0.5),
        pay_by="season", pay_usd=float(rng.integers(10, 80) * 100))

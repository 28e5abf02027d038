"""Two trucks and three sites to drill, every minute of which is worked out by hand, and small seeded cases of
several trucks.

Three lots are salted, nothing is plowed: minutes do not depend on the clock. Each is 5 min from the yard and
10 min from the others. 2400 m^2 at 0.05 take 120 kg, 120/240 = 0.5 min to reload; the wide spreader goes
min(250, 60/(0.05 x 6)) = 200 m/min, 2400/(6 x 200)/0.8 = 2.5 min; the narrow one min(250, 60/(0.05 x 3)),
which is 250, 2400/(3 x 250)/0.8 = 4 min, 1.5 more. Stop times are 7, 17 and 27, so p, q, r take 10, 20, 30
min with the wide spreader and 11.5, 21.5, 31.5 with the narrow one. A loop of n stops drives 10 n and reloads
5 at its end; a hopper holds at least the 360 kg of all three: its volume 0.4 x 1250 = 500, and the rear axle
leaves (1795 - 1000 - 150 - 80)/1.125 = 502.

Every 60 min. {p, q} takes 10 + 20 + 20 + 5 = 55 wide, 58 narrow; {r} 45 wide; {p, r} 65 and {q, r} 75 are too
long. q is due at 30: it comes first, done at 25 or 26.5. r is due at 36: done at 35 wide, at 36.5 narrow, so
that only the wide spreader does it. The narrow spreader is much cheaper, so it does p and q.
"""

from dataclasses import replace
from functools import cache
from itertools import permutations
from math import inf

import numpy as np
import small_plan as sp
from seeded_cases import seeded_case

from optibuild.pipeline import make_plan
from optibuild.records import Case, Leg, Plan, Site

STOP_MIN = {"p": 7.0, "q": 17.0, "r": 27.0}
DUE_MIN = {"p": inf, "q": 30.0, "r": 36.0}
YARD = sp.YARD


def _lot(name: str) -> Site:
    return replace(sp.LOT_C, id=name, lat_deg=YARD.lat_deg, lon_deg=YARD.lon_deg, area_m2=2400,
                   deice_every_min=60, deice_rate_kg_per_m2=0.05, stop_time_min=STOP_MIN[name],
                   deadline_min=DUE_MIN[name], parcels=1, must_serve=True, pay_by=None, pay_usd=0)


NARROW = replace(sp.HOPPER, id="narrow", spread_width_m=3, price_usd=100, owned=0)
CASE: Case = replace(
    sp.CASE, name="hand", plows=(), ballast=(), trucks=(replace(sp.TRUCK, owned=0),),
    spreaders=(replace(sp.HOPPER, id="wide", owned=0), NARROW), sites=tuple(map(_lot, "pqr")),
    travel=tuple(Leg(a, b, 5 if "yard" in (a, b) else 10, 3000) for a, b in permutations(
        ("yard", *"pqr"), 2)),
    money=replace(sp.CASE.money, budget_usd=inf), crew=replace(sp.CASE.crew, drivers=inf),
    solve=replace(sp.CASE.solve, gap=0, reserve_min=0))


@cache
def hand_plan(case: Case = CASE) -> Plan:
    """The plan of the hand case: narrow for p and q, wide for r."""
    return make_plan(case)


def fleet_case(seed: int) -> Case:
    """A seeded case of four sites in one parcel each, all to be served, limits so tight that it takes several
    trucks; deadlines by chance."""
    rng = np.random.default_rng([20_261, seed])
    case = seeded_case(seed)
    sites = tuple(replace(
        site, parcels=1, split_works=False, must_serve=True,
        plow_every_min=None if site.plow_every_min is None else float(rng.choice([60, 75, 90, 120])),
        deice_every_min=None if site.deice_every_min is None else float(rng.choice([60, 75, 90, 120])),
        deadline_min=float(rng.choice([inf, 50.0, 70.0]))) for site in case.sites)
    return replace(
        case, sites=sites, trucks=tuple(replace(row, available=inf) for row in case.trucks),
        plows=tuple(replace(row, available=inf) for row in case.plows),
        spreaders=tuple(replace(row, available=inf) for row in case.spreaders),
        money=replace(case.money, budget_usd=inf), crew=replace(case.crew, drivers=inf),
        solve=replace(case.solve, gap=0.0, time_limit_s=60.0))


@cache
def fleet_plan(seed: int) -> Plan | None:
    """Its plan; None where there is none with two trucks or more."""
    plan = make_plan(fleet_case(seed))
    return plan if len(plan.trucks) > 1 else None

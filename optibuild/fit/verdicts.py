"""Verdicts in words, worked out for the builds they are asked of."""

from collections.abc import Sequence
from math import isfinite

import numpy as np

from optibuild.fit.flags import added_kg, flags
from optibuild.fit.load_states import Mounted, retained_loads, state_loads
from optibuild.fit.mounting import mounting
from optibuild.fit.ratings import (
    NOISE,
    margin_scales,
    overloads,
    rating_limits,
    rating_weights,
    tolerances,
)
from optibuild.fit.reasons import fill_reason, first_words, least_margins, mounting_reasons, rating_reasons
from optibuild.records import (
    CREWS,
    LOAD_STATES,
    NONE,
    RETAINED_STATES,
    AxleLoads,
    Builds,
    Case,
    Reason,
    Truck,
    Verdict,
)
from optibuild.records.build import Floats, Ints, column

EMPTY_STATES = np.array([True, False, True, False])


def verdicts(case: Case, builds: Builds, rows: Sequence[int] | Ints) -> dict[int, Verdict]:
    """Axle loads, what binds, reasons and flags of the asked builds [E], by their index."""
    asked = np.asarray(rows, dtype=np.int64)
    loads = state_loads(case, builds, asked)
    limits = rating_limits(case, builds.truck[asked])
    over = overloads(loads, rating_weights(case.fit), limits, builds.plow[asked] != NONE)
    least = least_margins(over, margin_scales(case, builds.truck[asked], limits))
    told = _reasons(case, builds, asked, loads, limits, over)
    retained = retained_loads(case, builds, asked)
    added = added_kg(case, builds, asked)
    return {row: _verdict(case.trucks[builds.truck[row]], loads[n], retained[n], float(added[n]), least[n],
                          told.get(n, ())) for n, row in enumerate(asked.tolist())}


def _verdict(truck: Truck, loads: Floats, retained: Floats, added: float, least: str,
             reasons: tuple[Reason, ...]) -> Verdict:
    binds = first_words(reasons) if reasons else least
    rows = (*axle_rows(truck, loads), *axle_rows(truck, retained, RETAINED_STATES))
    return Verdict(rows, binds, reasons, flags(truck, loads, added))


def axle_rows(truck: Truck, loads_kg: Floats, states: Sequence[str] = LOAD_STATES) -> tuple[AxleLoads, ...]:
    """A row for every load state and crew that a build has, from its loads [4, 2, 2]."""
    found = []
    for state, crews in zip(states, loads_kg.tolist(), strict=True):
        for crew, (front, rear) in zip(CREWS, crews, strict=True):
            if isfinite(front):
                found.append(AxleLoads(state, crew, front, rear, front + rear, truck.gawr_front_kg - front,
                                       truck.gawr_rear_kg - rear, truck.gvwr_kg - front - rear))
    return tuple(found)


def _reasons(case: Case, builds: Builds, rows: Ints, loads: Floats, limits: Floats,
             over: Floats) -> dict[int, tuple[Reason, ...]]:
    """Why not, for every rejected build among the asked ones, by its place among them."""
    out = np.flatnonzero(~builds.fits[rows])
    truck, plow, spreader, kit = (index[rows[out]] for index in (
        builds.truck, builds.plow, builds.spreader, builds.kit))
    # a rejected build has no fill where its empty states fail, so the full ones would only repeat them;
    # half the tolerance, so that rounding at its edge leaves no rejected build without a reason
    tolerance = 0.5 * tolerances(case, truck, limits[out])
    broken = (over[out] > tolerance[:, None, None, :]) & EMPTY_STATES[:, None, None]
    mounted = mounting_reasons(mounting(case, Mounted(truck, plow, spreader, kit)))
    weighed = rating_reasons(case, column(case.trucks, "curb_kg")[truck], loads[out], limits[out], broken)
    fill, least = builds.usable_fill_kg[rows[out]], case.assumptions.least_useful_fill_kg
    short = (spreader != NONE) & (fill < least * (1.0 - NOISE)) & ~broken.any(axis=(1, 2, 3))
    return {n: (*mounted[at], *weighed[at], *([fill_reason(float(fill[at]), least)] if short[at] else []))
            for at, n in enumerate(out.tolist())}

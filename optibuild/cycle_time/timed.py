"""Sites that somebody timed: the model's minutes for what was timed, and the ratio that scales the site."""

import numpy as np

from optibuild.cycle_time.crews import capacity_kg, rigs_of
from optibuild.cycle_time.rig_minutes import able_to_plow, plow_minutes
from optibuild.cycle_time.traction import pushable_kg
from optibuild.cycle_time.visits import visits
from optibuild.errors import UnusableTiming
from optibuild.records.build import NONE, Floats
from optibuild.records.case import Case, Site
from optibuild.records.loop import Stop


def plow_model_min(case: Case, site: int, truck: int, plow: int, depth_m: float) -> float | None:
    """Minutes that the model, unscaled, gives a truck with a plow alone to plow a whole site at a depth.

    The arguments but the depth index the case's tables. None where they cannot plow there.
    """
    what = np.array([truck]), np.array([plow])
    nothing = np.array([NONE]), np.array([NONE]), np.array([0])
    rigs = rigs_of(case, *what, capacity_kg(case, what[1], pushable_kg(case, *what, *nothing)))
    one = np.ones(len(case.sites))
    rows = visits(case, [Stop(site, 1, "plow")], one.astype(np.int64), one)
    if not able_to_plow(case, rigs, rows)[0, 0]:
        return None
    return float(plow_minutes(case, rigs, rows, np.array([[[depth_m]]]), np.ones((1, 1, 1)))[0, 0, 0])


def timed_scales(case: Case) -> Floats:
    """Timed minutes over the model's at every site [N]; 1 where nobody timed it.

    Raises UnusableTiming where a site was timed with what cannot plow there.
    """
    return np.array([1.0 if site.timed_min is None else _scale(case, n, site)
                     for n, site in enumerate(case.sites)])


def _scale(case: Case, n: int, site: Site) -> float:
    trucks, plows = [row.id for row in case.trucks], [row.id for row in case.plows]
    assert site.timed_truck is not None and site.timed_plow is not None
    assert site.timed_min is not None and site.timed_depth_m is not None
    model = plow_model_min(case, n, trucks.index(site.timed_truck), plows.index(site.timed_plow),
                           site.timed_depth_m)
    if model is None:
        raise UnusableTiming(
            f"sites: {site.id} was timed with {site.timed_truck}+{site.timed_plow}, which cannot plow: the "
            "blade is no wider than assumptions.overlap, or the wheels slip; correct the timing or leave it "
            "out")
    return site.timed_min / model

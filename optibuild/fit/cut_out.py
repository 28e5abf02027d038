"""One combination cut out of a case, so that the engine itself can be asked about variants of it."""

from dataclasses import replace

import numpy as np

from optibuild.fit.builds import fit_builds
from optibuild.fit.load_states import Mounted
from optibuild.fit.mounting import mountable
from optibuild.records import NONE, Builds, Case
from optibuild.records.build import Bools, Floats


def cut_out(case: Case, builds: Builds, index: int) -> Case:
    """The case with the truck, plow and spreader of one build and no others; every ballast kit stays."""
    plow, spreader = int(builds.plow[index]), int(builds.spreader[index])
    return replace(case, trucks=(case.trucks[builds.truck[index]],),
                   plows=() if plow == NONE else (case.plows[plow],),
                   spreaders=() if spreader == NONE else (case.spreaders[spreader],))


def only_weights(part: Case) -> bool:
    """Whether nothing but weights can reject what a cut-out case holds."""
    return bool(mountable(part, Mounted(*(np.array([0 if rows else NONE]) for rows in (
        part.trucks, part.plows, part.spreaders, ())))).all())


def complete(part: Case, builds: Builds) -> Bools:
    """Which builds of a cut-out case, or of one with variants of its parts, carry all that it has [B]."""
    return np.asarray(((builds.plow != NONE) == bool(part.plows))
                      & ((builds.spreader != NONE) == bool(part.spreaders)))


def fits_at_all(part: Case) -> bool:
    """Whether what a cut-out case holds fits with any ballast."""
    builds = fit_builds(part)
    return bool((builds.fits & complete(part, builds)).any())


def most_usable_kg(part: Case) -> float | None:
    """The most that what a cut-out case holds may spread between two reloads; None where it does not fit."""
    builds = fit_builds(part)
    usable: Floats = builds.usable_fill_kg[builds.fits & complete(part, builds)]
    return float(usable.max()) if len(usable) else None

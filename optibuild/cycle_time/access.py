"""Whether a build may enter a site: gross weight, width and turning circle against what is allowed.

Axes: F fitting builds, N sites.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optibuild.cycle_time.crews import Crews
from optibuild.records.build import Bools, Builds, Floats
from optibuild.records.case import Case

NOISE = 1e-9
KINDS = (("gross", "kg"), ("width", "m"), ("turning circle", "m"))


@dataclass(frozen=True)
class Access:
    """What a fitting build has [3, F] and what a site allows [3, N], in the order of KINDS."""

    has: Floats
    allows: Floats

    @cached_property
    def allowed(self) -> Bools:
        """Whether every figure is within what the site allows, noise of 1e-9 aside [F, N]."""
        met = self.has[:, :, None] <= self.allows[:, None, :] * (1 + NOISE)
        return np.asarray(met.all(axis=0))


def access(case: Case, builds: Builds, crews: Crews) -> Access:
    """The access figures of the crews' builds (heaviest state, width and circle with the plow as angled)."""
    first = np.arange(0, len(crews.build), len(case.depots))
    chosen, rig = crews.build[first], crews.rig[first]
    truck_width = np.array([row.width_m for row in case.trucks])[builds.truck[chosen]]
    width = np.maximum(truck_width, crews.rigs.swept_width_m[rig])
    gross = builds.worst_gross_kg[chosen]
    allows = [[site.most_gross_kg, site.most_width_m, site.most_turning_circle_m] for site in case.sites]
    return Access(np.array([gross, width, crews.rigs.circle_m[rig]]), np.array(allows).T)

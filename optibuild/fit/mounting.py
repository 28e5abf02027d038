"""What forbids a combination apart from its weights: the makers' words and the tape."""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.arrays import Bools, Floats, column
from optibuild.fit.load_states import Combinations
from optibuild.fit.ratings import NOISE
from optibuild.records import NONE, Case

RULES = (("plow not allowed", "kg"), ("min GVWR", "kg"), ("bed length", "m"))


@dataclass(frozen=True)
class Mounting:
    """Each rule of `RULES` for each combination [B, 3]: what there is, what is allowed, is it broken."""

    found: Floats
    limit: Floats
    broken: Bools

    @property
    def allowed(self) -> Bools:
        """Whether nothing but weights can reject the combination [B]."""
        return np.logical_not(np.any(self.broken, axis=1))


def mounting(case: Case, combos: Combinations) -> Mounting:
    """Whether the truck's maker allows a plow, the attachments allow the truck, and the hopper fits the bed.

    A plow that is not allowed counts its mass against a limit of zero.
    """
    gvwr = column(case.trucks, "gvwr_kg")[combos.truck]
    asked = np.maximum(column(case.plows, "min_gvwr_kg")[combos.plow],
                       column(case.spreaders, "min_gvwr_kg")[combos.spreader])
    bed = column(case.trucks, "bed_length_m")[combos.truck]
    length = _lengths(case)[combos.spreader]
    plow_mass = (column(case.plows, "blade_mass_kg") + column(case.plows, "mount_mass_kg"))[combos.plow]
    forbidden = (combos.plow != NONE) & (column(case.trucks, "plow_allowed")[combos.truck] == 0.0)
    broken = [forbidden, gvwr < asked * (1.0 - NOISE), length > bed * (1.0 + NOISE)]
    return Mounting(np.stack([plow_mass, gvwr, length], axis=-1),
                    np.stack([np.zeros_like(gvwr), asked, bed], axis=-1), np.stack(broken, axis=-1))


def _lengths(case: Case) -> Floats:
    """Lengths to check against the bed; zero, which any bed holds, where none is given."""
    return np.array([*(row.length_m or 0.0 for row in case.spreaders), 0.0], dtype=np.float64)

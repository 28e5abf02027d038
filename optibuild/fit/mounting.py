"""What forbids a combination apart from its weights: the makers' words and the tape."""

from dataclasses import dataclass

import numpy as np

from optibuild.fit.load_states import Mounted
from optibuild.fit.ratings import NOISE
from optibuild.records import NONE, Case
from optibuild.records.build import Bools, Floats, column

RULES = (("plow not allowed", "kg"), ("min GVWR", "kg"), ("bed length", "m"), ("mounts table", "kg"))


@dataclass(frozen=True)
class Rule:
    """One of `RULES` for each combination asked: what is `found` against which `limit`, both in the unit that
    RULES names, and whether that is `broken`.

    The arrays broadcast to the combinations as the indices of truck, plow and spreader do.
    """

    found: Floats
    limit: Floats
    broken: Bools


def mounting(case: Case, at: Mounted) -> tuple[Rule, ...]:
    """Whether the truck's maker allows a plow, the attachments allow the truck, the hopper fits the bed, and
    the table of mounts forbids nothing.

    What is not allowed counts its mass against a limit of zero.
    """
    gvwr = column(case.trucks, "gvwr_kg")[at.truck]
    least = np.maximum(column(case.plows, "min_gvwr_kg")[at.plow],
                       column(case.spreaders, "min_gvwr_kg")[at.spreader])
    bed = column(case.trucks, "bed_length_m")[at.truck]
    length = _lengths(case)[at.spreader]
    plow_mass = column(case.plows, "mass_kg")[at.plow]
    spreader_mass = column(case.spreaders, "empty_mass_kg")[at.spreader]
    no_plow, no_spreader = _unmounted(case, at)
    unmounted = plow_mass * no_plow + spreader_mass * no_spreader
    forbidden = (at.plow != NONE) & (column(case.trucks, "plow_allowed")[at.truck] == 0.0)
    return (Rule(plow_mass, np.zeros_like(plow_mass), forbidden),
            Rule(gvwr, least, gvwr < least * (1.0 - NOISE)),
            Rule(length, bed, length > bed * (1.0 + NOISE)),
            Rule(unmounted, np.zeros_like(unmounted), no_plow | no_spreader))


def mountable(case: Case, at: Mounted) -> Bools:
    """Whether nothing but weights can reject the combination; the indices of `at` broadcast."""
    plow, gvwr, bed, mounts = (rule.broken for rule in mounting(case, at))
    return np.logical_not(plow | gvwr | bed | mounts)


def _unmounted(case: Case, at: Mounted) -> tuple[Bools, Bools]:
    """Whether the table of mounts forbids the plow, and the spreader, as their indices broadcast."""
    banned = {(row.truck, row.attachment) for row in case.mounts if not row.allowed}
    if not banned:
        return np.zeros((), dtype=bool), np.zeros((), dtype=bool)
    plow, spreader = (
        np.array([[(truck.id, row.id) in banned for row in rows] + [False] for truck in case.trucks],
                 dtype=bool).reshape(len(case.trucks), len(rows) + 1)
        for rows in (case.plows, case.spreaders))
    return plow[at.truck, at.plow], spreader[at.truck, at.spreader]


def _lengths(case: Case) -> Floats:
    """Lengths to check against the bed; zero, which any bed holds, where none is given."""
    return np.array([*(row.length_m or 0.0 for row in case.spreaders), 0.0], dtype=np.float64)

"""Everything fit says of one build, and the cautions that go with the builds shown."""

from collections.abc import Sequence

from optibuild.fit.moment_sheet import moment_sheet
from optibuild.fit.near_rating import near_rating
from optibuild.fit.sensitivity import sensitivity
from optibuild.fit.verdicts import verdicts
from optibuild.fit.would_fit import would_fit
from optibuild.records import NONE, AxleLoads, BuildDetails, Builds, Case, MomentSheet, Verdict

HEAVIEST = (("front axle", "front_kg"), ("rear axle", "rear_kg"), ("gross", "gross_kg"))


def build_details(case: Case, builds: Builds, index: int) -> BuildDetails:
    """Verdict, near rating, moments where each axle and the whole are heaviest, sensitivity and, for a
    rejected build, what would make it fit."""
    told = verdicts(case, builds, [index])[index]
    moments = tuple(
        MomentSheet(names, row.state, row.crew, moment_sheet(case, builds, index, row.state, row.crew))
        for row, names in heaviest_corners(told))
    return BuildDetails(told, bool(near_rating(case, builds, [index])[0]), moments,
                        sensitivity(case, builds, [index])[index], would_fit(case, builds, index))


def heaviest_corners(told: Verdict) -> list[tuple[AxleLoads, tuple[str, ...]]]:
    """The corners in which front axle, rear axle and gross are heaviest, each told once, with which are."""
    names: dict[AxleLoads, tuple[str, ...]] = {}
    for name, field in HEAVIEST:
        row = max(told.axle_loads, key=lambda one: float(getattr(one, field)))
        names[row] = (*names.get(row, ()), name)
    return list(names.items())


def holds_tank(case: Case, builds: Builds, rows: Sequence[int]) -> bool:
    """Whether any of these builds carries a tank."""
    return any(builds.spreader[b] != NONE and case.spreaders[builds.spreader[b]].kind == "tank" for b in rows)

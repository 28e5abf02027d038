"""What limits a stop: strips, carrying, turning, discharge or the spreading speed."""

from dataclasses import fields

import numpy as np

from optibuild.cycle_time.clocks import design_depth_m
from optibuild.cycle_time.crews import Rigs
from optibuild.cycle_time.reach import Asked, Setting
from optibuild.cycle_time.visits import Visits, carrying, deice_rates, deice_speeds, strip_count, turns_min
from optibuild.records.build import Floats

OUT_OF_REACH = "out of reach"


def one_rig(rigs: Rigs, index: int) -> Rigs:
    """A single row of the rigs, still as arrays."""
    return Rigs(**{field.name: getattr(rigs, field.name)[index : index + 1] for field in fields(Rigs)})


def one_visit(rows: Visits, index: int) -> Visits:
    """A single stop, still as arrays."""
    return Visits(**{field.name: getattr(rows, field.name)[index : index + 1] for field in fields(Visits)})


def plowing_limit(place: Setting, rigs: Rigs, visit: Visits, clock_min: float) -> str:
    """What limits one rig's plowing of one stop."""
    case = place.case
    if not visit.to_end[0]:
        run_min = visit.pass_length_m[0] / case.assumptions.plow_speed_m_per_min
        return "turning" if turns_min(case, rigs, visit.clear_width_m)[0, 0] > run_min else "strips"
    depth = design_depth_m(case, np.array([[clock_min]]))
    blades = carrying(case, rigs, visit, depth).blades[0, 0, 0]
    return "carrying" if blades > strip_count(case, rigs, visit)[0, 0] else "strips"


def spreading_limit(place: Setting, spreader: int, visit: Visits) -> str:
    """What limits one spreader's speed at one stop in the design storm."""
    rates = deice_rates(place.case, visit, place.case.storm.pavement_degc)
    speed = deice_speeds(place.case, place.crews.spreaders, rates)[spreader, 0]
    return "discharge" if speed < place.case.assumptions.spreading_speed_m_per_min else "spreading speed"


def _limit(place: Setting, rows: Asked, minutes: Floats, stop: int) -> str:
    crewed, clock = np.unravel_index(np.argmin(minutes[:, :, stop]), minutes.shape[:2])
    rig, spreader, visit = place.crews.rig[crewed], place.crews.spreader[crewed], one_visit(rows.visits, stop)
    if rows.parts.plow[rig, clock, stop] >= rows.parts.deice[spreader, stop]:
        return plowing_limit(place, one_rig(place.crews.rigs, rig), visit, float(place.clocks_min[clock]))
    return spreading_limit(place, int(spreader), visit)


def binds(place: Setting, rows: Asked, minutes: Floats) -> tuple[str, ...]:
    """For each site what limits the longer work of its fastest stop of one parcel [N]."""
    words = []
    for site in range(len(place.case.sites)):
        stop = int(np.argmax(rows.visits.site == site))
        within = minutes.shape[0] > 0 and bool(np.isfinite(minutes[:, :, stop]).any())
        words.append(_limit(place, rows, minutes, stop) if within else OUT_OF_REACH)
    return tuple(words)

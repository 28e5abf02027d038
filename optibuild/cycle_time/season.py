"""Minutes and material of stops over an expected season, counted over the event classes."""

from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time import deicing
from optibuild.cycle_time.reach import Setting
from optibuild.cycle_time.visits import Visits, deice_minutes, deice_rates, plow_minutes
from optibuild.records.build import Floats
from optibuild.records.loop import SeasonRounds


@dataclass(frozen=True)
class SeasonParts:
    """A season's minutes by what they depend on: plowing [R, K, S], spreading [G, K, S], stop time [K, S]."""

    plow: Floats
    deice: Floats
    stop_time: Floats
    material_kg: Floats


def season_parts(place: Setting, rows: Visits, rounds: SeasonRounds) -> SeasonParts:
    """Sums over event classes: pushes at the depth each meets, rounds at the event's pavement temperature."""
    case, clocks = place.case, len(place.clocks_min)
    plow = np.zeros((len(place.crews.rigs.radius_m), clocks, len(rows)))
    deice = np.zeros((len(place.crews.spreaders.there), clocks, len(rows)))
    material, calls = np.zeros((clocks, len(rows))), np.zeros((clocks, len(rows)))
    for n, event in enumerate(case.season):
        pushes = rounds.count[n] * rounds.pushes[n][:, rows.site]
        passes = (rounds.count[n] * rounds.rounds[n])[:, None] * rows.deiced
        rates = deice_rates(case, rows, event.pavement_degc)
        plow += pushes * plow_minutes(case, place.crews.rigs, rows, rounds.depth_m[n][:, rows.site])
        deice += passes * deice_minutes(case, place.crews.spreaders, rows, rates)[:, None, :]
        material += passes * deicing.material_kg(rows.area_m2, rates)
        calls += np.where(rows.deiced, passes, pushes)
    return SeasonParts(plow, deice, calls * rows.stop_time_min, material)

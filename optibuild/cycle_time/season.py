"""Minutes and material of stops over an expected season, counted over the event classes."""

from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time import deicing
from optibuild.cycle_time.reach import Setting
from optibuild.cycle_time.rig_minutes import plow_minutes
from optibuild.cycle_time.spreader_minutes import deice_minutes, deice_rates
from optibuild.cycle_time.visits import Visits
from optibuild.records.build import Floats
from optibuild.records.loop import SeasonRounds


@dataclass(frozen=True)
class SeasonParts:
    """A season's minutes by what they depend on, rigs R or spreaders G: `plow` [R, K, S], `deice` [G, K, S]
    and `stop_time` [K, S]; `material_kg` [K, S] of dry deicer."""

    plow: Floats
    deice: Floats
    stop_time: Floats
    material_kg: Floats


def season_parts(setting: Setting, rows: Visits, rounds: SeasonRounds) -> SeasonParts:
    """Sums over event classes: pushes at the depth each meets, rounds at the event's pavement temperature.

    What waits for the last round is done once an event.
    """
    case, clocks = setting.case, len(setting.clocks_min)
    pushes = rounds.count[:, None, None] * rounds.pushes[:, :, rows.site] * rows.plowed
    plow = plow_minutes(case, setting.crews.rigs, rows, rounds.depth_m[:, :, rows.site], pushes)
    deice = np.zeros((len(setting.crews.spreaders.there), clocks, len(rows)))
    material, calls = np.zeros((clocks, len(rows))), np.zeros((clocks, len(rows)))
    for n, event in enumerate(case.season):
        rounds_of = np.where(rows.at_end, np.minimum(rounds.rounds[n], 1.0)[:, None],
                             rounds.rounds[n][:, None])
        passes = rounds.count[n] * rounds_of * rows.deiced
        rates = deice_rates(case, rows, event.pavement_degc)
        deice += passes * deice_minutes(case, setting.crews.spreaders, rows, rates)[:, None, :]
        material += passes * deicing.material_kg(rows.area_m2, rates)
        calls += np.maximum(passes, pushes[n])
    return SeasonParts(plow, deice, calls * rows.stop_time_min, material)

"""Stops as arrays, and the minutes that rigs, spreaders and depots give to each of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optibuild.cycle_time import deicing, plowing, turning
from optibuild.cycle_time.crews import Crews, Rigs, Spreaders
from optibuild.records.build import Bools, Floats, Ints
from optibuild.records.case import Case, Site
from optibuild.records.loop import Stop, Travel


@dataclass(frozen=True)
class Visits:
    """What a stop is, for minutes [S]: its site, its area as one piece, its promises."""

    site: Ints
    area_m2: Floats
    pass_length_m: Floats
    clear_width_m: Floats
    to_end: Bools
    plowed: Bools
    deiced: Bools
    limit_min: Floats
    deadline_min: Floats
    stop_time_min: Floats

    def __len__(self) -> int:
        return len(self.site)


def stop_limit_min(site: Site, work: str) -> float:
    """The longest cycle limit of a loop in which this work of the site may ride [min]."""
    limits = {"plow": site.plow_every_min, "deice": site.deice_every_min, "both": site.cycle_limit_min}
    limit = limits[work]
    return float("inf") if limit is None else limit


def visits(case: Case, stops: Sequence[Stop], parcels: Ints) -> Visits:
    """The stops as arrays; `parcels` [N] is how many equal parts each site has."""
    site = np.array([stop.site for stop in stops], dtype=np.int64)
    rows = [case.sites[n] for n in site]
    share = np.array([stop.parcels for stop in stops]) / parcels[site]
    return Visits(
        site, np.array([row.area_m2 for row in rows]) * share,
        np.array([row.pass_length_m for row in rows]), np.array([row.clear_width_m for row in rows]),
        np.array([row.snow_goes == "end" for row in rows], dtype=bool),
        np.array([stop.work != "deice" for stop in stops], dtype=bool),
        np.array([stop.work != "plow" for stop in stops], dtype=bool),
        np.array([stop_limit_min(row, stop.work) for row, stop in zip(rows, stops, strict=True)]),
        np.array([row.deadline_min for row in rows]), np.array([row.stop_time_min for row in rows]),
    )


def pass_width_m(case: Case, rigs: Rigs, to_end: Bools) -> Floats:
    """Width a rig clears in a pass at each stop [R, S]; the blade is straight where snow goes to the end."""
    angle = np.where(to_end[None, :], 0.0, rigs.angle_rad[:, None])
    return plowing.effective_width_m(rigs.blade_width_m[:, None], angle, case.assumptions.overlap_m)


def able_to_plow(case: Case, rigs: Rigs, visits: Visits) -> Bools:
    """Whether a rig has a blade wider than the overlap [R, S]."""
    return pass_width_m(case, rigs, visits.to_end) > 0


def strip_count(case: Case, rigs: Rigs, visits: Visits) -> Floats:
    """Strips of a rig at each stop [R, S]; 1 m wide ones where it cannot plow, so that all stays finite."""
    width = pass_width_m(case, rigs, visits.to_end)
    area_width = visits.area_m2 / visits.pass_length_m
    return plowing.strips(area_width, visits.clear_width_m, np.where(width > 0, width, 1.0))


def turns_min(case: Case, rigs: Rigs, clear_width_m: Floats) -> Floats:
    """Minutes of one turn-around of a rig in each clear width [R, S]."""
    figures = case.assumptions
    return turning.turn_min(
        rigs.radius_m[:, None], rigs.circle_m[:, None], clear_width_m,
        figures.turning_speed_m_per_min, figures.direction_change_min,
    )


def _side_minutes(case: Case, rigs: Rigs, visits: Visits) -> Floats:
    return plowing.side_minutes(
        strip_count(case, rigs, visits), visits.pass_length_m, case.assumptions.plow_speed_m_per_min,
        turns_min(case, rigs, visits.clear_width_m), case.assumptions.job_efficiency,
    )


@dataclass(frozen=True)
class Carrying:
    """Stacking at the end of the pass: full blades the snow makes, and the run that fills one [R, K, S]."""

    blades: Floats
    fill_length_m: Floats


def carrying(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats) -> Carrying:
    """What the blade carries against what lies there, at depths [K, S]."""
    volume = plowing.blade_capacity_m3(rigs.blade_width_m, rigs.blade_height_m)[:, None, None]
    capacity = np.maximum(volume * case.assumptions.settled_density_kg_per_m3, 1e-12)
    load = depth_m * case.storm.snow_density_kg_per_m3
    return Carrying(
        visits.area_m2 * load / capacity,
        plowing.fill_length_m(capacity, rigs.blade_width_m[:, None, None], load),
    )


def _end_minutes(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats) -> Floats:
    figures, carried = case.assumptions, carrying(case, rigs, visits, depth_m)
    return plowing.end_minutes(
        np.maximum(strip_count(case, rigs, visits)[:, None, :], carried.blades),
        plowing.mean_push_m(visits.pass_length_m, carried.fill_length_m),
        figures.plow_speed_m_per_min, figures.reverse_speed_m_per_min,
        figures.direction_change_min, figures.job_efficiency,
    )


def _only(visits: Visits, chosen: Bools) -> Visits:
    return Visits(**{name: values[chosen] for name, values in vars(visits).items()})


def plow_minutes(case: Case, rigs: Rigs, visits: Visits, depth_m: Floats) -> Floats:
    """Plowing minutes of each rig at each stop, at depths [K, S]: [R, K, S]; 0 where nothing is plowed."""
    minutes = np.zeros((len(rigs.radius_m), *depth_m.shape))
    side, end = visits.plowed & ~visits.to_end, visits.plowed & visits.to_end
    minutes[:, :, side] = _side_minutes(case, rigs, _only(visits, side))[:, None, :]
    minutes[:, :, end] = _end_minutes(case, rigs, _only(visits, end), depth_m[:, end])
    return np.where(able_to_plow(case, rigs, visits)[:, None, :], minutes, 0.0)


def deice_rates(case: Case, visits: Visits, pavement_degc: float) -> Floats:
    """Material on each stop at a pavement temperature [S, kg/m^2]: the site's own rate, or the table's."""
    table = float(deicing.table_rate_kg_per_m2(np.asarray(pavement_degc)))
    own = [row.deice_rate_kg_per_m2 for row in case.sites]
    rates = np.array([table if rate is None else rate for rate in own])
    return np.where(visits.deiced, rates[visits.site], 0.0)


def deice_speeds(case: Case, spreaders: Spreaders, rates: Floats) -> Floats:
    """Spreading speed of each spreader at each stop [G, S, m/min]."""
    return deicing.spreading_speed_m_per_min(
        spreaders.discharge_kg_per_min[:, None], rates, spreaders.width_m[:, None],
        case.assumptions.spreading_speed_m_per_min,
    )


def deice_minutes(case: Case, spreaders: Spreaders, visits: Visits, rates: Floats) -> Floats:
    """Spreading minutes of each spreader at each stop [G, S]; 0 where nothing is spread."""
    minutes = deicing.deice_minutes(
        visits.area_m2, spreaders.width_m[:, None], deice_speeds(case, spreaders, rates),
        case.assumptions.spreading_efficiency,
    )
    return np.where(visits.deiced & (spreaders.there[:, None] > 0), minutes, 0.0)


@dataclass(frozen=True)
class Parts:
    """Minutes of stops by what gives them: rigs [R, K, S], spreaders [G, S], depots [D, S] or none [S]."""

    able: Bools
    plow: Floats
    deice: Floats
    material_kg: Floats
    reload: Floats
    out: Floats
    home: Floats
    fixed_reload: Floats


def parts(
    case: Case, crews: Crews, travel: Travel, clocks_min: Floats, visits: Visits, depth_m: Floats
) -> Parts:
    """Minutes in the design storm at depths [K]; `fixed_reload` is 0 where a stop uses no material."""
    rates, depots = deice_rates(case, visits, case.storm.pavement_degc), len(case.depots)
    material = deicing.material_kg(visits.area_m2, rates)
    per_minute = np.array([depot.reload_rate_kg_per_min for depot in case.depots])
    fixed = np.array([depot.reload_time_min for depot in case.depots])
    depths = np.broadcast_to(depth_m[:, None], (len(clocks_min), len(visits)))
    return Parts(
        able_to_plow(case, crews.rigs, visits), plow_minutes(case, crews.rigs, visits, depths),
        deice_minutes(case, crews.spreaders, visits, rates), material, material / per_minute[:, None],
        travel.minutes[:depots, depots:][:, visits.site], travel.minutes[depots:, :depots].T[:, visits.site],
        np.where(material > 0, fixed[:, None], 0.0),
    )

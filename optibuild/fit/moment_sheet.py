"""The moments of one build line by line, so that a person can redo them by hand."""

import numpy as np

from optibuild.fit.axle_loads import axle_loads, center_of_mass_m
from optibuild.fit.load_states import people, state_loads
from optibuild.records import CREWS, LOAD_STATES, NONE, Builds, Case, MomentLine


def moment_sheet(case: Case, builds: Builds, index: int, state: str | None = None,
                 crew: str | None = None) -> tuple[MomentLine, ...]:
    """Every mass of one build in one load state, where it sits and what it puts on each axle.

    Without `state` and `crew`: where the build is heaviest. The last line is the total, placed at the center
    of mass. ValueError for a state or crew the build does not have.
    """
    at_state, at_crew = _corner(case, builds, index, state, crew)
    persons = float(people(case)[at_crew])
    rows = [*_truck_lines(case, builds, index, persons),
            *_plow_lines(case, builds, index, raised=at_state < 2),
            *_bed_lines(case, builds, index, full=at_state % 2 == 1)]
    return (*rows, _total(case, builds, index, rows))


def _corner(case: Case, builds: Builds, index: int, state: str | None,
            crew: str | None) -> tuple[int, int]:
    gross = state_loads(case, builds, np.array([index]))[0].sum(axis=-1)
    wanted = np.isfinite(gross)
    wanted &= np.array([state in (None, name) for name in LOAD_STATES])[:, None]
    wanted &= np.array([crew in (None, name) for name in CREWS])
    if not wanted.any():
        raise ValueError(f"{builds.name(index)} has no load state {state} with crew {crew}")
    at_state, at_crew = np.unravel_index(np.argmax(np.where(wanted, gross, -np.inf)), gross.shape)
    return int(at_state), int(at_crew)


def _line(item: str, mass_kg: float, place_m: float, wheelbase_m: float) -> MomentLine:
    front, rear = axle_loads(mass_kg, place_m, wheelbase_m).tolist()
    return MomentLine(item, mass_kg, place_m, front, rear)


def _truck_lines(case: Case, builds: Builds, index: int, persons: float) -> list[MomentLine]:
    truck = case.trucks[builds.truck[index]]
    place = float(center_of_mass_m(truck.curb_front_kg, truck.curb_rear_kg, truck.wheelbase_m))
    rows = [MomentLine(f"{truck.id}, curb", truck.curb_kg, place, truck.curb_front_kg, truck.curb_rear_kg)]
    if persons:
        mass = persons * case.assumptions.occupant_mass_kg
        rows.append(_line(f"crew, {persons:.0f} aboard", mass, truck.seat_m, truck.wheelbase_m))
    return rows


def _plow_lines(case: Case, builds: Builds, index: int, raised: bool) -> list[MomentLine]:
    if builds.plow[index] == NONE:
        return []
    truck, plow = case.trucks[builds.truck[index]], case.plows[builds.plow[index]]
    bumper = -truck.front_axle_to_bumper_m
    rows = []
    if plow.mount_mass_kg:
        rows.append(_line(f"{plow.id}, mount", plow.mount_mass_kg, bumper, truck.wheelbase_m))
    if raised:
        place = bumper - plow.center_ahead_m
        rows.append(_line(f"{plow.id}, blade", plow.blade_mass_kg, place, truck.wheelbase_m))
    return rows


def _bed_lines(case: Case, builds: Builds, index: int, full: bool) -> list[MomentLine]:
    truck = case.trucks[builds.truck[index]]
    bed_end, rows = truck.wheelbase_m + truck.rear_axle_to_bed_end_m, []
    if builds.spreader[index] != NONE:
        spreader = case.spreaders[builds.spreader[index]]
        rows.append((f"{spreader.id}, empty", spreader.empty_mass_kg, spreader.center_m))
        if full:
            rows.append((spreader.material, float(builds.rated_fill_kg[index]), spreader.material_center_m))
    if builds.units[index]:
        kit = case.ballast[builds.kit[index]]
        rows.append((f"{kit.id}, {builds.units[index]} units", float(builds.ballast_kg[index]), kit.center_m))
    return [_line(item, mass, bed_end + center, truck.wheelbase_m) for item, mass, center in rows]


def _total(case: Case, builds: Builds, index: int, rows: list[MomentLine]) -> MomentLine:
    front, rear = sum(row.front_kg for row in rows), sum(row.rear_kg for row in rows)
    wheelbase = case.trucks[builds.truck[index]].wheelbase_m
    return MomentLine("total", front + rear, float(center_of_mass_m(front, rear, wheelbase)), front, rear)

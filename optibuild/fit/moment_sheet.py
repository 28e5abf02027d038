"""The moments of one build line by line, so that a person can redo them by hand."""

import numpy as np

from optibuild.fit.axle_loads import axle_loads, center_of_mass_m
from optibuild.fit.load_states import people, retained_loads, state_loads
from optibuild.records import CREWS, LOAD_STATES, NONE, RETAINED_STATES, Builds, Case, MomentLine

STATES = (*LOAD_STATES, *RETAINED_STATES)


def moment_sheet(case: Case, builds: Builds, index: int, state: str | None = None,
                 crew: str | None = None) -> tuple[MomentLine, ...]:
    """Every mass of one build in one load state, where it sits and what it puts on each axle.

    Without `state` and `crew`: where the build is heaviest. The last line is the total, placed at the center
    of mass. ValueError for a state or crew the build does not have.
    """
    at_state, at_crew = _corner(case, builds, index, state, crew)
    persons, where = float(people(case)[at_crew]), STATES[at_state]
    rows = [*_truck_lines(case, builds, index, persons),
            *_plow_lines(case, builds, index, where.startswith("raised")),
            *_spreader_lines(case, builds, index, _fill_kg(builds, index, where)),
            *_ballast_lines(case, builds, index, where)]
    return (*rows, _total(case, builds, index, rows))


def _corner(case: Case, builds: Builds, index: int, state: str | None,
            crew: str | None) -> tuple[int, int]:
    row = np.array([index])
    loads = np.concatenate([state_loads(case, builds, row)[0], retained_loads(case, builds, row)[0]])
    gross = loads.sum(axis=-1)
    wanted = np.isfinite(gross)
    wanted &= np.array([state in (None, name) for name in STATES])[:, None]
    wanted &= np.array([crew in (None, name) for name in CREWS])
    if not wanted.any():
        raise ValueError(f"{builds.name(index)} has no load state {state} with crew {crew}")
    at_state, at_crew = np.unravel_index(np.argmax(np.where(wanted, gross, -np.inf)), gross.shape)
    return int(at_state), int(at_crew)


def _fill_kg(builds: Builds, index: int, state: str) -> float:
    """What the hopper holds in a load state."""
    if state in RETAINED_STATES:
        return float(builds.retained_kg[index])
    return float(builds.rated_fill_kg[index]) if state.endswith("full") else 0.0


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


def _spreader_lines(case: Case, builds: Builds, index: int, fill_kg: float) -> list[MomentLine]:
    if builds.spreader[index] == NONE:
        return []
    spreader = case.spreaders[builds.spreader[index]]
    masses = [(f"{spreader.id}, empty", spreader.empty_mass_kg, spreader.center_m)]
    if fill_kg:
        masses.append((spreader.material, fill_kg, spreader.material_center_m))
    return [_bed_line(case, builds, index, *mass) for mass in masses]


def _ballast_lines(case: Case, builds: Builds, index: int, state: str) -> list[MomentLine]:
    """The ballast, where it is aboard: what is taken out is out when full and "out" at the retained fill."""
    taken_out = builds.retained_kg[index] > 0.0 and state.endswith(("full", "out"))
    if not builds.units[index] or taken_out:
        return []
    kit, units = case.ballast[builds.kit[index]], int(builds.units[index])
    mass = float(builds.ballast_kg[index])
    return [_bed_line(case, builds, index, f"{kit.id}, {units} units", mass, kit.center_m)]


def _bed_line(case: Case, builds: Builds, index: int, item: str, mass_kg: float,
              center_m: float) -> MomentLine:
    """A mass placed from the bed's end."""
    truck = case.trucks[builds.truck[index]]
    place = truck.wheelbase_m + truck.rear_axle_to_bed_end_m + center_m
    return _line(item, mass_kg, place, truck.wheelbase_m)


def _total(case: Case, builds: Builds, index: int, rows: list[MomentLine]) -> MomentLine:
    front, rear = sum(row.front_kg for row in rows), sum(row.rear_kg for row in rows)
    wheelbase = case.trucks[builds.truck[index]].wheelbase_m
    return MomentLine("total", front + rear, float(center_of_mass_m(front, rear, wheelbase)), front, rear)

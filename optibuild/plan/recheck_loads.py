"""Axle loads in every load state and crew, from the masses one by one, against every rating.

A mass m at x behind the front axle puts m(1 - x/L) on the front axle and m x/L on the rear one (statics).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optibuild.plan.recheck_margins import Margin, at_least, at_most, claim, same
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import AxleLoads, Case


@dataclass(frozen=True)
class Corner:
    """Axle loads [kg] of one build in one load state with one crew."""

    unit: Mounted
    state: str
    crew: str
    front_kg: float
    rear_kg: float

    @property
    def gross_kg(self) -> float:
        """Both axles together."""
        return self.front_kg + self.rear_kg

    @property
    def where(self) -> str:
        """How the checks point at it."""
        return f"{self.unit.name}, {self.state}, {self.crew}"


def corners(unit: Mounted, case: Case) -> list[Corner]:
    """Every load state and crew that the build has."""
    plow_states = ("raised", "off") if unit.plow else ("off",)
    return [_corner(unit, case, plow, hopper, crew)
            for plow in plow_states for hopper in _hopper_states(unit) for crew in _crews(case)]


def _hopper_states(unit: Mounted) -> dict[str, tuple[float, bool]]:
    """Fill [kg] in each state of the hopper, and whether the ballast is in.

    Ballast that comes out is in from empty to the retained fill, and out from there to the rated one.
    """
    fill, retained = unit.planned.rated_fill_kg, unit.planned.retained_fill_kg
    states = {"empty": (0.0, True)}
    if unit.spreader:
        states["full"] = (fill, retained == 0.0)
    if unit.spreader and retained > 0.0:
        states |= {"retained, ballast in": (retained, True), "retained, ballast out": (retained, False)}
    return states


def _crews(case: Case) -> dict[str, int]:
    """People aboard by crew; with one occupant or none there is one crew."""
    occupants = case.crew.occupants
    return {"driver": 1, "full": occupants} if occupants > 1 else {"driver": occupants}


def _corner(unit: Mounted, case: Case, plow: str, hopper: str, crew: str) -> Corner:
    people = case.assumptions.occupant_mass_kg * _crews(case)[crew]
    placed = [(people, unit.truck.seat_m), *_plow_masses(unit, plow == "raised"),
              *_bed_masses(unit, *_hopper_states(unit)[hopper])]
    base = unit.truck.wheelbase_m
    front = unit.truck.curb_front_kg + sum(mass * (1.0 - x / base) for mass, x in placed)
    rear = unit.truck.curb_rear_kg + sum(mass * x / base for mass, x in placed)
    return Corner(unit, f"{plow} {hopper}", crew, front, rear)


def _plow_masses(unit: Mounted, raised: bool) -> list[tuple[float, float]]:
    if unit.plow is None:
        return []
    bumper = -unit.truck.front_axle_to_bumper_m
    blade = unit.plow.blade_mass_kg if raised else 0.0
    return [(unit.plow.mount_mass_kg, bumper), (blade, bumper - unit.plow.center_ahead_m)]


def _bed_masses(unit: Mounted, fill_kg: float, ballast_in: bool) -> list[tuple[float, float]]:
    end = unit.truck.wheelbase_m + unit.truck.rear_axle_to_bed_end_m
    aboard = unit.ballast if ballast_in else ()
    masses = [(count * kit.unit_mass_kg, end + kit.center_m) for kit, count in aboard]
    if unit.spreader:
        masses += [(unit.spreader.empty_mass_kg, end + unit.spreader.center_m),
                   (fill_kg, end + unit.spreader.material_center_m)]
    return masses


def front_margins(rows: list[Corner], case: Case) -> Iterator[Margin]:
    """Front axle against its rating less the reserve [kg]."""
    for row in rows:
        yield at_most(row.front_kg, row.unit.truck.gawr_front_kg - case.fit.axle_reserve_kg, row.where)


def rear_margins(rows: list[Corner], case: Case) -> Iterator[Margin]:
    """Rear axle against its rating less the reserve [kg]."""
    for row in rows:
        yield at_most(row.rear_kg, row.unit.truck.gawr_rear_kg - case.fit.axle_reserve_kg, row.where)


def gross_margins(rows: list[Corner], case: Case) -> Iterator[Margin]:
    """Gross weight against the GVWR less the reserve [kg]."""
    for row in rows:
        yield at_most(row.gross_kg, row.unit.truck.gvwr_kg - case.fit.axle_reserve_kg, row.where)


def tire_margins(rows: list[Corner]) -> Iterator[Margin]:
    """Each axle against the sum of its tires [kg]."""
    for row in rows:
        yield at_most(row.front_kg, row.unit.truck.tire_capacity_front_kg, row.where + ", front")
        yield at_most(row.rear_kg, row.unit.truck.tire_capacity_rear_kg, row.where + ", rear")


def share_margins(rows: list[Corner], case: Case) -> Iterator[Margin]:
    """Front share from below and above (of gross or curb weight); rear share empty, driver alone.

    The rear share is asked with the plow raised, where it is least, and of a build without a plow as it is;
    without ballast that comes out the hopper is never emptier than the retained fill.
    """
    limits = case.fit
    for row in rows:
        yield at_least(row.front_kg / row.gross_kg, limits.min_front_share, row.where + ", front")
        if limits.max_front_share is not None:
            base = row.gross_kg if limits.front_share_of == "gross" else row.unit.truck.curb_kg
            yield at_most(row.front_kg / base, limits.max_front_share, row.where + ", front at most")
        plow = "raised" if row.unit.plow else "off"
        lightest = (f"{plow} empty", f"{plow} retained, ballast out")
        if limits.min_rear_share is not None and row.state in lightest and row.crew == "driver":
            yield at_least(row.rear_kg / row.gross_kg, limits.min_rear_share, row.where + ", rear")


def stated_load_margins(units: list[Mounted], rows: list[Corner]) -> Iterator[Margin]:
    """The plan lists each corner once, with the loads found here and what they leave to the ratings [kg]."""
    found = {(row.unit.planned.truck_no, row.state, row.crew): row for row in rows}
    for unit in units:
        stated = [(unit.planned.truck_no, row.state, row.crew) for row in unit.planned.axle_loads]
        wanted = [key for key in found if key[0] == unit.planned.truck_no]
        yield claim(sorted(stated) == sorted(wanted), f"{unit.name}, list of load states")
        for key, row in zip(stated, unit.planned.axle_loads, strict=True):
            if key in found:
                yield from _stated_row(row, found[key])


def _stated_row(stated: AxleLoads, found: Corner) -> Iterator[Margin]:
    truck = found.unit.truck
    tolerance = 1e-6 * found.gross_kg
    yield same(stated.front_kg, found.front_kg, found.where)
    yield same(stated.rear_kg, found.rear_kg, found.where)
    yield same(stated.gross_kg, found.gross_kg, found.where)
    yield same(stated.front_margin_kg, truck.gawr_front_kg - found.front_kg, found.where, tolerance)
    yield same(stated.rear_margin_kg, truck.gawr_rear_kg - found.rear_kg, found.where, tolerance)
    yield same(stated.gross_margin_kg, truck.gvwr_kg - found.gross_kg, found.where, tolerance)

"""What may be mounted on what: fill, ballast, attachments, and whether the build may enter its sites."""

from collections.abc import Iterator
from math import asin, cos, inf, pi, sin, sqrt, tan

from optibuild.plan.recheck_loads import Corner
from optibuild.plan.recheck_margins import Margin, at_least, at_most, claim, same
from optibuild.plan.recheck_trucks import Mounted
from optibuild.records import Case, Site


def fill_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """Rated fill within the hopper's volume; what of it is spread not below the least useful; 0 without a
    spreader [kg]."""
    for unit in units:
        fill, retained = unit.planned.rated_fill_kg, unit.planned.retained_fill_kg
        yield claim(retained >= 0.0, unit.name + ", retained")
        if unit.spreader is None:
            yield same(fill, 0.0, unit.name)
            yield same(retained, 0.0, unit.name + ", retained")
        else:
            held = unit.spreader.volume_m3 * case.material(unit.spreader).bulk_density_kg_per_m3
            yield at_most(fill, held, unit.name)
            yield at_least(fill - retained, case.assumptions.least_useful_fill_kg, unit.name)


def ballast_margins(units: list[Mounted]) -> Iterator[Margin]:
    """Ballast is whole units, no more than the kit has, and weighs what the plan says [kg]; a fill is
    retained only for ballast that may be taken out."""
    for unit in units:
        for (kit, count), stated in zip(unit.ballast, unit.planned.ballast, strict=True):
            yield same(stated.mass_kg, count * kit.unit_mass_kg, f"{unit.name}, {kit.id}")
            yield claim(1 <= count <= kit.most_units, f"{unit.name}, {kit.id}")
        if unit.planned.retained_fill_kg > 0.0:
            comes_out = bool(unit.ballast) and all(kit.removable for kit, _ in unit.ballast)
            yield claim(comes_out, f"{unit.name}, removable")


def attachment_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """A truck carries something, a plow only where the maker allows one, and nothing that the table of mounts
    forbids."""
    forbidden = {(row.truck, row.attachment) for row in case.mounts if not row.allowed}
    for unit in units:
        yield claim(unit.plow is not None or unit.spreader is not None, unit.name)
        yield claim(unit.plow is None or unit.truck.plow_allowed, unit.name)
        for attachment in (unit.plow, unit.spreader):
            if attachment is not None:
                where = f"{unit.name}, {attachment.id}"
                yield claim((unit.truck.id, attachment.id) not in forbidden, where)


def min_gvwr_margins(units: list[Mounted]) -> Iterator[Margin]:
    """The truck's GVWR reaches what each attachment asks [kg]."""
    for unit in units:
        for attachment in (unit.plow, unit.spreader):
            if attachment is not None:
                yield at_least(unit.truck.gvwr_kg, attachment.min_gvwr_kg, f"{unit.name}, {attachment.id}")


def bed_margins(units: list[Mounted]) -> Iterator[Margin]:
    """The spreader is no longer than the bed [m]."""
    for unit in units:
        if unit.spreader is not None and unit.spreader.length_m is not None:
            yield at_most(unit.spreader.length_m, unit.truck.bed_length_m, unit.name)


def visited(unit: Mounted, case: Case) -> list[tuple[str, Site]]:
    """Where each stop of a loop is, with how the checks point at it."""
    sites = {site.id: site for site in case.sites}
    return [(f"{unit.name}, stop {number} at {stop.site}", sites[stop.site])
            for number, stop in enumerate(unit.planned.loop.stops, 1)]


def access_gross_margins(units: list[Mounted], rows: list[Corner], case: Case) -> Iterator[Margin]:
    """The heaviest state against what each visited site bears [kg]."""
    for unit in units:
        gross = max(row.gross_kg for row in rows if row.unit is unit)
        yield from (at_most(gross, site.most_gross_kg, where) for where, site in visited(unit, case))


def access_width_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """The wider of truck and plow against what each visited site lets in [m]."""
    for unit in units:
        width = max(unit.truck.width_m, blade_width_m(unit) if unit.plow else 0.0)
        yield from (at_most(width, site.most_width_m, where) for where, site in visited(unit, case))


def access_circle_margins(units: list[Mounted], case: Case) -> Iterator[Margin]:
    """The swept circle against what each visited site has room for [m]."""
    for unit in units:
        yield from (at_most(swept_circle_m(unit), site.most_turning_circle_m, where)
                    for where, site in visited(unit, case))


def blade_width_m(unit: Mounted) -> float:
    """Width of the plow at its own angle [m], of the truck where there is no plow."""
    return unit.plow.width_m * cos(unit.plow.angle_rad) if unit.plow else unit.truck.width_m


def _steering(unit: Mounted) -> tuple[float, float] | None:
    """Steer angle [rad] and radius of the front axle's center [m]; None where no angle gives the circle."""
    truck = unit.truck
    if truck.turning_circle_m is None:
        return truck.steer_angle_rad, truck.wheelbase_m / sin(truck.steer_angle_rad)
    radius = truck.turning_circle_m / 2.0 - truck.track_m / 2.0
    return (asin(truck.wheelbase_m / radius), radius) if radius >= truck.wheelbase_m else None


def swept_circle_m(unit: Mounted) -> float:
    """Diameter that the outer front corner of truck or plow sweeps [m]."""
    steering = _steering(unit)
    if steering is None:
        return inf
    ahead = unit.truck.front_axle_to_bumper_m + (unit.plow.center_ahead_m if unit.plow else 0.0)
    across = unit.truck.wheelbase_m / tan(steering[0]) + blade_width_m(unit) / 2.0
    return 2.0 * sqrt(across ** 2 + (unit.truck.wheelbase_m + ahead) ** 2)


def turn_min(unit: Mounted, clear_width_m: float, case: Case) -> float:
    """Minutes of one turn-around: half a circle, and changes of direction where it does not fit."""
    steering = _steering(unit)
    if steering is None:
        return inf
    excess = max(0.0, swept_circle_m(unit) / clear_width_m - 1.0)
    half_circle = pi * steering[1] / case.assumptions.turning_speed_m_per_min
    return half_circle + 2.0 * excess * case.assumptions.direction_change_min

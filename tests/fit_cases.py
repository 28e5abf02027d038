"""Small cases for the fit tests, written in pounds and inches."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optibuild.fit import fit_builds, state_loads, verdicts
from optibuild.records import (
    Assumptions,
    Ballast,
    Builds,
    Case,
    Crew,
    FitLimits,
    Material,
    Money,
    Plow,
    Reason,
    SolveSettings,
    Spreader,
    Storm,
    Truck,
)

LB, IN = 0.45359237, 0.0254
COSTS = {"price_usd": 0.0, "life_year": 8.0, "resale_usd": 0.0, "upkeep_usd_per_year": 0.0}
WEIGHTY = 1e6
"""A rating in pounds that nothing in these tests reaches."""


def truck(
    id: str = "t",
    gvwr: float = WEIGHTY,
    gawr: tuple[float, float] = (WEIGHTY, WEIGHTY),
    curb: tuple[float, float] = (3000, 2000),
    wheelbase: float = 140,
    bumper: float = 38,
    bed_end: float = 48,
    seat: float = 60,
    tires: tuple[float, float] = (WEIGHTY, WEIGHTY),
    **other: Any,
) -> Truck:
    """A truck in pounds and inches."""
    made = Truck(
        id=id,
        description="",
        size="",
        gvwr_kg=gvwr * LB,
        gawr_front_kg=gawr[0] * LB,
        gawr_rear_kg=gawr[1] * LB,
        curb_front_kg=curb[0] * LB,
        curb_rear_kg=curb[1] * LB,
        wheelbase_m=wheelbase * IN,
        front_axle_to_bumper_m=bumper * IN,
        rear_axle_to_bed_end_m=bed_end * IN,
        bed_length_m=96 * IN,
        seat_m=seat * IN,
        seats=6,
        width_m=2.0,
        track_m=1.7,
        steer_angle_rad=0.6,
        turning_circle_m=None,
        drive="all",
        plow_allowed=True,
        tire_capacity_front_kg=tires[0] * LB,
        tire_capacity_rear_kg=tires[1] * LB,
        snow_share=1.0,
        fuel="gas",
        city_l_per_m=0.0,
        highway_l_per_m=0.0,
        work_fuel_l_per_min=0.0,
        wear_usd_per_min=0.0,
        **COSTS,
    )
    return replace(made, **other)


def plow(id: str = "p", blade: float = 700, mount: float = 0, ahead: float = 28, **other: Any) -> Plow:
    """A plow in pounds and inches."""
    made = Plow(
        id=id,
        description="",
        kind="straight",
        width_m=2.4,
        height_m=0.7,
        angle_rad=0.5,
        blade_mass_kg=blade * LB,
        mount_mass_kg=mount * LB,
        center_ahead_m=ahead * IN,
        min_gvwr_kg=0.0,
        wear_usd_per_min=0.0,
        **COSTS,
    )
    return replace(made, **other)


def spreader(
    id: str = "s",
    empty: float = 400,
    holds: float = 0,
    center: float = -40,
    material_center: float | None = None,
    **other: Any,
) -> Spreader:
    """A spreader in pounds and inches; `holds` is volume x bulk density, in pounds."""
    place = center if material_center is None else material_center
    made = Spreader(
        id=id,
        description="",
        kind="hopper",
        empty_mass_kg=empty * LB,
        volume_m3=holds * LB / 1000.0,
        center_m=center * IN,
        material_center_m=place * IN,
        spread_width_m=6.0,
        discharge_kg_per_min=50.0,
        material="salt",
        length_m=None,
        min_gvwr_kg=0.0,
        wear_usd_per_min=0.0,
        **COSTS,
    )
    return replace(made, **other)


def kit(id: str = "k", unit: float = 60, center: float = -14, most: int = 20) -> Ballast:
    """A ballast kit in pounds and inches."""
    return Ballast(
        id=id,
        description="",
        unit_mass_kg=unit * LB,
        center_m=center * IN,
        most_units=most,
        price_usd=0.0,
        life_year=5.0,
    )


def fit_case(
    trucks: list[Truck],
    plows: list[Plow] | None = None,
    spreaders: list[Spreader] | None = None,
    ballast: list[Ballast] | None = None,
    occupants: int = 0,
    least_fill: float = 0.0,
    **limits: Any,
) -> Case:
    """A case with nothing but a catalog; 150 lb a person, no share asked unless `limits` says so."""
    assumed = Assumptions(
        occupant_mass_kg=150 * LB,
        least_useful_fill_kg=least_fill * LB,
        catalog_uncertainty=0.02,
        plow_speed_m_per_min=200.0,
        reverse_speed_m_per_min=100.0,
        turning_speed_m_per_min=100.0,
        spreading_speed_m_per_min=250.0,
        direction_change_min=0.05,
        overlap_m=0.3,
        job_efficiency=0.5,
        spreading_efficiency=0.7,
        tau_step_min=60.0,
        most_parcels=12,
        least_depth_m=0.0127,
        settled_density_kg_per_m3=300.0, mu_snow=0.15, rolling=0.03, sliding=0.3,
        circuity=1.3,
    )
    money = Money(
        budget_usd=0.0,
        wage_usd_per_min=0.4,
        burden=0.25,
        paid="working",
        cleanup_round=True,
        fuel_usd_per_l=(("gas", 1.0),),
        road_wear_usd_per_m=0.0,
        interest=0.07,
        overhead=0.12,
        profit_margin=0.15,
    )
    return Case(
        name="fit",
        question="cover",
        units="us",
        given_as="",
        trucks=tuple(trucks),
        plows=tuple(plows or ()),
        spreaders=tuple(spreaders or ()),
        ballast=tuple(ballast or ()),
        materials=(Material("salt", 1000.0, 0.0),),
        depots=(),
        sites=(),
        season=(),
        travel=(),
        storm=Storm(0.0004, 100.0, -4.0, 590.0),
        money=money,
        crew=Crew(occupants=occupants),
        fit=FitLimits(**{"min_front_share": 0.0, **limits}),
        solve=SolveSettings(),
        assumptions=assumed,
    )


def lb(kilograms: ArrayLike) -> np.ndarray:
    """Kilograms as pounds."""
    return np.asarray(kilograms) / LB


@dataclass(frozen=True)
class Judged(Builds):
    """Builds with all they say when asked: axle loads [B, 4 load states, 2 crews, kg], what binds, reasons,
    flags."""

    front_kg: np.ndarray
    rear_kg: np.ndarray
    binds: tuple[str, ...]
    reasons: tuple[tuple[Reason, ...], ...]
    flags: tuple[tuple[str, ...], ...]


def judged(case: Case) -> Judged:
    """Every build of a case, each asked for its words and its loads."""
    builds = fit_builds(case)
    rows = np.arange(len(builds))
    loads, words = state_loads(case, builds, rows), verdicts(case, builds, rows)
    binds, reasons, flags = (tuple(getattr(words[row], name) for row in rows.tolist())
                             for name in ("binds", "reasons", "flags"))
    arrays = {field.name: getattr(builds, field.name) for field in fields(builds)}
    return Judged(**arrays, front_kg=loads[..., 0], rear_kg=loads[..., 1], binds=binds,
                  reasons=reasons, flags=flags)


def the(builds: Builds, name: str) -> int:
    """Index of the only entry with this name."""
    found = [index for index, told in enumerate(builds.names) if told == name]
    assert len(found) == 1
    return found[0]


EXAMPLE = {"curb": (3600, 2600), "wheelbase": 141, "bumper": 0, "bed_end": 0, "seat": 55}


def example(gawr_front: float = 9000, **other: Any) -> Case:
    """141 in, 3,600/2,600 curb, 850 lb raised at -42, a driver of 150 at 55; ballast by the pound at 155."""
    return fit_case(
        [truck(gawr=(gawr_front, 9000), **EXAMPLE)],
        [plow(blade=850, ahead=42)],
        [spreader(empty=0, holds=1200, center=9)],
        [kit(unit=1, center=14, most=2000)],
        occupants=1,
        **other,
    )

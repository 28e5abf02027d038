"""Minutes of plowing an area as one piece: passes, windrows, and what a blade carries to the end of a pass.

Plain formulas over arrays that broadcast; lengths [m], areas [m^2], masses [kg], minutes. What names no
source is our form: common practice of the trade put into geometry.
"""

import numpy as np

from optibuild.records.build import Floats

NOISE = 1e-9
BLADE_COEFFICIENT = 0.8


def whole_up(number: Floats) -> Floats:
    """The least whole number not below `number` (1e-9 of noise forgiven), at least 1."""
    return np.maximum(np.ceil(number - NOISE), 1.0)


def effective_width_m(width_m: Floats, angle_rad: Floats, overlap_m: float) -> Floats:
    """Width that a pass clears [m]: W·cos(angle from straight across) less the overlap with the last pass.

    Source: equipment productivity sheet 15A-20, graders. Zero or less: the blade clears nothing.
    """
    return np.asarray(width_m) * np.cos(angle_rad) - overlap_m


def strips(area_width_m: Floats, clear_width_m: Floats, effective_m: Floats) -> Floats:
    """Passes that an area of this width takes: each clears the effective width, or a lane of the clear width
    where that is narrower. Never fewer on more area or in a narrower lot.

    `effective_m` must be positive. Source: passes needed, performance handbooks (from memory).
    """
    return whole_up(area_width_m / np.minimum(effective_m, clear_width_m))


def side_minutes(
    passes: Floats, pass_length_m: Floats, plow_speed_m_per_min: float, turn_min: Floats
) -> Floats:
    """Minutes to windrow to the side, before job efficiency: every pass is one run and one turn-around."""
    return passes * (pass_length_m / plow_speed_m_per_min + turn_min)


def windrow_section_m2(width_m: Floats, height_m: Floats, capacity_kg: Floats, settled: float) -> Floats:
    """Section of a windrow that a blade can still move aside [m^2]: a slope as high as the blade, H^2/2, or
    what the truck can push over the blade's width, at the settled density [kg/m^3].

    Our form: SAE J1265 rates straight blades only and does not apply here.
    """
    pushed = capacity_kg / np.maximum(np.asarray(width_m) * settled, 1e-12)
    return np.minimum(np.asarray(height_m) ** 2 / 2, pushed)


def blade_capacity_m3(width_m: Floats, height_m: Floats) -> Floats:
    """What a straight blade carries [m^3]: 0.8·W·H^2.

    Source: SAE J1265 (straight blades, not angled, nothing cast aside; the factor 0.8 from memory).
    """
    return BLADE_COEFFICIENT * np.asarray(width_m) * np.asarray(height_m) ** 2


def fill_length_m(capacity: Floats, width_m: Floats, load_per_area: Floats) -> Floats:
    """Run after which a straight blade is full [m]: capacity over width times what lies on the ground.

    `capacity` and `load_per_area` both in kg (kg, kg/m^2), or both in volume (m^3, m).
    """
    return capacity / np.maximum(width_m * load_per_area, 1e-12)


def mean_push_m(pass_length_m: Floats, fill_length: Floats) -> Floats:
    """Mean length of a push to the end [m]: the first reaches back one `fill_length` [m], the last the whole
    pass."""
    return (pass_length_m + np.minimum(fill_length, pass_length_m)) / 2


def push_minutes(
    push_m: Floats, plow_speed_m_per_min: float, reverse_speed_m_per_min: float, direction_change_min: float
) -> Floats:
    """Minutes of one push to the end of a pass, before job efficiency: there, back, two direction changes."""
    there_and_back = push_m / plow_speed_m_per_min + push_m / reverse_speed_m_per_min
    return np.asarray(there_and_back + 2 * direction_change_min)

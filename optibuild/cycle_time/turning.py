"""How wide a truck turns, with its blade, and how long a turn-around takes.

Plain formulas over arrays that broadcast. Source of the radii: geometry of a steered axle without slip, as in
textbooks (Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992, chapter 6, from memory).
"""

import numpy as np

from optibuild.records.build import Floats


def center_radius_m(wheelbase_m: Floats, steer_angle_rad: Floats) -> Floats:
    """Radius of the turn at the middle of the front axle [m]: wheelbase / sin(steer angle)."""
    return np.asarray(wheelbase_m) / np.sin(steer_angle_rad)


def radius_from_circle_m(turning_circle_m: Floats, track_m: Floats) -> Floats:
    """The same radius from a curb-to-curb turning circle (a diameter): half of it less half the track [m]."""
    return np.asarray(turning_circle_m) / 2 - np.asarray(track_m) / 2


def steer_angle_rad(wheelbase_m: Floats, radius_m: Floats) -> Floats:
    """Steer angle of this radius at the middle of the front axle [rad]; the radius exceeds the wheelbase."""
    return np.arcsin(np.asarray(wheelbase_m) / radius_m)


def swept_circle_m(wheelbase_m: Floats, steer_rad: Floats, width_m: Floats, reach_m: Floats) -> Floats:
    """Diameter swept by the outer front corner [m].

    `width_m` is the width at the very front (blade as angled, or the truck), `reach_m` how far that lies
    ahead of the front axle.
    """
    inside = wheelbase_m / np.tan(steer_rad)
    return 2 * np.hypot(inside + width_m / 2, wheelbase_m + reach_m)


def turn_min(
    radius_m: Floats, circle_m: Floats, clear_width_m: Floats, turning_speed_m_per_min: float,
    direction_change_min: float,
) -> Floats:
    """Minutes of one turn-around: half a circle, and back-and-fill where the circle exceeds the clear width.

    A narrower lot or a larger circle is never faster. Our form; 3 s a direction change from a loader
    handbook, ed. 47 (four changes with turning about 0.20 min).
    """
    tight = np.maximum(0.0, circle_m / clear_width_m - 1)
    return np.pi * radius_m / turning_speed_m_per_min + 2 * tight * direction_change_min

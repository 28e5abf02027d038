"""Static axle loads by moments: level ground, rigid frame, point masses.

Places are meters behind the front axle, so what hangs ahead of it has a place below zero. The last axis of
every axle array is (front, rear). Source: body-builder manuals of truck makers, and Gillespie, Fundamentals
of Vehicle Dynamics, SAE 1992, chapter 1 (from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from optibuild.records.build import Floats


def axle_loads(mass_kg: ArrayLike, place_m: ArrayLike, wheelbase_m: ArrayLike) -> Floats:
    """What a mass puts on the (front, rear) axle [..., 2, kg]; the arguments broadcast.

    rear = mass·place/wheelbase, front = mass·(1 - place/wheelbase); a mass ahead of the front axle unloads
    the rear one, and the other way round.
    """
    rear_share = np.asarray(place_m, dtype=np.float64) / np.asarray(wheelbase_m, dtype=np.float64)
    mass, rear_share = np.broadcast_arrays(np.asarray(mass_kg, dtype=np.float64), rear_share)
    return np.stack([mass * (1.0 - rear_share), mass * rear_share], axis=-1)


def center_of_mass_m(front_kg: ArrayLike, rear_kg: ArrayLike, wheelbase_m: ArrayLike) -> Floats:
    """Place of the center of mass behind the front axle [m], from the two axle weights [kg]."""
    front, rear = np.asarray(front_kg, dtype=np.float64), np.asarray(rear_kg, dtype=np.float64)
    return np.asarray(rear * np.asarray(wheelbase_m, dtype=np.float64) / (front + rear))

"""What a round takes at least from where it is: the bounds by which the best order is searched for.

Sets of stops are whole numbers: bit n stands for stop n.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import inf

import numpy as np

from optibuild.cycle_time.loops import DEPOT, Round, Way
from optibuild.cycle_time.reach import FILL_TOLERANCE, TIME_TOLERANCE_MIN
from optibuild.records.build import Floats, Ints

Rest = Callable[[int, int, float], float]
"""Minutes by the set of stops left, the place, and what is used since the hopper was full."""


def members(stops: int) -> list[int]:
    """The stops of a set, ascending."""
    return [n for n in range(stops.bit_length()) if stops >> n & 1]


@dataclass(frozen=True)
class Outlook:
    """What is to be expected of a round: the rest until it is home, which must be by `latest_min`, and the
    rest of the stops that are due by each deadline."""

    home: Rest
    latest_min: float
    due: tuple[tuple[float, int, Rest], ...]

    def least_min(self, left: int, way: Way) -> float:
        """What the whole round takes at least with these stops left; inf where it must break a limit."""
        for deadline_min, stops, rest in self.due:
            if left & stops and way.leave_min + rest(left, way.here, way.used_kg) > deadline_min:
                return inf
        whole = way.leave_min + self.home(left, way.here, way.used_kg)
        return whole if whole <= self.latest_min else inf


def outlook(one: Round) -> Outlook:
    """The outlook of a round, with the tolerance of times in its limits."""
    deadlines = sorted({visit.deadline_min for visit in one.visits if visit is not None} - {inf})
    due = [(deadline, _made(one, deadline)) for deadline in deadlines]
    return Outlook(
        least_rest(one, _made(one, inf), home=True), one.within_min - one.reserve_min + TIME_TOLERANCE_MIN,
        tuple((deadline + TIME_TOLERANCE_MIN, stops, least_rest(one, stops, home=False))
              for deadline, stops in due))


def _made(one: Round, by_min: float) -> int:
    """The set of stops that a round makes and that are due by then."""
    return sum(1 << n for n, visit in enumerate(one.visits)
               if visit is not None and visit.deadline_min <= by_min)


def least_rest(one: Round, wanted: int, home: bool) -> Rest:
    """The least minutes in which a round makes what is left of the `wanted` stops, and is then home and full.

    Exact over every order and every choice of reloads, deadlines aside: some stops until the next reload, the
    others after it. Passing by stops never takes longer, as drives are closed under shortest paths. Where it
    need not come home, the minutes end with the last of the stops.
    """
    drive, sets = np.array(one.drive_min), np.arange(1 << len(one.visits))
    masses = np.array([visit.material_kg if visit else 0.0 for visit in one.visits])
    kg = (sets[:, None] >> np.arange(len(masses)) & 1) @ masses
    full_kg = one.fill_kg * (1 + 2 * FILL_TOLERANCE)  # more than is allowed: a bound may be too low
    to_depot = _without_reload(one, wanted, drive[:, DEPOT])
    to_end = to_depot + one.last_reload_min if home else _without_reload(one, wanted, np.zeros(len(drive)))
    reloaded = np.full(len(sets), inf)  # from the depot through a set, reloading first

    @cache
    def parts_of(left: int) -> Ints:
        return np.flatnonzero((sets & ~left) == 0)

    def rest(left: int, here: int, used_kg: float) -> float:
        left, room_kg = left & wanted, full_kg - used_kg
        if kg[left] <= room_kg:
            return float(to_end[left, here])
        parts = parts_of(left)
        parts = parts[kg[parts] <= room_kg]
        return float((to_depot[parts, here] + reloaded[left ^ parts]).min())

    for left in range(1, len(sets)):
        if left & ~wanted == 0:
            reloaded[left] = one.reload_min + rest(left, DEPOT, 0.0)
    return rest


def _without_reload(one: Round, wanted: int, end_min: Floats) -> Floats:
    """Least minutes [set, place] from a place through a set of wanted stops, then `end_min` [place]."""
    drive = np.array(one.drive_min)
    there = np.array([drive[:, n] + (visit.minutes if visit else 0.0) for n, visit in enumerate(one.visits)])
    through = np.full((1 << len(one.visits), len(drive)), inf)
    through[0] = end_min
    for left in range(1, len(through)):
        if left & ~wanted == 0:
            through[left] = np.min([there[n] + through[left ^ (1 << n), n] for n in members(left)], axis=0)
    return through

"""Axle loads of one build out of the arrays, with what is left to each rating."""

from math import isfinite

from optibuild.records import CREWS, LOAD_STATES, AxleLoads, Builds, Case


def axle_rows(case: Case, builds: Builds, index: int) -> tuple[AxleLoads, ...]:
    """A row for every load state and crew that the build has."""
    truck = case.trucks[builds.truck[index]]
    found = []
    for s, state in enumerate(LOAD_STATES):
        for c, crew in enumerate(CREWS):
            front, rear = float(builds.front_kg[index, s, c]), float(builds.rear_kg[index, s, c])
            if isfinite(front):
                found.append(AxleLoads(state, crew, front, rear, front + rear, truck.gawr_front_kg - front,
                                       truck.gawr_rear_kg - rear, truck.gvwr_kg - front - rear))
    return tuple(found)

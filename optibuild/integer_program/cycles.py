"""Loops that come back to a place: pricing may give them, no plan may have them."""

from optibuild.integer_program.columns import Column
from optibuild.integer_program.problem import LoopProblem


def elementary(problem: LoopProblem, one: Column) -> bool:
    """Whether a loop visits each place at most once."""
    return len({int(problem.place[s]) for s in one.stops}) == len(one.stops)


def cycles(places: list[int]) -> list[tuple[int, ...]]:
    """Stretches of a loop that begin and end at the same place."""
    last: dict[int, int] = {}
    found = []
    for k, place in enumerate(places):
        if place in last:
            found.append(tuple(places[last[place]:k]))
        last[place] = k
    return found

"""Works made worth less: by hand, and that what is proved so holds however little time there is."""

import numpy as np
import pytest
from loop_oracle import least_objective
from loop_problems import seeded

from optibuild.integer_program import Column, first_columns
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.lowering import lowered
from optibuild.integer_program.pricer import OutOfTime, Pricer


def covering(*works: int) -> Column:
    """A loop that does some works once."""
    return Column(0, 0, works, (False,) * len(works), (), 0.0, 0.0, 0.0, 0.0, 0, 0.0, 0.0,
                  tuple((work, 1.0) for work in works))


@pytest.mark.parametrize(("worth", "less"), [(10.0, [0.0, 6.0, 0.0]), (5.0, [1.0, 5.0, 0.0])])
def test_the_work_that_most_loops_do_pays_first(worth: float, less: list[float]) -> None:
    """Loops 6 and 4 USD too good share work 1. Worth 10, it pays for both; worth 5, work 0 pays the rest."""
    loops, works = [covering(0, 1), covering(1, 2)], np.array([20.0, worth, 20.0])
    assert lowered(loops, [-6.0, -4.0], works).tolist() == less


@pytest.mark.parametrize("seed", range(80))
def test_a_bound_made_in_a_hurry_holds(seed: int) -> None:
    """Where no time is left for another sweep, works are made worth less at any price: the bound is never
    above what enumeration finds."""
    problem = seeded(seed)
    first = first_columns(problem)
    if not first or problem.need.size == 0:
        return
    generation = Generation(problem, first, lambda: 0.0, lambda: None)
    generation.sweep_took = 2.0
    try:
        generation.converge()
    except OutOfTime:
        return
    assert generation.bound() + problem.constant_usd <= least_objective(problem) + 1e-6


def test_each_is_done_once_and_told_in_order() -> None:
    """Of forty things done on several threads each is done once; what stops one of them is passed on."""
    pricer, done = Pricer(seeded(1), lambda: False), []

    def square(number: int) -> int:
        done.append(number)
        if number == 99:
            raise OutOfTime
        return number * number

    assert pricer.side_by_side(square, list(range(40))) == [number * number for number in range(40)]
    assert sorted(done) == list(range(40))
    with pytest.raises(OutOfTime):
        pricer.side_by_side(square, [1, 99, 3])

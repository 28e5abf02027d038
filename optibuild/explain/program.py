"""The integer program as LP or MPS text, with what every generated name stands for."""

from math import isfinite

from optibuild.pipeline import (
    Answer,
    Column,
    LoopOutcome,
    LoopProblem,
    Stages,
    first_columns,
    least_cost_at,
    program_text,
)
from optibuild.records import Case


def write_program(case: Case, answer: Answer, path: str) -> None:
    """Write the program over the loops of the plan and the first loops of every stop alone: MPS where the
    path ends in .mps, else LP.

    Its least cost is the plan's where the plan is proved best. ValueError where no program was solved.
    """
    if answer.found is None:
        raise ValueError("no integer program was solved: a site is out of reach of every build")
    problem = _asked(case, answer.made.problem, answer.found)
    loops = (*(one for one, _ in answer.found.loops), *first_columns(problem))
    columns = list({one.key: one for one in loops}.values())
    program_text(problem, columns, legend(case, answer.made, problem, columns), path)


def _asked(case: Case, problem: LoopProblem, found: LoopOutcome) -> LoopProblem:
    return least_cost_at(problem, found.missed) if case.question == "value" else problem


def legend(case: Case, made: Stages, problem: LoopProblem, columns: list[Column]) -> dict[str, str]:
    """Generated name of every row and variable that the program has to the user's words."""
    words = {}
    for name, limit, said in (("budget", problem.budget_usd, "paid for new items, within money.budget"),
                              ("loops", problem.most_loops, "loops, within crew.drivers"),
                              ("worth", problem.most_missed_worth, "contract value of sites left out")):
        if isfinite(limit):
            words[name] = said
    works = [(n, work) for n, site in enumerate(case.sites)
             for work in (("plow", "deice") if site.work == "both" and site.split_works else (site.work,))]
    words |= {f"cover_{t}": f"{work}, all parcels of site {case.sites[n].id}"
              for t, (n, work) in enumerate(works)}
    words |= {f"missed_{n}": f"site {site.id} is left out" for n, site in enumerate(case.sites)
              if isfinite(problem.missed_usd[n])}
    for i, item in enumerate(case.items):
        if problem.held[i]:
            words |= {f"owned_{i}": f"{item.id} in use are bought or owned",
                      f"bought_{i}": f"{item.id} bought", f"owned_used_{i}": f"owned {item.id} used"}
        if problem.scarce[i]:
            words[f"available_{i}"] = f"{item.id} in use are no more than can be had"
    words |= {f"use_{k}": _loop_words(case, made, one) for k, one in enumerate(columns)}
    return words


def _loop_words(case: Case, made: Stages, one: Column) -> str:
    times = made.times
    stops = [times.stops[s] for s in one.stops]
    visits = ", ".join(f"{stop.work} {stop.parcels} of site {case.sites[stop.site].id}" for stop in stops)
    build, depot = made.builds.name(times.build[one.build]), case.depots[times.depot[one.build]]
    return f"trucks {build} from {depot.id} that repeat within {times.clocks_min[one.clock]:g} min: {visits}"

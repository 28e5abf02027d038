"""The integer program as LP text, with what every generated name stands for."""

from optibuild.pipeline import Answer, Column, LoopOutcome, LoopProblem, first_columns, least_cost_at, program_text
from optibuild.records import Case, ServiceTimes


def write_program(case: Case, answer: Answer, path: str) -> None:
    """Write the program over the loops of the plan and the cheapest loop of every stop alone.

    Its least cost is the plan's where the plan is proved best. ValueError where no program was solved.
    """
    if answer.found is None:
        raise ValueError("no integer program was solved: a site is out of reach of every build")
    problem = _asked(case, answer.made.problem, answer.found)
    columns = list({one.key: one for one in (*(one for one, _ in answer.found.loops),
                                             *first_columns(problem))}.values())
    program_text(problem, columns, legend(case, answer.made.times, answer.made.builds.names, problem, columns),
                 path)


def _asked(case: Case, problem: LoopProblem, found: LoopOutcome) -> LoopProblem:
    return least_cost_at(problem, found.missed) if case.question == "value" else problem


def legend(case: Case, times: ServiceTimes, builds: tuple[str, ...], problem: LoopProblem,
           columns: list[Column]) -> dict[str, str]:
    """Generated name of every row and variable to the user's words."""
    words = {"budget": "price of what is bought within money.budget", "loops": "loops within crew.drivers",
             "worth": "contract value left out, no more than has to be"}
    works = [(n, work) for n, site in enumerate(case.sites)
             for work in (("plow", "deice") if site.work == "both" and site.split_works else (site.work,))]
    words |= {f"cover_{t}": f"{work} all parcels of site {case.sites[n].id}" for t, (n, work) in enumerate(works)}
    words |= {f"missed_{n}": f"site {site.id} is left out" for n, site in enumerate(case.sites)}
    for i, item in enumerate(case.items):
        words |= {f"owned_{i}": f"{item.id} in use are bought or owned", f"available_{i}": f"{item.id} to be had",
                  f"bought_{i}": f"{item.id} bought", f"owned_used_{i}": f"owned {item.id} used"}
    words |= {f"use_{k}": _loop_words(case, times, builds, one) for k, one in enumerate(columns)}
    return words


def _loop_words(case: Case, times: ServiceTimes, builds: tuple[str, ...], one: Column) -> str:
    stops = [times.stops[s] for s in one.stops]
    visits = ", ".join(f"{stop.work} {stop.parcels} of site {case.sites[stop.site].id}" for stop in stops)
    return (f"trucks {builds[times.build[one.build]]} from {case.depots[times.depot[one.build]].id} that repeat "
            f"within {times.clocks_min[one.clock]:g} min: {visits}")

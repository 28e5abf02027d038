"""What is wrong with an input, grouped by file."""

from itertools import groupby

from optibuild.errors import Place, Problem
from optibuild.report.console import paragraph

NOWHERE = Place()


def problems_text(problems: tuple[Problem, ...]) -> str:
    """Every problem under its file: place, what was found, what was expected, the remedy."""
    counted = [(sum(row.severity == kind for row in problems), kind) for kind in ("error", "warning")]
    lines = [" and ".join(f"{n} {kind}{'s' if n != 1 else ''}" for n, kind in counted if n) + " in the input"]
    for file, rows in groupby(sorted(problems, key=_file), key=_file):
        lines += ["", paragraph(file or "the case"), *(_one(row) for row in rows)]
    return "\n".join(lines)


def _first(problem: Problem) -> Place:
    return problem.places[0] if problem.places else NOWHERE


def _file(problem: Problem) -> str:
    place = _first(problem)
    return f"{place.file}#{place.sheet}" if place.sheet else place.file


def _one(problem: Problem) -> str:
    place = _first(problem)
    where = ", ".join(part for part in (f"row {place.row}" if place.row else "", place.column) if part)
    opening = ": ".join(part for part in ("warning" if problem.severity == "warning" else "", where,
                                          problem.text) if part)
    told = [("found", problem.value), ("expected", problem.expected),
            ("see also", "; ".join(map(str, problem.places[1:])) or None), ("remedy", problem.remedy)]
    return "\n".join([paragraph(opening, "  ", "    "),
                      *(paragraph(text, f"    {name + ':':<10}") for name, text in told if text)])

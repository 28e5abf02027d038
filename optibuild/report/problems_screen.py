"""What is wrong with an input, grouped by file, and no longer than anybody reads."""

from collections import defaultdict
from collections.abc import Iterable
from itertools import groupby

from optibuild.errors import Place, Problem
from optibuild.report.console import number, paragraph

MOST_ALIKE = 5
MOST_BLOCKS = 40
LONGEST = 300
"""Problems shown of one kind in one column, problems shown at all, and characters of one entry."""
NOWHERE = Place()


def problems_text(problems: tuple[Problem, ...]) -> str:
    """Problems under their files: place, what was found, what was expected, the remedy.

    Of one kind in one column the first few are shown with a count of the others, and of all kinds no more
    than `MOST_BLOCKS`, errors before warnings; what is left out is counted.
    """
    alike = _alike(problems)
    shown = _shown(alike)
    last = {id(rows[:MOST_ALIKE][-1]): rows[MOST_ALIKE:] for rows in alike}
    lines, told = [_counted(problems)], 0
    for file, rows in groupby(sorted(shown, key=_by_place), key=_file):
        lines += ["", paragraph(file or "the case")]
        for row in rows:
            others = last.get(id(row), [])
            lines += [_one(row), *([_more(others)] if others else [])]
            told += 1 + len(others)
    if told < len(problems):
        left = number(len(problems) - told, 0)
        lines += ["", paragraph(f"and {left} more: optibuild check CASE --json lists all")]
    return "\n".join(lines)


def _counted(problems: Iterable[Problem]) -> str:
    """How many errors and warnings there are."""
    kinds = [problem.severity for problem in problems]
    counts = [(kinds.count(kind), kind) for kind in ("error", "warning")]
    said = " and ".join(f"{number(n, 0)} {kind}{'s' if n != 1 else ''}" for n, kind in counts if n)
    return f"{said} in the input"


def _alike(problems: Iterable[Problem]) -> list[list[Problem]]:
    """Problems of one kind in one column of a table together, each group in the order of its places."""
    groups: dict[tuple[str, ...], list[Problem]] = defaultdict(list)
    for problem in problems:
        place = _first(problem)
        groups[problem.code, place.file, place.sheet, place.column].append(problem)
    return [sorted(rows, key=_by_place) for rows in groups.values()]


def _shown(alike: Iterable[list[Problem]]) -> list[Problem]:
    """The problems to lay out: the first of each group, errors before warnings, not too many in all."""
    first = [row for rows in alike for row in rows[:MOST_ALIKE]]
    return sorted(first, key=lambda row: (row.severity != "error", _by_place(row)))[:MOST_BLOCKS]


def _first(problem: Problem) -> Place:
    return problem.places[0] if problem.places else NOWHERE


def _by_place(problem: Problem) -> tuple[bool, Place, str, str]:
    """Sorts by place; what stands nowhere comes last."""
    return not problem.places, _first(problem), problem.code, problem.text


def _file(problem: Problem) -> str:
    return _first(problem).file


def _one(problem: Problem) -> str:
    here = _first(problem)
    opening = ": ".join(part for part in ("warning" if problem.severity == "warning" else "", here.within(),
                                          problem.text) if part)
    also = "; ".join(place.within() if place.file == here.file and place.within() else str(place)
                     for place in problem.places[1:])
    told = [("found", problem.value), ("expected", problem.expected), ("see also", also),
            ("remedy", problem.remedy)]
    return "\n".join([paragraph(_cut(opening), "  ", "    "),
                      *(paragraph(_cut(text), f"    {name + ':':<10}") for name, text in told if text)])


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}..."


def _more(others: list[Problem]) -> str:
    """How many more are like the one above, and in which rows."""
    rows = [_first(row).row for row in others]
    where = f" (rows {min(rows)} to {max(rows)})" if min(rows) < max(rows) else \
        f" (row {rows[0]})" if rows[0] else ""
    return f"    and {number(len(others), 0)} more like it{where}"

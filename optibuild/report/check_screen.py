"""The result of `check` on the terminal."""

from optibuild.errors import Problem
from optibuild.records import Case
from optibuild.report.console import heading, number, paragraph
from optibuild.report.documents import counts
from optibuild.report.problems_screen import problems_text

ONE_EACH = {"trucks": "truck", "plows": "plow", "spreaders": "spreader", "ballast": "ballast kit",
            "materials": "material", "depots": "depot", "sites": "site", "season": "event class",
            "travel": "travel row", "mounts": "mounts row",
            "timings": "timing", "past_winters": "past winter", "contracts": "contract"}


def check_text(case: Case | None, problems: tuple[Problem, ...]) -> str:
    """All problems; where there is no error, what the case holds."""
    parts = [problems_text(problems)] if problems else []
    if case is not None:
        parts.append(f"{heading(case.name)}\n{paragraph(f'The case can be used: {_held(case)}.')}")
    return "\n\n".join(parts)


def _held(case: Case) -> str:
    return ", ".join(f"{number(n, 0)} {_plural(ONE_EACH[name], n)}" for name, n in counts(case).items() if n)


def _plural(word: str, n: int) -> str:
    return word if n == 1 else f"{word}es" if word.endswith("s") else f"{word}s"

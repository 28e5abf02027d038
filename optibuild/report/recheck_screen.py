"""The recheck on the terminal: every check with its worst margin."""

from optibuild.records import Check, Recheck
from optibuild.report.console import heading, layout, paragraph
from optibuild.report.tables import Column, Table, Units

ROUNDING = 1e-6
"""Margins of figures that must agree are rounding noise below this, shown as 0."""
TELLING = ("front GAWR", "rear GAWR", "GVWR", "loop within its cycle limit", "end round within its time",
           "deadlines", "budget", "drivers")
"""Checks whose margin says how near the plan is to a limit."""


def recheck_text(found: Recheck, system: str) -> str:
    """Every check: kept or broken, the worst margin and where that is."""
    broken = sum(not row.passed for row in found.checks)
    verdict = (f"All {len(found.checks)} checks passed." if found.passed
               else f"{broken} of {len(found.checks)} checks failed.")
    return "\n\n".join([heading("Recheck"), paragraph(
        f"{verdict} A margin is what is left to the limit, 0 where figures agree, - where nothing is "
        "limited."), layout(_table(found.checks, system))])


def margins_text(found: Recheck, system: str) -> str:
    """The checks that tell how near the plan is to its limits."""
    rows = tuple(row for row in found.checks if row.name in TELLING and row.worst is not None)
    said = (f"Recheck: all {len(found.checks)} checks passed; least margins"
            if found.passed else "Recheck: FAILED; margins")
    return f"{heading(said)}\n\n{layout(_table(rows, system))}"


def _table(rows: tuple[Check, ...], system: str) -> Table:
    return Table((Column("check"), Column("verdict"), Column("worst margin", "", 1), Column("unit"),
                  Column("where")), tuple(_row(row, Units(system)) for row in rows))


def _row(row: Check, units: Units) -> tuple[str | float | None, ...]:
    verdict = "kept" if row.passed else "BROKEN"
    if row.worst is None:
        return row.name, verdict, None, None, row.where
    value, unit = units.any(row.worst, row.unit)
    return row.name, verdict, 0.0 if abs(value) < ROUNDING else value, unit or None, row.where

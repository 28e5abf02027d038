"""The recheck on the terminal: every check with its worst margin, by what such a margin means."""

from optibuild.records import Check, Recheck
from optibuild.records.plan import CheckKind
from optibuild.report.console import heading, layout, number, paragraph
from optibuild.report.tables import Column, Table, Units

ROUNDING = 1e-6
"""Margins of figures that must agree are rounding noise below this, shown as 0."""
LEAST_SHOWN = 0.05
"""What one decimal would show as 0 is told by its first digit."""
TELLING = ("front GAWR", "rear GAWR", "GVWR", "loop within its cycle limit", "end round within its time",
           "deadlines", "budget", "drivers")
"""Checks whose margin says how near the plan is to a limit."""
KINDS: tuple[tuple[CheckKind, str, str, str], ...] = (
    ("limit", "Limits", "left", "What is left to the limit in the place where it is least; a limit with less "
     "than 0 left is broken. A dash: nothing is limited, or nothing there is."),
    ("figure", "Figures", "off by", "How far the plan's own figure is from the one worked out again, in the "
     "place where that is most; 0 where all are the same to a millionth. A dash: the plan has none."),
    ("statement", "Statements", "", "What is true or not; where one is not true, its place is named."),
)
"""The kinds of check, in order: heading, heading of the margin (none: it is told by the verdict), meaning."""
NOTES = {
    "axle shares": "of an axle in the weight, beyond the least or below the most share asked",
    "rated fill": "room in the hopper, or of the fill beyond the least useful",
    "min GVWR": "the truck's GVWR beyond what its attachment asks",
    "coverage": "parcels served beyond those asked",
    "stock": "owned or for sale, beyond those used",
    "cost without a site": "what the plan says could be saved without it at most, beyond what leaving its "
                           "stops out saves",
    "bound": "the objective beyond what the plan says that no plan can be below",
}
"""What the margin of a limit is where its name does not tell."""


def recheck_text(found: Recheck, system: str) -> str:
    """Every check, kept or broken, with its worst margin and where that is, and what the margin means."""
    parts = [heading("Recheck"), paragraph(
        f"{verdict_words(found)} Each has been worked out again from the tables of the case, by formulas of "
        "its own.")]
    for kind, title, margin, meaning in KINDS:
        rows = tuple(row for row in found.checks if row.kind == kind)
        if rows:
            parts += [heading(title), paragraph(meaning), layout(checks_table(rows, system, margin))]
            parts += _notes(rows)
    return "\n\n".join(parts)


def verdict_words(found: Recheck) -> str:
    """How many checks passed or failed, of those that apply; the others have nothing to be checked."""
    broken, apply = sum(not row.passed for row in found.checks), _apply(found)
    idle = len(found.checks) - apply
    others = f"; {idle} {'does' if idle == 1 else 'do'} not apply." if idle else "."
    return (f"All {_applying(found)} passed{others}" if found.passed
            else f"{broken} of {_applying(found)} failed{others}")


def _apply(found: Recheck) -> int:
    """Checks that have something to check: a promise of this kind is made, or a limit given."""
    return sum(row.worst is not None or not row.passed for row in found.checks)


def _applying(found: Recheck) -> str:
    apply = _apply(found)
    return f"{apply} checks" + (" that apply" if apply < len(found.checks) else "")


def margins_text(found: Recheck, system: str) -> str:
    """The checks that tell how near the plan is to its limits."""
    said = (f"Recheck: all {_applying(found)} passed; least margins"
            if found.passed else "Recheck: FAILED; margins")
    return f"{heading(said)}\n\n{layout(telling_table(found, system))}"


def telling_table(found: Recheck, system: str) -> Table:
    """The same as a table."""
    rows = tuple(row for row in found.checks if row.name in TELLING and row.worst is not None)
    return checks_table(rows, system, "worst margin")


def checks_table(rows: tuple[Check, ...], system: str, margin: str) -> Table:
    """Checks of one kind; the place of a figure or statement that is right says nothing."""
    told = (Column(margin, "", 1), Column("unit")) if margin else ()
    return Table((Column("check"), Column("verdict"), *told, Column("where")),
                 tuple(_row(row, Units(system), bool(margin)) for row in rows))


def _notes(rows: tuple[Check, ...]) -> list[str]:
    """What the margins are of checks whose names do not tell; nothing where none is there."""
    notes = [paragraph(f"{row.name}: {NOTES[row.name]}", "- ", "  ") for row in rows if row.name in NOTES]
    return ["\n".join(notes)] if notes else []


def _row(row: Check, units: Units, with_margin: bool) -> tuple[str | None, ...]:
    verdict = "kept" if row.passed else "BROKEN"
    where = row.where if row.kind == "limit" or not row.passed else None
    return row.name, verdict, *(_margin(row, units) if with_margin else ()), where


def _margin(row: Check, units: Units) -> tuple[str | None, str | None]:
    """The margin and its unit as told; how far a figure is off is told without a sign."""
    if row.worst is None:
        return None, None
    value, unit = units.any(row.worst, row.unit)
    if row.passed and abs(value) < ROUNDING:
        value = 0.0
    if row.kind == "figure":
        value = abs(value)
    told = number(value, 1) if abs(value) >= LEAST_SHOWN or value == 0.0 else f"{value:.1g}"
    return told, unit or None

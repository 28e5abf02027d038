"""A comparison of variations on the terminal, as a document and as files."""

import json
from collections import Counter
from dataclasses import asdict
from typing import Any

from optibuild.records.comparison import Comparison, SizeMap
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.csv_tables import csv_text
from optibuild.report.tables import Table, without_empty
from optibuild.report.vary_tables import (
    ASKED,
    answers_table,
    cells_table,
    changes_table,
    differences_table,
    grid_table,
    in_order,
    promises_table,
    swaps_table,
    vary_tables,
    verdict_words,
)
from optibuild.report.workbook import workbook_bytes

FORMAT = "optibuild-vary/1"
MOST_ROWS = 40
"""More rows of a table are not put on the screen; the files have all."""
WIDEST_GRID = 6
SURE = (
    "The best plan of each case lies between its bound and its plan. Where the ranges of two cases do not "
    "overlap, their difference is sure, and lies between 'from' and 'to'. Undecided: they overlap, so the "
    "difference is smaller than the two gaps together.")
SWAPPED = (
    "Builds of the base's plan and what the other plan has in their place: those that have most parts in "
    "common are put side by side. A dash: nothing in its place.")
TIGHTEST = "The promise of time of which the least share is left, of each case."
LEADING = (
    "The size of which the plan has most trucks; '?': its plan is not proved best, so that one with other "
    "sizes may cost less. Two plans may cost the same: then one of them is told.")
IN_SWEEPS = "Cases of sweeps say in their names what was changed; vary.csv has it in full."
VALUE_ONLY = "Only contract value is compared here; costs stand above."
INTERRUPTED = "Interrupted while solving further: what was known by then."
LEFT_OUT = "Where sites are left out, the difference is of the cost with the value of these sites."


def vary_text(found: Comparison, case: str, sort: str = "cost") -> str:
    """The whole comparison of the case called so."""
    rows, question = in_order(found.rows, sort), found.rows[0].question
    compared = VALUE_ONLY if question == "value" else ""
    left_out = question == "cover" and any(row.left_out for row in rows)
    named = [row for row in rows if not row.at]
    parts = [f"{heading(f'Variations: {clean(case)}')}\n{paragraph(answer_words(found))}",
             _titled("Side by side", answers_table(rows, question)),
             _titled("Against the base", differences_table(rows, question), SURE),
             paragraph(compared) if compared else "",
             paragraph(LEFT_OUT) if left_out else "",
             _titled("What was swapped", swaps_table(rows), SWAPPED),
             _titled("Tightest promise", promises_table(rows), TIGHTEST),
             *map(_map, found.maps), _titled("What was changed", changes_table(named), IN_SWEEPS)]
    return "\n\n".join(part for part in parts if part)


def answer_words(found: Comparison) -> str:
    """The best case, how many are surely better or worse, and how many are undecided."""
    base, others = found.rows[0], found.rows[1:]
    told = Counter(verdict_words(row, base.question) for row in others)
    counted = ", ".join(f"{words} {count}" for words, count in sorted(told.items()))
    said = [f"Variations against the base: {counted or 'none'}."]
    planned = [row for row in found.rows if row.objective_usd is not None and row.question == base.question]
    if planned:
        best = min(planned, key=lambda row: (row.objective_usd or 0.0, row.cost_usd or 0.0))
        asked, sign = ASKED[base.question]
        said.append(f"The plan of the {'least' if sign > 0 else 'most'} {asked} is that of '{best.name}': "
                    f"{usd(sign * (best.objective_usd or 0.0))}.")
    if found.rounds:
        said.append(f"Solved further {found.rounds} time{'s' if found.rounds > 1 else ''}.")
    if found.interrupted:
        said.append(INTERRUPTED)
    if found.undecided:
        said.append(f"{len(found.undecided)} {'is' if len(found.undecided) == 1 else 'are'} still undecided."
                    if found.rounds else "What is undecided can be solved further with --settle.")
    return " ".join(said)


def vary_document(found: Comparison) -> dict[str, Any]:
    """The result of `vary` as a tree, cases in the order of the file; minutes, USD, shares."""
    return {"format": FORMAT, **asdict(found)}


def vary_files(found: Comparison, sort: str = "cost") -> dict[str, str | bytes]:
    """File name to content: JSON, a CSV for each table, and one workbook with them all."""
    tables = vary_tables(found, sort)
    text = json.dumps(vary_document(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return {"vary.json": text, **{f"{name}.csv": csv_text(table) for name, table in tables.items()},
            "vary.xlsx": workbook_bytes(tables)}


def _titled(title: str, table: Table, meaning: str = "") -> str:
    """A table under its heading, what it means below; nothing where it has no rows."""
    if not table.rows:
        return ""
    more = len(table.rows) - MOST_ROWS
    shown = without_empty(Table(table.columns, table.rows[:MOST_ROWS]))
    parts = [f"{heading(title)}\n\n{layout(shown)}",
             paragraph(f"And {number(more, 0)} rows more; the files have all.") if more > 0 else "",
             paragraph(meaning) if meaning else ""]
    return "\n\n".join(part for part in parts if part)


def _map(found: SizeMap) -> str:
    """A two-way sweep: its grid where that fits on the screen, and its cells."""
    title = f"Which size leads: {found.down} (down), {found.across} (across)"
    grid = _titled(title, grid_table(found)) if len(found.across_values) <= WIDEST_GRID else ""
    cells = _titled("Cell by cell" if grid else title, cells_table(found), LEADING)
    return "\n\n".join(part for part in (grid, cells) if part)

"""Tables as CSV: units in the headings, nothing that a spreadsheet would take for a formula."""

import csv
from io import StringIO

from optibuild.neutral import neutral
from optibuild.records import Plan
from optibuild.report.plan_tables import plan_sheets
from optibuild.report.tables import Cell, Table

DECIMALS = 4


def plan_csv_files(plan: Plan, system: str) -> dict[str, str]:
    """File name to CSV text for every table of a plan, in the units of the case; always the same files.

    Text that a spreadsheet would take for a formula gets an apostrophe before it; a cell stays blank where
    nothing applies.
    """
    return {f"{name}.csv": csv_text(table) for name, table in plan_sheets(plan, system).items()}


def csv_text(table: Table) -> str:
    """A table as CSV text."""
    text = StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow([column.title for column in table.columns])
    lines.writerows([_cell(value) for value in row] for row in table.rows)
    return text.getvalue()


def _cell(value: Cell) -> Cell:
    if isinstance(value, str):
        return neutral(value)
    return round(value, DECIMALS) + 0.0 if isinstance(value, float) else value

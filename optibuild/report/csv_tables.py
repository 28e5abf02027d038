"""Tables as CSV: units in the headings, nothing that a spreadsheet would take for a formula."""

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
    import pandas  # half a second that the screens need not wait for

    titles = [column.title for column in table.columns]
    rows = [[_cell(value) for value in row] for row in table.rows]
    text: str = pandas.DataFrame(rows, columns=titles, dtype=object).to_csv(index=False, lineterminator="\n")
    return text


def _cell(value: Cell) -> Cell:
    if isinstance(value, str):
        return neutral(value)
    return round(value, DECIMALS) + 0.0 if isinstance(value, float) else value

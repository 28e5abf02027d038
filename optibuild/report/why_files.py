"""Why a plan is as it is, as files: JSON, a CSV for each table, and one workbook with them all."""

import json
from collections.abc import Iterable

from optibuild.records import Why
from optibuild.report.csv_tables import csv_text
from optibuild.report.tables import Column, Table
from optibuild.report.why_screen import (
    enters_table,
    limits_table,
    loops_table,
    next_table,
    tried_table,
    why_document,
)
from optibuild.report.workbook import workbook_bytes


def why_files(found: Why, system: str) -> dict[str, str | bytes]:
    """File name to content; masses in the units of the case (in JSON kilograms)."""
    tables = {"why_loops": loops_table(found, system), "why_next": next_table(found),
              "why_items": enters_table(found)}
    if found.confirmed:
        tables["why_confirmed"] = _together("item", ((row.item, tried_table(row)) for row in found.confirmed))
    if any(row.tried for row in found.limits):
        tables["why_limits"] = _together("site", ((row.site, limits_table(row)) for row in found.limits))
    text = json.dumps(why_document(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return {"why.json": text, **{f"{name}.csv": csv_text(table) for name, table in tables.items()},
            "why.xlsx": workbook_bytes(tables)}


def _together(what: str, tables: Iterable[tuple[str, Table]]) -> Table:
    """Tables of the same columns under one another, each row with the name of its table first."""
    named = list(tables)
    return Table((Column(what), *named[0][1].columns),
                 tuple((name, *row) for name, table in named for row in table.rows))

"""A bid as files: JSON, a CSV for each table, and one workbook with them all."""

import json
from collections.abc import Sequence

from optibuild.records import Bid, Marginal
from optibuild.report.bid_screen import bid_document
from optibuild.report.bid_tables import bid_tables
from optibuild.report.csv_tables import csv_text
from optibuild.report.workbook import workbook_bytes


def bid_files(bid: Bid, marginal: Sequence[Marginal], system: str) -> dict[str, str | bytes]:
    """File name to content, lengths in the units of the case (in JSON meters and minutes)."""
    tables = bid_tables(bid, marginal, system)
    text = json.dumps(bid_document(bid, marginal), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return {"bid.json": text, **{f"{name}.csv": csv_text(table) for name, table in tables.items()},
            "bid.xlsx": workbook_bytes(tables)}

"""What more parcels change, on the terminal and as a plain tree."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from optibuild.records import Case
from optibuild.records.loop import ParcelFigures, ParcelRow
from optibuild.report.console import heading, layout, paragraph
from optibuild.report.tables import Cell, Column, Table, count, minutes

READ_AS = ("A parcel is one of the equal parts of a site that several trucks may share. For each work: "
           "the parcels now and twice as many, the builds that can do one parcel alone in time, and the "
           "minutes of the fastest of these for one parcel and for all parcels one after another, each with "
           "arriving, looking and logging.")


def parcels_text(case: Case, rows: Sequence[ParcelRow]) -> str:
    """A line for each work now and one with twice as many parcels, then for how many works that brings more
    builds."""
    columns = (Column("site"), Column("work"), count("parcels"), count("builds in reach"),
               minutes("one parcel"), minutes("all parcels"))
    lines = tuple(line for row in rows for line in ((row.site, row.work, *_cells(row.now)),
                                                    ("", "", *_cells(row.twice))))
    gaining = sum(row.twice.builds > row.now.builds for row in rows)
    return "\n\n".join([heading(f"Parcels: {case.name}"), paragraph(READ_AS), layout(Table(columns, lines)),
                        paragraph(f"Twice as many parcels bring more builds within reach of {gaining} of "
                                  f"{len(rows)} works.")])


def _cells(figures: ParcelFigures) -> tuple[Cell, ...]:
    return figures.parcels, figures.builds, figures.one_min, figures.all_min


def parcels_document(rows: Sequence[ParcelRow]) -> dict[str, Any]:
    """The same for --json: figures now and with twice as many parcels, in minutes."""
    return {"parcels": [asdict(row) for row in rows]}

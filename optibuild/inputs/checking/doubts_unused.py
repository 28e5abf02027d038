"""Cells and keys that were filled in though, beside what else is said there, nothing reads them."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from optibuild.inputs.checking.doubts_scale import column_scale
from optibuild.inputs.declared.declaration import blank_value
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Table

Unread = Iterator[tuple[str, str]]
"""Fields of a row that nothing reads, each with why."""


def doubt_unused(tables: Mapping[str, Table], settings: Settings, collector: Collector) -> None:
    """Values of sites and ways that nothing reads, and a fit of circuity to no distance."""
    fits = settings.values.get("storm.fit_circuity")
    _doubt_cells("sites", tables, _unread_of_site, collector)
    _doubt_cells("travel", tables, lambda way: _unread_of_way(way, fits is False), collector)
    travel = tables.get("travel")
    if fits and travel and not any(row.values.get("distance_m", True) for row in travel.rows):
        collector.add("doubt.unused", "fit_circuity is yes, and no row of the travel table has a distance",
                      settings.place("storm.fit_circuity"), travel.place(), value="yes",
                      expected="a row of the travel table with a distance above 0")


def _unread_of_site(site: Mapping[str, Any]) -> Unread:
    work, when = site.get("work"), site.get("deice_when")
    if when == "end":
        yield "deice_every_min", "deice_when is end"
    if when == "end" and work == "deice":
        yield "deadline_min", "the site's only work waits for the last round"
    if when == "end" and work == "plow":
        yield "deice_when", "work is plow"
    if when == "each" or work == "plow":
        yield "end_within_min", "work is plow" if work == "plow" else "deice_when is each"


def _unread_of_way(way: Mapping[str, Any], circuity_given: bool) -> Unread:
    if way.get("passable") is False:
        yield "time_min", "passable is no"
        # circuity is fitted to closed roads too: they are as long
        if circuity_given:
            yield "distance_m", "passable is no"


def _doubt_cells(name: str, tables: Mapping[str, Table], unread: Callable[[Mapping[str, Any]], Unread],
                 collector: Collector) -> None:
    table = tables.get(name)
    if table is None:
        return
    blanks = {declared.field: blank_value(declared) for declared in table.declared}
    for row in table.rows:
        for field, why in unread(row.values):
            # a default that was typed does no harm, and a case written back may hold it
            value = row.values.get(field, blanks[field])
            if value != blanks[field]:
                said = value if isinstance(value, str) else column_scale(table, field).said(value)
                collector.add("doubt.unused", f"nothing reads it: {why}", table.place(row, field), value=said,
                              expected="a blank cell")

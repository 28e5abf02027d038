"""Values that are legal but look mistyped: warnings, each with the range expected and why."""

from collections.abc import Mapping

from optibuild.inputs.checking.doubts_cells import doubt_cells, doubt_keys
from optibuild.inputs.checking.doubts_items import doubt_centers, doubt_plows, doubt_resale, doubt_trucks
from optibuild.inputs.checking.doubts_places import doubt_places
from optibuild.inputs.checking.doubts_unused import doubt_unused
from optibuild.inputs.checking.doubts_work import (
    doubt_budget,
    doubt_equipment,
    doubt_fuels,
    doubt_narrow,
    doubt_pay,
    doubt_traction,
)
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Table


def doubt(tables: Mapping[str, Table | None], settings: Settings, collector: Collector) -> None:
    """Every doubt about tables and settings. A table that could not be read (None) is passed over."""
    readable = {name: table for name, table in tables.items() if table is not None}
    doubt_cells(readable, collector)
    doubt_keys(settings, collector)
    doubt_trucks(readable, collector)
    doubt_resale(readable, collector)
    doubt_plows(readable, collector)
    doubt_centers(readable, collector)
    doubt_places(readable, collector)
    doubt_narrow(readable, settings, collector)
    doubt_equipment(readable, collector)
    doubt_pay(readable, settings, collector)
    doubt_fuels(readable, settings, collector)
    doubt_budget(readable, settings, collector)
    doubt_traction(readable, settings, collector)
    doubt_unused(readable, settings, collector)

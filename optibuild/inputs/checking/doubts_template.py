"""A case that somebody began to type over the one to begin from, and what of that is in it still."""

from collections.abc import Iterator, Mapping

from optibuild.errors import Place
from optibuild.inputs.declared.keys import KEYS
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.cells import key_value
from optibuild.inputs.reading.raw_table import RawTable
from optibuild.inputs.reading.tables import Table, read_table
from optibuild.inputs.writing.templates import OWN_KEYS, template_tables

TYPED_FIRST = {"sites", "trucks"}
"""While all of these are as `new` wrote them, nobody has begun to type."""


def doubt_template(tables: Mapping[str, Table | None], settings: Settings, collector: Collector) -> None:
    """One warning that names the tables with no rows but those that `new` writes, and its keys where the case
    is still called as there; none for a single row, nor before somebody began to type."""
    same = [*_same_tables(tables)]
    if set(same) >= TYPED_FIRST:
        return
    keys = _same_keys(settings)
    rows = sum(len(table.rows) for name, table in tables.items() if table and name in same)
    if keys or rows > 1:  # one row alone may well say what is so
        collector.add("doubt.template", f"still as `optibuild new` wrote it: {', '.join([*same, *keys])}",
                      Place(settings.file, settings.sheet),
                      expected="figures of your own: these are invented")


def _same_tables(tables: Mapping[str, Table | None]) -> Iterator[str]:
    """Tables whose rows are all the invented case's: deleted rows, notes and other units change nothing."""
    for written in template_tables():
        table = tables[written.name]
        if table is None or not table.rows:
            continue
        *columns, _ = written.columns  # the last one holds notes
        raw = RawTable(written.name, tuple(column.heading for column in columns),
                       tuple(enumerate([*cells] for cells in written.rows)))
        known = [row.values for row in read_table(raw, [one.declared for one in columns], Collector()).rows]
        if len(table.rows) <= len(known) and all(row.values in known for row in table.rows):
            yield written.name


def _same_keys(settings: Settings) -> list[str]:
    """Keys that say what the invented case says, where it is still called so."""
    same = [key for key, text in OWN_KEYS.items() if not key.startswith("solve.")
            and settings.values.get(key) == key_value(text, KEYS[key])]
    return same if "case.name" in same else []

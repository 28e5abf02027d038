"""A case, folder or workbook, to a `Case`, or to the whole list of what is wrong with it."""

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from optibuild.errors import InputProblems, Place, Problem, UsageError
from optibuild.inputs.assemble import assemble
from optibuild.inputs.checking.cross_checks import check_tables
from optibuild.inputs.checking.doubts import doubt
from optibuild.inputs.checking.doubts_template import doubt_template
from optibuild.inputs.declared.columns import OPTIONAL, TABLES, WINTER, columns_of
from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.reading.case_file import Entry, Settings, read_settings, sheet_entries, toml_entries
from optibuild.inputs.reading.headings import is_note, split_heading
from optibuild.inputs.reading.raw_table import RawTable
from optibuild.inputs.reading.sources import Sources
from optibuild.inputs.reading.tables import Table, read_table
from optibuild.records import Case

CASE_FILE = "case.toml"
CASE_SHEET = "case"


def read_case(path: str | Path) -> Case:
    """The case of a folder or workbook; UsageError where there is none, InputProblems with all faults."""
    case, problems = check_case(path)
    if case is None:
        raise InputProblems(problems)
    return case


def check_case(path: str | Path) -> tuple[Case | None, tuple[Problem, ...]]:
    """The case, or None where any problem is an error, with all problems; UsageError when it is not there."""
    with no_garbage_sought():
        return _checked(Path(path), str(path))


@contextmanager
def no_garbage_sought() -> Iterator[None]:
    """Reading makes millions of small objects and no circles of them: looking for them takes a sixth."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


@dataclass(frozen=True)
class Reading:
    """A case as its files give it: the keys as written and as read, the tables (None: not readable)."""

    sources: Sources
    name: str
    given_as: str
    entries: tuple[Entry, ...]
    settings: Settings
    tables: Mapping[str, Table | None]


def _checked(path: Path, given_as: str) -> tuple[Case | None, tuple[Problem, ...]]:
    collector = Collector()
    reading = read_files(path, given_as, collector)
    return concluded(reading, collector) if reading else None, collector.in_order()


def read_files(path: Path, given_as: str, collector: Collector) -> Reading | None:
    """Every file of a case read; None where its keys cannot be; UsageError when it is not there."""
    sources, name = _opened(path, collector)
    entries = _entries(sources, collector)
    if entries is None:
        return None
    settings = settings_of(entries, sources, collector)
    tables: dict[str, Table | None] = {}
    for table in TABLES:
        raw = raw_table(table, sources, settings, columns_of(table, events(tables) or ()), collector)
        tables[table] = read_raw(table, raw, tables, collector)
    _check_unread(sources, settings, collector)
    doubt_template(tables, settings, collector)
    return Reading(sources, name, given_as, tuple(entries), settings, tables)


def concluded(reading: Reading, collector: Collector) -> Case | None:
    """The checks that need more than one cell, then the case; None where any problem is an error."""
    tables, settings = reading.tables, reading.settings
    check_tables(tables, settings, collector)
    doubt(tables, settings, collector)
    readable = {table: rows for table, rows in tables.items() if rows is not None}
    if collector.failed or len(readable) < len(tables):
        return None
    files = {settings.file, *(rows.raw.file for rows in readable.values())}
    inputs = sorted((file, digest) for file, digest in reading.sources.digests.items() if file in files)
    return assemble(readable, settings, reading.name, reading.given_as, tuple(inputs))


def _opened(path: Path, collector: Collector) -> tuple[Sources, str]:
    """The files of a case and its name; UsageError where there is no case."""
    if path.suffix.lower() == ".xlsx" and path.is_file():
        return Sources(path.parent, collector, home=path.name), path.stem
    if not path.is_dir():
        raise UsageError(f"there is no case '{path}': name a folder with {CASE_FILE}, or a workbook .xlsx")
    if not (path / CASE_FILE).exists():
        books = sorted(book.name for book in path.glob("*.xlsx"))
        hint = f"is it the workbook '{path / books[0]}'?" if books else "`optibuild new DIR` writes one"
        if (path / "plan.json").exists():
            hint = "it holds a plan; name the case that this was made from"
        raise UsageError(f"'{path}' is no case: it has no {CASE_FILE}; {hint}")
    return Sources(path, collector), path.resolve().name


def _entries(sources: Sources, collector: Collector) -> list[Entry] | None:
    """The keys of the case as written; None where the file that holds them cannot be read."""
    if not sources.home:
        text = sources.text(CASE_FILE)
        return None if text is None else toml_entries(CASE_FILE, text, collector)
    raw = sources.table(CASE_SHEET, sources.home, ()) if sources.book(sources.home) else None
    return sheet_entries(raw, collector) if raw else None


def settings_of(entries: Sequence[Entry], sources: Sources, collector: Collector) -> Settings:
    """The keys of a case as read."""
    file, sheet = (sources.home, CASE_SHEET) if sources.home else (CASE_FILE, "")
    return read_settings([*entries], file, sheet, collector)


def raw_table(name: str, sources: Sources, settings: Settings, columns: Sequence[Declaration],
              collector: Collector) -> RawTable | None:
    """A table as text; one without headings where an optional one is nowhere; None where it cannot be had."""
    if f"tables.{name}" in settings.given:
        path = settings.paths.get(name, "")
        return sources.table(name, path, columns) if path else None
    if _own(name, sources):
        return sources.table(name, sources.home or f"{name}.csv", columns)
    return _absent(name, sources, settings, collector)


def read_raw(name: str, raw: RawTable | None, before: Mapping[str, Table | None],
             collector: Collector) -> Table | None:
    """The cells of a table read, those `before` it read already; None where it could not be had."""
    if raw is None or not raw.headings:
        return Table(raw) if raw else None
    seen = events(before)
    return read_table(raw, columns_of(name, _own_headings(raw) if seen is None else seen), collector)


def events(before: Mapping[str, Table | None]) -> list[str] | None:
    """The ids of the season's events; None where the season could not be read."""
    season = before.get("season")
    return season.ids() if season and season.rows and season.ids_known else None


def _own_headings(raw: RawTable) -> list[str]:
    """Headings that may be events: where the season could not be read, none of them is known to be wrong."""
    names = {typed: split_heading(typed)[0] for typed in raw.headings if typed}
    return [typed for typed, name in names.items() if name != WINTER.name and not is_note(name)]


def _own(name: str, sources: Sources) -> bool:
    """Whether the case itself holds a table under its own name."""
    if not sources.home:
        return sources.is_there(f"{name}.csv")
    book = sources.book(sources.home)
    return book is not None and book.find(name) is not None


def _absent(name: str, sources: Sources, settings: Settings, collector: Collector) -> RawTable | None:
    file, sheet = (sources.home, name) if sources.home else (f"{name}.csv", "")
    if name in OPTIONAL:
        return RawTable(file, (), (), sheet)
    expected = f"a sheet '{name}' in {file}" if sheet else f"the file {file}"
    collector.add("file.missing", f"the table '{name}' is not there", Place(file, sheet),
                  settings.place(f"tables.{name}"), value=name, expected=expected)
    return None


def _check_unread(sources: Sources, settings: Settings, collector: Collector) -> None:
    """Sheets that nobody reads, and files whose names look like a table's that is not there."""
    absent = [name for name in TABLES if f"tables.{name}" not in settings.given and not _own(name, sources)]
    if sources.home:
        book = sources.book(sources.home)
        for sheet in book.unread((CASE_SHEET, *TABLES)) if book else ():
            collector.add("sheet.unread", f"'{sheet}' is no table of a case and is not read",
                          Place(sources.home, sheet), hint=did_you_mean(sheet, absent))
        return
    read = set(sources.digests)
    for path in sorted(sources.folder.glob("*.csv")):
        if path.name not in read and (hint := did_you_mean(path.stem, absent)):
            collector.add("file.unread", f"'{path.name}' is no table of a case and is not read",
                          Place(path.name), hint=hint)

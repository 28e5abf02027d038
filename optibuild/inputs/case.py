"""A case folder to a `Case`, or to the whole list of what is wrong with it."""

from pathlib import Path

from optibuild.errors import InputProblems, Place, Problem, UsageError
from optibuild.inputs.assemble import assemble
from optibuild.inputs.case_file import Settings, read_settings
from optibuild.inputs.columns import OPTIONAL, TABLES
from optibuild.inputs.cross_checks import check_tables
from optibuild.inputs.csv_reader import read_rows
from optibuild.inputs.files import SourceFile, read_file
from optibuild.inputs.problems import Collector
from optibuild.inputs.tables import Table, empty_table, read_table
from optibuild.records import Case

CASE_FILE = "case.toml"


def read_case(path: str | Path) -> Case:
    """The case in a folder; UsageError when it is not there, InputProblems (all of them) when it is wrong."""
    case, problems = check_case(path)
    if case is None:
        raise InputProblems(problems)
    return case


def check_case(path: str | Path) -> tuple[Case | None, tuple[Problem, ...]]:
    """The case, or None where any problem is an error, with all problems; UsageError when it is not there."""
    folder = _case_folder(path)
    collector = Collector()
    sources: dict[str, str] = {}
    source = _noted(read_file(folder, CASE_FILE, collector), sources)
    settings = read_settings(source, collector) if source else None
    if settings is None:
        return None, collector.in_order()
    tables = {name: _table(name, folder, settings, sources, collector) for name in TABLES}
    check_tables(tables, settings, collector)
    readable = {name: table for name, table in tables.items() if table is not None}
    if collector.failed or len(readable) < len(tables):
        return None, collector.in_order()
    inputs = tuple(sorted((name, digest) for name, digest in sources.items()))
    return assemble(readable, settings, folder.resolve().name, str(path), inputs), collector.in_order()


def _case_folder(path: str | Path) -> Path:
    folder = Path(path)
    if not folder.is_dir():
        raise UsageError(f"there is no case folder '{path}'")
    if not (folder / CASE_FILE).exists():
        raise UsageError(f"'{path}' is no case: it has no {CASE_FILE}")
    return folder


def _noted(source: SourceFile | None, sources: dict[str, str]) -> SourceFile | None:
    if source is not None:
        sources[source.name] = source.sha256
    return source


def _table(name: str, folder: Path, settings: Settings, sources: dict[str, str],
           collector: Collector) -> Table | None:
    """A table of the case; an optional one that is nowhere has no rows; None where it cannot be read."""
    file = settings.paths.get(name, f"{name}.csv")
    named = f"tables.{name}" in settings.given
    if named and name not in settings.paths:
        return None
    if not named and not (folder / file).exists():
        return _absent(name, file, settings, collector)
    source = _noted(read_file(folder, file, collector), sources)
    raw = read_rows(source, collector) if source else None
    return read_table(raw, TABLES[name], collector) if raw else None


def _absent(name: str, file: str, settings: Settings, collector: Collector) -> Table | None:
    if name in OPTIONAL:
        return empty_table(file)
    collector.add("file.missing", f"the table '{name}' is not there", Place(file),
                  Place(settings.file, column=f"tables.{name}"), value=file, expected=f"the file {file}")
    return None

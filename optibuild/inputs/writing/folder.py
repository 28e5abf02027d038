"""Writing a case: a folder of text tables or one workbook, whole or not at all, and never over a file."""

import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from optibuild.errors import UsageError
from optibuild.inputs.declared.keys import FUEL, KEYS
from optibuild.inputs.writing.templates import template_settings, template_tables
from optibuild.inputs.writing.text_settings import Settings, settings_of
from optibuild.inputs.writing.text_tables import TextColumn, TextTable, tables_of
from optibuild.neutral import kept, neutral
from optibuild.records import Case

CASE_FILE = "case.toml"
WORKBOOK = "case.xlsx"
LONGEST_LINE = 100
_QUOTED = frozenset('",;\t\r\n')


def write_case(case: Case, path: str | Path) -> tuple[str, ...]:
    """Write a case to a folder, or to a workbook where the path ends in .xlsx; the names written.

    What is read again is the same case, but for where it was read from. UsageError, with nothing written,
    where a file is there already or cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() == ".xlsx":
        return write_new(path.parent, {path.name: _workbook(tables_of(case), settings_of(case))})
    return write_new(path, _text_files(tables_of(case), settings_of(case)))


def case_workbook(case: Case) -> Any:
    """A case as a workbook of openpyxl; None where it holds a text that no workbook can."""
    from optibuild.inputs.writing.workbook_writing import workbook

    try:
        return workbook(tables_of(case), settings_of(case))
    except UsageError:
        return None


def write_template(folder: Path, as_workbook: bool = False) -> tuple[str, ...]:
    """Write the invented small case into a folder, as `write_case` does; the names written."""
    tables, settings = template_tables(), template_settings()
    files = {WORKBOOK: _workbook(tables, settings)} if as_workbook else _text_files(tables, settings)
    return write_new(folder, files)


def _workbook(tables: Sequence[TextTable], settings: Settings) -> bytes:
    from optibuild.inputs.writing.workbook_writing import workbook_bytes

    return workbook_bytes(tables, settings)


def _text_files(tables: Sequence[TextTable], settings: Settings) -> dict[str, bytes]:
    texts = {CASE_FILE: toml_text(settings)} | {f"{table.name}.csv": csv_text(table) for table in tables}
    return {name: text.encode() for name, text in texts.items()}


def csv_text(table: TextTable) -> str:
    """A table as CSV; texts that a spreadsheet would take for formulas get an apostrophe before them."""
    columns = [[column.heading, *_safe(column)] for column in table.columns]
    return "".join(",".join(map(_quoted, row)) + "\n" for row in zip(*columns, strict=True))


def _safe(column: TextColumn) -> Sequence[str]:
    return column.cells if column.is_number else [neutral(text) for text in column.cells]


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if _QUOTED & set(text) else text


def toml_text(settings: Settings) -> str:
    """The keys as TOML, a section for each first part, the meaning of each key behind it."""
    lines: list[str] = []
    section = ""
    for key, value in settings.items():
        above, name = _split(key)
        if above != section:
            section = above
            lines += ["", f"[{section}]"]
        lines += _toml_lines(f"{_bare(name)} = {_toml(value)}", KEYS[key].meaning if key in KEYS else "")
    return "\n".join(lines).lstrip("\n") + "\n"


def _toml_lines(line: str, meaning: str) -> list[str]:
    """A key with its meaning behind it, or above it where the line would be long."""
    commented = f"{line}  # {meaning}" if meaning else line
    return [commented] if len(commented) <= LONGEST_LINE or not meaning else [f"# {meaning}", line]


def _split(key: str) -> tuple[str, str]:
    """The section of a key and its name there; a fuel's name may hold points."""
    fuel = FUEL.name.removesuffix("NAME")
    if key.startswith(fuel):
        return fuel.rstrip("."), key.removeprefix(fuel)
    above, _, name = key.partition(".")
    return (above, name) if name else ("", above)


def _bare(name: str) -> str:
    return name if name.isascii() and name.replace("_", "").replace("-", "").isalnum() else _toml(name)


def _toml(value: str | int | float) -> str:
    return json.dumps(kept(value), ensure_ascii=False) if isinstance(value, str) else repr(value)


def write_new(folder: Path, files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Write files that are not there yet into a folder: all of them, or none and the folder as it was.

    UsageError where one is there already, or where they cannot be written.
    """
    there = [name for name in files if os.path.lexists(folder / name)]
    if there:
        raise UsageError(f"'{folder}' holds {', '.join(there)} already, and nothing is written over: "
                         "name another place")
    try:
        _write(folder.absolute(), files)
    except OSError as error:
        raise UsageError(f"'{folder}' was not written: {error.strerror or error}; name another place"
                         ) from None
    return tuple(files)


def _write(folder: Path, files: Mapping[str, bytes]) -> None:
    new = [way for way in (folder, *folder.parents) if not way.exists()]
    moved: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=".new.", dir=folder))
        try:
            for name, content in files.items():
                (made / name).write_bytes(content)
            for name in files:
                os.rename(made / name, folder / name)
                moved.append(folder / name)
        finally:
            shutil.rmtree(made, ignore_errors=True)
    except BaseException:
        _take_back(moved, new)
        raise


def _take_back(moved: Sequence[Path], new: Sequence[Path]) -> None:
    """Remove what was written and the folders made for it."""
    for path in moved:
        with suppress(OSError):
            path.unlink()
    for way in new:
        with suppress(OSError):
            way.rmdir()

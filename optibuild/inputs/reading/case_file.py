"""The keys of a case, from case.toml or a sheet, to values in inner units, and where each table lies."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from optibuild.assumptions import ASSUMPTIONS
from optibuild.errors import Place
from optibuild.inputs.declared.columns import TABLES
from optibuild.inputs.declared.declaration import Declaration, blank_value
from optibuild.inputs.declared.keys import FUEL, FUELS, KEYS
from optibuild.inputs.declared.problems import Collector, Fault, did_you_mean
from optibuild.inputs.reading.cells import key_value
from optibuild.inputs.reading.files import path_fault
from optibuild.inputs.reading.raw_table import Marked, RawTable, cell_text
from optibuild.inputs.reading.tables import read_table
from optibuild.units import conversion, quantity

_FUEL_PREFIX = FUEL.name.removesuffix("NAME")
_LINE = re.compile(r"at line ([0-9]+)")
_SECTION = re.compile(r"\s*\[\s*([A-Za-z0-9_.\s-]+?)\s*\]\s*(?:#.*)?")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=")
CASE_COLUMNS = (Declaration("key", "name of a setting, as in case.toml: money.budget", "text", needed=True),
                Declaration("value", "its value, with its unit", "text"))


@dataclass(frozen=True)
class Entry:
    """One key of a case as written: its value, and where it stands."""

    key: str
    value: Any
    place: Place


@dataclass
class Settings:
    """The keys of a case in inner units, where those given stand, fuel prices (`fuels`, by
    name), and the tables' paths."""

    file: str
    sheet: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    given: dict[str, Place] = field(default_factory=dict)
    fuels: dict[str, float] = field(default_factory=dict)
    paths: dict[str, str] = field(default_factory=dict)

    def place(self, key: str) -> Place:
        """Where a key stands, or would stand."""
        return self.given.get(key) or Place(self.file, self.sheet, column=key)


def toml_tree(name: str, text: str, collector: Collector) -> dict[str, Any] | None:
    """A TOML file; None, with a problem noted, where the text is no TOML or too deep to be looked through."""
    try:
        tree = tomllib.loads(text.replace("\r\n", "\n"))
        list(flat(tree))
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        collector.add("file.toml", f"'{name}' cannot be read: {error}", Place(name, row=_line(error)))
        return None
    return tree


def toml_entries(name: str, text: str, collector: Collector) -> list[Entry] | None:
    """The keys of case.toml; None, with a problem noted, where the text is no TOML."""
    tree = toml_tree(name, text, collector)
    rows = _key_rows(text)
    return None if tree is None else \
        [Entry(key, value, Place(name, row=rows.get(key, 0), column=key)) for key, value in flat(tree)]


def sheet_entries(raw: RawTable, collector: Collector) -> list[Entry]:
    """The keys of a workbook's sheet `case`: a key and its value in each row."""
    table = read_table(raw, CASE_COLUMNS, collector)
    entries = []
    for row, (_, cells) in zip(table.rows, raw.rows, strict=True):
        key = row.values.get("key")
        if key and "value" in row.values:
            index = table.columns["value"][1]
            cell = cells[index] if index is not None and index < len(cells) else ""
            entries.append(Entry(key, cell, replace(table.place(row, "value"), column=key)))
    return entries


def read_settings(entries: list[Entry], file: str, sheet: str, collector: Collector) -> Settings:
    """Every key read or filled with its default; what is wrong with one is noted at its place."""
    fuels = {name: quantity(price, FUEL.dimension) for name, price in FUELS.items()}
    settings = Settings(file, sheet, fuels=fuels)
    for entry in entries:
        _take(settings, entry, collector)
    _fill_defaults(settings)
    _warn_assumptions(settings, collector)
    return settings


def _line(error: Exception) -> int:
    match = _LINE.search(str(error))
    return int(match.group(1)) if match else 0


def _key_rows(text: str) -> dict[str, int]:
    """The line on which each plainly written key stands; keys written in another way are left out."""
    rows: dict[str, int] = {}
    section = ""
    for row, line in enumerate(text.splitlines(), start=1):
        if header := _SECTION.fullmatch(line):
            section = re.sub(r"\s", "", header.group(1)) + "."
        elif key := _KEY.match(line):
            rows.setdefault(section + re.sub(r"\s", "", key.group(1)), row)
    return rows


def flat(tree: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """The keys of a TOML table with their sections: money.budget. RecursionError where it is too deep."""
    for name, value in tree.items():
        if isinstance(value, dict):
            yield from flat(value, f"{above}{name}.")
        else:
            yield above + name, value


def _take(settings: Settings, entry: Entry, collector: Collector) -> None:
    section, _, name = entry.key.rpartition(".")
    if name.startswith("note"):
        return
    if entry.key in settings.given:
        collector.add("key.twice", f"'{entry.key}' is there twice", entry.place, settings.given[entry.key])
    elif section == "tables":
        _take_path(settings, name, entry, collector)
    elif entry.key.startswith(_FUEL_PREFIX) and len(entry.key) > len(_FUEL_PREFIX):
        _take_value(settings, entry, FUEL, collector)
    elif entry.key in KEYS and entry.key != FUEL.name:
        _take_value(settings, entry, KEYS[entry.key], collector)
    else:
        known = [*KEYS, *(f"tables.{table}" for table in TABLES)]
        collector.add("key.unknown", f"'{entry.key}' is no key of a case", entry.place,
                      value=shown_value(entry.value), hint=did_you_mean(entry.key, known))


def shown_value(value: Any) -> str:
    """A value as written in a case, for a problem that quotes it."""
    return value.text if isinstance(value, Marked) else str(value)


def _take_value(settings: Settings, entry: Entry, declared: Declaration, collector: Collector) -> None:
    settings.given[entry.key] = entry.place
    try:
        is_cell = isinstance(entry.value, Marked)
        read = key_value(cell_text(entry.value, declared) if is_cell else entry.value, declared)
    except Fault as fault:
        collector.add_fault(fault, entry.place, shown_value(entry.value))
        return
    if declared is FUEL:
        settings.fuels[entry.key.removeprefix(_FUEL_PREFIX)] = read
    else:
        settings.values[entry.key] = read


def _take_path(settings: Settings, table: str, entry: Entry, collector: Collector) -> None:
    value, place = entry.value, entry.place
    if table not in TABLES:
        collector.add("key.unknown", f"there is no table '{table}'", place, value=shown_value(value),
                      expected=", ".join(TABLES), hint=did_you_mean(table, TABLES))
        return
    settings.given[entry.key] = place
    if not isinstance(value, str):
        collector.add("value.kind", f"tables.{table} is not text", place, value=shown_value(value),
                      expected="the path of a .csv or .xlsx file")
    elif fault := path_fault(value):
        collector.add("file.path", f"'{value}' {fault}", place, value=value,
                      expected="a relative path to a .csv or .xlsx file")
    else:
        settings.paths[table] = value


def _fill_defaults(settings: Settings) -> None:
    for key, declared in KEYS.items():
        if key not in settings.given and declared is not FUEL:
            settings.values[key] = blank_value(declared)
    if settings.values.get("case.units") == "si":
        for row in ASSUMPTIONS:
            key = f"assumptions.{row.name}"
            if row.si_default is not None and key not in settings.given:
                settings.values[key] = quantity(row.si_default, row.dimension)


def _warn_assumptions(settings: Settings, collector: Collector) -> None:
    """An override outside what has been published is used, but said."""
    for row in ASSUMPTIONS:
        key = f"assumptions.{row.name}"
        if key not in settings.given or key not in settings.values or row.low is None or row.high is None:
            continue
        low, high = quantity(row.low, row.dimension), quantity(row.high, row.dimension)
        if not low * (1 - 1e-9) <= settings.values[key] <= high * (1 + 1e-9):
            collector.add("assumption.range", f"{key} lies outside {row.low} to {row.high}",
                          settings.place(key), value=_shown(settings.values[key], row.high, row.dimension),
                          expected=f"{row.low} to {row.high} ({row.source})")


def _shown(value: float, like: str, dimension: str) -> str:
    unit = like.lstrip("0123456789. ")
    number = conversion(unit, dimension).from_inner(value) if unit else value
    return f"{number:.6g} {unit}".strip()

"""case.toml: every key to its value in inner units, and where each table lies."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optibuild.assumptions import ASSUMPTIONS
from optibuild.errors import Place
from optibuild.inputs.cells import key_value
from optibuild.inputs.columns import TABLES
from optibuild.inputs.declaration import Declaration, blank_value
from optibuild.inputs.files import SourceFile, path_fault
from optibuild.inputs.keys import FUEL, FUELS, KEYS
from optibuild.inputs.problems import Collector, Fault, did_you_mean
from optibuild.units import conversion, quantity

_FUEL_PREFIX = FUEL.name.removesuffix("NAME")
_LINE = re.compile(r"at line ([0-9]+)")


@dataclass
class Settings:
    """The keys of a case in inner units, the names of those given, fuel prices, and the tables' paths."""

    file: str
    values: dict[str, Any]
    given: set[str]
    fuels: dict[str, float]
    paths: dict[str, str]


def read_settings(source: SourceFile, collector: Collector) -> Settings | None:
    """Every key read or filled with its default; None, with a problem noted, where the text is no TOML."""
    try:
        keys = list(_flat(tomllib.loads(source.text)))
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        place = Place(source.name, row=_line(error))
        collector.add("file.toml", f"'{source.name}' cannot be read: {error}", place)
        return None
    fuels = {name: quantity(price, FUEL.dimension) for name, price in FUELS.items()}
    settings = Settings(source.name, {}, set(), fuels, {})
    for key, value in keys:
        _take(settings, key, value, collector)
    _fill_defaults(settings)
    _warn_assumptions(settings, collector)
    return settings


def _line(error: Exception) -> int:
    match = _LINE.search(str(error))
    return int(match.group(1)) if match else 0


def _flat(tree: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in tree.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{above}{name}.")
        else:
            yield above + name, value


def _take(settings: Settings, key: str, value: Any, collector: Collector) -> None:
    section, _, name = key.rpartition(".")
    if name.startswith("note"):
        return
    if section == "tables":
        _take_path(settings, name, value, collector)
    elif key.startswith(_FUEL_PREFIX) and len(key) > len(_FUEL_PREFIX):
        _take_value(settings, key, value, FUEL, collector)
    elif key in KEYS and key != FUEL.name:
        _take_value(settings, key, value, KEYS[key], collector)
    else:
        known = [*KEYS, *(f"tables.{table}" for table in TABLES)]
        collector.add("key.unknown", f"'{key}' is no key of case.toml", Place(settings.file, column=key),
                      value=str(value), hint=did_you_mean(key, known))


def _take_value(settings: Settings, key: str, value: Any, declared: Declaration,
                collector: Collector) -> None:
    settings.given.add(key)
    try:
        read = key_value(value, declared)
    except Fault as fault:
        collector.add_fault(fault, Place(settings.file, column=key), str(value))
        return
    if declared is FUEL:
        settings.fuels[key.removeprefix(_FUEL_PREFIX)] = read
    else:
        settings.values[key] = read


def _take_path(settings: Settings, table: str, value: Any, collector: Collector) -> None:
    place = Place(settings.file, column=f"tables.{table}")
    if table not in TABLES:
        collector.add("key.unknown", f"there is no table '{table}'", place, value=str(value),
                      expected=", ".join(TABLES), hint=did_you_mean(table, TABLES))
        return
    settings.given.add(f"tables.{table}")
    if not isinstance(value, str):
        collector.add("value.kind", f"tables.{table} is not text", place, value=str(value),
                      expected="the path of a .csv file")
    elif fault := path_fault(value):
        collector.add("file.path", f"'{value}' {fault}", place, value=value,
                      expected="a relative path to a .csv file")
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
                          Place(settings.file, column=key),
                          value=_shown(settings.values[key], row.high, row.dimension),
                          expected=f"{row.low} to {row.high} ({row.source})")


def _shown(value: float, like: str, dimension: str) -> str:
    unit = like.lstrip("0123456789. ")
    number = conversion(unit, dimension).from_inner(value) if unit else value
    return f"{number:.6g} {unit}".strip()

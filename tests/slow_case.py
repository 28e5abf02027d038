"""What a whole case must hold by the slow reader: keys, defaults, and what a blank takes from other cells."""

import posixpath
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache, lru_cache
from math import asin, isclose, sqrt
from typing import Any

from slow_reader import (
    TWO_WAYS,
    UNREADABLE,
    NoTable,
    columns_of,
    heading_of,
    in_inner_units,
    number_of,
    rows_of,
    text_of,
    values_of,
    word_of,
)
from slow_workbook import CannotTell, key_values, sheets_of, text_rows

from optibuild.assumptions import ASSUMPTIONS
from optibuild.inputs import KEYS, TABLES, Declaration
from optibuild.records import Case

NO_LIMIT = "no limit"
_BOUGHT = {"upkeep": "0 USD/year", "owned": "0", "available": NO_LIMIT, "snow_share": "100 %",
           "life_hours": NO_LIMIT, "loan_down": "0 %"}
# what a blank cell means, where that depends on no other cell; the rest of the columns have None or no words
DEFAULTS: dict[str, dict[str, str]] = {
    "trucks": {"front_axle_to_bumper": "38 in", "rear_axle_to_bed_end": "48 in", "bed_length": "96 in",
               "seat": "62 in", "seats": "3", "width": "80 in", "track": "68 in", "steer_angle": "36 deg",
               "drive": "all", "plow_allowed": "yes", "tire_capacity_front": NO_LIMIT,
               "tire_capacity_rear": NO_LIMIT, "life": "8 year", "resale": "20 %",
               "insurance": "0 USD/year", "registration": "0 USD/year",
               "fuel": "gas", "city": "14 mi/gal", "highway": "18 mi/gal", "work_fuel": "3 gal/h",
               "wear": "4 USD/h", **_BOUGHT},
    "plows": {"kind": "straight", "height": "29 in", "angle": "30 deg", "mount_mass": "0 lb",
              "center_ahead": "28 in", "min_gvwr": "0 lb", "life": "7 year", "resale": "15 %",
              "wear": "2 USD/h", **_BOUGHT},
    "spreaders": {"kind": "hopper", "spread_width": "20 ft", "discharge": "120 lb/min", "min_gvwr": "0 lb",
                  "life": "7 year", "resale": "15 %", "wear": "2 USD/h", **_BOUGHT},
    "ballast": {"most_units": "20", "removable": "no", "price": "0 USD", "life": "5 year", "owned": "0",
                "available": NO_LIMIT},
    "materials": {"price": "0 USD/ton", "delivery": "0 USD/ton", "waste": "0 %", "strength": "100 %"},
    "depots": {"reload_time": "8 min", "reload_rate": "600 lb/min"},
    "sites": {"clear_width": "60 ft", "snow_goes": "side", "work": "plow", "deice_when": "each",
              "end_within": "4 h", "split_works": "no",
              "deadline": NO_LIMIT, "trigger": "1 in", "stop_time": "3 min", "most_gross": NO_LIMIT,
              "most_width": NO_LIMIT, "most_turning_circle": NO_LIMIT, "must_serve": "yes"},
    "season": {}, "travel": {"passable": "yes"}, "mounts": {}, "timings": {},
    "past_winters": {}, "contracts": {"from_depth": "0 in", "to_depth": NO_LIMIT, "cap": NO_LIMIT},
}
KEY_DEFAULTS = {
    "case.question": "cover", "case.units": "us", "storm.snowfall_rate": "1 in/h",
    "storm.snow_density": "100 kg/m^3", "storm.pavement": "25 degF", "storm.travel_speed": "22 mph",
    "storm.slowdown": "0 %", "storm.fit_circuity": "no",
    "money.budget": NO_LIMIT, "money.wage": "25 USD/h", "money.burden": "25 %", "money.paid": "working",
    "money.standby": "0 %", "money.overtime_after": NO_LIMIT, "money.overtime": "50 %",
    "money.cleanup_round": "yes", "money.road_wear": "0.12 USD/mi", "money.interest": "7 %",
    "money.overhead": "12 %", "money.profit_margin": "15 %", "crew.occupants": "1",
    "crew.drivers": NO_LIMIT, "crew.start_minutes": "30 min", "crew.shift": NO_LIMIT,
    "fit.min_front_share": "20 %", "fit.front_share_of": "gross", "fit.axle_reserve": "0 lb",
    "solve.gap": "0.5 %",
    "solve.time_limit": "2 min", "solve.seed": "1", "solve.reserve": "0 min",
    "bid.chance_of_loss": "10 %", "bid.seasons": "10000",
}
FUELS = {"gas": "3.50 USD/gal", "diesel": "4.00 USD/gal"}
OPTIONAL = ("plows", "spreaders", "ballast", "materials", "travel", "mounts", "timings", "past_winters",
            "contracts")
WORKBOOK = "case.xlsx"
Row = dict[str, Any]


@cache
def quantity_of(text: str, declared: Declaration) -> Any:
    """A text such as '22 mph' in inner units; where it can be split in two ways, neither."""
    text = text.strip()
    if text == NO_LIMIT:
        return Decimal("inf")
    if declared.dimension in ("id", "item_id", "text", "word", "yes_no"):
        return word_of(text, declared)
    money = declared.dimension.startswith("money")
    bare = text.removeprefix("$").strip() if money else text
    found = set()
    for at in range(1, len(bare) + 1):
        number, unit = number_of(bare[:at].strip()), bare[at:].strip()
        if not unit and bare != text and declared.dimension == "money":
            unit = "USD"
        inner = None if number is None else _with_unit(number, unit, declared)
        if inner is not None:
            found.add(inner)
    return found.pop() if len(found) == 1 else TWO_WAYS if found else UNREADABLE


def _with_unit(number: Decimal, unit: str, declared: Declaration) -> Decimal | None:
    if not unit and declared.dimension == "share":
        return number
    return in_inner_units(number, unit, declared.dimension)


def key_of(value: Any, declared: Declaration) -> Any:
    """A value of case.toml in inner units."""
    if isinstance(value, bool):
        return value if declared.dimension == "yes_no" else UNREADABLE
    if isinstance(value, str):
        return quantity_of(value, declared)
    plain = isinstance(value, int | float) and declared.dimension in ("count", "number", "share")
    return Decimal(repr(value)) if plain else UNREADABLE


def flat(tree: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Every key of a TOML text with the names of its sections before it."""
    for name, value in tree.items():
        if isinstance(value, dict):
            yield from flat(value, f"{above}{name}.")
        else:
            yield above + name, value


def table_rows(name: str, path: str, files: Mapping[str, bytes]) -> list[Row] | None:
    """The rows of a table by its path; None where there is no such file."""
    file, _, sheet = path.partition("#")
    content = files.get(posixpath.normpath(file))
    if content is None:
        return None
    return _rows(name, content, sheet or name, file.lower().endswith(".xlsx"))


@lru_cache(maxsize=500)
def _rows(name: str, content: bytes, sheet: str, in_book: bool) -> list[Row] | None:
    if not in_book:
        return rows_of(name, content)
    cells = sheets_of(content).get(sheet.casefold())
    if cells is None:
        return None
    columns = columns_of(name, (str(cell.value or "") for cell in cells[0]))
    return values_of(text_rows(cells, columns), columns, ",")


def keys_in(files: Mapping[str, bytes]) -> dict[str, Any]:
    """Every key of the case as written: text of case.toml, or of the sheet `case`."""
    if WORKBOOK in files:
        return key_values(sheets_of(files[WORKBOOK])["case"])
    text = text_of(files["case.toml"]).replace("\r\n", "\n")
    return dict(flat(tomllib.loads(text)))


def differences(case: Case, files: Mapping[str, bytes]) -> list[str]:
    """Every value of a case that is not what the slow reader makes of its files, in words."""
    try:
        written = keys_in(files)
        tables = {name: _table(name, written, files) for name in TABLES}
    except CannotTell:
        return []
    except (NoTable, KeyError, ValueError) as error:
        return [f"accepted, but the slow reader cannot read it: {error!r}"]
    tables["season"] = [event | _count(event, tables["past_winters"]) for event in tables["season"]]
    found = [*_keys(case, written)]
    for name, rows in tables.items():
        records = getattr(case, name)
        if len(records) != len(rows):
            return [f"{name}: {len(records)} rows, not {len(rows)}"]
        for number, (record, row) in enumerate(zip(records, rows, strict=True), start=1):
            found += [f"{name}, record {number}, {fault}" for fault in _faults(name, record, row, tables)]
    return found


def _faults(name: str, record: Any, row: Row, tables: Mapping[str, list[Row]]) -> Iterator[str]:
    """The fields of one record that are not what its row says."""
    amiss = {column: value for column, value in row.items() if value in (UNREADABLE, TWO_WAYS)}
    if amiss:
        yield f"accepted: {amiss}"
        return
    full = _filled(name, row, tables)
    fields = {declared.field: full[declared.name] for declared in TABLES[name] if declared.name != "resale"}
    for field, expected in (fields | dict(_derived(name, full))).items():
        if not same(getattr(record, field), expected):
            yield f"{field}: {getattr(record, field)!r}, not {expected!r}"


def _table(name: str, written: Mapping[str, Any], files: Mapping[str, bytes]) -> list[Row]:
    home = f"{WORKBOOK}#{name}" if WORKBOOK in files else f"{name}.csv"
    rows = table_rows(name, str(written.get(f"tables.{name}", home)), files)
    if rows is None and (name not in OPTIONAL or f"tables.{name}" in written):
        raise NoTable(f"the table {name} is not there")
    return rows or []


def _winters(event: Row, winters: list[Row]) -> tuple[Any, ...]:
    """How often an event came in each winter."""
    return tuple(winter.get(heading_of(str(event.get("id")))[0]) for winter in winters)


def _count(event: Row, winters: list[Row]) -> Row:
    """The count of an event; where it is blank the mean over the winters."""
    counts = [count for count in _winters(event, winters) if isinstance(count, Decimal)]
    return {} if "count" in event or not counts else {"count": sum(counts) / len(counts)}


def same(value: Any, expected: Any) -> bool:
    """Whether a value read is the expected one, but for the last digits of a float."""
    if isinstance(value, float) and isinstance(expected, Decimal | float | int):
        return isclose(value, float(expected), rel_tol=1e-12, abs_tol=1e-300)
    if isinstance(value, int) and not isinstance(value, bool) and isinstance(expected, Decimal):
        return expected == value
    return type(value) is type(expected) and bool(value == expected)


def _filled(name: str, row: Row, tables: Mapping[str, list[Row]]) -> Row:
    """A row with its blanks filled: by the defaults, then from the other cells."""
    columns = {declared.name: declared for declared in TABLES[name]}
    full: Row = {column: "" if declared.dimension == "text" else None for column, declared in columns.items()}
    for column, text in DEFAULTS[name].items():
        value = quantity_of(text, columns[column])
        full[column] = (columns[column].dimension, value) if columns[column].or_dimension else value
    full |= row
    circle = full.get("turning_circle")
    if isinstance(circle, Decimal):
        radius = float(circle - full["track"]) / 2
        full["steer_angle"] = asin(float(full["wheelbase"]) / radius)
    if name == "spreaders":
        full["material"] = full["material"] or (tables["materials"] or [{}])[0].get("id")
        center = full["material_center"]
        full["material_center"] = full["center"] if center is None else center
    if name == "sites":
        full["pass_length"] = full["pass_length"] or sqrt(full["area"])
        full["pay"] = full["pay"] or Decimal(0)
        if full["deice_every"] is None and full["work"] != "plow":
            full["deice_every"] = full["plow_every"]
    if name == "past_winters":
        full["EVENT"] = tuple(_winters(event, [row])[0] for event in tables["season"])
    if name in ("trucks", "plows", "spreaders"):
        full["price"] = full["price"] or Decimal(0)
        storms = sum(event["count"] * event["duration"] for event in tables["season"])
        full["hours_per_year"] = full["hours_per_year"] or storms
    if name == "trucks":
        full["owned_value"] = _owned_value(full) if full["owned_value"] is None else full["owned_value"]
        full["remaining_life"] = full["remaining_life"] or _half_life(full)
    return full


def _owned_value(row: Row) -> Decimal | None:
    """Half the price; with a fall of its value that is left for the cost to work out."""
    return None if row.get("value_falls") else row["price"] / 2


def _half_life(row: Row) -> Decimal:
    hours, each_year = row.get("life_hours", Decimal("inf")), row.get("hours_per_year")
    return min(row["life"], hours / each_year) / 2 if each_year else row["life"] / 2


def _derived(name: str, row: Row) -> Iterator[tuple[str, Any]]:
    """Fields that no column holds alone, with their values."""
    if name in ("trucks", "plows", "spreaders"):
        kind, worth = row["resale"] if isinstance(row["resale"], tuple) else ("", UNREADABLE)
        yield "resale_usd", worth * row["price"] if kind == "share" else worth
    if name in ("plows", "spreaders", "ballast"):
        yield "owned_value_usd", _owned_value(row)
        yield "remaining_life_year", _half_life(row)


def _keys(case: Case, written: Mapping[str, Any]) -> Iterator[str]:
    settings = dict(KEY_DEFAULTS)
    metric = str(written.get("case.units", "us")).casefold().strip() == "si"
    settings |= {f"assumptions.{row.name}": row.si_default if metric and row.si_default else row.default
                 for row in ASSUMPTIONS}
    for key, declared in KEYS.items():
        section, _, name = key.partition(".")
        if key == "case.name" or name == "fuel.NAME":
            continue
        given = written.get(key, settings.get(key))
        expected = None if given is None else key_of(given, declared)
        if key == "solve.time_limit" and isinstance(expected, Decimal):
            expected *= 60
        value = getattr(case if section == "case" else getattr(case, section), declared.field)
        if not same(value, expected):
            yield f"{key}: {value!r}, not {expected!r}"
    fuel = KEYS["money.fuel.NAME"]
    prices = FUELS | {key.removeprefix("money.fuel."): price for key, price in written.items()
                      if key.startswith("money.fuel.")}
    for name, price in prices.items():
        if not same(dict(case.money.fuel_usd_per_l).get(name), key_of(price, fuel)):
            yield f"money.fuel.{name}: {dict(case.money.fuel_usd_per_l).get(name)!r}, not {price!r}"

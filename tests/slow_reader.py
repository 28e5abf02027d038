"""A slow and obvious second reader of case files: what every cell of a case must have been read as.

It shares nothing with the package but the names, dimensions and choices of the columns: its own decoding, its
own splitting into cells, numbers by Decimal, factors written out below. It reads one file at a time, knows
nothing of ranges and says `UNREADABLE` or `TWO_WAYS` where no single value can be meant.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from optibuild.inputs import TABLES, Declaration

UNREADABLE, TWO_WAYS = "<no value can be read>", "<two values can be read>"
SEPARATORS = (",", ";", "\t")
WORDS = ("id", "item_id", "text", "word", "yes_no")
ALIASES = {"4x4": "all", "4wd": "all", "awd": "all"}
BLANKS = " \u00a0\u2009\u202f"
MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
GREATEST_EXPONENT = 400


class NoTable(Exception):
    """Bytes that are no text, or text that is no table."""


_LB, _FT, _GAL = Decimal("0.45359237"), Decimal("0.3048"), Decimal("3.785411784")
_MI, _LANE = 5280 * _FT, 12 * _FT
_LENGTH = {"in": _FT / 12, "ft": _FT, "yd": 3 * _FT, "mi": _MI, "mm": Decimal("0.001"),
           "cm": Decimal("0.01"), "m": Decimal(1), "km": Decimal(1000)}
_VOLUME = {"ft^3": _FT**3, "yd^3": 27 * _FT**3, "cuyd": 27 * _FT**3, "l": Decimal("0.001"),
           "gal": _GAL / 1000, "m^3": Decimal(1)}
_HOUR = Decimal(60)
# dimension -> unit, without blanks and in small letters -> what one is in inner units (kg, m, min, L of fuel,
# USD). Exact by definition: NIST SP 811, appendix B.8 (pound, inch, US gallon, short ton of 2000 lb, acre of
# 43 560 international square feet); a lane is 12 ft.
UNITS: dict[str, dict[str, Decimal]] = {
    "mass": {"lb": _LB, "kg": Decimal(1), "g": Decimal("0.001"), "t": Decimal(1000), "ton": 2000 * _LB},
    "length": _LENGTH,
    "area": {"sqft": _FT**2, "ft^2": _FT**2, "acre": 43560 * _FT**2, "m^2": Decimal(1), "ha": Decimal(10000)},
    "volume": _VOLUME,
    "density": {"lb/ft^3": _LB / _FT**3, "kg/m^3": Decimal(1)},
    "time": {"s": 1 / _HOUR, "min": Decimal(1), "h": _HOUR},
    "life": {"year": Decimal(1)},
    "speed": {"mph": _MI / _HOUR, "km/h": 1000 / _HOUR, "in/h": _FT / 12 / _HOUR,
              "mm/h": Decimal("0.001") / _HOUR},
    "mass_rate": {"lb/min": _LB, "kg/min": Decimal(1)},
    "areal_rate": {"lb/1000ft^2": _LB / (1000 * _FT**2), "g/m^2": Decimal("0.001"),
                   "lb/lane-mile": _LB / (_LANE * _MI)},
    "fuel_use": {"l/100km": Decimal("0.00001")},
    "fuel_rate": {"gal/h": _GAL / _HOUR, "l/h": 1 / _HOUR},
    "money": {"usd": Decimal(1)},
    "money_per_time": {"usd/h": 1 / _HOUR},
    "money_per_year": {"usd/year": Decimal(1)},
    "money_per_mass": {"usd/ton": 1 / (2000 * _LB), "usd/kg": Decimal(1)},
    "money_per_volume": {"usd/gal": 1 / _GAL, "usd/l": Decimal(1)},
    "money_per_length": {"usd/mi": 1 / _MI, "usd/km": Decimal("0.001")},
    "angle": {"deg": Decimal("3.14159265358979323846264338327950288") / 180},
    "share": {"%": Decimal("0.01")},
}


def in_inner_units(number: Decimal, unit: str, dimension: str) -> Decimal | None:
    """A number in a unit as typed; None where the dimension has no such unit."""
    unit = "".join(unit.split()).casefold()
    if dimension == "temperature":
        return {"degc": number, "degf": (number - 32) * 5 / 9}.get(unit)
    if dimension == "fuel_use" and unit == "mi/gal":
        return _GAL / (_MI * number) if number > 0 else None
    if dimension in ("count", "number"):
        return None if unit else number
    factor = UNITS[dimension].get(unit)
    return None if factor is None else number * factor


def text_of(content: bytes) -> str:
    """Bytes as text: UTF-16 by its mark or its zero bytes, else UTF-8, else Windows-1252."""
    for mark, encoding in MARKS.items():
        if content.startswith(mark):
            return content[len(mark):].decode(encoding)
    if b"\0" in content[:2]:
        return content.decode("utf-16-be" if content[0] == 0 else "utf-16-le")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252")


def cells_of(text: str, separator: str) -> list[list[str]]:
    """Rows of cells by RFC 4180, character by character; NoTable where quotes are amiss."""
    rows: list[list[str]] = [[]]
    at = 0
    while at <= len(text):
        cell, at = _quoted(text, at) if text[at:at + 1] == '"' else _bare(text, at, separator)
        rows[-1].append(cell)
        ending = text[at:at + 1]
        if ending in ("\r", "\n"):
            rows.append([])
            at += text[at:at + 2] == "\r\n"
        elif ending not in ("", separator):
            raise NoTable(f"{ending!r} after a closing quote")
        at += 1
    return rows


def _quoted(text: str, at: int) -> tuple[str, int]:
    cell, at = "", at + 1
    while True:
        end = text.find('"', at)
        if end < 0:
            raise NoTable("a quote is not closed")
        cell += text[at:end]
        if text[end + 1:end + 2] != '"':
            return cell, end + 1
        cell, at = cell + '"', end + 2


def _bare(text: str, at: int, separator: str) -> tuple[str, int]:
    end = at
    while end < len(text) and text[end] not in (separator, "\r", "\n"):
        end += 1
    return text[at:end], end


def heading_of(typed: str) -> tuple[str, str | None]:
    """Name and unit of a heading: 'Plow every [h]' is plow_every and h."""
    typed, unit = typed.strip(), None
    if typed.endswith("]") and typed.count("[") == 1 and typed.count("]") == 1:
        typed, _, unit = typed[:-1].partition("[")
        unit = unit.strip()
    return "_".join(typed.split()).casefold(), unit


def _whole(digits: str, group: str) -> str | None:
    """Digits with or without groups of thousands; None for anything else. No group begins with 0."""
    parts = digits.split(group)
    if len(parts) > 1:
        first = parts[0]
        if not 1 <= len(first) <= 3 or first[0] == "0" or any(len(part) != 3 for part in parts[1:]):
            return None
    digits = "".join(parts)
    return digits if _all_digits(digits) else None


def _all_digits(text: str) -> bool:
    return all(letter in "0123456789" for letter in text)


def number_of(text: str, point: str = ".", group: str = ",") -> Decimal | None:
    """The number that a text is where `point` begins decimals and `group` parts thousands; else None.

    With an exponent there are no groups: nobody writes 1,250e2, so that its comma cannot be told.
    """
    body = text.replace("\u2212", "-")
    sign, body = (body[0], body[1:]) if body[:1] in ("+", "-") else ("+", body)
    mantissa, mark, power = body.replace("E", "e").partition("e")
    bare_power = power[1:] if power[:1] in ("+", "-") else power
    if mark and not (bare_power and _all_digits(bare_power)):
        return None
    whole, _, decimals = mantissa.partition(point)
    if mark and not _all_digits(whole):
        return None
    if set(whole) & set(BLANKS):
        whole, group = "".join(" " if letter in BLANKS else letter for letter in whole), " "
    plain = _whole(whole, group)
    if plain is None or not _all_digits(decimals) or not plain + decimals:
        return None
    if abs(int(power or 0)) > GREATEST_EXPONENT and (plain + decimals).strip("0"):
        return None
    return Decimal(f"{sign}{plain or 0}.{decimals or 0}") * Decimal(10) ** min(int(power or 0), 999)


def stripped(text: str, dimension: str) -> str:
    """A cell without blanks around it and the sign that its dimension allows."""
    text = text.strip()
    if dimension.startswith("money"):
        return text.removeprefix("$").lstrip()
    return text.removesuffix("%").rstrip() if dimension == "share" else text


def marks_shown(bare: Iterable[str]) -> set[str]:
    """The decimal marks of numbers that can be read one way only."""
    shown = set()
    for text in bare:
        point, comma = number_of(text), number_of(text, ",", ".")
        mark = "," if point is None else "."
        if (point is None) != (comma is None) and set(text.removesuffix(".")) & {".", ","}:
            shown.add(mark)
    return shown


def number_in(text: str, separator: str, shown: set[str]) -> Decimal | str:
    """The number of a cell in a file whose other numbers show some decimal marks."""
    point = number_of(text)
    if separator == ",":
        return UNREADABLE if point is None else point
    comma = number_of(text, ",", ".")
    if point is None or comma is None or point == comma:
        found = comma if point is None else point
        return UNREADABLE if found is None else found
    if len(shown) != 1:
        return TWO_WAYS
    return point if "." in shown else comma


def word_of(text: str, declared: Declaration) -> Any:
    """The value of a cell that holds no number."""
    folded = text.casefold()
    if declared.dimension == "yes_no":
        yes, no = folded in ("yes", "true", "1", "y"), folded in ("no", "false", "0", "n")
        return yes if yes or no else UNREADABLE
    if declared.dimension == "word":
        found = ALIASES.get(folded, folded)
        return found if found in declared.choices else UNREADABLE
    start = text.lstrip("'")[:1]
    guarded = declared.dimension == "text" and text[:1] == "'" and start in ("=", "+", "-", "@", "\t", "\r")
    return text[1:] if guarded else text


def value_of(number: Decimal | str, unit: str | None, declared: Declaration) -> Any:
    """A number in inner units; with its dimension where the unit may choose one."""
    if isinstance(number, str):
        return number
    for dimension in filter(None, (declared.dimension, declared.or_dimension)):
        inner = in_inner_units(number, unit or "", dimension)
        if inner is not None:
            return (dimension, inner) if declared.or_dimension else inner
    return UNREADABLE


def rows_of(name: str, content: bytes) -> list[dict[str, Any]]:
    """Every row of a text file that is not blank: column -> value, blank ones and absent ones left out."""
    text = text_of(content)
    grids = {separator: cells_of_or_none(text, separator) for separator in SEPARATORS}
    columns = columns_of(name, ())

    def known(separator: str) -> int:
        grid = grids[separator]
        return sum(heading_of(cell)[0] in columns for cell in grid[0]) if grid else -1

    separator = max(SEPARATORS, key=known)
    grid = grids[separator]
    if grid is None:
        raise NoTable("quotes are amiss")
    return values_of(grid, columns_of(name, grid[0]), separator)


def columns_of(name: str, headings: Iterable[str]) -> dict[str, Declaration]:
    """The columns of a table by name; in past_winters each heading but winter and notes counts an event."""
    columns = {declared.name: declared for declared in TABLES[name]}
    if name == "past_winters":
        count = columns.pop("EVENT")
        events = {heading_of(typed)[0] for typed in headings} - {"", *columns}
        columns |= {event: replace(count, name=event) for event in events if not event.startswith("note")}
    return columns


def cells_of_or_none(text: str, separator: str) -> list[list[str]] | None:
    """The cells of a text between one kind of separator, if it can be split so."""
    try:
        return cells_of(text, separator)
    except NoTable:
        return None


def values_of(grid: Sequence[Sequence[str]], columns: dict[str, Declaration],
              separator: str) -> list[dict[str, Any]]:
    """Rows of text under headings as values."""
    headings = [heading_of(cell) for cell in grid[0]]
    rows = [row for row in grid[1:] if "".join(row).strip()]
    names = [name for name, _ in headings if name in columns]
    if len(set(names)) < len(names) or any(len(row) > len(headings) for row in rows):
        raise NoTable("a heading is there twice, or a row is longer than the headings")
    placed = [(index, columns[name], unit) for index, (name, unit) in enumerate(headings) if name in columns]
    numbers = [(index, _dimension(declared, unit)) for index, declared, unit in placed
               if declared.dimension not in WORDS]
    shown = marks_shown(stripped(row[index], dimension) for row in rows for index, dimension in numbers
                        if index < len(row))
    found = []
    for row in rows:
        cells = {declared.name: (row[index].strip(), unit) for index, declared, unit in placed
                 if index < len(row) and row[index].strip()}
        found.append({name: _cell(text, unit, columns[name], separator, shown)
                      for name, (text, unit) in cells.items()})
    return found


def _dimension(declared: Declaration, unit: str | None) -> str:
    money = declared.or_dimension and (unit or "").strip().casefold() in UNITS[declared.or_dimension]
    return declared.or_dimension if money else declared.dimension


def _cell(text: str, unit: str | None, declared: Declaration, separator: str, shown: set[str]) -> Any:
    if declared.dimension in WORDS:
        return word_of(text, declared)
    bare = stripped(text, _dimension(declared, unit))
    return value_of(number_in(bare, separator, shown), unit, declared)

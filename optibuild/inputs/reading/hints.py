"""What a text that is no number probably meant, so that the problem can say how to write it."""

import re
from collections.abc import Callable

from optibuild.errors import UnitError
from optibuild.units import Conversion, conversion

_FEET = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(?:'|’|′|ft)\s*-?\s*"
                   r"(?:([0-9]+(?:\.[0-9]+)?)\s*(?:''|\"|”|″|in)?)?", re.IGNORECASE)
_FRACTION = re.compile(r"(?:([0-9]+)[\s-]+)?([0-9]+)/([1-9][0-9]*)\s*(?:\"|in)?")
_DATE = re.compile(r"[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}(?:\D.*)?")
_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])(?::[0-5][0-9])?")
_COMMA = re.compile(r"[+-]?(?:[0-9]+|[0-9]{1,3}(?:\.[0-9]{3})+),[0-9]+")
_UNIT_AFTER = re.compile(r"[$]?\s*([+-]?[0-9][0-9,]*(?:\.[0-9]*)?)\s*([A-Za-z%$\"'].*)")
_THOUSAND = ("k", "K")
_NOT_KNOWN = ("n/a", "na", "none", "-", "--", "?", "tbd", "unknown", "null")


def number_hint(text: str, dimension: str, converts: Conversion, meaning: str) -> str:
    """How to write what was typed instead of a number in a column of a meaning; nothing where that cannot be
    told."""
    if text.casefold() in _NOT_KNOWN:
        return "Leave the cell blank: an optional one then takes its default."
    if text.startswith("="):
        return "A formula in a text file is not calculated: write its value."
    if dimension == "length" and (feet := _FEET.fullmatch(text)):
        return _in_unit(12 * float(feet.group(1)) + float(feet.group(2) or 0), "in", "length", converts)
    if dimension == "time" and (clock := _CLOCK.fullmatch(text)):
        return f"A length of time belongs here, no time of day: {meaning}. {_length(clock, converts)}"
    if (after := _UNIT_AFTER.fullmatch(text)) and not _DATE.fullmatch(text):
        return _without(after.group(1).replace(",", ""), after.group(2), dimension, converts)
    for pattern, hint in _PLAIN:
        if match := pattern.fullmatch(text):
            return hint(match)
    return ""


def _length(clock: re.Match[str], converts: Conversion) -> str:
    """How to write hours and minutes typed as 2:30."""
    hours, minutes = int(clock.group(1)), int(clock.group(2))
    written = _in_unit(60.0 * hours + minutes, "min", "time", converts)
    return f"{written.removesuffix('.')}, for {hours} h {minutes} min."


def _in_unit(number: float, unit: str, dimension: str, converts: Conversion) -> str:
    try:
        inner = conversion(unit, dimension).to_inner(number)
    except UnitError:
        return ""
    return f"Write {float(f'{converts.from_inner(inner):.6g}'):.10g}, the number alone."


def _without(number: str, after: str, dimension: str, converts: Conversion) -> str:
    """What to write for a number with something behind it; its unit is converted, never just left out."""
    if after in _THOUSAND:
        return f"Write {float(f'{1000 * float(number):.6g}'):.10g}."
    try:
        same = conversion(after, dimension) == converts
    except (UnitError, KeyError):
        return f"Leave out '{after[:20]}': the number must be in the unit of the heading."
    if same:
        return f"Leave out '{after}': the heading says the unit."
    written = _in_unit(float(number), after, dimension, converts)
    return f"{written} Or put [{after}] in the heading for all rows."


def _fraction(match: re.Match[str]) -> str:
    number = int(match.group(1) or 0) + int(match.group(2)) / int(match.group(3))
    return f"Write {float(f'{number:.6g}'):.10g}."


def _comma(match: re.Match[str]) -> str:
    point = match.group().replace(".", "").replace(",", ".")
    return f"If the comma begins the decimals, write {point}."


_PLAIN: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], str]], ...] = (
    (_FRACTION, _fraction),
    (_COMMA, _comma),
    (_DATE, lambda match: "It looks like a date: format the column as a number and type it anew."),
)

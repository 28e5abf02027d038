"""Cells of a workbook to text, or to what keeps them from being text: dates, errors, other digits shown."""

import re
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from optibuild.inputs.declared.problems import Fault
from optibuild.inputs.reading.raw_table import Cell, Marked

# a spreadsheet holds numbers as floats: above this the last digits are no longer those typed
MOST_EXACT = 1e15
BUILT_IN = {"1": "0", "2": "0.00", "3": "#,##0", "4": "#,##0.00", "9": "0%", "10": "0.00%", "49": "@"}
"""Number formats that a workbook names by number only (ECMA-376, part 1, section 18.8.30), the usual ones."""
_AS_TYPED = ("", "general", "@")
# whole numbers that these formats show by their own digits
_WHOLE = {"0": r"-?[0-9]+", "#": r"-?[1-9][0-9]*", "#,##0": r"-?[0-9]{1,3}"}
# colors, conditions and blanks change no digit
_UNSEEN = re.compile(r"\[[^\]]*\]|_.|\*.")
_QUOTED = re.compile(r"\"[^\"]*\"|\\.")
_MARK = re.compile(r"\"([^\"]*)\"|\\(.)|([0 ()/-])")
_ID_AS_TEXT, _LONGEST = "an id typed as text", 40


def shows_as_typed(number_format: str) -> bool:
    """Whether a number is shown by its own digits and nothing else."""
    return _first_section(number_format).casefold() in _AS_TYPED


def value_cell(value: Any, number_format: str = "") -> Cell:
    """A value as a spreadsheet library gives it, shown in a number format."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        # most cells by far: worth the shortcut
        plain = not number_format and -MOST_EXACT < value < MOST_EXACT
        return number_text(value) if plain else _number(float(value), number_format)
    return _date(value)


@lru_cache(maxsize=1000)
def error_cell(shown: str) -> Cell:
    """A cell that shows #N/A, #REF! and the like."""
    return Marked(shown, unreadable=Fault("cell.error", f"the cell shows {shown[:_LONGEST]}", "a value"))


def formula_cell(formula: str) -> Cell:
    """A formula whose value the workbook does not hold. It is never worked out here."""
    brief = formula if len(formula) <= _LONGEST else f"{formula[:_LONGEST]}..."
    said = f"the formula ={brief.removeprefix('=')}" if brief else "a formula"
    return Marked(f"={brief.removeprefix('=')}",
                  unreadable=Fault("cell.formula", f"{said} has no value in this file", "a value"))


def number_text(number: float) -> str:
    """A number as the shortest text that reads back the same; whole ones without a point."""
    return str(int(number)) if number == number // 1 and abs(number) < MOST_EXACT else repr(number)


@lru_cache(maxsize=50_000)
def _number(number: float, number_format: str) -> Cell:
    text, no_id = number_text(number), None
    percent = f"{_hundredfold(number)} %" if "%" in _QUOTED.sub("", _first_section(number_format)) else ""
    if abs(number) >= MOST_EXACT:
        no_id = Fault("cell.padded", f"{text} has more digits than a number of a sheet can hold", _ID_AS_TEXT)
    elif not shows_as_typed(number_format):
        no_id = _other_digits(text, number_format)
    return Marked(text, no_id=no_id, percent=percent) if no_id or percent else text


def _hundredfold(number: float) -> str:
    """A share in percent, exactly: 0.07 is 7."""
    text = f"{Decimal(repr(number)) * 100:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _first_section(number_format: str) -> str:
    return _UNSEEN.sub("", number_format).partition(";")[0].strip()


def _other_digits(text: str, number_format: str) -> Fault | None:
    """Why a number is no id: the sheet shows it otherwise, as 007 for 7; None where it does not."""
    pattern = _first_section(number_format)
    if pattern in _WHOLE and re.fullmatch(_WHOLE[pattern], text):
        return None
    shown = _padded(text, pattern)
    if shown == text:
        return None
    how = shown or f"it in the format {number_format[:_LONGEST]}"
    return Fault("cell.padded", f"the cell shows {how}, the number in it is {text}", _ID_AS_TEXT)


def _padded(text: str, pattern: str) -> str:
    """What is shown for a whole number in a format of zeros and letters (000, 00-00, "T-"0); else nothing."""
    marks = [(quoted or escaped or mark, mark == "0") for quoted, escaped, mark in _MARK.findall(pattern)]
    if not text.isdigit() or _MARK.sub("", pattern) or not any(is_digit for _, is_digit in marks):
        return ""
    zeros = sum(is_digit for _, is_digit in marks)
    digits = text.zfill(zeros)
    left = iter((digits[:len(digits) - zeros + 1], *digits[len(digits) - zeros + 1:]))
    return "".join(next(left) if is_digit else mark for mark, is_digit in marks)


def _date(value: date | datetime | time | timedelta) -> Cell:
    text, kind, hint = str(value), "a date", ""
    if isinstance(value, time | timedelta):
        kind, hours = ("a time of day", _hours(value)) if isinstance(value, time) else \
            ("a length of time", value.total_seconds() / 3600)
        hint = f"For a length of time write {hours:.6g} in a column of h, {60 * hours:.6g} in one of min."
    no_id = Fault("cell.date", f"{text} is {kind}", _ID_AS_TEXT, hint)
    return Marked(text, no_id=no_id, no_number=Fault("cell.date", f"{text} is {kind}", "a number", hint))


def _hours(value: time) -> float:
    return value.hour + value.minute / 60 + value.second / 3600

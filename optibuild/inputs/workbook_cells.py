"""Cells of a workbook to text, or to what keeps them from being text: dates, errors, formats that show otherwise."""

import re
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from optibuild.inputs.problems import Fault
from optibuild.inputs.raw_table import Cell, Marked

# a spreadsheet holds numbers as floats: above this the last digits are no longer those typed
MOST_EXACT = 1e15
_PLAIN_FORMATS = ("General", "0", "@", "#", "#0", "GENERAL", "")
_LITERAL = re.compile(r"\"[^\"]*\"|\\.|\[[^\]]*\]|_.")


def value_cell(value: Any, number_format: str = "General") -> Cell:
    """A value as a spreadsheet library gives it, shown in a number format."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _number(float(value), number_format)
    if isinstance(value, datetime | date | time | timedelta):
        return _date(value)
    return str(value)


def plain_cell(value: Any) -> Cell:
    """The same for a sheet that shows every number as it is."""
    if isinstance(value, str):
        return value
    if isinstance(value, float) and abs(value) < MOST_EXACT:
        return number_text(value)
    return value_cell(value)


def error_cell(shown: str) -> Cell:
    """A cell that shows #N/A, #REF! and the like."""
    return Marked(shown, unreadable=Fault("cell.error", f"the cell shows {shown}", "a value"))


def formula_cell(formula: str) -> Cell:
    """A formula whose value the workbook does not hold. It is never worked out here."""
    brief = formula if len(formula) <= 40 else f"{formula[:40]}..."
    return Marked(formula, unreadable=Fault("cell.formula", f"the formula {brief} has no value", "a value"))


def number_text(number: float) -> str:
    """A number as the shortest text that reads back the same; whole ones without a point."""
    return str(int(number)) if number == int(number) and abs(number) < MOST_EXACT else repr(number)


def _number(number: float, number_format: str) -> Cell:
    text, no_id, percent = number_text(number), None, ""
    bare = _LITERAL.sub("", number_format)
    if "%" in bare:
        percent = f"{Decimal(repr(number)) * 100:f}".rstrip("0").rstrip(".") if number else "0"
        percent = f"{percent} %"
    if abs(number) >= MOST_EXACT:
        no_id = Fault("cell.padded", f"{text} has more digits than a number cell holds", "an id typed as text")
    elif number_format not in _PLAIN_FORMATS:
        no_id = _padded(text, number_format, bare)
    return Marked(text, no_id=no_id, percent=percent) if no_id or percent else text


def _padded(text: str, number_format: str, bare: str) -> Fault:
    """An id that the sheet shows with other characters than its number has: 007 for 7."""
    zeros = bare.partition(";")[0].partition(".")[0].count("0")
    shown = f", the cell shows {text.zfill(zeros)}" if text.isdigit() and zeros > len(text) else ""
    return Fault("cell.padded", f"the number is {text}{shown} (format {number_format[:20]})", "an id typed as text")


def _date(value: datetime | date | time | timedelta) -> Cell:
    if isinstance(value, timedelta):
        minutes = value.total_seconds() / 60
        text, kind = f"{int(minutes // 60)}:{int(minutes % 60):02d}", "a length of time"
        hint = f"Write {minutes / 60:.6g} in a column of h, {minutes:.6g} in one of min."
    elif isinstance(value, time):
        minutes = value.hour * 60 + value.minute + value.second / 60
        text, kind = value.isoformat(), "a time of day"
        hint = f"For a length of time write {minutes / 60:.6g} in a column of h, {minutes:.6g} in one of min."
    else:
        text, kind, hint = value.isoformat(sep=" ") if isinstance(value, datetime) else value.isoformat(), \
            "a date", ""
    no_id = Fault("cell.date", f"{text} is {kind}", "an id typed as text", hint)
    no_number = Fault("cell.date", f"{text} is {kind}", "a number", hint)
    return Marked(text, no_id=no_id, no_number=no_number)

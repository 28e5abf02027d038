"""What is typed in variations.toml as the text of a cell, in the unit of its heading, in exact decimals."""

import re
from contextlib import suppress
from decimal import Decimal
from math import isfinite
from typing import Any

from optibuild.inputs.declared.declaration import NO_LIMIT, Declaration, expected_words
from optibuild.inputs.declared.problems import Fault, printable
from optibuild.inputs.reading.cells import plain_number, unit_of
from optibuild.inputs.reading.headings import Heading
from optibuild.inputs.reading.raw_table import NO_NUMBER, Cell, cell_text
from optibuild.units import Conversion, quantity

_AMOUNT = re.compile(r"([+\u2212-]?)\s*(\$?)\s*([0-9.,]+(?:[eE][+-]?[0-9]+)?)\s*(.*)", re.DOTALL)
_MORE_OR_LESS = re.compile(r"([+\u2212-])\s*([0-9.,]+)\s*%")
_FACTOR = "a factor, as 1.05, or how much more or less, as '+5 %' or '-10 %'"
DIGITS = 15
"""What a float holds for certain: a converted number is rounded to so many digits."""


def dimension_of(heading: Heading) -> str:
    """What a column measures: by its heading's unit where it takes one."""
    return heading.dimension or heading.declared.dimension


def expected_of(heading: Heading) -> str:
    """What a cell of a column should hold."""
    return expected_words(heading.declared, heading.unit, heading.converts, dimension_of(heading))


def typed_text(value: Any, heading: Heading) -> str:
    """A value as the text of a cell; Fault where it is no such value."""
    declared = heading.declared
    if value == "":
        return ""
    if declared.dimension not in NO_NUMBER:
        return plain(_amount(value, heading, False))
    if isinstance(value, bool) and declared.dimension == "yes_no":
        return "yes" if value else "no"
    if not isinstance(value, str):
        raise Fault("value.kind", f"{declared.name} is not text", expected_of(heading),
                    "Put it between quotes.")
    return value.strip()


def sum_text(old: Decimal, value: Any, heading: Heading) -> str:
    """A number and what is added to it, as the text of a cell; Fault where `value` is no amount."""
    return plain(old + _amount(value, heading, True))


def product_text(old: Decimal, value: Any, heading: Heading) -> str:
    """A number times a factor, as the text of a cell; Fault for a temperature, which has no zero to
    scale from."""
    if dimension_of(heading) == "temperature":
        raise Fault("value.kind", f"{heading.declared.name} is a temperature and cannot be scaled",
                    "add, as '-5 degF'")
    return plain(old * factor(value))


def factor(value: Any) -> Decimal:
    """What `scale` multiplies by: 1.05, '1.05', '+5 %'; Fault for '5 %', which may mean either."""
    if isinstance(value, str) and (match := _MORE_OR_LESS.fullmatch(value.strip())):
        share = _decimal(plain_number(match.group(2), _FACTOR)) / 100
        found = 1 + share if match.group(1) == "+" else 1 - share
    elif isinstance(value, str):
        hint = f"Is it '+{value.strip()}' or '-{value.strip()}'?" if value.strip().endswith("%") else ""
        try:
            found = _decimal(plain_number(value.strip(), _FACTOR))
        except Fault as fault:
            raise Fault(fault.code, fault.text, _FACTOR, hint) from None
    else:
        found = _number(value, "scale", _FACTOR)
    if found < 0:
        raise Fault("value.range", f"'{value}' makes numbers negative", _FACTOR)
    return found


def old_number(cell: Cell, heading: Heading) -> Decimal | None:
    """The number of a cell; of a blank one the default, in the heading's unit. None where that is no limit.

    Fault where the column holds no numbers, where the cell cannot be read, and where a blank cell has no
    default that could be changed.
    """
    declared, kind = heading.declared, dimension_of(heading)
    if declared.dimension in NO_NUMBER:
        raise Fault("value.kind", f"{declared.name} holds no numbers", "set")
    text = cell_text(cell, declared)
    if text:
        text = text.removeprefix("$").removesuffix("%").strip()
        return _decimal(plain_number(text, expected_of(heading)))
    if declared.default == NO_LIMIT:
        return None
    if declared.default is None or kind != declared.dimension:
        raise Fault("variation.blank", f"'{declared.name}' is blank, which depends on other cells",
                    expected_of(heading))
    inner = quantity(declared.default, kind)
    return _converted(inner, Conversion(1.0), heading.converts or Conversion(1.0))


def plain(number: Decimal) -> str:
    """A number without exponent and needless zeros."""
    text = f"{number:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def said(text: str, heading: Heading) -> str:
    """The text of a cell in a sentence: numbers with thousands, 'blank' for nothing."""
    if not text:
        return "blank"
    if heading.declared.dimension in NO_NUMBER:
        return printable(text)
    try:
        number = _decimal(plain_number(text.removeprefix("$").removesuffix("%").strip(), ""))
    except Fault:
        return text
    return f"{Decimal(plain(number)):,f}"


def unit_for(declared: Declaration, value: Any) -> str:
    """The unit that a new column should have: the one typed where its kind takes it, else the usual one."""
    match = _AMOUNT.fullmatch(value.strip()) if isinstance(value, str) and declared.takes_unit else None
    unit = match[4] if match else ""
    for kind in filter(None, (declared.dimension, declared.or_dimension)) if unit else ():
        with suppress(Fault):
            unit_of(unit, kind, declared.name, "")
            return unit
    return declared.usual


def _amount(value: Any, heading: Heading, is_difference: bool) -> Decimal:
    """A number with its unit, in the unit of the heading."""
    kind, expected, name = dimension_of(heading), expected_of(heading), heading.declared.name
    if not isinstance(value, str):
        number, unit = _number(value, name, expected), ""
    elif match := _AMOUNT.fullmatch(value.strip()):
        sign, dollar, digits, unit = match.groups()
        number = _decimal(plain_number(digits, expected))
        number = -number if sign in ("-", "\u2212") else number
        unit = unit or ("USD" if dollar and kind == "money" else "")
    else:
        raise Fault("value.number", f"'{value}' is not a number with a unit", expected)
    if kind in ("count", "number"):
        if unit:
            raise Fault("value.number", f"'{value}': {name} takes no unit", expected)
        return number
    if kind == "share" and not unit:
        return 100 * number
    typed = unit_of(unit, kind, name, expected)
    here = heading.converts or typed
    if typed == here:
        return number
    if not is_difference:
        return _converted(float(number), typed, here)
    if typed.inverse or here.inverse:
        raise Fault("unit.wrong", f"{name}: '{unit}' cannot be added to '{heading.unit}'", expected)
    return _converted(float(number), Conversion(typed.factor), Conversion(here.factor))


def _converted(number: float, typed: Conversion, here: Conversion) -> Decimal:
    if (typed.inverse or here.inverse) and number <= 0:
        raise Fault("value.range", f"'{number:g}' is out of range", "a number above 0")
    found = here.from_inner(typed.to_inner(number))
    if not isfinite(found):
        raise Fault("value.finite", f"'{number:g}' is too large to be converted", "an ordinary number")
    return Decimal(f"{found:.{DIGITS}g}")


def _number(value: Any, name: str, expected: str) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Fault("value.kind", f"{name} is neither a number nor text", expected)
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not isfinite(number):
        raise Fault("value.finite", f"{name} is not a finite number", expected)
    return _decimal(number)


def _decimal(number: float) -> Decimal:
    """A float as the decimal that was typed: the shortest one that reads back the same."""
    return Decimal(repr(number))

"""The text of a cell, or a value of case.toml, to a number, a word or a name: read rightly or not at all."""

import re
from collections.abc import Callable
from math import isfinite
from typing import Any

from optibuild.errors import UnitError
from optibuild.inputs.declaration import NO, YES, Declaration, expected_words, in_range
from optibuild.inputs.problems import Fault, did_you_mean
from optibuild.units import Conversion, allowed_units, conversion

# a group of thousands never begins with 0: '0,500' is a decimal comma, and is refused
_NUMBER = r"[+-]?(?:[1-9][0-9]{0,2}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]*)?(?:[eE][+-]?[0-9]+)?" \
          r"|[+-]?\.[0-9]+(?:[eE][+-]?[0-9]+)?"
_WHOLE_CELL = re.compile(_NUMBER)
_WITH_UNIT = re.compile(rf"(\$?)\s*({_NUMBER})\s*(.*)", re.DOTALL)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b.*", re.IGNORECASE | re.DOTALL)
_NONZERO = re.compile(r"[^eE]*[1-9]")
ALIASES = {"4x4": "all", "4wd": "all", "awd": "all"}


def plain_number(text: str, expected: str) -> float:
    """Digits, thousands separators and exponent as a number; Fault for anything else."""
    if not _WHOLE_CELL.fullmatch(text):
        code = "value.finite" if _NOT_FINITE.fullmatch(text) else "value.number"
        raise Fault(code, f"'{text}' is not a number that can be used", expected)
    number = float(text.replace(",", ""))
    if not isfinite(number) or (number == 0.0 and _NONZERO.match(text)):
        raise Fault("value.finite", f"'{text}' is too large or too small to be held", expected)
    return number


def checked(number: float, declared: Declaration, dimension: str, shown: str, expected: str) -> float:
    """The same number, in inner units, if it is finite and keeps the declared range."""
    if not isfinite(number):
        raise Fault("value.finite", f"'{shown}' is not a finite number", expected)
    if not in_range(number, declared, dimension):
        raise Fault("value.range", f"'{shown}' is out of range", expected)
    return number


def to_inner(number: float, converts: Conversion, shown: str, expected: str) -> float:
    """A typed number in inner units."""
    try:
        return converts.to_inner(number)
    except UnitError as error:
        raise Fault("value.range", f"'{shown}' {error}", expected) from None


def _count(number: float, declared: Declaration, shown: str, expected: str) -> int:
    if isfinite(number) and number != int(number):
        raise Fault("value.whole", f"'{shown}' is not a whole number", expected)
    return int(checked(number, declared, "count", shown, expected))


def word(text: str, declared: Declaration) -> str:
    """One of the declared words, letter case free."""
    folded = text.casefold()
    found = folded if folded in declared.choices else ALIASES.get(folded, "")
    if found not in declared.choices:
        raise Fault("value.word", f"'{text}' is not a word for {declared.name}", expected_words(declared),
                        did_you_mean(text, declared.choices))
    return found


def yes_no(text: str, declared: Declaration) -> bool:
    """yes, true, 1, y or no, false, 0, n; letter case free."""
    folded = text.casefold()
    if folded not in YES + NO:
        raise Fault("value.word", f"'{text}' is neither yes nor no", "yes or no",
                        did_you_mean(text, (*YES, *NO)))
    return folded in YES


def name(text: str, declared: Declaration) -> str:
    """An id as typed; refused where it could not be printed or would blur the name of a build."""
    blurs = declared.dimension == "item_id" and ("+" in text or text == "-")
    if blurs or not text.isprintable():
        raise Fault("value.id", f"{text!r} cannot be an id", expected_words(declared))
    return text


def cell_reader(declared: Declaration, dimension: str = "", unit: str = "",
                converts: Conversion | None = None) -> Callable[[str], Any]:
    """A function from the text of a non-blank cell to its value in inner units; it raises Fault."""
    dimension = dimension or declared.dimension
    plain: dict[str, Callable[[str], Any]] = {
        "text": str, "word": lambda text: word(text, declared), "yes_no": lambda text: yes_no(text, declared),
        "id": lambda text: name(text, declared), "item_id": lambda text: name(text, declared),
    }
    if dimension in plain:
        return plain[dimension]
    expected = expected_words(declared, unit, converts, dimension)
    if dimension == "count":
        return lambda text: _count(plain_number(text, expected), declared, text, expected)
    return _number_reader(declared, dimension, converts or Conversion(1.0), expected)


def _number_reader(declared: Declaration, dimension: str, converts: Conversion,
                   expected: str) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        bare = text
        if dimension.startswith("money"):
            bare = text.removeprefix("$").lstrip()
        elif dimension == "share":
            bare = text.removesuffix("%").rstrip()
        number = to_inner(plain_number(bare, expected), converts, text, expected)
        value = checked(number, declared, dimension, text, expected)
        return (dimension, value) if declared.or_dimension else value

    return read


def key_value(value: Any, declared: Declaration) -> Any:
    """A value of case.toml in inner units: text with a unit, a number where none is needed, a word."""
    if declared.dimension == "yes_no" and isinstance(value, bool):
        return value
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise Fault("value.kind", f"{declared.name} is not text or a number", _key_expected(declared))
    if isinstance(value, str):
        return _key_text(value.strip(), declared)
    return _key_number(value, declared)


def _key_expected(declared: Declaration) -> str:
    if not declared.takes_unit:
        return expected_words(declared)
    unit = allowed_units(declared.dimension)[0]
    return expected_words(declared, unit, conversion(unit, declared.dimension))


def _key_number(value: int | float, declared: Declaration) -> Any:
    expected = _key_expected(declared)
    try:
        number = float(value)
    except OverflowError:
        raise Fault("value.finite", "the number is too large to be held", expected) from None
    if declared.dimension == "count":
        return _count(number, declared, str(value), expected)
    if declared.dimension in ("number", "share"):
        return checked(number, declared, declared.dimension, str(value), expected)
    if declared.takes_unit:
        raise Fault("unit.missing", f"{declared.name} = {value} has no unit", expected,
                        f"Units: {', '.join(allowed_units(declared.dimension))}.")
    raise Fault("value.kind", f"{declared.name} = {value} is not text", expected)


def _key_text(text: str, declared: Declaration) -> Any:
    if not text:
        raise Fault("value.missing", f"{declared.name} is blank", _key_expected(declared))
    if declared.takes_unit:
        return _quantity(text, declared)
    return cell_reader(declared)(text)


def _quantity(text: str, declared: Declaration) -> float:
    expected = _key_expected(declared)
    match = _WITH_UNIT.fullmatch(text)
    if not match or (match.group(1) and not declared.dimension.startswith("money")):
        code = "value.finite" if _NOT_FINITE.fullmatch(text) else "value.number"
        raise Fault(code, f"'{text}' is not a number with a unit", expected)
    number = plain_number(match.group(2), expected)
    unit = match.group(3) or ("USD" if match.group(1) and declared.dimension == "money" else "")
    if declared.dimension == "share" and not unit:
        return checked(number, declared, "share", text, expected)
    inner = to_inner(number, unit_of(unit, declared.dimension, declared.name, expected), text, expected)
    return checked(inner, declared, declared.dimension, text, expected)


def unit_of(unit: str, dimension: str, what: str, expected: str) -> Conversion:
    """How a typed unit is converted; Fault where it is missing or of another kind."""
    if not unit:
        listed = f"Units: {', '.join(allowed_units(dimension))}."
        raise Fault("unit.missing", f"{what} has no unit", expected, listed)
    try:
        return conversion(unit, dimension)
    except UnitError as error:
        hint = did_you_mean(unit, allowed_units(dimension))
        raise Fault("unit.wrong", f"{what}: {error}", expected, hint) from None

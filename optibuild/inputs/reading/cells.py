"""The text of a cell, or a value of case.toml, to a number, a word or a name: read rightly or not at all."""

import re
from collections.abc import Callable
from math import isfinite
from typing import Any

from optibuild.errors import UnitError
from optibuild.inputs.declared.declaration import NO, YES, Declaration, expected_words, in_range
from optibuild.inputs.declared.problems import Fault, did_you_mean
from optibuild.inputs.reading.hints import number_hint
from optibuild.neutral import bare
from optibuild.units import Conversion, allowed_units, conversion

# a group of thousands never begins with 0: '0,500' is a decimal comma, and is refused
_GROUPS = r"[1-9][0-9]{0,2}(?:,[0-9]{3})+"
_NUMBER = rf"[+-]?{_GROUPS}(?:\.[0-9]*)?|[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_WHOLE_CELL = re.compile(_NUMBER)
_WITH_UNIT = re.compile(rf"(\$?)\s*({_NUMBER})\s*(.*)", re.DOTALL)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b.*", re.IGNORECASE | re.DOTALL)
_STILL_A_NUMBER = tuple(",.0123456789")
_NONZERO = re.compile(r"[^eE]*[1-9]")
# blanks between groups of three digits, as many countries write thousands; and the true minus sign
_SPACED = re.compile(r"([+-]?[1-9][0-9]{0,2})((?:[ \u00a0\u2009\u202f][0-9]{3})+)(\.[0-9]*)?")
_BLANKS = re.compile(r"[ \u00a0\u2009\u202f]")
_MINUS = "\u2212"
# a spreadsheet would take a text that begins so for a formula
FORMULA_MARKS = ("=", "+", "-", "@")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]")
LONGEST_ID, LONGEST_TEXT = 60, 2000
ALIASES = {"4x4": "all", "4wd": "all", "awd": "all"}


def plain_number(text: str, expected: str) -> float:
    """Digits, thousands separators and exponent as a number; Fault for anything else."""
    plain = text.replace(_MINUS, "-")
    if _SPACED.fullmatch(plain):
        plain = _BLANKS.sub("", plain)
    if not _WHOLE_CELL.fullmatch(plain):
        code = "value.finite" if _NOT_FINITE.fullmatch(plain) else "value.number"
        raise Fault(code, f"'{_brief(text)}' is not a number that can be used", expected)
    number = float(plain.replace(",", ""))
    if not isfinite(number) or (number == 0.0 and _NONZERO.match(plain)):
        raise Fault("value.finite", f"'{_brief(text)}' is too large or too small to be held", expected)
    return number


def _brief(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:40]}..."


def checked(number: float, declared: Declaration, dimension: str, shown: str, expected: str) -> float:
    """The same number, in inner units, if it is finite and keeps the declared range; else Fault."""
    if not isfinite(number):
        raise Fault("value.finite", f"'{shown}' is not a finite number", expected)
    if not in_range(number, declared, dimension):
        raise Fault("value.range", f"'{shown}' is out of range", expected)
    return number


def to_inner(number: float, converts: Conversion, shown: str, expected: str) -> float:
    """A typed number in inner units; Fault where its unit allows none such."""
    try:
        return converts.to_inner(number)
    except UnitError as error:
        raise Fault("value.range", f"'{shown}' {error}", expected) from None


def _count(number: float, declared: Declaration, shown: str, expected: str) -> int:
    if isfinite(number) and number != int(number):
        raise Fault("value.whole", f"'{shown}' is not a whole number", expected)
    return int(checked(number, declared, "count", shown, expected))


def word(text: str, declared: Declaration) -> str:
    """One of the declared words, letter case free; Fault for any other."""
    folded = text.casefold()
    found = folded if folded in declared.choices else ALIASES.get(folded, "")
    if found not in declared.choices:
        raise Fault("value.word", f"'{text}' is not a word for {declared.name}", expected_words(declared),
                        did_you_mean(text, declared.choices))
    return found


def yes_no(text: str, declared: Declaration) -> bool:
    """yes, true, 1, y or no, false, 0, n; letter case free. Fault for any other."""
    folded = text.casefold()
    if folded not in YES + NO:
        raise Fault("value.word", f"'{text}' is neither yes nor no", "yes or no",
                        did_you_mean(text, (*YES, *NO)))
    return folded in YES


def free_text(text: str, declared: Declaration) -> str:
    """Words for the reader as typed, line breaks too; Fault where they could not be printed."""
    words = bare(text)
    if _CONTROL.search(words):
        raise Fault("value.control", f"{_brief(ascii(words))} holds characters that cannot be printed",
                    "letters, digits and signs")
    if len(words) > LONGEST_TEXT:
        raise Fault("value.long", f"'{declared.name}' has {len(words):,} characters",
                    f"at most {LONGEST_TEXT:,} characters")
    return words


def name(text: str, declared: Declaration) -> str:
    """An id as typed; Fault where it cannot be printed, blurs a build's name or looks like a formula."""
    expected = expected_words(declared)
    if len(text) > LONGEST_ID:
        raise Fault("value.long", f"'{_brief(text)}' has {len(text):,} characters",
                    f"at most {LONGEST_ID} characters")
    blurs = declared.dimension == "item_id" and "+" in text
    if blurs or text.startswith(FORMULA_MARKS) or not text.isprintable():
        raise Fault("value.id", f"{ascii(text)} cannot be an id", expected)
    return text


def cell_reader(declared: Declaration, dimension: str = "", unit: str = "",
                converts: Conversion | None = None) -> Callable[[str], Any]:
    """A function from the text of a non-blank cell to its value in inner units; it raises Fault."""
    dimension = dimension or declared.dimension
    plain: dict[str, Callable[[str, Declaration], Any]] = {
        "text": free_text, "word": word, "yes_no": yes_no, "id": name, "item_id": name}
    if dimension in plain:
        read = plain[dimension]
        return lambda text: read(text, declared)
    converts = converts or Conversion(1.0)
    return _number_reader(declared, dimension, converts, expected_words(declared, unit, converts, dimension))


def _number_reader(declared: Declaration, dimension: str, converts: Conversion,
                   expected: str) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        number = _typed(text, dimension, converts, expected, declared.meaning)
        if dimension == "count":
            return _count(number, declared, text, expected)
        value = checked(to_inner(number, converts, text, expected), declared, dimension, text, expected)
        return (dimension, value) if declared.or_dimension else value

    return read


def _typed(text: str, dimension: str, converts: Conversion, expected: str, meaning: str) -> float:
    """The number of a cell as typed, a dollar or percent sign aside; Fault with a hint for anything else."""
    number = text
    if dimension.startswith("money"):
        number = text.removeprefix("$").lstrip()
    elif dimension == "share":
        number = text.removesuffix("%").rstrip()
    try:
        return plain_number(number, expected)
    except Fault as fault:
        hint = number_hint(text, dimension, converts, meaning)
        raise Fault(fault.code, fault.text, expected, hint) from None


def key_value(value: Any, declared: Declaration) -> Any:
    """A value of case.toml in inner units: text with a unit, a number where none is needed, a word.
    Fault for what it cannot hold."""
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
    usual = (declared.default or "").partition(" ")[2]
    unit = usual if usual in allowed_units(declared.dimension) else allowed_units(declared.dimension)[0]
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
        return _bare(number, declared, str(value), expected)
    if not isfinite(number):
        raise Fault("value.finite", f"{declared.name} = {value} is not a finite number", expected)
    if declared.takes_unit:
        raise Fault("unit.missing", f"{declared.name} = {value} has no unit", expected,
                        f"Units: {', '.join(allowed_units(declared.dimension))}.")
    raise Fault("value.kind", f"{declared.name} = {value} is not text", expected)


def _bare(number: float, declared: Declaration, shown: str, expected: str) -> float:
    """A number without a unit; one too large for a share was probably meant in percent."""
    try:
        return checked(number, declared, declared.dimension, shown, expected)
    except Fault as fault:
        hint = f"Without a % sign 1 is the whole: write '{shown} %'." if declared.dimension == "share" else ""
        raise Fault(fault.code, fault.text, expected, hint) from None


def _key_text(text: str, declared: Declaration) -> Any:
    if not text:
        out = "Fill in the value, or delete the row: then the default holds." if declared.default or \
            declared.derived else ""
        raise Fault("value.missing", f"{declared.name} is blank", _key_expected(declared), out)
    if declared.takes_unit:
        return _quantity(text, declared)
    return cell_reader(declared)(text)


def _quantity(text: str, declared: Declaration) -> float:
    expected = _key_expected(declared)
    match = _WITH_UNIT.fullmatch(text)
    if not match or (match.group(1) and not declared.dimension.startswith("money")):
        code = "value.finite" if _NOT_FINITE.fullmatch(text) else "value.number"
        raise Fault(code, f"'{text}' is not a number with a unit", expected)
    if match.group(3)[:1] in _STILL_A_NUMBER:
        raise Fault("value.number", f"'{text}' is not a number with a unit", expected,
                    "Write decimals with a point and thousands in threes: 22.5, 1,250.")
    number = plain_number(match.group(2), expected)
    unit = match.group(3) or ("USD" if match.group(1) and declared.dimension == "money" else "")
    if declared.dimension == "share" and not unit:
        return _bare(number, declared, text, expected)
    converts = unit_of(unit, declared.dimension, declared.name, expected)
    expected = expected_words(declared, unit, converts)
    return checked(to_inner(number, converts, text, expected), declared, declared.dimension, text, expected)


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

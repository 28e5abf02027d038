"""Decimal commas in a file whose cells stand between semicolons or tabs: told apart, or reported.

There `1,250` may be a thousand or one and a quarter. A number that can be read one way only (`44,5`, `44.5`,
`1.250,5`) shows how the file writes its decimals; where no number shows it, or both ways are shown, a number
that can be read two ways is a problem.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from optibuild.inputs.declared.problems import Fault

_SIGN = r"[+-]?"
_TWO_WAYS = re.compile(rf"{_SIGN}[1-9][0-9]{{0,2}}[.,][0-9]{{3}}")
_EXPONENT = r"(?:[eE][+-]?[0-9]+)?"
# whole parts with or without groups, then the decimal mark; or two groups and more
_COMMA = re.compile(rf"{_SIGN}(?:[0-9]*|[1-9][0-9]{{0,2}}(?:\.[0-9]{{3}})+),[0-9]+{_EXPONENT}"
                    rf"|{_SIGN}[1-9][0-9]{{0,2}}(?:\.[0-9]{{3}}){{2,}}")
_POINT = re.compile(rf"{_SIGN}(?:[0-9]*|[1-9][0-9]{{0,2}}(?:,[0-9]{{3}})+)\.[0-9]+{_EXPONENT}"
                    rf"|{_SIGN}[1-9][0-9]{{0,2}}(?:,[0-9]{{3}}){{2,}}")
_TO_POINT = str.maketrans({",": ".", ".": None})


def _bare(text: str) -> str:
    return text.removeprefix("$").removesuffix("%").strip()


def _shows(bare: str) -> str:
    """The decimal mark of a number that can be read one way only; nothing for any other text."""
    return "," if _COMMA.fullmatch(bare) else "." if _POINT.fullmatch(bare) else ""


@dataclass(frozen=True)
class Decimals:
    """How a file writes decimals: numbers that show each mark and one that can be read two ways, or ''."""

    comma: str = ""
    point: str = ""
    two_ways: str = ""

    def said(self) -> str:
        """What to tell the user of how his numbers are read; nothing where every one has one reading."""
        if self.comma and not self.point:
            return f"decimals are read with a comma, as '{self.comma}' shows"
        if self.point and not self.comma and self.two_ways:
            return f"decimals are read with a point, as '{self.point}' shows: '{self.two_ways}' has thousands"
        return ""

    def plain(self, text: str, expected: str) -> str:
        """A number with a decimal point and no groups of thousands; Fault where it can be read two ways."""
        bare = _bare(text)
        if _TWO_WAYS.fullmatch(bare) and bool(self.comma) == bool(self.point):
            raise self._two_ways(text, bare, expected)
        if _COMMA.fullmatch(bare) and not (self.point and _TWO_WAYS.fullmatch(bare)):
            return text.replace(bare, bare.translate(_TO_POINT))
        if self.comma and _TWO_WAYS.fullmatch(bare):
            return text.replace(bare, bare.replace(".", ""))
        return text

    def _two_ways(self, text: str, bare: str, expected: str) -> Fault:
        digits, last = re.sub("[.,]", "", bare), bare.replace(",", ".")
        why = f"'{self.comma}' and '{self.point}' both stand in this file" if self.comma else \
            "no other number of this file shows which mark begins its decimals"
        return Fault("value.ambiguous", f"'{text}' can be read as {digits} or as {last}: {why}", expected,
                     f"Write {digits}, or {last}0.")


def decimals(texts: Iterable[str]) -> Decimals:
    """How the numbers among some texts write their decimals."""
    shown: dict[str, str] = {}
    two_ways = ""
    for text in sorted(set(texts)):
        bare = _bare(text)
        if _TWO_WAYS.fullmatch(bare):
            two_ways = two_ways or bare
        elif mark := _shows(bare):
            shown.setdefault(mark, bare)
    return Decimals(shown.get(",", ""), shown.get(".", ""), two_ways)

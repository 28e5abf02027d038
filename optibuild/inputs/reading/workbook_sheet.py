"""What is special in a sheet: number formats, errors, formulas without a value, merged and hidden cells.

The compiled reader of values tells none of these. A quick look finds the sheets that have none; the others
are read element by element (ECMA-376, part 1, section 18.3).
"""

import re
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from optibuild.inputs.reading.csv_reader import MOST_CELLS as MOST_COLUMNS
from optibuild.inputs.reading.csv_reader import MOST_ROWS
from optibuild.inputs.reading.workbook_parts import Refused, Styles, parse, safe_parser

MOST_SPECIAL = 200_000
"""Errors and formulas without a value, merged ranges, or hidden columns of a sheet: no table has as many."""
At = tuple[int, int]
_DIGITS = "0123456789"
_PLAIN_CELL = re.compile(rb'<c r="([A-Z]+)([0-9]+)"(?:[^>]*[^/>])?>')
# whatever is written otherwise than spreadsheets do goes to the slow look as well
_MARKS = (b"<f>", b"<f ", b"<f/", b't="e"', b"<mergeCell", b"='", b' ="', b'= "', b"<!")
_HIDDEN = re.compile(rb'hidden="(?:1|true)"')
_ODD_CELL = re.compile(rb'<c(?! r="[A-Z]+[0-9]+"(?: (?:s|t|cm|vm|ph)="[^"]*")*/?>)[\s/>]')
_OF_CELLS = frozenset(("r", "s", "t", "cm", "vm", "ph"))
"""What an element c may say of its cell; any other word may be a damaged t."""
_PREFIXED = re.compile(rb"<\w+:(?:c|row|col|f|mergeCell|worksheet)[\s/>]")


@dataclass
class Sheet:
    """The special things of a sheet, by (row, column) from (1, 1), and how far its values reach.

    `styles` holds, by column and row, the place of a style in `Styles.special`, from 1; 0 is none.
    """

    rows: int = 0
    columns: int = 0
    styles: dict[int, "array[int]"] = field(default_factory=dict)
    errors: dict[At, str] = field(default_factory=dict)
    formulas: dict[At, str] = field(default_factory=dict)
    merged: list[str] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)

    @property
    def cells(self) -> int:
        """Cells of the rectangle from A1 that holds all values."""
        return self.rows * self.columns

    def reach(self, row: int, column: int, most: int) -> None:
        """A value stands so far out; Refused where no table does, or where all cells are too many."""
        if row <= self.rows and column <= self.columns:
            return
        self.rows, self.columns = max(self.rows, row), max(self.columns, column)
        if self.columns > MOST_COLUMNS or self.rows > MOST_ROWS or self.cells > most:
            raise Refused("file.large", f"a sheet has values in row {self.rows:,} or column {self.columns:,}",
                          f"at most {MOST_COLUMNS:,} columns, {MOST_ROWS:,} rows and {most:,} more cells")


class PlainLook:
    """The quick look: whether a sheet holds nothing special, and how far it reaches."""

    def __init__(self, styles: Styles, most: int) -> None:
        self.sheet, self.most, self.is_plain = Sheet(), most, True
        indices = "|".join(map(str, styles.special))
        self.special = re.compile(rf' s="(?:{indices})"'.encode()) if indices else None

    def see(self, piece: bytes) -> None:
        """The next piece of the sheet, which ends behind a tag."""
        self.is_plain = self.is_plain and not self._has_special(piece)
        found = _PLAIN_CELL.findall(piece) if self.is_plain else ()
        if found:
            letters, rows = (set(part) for part in zip(*found, strict=True))
            columns = max(column_number(one.decode()) for one in letters)
            self.sheet.reach(max(map(int, rows)), columns, self.most)

    def _has_special(self, piece: bytes) -> bool:
        return any(mark in piece for mark in _MARKS) or bool(
            _HIDDEN.search(piece) or _ODD_CELL.search(piece) or _PREFIXED.search(piece)
            or self.special and self.special.search(piece))


def look_slowly(pieces: Iterable[bytes], styles: Styles, most: int) -> Sheet:
    """The special things of a sheet, element by element."""
    look = _SlowLook(styles, most)
    parse(look.parser, pieces)
    look.end_cell()
    return look.sheet


class _SlowLook:
    """Follows the elements of a sheet. Texts are kept of errors and formulas only."""

    def __init__(self, styles: Styles, most: int) -> None:
        self.sheet, self.most = Sheet(), most
        self.special = {str(index): number for number, index in enumerate(styles.special, start=1)}
        self.parser = safe_parser(self._start)
        self.row = self.column = 0
        self.kind, self.inside, self.f = "", "", "f"
        self.texts: dict[str, list[str]] = {}

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(":")[2]
        if local == "c":
            self._cell(name, attributes)
        elif local in ("v", "is"):
            self.sheet.reach(self.row, self.column, self.most)
            if self.texts:
                self._keep("v")
        elif name == self.f:
            self._keep("f")
        elif local == "row":
            self.end_cell()
            self.row, self.column = int(attributes.get("r", self.row + 1)), 0
            if _is_true(attributes):
                self.sheet.hidden_rows.append(self.row)
        elif local == "mergeCell":
            self.sheet.merged.append(attributes.get("ref", ""))
            self._check_count(len(self.sheet.merged))
        elif local == "col" and _is_true(attributes):
            self.sheet.hidden_columns.append((int(attributes["min"]), int(attributes["max"])))
            self._check_count(len(self.sheet.hidden_columns))

    def _cell(self, name: str, attributes: dict[str, str]) -> None:
        self.end_cell()
        if any(key not in _OF_CELLS and ":" not in key for key in attributes):
            raise Refused("file.workbook", "a part of it is damaged (a cell that says what none says)",
                          "an .xlsx workbook, as a spreadsheet saves it")
        self.f = name[:-1] + "f"  # an 'f' with another prefix belongs to no cell
        where, self.kind = attributes.get("r", ""), attributes.get("t", "n")
        if where:
            letters = where.rstrip(_DIGITS)
            self.row, self.column = int(where[len(letters):]), column_number(letters)
        else:
            self.column += 1
        if self.kind == "e":
            self._keep("e")
        elif self.kind == "n" and (number := self.special.get(attributes.get("s", ""))):
            self._style(number)

    def _style(self, number: int) -> None:
        self.sheet.reach(self.row, self.column, self.most)
        marks = self.sheet.styles.setdefault(self.column, array("L"))
        marks.extend([0] * (self.row - len(marks)))
        marks[self.row - 1] = number

    def _keep(self, inside: str) -> None:
        """From here on the texts of this cell matter."""
        self.inside = inside
        self.texts.setdefault(inside, [])
        self.parser.CharacterDataHandler = self._text

    def _text(self, text: str) -> None:
        self.texts[self.inside].append(text)

    def end_cell(self) -> None:
        """What the last cell was, if its texts were kept."""
        if not self.texts:
            return
        value = "".join(self.texts.get("v", ()))
        at = self.row, self.column
        self.sheet.reach(*at, self.most)
        if self.kind == "e":
            self.sheet.errors[at] = value
        elif not value and not (self.kind == "str" and "v" in self.texts):
            self.sheet.formulas[at] = "".join(self.texts["f"])
        self._check_count(len(self.sheet.errors) + len(self.sheet.formulas))
        self.texts = {}
        self.parser.CharacterDataHandler = None

    @staticmethod
    def _check_count(count: int) -> None:
        if count > MOST_SPECIAL:
            raise Refused("file.large", "a sheet has too many cells with errors, formulas without a value, "
                          "merged or hidden ones", f"at most {MOST_SPECIAL:,} of a kind")


def _is_true(attributes: dict[str, str]) -> bool:
    return attributes.get("hidden", "") in ("1", "true")


@lru_cache(maxsize=2000)
def column_number(letters: str) -> int:
    """The number of a column: A is 1, AA is 27."""
    number = 0
    for letter in letters[:8].upper():
        number = 26 * number + ord(letter) - 64
    return number

"""A table before its cells are read: headings and rows as a spreadsheet shows them."""

from dataclasses import dataclass

from optibuild.errors import Place
from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Fault

NO_NUMBER = ("id", "item_id", "text", "word", "yes_no")
"""Dimensions of cells that hold no number."""


@dataclass(frozen=True)
class Marked:
    """A cell of a workbook that is more than its text.

    `unreadable`: it has no value at all (an error, a formula never calculated). `no_id` and `no_number`: why
    it cannot be an id (007 shown for 7, a date) or a number (a date). `percent`: shown with a % sign, so that
    0.2 means 20 %.
    """

    text: str = ""
    unreadable: Fault | None = None
    no_id: Fault | None = None
    no_number: Fault | None = None
    percent: str = ""


Cell = str | Marked


@dataclass(frozen=True)
class RawTable:
    """A table as text: its file (and sheet), the headings, and the rows that are not blank, numbered.

    `separator` is what stood between the cells of a text file; only there a comma may be a decimal one.
    """

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, list[Cell]], ...]
    sheet: str = ""
    separator: str = ","

    def place(self, row: int = 0, index: int | None = None, column: str = "") -> Place:
        """Where a cell stands, by its row (the heading is row 1) and the index of its column."""
        letters = "" if index is None else column_letters(index)
        heading = column or ("" if index is None else self.headings[index])
        return Place(self.file, self.sheet, row, heading, f"{letters}{row}" if row and letters else "")


def column_letters(index: int) -> str:
    """The letters a spreadsheet gives to a column: 0 is A, 26 is AA."""
    letters, rest = "", index + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return letters


def cell_text(cell: Cell, declared: Declaration) -> str:
    """The text to read of a cell in a column, without the blanks around it; Fault where it has none."""
    if isinstance(cell, str):
        return cell.strip()
    fault = cell.unreadable
    if declared.dimension in ("id", "item_id"):
        fault = fault or cell.no_id
    elif declared.dimension not in NO_NUMBER:
        fault = fault or cell.no_number
    if fault:
        raise fault
    return cell.percent if cell.percent and declared.dimension == "share" else cell.text.strip()


def is_blank(cell: Cell) -> bool:
    """Whether nothing stands in a cell."""
    return isinstance(cell, str) and (not cell or cell.isspace())

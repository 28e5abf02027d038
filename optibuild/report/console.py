"""Text for a terminal of 80 columns, or fewer where it has no more: tables whose text cells wrap, paragraphs,
numbers."""

import re
from shutil import get_terminal_size
from unicodedata import combining, east_asian_width

from optibuild.report.tables import Cell, Column, Table

WIDEST, SLIMMEST = 80, 30
BETWEEN = 2
NARROWEST = 6
"""A text column is not made narrower than this to fit the others."""


def screen_width() -> int:
    """Columns that a line may take; 80 where there is no terminal, unless COLUMNS says less."""
    return min(WIDEST, max(SLIMMEST, get_terminal_size().columns))


def number(value: float, decimals: int) -> str:
    """A number with thousands separators; rounding never leaves a minus sign before zero."""
    return f"{round(value, decimals) + 0.0:,.{decimals}f}"


def usd(value: float) -> str:
    """An amount of money."""
    return f"{number(value, 0)} USD"


def clean(text: str) -> str:
    """Text without characters that would move the cursor or change colors."""
    return "".join(mark if mark.isprintable() else "?" for mark in text)


def display_width(text: str) -> int:
    """Columns that a text takes on a terminal."""
    return sum(0 if combining(mark) else 2 if east_asian_width(mark) in "WF" else 1 for mark in text)


def wrap(text: str, width: int) -> list[str]:
    """A text in lines no wider than `width`, broken after blanks and plus signs, else anywhere."""
    lines = [""]
    for piece in _pieces(clean(text)):
        if display_width(lines[-1] + piece) > width:
            lines.append("")
            piece = piece.lstrip()
        for mark in piece:
            if display_width(lines[-1] + mark) > width:
                lines.append("")
            lines[-1] += mark
    return [line for line in lines if line] or [""]


def _pieces(text: str) -> list[str]:
    """A text cut where a line may end: not between the sign of a number and the number."""
    return re.findall(r"\s*(?<!\S)\+\s?[$.0-9][^\s+]*\+*|\s*[^\s+]*\++|\s*[^\s+]+|\s+$", text)


def paragraph(text: str, first: str = "", indent: str | None = None) -> str:
    """A text wrapped to the screen; `first` opens it, later lines are indented likewise."""
    later = " " * display_width(first) if indent is None else indent
    lines = wrap(text, screen_width() - max(len(first), len(later)))
    return "\n".join((first if not k else later) + line for k, line in enumerate(lines))


def heading(text: str) -> str:
    """A heading with a rule under it."""
    line = paragraph(text)
    return f"{line}\n{'-' * min(screen_width(), max(map(display_width, line.splitlines())))}"


def layout(table: Table, indent: int = 0) -> str:
    """The table as text: headings over a rule, numbers to the right, text cells wrapped to fit."""
    cells = [[_text(column, value) for column, value in zip(table.columns, row, strict=True)]
             for row in table.rows]
    widths = _widths(table.columns, cells, screen_width() - indent)
    titles = [wrap(column.title, size) for column, size in zip(table.columns, widths, strict=True)]
    tall = max(map(len, titles))
    lines = _lines(table.columns, [[""] * (tall - len(title)) + title for title in titles], widths)
    lines.append((" " * BETWEEN).join("-" * size for size in widths))
    for row in cells:
        lines += _lines(table.columns, [wrap(cell, size) for cell, size in zip(row, widths, strict=True)],
                        widths)
    return "\n".join(" " * indent + line for line in lines)


def _text(column: Column, value: Cell) -> str:
    if value is None:
        return "-"
    if isinstance(value, str):
        return clean(value)
    return number(value, column.decimals or 0)


def _widths(columns: tuple[Column, ...], cells: list[list[str]], room: int) -> list[int]:
    """Natural widths, then the widest text column narrowed until the table fits: whole words as long as that
    is possible, in the end at any place."""
    widths, whole = [], []
    for k, column in enumerate(columns):
        texts = (*column.title.split(), *(row[k] for row in cells))
        widths.append(max(map(display_width, texts)))
        whole.append(max(display_width(piece.strip()) for text in texts for piece in _pieces(text)))
    wrapping = [k for k, column in enumerate(columns) if column.decimals is None]
    for floors in (whole, [NARROWEST] * len(columns)):
        while sum(widths) + BETWEEN * (len(widths) - 1) > room:
            wide = [k for k in wrapping if widths[k] > floors[k]]
            if not wide:
                break
            widths[max(wide, key=widths.__getitem__)] -= 1
    return widths


def _lines(columns: tuple[Column, ...], cells: list[list[str]], widths: list[int]) -> list[str]:
    """The screen lines of one row."""
    made = []
    for k in range(max(map(len, cells))):
        parts = [_padded(cell[k] if k < len(cell) else "", size, column.decimals is not None)
                 for cell, size, column in zip(cells, widths, columns, strict=True)]
        made.append((" " * BETWEEN).join(parts).rstrip())
    return made


def _padded(text: str, size: int, to_the_right: bool) -> str:
    blanks = " " * (size - display_width(text))
    return blanks + text if to_the_right else text + blanks

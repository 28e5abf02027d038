"""Text that a spreadsheet would take for a formula, made harmless on its way out and read back as it was."""

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_LOST = re.compile(r"'+[=+\-@\t\r]|[\t\r]")


def neutral(text: str) -> str:
    """A text for a cell of a CSV file: with an apostrophe before it where a spreadsheet would calculate it.

    Numbers are no text: they stay as they are. Reading takes the apostrophe away again.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def kept(text: str) -> str:
    """A text for a place where nothing is calculated, guarded only where reading would change it."""
    return f"'{text}" if _LOST.match(text) else text


def bare(text: str) -> str:
    """A text as read, without the apostrophe that `neutral` put before it."""
    return text[1:] if _GUARDED.match(text) else text

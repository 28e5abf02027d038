"""The column guide as Markdown, for a README."""

from collections.abc import Iterable

from optibuild.records.guide import Entry, Guide, Section
from optibuild.report.guide_words import UNITS_ABOUT, UNITS_TITLE, allowed, likely

TITLES = {"blank": "a blank means"}


def guide_markdown(guide: Guide) -> str:
    """Every part of the guide as a heading, a sentence and a table."""
    parts = [_part(one.title, one.about, _section(one)) for one in guide.sections]
    units = ((one.kind, ", ".join(map(_code, one.units))) for one in guide.units)
    if guide.units:
        parts.append(_part(UNITS_TITLE, UNITS_ABOUT, _rows(("kind of figure", "units"), units)))
    return "\n\n".join(parts)


def _part(title: str, about: str, table: str) -> str:
    return f"### {title}\n{about}\n\n{table}"


def _section(section: Section) -> str:
    sourced = any(entry.source for entry in section.entries)
    titles = ("heading", "holds", TITLES.get(section.absent, section.absent), "range", "without a warning",
              "source" if sourced else "meaning")
    return _rows(titles, map(_cells, section.entries))


def _cells(entry: Entry) -> tuple[str, ...]:
    blank = "; ".join(filter(None, ("**needed**" if entry.needed else "", entry.blank)))
    return (" or ".join(map(_code, entry.headings)), entry.holds, blank, allowed(entry), likely(entry),
            entry.source or entry.meaning)


def _code(text: str) -> str:
    return f"`{text}`"


def _rows(titles: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    """A table; a bar in a cell would end the cell, and is escaped."""
    first, *others = ["| " + " | ".join(cell.replace("|", r"\|") for cell in line) + " |"
                      for line in (titles, *rows)]
    return "\n".join([first, "|---" * len(titles) + "|", *others])

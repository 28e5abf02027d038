"""The column guide on the terminal."""

from optibuild.records.guide import Entry, Guide, Section
from optibuild.report.console import heading, layout, paragraph
from optibuild.report.guide_words import UNITS_ABOUT, UNITS_TITLE, allowed, likely, without
from optibuild.report.tables import Column, Table


def guide_text(guide: Guide) -> str:
    """Every part of the guide: headings as typed, and under each what it is and which figures are read."""
    parts = [_section(section) for section in guide.sections]
    return "\n\n".join([*parts, _units(guide)] if guide.units else parts)


def _section(section: Section) -> str:
    entries = "\n".join(_entry(entry, section.absent) for entry in section.entries)
    return f"{heading(section.title)}\n{paragraph(section.about)}\n\n{entries}"


def _entry(entry: Entry, absent: str) -> str:
    """The heading as typed, then a line each: the meaning, what is read, what is doubted, the source."""
    typed = paragraph(f"{' or '.join(entry.headings)} ({without(entry, absent)})", indent="      ")
    told = (entry.meaning, ", ".join(filter(None, (entry.holds, allowed(entry)))), _doubted(entry),
            f"source: {entry.source}" if entry.source else "")
    return "\n".join([typed, *(paragraph(text, "    ", "      ") for text in told if text)])


def _doubted(entry: Entry) -> str:
    why = f": {entry.because}" if entry.because else ""
    return f"without a warning {likely(entry)}{why}" if entry.likely else ""


def _units(guide: Guide) -> str:
    table = Table((Column("kind of figure"), Column("units")),
                  tuple((one.kind, ", ".join(one.units)) for one in guide.units))
    return f"{heading(UNITS_TITLE)}\n{paragraph(UNITS_ABOUT)}\n\n{layout(table)}"

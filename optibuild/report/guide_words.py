"""How the column guide says ranges and blanks, on the terminal and in Markdown."""

from optibuild.records.guide import Entry, Span

UNITS_TITLE = "units"
UNITS_ABOUT = "Which units each kind of figure takes, those first in which US and SI cases are printed."
ANY = "any"


def allowed(entry: Entry) -> str:
    """The range that is read; nothing for words."""
    return " or ".join(span(one, 6) for one in entry.allowed)


def likely(entry: Entry) -> str:
    """The range that is read without a warning, about; nothing for words."""
    return span(entry.likely, 3) if entry.likely else ANY if entry.allowed else ""


def without(entry: Entry, absent: str) -> str:
    """What happens where nothing is typed: 'needed', or 'blank: 38 in'."""
    if entry.needed:
        return "; ".join(filter(None, ("needed", entry.blank)))
    return f"{absent}: {entry.blank}"


def span(one: Span, digits: int) -> str:
    """A range in its unit: 'above 0 to 24 h'."""
    low = f"{'above ' if one.above_low else ''}{_figure(one.low, digits)}"
    if one.high is None:
        return f"{low} {one.unit} or more"
    return f"{low} to {'below ' if one.below_high else ''}{_figure(one.high, digits)} {one.unit}".rstrip()


def _figure(number: float, digits: int) -> str:
    return f"{float(f'{number:.{digits}g}') + 0.0:,.10g}"

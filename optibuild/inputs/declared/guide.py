"""The column guide, made from the declarations alone."""

from optibuild.assumptions import BY_NAME
from optibuild.inputs.declared.columns import OPTIONAL, TABLES
from optibuild.inputs.declared.declaration import PLAIN, Declaration, bounds
from optibuild.inputs.declared.keys import FUEL, FUELS, KEYS
from optibuild.records.guide import Entry, Guide, Section, Span, UnitKind
from optibuild.units import DIMENSIONS, allowed_units, conversion, quantity, shown_unit

ABOUT = {
    "trucks": "What can be bought or is owned already: one row for each kind of truck.",
    "plows": "One row for each kind of plow. The table may be left out where there are spreaders.",
    "spreaders": "One row for each kind of spreader, with the material it holds. The table may be left out "
                 "where there are plows.",
    "ballast": "Weights that may be put on a truck. The table may be left out.",
    "materials": "What spreaders hold. The table is needed where there are spreaders.",
    "depots": "Where trucks start, end and reload material.",
    "sites": "The contracted places, and what is promised at each.",
    "season": "The winter that a year's costs are counted over: one row for each class of events.",
    "travel": "Driving between sites and depots, one row for each direction. Without the table, or a row of "
              "it, driving is straight distance x assumptions.circuity at storm.travel_speed.",
    "mounts": "Which plow or spreader may be mounted on which truck, where the makers say so. The table may "
              "be left out; what it does not name is allowed.",
    "timings": "Plowings that somebody timed, to compare with the model and fit assumptions.job_efficiency "
               "(`optibuild times CASE --calibrate`). The table may be left out; plans do not use it.",
    "past_winters": "How many events of each class past winters had: the risk of a bid is drawn from whole "
                    "winters. The table may be left out; then counts are drawn around those of season.",
    "contracts": "How sites pay, or may pay: the bid judges amounts that are given and prices those left "
                 "blank. The table may be left out; then every form is priced for every site.",
}
KEYS_ABOUT = (
    "A quantity is text with its unit, \"22 mph\"; a share is \"5 %\" or 0.05. In a workbook the keys stand "
    "in the sheet case, with the columns key and value. tables.NAME says where the table NAME lies; one that "
    "is not named is NAME.csv beside case.toml, or the sheet NAME of the workbook.")
ASSUMPTIONS_ABOUT = (
    "Each may be replaced as assumptions.NAME in case.toml, and the result says which were. C: common "
    "practice, no source. M: from memory.")
ABSENT_CELL, ABSENT_KEY = "blank", "default"
_ASSUMPTION = "assumptions."
_WORDS = {"yes_no": "yes or no", "count": "whole number", "id": "name", "item_id": "name", "text": "text"}
_FIGURES = ("count", "number")


def column_guide() -> Guide:
    """Every column of every table, every key, every default figure and every unit."""
    tables = (Section(name, name, ABOUT[name], name in OPTIONAL, ABSENT_CELL, tuple(map(_entry, columns)))
              for name, columns in TABLES.items())
    keys = tuple(_entry(one) for one in KEYS.values() if not one.name.startswith(_ASSUMPTION))
    figures = tuple(map(_default_figure, BY_NAME))
    return Guide((*tables, Section("keys", "keys of case.toml", KEYS_ABOUT, False, ABSENT_KEY, keys),
                  Section("assumptions", "assumptions", ASSUMPTIONS_ABOUT, True, ABSENT_KEY, figures)),
                 tuple(UnitKind(_spoken(kind), allowed_units(kind)) for kind in DIMENSIONS))


def _entry(declared: Declaration) -> Entry:
    return Entry(declared.name, _headings(declared), _holds(declared), declared.needed, _blank(declared),
                 declared.meaning, _allowed(declared), _likely(declared, declared.likely), declared.because)


def _default_figure(name: str) -> Entry:
    """A default figure, known by its name alone; its range without a warning is what has been published."""
    declared, row = KEYS[_ASSUMPTION + name], BY_NAME[name]
    published = (row.low, row.high) if row.low and row.high else None
    blank = f"{row.default} ({row.si_default} in SI cases)" if row.si_default else row.default
    return Entry(name, (name,), _holds(declared), False, blank, "", _allowed(declared),
                 _likely(declared, published), source=row.source)


def _headings(declared: Declaration) -> tuple[str, ...]:
    """As typed in a US case; a key of case.toml says its unit in the value."""
    if declared.name in KEYS:
        return (declared.name,)
    other = declared.or_dimension
    return (declared.heading, *((f"{declared.name} [{shown_unit(other, 'us')}]",) if other else ()))


def _holds(declared: Declaration) -> str:
    """Words, or the kinds of figures, which say the units that are taken."""
    kinds = declared.choices or tuple(filter(None, (declared.dimension, declared.or_dimension)))
    words = [_WORDS.get(kind, _spoken(kind)) for kind in kinds]
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _spoken(kind: str) -> str:
    return kind.replace("_", " ")


def _blank(declared: Declaration) -> str:
    if declared is FUEL:
        return ", ".join(f"{name} {price}" for name, price in FUELS.items())
    return declared.default or declared.derived or ("nothing" if declared.dimension == "text" else "")


def _allowed(declared: Declaration) -> tuple[Span, ...]:
    """The range of each kind of figure it may hold, in the unit of the heading."""
    first, other = declared.dimension, declared.or_dimension
    if first in PLAIN and first not in _FIGURES:
        return ()
    second = (_span(declared, other, shown_unit(other, "us")),) if other else ()
    return (_span(declared, first, declared.usual), *second)


def _span(declared: Declaration, dimension: str, unit: str) -> Span:
    low, high = bounds(declared, dimension)
    if dimension in PLAIN:
        return Span(low, high, "", declared.above_low, declared.below_high)
    scale = conversion(unit, dimension)
    if scale.inverse:
        # none used at all would be endless miles per gallon
        return Span(scale.from_inner(high), None, unit)
    return Span(scale.from_inner(low), scale.from_inner(high), unit, declared.above_low, declared.below_high)


def _likely(declared: Declaration, ends: tuple[str, str] | None) -> Span | None:
    if ends is None:
        return None
    low, high = (quantity(end, declared.dimension) for end in ends)
    if declared.dimension in PLAIN:
        return Span(low, high, "")
    scale = conversion(declared.usual, declared.dimension)
    return Span(scale.from_inner(low), scale.from_inner(high), declared.usual)

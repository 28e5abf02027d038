"""Headings matched to the columns they name, with what their units say."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optibuild.errors import Place, UnitError
from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Collector, Fault, did_you_mean
from optibuild.inputs.reading.cells import unit_of
from optibuild.inputs.reading.raw_table import RawTable, is_blank
from optibuild.units import Conversion, conversion

_ROUND = re.compile(r"\s*([^()]+?)\s*\(\s*([^()]+?)\s*\)\s*")
_HEADING = re.compile(r"\s*([^\[\]]+?)\s*(?:\[\s*([^\[\]]*?)\s*\]\s*)?")


@dataclass(frozen=True)
class Heading:
    """A heading matched to its declaration, with what its unit says; `converts` None = unusable unit."""

    declared: Declaration
    typed: str
    index: int
    dimension: str = ""
    unit: str = ""
    converts: Conversion | None = None
    usable: bool = True


def match_headings(raw: RawTable, columns: Sequence[Declaration], collector: Collector) -> list[Heading]:
    """Every heading with its declaration; unknown and double ones, and units that do not fit, are noted."""
    by_name = {declared.name: declared for declared in columns}
    found: dict[str, Heading] = {}
    for index, typed in enumerate(raw.headings):
        name, unit = (typed, None) if typed in by_name else split_heading(typed)
        place = raw.place(1, index)
        if name not in by_name and (is_note(name) or (not typed and _blank_column(raw, index))):
            continue
        if name not in by_name:
            collector.add("heading.unknown", f"'{typed}' is no column of this table", place, value=typed,
                          expected=", ".join(by_name), hint=_meant(typed, name, by_name))
        elif name in found:
            collector.add("heading.twice", f"'{name}' is there twice", place, value=typed)
        else:
            found[name] = _with_unit(Heading(by_name[name], typed, index), unit, place, collector)
    return list(found.values())


def split_heading(typed: str) -> tuple[str, str | None]:
    """The name in a heading, as columns are named, and its unit: 'Plow every [h]' is plow_every and h."""
    match = _HEADING.fullmatch(typed)
    if not match:
        return typed, None
    return re.sub(r"\s+", "_", match.group(1).casefold()), match.group(2)


def is_note(name: str) -> bool:
    """Whether a column so named is the user's own, and is not read."""
    return name.startswith("note")


def _meant(typed: str, name: str, by_name: Mapping[str, Declaration]) -> str:
    """The hint for a heading that is no column; a unit in round brackets is the likeliest slip."""
    if found := _ROUND.fullmatch(typed):
        meant = split_heading(found.group(1))[0]
        if meant in by_name:
            return f"Write '{meant} [{found.group(2)}]', the unit in square brackets."
    return did_you_mean(name, by_name)


def _blank_column(raw: RawTable, index: int) -> bool:
    return all(is_blank(cells[index]) for _, cells in raw.rows if index < len(cells))


def _with_unit(heading: Heading, unit: str | None, place: Place, collector: Collector) -> Heading:
    declared = heading.declared
    if not declared.takes_unit:
        if unit is not None:
            collector.add("unit.unwanted", f"'{declared.name}' takes no unit", place, value=unit,
                          expected=f"the heading '{declared.name}'")
        return heading
    dimension = _dimension(declared, unit or "")
    try:
        converts = unit_of(unit or "", dimension, declared.name, f"'{declared.name} [unit]'")
    except Fault as fault:
        collector.add_fault(fault, place, heading.typed)
        return Heading(declared, heading.typed, heading.index, usable=False)
    return Heading(declared, heading.typed, heading.index, dimension, unit or "", converts)


def _dimension(declared: Declaration, unit: str) -> str:
    if not declared.or_dimension:
        return declared.dimension
    try:
        conversion(unit, declared.or_dimension)
    except UnitError:
        return declared.dimension
    return declared.or_dimension

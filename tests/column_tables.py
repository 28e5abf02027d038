"""The tables of columns, keys and units in the READMEs, made from the declarations.

`python tests/column_tables.py` writes them anew; a test holds that they are up to date.
"""

import re
from functools import cache
from pathlib import Path

from optibuild.assumptions import BY_NAME
from optibuild.cautions import COLD, FIT, PLAN, PROVED, SLOSHING, SPLIT
from optibuild.inputs import KEYS, TABLES, Declaration
from optibuild.inputs.keys import FUEL, FUELS
from optibuild.units import DIMENSIONS, allowed_units, shown_unit

ROOT = Path(__file__).parents[1]
PAGES = (ROOT / "README.md", ROOT / "catalogs" / "README.md")
WORDS = {"yes_no": "yes or no", "count": "whole number", "id": "name", "item_id": "name", "text": "text"}
BLOCK = re.compile(r"<!-- made from the declarations: (\S+) -->\n.*?<!-- end -->", re.DOTALL)


def _rows(headings: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    ruler = "|---" * len(headings) + "|"
    lines = [f"| {' | '.join(row)} |" for row in (headings, *rows)]
    return "\n".join([lines[0], ruler, *lines[1:]])


def _either(words: tuple[str, ...]) -> str:
    return " or ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


@cache
def shipped_headings() -> dict[str, str]:
    """Column name -> heading with its unit, as the shipped catalogs and examples write it."""
    files = [*ROOT.glob("catalogs/*.csv"), *ROOT.glob("examples/*/*.csv")]
    typed = [cell for file in sorted(files)
             for cell in file.read_text(encoding="utf-8").partition("\n")[0].split(",")]
    return {cell.partition(" [")[0]: cell for cell in typed if cell.endswith("]")}


def heading(declared: Declaration) -> str:
    """A column as it is headed in a US case, with the unit where there is one."""
    kinds = [one for one in (declared.dimension, declared.or_dimension) if one in DIMENSIONS]
    if not kinds:
        return f"`{declared.name}`"
    typed = shipped_headings().get(declared.name, f"{declared.name} [{shown_unit(kinds[0], 'us')}]")
    others = (f"`{declared.name} [{shown_unit(one, 'us')}]`" for one in kinds[1:])
    return _either((f"`{typed}`", *others))


def holds(declared: Declaration) -> str:
    """What a cell of the column holds: words, or the kind of figure, which says the units it takes."""
    if declared.choices:
        return _either(declared.choices)
    kinds = (declared.dimension, declared.or_dimension) if declared.or_dimension else (declared.dimension,)
    return _either(tuple(WORDS.get(kind, kind.replace("_", " ")) for kind in kinds))


def blank(declared: Declaration) -> str:
    """What a blank, or an absent column or key, means."""
    if declared.needed:
        return "; ".join(filter(None, ["**needed**", declared.derived]))
    return declared.default or declared.derived or ("nothing" if declared.dimension == "text" else "")


def columns(table: str) -> str:
    """One table's columns."""
    rows = [(heading(one), holds(one), blank(one), one.meaning) for one in TABLES[table]]
    return _rows(("heading", "holds", "a blank means", "meaning"), rows)


def keys() -> str:
    """Every key of case.toml but the assumptions."""
    fuels = ", ".join(f"{name} {price}" for name, price in FUELS.items())
    rows = [(f"`{one.name}`", holds(one), fuels if one is FUEL else blank(one), one.meaning)
            for one in KEYS.values() if not one.name.startswith("assumptions.")]
    return _rows(("key", "holds", "default", "meaning"), rows)


def assumptions() -> str:
    """Every default figure with its source."""
    rows = [(f"`{row.name}`", row.default, f"{row.low} to {row.high}" if row.low else "any", row.source)
            for row in BY_NAME.values()]
    return _rows(("name", "value", "without a warning", "source"), rows)


def units() -> str:
    """Which units each kind of figure takes, those printed in US cases first."""
    rows = [(kind.replace("_", " "), ", ".join(f"`{unit}`" for unit in allowed_units(kind)))
            for kind in DIMENSIONS]
    return _rows(("kind of figure", "units"), rows)


def cautions() -> str:
    """What every fit and plan says beside its figures."""
    colder = f"Where the storm or an event is at 5 F or colder: {COLD[0].lower()}{COLD[1:]}"
    tank = f"With a tank: {SLOSHING[0].lower()}{SLOSHING[1:]}"
    return "\n".join(f"- {text}" for text in (*PROVED, *FIT, *PLAN, SPLIT, colder, tank))


BLOCKS = {"keys": keys, "assumptions": assumptions, "units": units, "cautions": cautions}


def block(name: str) -> str:
    """One block of a page, by its name: a table of the case or one of `BLOCKS`."""
    return BLOCKS[name]() if name in BLOCKS else columns(name)


def up_to_date(text: str) -> str:
    """A page with every block made anew."""
    return BLOCK.sub(lambda found: f"<!-- made from the declarations: {found.group(1)} -->\n"
                                   f"{block(found.group(1))}\n<!-- end -->", text)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(up_to_date(page.read_text(encoding="utf-8")), encoding="utf-8")

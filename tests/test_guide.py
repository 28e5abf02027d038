"""The column guide: complete, true to the declarations, in units and words that a user types."""

import csv
import json
from itertools import chain, pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from optibuild.assumptions import ASSUMPTIONS
from optibuild.cli import main
from optibuild.inputs import KEYS, TABLES, Declaration, column_guide
from optibuild.inputs.declared.declaration import bounds
from optibuild.records.guide import Entry, Span
from optibuild.report import guide_markdown, guide_text
from optibuild.report.guide_words import allowed, likely
from optibuild.units import DIMENSIONS, quantity

ROOT = Path(__file__).parents[1]
GUIDE = column_guide()
SECTIONS = {section.name: {entry.name: entry for entry in section.entries} for section in GUIDE.sections}
SHIPPED = sorted([*ROOT.glob("catalogs/*.csv"), *ROOT.glob("examples/*/*.csv")])
DECLARED = [*chain.from_iterable(TABLES.values()), *KEYS.values()]


def run(*words: str) -> Result:
    """`optibuild columns` with these words, in this process."""
    return CliRunner().invoke(main, ["columns", *words])


def entry(section: str, name: str) -> Entry:
    """One entry of the guide."""
    return SECTIONS[section][name]


def test_guide_has_every_column_key_figure_and_unit() -> None:
    """Whatever is declared is in the guide, in the declared order: columns, keys, default figures, kinds."""
    for name, columns in TABLES.items():
        assert list(SECTIONS[name]) == [one.name for one in columns]
    figures = [f"assumptions.{name}" for name in SECTIONS["assumptions"]]
    assert {*SECTIONS["keys"], *figures} == set(KEYS)
    assert list(SECTIONS["assumptions"]) == [row.name for row in ASSUMPTIONS]
    assert [one.kind for one in GUIDE.units] == [kind.replace("_", " ") for kind in DIMENSIONS]
    assert GUIDE.names == (*TABLES, "keys", "assumptions", "units")


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: str(file.relative_to(ROOT)))
def test_headings_are_those_of_the_shipped_tables(file: Path) -> None:
    """Every heading of the catalogs and examples, notes aside, is in the guide letter by letter, or is the id
    of an event class."""
    with file.open(encoding="utf-8", newline="") as stream:
        typed = [cell for cell in next(csv.reader(stream)) if not cell.startswith("note")]
    headings = {heading for one in SECTIONS[file.stem].values() for heading in one.headings}
    if file.stem == "past_winters":  # a column for each event class
        with file.with_name("season.csv").open(encoding="utf-8", newline="") as stream:
            headings |= {row["id"] for row in csv.DictReader(stream)}
    assert typed and set(typed) <= headings


@pytest.mark.parametrize(("section", "name", "headings"), [
    ("sites", "area", ("area [acre]",)), ("sites", "pass_length", ("pass_length [ft]",)),
    ("sites", "most_turning_circle", ("most_turning_circle [ft]",)), ("trucks", "seats", ("seats",)),
    ("travel", "distance", ("distance [mi]",)), ("trucks", "resale", ("resale [%]", "resale [USD]")),
    ("keys", "storm.travel_speed", ("storm.travel_speed",)), ("assumptions", "circuity", ("circuity",)),
])
def test_heading_has_the_unit_a_us_case_has(section: str, name: str, headings: tuple[str, ...]) -> None:
    """Lots are headed in acres and feet, ways in miles; a figure of two kinds has two headings."""
    assert entry(section, name).headings == headings


@pytest.mark.parametrize(("section", "name", "said"), [
    # 1000 t / 0.45359237 kg
    ("trucks", "gvwr", "above 0 to 2,204,620 lb"),
    # 3 m / 0.0254 m
    ("sites", "trigger", "0 to 118.11 in"),
    # -90 degC and 60 degC x 9/5 + 32
    ("season", "pavement", "-130 to 140 degF"),
    # 1000 L/100km is 10 L/km: 3.785411784 L / 10 L/km / 1.609344 km
    ("trucks", "city", "0.235215 mi/gal or more"),
    ("trucks", "resale", "0 to 100 % or 0 to 1,000,000,000 USD"),
    ("trucks", "seats", "1 to 100"),
    ("trucks", "drive", ""),
    ("sites", "lat", "-90 to 90"),
    ("keys", "money.profit_margin", "0 to below 100 %"),
    # 3 ft x 12 in
    ("assumptions", "least_depth", "0.01 to 36 in"),
    # 10 min x 60 s
    ("assumptions", "direction_change", "0 to 600 s"),
])
def test_range_is_said_in_the_unit_of_the_heading(section: str, name: str, said: str) -> None:
    """Declared bounds, worked out by hand in the heading's unit, with six digits."""
    assert allowed(entry(section, name)) == said


@pytest.mark.parametrize(("section", "name", "said"), [
    # 200 sq ft / 43,560 sq ft
    ("sites", "area", "0.00459 to 50 acre"),
    # 15 min / 60 min
    ("sites", "plow_every", "0.25 to 24 h"),
    ("trucks", "city", "2 to 45 mi/gal"),
    ("trucks", "available", "any"),
    ("trucks", "description", ""),
    ("season", "pavement", "-40 to 50 degF"),
    ("assumptions", "plow_speed", "4 to 14 mph"),
    ("assumptions", "most_parcels", "any"),
])
def test_range_without_a_warning_is_said_in_the_unit_of_the_heading(section: str, name: str,
                                                                    said: str) -> None:
    """Likely ranges in the heading's unit with three digits; a figure that is never doubted says any."""
    assert likely(entry(section, name)) == said


@pytest.mark.parametrize(("section", "name", "needed", "blank"), [
    ("trucks", "gvwr", True, ""),
    ("trucks", "price", True, "may be blank where available = 0, or it is leased or hired"),
    ("trucks", "seat", False, "62 in"), ("trucks", "turning_circle", False, "from steer_angle"),
    ("trucks", "description", False, "nothing"), ("sites", "deadline", False, "no limit"),
    ("keys", "money.fuel.NAME", False, "gas 3.50 USD/gal, diesel 4.00 USD/gal"),
    ("assumptions", "occupant_mass", False, "150 lb (75 kg in SI cases)"),
    ("assumptions", "circuity", False, "1.3"),
])
def test_what_a_blank_means(section: str, name: str, needed: bool, blank: str) -> None:
    """A blank is a problem, a default, what follows from other cells, or no limit, as the case files say."""
    found = entry(section, name)
    assert (found.needed, found.blank) == (needed, blank)


def _inside(inner: Span, outer: Span) -> bool:
    return outer.low <= inner.low < inner.high <= (inner.high if outer.high is None else outer.high)


@pytest.mark.parametrize("section", SECTIONS)
def test_what_is_not_doubted_can_be_typed(section: str) -> None:
    """The range without a warning lies inside the range that is read, or a part of it could never be used."""
    for one in SECTIONS[section].values():
        assert one.likely is None or _inside(one.likely, one.allowed[0]), one.name


@pytest.mark.parametrize("declared", [one for one in DECLARED if one.likely and one.default
                                      and one.default != "no limit"], ids=lambda one: one.name)
def test_a_default_is_not_doubted(declared: Declaration) -> None:
    """What a blank means keeps its own range, and would not be warned about if it were typed."""
    value, *ends = (quantity(text, declared.dimension) for text in (declared.default, *declared.likely))
    low, high = bounds(declared, declared.dimension)
    assert low <= value <= high
    assert min(ends) <= value <= max(ends)


def test_every_default_figure_says_its_source() -> None:
    """Nobody has to ask where a default figure comes from."""
    assert all(one.source for one in SECTIONS["assumptions"].values())


def test_screen_has_every_heading_and_fits_a_terminal() -> None:
    """The whole guide is at most 80 columns wide, and each heading begins a line of its own."""
    lines = guide_text(GUIDE).splitlines()
    assert max(map(len, lines)) <= 80
    for section in SECTIONS.values():
        for one in section.values():
            opening = f"{' or '.join(one.headings)} ("
            assert any(line.startswith(opening) for line in lines), opening


def test_markdown_has_a_row_for_every_entry() -> None:
    """Each part is a table with as many cells in every row as in its heading, one row for each entry."""
    for name in GUIDE.names:
        rows = [line for line in guide_markdown(GUIDE.only([name])).splitlines() if line.startswith("|")]
        entries = len(GUIDE.units) if name == "units" else len(SECTIONS[name])
        assert len(rows) == 2 + entries
        assert len({row.count("|") for row in rows}) == 1


def test_command_prints_the_whole_guide() -> None:
    """Without a name all parts are printed, in order, and the command ends with 0."""
    done = run()
    assert done.exit_code == 0
    titles = [line for line, under in pairwise(done.stdout.splitlines()) if under and set(under) == {"-"}]
    assert titles == [*TABLES, "keys of case.toml", "assumptions", "units"]


def test_command_prints_what_is_named() -> None:
    """Only the named parts are printed."""
    done = run("units", "depots")
    assert done.exit_code == 0
    assert "reload_rate [lb/min] (blank: 600 lb/min)" in done.stdout
    assert "lb/1000 ft^2, g/m^2, lb/lane-mile" in done.stdout
    assert "gvwr" not in done.stdout


def test_command_names_the_nearest_part() -> None:
    """A misspelt table is wrong usage, and the message says what was probably meant."""
    done = run("site")
    assert done.exit_code == 2
    assert done.stderr == "Error: the guide has no table 'site'; did you mean 'sites'?\n"


def test_command_takes_one_form_of_the_result() -> None:
    """Two forms at once are wrong usage."""
    done = run("--json", "--markdown")
    assert done.exit_code == 2
    assert "--json and --markdown" in done.stderr


def test_json_holds_numbers_and_units() -> None:
    """A program gets ranges as numbers with their unit, and only the parts that were named."""
    tree = json.loads(run("sites", "--json").stdout)
    assert [section["name"] for section in tree["sections"]] == ["sites"]
    assert tree["units"] == []
    found = next(one for one in tree["sections"][0]["entries"] if one["name"] == "plow_every")
    assert found["headings"] == ["plow_every [h]"]
    assert found["likely"] == {"low": 0.25, "high": 24.0, "unit": "h", "above_low": False,
                               "below_high": False}
    assert found["allowed"][0]["above_low"] and found["allowed"][0]["unit"] == "h"


def test_markdown_of_the_command_is_the_page_of_the_catalogs() -> None:
    """What --markdown prints stands in the catalogs' README word by word."""
    assert run("--markdown").stdout in (ROOT / "catalogs" / "README.md").read_text(encoding="utf-8")

"""Thousands of spoiled cases: none ends in a traceback, no value is misread, nothing is left half written.

`python tests/mutants.py SEED COUNT [BOOKS]` runs a longer campaign.
"""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from mutant_bases import BASES, Mutant, small
from mutant_checks import ends_rightly, look_at
from mutants import MUTATIONS, Ground, campaign, mutant
from mutated_books import BOOK_MUTATIONS, BOOKS, BYTE_MUTATIONS, mutant_book, truth_in_a_cell, xml_edited
from mutations import HARMLESS, Files, bytes_changed, cell_nasty, exponent_with_groups, heading_changed
from slow_case import differences
from slow_reader import TWO_WAYS, UNREADABLE, in_inner_units, marks_shown, number_in, number_of

from optibuild.inputs import check_case

SEED, FOLDERS, WORKBOOKS = 20261125, 5000, 160


@pytest.mark.parametrize("base", [*BASES, *BOOKS])
def test_the_sound_cases_are_read_as_the_slow_reader_reads_them(base: Files, tmp_path: Path) -> None:
    """What is spoiled later is sound before: no problem, every value as the slow reader has it, exit 0."""
    made = Mutant("sound", (), base, base, HARMLESS)
    path = Ground(tmp_path).lay(base)
    seen = look_at(made, path)
    assert seen.case is not None and seen.problems == () and seen.faults == []
    assert [*ends_rightly(made, path, seen.case)] == []


def test_spoiled_folders(tmp_path: Path) -> None:
    """Five thousand folders spoiled in cells, headings, structure, encodings and keys keep every promise."""
    tally = campaign((mutant(SEED, number) for number in range(FOLDERS)), tmp_path, often=100)
    assert tally.faults == []
    assert set(tally.done) == {mutation.__name__ for _, mutation in MUTATIONS}
    assert FOLDERS / 5 < tally.accepted < FOLDERS / 2 and len(tally.codes) > 40


def test_spoiled_workbooks(tmp_path: Path) -> None:
    """Workbooks with cells of other types and formats, and with damaged bytes, keep every promise."""
    tally = campaign((mutant_book(SEED, number) for number in range(WORKBOOKS)), tmp_path, often=20)
    assert tally.faults == []
    kinds = {mutation.__name__ for mutation in (*(row[1] for row in BOOK_MUTATIONS), *BYTE_MUTATIONS)}
    assert set(tally.done) == kinds
    assert WORKBOOKS / 5 < tally.accepted < WORKBOOKS * 0.9


def test_what_problems_say_can_be_printed(tmp_path: Path) -> None:
    """No problem quotes characters that steer a terminal, hide, or turn the line round, as they are."""
    ways = ((1, cell_nasty), (1, heading_changed), (1, bytes_changed))
    tally = campaign((mutant(SEED, number, ways) for number in range(400)), tmp_path, often=100)
    assert tally.unprinted == [] and len(tally.codes) > 15


def test_thousands_with_an_exponent_are_refused(tmp_path: Path) -> None:
    """1,250e2 is 125,000 or 125, by what the comma means: it is never read as either in silence."""
    ways = ((1, exponent_with_groups),)
    tally = campaign((mutant(SEED, number, ways) for number in range(150)), tmp_path, often=50)
    assert tally.faults == []


def test_damaged_xml_is_not_read_in_part(tmp_path: Path) -> None:
    """A slip in a sheet's XML leads to the same values, or to a problem; never to other values."""
    spoiled = (mutant_book(SEED, number, (), (xml_edited,), 1.0) for number in range(60))
    assert campaign(spoiled, tmp_path, often=20).faults == []


def test_truths_of_a_workbook_are_read_as_shown(tmp_path: Path) -> None:
    """TRUE typed where an id or words stand is shown, and read, as TRUE, as a text file would have it."""
    spoiled = (mutant_book(SEED, number, ((1, truth_in_a_cell),), (), 0.0) for number in range(60))
    assert campaign(spoiled, tmp_path, often=20).faults == []


def test_a_misread_value_is_found(tmp_path: Path) -> None:
    """A weight, a word, a default and a key that differ from the file are each told by the slow reader."""
    case, _ = check_case(Ground(tmp_path).lay(small()))
    assert case is not None and differences(case, small()) == []
    truck = replace(case.trucks[0], gvwr_kg=7.05, drive="rear", seat_m=62.0)
    wrong = replace(case, trucks=(truck, *case.trucks[1:]), storm=replace(case.storm, pavement_degc=25.0))
    told = differences(wrong, small())
    assert [row.split(":")[0] for row in told] == [
        "storm.pavement", "trucks, record 1, gvwr_kg", "trucks, record 1, seat_m", "trucks, record 1, drive"]
    assert differences(replace(case, sites=case.sites[1:]), small()) == ["sites: 3 rows, not 4"]


def test_mutants_are_the_same_for_the_same_seed() -> None:
    """A mutant that fails can be made again from its seed and number alone."""
    for make in (mutant, mutant_book):
        once, again = ([make(7, number).files for number in range(12)] for _ in range(2))
        assert once == again
        assert make(7, 1).files != make(8, 1).files


@pytest.mark.parametrize(("number", "unit", "dimension", "inner"), [
    ("1", "lb", "mass", "0.45359237"), ("1", "ton", "mass", "907.18474"),
    ("1", "acre", "area", "4046.8564224"),
    ("1", "cu yd", "volume", "0.764554857984"), ("1", "gal", "volume", "0.003785411784"),
    ("60", "MPH", "speed", "1609.344"), ("212", "degF", "temperature", "100"),
])
def test_the_slow_reader_has_the_published_factors(number: str, unit: str, dimension: str,
                                                   inner: str) -> None:
    """NIST SP 811 (2008), appendix B.8, from memory: pound, short ton, cubic yard, gallon, foot (0.3048 m).

    An acre is 43,560 ft^2; 60 mph is one mile of 1609.344 m in a minute; water boils at 212 degF.
    """
    found = in_inner_units(Decimal(number), unit, dimension)
    assert found == pytest.approx(Decimal(inner), rel=Decimal("1e-20"))


@pytest.mark.parametrize(("text", "shown", "value"), [
    ("1,250", {"."}, 1250), ("1,250", {","}, Decimal("1.25")), ("1,250", set(), TWO_WAYS),
    ("1,250", {".", ","}, TWO_WAYS), ("1.250", {","}, 1250), ("12,5", {"."}, Decimal("12.5")),
    ("0,250", set(), Decimal("0.25")), ("1.250,5", set(), Decimal("1250.5")), ("7'6\"", set(), UNREADABLE),
    ("1 250", set(), 1250), ("12,34,567", set(), UNREADABLE), ("1,250e2", {"."}, 125),
])
def test_the_slow_reader_takes_no_number_for_another(text: str, shown: set[str], value: object) -> None:
    """Between semicolons a number of two readings needs another number to decide it."""
    assert number_in(text, ";", shown) == value


def test_which_marks_the_slow_reader_sees() -> None:
    """Only numbers of a single reading show how a file writes its decimals."""
    assert marks_shown(["1,250", "7", "x", "5."]) == set()
    assert marks_shown(["44,5", "1.250"]) == {","} and marks_shown(["44.5", "1.250,5"]) == {".", ","}
    assert number_of("٣") is None and number_of("1_000") is None and number_of("\u22125") == -5

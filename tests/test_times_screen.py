"""The screen of service times: what its words mean, where they stand, and how sure the minutes are."""

from dataclasses import replace
from pathlib import Path

from optibuild import read_case
from optibuild.pipeline import stages
from optibuild.records import Case
from optibuild.report import times_text

SMALL = read_case(Path(__file__).parent / "data" / "small")
MADE = stages(SMALL)
MODEL = "These minutes are a model until you time a lot (table timings, times --calibrate)."


def screen(case: Case = SMALL, *sites: str) -> str:
    """The screen, blanks squeezed."""
    return " ".join(times_text(case, MADE.builds, MADE.times, (), sites).split())


def test_carrying_is_explained_where_it_stands() -> None:
    """The word is explained below a table that has it; the school, which is only deiced, has it nowhere."""
    assert " carrying " in screen() and screen().count("carrying: taking snow off") == 1
    assert "carrying" not in screen(SMALL, "school")


def test_minutes_are_called_a_model_until_a_lot_is_timed() -> None:
    """The sentence stands once, and not any more where some site has a timed plowing."""
    timed = replace(SMALL, sites=(replace(SMALL.sites[0], timed_min=30.0), *SMALL.sites[1:]))
    assert screen().count(MODEL) == 1
    assert MODEL not in screen(timed)

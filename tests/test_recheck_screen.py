"""The recheck on the screen: every check once, under what its margin means, within 80 columns."""

from dataclasses import replace
from pathlib import Path

import end_plan as ep
import pytest
import small_plan as sp

from optibuild import read_case
from optibuild.pipeline import make_plan
from optibuild.plan import recheck
from optibuild.records import Case, Check, Plan, Recheck
from optibuild.report import recheck_text
from optibuild.report.console import display_width
from optibuild.report.recheck_screen import verdict_words

SMALL = Path(__file__).parent / "data" / "small"


def screen(plan: Plan = sp.PLAN, case: Case = sp.CASE, system: str = "si") -> str:
    """The screen of a plan's recheck."""
    return recheck_text(recheck(plan, case), system)


def sections(plan: Plan = sp.PLAN, case: Case = sp.CASE, system: str = "si") -> dict[str, str]:
    """What stands under each kind of check, blanks squeezed."""
    squeezed = " ".join(screen(plan, case, system).split())
    limits, figures = squeezed.index(" Limits -"), squeezed.index(" Figures -")
    statements = squeezed.index(" Statements -")
    return {"limits": squeezed[limits:figures], "figures": squeezed[figures:statements],
            "statements": squeezed[statements:]}


def test_every_check_stands_once_under_its_kind() -> None:
    """Each check of each kind is a line of that kind's table, and of no other."""
    for kind, heading in (("limit", "limits"), ("figure", "figures"), ("statement", "statements")):
        for row in recheck(sp.PLAN, sp.CASE).checks:
            first = {"loop within its cycle limit": "loop within its cycle",
                     "end round fill between reloads": "end round fill between"}.get(row.name, row.name)
            assert (f" {first} kept " in sections()[heading]) == (row.kind == kind), row.name


def test_each_kind_says_what_its_margin_means() -> None:
    """Limits: what is left, here 90 - 79 - 10 = 1 min and 80 - 70 = 10 to the deadline, with the place.
    Figures: by how much one is off, 0 where none is, with no place. Statements: no figure at all."""
    found = sections()
    assert "What is left to the limit" in found["limits"]
    assert "loop within its cycle kept 1.0 min truck 2 limit" in found["limits"]
    assert "- coverage: parcels served beyond those asked" in found["limits"]
    assert "deadlines kept 10.0 min truck 2, stop 2 at a" in found["limits"]
    assert "off check verdict by unit where" in found["figures"]
    assert "arrivals kept 0.0 min - loop totals kept 0.0 min -" in found["figures"]
    assert "check verdict where" in found["statements"] and "stops kept -" in found["statements"]


def test_what_is_broken_is_told_with_its_place() -> None:
    """A minute early is off by 1.0, told without a sign; a load list or a work that nobody asked is a place,
    not a margin in kilograms or minutes; a limit passed has less than nothing left."""
    early = sections(sp.with_stop(2, 1, arrive_min=48))["figures"]
    assert "arrivals BROKEN 1.0 min truck 2, stop 2 at a, arrival" in early
    short = sections(sp.with_truck(2, axle_loads=sp.LOADS[1:]))["figures"]
    assert "stated axle loads BROKEN 1.0 - truck 2, list of load states" in short
    asked = sections(case=sp.case_site(1, work="deice", deice_every_min=90))["statements"]
    assert "stops BROKEN truck 2, stop 1 at b, work" in asked
    late = sections(case=sp.case_site(0, deadline_min=69))["limits"]
    assert "deadlines BROKEN -1.0 min truck 2, stop 2 at a" in late


@pytest.mark.parametrize(("minutes", "told"), [(69.99996, "BROKEN -4e-05 min"), (69.97, "BROKEN -0.03 min"),
                                               (70.0, "kept 0.0 min"), (70.04, "kept 0.04 min")])
def test_a_little_is_not_told_as_nothing(minutes: float, told: str) -> None:
    """Truck 2 is done at a by 70 min: a deadline broken by 0.00004 min does not have 0.0 left."""
    assert f"deadlines {told} truck 2" in sections(case=sp.case_site(0, deadline_min=minutes))["limits"]


def test_checks_that_do_not_apply_are_not_counted_as_passed() -> None:
    """Two of three checks have something to check: two passed, one does not apply; broken ones are counted
    among those that apply."""
    kept, idle, broken = (Check("x", "limit", passed, worst, "min", None)
                          for passed, worst in ((True, 1.0), (True, None), (False, None)))
    assert verdict_words(Recheck(True, (kept, kept))) == "All 2 checks passed."
    assert verdict_words(Recheck(True, (kept, idle, kept))) == (
        "All 2 checks that apply passed; 1 does not apply.")
    assert verdict_words(Recheck(False, (kept, idle, idle, broken))) == (
        "1 of 2 checks that apply failed; 2 do not apply.")


def test_the_fill_is_checked_of_trucks_with_a_spreader() -> None:
    """Truck 2 of the small case has no spreader: the fill that is left least is that of truck 1."""
    plan = make_plan(read_case(SMALL))
    assert [truck.spreader is None for truck in plan.trucks] == [False, True]
    fill, = (row for row in plan.recheck.checks if row.name == "fill between reloads")  # type: ignore[union-attr]
    assert fill.where == "truck 1, load 1"


def test_units_are_those_of_the_case() -> None:
    """15 kg are left to the front rating, 1750 - 5 - 1730: 33.1 lb in a US case; 40 to 20 % of front share
    stay percent."""
    assert "front GAWR kept 15.0 kg" in sections()["limits"]
    assert "front GAWR kept 33.1 lb" in sections(system="us")["limits"]


@pytest.mark.parametrize(("plan", "case"), [
    (sp.PLAN, sp.CASE), (ep.PLAN, ep.CASE),
    (sp.with_loop(2, stops=()), replace(sp.CASE, money=replace(sp.CASE.money, paid="storm"))),
    (sp.with_truck(1, truck="heavy"), sp.CASE)], ids=["kept", "end round", "broken", "names"])
def test_no_line_is_wider_than_the_screen(plan: Plan, case: Case) -> None:
    """Kept or broken, every line fits 80 columns."""
    assert max(map(display_width, screen(plan, case).splitlines())) <= 80

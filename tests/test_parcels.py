"""What more parcels change: builds in reach, minutes of one parcel and of all of them."""

import json
from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest
from times_case import FULL, PLOW, SITE, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import clocks, service_times
from optibuild.cycle_time.parcel_report import parcel_report
from optibuild.fit import fit_builds
from optibuild.inputs import read_case
from optibuild.records import NONE, Builds, Case, Depot, Leg
from optibuild.records.loop import ParcelFigures, ParcelRow
from optibuild.report.console import display_width
from optibuild.report.parcels_screen import parcels_document, parcels_text

SMALL = read_case(Path(__file__).parent / "data" / "small")
# a strip of 100 m at 200 m/min and half a circle of 6 m at 100 m/min, at a job efficiency of 0.5
STRIP_MIN = (100 / 200 + pi * 6 / 100) / 0.5
SALT_MIN = 15 / 10 / 0.75 + 15 / 150


def report(case: Case, builds: Builds) -> tuple[ParcelRow, ...]:
    """The rows of a case."""
    return parcel_report(case, builds, service_times(case, builds, season_rounds(case, clocks(case))))


def test_one_parcel_and_all_of_them_by_hand() -> None:
    """15 m in 5 strips with 15 kg of salt are 3 + 6.88 + 2.1 min; each of two halves of 7.5 m takes 3 strips
    and half the salt, and both together pay the 3 min of looking twice."""
    (row,) = report(plain_case(sites=(replace(SITE, parcels=1),)), plain_builds(FULL))
    whole, half = 3 + 5 * STRIP_MIN + SALT_MIN, 3 + 3 * STRIP_MIN + SALT_MIN / 2
    assert row == ParcelRow("site", "both", ParcelFigures(1, 1, pytest.approx(whole), pytest.approx(whole)),
                            ParcelFigures(2, 1, pytest.approx(half), pytest.approx(2 * half)))


def test_more_parcels_bring_smaller_builds_within_reach() -> None:
    """Of two plows the narrow one needs ten strips of 1.5 m, 13.8 min, where 22 min of driving and 3 to look
    leave 10 of 35; of half the site it needs five, 6.9 min."""
    case = plain_case(plows=(PLOW, replace(PLOW, id="narrow", width_m=1.5)), sites=(
        replace(SITE, work="plow", parcels=1, plow_every_min=35.0),))
    (row,) = report(case, plain_builds((0, 0, NONE), (0, 1, NONE)))
    assert (row.now.builds, row.twice.builds) == (1, 2)
    assert row.twice.one_min == pytest.approx(3 + 3 * STRIP_MIN)


def test_a_work_that_no_build_reaches_has_no_minutes() -> None:
    """Nobody can drive 22 min and look for 3 in 24, in however many parcels."""
    (row,) = report(plain_case(sites=(replace(SITE, parcels=3, plow_every_min=24.0),)), plain_builds(FULL))
    assert (row.now, row.twice) == (ParcelFigures(3, 0, None, None), ParcelFigures(6, 0, None, None))


def test_without_any_fitting_build_every_count_is_nought() -> None:
    """A case in which nothing fits still has its rows."""
    builds = replace(plain_builds(FULL), fits=np.array([False]))
    (row,) = report(plain_case(), builds)
    assert (row.now.builds, row.now.one_min) == (0, None)


def test_a_build_at_two_depots_counts_once() -> None:
    """Two depots as near make no second build, and the faster loading counts: 0.05 min against 0.1."""
    depots = (*plain_case().depots, Depot("other", 45.0, -90.0, 8.0, 300.0))
    legs = (Leg("other", "site", 10.0, None), Leg("site", "other", 10.0, None), *plain_case().travel)
    case = plain_case(depots=depots, travel=legs, sites=(replace(SITE, parcels=1),))
    (row,) = report(case, plain_builds(FULL))
    assert row.now.builds == 1
    assert row.now.one_min == pytest.approx(3 + 5 * STRIP_MIN + 2.0 + 15 / 300)


def test_works_of_two_trucks_have_a_row_each() -> None:
    """Where two trucks may share the works each has its builds and minutes: 5 strips to plow, 2.1 min of
    salting, each with 3 min to look."""
    site = replace(SITE, split_works=True, parcels=1)
    rows = report(plain_case(sites=(site,)), plain_builds((0, 0, NONE), (0, NONE, 0)))
    assert [(row.work, row.now.builds) for row in rows] == [("plow", 1), ("deice", 1)]
    assert [row.now.one_min for row in rows] == pytest.approx([3 + 5 * STRIP_MIN, 3 + SALT_MIN])


def test_minutes_are_of_a_round_with_all_works() -> None:
    """Salt that waits for the last round counts in the minutes of a parcel."""
    site = replace(SITE, parcels=1, deice_when="end")
    (row,) = report(plain_case(sites=(site,)), plain_builds(FULL))
    assert row.now.one_min == pytest.approx(3 + 5 * STRIP_MIN + SALT_MIN)


def test_figures_of_the_small_case_are_those_of_its_arrays() -> None:
    """On the small case the builds in reach, and the fastest minutes each at the longest clock it keeps, are
    those that looking through the arrays one by one finds; twice as many parcels never lose a build."""
    builds = fit_builds(SMALL)
    times = service_times(SMALL, builds, season_rounds(SMALL, clocks(SMALL)))
    rows = parcel_report(SMALL, builds, times)
    assert [row.site for row in rows] == [site.id for site in SMALL.sites]
    for row in rows:
        stop = next(n for n, stop in enumerate(times.stops)
                    if SMALL.sites[stop.site].id == row.site and stop.parcels == 1)
        kept = {}
        for crewed, build in enumerate(times.build):
            minutes = [one for one in times.minutes[crewed, :, stop] if np.isfinite(one)]
            if minutes:
                kept[int(build)] = minutes[-1]
        assert row.now.builds == len(kept) and row.now.one_min == pytest.approx(min(kept.values()))
        assert row.now.all_min == pytest.approx(times.parcels[times.stops[stop].site] * row.now.one_min)
        assert row.twice.parcels == 2 * row.now.parcels and row.twice.builds >= row.now.builds
        assert row.twice.one_min <= row.now.one_min


def test_screen_has_the_figures_within_80_columns() -> None:
    """The screen tells both numbers of parcels of each work, says how many gain builds, and fits 80 columns
    with long names of sites."""
    rows = (ParcelRow("a-site-with-a-very-long-name-of-sixty-characters-in-all-for-this", "both",
                      ParcelFigures(3, 1012, 1234.56, 3703.68), ParcelFigures(6, 1015, 700.0, 4200.0)),
            ParcelRow("lot", "plow", ParcelFigures(500, 0, None, None), ParcelFigures(1000, 0, None, None)))
    text = parcels_text(plain_case(), rows)
    assert all(display_width(line) <= 80 for line in text.splitlines())
    shown = " ".join(text.split())
    assert "3 1,012 1,234.6 3,703.7" in shown and "6 1,015 700.0 4,200.0" in shown
    assert "lot plow 500 0 - - 1,000 0 - -" in shown
    assert "more builds within reach of 1 of 2 works" in shown


def test_document_has_the_same_figures() -> None:
    """The tree for --json is plain, in minutes, with null where no build is in reach."""
    rows = (ParcelRow("lot", "plow", ParcelFigures(1, 2, 30.0, 30.0), ParcelFigures(2, 0, None, None)),)
    assert json.loads(json.dumps(parcels_document(rows))) == {"parcels": [{
        "site": "lot", "work": "plow", "now": {"parcels": 1, "builds": 2, "one_min": 30.0, "all_min": 30.0},
        "twice": {"parcels": 2, "builds": 0, "one_min": None, "all_min": None}}]}

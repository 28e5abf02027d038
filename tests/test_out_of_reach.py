"""Works out of reach: what stands in the way, and the changes that alone would help, each tried."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from math import ceil, hypot, inf, pi, radians, tan
from pathlib import Path

import numpy as np
import pytest
from times_case import FULL, LEGS, PLOW, SITE, SPREADER, plain_builds, plain_case

from optibuild.cost import season_rounds
from optibuild.cycle_time import clocks, service_times
from optibuild.cycle_time.out_of_reach import out_of_reach
from optibuild.cycle_time.parcels import most_parcels, single_parcels
from optibuild.cycle_time.reach import reached, setting_of
from optibuild.fit import fit_builds
from optibuild.inputs import read_case
from optibuild.records import NONE, Builds, Case, Depot, Leg, OutOfReach, Remedy
from optibuild.report.remedies import remedies as words

SMALL = read_case(Path(__file__).parent / "data" / "small")
FITTING = fit_builds(SMALL)
INCH_M = 0.0254
ACCESS = {"gross": "most_gross_kg", "width": "most_width_m", "turning circle": "most_turning_circle_m"}
CHANGES = {"snow to the side", "parcels", "cycle limit", "end round", "deadline", *ACCESS, "fill",
           "blade width"}
# minutes at the plain site: 10 m strips of 3 m, 100 m at 200 m/min and half a circle of 6 m at 100 m/min
TURN_MIN = pi * 6 / 100
STRIP_MIN = (100 / 200 + TURN_MIN) / 0.5
# 15 kg at 10 kg/min, efficiency 0.75, and loaded at 150 kg/min
SALT_MIN = 15 / 10 / 0.75 + 15 / 150


def away(case: Case, *parts: tuple[int, int, int], fill_kg: float = 500.0) -> tuple[OutOfReach, ...]:
    """The works out of reach of the given builds, or of the full one."""
    builds = plain_builds(*(parts or (FULL,)), fill_kg=fill_kg)
    return out_of_reach(setting_of(case, builds, builds.fitting), builds, single_parcels(case))


def one_away(case: Case, *parts: tuple[int, int, int], fill_kg: float = 500.0) -> OutOfReach:
    """The only work out of reach."""
    (row,) = away(case, *parts, fill_kg=fill_kg)
    return row


def at(**changes: object) -> Case:
    """The plain case with its only site changed."""
    return plain_case(sites=(replace(SITE, **changes),))


def least(row: OutOfReach, change: str) -> float | None:
    """What a remedy asks for; an error where it is not listed."""
    (found,) = (remedy for remedy in row.remedies if remedy.change == change)
    return found.value


# ---- by hand


def test_least_cycle_limit_by_hand() -> None:
    """One piece of 15 m in 5 strips with salt: 22 min of driving, 8 of reloading, 3 to look, 6.88 and 2.1 min
    of work are 41.98 min, so 40 min do not do and 42 do."""
    loop = 22 + 8 + 3 + 5 * STRIP_MIN + SALT_MIN
    assert ceil(loop) == 42
    row = one_away(at(parcels=1, plow_every_min=40.0, deice_every_min=240.0))
    assert (row.reason, row.nearest, row.unit) == ("cycle limit", "truck+plow+spreader", "min")
    assert row.over_by == pytest.approx(loop - 40)
    assert least(row, "cycle limit") == 42


def test_least_deadline_by_hand() -> None:
    """A first service ends 10 + 3 + 6.88 + 2.1 = 21.98 min after the start: 22 min do, 18 do not."""
    row = one_away(at(parcels=1, deadline_min=18.0))
    assert row.reason == "deadline" and row.over_by == pytest.approx(10 + 3 + 5 * STRIP_MIN + SALT_MIN - 18)
    assert least(row, "deadline") == 22
    assert {remedy.change for remedy in row.remedies} == {"parcels", "deadline"}


def test_least_parcels_by_hand() -> None:
    """15 kg of salt with 1 kg a load take 15 parcels, and a fill 0.25 kg larger does a twelfth, 1.25 kg."""
    row = one_away(plain_case(), fill_kg=1.0)
    assert row.reason == "fill" and row.over_by == pytest.approx(0.25)
    assert row.remedies == (Remedy("parcels", 15.0, "parcels"), Remedy("fill", pytest.approx(0.25), "kg"))


def test_fill_of_a_weak_material_is_of_material() -> None:
    """Brine of 25 %: 15 kg of dry salt are 60 kg of brine, 5 kg in a twelfth, 2 kg more than a load of 3."""
    brine = replace(plain_case().materials[0], strength=0.25)
    row = one_away(plain_case(materials=(brine,)), fill_kg=3.0)
    assert row.over_by == pytest.approx(2.0) and least(row, "fill") == pytest.approx(2.0)
    assert least(row, "parcels") == 20


def test_least_blade_by_hand() -> None:
    """15 m in 4 strips take blades of 3.75 m, which is 147.6 in, so 148 in: 22 + 3 + 4 strips are 30.51 min,
    and with 5 strips 31.88 min, of 31 allowed."""
    assert 22 + 3 + 4 * STRIP_MIN < 31 < 22 + 3 + 5 * STRIP_MIN
    row = one_away(at(work="plow", parcels=1, plow_every_min=31.0), (0, 0, NONE))
    assert least(row, "blade width") == pytest.approx(148 * INCH_M)
    assert least(row, "cycle limit") == 32


def test_a_wider_blade_may_be_kept_out() -> None:
    """Where a site lets 3.5 m in, no blade of 3.75 m is proposed."""
    row = one_away(at(work="plow", parcels=1, plow_every_min=31.0, most_width_m=3.5), (0, 0, NONE))
    assert "blade width" not in {remedy.change for remedy in row.remedies}


@pytest.mark.parametrize(("limits", "change", "needs"), [
    ({"most_gross_kg": 3900.0}, "gross", 4000.0),
    ({"most_width_m": 2.9}, "width", 3.0),
    ({"most_turning_circle_m": 16.0}, "turning circle", 2 * hypot(3 / tan(radians(30)) + 1.5, 4.5)),
])
def test_access_that_it_would_take(limits: dict[str, float], change: str, needs: float) -> None:
    """A site too tight for the only build would have to allow what that build has; nothing else helps."""
    row = one_away(at(**limits))
    assert row.reason == f"access: {change}"
    assert [(remedy.change, remedy.value) for remedy in row.remedies] == [(change, pytest.approx(needs))]


def test_two_limits_of_access_have_no_single_remedy() -> None:
    """A build too heavy and too wide is not let in by one change, and the words say so."""
    case = at(most_gross_kg=3900.0, most_width_m=2.9)
    row = one_away(case)
    assert row.remedies == ()
    (text,) = words(case, row)
    assert text.startswith("No single change")


def test_least_time_of_the_last_round_by_hand() -> None:
    """With its salt in the last round alone a loop there takes 22 + 8 + 3 + 6.88 + 2.1 = 41.98 min; of 30
    allowed 12 are missing, and 42 do. A work that only the last round does has no cycle limit to be longer,
    and salt alone, 35.1 min, is more than 30 in any parcels."""
    row = one_away(at(parcels=1, deice_when="end", end_within_min=30.0))
    assert row.reason == "end round" and row.over_by == pytest.approx(11.98, abs=0.01)
    assert least(row, "end round") == 42
    salt = one_away(at(parcels=1, work="deice", deice_when="end", end_within_min=30.0))
    assert salt.over_by == pytest.approx(22 + 8 + 3 + SALT_MIN - 30)
    assert [(remedy.change, remedy.value) for remedy in salt.remedies] == [("end round", 36)]


def test_snow_that_grows_faster_than_the_limit() -> None:
    """6000 m2 pushed to the end gather 6000 x 0.0005 x 100 = 300 kg a minute, pushes of 405 kg (0.8 x 3 x
    0.75^2 x 300) that take more than 1.5 min each at an efficiency of 0.5: more than a minute's work falls in
    a minute, so no limit is proposed, and to the side does it in 20 strips."""
    assert 300 / 405 * (50 / 200 + 50 / 100 + 0.1) / 0.5 > 1
    assert 22 + 3 + 20 * STRIP_MIN < 60
    row = one_away(at(work="plow", parcels=1, area_m2=6000.0, snow_goes="end"), (0, 0, NONE))
    changes = {remedy.change for remedy in row.remedies}
    assert "cycle limit" not in changes and "snow to the side" in changes


# ---- no way


def test_no_way_there_or_back() -> None:
    """A site that cannot be left, or not reached, is out of reach for want of a way: no build is near,
    nothing is missed by an amount, no single change is named."""
    for closed in range(2):
        legs = tuple(replace(leg, passable=n != closed) for n, leg in enumerate(LEGS))
        assert away(plain_case(travel=legs)) == (OutOfReach("site", "both", "no way", None, None, None),)


def test_a_way_from_one_depot_is_enough() -> None:
    """With a second depot that has a way there and back the work is in reach of the builds that stand there,
    and of no others; from one depot out and to another home is no way."""
    closed = (replace(LEGS[0], passable=False), LEGS[1])
    depots = (*plain_case().depots, Depot("far", 45.0, -90.1, 8.0, 150.0))
    apart = (Leg("depot", "far", None, None, False), Leg("far", "depot", None, None, False))
    case = plain_case(depots=depots, travel=(*closed, *apart))
    builds = plain_builds(FULL)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    assert times.out_of_reach == ()
    assert times.possible().any(axis=(1, 2)).tolist() == [False, True]
    one_way = replace(case, travel=(*case.travel, Leg("site", "far", None, None, False)))
    assert [row.reason for row in away(one_way)] == ["no way"]


def test_no_way_leaves_nothing_undefined() -> None:
    """Beside a site without a way, with deadlines and works of the last round, all minutes are numbers or
    infinite, and the other site is served as if alone."""
    lost = replace(SITE, id="lost", deadline_min=100.0, deice_when="end", lat_deg=45.2)
    legs = [Leg(start, end, None, None, False)
            for start, end in (("depot", "lost"), ("site", "lost"), ("lost", "depot"), ("lost", "site"))]
    case = plain_case(sites=(SITE, lost), travel=(*LEGS, *legs))
    builds = plain_builds(FULL)
    times = service_times(case, builds, season_rounds(case, clocks(case)))
    assert times.end is not None
    for minutes in (times.minutes, times.end.minutes, times.season_stop_min, times.travel.minutes):
        assert not np.isnan(minutes).any()
    assert [row.site for row in times.out_of_reach] == ["lost"]
    alone = service_times(plain_case(), builds, season_rounds(plain_case(), clocks(plain_case())))
    here = [n for n, stop in enumerate(times.stops) if stop.site == 0]
    assert times.minutes[0, 0, here] == pytest.approx(alone.minutes[0, 0])


# ---- every remedy tried on seeded cases of the small case's files


def some_case(seed: int) -> Case:
    """The small case with seeded sites that ask too much in seeded ways, brine or salt, more or less snow."""
    rng = np.random.default_rng(seed)

    def some(*values: object, p: list[float] | None = None) -> object:
        return values[int(rng.choice(len(values), p=p))]

    timed = {"timed_truck": "ot", "timed_plow": "p90", "timed_depth_m": INCH_M}
    sites = tuple(
        replace(site, area_m2=site.area_m2 * float(np.exp(rng.uniform(-1, 4))),
                plow_every_min=float(rng.uniform(20, 240)), deice_every_min=float(rng.uniform(20, 240)),
                work=some("plow", "deice", "both"), snow_goes=some("side", "end"),
                split_works=some(True, False), deice_when=some("each", "end"),
                end_within_min=float(rng.uniform(10, 240)),
                **(timed | {"timed_min": float(rng.uniform(20, 900))} if rng.random() < 0.3 else {}),
                deadline_min=some(inf, float(rng.uniform(10, 60))), parcels=some(None, 1, 2, 4),
                most_gross_kg=some(inf, float(rng.uniform(1500, 3500)), p=[0.9, 0.1]),
                most_width_m=some(inf, float(rng.uniform(1.6, 2.6)), p=[0.9, 0.1]),
                most_turning_circle_m=some(inf, float(rng.uniform(10, 18)), p=[0.9, 0.1]))
        for site in SMALL.sites)
    materials = (replace(SMALL.materials[0], strength=float(some(1.0, 0.23))),)
    snowing = replace(SMALL.storm, snowfall_rate_m_per_min=float(some(1, 3)) * INCH_M / 60)
    return replace(SMALL, sites=sites, materials=materials, storm=snowing)


@cache
def some_away(seed: int) -> tuple[Case, tuple[OutOfReach, ...]]:
    """A seeded case and the works there that no build can do, though some build has the tools."""
    case = some_case(seed)
    rows = out_of_reach(setting_of(case, FITTING, FITTING.fitting), FITTING, single_parcels(case))
    return case, tuple(row for row in rows if row.nearest is not None)


def in_reach(case: Case, builds: Builds, row: OutOfReach) -> bool:
    """Whether the engine, asked of the whole case, has a build for the work."""
    singles = single_parcels(case)
    within = reached(setting_of(case, builds, builds.fitting), singles, most_parcels(case)).any(axis=0)
    works = [(case.sites[stop.site].id, stop.work) for stop in singles]
    return bool(within[works.index((row.site, row.work))])


def with_site(case: Case, row: OutOfReach, **changes: object) -> Case:
    """The case with the row's site changed."""
    return replace(case, sites=tuple(replace(site, **changes) if site.id == row.site else site
                                     for site in case.sites))


def with_limit(case: Case, row: OutOfReach, limit_min: float) -> Case:
    """The case with the cycle limits of the row's work at least so long."""
    site = next(site for site in case.sites if site.id == row.site)
    changes = {"plow_every_min": max(site.plow_every_min, limit_min)} if row.work != "deice" else {}
    if row.work != "plow" and site.deiced_each:
        changes["deice_every_min"] = max(site.deice_every_min, limit_min)
    return with_site(case, row, **changes)


def with_fill(builds: Builds, more_kg: float) -> Builds:
    """Builds that hold so much more."""
    return replace(builds, rated_fill_kg=builds.rated_fill_kg + more_kg)


def with_blade(case: Case, builds: Builds, row: OutOfReach, width_m: float) -> tuple[Case, Builds]:
    """The case with one more plow, and one more build: the nearest with its blade so wide."""
    nearest = builds.names.index(row.nearest)
    own = case.plows[builds.plow[nearest]]
    axes = {name: np.append(values, values[nearest]) for name, values in vars(builds).items()
            if isinstance(values, np.ndarray)}
    axes["plow"][-1] = len(case.plows)
    return replace(case, plows=(*case.plows, replace(own, width_m=width_m))), replace(builds, **axes)


def changed(case: Case, row: OutOfReach, change: str, value: float) -> tuple[Case, Builds]:
    """The case and its builds after one change."""
    if change == "blade width":
        return with_blade(case, FITTING, row, value)
    if change == "fill":
        return case, with_fill(FITTING, value)
    if change == "cycle limit":
        return with_limit(case, row, value), FITTING
    if change == "parcels":
        return with_site(case, row, parcels=int(value)), FITTING
    field = {"end round": "end_within_min", "deadline": "deadline_min", **ACCESS}[change]
    return with_site(case, row, **{field: value}), FITTING


def one_notch_less(remedy: Remedy) -> float:
    """A whole parcel, minute or inch less; of other figures a ten-thousandth."""
    assert remedy.value is not None
    if remedy.change in ACCESS or remedy.change == "fill":
        return remedy.value * 0.9999
    return remedy.value - (INCH_M if remedy.change == "blade width" else 1)


SEEDS = range(60)


@pytest.mark.parametrize("seed", SEEDS)
def test_each_remedy_suffices_and_a_notch_less_does_not(seed: int) -> None:
    """Applied alone to the whole case each remedy brings its work within reach, and a notch less does not."""
    case, rows = some_away(seed)
    for row in rows:
        assert not in_reach(case, FITTING, row)
        for remedy in row.remedies:
            if remedy.value is None:
                assert in_reach(with_site(case, row, snow_goes="side"), FITTING, row)
            else:
                assert in_reach(*changed(case, row, remedy.change, remedy.value), row), remedy
                assert not in_reach(*changed(case, row, remedy.change, one_notch_less(remedy)), row), remedy


def large_changes(case: Case, row: OutOfReach, rng: np.random.Generator) -> Iterator[tuple[str, float]]:
    """Changes larger than any remedy's, and several of those kinds of which more is not always better."""
    site = next(site for site in case.sites if site.id == row.site)
    yield "parcels", 1000
    yield from (("cycle limit", float(limit)) for limit in rng.integers(20, 1441, 8))
    if row.work != "plow":
        yield "fill", 1e6
        yield from [("end round", 1e5)] * site.deiced_at_end
    yield from [("deadline", 1e5)] * (site.deadline_min < inf)
    yield from ((change, 1e5) for change, field in ACCESS.items() if getattr(site, field) < inf)
    if row.work != "deice":
        own = SMALL.plows[FITTING.plow[FITTING.names.index(row.nearest)]].width_m
        yield from (("blade width", INCH_M * inch) for inch in rng.integers(ceil(own / INCH_M), 193, 4))


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_not_listed_would_not_help(seed: int) -> None:
    """A kind of change that is not among the remedies of a work does not bring it within reach, however much
    of it is tried."""
    case, rows = some_away(seed)
    rng = np.random.default_rng(1000 + seed)
    for row in rows:
        listed = {remedy.change for remedy in row.remedies}
        for change, value in large_changes(case, row, rng):
            if change not in listed:
                assert not in_reach(*changed(case, row, change, value), row), (row, change, value)
        if "snow to the side" not in listed and row.work != "deice":
            assert not in_reach(with_site(case, row, snow_goes="side"), FITTING, row)


def test_the_seeded_cases_have_every_kind_of_remedy() -> None:
    """Each kind of change, and each reason but the want of a tool or a way, occurs in the seeded cases, so
    that the tests above try them all."""
    rows = [row for seed in SEEDS for row in some_away(seed)[1]]
    assert {remedy.change for row in rows for remedy in row.remedies} == CHANGES
    assert {row.reason for row in rows} == {
        "cycle limit", "deadline", "end round", "fill", *(f"access: {kind}" for kind in ACCESS)}
    assert any(not row.remedies for row in rows)


# ---- in words


def test_words_are_in_the_units_of_the_case_and_rounded_up() -> None:
    """2.4003 m are 94.5 in, so 94.51 in are told as 94.6 in; kilograms become pounds, rounded up; minutes,
    parcels and the present limits are told as they are."""
    case = replace(at(plow_every_min=40.0, deice_every_min=50.0, deadline_min=30.0), units="us")
    found = (
        Remedy("snow to the side", None, ""), Remedy("parcels", 15.0, "parcels"),
        Remedy("cycle limit", 45.0, "min"), Remedy("end round", 300.0, "min"),
        Remedy("deadline", 75.0, "min"), Remedy("width", 94.51 * INCH_M, "m"),
        Remedy("fill", 100.1 * 0.45359237, "kg"), Remedy("blade width", 148 * INCH_M, "m"),
    )
    row = OutOfReach("site", "both", "cycle limit", "truck+plow+spreader", 5.0, "min", found)
    assert words(case, row) == (
        "Let the snow go to the side (snow_goes = side).",
        "Let more trucks share the site: parcels = 15 (so far at most 12).",
        "Agree on a cycle limit of 45 min (plow_every, now 40 min).",
        "Let the last round take 300 min (end_within, now 240 min).",
        "Move the deadline to 75 min after the start (now 30 min).",
        "Allow 94.6 in at the site (most_width).",
        "Add a build like those there are, but with 101 lb more rated fill.",
        "Put a blade 148.0 in wide on truck+plow+spreader: that would do at the weight of the present one, "
        "but it is heavier, and the build must fit again.",
    )
    metric = words(replace(case, units="si"), row)
    assert metric[5] == "Allow 2.401 m at the site (most_width)." and "46 kg more" in metric[6]


def test_words_for_want_of_a_tool_or_a_way() -> None:
    """Without a build that has the tools the words lead to the rejected ones, without a way to the table."""
    bare = one_away(plain_case(), (0, 0, NONE))
    assert (bare.reason, bare.remedies) == ("no build with a plow and a spreader fits", ())
    assert "a plow and a spreader: `optibuild fit CASE --rejected`" in words(plain_case(), bare)[0]
    legs = (replace(LEGS[0], passable=False), LEGS[1])
    assert "passable = no" in words(plain_case(), one_away(plain_case(travel=legs)))[0]


def test_timed_sites_stay_timed() -> None:
    """Where the model is scaled to a timed plowing by the very plow, a blade proposed is a new one: 20 min
    for 5 strips make a strip 4 min, so that 4 strips, by 148 in, are 16 of the 19 min that driving and
    looking leave of 44; were the timed blade itself widened, its timing would stay 20 min."""
    timed = {"timed_min": 20.0, "timed_truck": "truck", "timed_plow": "plow", "timed_depth_m": 0.03}
    row = one_away(at(work="plow", parcels=1, plow_every_min=44.0, **timed), (0, 0, NONE))
    assert row.over_by == pytest.approx(22 + 3 + 20 - 44)
    assert least(row, "blade width") == pytest.approx(148 * INCH_M)
    assert least(row, "cycle limit") == 45


def test_a_timing_that_only_holds_straight_is_no_ground_for_snow_to_the_side() -> None:
    """A blade that clears nothing at its angle timed the site pushing straight; to the side the timing tells
    nothing, and that change is passed over."""
    slanted = replace(PLOW, angle_rad=radians(80))  # 3 m x cos 80 = 0.52 m, less than the overlap of 0.6 m
    case = at(work="plow", parcels=1, snow_goes="end", plow_every_min=30.0, timed_min=20.0,
              timed_truck="truck", timed_plow="slanted", timed_depth_m=0.03)
    case = replace(case, plows=(PLOW, replace(slanted, id="slanted")), spreaders=(SPREADER,),
                   assumptions=replace(case.assumptions, overlap_m=0.6))
    assert "snow to the side" not in {remedy.change for remedy in one_away(case, (0, 0, NONE)).remedies}

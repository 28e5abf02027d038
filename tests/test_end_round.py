"""Works that wait for the last round of a storm, and materials not all deicer: minutes and season."""

from dataclasses import replace
from math import inf, pi

import pytest
from times_case import EVENTS, FULL, SITE, plain_builds, plain_case

from optibuild.cost import loop_costs, season_rounds
from optibuild.cycle_time import clocks, service_times
from optibuild.records import NONE, Case, Material, ServiceTimes, Stop
from optibuild.units import quantity, shown

PLOW_MIN = 5 * (0.5 + pi * 6 / 100) / 0.5
"""15 m in 5 strips of 3 m: a run 100/200 min, a turn of half a circle of 6 m at 100 m/min; efficiency 0.5."""
FOOT, POUND = 0.3048, 0.45359237


def times_of(case: Case, *parts: tuple[int, int, int], **figures: float) -> ServiceTimes:
    builds = plain_builds(*(parts or (FULL,)), **figures)
    return service_times(case, builds, season_rounds(case, clocks(case)))


def end_case(**changes: object) -> Case:
    """The plain site, deiced in the last round, which must be over in 90 min."""
    site = {"deice_when": "end", "end_within_min": 90.0, "deice_every_min": None, "parcels": 1} | changes
    return plain_case(sites=(replace(SITE, **site),))


# ---- the last round


def test_the_last_round_has_all_works_by_hand() -> None:
    """Before the last round the stop only plows; in the last it plows, spreads 15 kg in 2 min and reloads
    them in 0.1 min; it rides in loops of its plow_every and its last round has 90 min."""
    times = times_of(end_case())
    assert times.end is not None and times.clocks_min.tolist() == [60.0]
    assert times.minutes[0, 0, 0] == pytest.approx(3 + PLOW_MIN)
    assert times.end.minutes[0, 0, 0] == pytest.approx(3 + PLOW_MIN + 2 + 0.1)
    assert times.material_kg.tolist() == [0.0] and times.end.material_kg.tolist() == pytest.approx([15.0])
    assert times.end.limit_min.tolist() == [90.0] and times.end.only.tolist() == [False]
    assert times.deice_min[0, 0, 0] == pytest.approx(2.0)


def test_a_site_only_deiced_at_the_end_is_in_no_other_round() -> None:
    """Its stop takes no minutes before the last round, has no cycle limit and no deadline."""
    times = times_of(end_case(work="deice", plow_every_min=None, deadline_min=5.0))
    assert times.end is not None and times.end.only.tolist() == [True]
    assert times.minutes[0, :, 0].tolist() == [0.0] * len(times.clocks_min)
    assert times.end.minutes[0, 0, 0] == pytest.approx(3 + 2 + 0.1)
    assert times.clocks_min.tolist() == [60.0, 90.0]  # the time of the last round stands for a cycle limit


def test_without_works_that_wait_there_is_no_last_round() -> None:
    """Where every work is done in every round, nothing is told of a last one."""
    assert times_of(plain_case()).end is None


@pytest.mark.parametrize(("within", "reached"), [(60.0, True), (42.0 + 5.1 + PLOW_MIN, True),
                                                 (42.0 + 5.0 + PLOW_MIN, False), (30.0, False)])
def test_the_last_round_alone_must_end_in_time(within: float, reached: bool) -> None:
    """Out 10, stop 5.1 + plowing, home 12, reload 8: exactly as long as end_within is still in time."""
    # 10 + 12 + 8 = 30, and a reserve of 12 min beside
    case = end_case(end_within_min=within)
    case = replace(case, solve=replace(case.solve, reserve_min=12.0))
    assert bool(times_of(case).possible()[0, 0, 0]) is reached


def test_split_works_may_wait_alone() -> None:
    """With split works, plow and both repeat, the deice stop is in the last round only."""
    times = times_of(end_case(split_works=True))
    assert [stop.work for stop in times.stops] == ["both", "plow", "deice"] and times.end is not None
    assert times.stops[2] == Stop(0, 1, "deice")
    assert times.end.only.tolist() == [False, False, True]
    assert times.end.limit_min.tolist() == [90.0, inf, 90.0]
    assert times.end.minutes[0, 0, 1] == times.minutes[0, 0, 1] == pytest.approx(3 + PLOW_MIN)


def test_it_cannot_be_promised_without_a_spreader() -> None:
    """A build without a spreader cannot make a stop with a work that waits."""
    times = times_of(end_case(), (0, 0, NONE))
    assert not times.possible().any() and times.out_of_reach[0].work == "both"


def test_a_season_of_works_that_wait_by_hand() -> None:
    """Deicing at the end is done once an event, plowing in its pushes; each event brings a visit."""
    times = times_of(end_case())
    # snow: 10 events of 5 pushes; dusting: 20 events below the trigger, where only the end work is done
    assert times.season_material_kg[0, 0] == pytest.approx(30 * 15.0)
    assert times.season_stop_min[0, 0, 0] == pytest.approx(50 * PLOW_MIN + 30 * 2.0 + (50 + 20) * 3.0)


def test_an_event_with_nothing_but_what_waits_is_one_round() -> None:
    """Below every trigger, with nothing deiced in each round, a loop goes round once: snow 5, dusting 1."""
    case = end_case()
    rounds = season_rounds(case, clocks(case))
    assert rounds.rounds[:, 0].tolist() == [5.0, 1.0]


def test_driving_money_is_split_between_the_rounds() -> None:
    """10 events of 5 rounds and 20 of 1: 40 rounds before the last, 30 last ones."""
    case = end_case()
    rounds, builds = season_rounds(case, clocks(case)), plain_builds(FULL)
    costs = loop_costs(case, builds, service_times(case, builds, rounds), rounds)
    assert costs.season_rounds.tolist() == [40.0] and costs.end_rounds.tolist() == [30.0]
    assert costs.drive_usd_per_min[0, 0] == pytest.approx(40 * 0.4 * 1.25)
    assert costs.end_drive_usd_per_min[0, 0] == pytest.approx(30 * 0.4 * 1.25)
    plain = plain_case()
    rounds = season_rounds(plain, clocks(plain))
    costs = loop_costs(plain, builds, service_times(plain, builds, rounds), rounds)
    # 10 events of 5 rounds, 20 of one clocked turn: 120/60 = 2, filled once: 1; deiced in each
    assert costs.season_rounds.tolist() == [70.0] and costs.end_rounds.tolist() == [0.0]


# ---- liquids


def brine_case(strength: float) -> Case:
    return plain_case(materials=(Material("salt", 1000.0, 0.1, strength),), sites=(replace(SITE, parcels=1),))


def test_brine_takes_more_by_its_strength_by_hand() -> None:
    """Of a brine of 25 % the stop's 15 kg of salt are 60 kg: at 10 kg/min over 5 m at 0.04 kg/m^2 that is
    50 m/min, 8 min of spreading; loading takes 0.4 min."""
    times = times_of(brine_case(0.25), fill_kg=500.0)
    assert times.strength.tolist() == [0.25] and times.material_kg.tolist() == pytest.approx([15.0])
    assert times.deice_min[0, 0, 0] == pytest.approx(1500 / (5 * 50) / 0.75)
    assert times.minutes[0, 0, 0] == pytest.approx(3 + PLOW_MIN + 8 + 0.4)
    assert times.season_reload_min[0, 0, 0] == pytest.approx(70 * 0.4)
    costs = loop_costs(brine_case(0.25), plain_builds(FULL), times, season_rounds(
        brine_case(0.25), clocks(brine_case(0.25))))
    assert costs.material_usd_per_kg[0] == pytest.approx(0.4)  # 0.1 USD/kg of brine, a quarter of it salt


def test_a_fill_of_brine_reaches_less_far() -> None:
    """50 kg of 25 % brine hold 12.5 kg of salt, short of the 15 kg of one stop; 60 kg just suffice."""
    assert not times_of(brine_case(0.25), fill_kg=50.0).possible().any()
    assert times_of(brine_case(0.25), fill_kg=60.0).possible().all()


def test_brine_a_lane_mile_as_published() -> None:
    """50 gal of 23 % brine a 12 ft lane-mile carry about 112.7 lb of salt (Iowa DOT news release, January
    2008, says about 110; specific gravity 1.176, Lange's Handbook, 15th ed., Table 5.13): a stop of one
    lane-mile at that rate of dry salt takes 490 lb of brine, 50 gal of 9.80 lb."""
    lane_mile = 12 * FOOT * 1609.344
    rate = quantity("112.7 lb/lane-mile", "areal_rate")
    site = replace(SITE, area_m2=lane_mile, deice_rate_kg_per_m2=rate, work="deice", plow_every_min=None,
                   deice_every_min=600.0, parcels=1)
    case = replace(brine_case(0.23), sites=(site,))
    times = times_of(case, fill_kg=1000.0)
    brine_lb = shown(float(times.material_kg[0] / times.strength[0]), "mass", "us")
    assert brine_lb == pytest.approx(490, abs=1) and brine_lb / 9.80 == pytest.approx(50, abs=0.1)
    assert times.material_kg[0] / POUND == pytest.approx(110, rel=0.06)


def test_the_salt_table_asks_for_salt_of_any_strength() -> None:
    """At 22 F, 80,000 ft^2 take 480 lb of dry salt (DuPage River / Salt Creek Workgroup, Parking Lot Deicing
    guidance), which a brine of 24 % brings in 2,000 lb."""
    site = replace(SITE, area_m2=80_000 * FOOT**2, deice_rate_kg_per_m2=None, work="deice",
                   plow_every_min=None, deice_every_min=600.0, parcels=1)
    case = replace(brine_case(0.24), sites=(site,))
    case = replace(case, storm=replace(case.storm, pavement_degc=(22 - 32) * 5 / 9))
    times = times_of(case, fill_kg=2000.0)
    assert times.material_kg[0] / POUND == pytest.approx(480)
    assert times.material_kg[0] / times.strength[0] / POUND == pytest.approx(2000)


def test_material_of_a_season_follows_each_event() -> None:
    """Without an own rate each event's pavement temperature rules the rate: two events, two table rows."""
    warm, cold = replace(EVENTS[0], pavement_degc=0.0), replace(EVENTS[0], id="cold", pavement_degc=-11.0)
    site = replace(SITE, deice_rate_kg_per_m2=None, parcels=1)
    times = times_of(plain_case(sites=(site,), season=(warm, cold)))
    # 32 F: 3, 12.2 F: 8 lb/1000 ft^2; 50 rounds of each
    per = POUND / (1000 * FOOT**2)
    assert times.season_material_kg[0, 0] == pytest.approx(50 * 1500 * (3 + 8) * per)

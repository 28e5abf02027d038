"""Flags at the edges of the rules, and trade facts about weights."""

from dataclasses import replace

import pytest
from fit_cases import LB, fit_case, judged, kit, lb, plow, spreader, the, truck

from optibuild.fit import (
    gvwr_class,
    is_commercial_vehicle,
    needs_commercial_license,
    needs_new_load_label,
    over_light_truck_split,
    relabel_threshold_lb,
)


@pytest.mark.parametrize(
    ("pounds", "expected"),
    [
        (6000, 1),
        (6001, 2),
        (10_000, 2),
        (10_001, 3),
        (14_000, 3),
        (14_001, 4),
        (16_000, 4),
        (16_001, 5),
        (19_500, 5),
        (19_501, 6),
        (26_000, 6),
        (26_001, 7),
        (33_000, 7),
        (33_001, 8),
    ],
)
def test_gvwr_classes_at_their_edges(pounds, expected):
    """The upper bounds are inclusive, also after a trip through kilograms (49 CFR 565.15, table II)."""
    assert gvwr_class(pounds * LB) == expected


def test_the_light_truck_split_keeps_its_equality():
    """8,500 lb is still light, 8,501 is not (40 CFR 86.082-2)."""
    assert [over_light_truck_split(pounds * LB) for pounds in (8500, 8501)] == [False, True]


def test_a_light_truck_is_light_in_curb_weight_too():
    """8,400 lb of GVWR with 6,000 of curb weight is light, with 6,001 it is not (40 CFR 86.082-2, its curb
    weight from memory)."""
    assert [over_light_truck_split(8400 * LB, curb * LB) for curb in (6000, 6001)] == [False, True]


@pytest.mark.parametrize(("gvwr", "threshold"),
                         [(5000, 75), (6000, 90), (6666, 99.99), (6667, 100), (10_000, 100)])
def test_the_threshold_of_a_new_load_label(gvwr, threshold):
    """The lesser of 1.5 % of GVWR and 100 lb; they cross at 6,666.67 lb (FMVSS 110; 72 FR 68442, 4 December
    2007)."""
    assert relabel_threshold_lb(gvwr * LB) == pytest.approx(threshold, abs=1e-6)


def test_weight_on_the_threshold_needs_no_new_label():
    """On 8,500 lb 100 lb need none and 100.1 do; on 6,000 lb 90 and 90.1; above 10,000 lb there is no such
    label (72 FR 68442; the last from memory)."""
    told = [needs_new_load_label(gvwr * LB, added * LB) for gvwr, added in (
        (8500, 100), (8500, 100.1), (6000, 90), (6000, 90.1), (10_000, 101), (10_001, 500))]
    assert told == [False, True, False, True, True, False]


@pytest.mark.parametrize(("mount", "empty", "removable", "flagged"), [
    (50, 50, True, False), (51, 50, True, True), (0, 40, False, True), (0, 40, True, False)])
def test_what_counts_as_added_weight(mount, empty, removable, flagged):
    """Mount and empty spreader stay on, and so does a fixed kit of 8 bags of 60 lb; the blade of 700 lb comes
    off (NHTSA letter aiam2488), and so does ballast that is taken out. Bags: 4,030 lb and more of 3,950 to
    relieve at 14.57 lb a bag."""
    case = fit_case([truck(gvwr=9900, gawr=(3950, 9000))], [plow(mount=mount)],
                    [spreader(empty=empty, center=0, holds=3000)],
                    [replace(kit(), removable=removable)])
    builds = judged(case)
    row = the(builds, "t+p+s")
    assert builds.units[row] > 2
    assert any("72 FR 68442" in flag for flag in builds.flags[row]) is flagged


def test_commercial_vehicle_by_rating_or_loaded_weight():
    """9,000 loaded to 10,001 is one, so is 9,150 on a rating of 10,500, and 9,900 loaded to 10,050; 10,000 on
    10,000 is not (49 CFR 390.5)."""
    pairs = [(9000, 10_001), (10_500, 9150), (9900, 10_050), (10_000, 10_000)]
    assert [is_commercial_vehicle(rated * LB, loaded * LB) for rated, loaded in pairs] == [
        True,
        True,
        True,
        False,
    ]


def test_commercial_license_by_rating_or_loaded_weight():
    """26,001 lb by rating or by loaded weight needs one, 26,000 does not (49 CFR 383.5)."""
    pairs = [(26_000, 25_900), (26_001, 20_000), (25_900, 26_001)]
    assert [needs_commercial_license(rated * LB, loaded * LB) for rated, loaded in pairs] == [
        False,
        True,
        True,
    ]


def test_plow_and_salt_may_make_a_truck_a_commercial_vehicle():
    """A rating of 9,900 lb with a build that weighs 10,050 is flagged, and without the last 50 lb it is
    not."""
    told = []
    for cargo in (5050, 5000):
        case = fit_case([truck(gvwr=9900, curb=(3000, 2000))], spreaders=[spreader(empty=cargo)])
        told.append(any("390.5" in flag for flag in judged(case).flags[0]))
    assert told == [True, False]


def test_payload_is_gross_rating_less_curb_weight():
    """7,050 - 4,500 = 2,550 lb can be carried where the axles allow it (common practice, no source)."""
    builds = judged(
        fit_case(
            [truck(gvwr=7050, gawr=(9000, 9000), curb=(2620, 1880))],
            spreaders=[spreader(empty=0, holds=5000)],
        )
    )
    assert lb(builds.rated_fill_kg[0]) == pytest.approx(2550)
    assert builds.binds[0] == "GVWR, off full"


def test_a_heavy_plow_overbears_a_half_ton_and_a_scaled_one_does_not():
    """An 8-foot heavy-duty plow needs much ballast on a half-ton and the ballast eats the payload; a plow
    scaled to it needs none (common practice, no source). By hand: 2,790 + 150·81/141 + 780·206/141 = 4,015.7,
    over 3,850 by 165.7; a 60 lb bag at 176 in relieves 60·35/141 = 14.89, so 12 bags, 720 lb of the 2,000.
    Scaled, 430 lb: 3,504.4."""
    half_ton = truck(gvwr=6900, gawr=(3850, 3900), curb=(2790, 2110), wheelbase=141, bumper=37, bed_end=49)
    case = fit_case(
        [half_ton], [plow("heavy", blade=780), plow("scaled", blade=430)], ballast=[kit(most=20)], occupants=1
    )
    builds = judged(case)
    heavy, scaled = the(builds, "t+heavy+-"), the(builds, "t+scaled+-")
    assert (int(builds.units[heavy]), int(builds.units[scaled])) == (12, 0)
    assert lb(builds.ballast_kg[heavy]) == pytest.approx(720)
    alone = judged(fit_case([half_ton], [plow("heavy", blade=780)], occupants=1))
    assert lb(alone.reasons[0][0].over) == pytest.approx(165.7, abs=0.1)

"""Timings beside the model: the fitted job efficiency and its interval, outliers, the screen."""

import json
import subprocess
import sys
from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest
from times_case import ASSUMED, PLOW, SITE, TRUCK, plain_case

from optibuild.cycle_time.calibration import calibrate, fit_efficiency, modified_z_scores
from optibuild.cycle_time.timed import plow_model_min
from optibuild.records import Calibration, Case, Timing
from optibuild.report.calibration_screen import calibration_document, calibration_text

DEPTHS_M = (0.025, 0.05, 0.1)
END_SITE = replace(SITE, id="yard", area_m2=6000.0, pass_length_m=80.0, snow_goes="end")
TWO_SITES = plain_case(sites=(SITE, END_SITE))
MODEL_MIN = plow_model_min(plain_case(), 0, 0, 0, 0.025)


def timed(case: Case, *ratios: float) -> Case:
    """The case with timings of its sites in turn, at depth after depth, each the model's minutes times a
    ratio."""
    rows = []
    for k, ratio in enumerate(ratios):
        n, depth = k % len(case.sites), DEPTHS_M[k // len(case.sites) % len(DEPTHS_M)]
        model = plow_model_min(case, n, 0, 0, depth)
        assert model is not None
        rows.append(Timing(case.sites[n].id, "truck", "plow", depth, model * ratio))
    return replace(case, timings=tuple(rows))


def with_own(case: Case, minutes: float) -> Case:
    """The case with the first site timed in its own columns, at the first depth."""
    own = replace(case.sites[0], timed_min=minutes, timed_truck="truck", timed_plow="plow",
                  timed_depth_m=DEPTHS_M[0])
    return replace(case, sites=(own, *case.sites[1:]))


def screen(case: Case) -> str:
    """The screen as one line, so that wrapping does not matter."""
    return " ".join(calibration_text(case, calibrate(case)).split())


# ---- the fit


def test_a_timing_is_compared_with_minutes_counted_by_hand() -> None:
    """A lot of five passes of 100 m at 200 m/min takes 6.885 min by hand at an efficiency of 0.5.

    1,500 m^2 / 100 m / 3 m = 5 passes. A turn is half a circle of 3 m / sin 30 deg = 6 m radius at 100 m/min:
    pi * 6 / 100 = 0.1885 min. 5 * (0.5 + 0.1885) / 0.5 = 6.885; the windrows at the edges hold all the snow.
    """
    row, = calibrate(plain_case(timings=(Timing("site", "truck", "plow", 0.025, 13.77),))).timings
    assert row.model_min == pytest.approx(6.885, abs=5e-4)
    assert row.ratio == pytest.approx(2.0, abs=2e-4)


def test_timings_a_quarter_longer_give_four_fifths_of_the_efficiency() -> None:
    """Timings of exactly 1.25 times the model give 0.50 / 1.25 = 0.40, no spread, slope 1 and no outlier."""
    found = calibrate(timed(TWO_SITES, *[1.25] * 6))
    fit = found.fit
    assert fit is not None and fit.slope is not None
    assert (fit.count, found.without_outliers) == (6, None)
    assert (fit.efficiency, fit.low, fit.high) == pytest.approx((0.40, 0.40, 0.40))
    assert (fit.ratio, fit.spread) == pytest.approx((1.25, 1.0))
    assert fit.slope.proportional and fit.slope.slope == pytest.approx(1.0)
    assert not any(row.outlier for row in found.timings)


def test_three_timings_by_hand() -> None:
    """Efficiency, spread and interval of ratios 1.2, 1.0 and 1.25 are those of a calculation by hand.

    Logarithms 0.182322, 0, 0.223144: mean 0.135155 = ln(1.5) / 3. Deviations 0.047167, -0.135155, 0.087989,
    squares 0.002225 + 0.018267 + 0.007742 = 0.028234, variance 0.014117, deviation 0.118814, of the mean
    0.118814 / sqrt(3) = 0.068598. t(0.975, 2) = 4.303 (10 CFR 429 Subpart B, Appendix A): 0.295177 each way.
    """
    fit = fit_efficiency(0.5, np.array([10.0, 20.0, 40.0]), np.array([12.0, 20.0, 50.0]))
    efficiency = 0.5 / 1.5 ** (1 / 3)
    assert fit.efficiency == pytest.approx(efficiency, rel=1e-12)
    assert fit.spread == pytest.approx(exp(0.118814), rel=1e-5)
    assert fit.low == pytest.approx(efficiency / exp(0.295177), rel=1e-4)
    assert fit.high == pytest.approx(efficiency * exp(0.295177), rel=1e-4)


def test_slope_of_three_timings_by_hand() -> None:
    """Slope, standard error and interval of the same three timings are those of a calculation by hand.

    ln(model) lies at -ln 2, 0, ln 2 about its mean: slope (ln 50 - ln 12) / (2 ln 2) = 1.427116 / 1.386294 =
    1.029447. ln(timed) 2.484907, 2.995732, 3.912023, mean 3.130887: residuals 0.067578, -0.135155, 0.067577,
    squares 0.027400, over 3 - 2 = 1; standard error sqrt(0.027400 / (2 ln(2)^2)) = sqrt(0.027400 / 0.960906)
    = 0.168864. t(0.975, 1) = 12.71 (10 CFR 429 Subpart B, Appendix A): 2.1463 each way.
    """
    slope = fit_efficiency(0.5, np.array([10.0, 20.0, 40.0]), np.array([12.0, 20.0, 50.0])).slope
    assert slope is not None and slope.proportional
    assert slope.slope == pytest.approx(1.029447, abs=1e-6)
    assert slope.standard_error == pytest.approx(0.168864, abs=2e-6)
    assert (slope.low, slope.high) == pytest.approx((1.0294 - 2.1463, 1.0294 + 2.1463), abs=1e-3)


def test_slope_is_that_of_another_least_squares_solver() -> None:
    """Slope and standard error of forty scattered timings agree with numpy's solver of least squares."""
    generator = np.random.default_rng(5)
    model = generator.uniform(5.0, 200.0, 40)
    minutes = 1.3 * model**0.9 * np.exp(generator.normal(0.0, 0.2, 40))
    slope = fit_efficiency(0.5, model, minutes).slope
    system = np.column_stack([np.log(model), np.ones(40)])
    answer, squares, *_ = np.linalg.lstsq(system, np.log(minutes), rcond=None)
    error = sqrt(squares[0] / 38 * np.linalg.inv(system.T @ system)[0, 0])
    assert slope is not None
    assert (slope.slope, slope.standard_error) == pytest.approx((answer[0], error), rel=1e-9)


def test_interval_holds_the_truth_as_often_as_it_says() -> None:
    """In 95 % of 1,000 invented sets of four timings, give or take 2.5 %, the interval holds the efficiency
    that the timings were made with."""
    generator = np.random.default_rng(11)
    model = np.array([5.0, 10.0, 20.0, 40.0])
    held = 0
    for _ in range(1000):
        fit = fit_efficiency(0.5, model, model * 0.5 / 0.42 * np.exp(generator.normal(0.0, 0.3, 4)))
        assert fit.low is not None and fit.high is not None
        held += fit.low <= 0.42 <= fit.high
    assert 925 <= held <= 975


def test_minutes_that_are_not_proportional_are_found_out() -> None:
    """Timings that grow with the square root of the model's minutes have a slope of 0.5, whose interval
    leaves 1 out, and the screen says that short jobs take longer."""
    case = timed(TWO_SITES, *[1.0] * 6)
    wavy = [0.99, 1.01, 1.01, 0.99, 1.0, 1.0]
    case = replace(case, timings=tuple(
        replace(row, time_min=6.0 * sqrt(row.time_min) * noise)
        for row, noise in zip(case.timings, wavy, strict=True)))
    fit = calibrate(case).fit
    assert fit is not None and fit.slope is not None
    assert fit.slope.slope == pytest.approx(0.5, abs=0.02) and not fit.slope.proportional
    assert "short jobs take longer and long ones shorter" in screen(case)


def test_no_slope_where_model_minutes_are_alike_or_two() -> None:
    """Two timings, or timings of one and the same job, tell nothing of slopes but still fit an efficiency."""
    two = fit_efficiency(0.5, np.array([10.0, 20.0]), np.array([10.0, 20.0]))
    alike = fit_efficiency(0.5, np.array([10.0, 10.0, 10.0]), np.array([10.0, 20.0, 40.0]))
    assert two.slope is None and alike.slope is None
    assert (two.efficiency, alike.efficiency) == pytest.approx((0.5, 0.25))


def test_with_the_fitted_efficiency_the_model_is_right_on_average() -> None:
    """A case that takes over the fitted efficiency has a geometric mean ratio of 1."""
    case = timed(TWO_SITES, 1.1, 1.4, 0.9, 1.2, 1.0, 1.3)
    fit = calibrate(case).fit
    assert fit is not None
    again = calibrate(replace(case, assumptions=replace(ASSUMED, job_efficiency=fit.efficiency))).fit
    assert again is not None
    assert (again.ratio, again.efficiency) == pytest.approx((1.0, fit.efficiency))


# ---- outliers


def test_modified_z_scores_of_the_example_of_their_authors() -> None:
    """Of ten values given by Iglewicz and Hoaglin (1993) the last two alone have scores above 3.5.

    Median (2.4 + 2.5) / 2 = 2.45; distances 0.35, 0.15, 0.05, 0.05, 0.15, 0.35, 0.15, 0.15, 5.75, 5.85, their
    median 0.15; scores 0.6745 times distance / 0.15.
    """
    scores = modified_z_scores(np.array([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]))
    assert scores == pytest.approx(
        [-1.5738, 0.6745, -0.2248, 0.2248, -0.6745, -1.5738, -0.6745, 0.6745, 25.8558, 26.3055], abs=5e-5)


def test_scores_where_most_values_are_alike() -> None:
    """Four like values and one that is d away: mean distance d / 5, score 5 / 1.253314 = 3.98942; five like
    ones score 0, even with noise in the last digits."""
    assert modified_z_scores(np.array([1.0, 1.0, 1.0, 1.0, 1.2])) == pytest.approx([0, 0, 0, 0, 3.98942])
    assert (modified_z_scores(np.array([0.1 + 0.2, 0.3, 0.3, 0.3, 0.3])) == 0).all()


def test_an_outlier_is_marked_and_the_fit_is_given_without_it_too() -> None:
    """Five timings about the model and one four times as long: the one is told apart, and without it the
    efficiency is again 0.5.

    Logarithms -0.02, -0.01, 0, 0.01, 0.02, ln 4 = 1.386: median 0.005, distances 0.025, 0.015, 0.005, 0.005,
    0.015, 1.381, median 0.015. Scores: 0.6745 * 1.381 / 0.015 = 62.1, the others 1.124 at most. With all six
    the mean is ln(4) / 6, so that the efficiency is 0.5 / 4^(1/6) = 0.3969.
    """
    case = timed(TWO_SITES, *[exp(away) for away in (-0.02, -0.01, 0.0, 0.01, 0.02, log(4.0))])
    found = calibrate(case)
    assert found.fit is not None and found.without_outliers is not None
    assert [row.outlier for row in found.timings] == [row.ratio > 2 for row in found.timings]
    assert max(row.score for row in found.timings) == pytest.approx(62.1, abs=0.05)
    assert found.fit.efficiency == pytest.approx(0.3969, abs=1e-4)
    assert (found.without_outliers.count, found.without_outliers.efficiency) == (5, pytest.approx(0.5))
    said = screen(case)
    assert 'assumptions.job_efficiency = "39.7 %"' in said and "Without the 1 outlier" in said
    assert 'assumptions.job_efficiency = "50 %"' in said and "outlier" in said.partition("Fit")[0]


def test_of_fewer_than_five_timings_none_is_an_outlier() -> None:
    """Four timings of which one is wild are all kept, and the screen says what the interval rests on."""
    case = timed(TWO_SITES, 1.0, 1.01, 0.99, 9.0)
    found = calibrate(case)
    assert found.without_outliers is None and not any(row.outlier or row.score for row in found.timings)
    assert "So few as 4 hardly tell how far timings differ, and the interval rests on that" in screen(case)


# ---- what is compared


def test_the_sites_own_timings_count_and_are_marked() -> None:
    """A timing in the table of sites is a row too, first of its site, and a copy of it in the table timings
    counts once."""
    assert MODEL_MIN is not None
    copy = Timing("site", "truck", "plow", DEPTHS_M[0], MODEL_MIN * 2)
    other = Timing("site", "truck", "plow", DEPTHS_M[1], MODEL_MIN)
    yard = Timing("yard", "truck", "plow", DEPTHS_M[0], 60.0)
    found = calibrate(replace(with_own(TWO_SITES, MODEL_MIN * 2), timings=(yard, other, copy)))
    assert [(row.site, row.own, row.timed_min) for row in found.timings] == [
        ("site", True, MODEL_MIN * 2), ("site", False, MODEL_MIN), ("yard", False, 60.0)]
    assert found.timings[0].ratio == pytest.approx(2.0)


def test_means_by_site_are_geometric() -> None:
    """Ratios 1 and 4 at one site have the mean 2, ratio 3 at the other stays 3."""
    found = calibrate(timed(TWO_SITES, 1.0, 3.0, 4.0))
    assert [(row.site, row.count) for row in found.sites] == [("site", 2), ("yard", 1)]
    assert [row.ratio for row in found.sites] == pytest.approx([2.0, 3.0])


def test_what_the_model_cannot_do_is_told_with_its_reason() -> None:
    """A blade as wide as the overlap and a truck with less traction than rolling resistance are left out of
    the fit, each with its reason; where nothing is left the screen says so."""
    narrow = replace(PLOW, id="narrow", width_m=0.5)
    case = plain_case(plows=(PLOW, narrow), assumptions=replace(ASSUMED, overlap_m=0.5), timings=(
        Timing("site", "truck", "plow", 0.025, 10.0), Timing("site", "truck", "narrow", 0.025, 10.0)))
    able, unable = calibrate(case).timings
    assert able.why is None and unable.why == "the blade clears no more than the overlap of two passes"
    assert (unable.model_min, unable.ratio) == (None, None)
    fit = calibrate(case).fit
    assert fit is not None and fit.count == 1
    assert "Not compared ------------ - site, truck+narrow, 10.0 min: the blade clears" in screen(case)

    icy = replace(case, assumptions=replace(ASSUMED, mu_snow=0.02), timings=case.timings[:1])
    assert calibrate(icy).timings[0].why == "the truck, empty, has no grip to spare for pushing snow"
    assert "nothing can be fitted" in screen(icy)


# ---- the screen and the document


def test_one_timing_has_no_interval() -> None:
    """From one timing of twice the model's minutes the efficiency is 0.25, without interval and spread."""
    case = timed(plain_case(), 2.0)
    fit = calibrate(case).fit
    assert fit is not None
    assert (fit.count, fit.low, fit.high, fit.spread, fit.slope) == (1, None, None, None, None)
    said = screen(case)
    assert 'assumptions.job_efficiency = "25 %"' in said and "so there is no interval" in said
    assert "95 %" not in said


def test_a_narrow_interval_is_not_called_wide() -> None:
    """Three timings a thousandth apart have a deviation of 0.001 and with t(0.975, 2) = 4.303 (10 CFR 429
    Subpart B, Appendix A) an interval of 50 % e^(+-4.303 * 0.001 / sqrt(3)) = 49.9 % to 50.1 %: nothing is
    wide, and no factor of 1.00 is told. Deviations of 0.1188, as by hand above, are a factor of 1.13."""
    said = screen(timed(plain_case(), 1.0, exp(0.001), exp(-0.001)))
    assert "(95 % interval: 49.9 % to 50.1 %). So few as 3" in said
    assert "wide" not in said and "within a factor" not in said
    assert "two in three timings lie within a factor of 1.13" in screen(timed(plain_case(), 1.2, 1.0, 1.25))


def test_two_jobs_tell_nothing_of_proportions() -> None:
    """Two jobs timed twice each, one as in the model and one twice as long, have a slope that leaves 1 out;
    that is a difference between two jobs, and of proportions the screen says nothing. A third job tells."""
    model = [plow_model_min(TWO_SITES, n, 0, 0, DEPTHS_M[0]) for n in (0, 1)]
    assert model[0] is not None and model[1] is not None
    short, long = (Timing(TWO_SITES.sites[n].id, "truck", "plow", DEPTHS_M[0], (1 + n) * minutes)
                   for n, minutes in enumerate(model) if minutes is not None)
    rows = [replace(row, time_min=row.time_min * factor) for row in (short, long) for factor in (1.0, 1.001)]
    found = calibrate(replace(TWO_SITES, timings=tuple(rows)))
    assert found.fit is not None and found.fit.slope is not None and not found.fit.slope.proportional
    assert "proportional" not in screen(replace(TWO_SITES, timings=tuple(rows)))
    deep = plow_model_min(TWO_SITES, 1, 0, 0, DEPTHS_M[2])
    assert deep is not None and deep > model[1] + 0.1
    rows.append(Timing("yard", "truck", "plow", DEPTHS_M[2], 2 * deep))
    assert "proportional" in screen(replace(TWO_SITES, timings=tuple(rows)))


def test_no_timings_is_said_plainly() -> None:
    """A case without timings is told which table and which columns would hold them."""
    said = screen(plain_case())
    assert "The case has no timings" in said and "table timings (site, truck, plow, depth, time)" in said
    assert calibrate(plain_case()) == Calibration(0.5, (), (), None, None)


@pytest.mark.parametrize(("ratio", "percent"), [(0.4, "125 %"), (100.0, "0.5 %"), (1e-3, "over 1,000 %")])
def test_an_efficiency_that_no_case_takes_is_said_and_not_offered(ratio: float, percent: str) -> None:
    """Timings that ask for an efficiency above 100 % or below 1 % are reported, without a line to write."""
    case = timed(plain_case(), ratio)
    said = screen(case)
    assert f"A job efficiency of {percent} fits" in said
    assert "A case takes 1 % to 100 %, so this cannot be written" in said
    assert "job_efficiency =" not in said
    assert calibration_document(calibrate(case))["lines"] == []


def test_own_columns_are_told_apart_from_the_job_efficiency() -> None:
    """The screen says what a site's own timed columns do: where there are some, and where there are none."""
    assert "A site's own timed columns scale that site alone" in screen(with_own(plain_case(), 10.0))
    assert "fill in its own timed columns: they scale that site alone" in screen(timed(plain_case(), 1.0))


def test_units_change_depths_and_no_minutes() -> None:
    """The same timings print the same minutes in a US case: only the depth is 1.0 in and not 0.025 m."""
    case = replace(TWO_SITES, timings=(Timing("site", "truck", "plow", 0.0254, 8.0),
                                       Timing("yard", "truck", "plow", 0.0254, 90.0)))
    metric, american = screen(case), screen(replace(case, units="us"))
    assert "[m]" in metric and " 0.025 " in metric
    assert american == metric.replace("[m]", "[in]").replace(" 0.025 ", " 1.0 ")


def test_the_screen_is_eighty_columns_wide() -> None:
    """No line is wider than 80 columns, with long names, outliers, own timings and timings left out."""
    truck = replace(TRUCK, id="a-truck-with-a-very-long-name")
    plow = replace(PLOW, id="and-a-plow-with-one-too")
    long = replace(SITE, id="a-site-that-somebody-named-at-length", timed_min=9.0, timed_truck=truck.id,
                   timed_plow=plow.id, timed_depth_m=0.05)
    case = plain_case(trucks=(truck,), plows=(plow, replace(plow, id="none", width_m=1e-9)), sites=(long,))
    rows = [Timing(long.id, truck.id, plow.id, 0.01 * n, 10.0 if n < 6 else 123_456.7) for n in range(1, 7)]
    rows.append(Timing(long.id, truck.id, "none", 0.02, 5.0))
    case = replace(case, timings=tuple(rows), assumptions=replace(ASSUMED, overlap_m=0.1))
    text = calibration_text(case, calibrate(case))
    assert max(map(len, text.splitlines())) <= 80
    assert "outlier" in text and "site's own" in text and "Not compared" in text


def test_the_document_holds_the_record_and_the_line() -> None:
    """--json gets every timing, the fit and the line for case.toml, as plain JSON."""
    tree = json.loads(json.dumps(calibration_document(calibrate(timed(TWO_SITES, *[1.25] * 5))),
                                 allow_nan=False))
    assert tree["job_efficiency"] == 0.5 and tree["without_outliers"] is None
    assert len(tree["timings"]) == 5 and tree["timings"][0]["ratio"] == pytest.approx(1.25)
    assert tree["fit"]["efficiency"] == pytest.approx(0.4)
    assert tree["lines"] == ['assumptions.job_efficiency = "40 %"']


def test_the_statistics_library_is_loaded_only_when_something_is_fitted() -> None:
    """Importing cycle time, and with it the rest of the program, does not import scipy."""
    code = "import sys, optibuild.cycle_time.calibration\nassert 'scipy' not in sys.modules\n"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr

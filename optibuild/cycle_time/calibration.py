"""Timings against the model: ratios, outliers among them, and the job efficiency that fits.

Everything is fitted to logarithms, since errors of minutes are shares of them. Plowing minutes are inversely
proportional to job efficiency, so that the fit of one factor is the fit of the efficiency.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from operator import attrgetter

import numpy as np

from optibuild.cycle_time.plowing import effective_width_m
from optibuild.cycle_time.timed import plow_model_min
from optibuild.records.build import Floats
from optibuild.records.calibration import (
    FEW_TIMINGS,
    Calibration,
    ComparedTiming,
    EfficiencyFit,
    SiteRatio,
    Slope,
)
from optibuild.records.case import Case, Site, Timing
from optibuild.records.catalog import Plow

OUTLIER_SCORE = 3.5
"""Iglewicz and Hoaglin 1993; NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17."""
UPPER = 0.975
"""Quantile at the upper end of a 95 % interval."""
NOISE = 1e-9
"""Logarithms that differ by less are the same."""


def calibrate(case: Case) -> Calibration:
    """Every timing of the case beside the model's minutes, and the job efficiency that fits them."""
    rows = _scored([_compared(case, timing, own) for timing, own in _timings(case)])
    able = [row for row in rows if row.ratio is not None]
    good = [row for row in able if not row.outlier]
    return Calibration(
        case.assumptions.job_efficiency, tuple(rows), _by_site(able), _fit(case, able),
        _fit(case, good) if len(good) < len(able) else None,
    )


def _timings(case: Case) -> list[tuple[Timing, bool]]:
    """All timings in the order of sites, the sites' own (True) first; one that stands in both tables counts
    once."""
    own = dict.fromkeys(timing for site in case.sites if (timing := _own(site)) is not None)
    told = [(timing, True) for timing in own]
    told += [(timing, False) for timing in case.timings if timing not in own]
    place = {site.id: n for n, site in enumerate(case.sites)}
    return sorted(told, key=lambda row: place[row[0].site])


def _own(site: Site) -> Timing | None:
    if site.timed_truck is None or site.timed_plow is None:
        return None
    if site.timed_depth_m is None or site.timed_min is None:
        return None
    return Timing(site.id, site.timed_truck, site.timed_plow, site.timed_depth_m, site.timed_min)


def _compared(case: Case, timing: Timing, own: bool) -> ComparedTiming:
    site = [row.id for row in case.sites].index(timing.site)
    truck = [row.id for row in case.trucks].index(timing.truck)
    plow = [row.id for row in case.plows].index(timing.plow)
    model = plow_model_min(case, site, truck, plow, timing.depth_m)
    return ComparedTiming(
        timing.site, timing.truck, timing.plow, timing.depth_m, own, timing.time_min, model,
        _why_not(case, case.sites[site], case.plows[plow]) if model is None else None,
        None if model is None else timing.time_min / model,
    )


def _why_not(case: Case, site: Site, plow: Plow) -> str:
    """What keeps the model from plowing: no width, else no grip."""
    angle = 0.0 if site.snow_goes == "end" else plow.angle_rad
    if effective_width_m(np.asarray(plow.width_m), np.asarray(angle), case.assumptions.overlap_m) <= 0:
        return "the blade clears no more than the overlap of two passes"
    return "the truck, empty, has no grip to spare for pushing snow"


def modified_z_scores(values: Floats) -> Floats:
    """How far each value lies from the median, in robust standard deviations [T].

    0.6745 (x - median) / MAD. Source: as `OUTLIER_SCORE`. Where more than half the values are alike, so that
    MAD is 0, the mean absolute deviation times 1.253314 stands for MAD / 0.6745 (IBM Cognos Analytics
    documentation, modified z score).
    """
    away = values - np.median(values)
    scale = float(np.median(np.abs(away))) / 0.6745
    if scale < NOISE:
        scale = 1.253314 * float(np.mean(np.abs(away)))
    return away / scale if scale >= NOISE else np.zeros(len(values))


def _scored(rows: list[ComparedTiming]) -> list[ComparedTiming]:
    """The rows with scores, where there are enough: of normal samples of three or four, one in six to one in
    four has a value beyond the limit."""
    able = [row for row in rows if row.ratio is not None]
    if len(able) < FEW_TIMINGS:
        return rows
    scores = iter(modified_z_scores(np.log(_ratios(able))).tolist())
    return [row if row.ratio is None else _with_score(row, next(scores)) for row in rows]


def _with_score(row: ComparedTiming, score: float) -> ComparedTiming:
    return replace(row, score=score, outlier=abs(score) > OUTLIER_SCORE)


def _ratios(rows: Sequence[ComparedTiming]) -> Floats:
    return np.array([row.ratio for row in rows], dtype=float)


def _by_site(rows: Sequence[ComparedTiming]) -> tuple[SiteRatio, ...]:
    """Geometric means of rows that are in the order of sites."""
    logs = {site: np.log(_ratios([*some])) for site, some in groupby(rows, attrgetter("site"))}
    return tuple(SiteRatio(site, len(values), float(np.exp(values.mean()))) for site, values in logs.items())


def _fit(case: Case, rows: Sequence[ComparedTiming]) -> EfficiencyFit | None:
    if not rows:
        return None
    return fit_efficiency(case.assumptions.job_efficiency, np.array([row.model_min for row in rows]),
                          np.array([row.timed_min for row in rows]))


def fit_efficiency(job_efficiency: float, model_min: Floats, timed_min: Floats) -> EfficiencyFit:
    """The efficiency that makes model minutes [T] of this job efficiency fit timed ones [T] best.

    Least squares on logarithms with slope 1: ln(timed / model) has a mean, and Student's t gives its interval
    (NIST/SEMATECH e-Handbook 1.3.5.2). One timing has none.
    """
    from scipy.stats import t

    logs = np.log(timed_min / model_min)
    many, ratio = len(logs), float(np.exp(logs.mean()))
    efficiency = job_efficiency / ratio
    if many == 1:
        return EfficiencyFit(many, ratio, efficiency, None, None, None, None)
    deviation = float(logs.std(ddof=1))
    reach = float(np.exp(t.ppf(UPPER, many - 1) * deviation / np.sqrt(many)))
    return EfficiencyFit(many, ratio, efficiency, efficiency / reach, efficiency * reach,
                         float(np.exp(deviation)), _slope(np.log(model_min), np.log(timed_min)))


def _slope(log_model: Floats, log_timed: Floats) -> Slope | None:
    """Ordinary least squares of one on the other; None for two points and for model minutes all alike."""
    from scipy.stats import linregress, t

    if len(log_model) < 3 or np.ptp(log_model) < NOISE:
        return None
    line = linregress(log_model, log_timed)
    slope, error = float(line.slope), float(line.stderr)
    reach = float(t.ppf(UPPER, len(log_model) - 2)) * error
    return Slope(slope, error, slope - reach, slope + reach)

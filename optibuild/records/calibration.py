"""What timings say of plowing minutes: each of them beside the model, and the job efficiency that fits."""

from dataclasses import dataclass

FEW_TIMINGS = 5
"""Of fewer timings no outliers are told, and the interval of the fit is wide."""


@dataclass(frozen=True)
class ComparedTiming:
    """One plowing of a whole site as timed and by the model; `own` where it stands in the table of sites.

    `why` says what keeps the model from it; then there are no model minutes. `ratio` is timed over model,
    `score` the modified z-score of its logarithm among all; None where there are too few for that.
    """

    site: str
    truck: str
    plow: str
    depth_m: float
    own: bool
    timed_min: float
    model_min: float | None
    why: str | None
    ratio: float | None
    score: float | None = None
    outlier: bool = False


@dataclass(frozen=True)
class SiteRatio:
    """Geometric mean of timed over model minutes at one site."""

    site: str
    count: int
    ratio: float


@dataclass(frozen=True)
class Slope:
    """The `slope` of ln(timed) on ln(model) with its `standard_error` and 95 % interval from `low` to `high`,
    bare numbers: 1 where minutes are proportional."""

    slope: float
    standard_error: float
    low: float
    high: float

    @property
    def proportional(self) -> bool:
        """Whether the interval holds 1."""
        return self.low - 1e-6 <= 1.0 <= self.high + 1e-6


@dataclass(frozen=True)
class EfficiencyFit:
    """The job efficiency that fits `count` timings; `ratio` is the geometric mean of timed over model.

    `low` to `high` is the 95 % interval of the efficiency, `spread` the factor of one standard deviation of
    single timings; None for one timing. `slope` is None where model minutes are fewer than three or alike.
    """

    count: int
    ratio: float
    efficiency: float
    low: float | None
    high: float | None
    spread: float | None
    slope: Slope | None


@dataclass(frozen=True)
class Calibration:
    """All timings of a case, means by site, and the fit with outliers and without them.

    `fit` is None where nothing could be compared, `without_outliers` where there are no outliers.
    """

    job_efficiency: float
    timings: tuple[ComparedTiming, ...]
    sites: tuple[SiteRatio, ...]
    fit: EfficiencyFit | None
    without_outliers: EfficiencyFit | None

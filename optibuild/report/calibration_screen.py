"""Timings beside the model on the terminal and for --json, and the job efficiency to write into the case."""

from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any

from optibuild.assumptions import BY_NAME
from optibuild.records import FEW_TIMINGS, Calibration, Case, ComparedTiming, EfficiencyFit, Slope
from optibuild.report.console import heading, layout, number, paragraph
from optibuild.report.tables import Column, Table, count, minutes
from optibuild.units import quantity, shown, shown_unit

NO_TIMINGS = (
    "The case has no timings. Give it a table timings (site, truck, plow, depth, time), one row for each "
    "plowing of a whole site that was timed, or fill in timed, timed_truck, timed_plow and timed_depth of a "
    "site.")
SHOWN_SHARE = 10.0
"""Shares above are not told in digits."""
FEWEST_JOBS = 3
"""Of fewer jobs that take the model different minutes, nothing is said of proportions."""


def calibration_text(case: Case, found: Calibration) -> str:
    """Every timing with its ratio, means by site, the fit in words, and what the model could not do."""
    title = heading(f"Timings and the model: {case.name}")
    if not found.timings:
        return f"{title}\n\n{paragraph(NO_TIMINGS)}"
    parts = [title, paragraph(
        "The model's minutes are those of one plowing of the whole site by this truck and plow, with "
        f"assumptions.job_efficiency as the case has it, {_percent(found.job_efficiency)}, and without "
        "arriving and looking. Ratios are timed over model; means of them are geometric.")]
    able = [row for row in found.timings if row.ratio is not None]
    if able:
        parts.append(layout(_timings(case, able)))
    if len(found.sites) > 1:
        parts += [heading("By site"), layout(_sites(found))]
    parts.append(heading("Fit"))
    parts += _fit_words(found, found.fit) if found.fit else [
        paragraph("The model can do none of the timings, so that nothing can be fitted.")]
    parts += _not_compared(found)
    return "\n\n".join(parts)


def _timings(case: Case, rows: list[ComparedTiming]) -> Table:
    depth = Column("depth", shown_unit("length", case.units), 1 if case.units == "us" else 3)
    columns = (Column("site"), Column("truck and plow"), depth, minutes("model"), minutes("timed"),
               Column("ratio", "", 2), Column("note"))
    return Table(columns, tuple(
        (row.site, f"{row.truck}+{row.plow}", shown(row.depth_m, "length", case.units), row.model_min,
         row.timed_min, row.ratio, _note(row)) for row in rows))


def _note(row: ComparedTiming) -> str:
    return ", ".join(["the site's own"] * row.own + ["outlier"] * row.outlier)


def _sites(found: Calibration) -> Table:
    columns = (Column("site"), count("timings"), Column("mean ratio", "", 2))
    return Table(columns, tuple((row.site, row.count, row.ratio) for row in found.sites))


def _fit_words(found: Calibration, fit: EfficiencyFit) -> Iterator[str]:
    """What fits, whether one efficiency can, what to write, and what else scales minutes."""
    yield paragraph(f"A {_fitted(fit)}.{_few(fit)}{_one_site(found, fit)}")
    yield from _slope_words(fit.slope, found.timings)
    yield from _to_write(fit)
    if found.without_outliers is not None:
        yield from _without(found, fit, found.without_outliers)
    if any(row.own for row in found.timings):
        yield paragraph("A site's own timed columns scale that site alone, whatever the job efficiency is; "
                        "here its timing counts like any other.")
    else:
        yield paragraph("The job efficiency goes for all sites. Where one site differs, fill in its own "
                        "timed columns: they scale that site alone.")


def _fitted(fit: EfficiencyFit) -> str:
    one = fit.count == 1
    said = f"job efficiency of {_percent(fit.efficiency)} fits the {'' if one else f'{fit.count} '}"
    said += f"timing{'' if one else 's'} best"
    if fit.low is None or fit.high is None or fit.spread is None:
        return said
    said += f" (95 % interval: {_percent(fit.low)} to {_percent(fit.high)})"
    factor = number(fit.spread, 2)
    if factor == "1.00":
        return said
    return f"{said}; about two in three timings lie within a factor of {factor} of what it gives"


def _few(fit: EfficiencyFit) -> str:
    if fit.count == 1:
        return " One timing does not tell how far timings differ, so there is no interval."
    if fit.count < FEW_TIMINGS:
        return (f" So few as {fit.count} hardly tell how far timings differ, and the interval rests on that; "
                "outliers cannot be told.")
    return ""


def _one_site(found: Calibration, fit: EfficiencyFit) -> str:
    if len(found.sites) == 1 and fit.count > 1:
        return " All are of one site: what is special there is in the fit, and the interval does not show it."
    return ""


def _slope_words(slope: Slope | None, timings: Iterable[ComparedTiming]) -> Iterator[str]:
    """Whether minutes are proportional to the model's, where jobs differ enough, as shown, to tell."""
    jobs = {number(row.model_min, 1) for row in timings if row.model_min is not None}
    if slope is None or len(jobs) < FEWEST_JOBS:
        return
    figures = (f"ln(timed) on ln(model) has a slope of {number(slope.slope, 2)}, standard error "
               f"{number(slope.standard_error, 2)}, 95 % interval {number(slope.low, 2)} to "
               f"{number(slope.high, 2)}")
    if slope.proportional:
        yield paragraph(f"As far as these timings tell, minutes are proportional to the model's: {figures}.")
        return
    short, long = ("longer", "shorter") if slope.slope < 1 else ("shorter", "longer")
    yield paragraph(f"Minutes are not proportional to the model's: {figures}. Against the fit, short jobs "
                    f"take {short} and long ones {long}; sites' own timed columns say more than one "
                    "efficiency.")


def _to_write(fit: EfficiencyFit) -> Iterator[str]:
    written = line(fit)
    if written is None:
        low, high = BY_NAME["job_efficiency"].allowed
        yield paragraph(f"A case takes {low} to {high}, so this cannot be written. The timings, the depths "
                        "or the areas are not what they seem, or assumptions.plow_speed is far off.")
    else:
        yield f"{paragraph('To use it, set in case.toml:')}\n{paragraph(written, '  ')}"


def _without(found: Calibration, fit: EfficiencyFit, rest: EfficiencyFit) -> Iterator[str]:
    left_out = fit.count - rest.count
    yield paragraph(
        f"Without the {left_out} outlier{'' if left_out == 1 else 's'} (modified z-score above 3.5 of all "
        f"timings): a {_fitted(rest)}. An outlier may be a slip or a site that "
        "differs; look at it before you leave it out.")
    yield from _slope_words(rest.slope, (row for row in found.timings if not row.outlier))
    yield from _to_write(rest)


def line(fit: EfficiencyFit) -> str | None:
    """The line of case.toml that sets the fitted efficiency; None where a case does not take it."""
    low, high = (quantity(text, "share") for text in BY_NAME["job_efficiency"].allowed)
    if not low <= round(fit.efficiency, 3) <= high:
        return None
    return f'assumptions.job_efficiency = "{_percent(fit.efficiency)}"'


def _percent(value: float) -> str:
    if value > SHOWN_SHARE:
        return f"over {number(100 * SHOWN_SHARE, 0)} %"
    return f"{number(100 * value, 1).removesuffix('.0')} %"


def _not_compared(found: Calibration) -> list[str]:
    rows = [row for row in found.timings if row.why is not None]
    if not rows:
        return []
    told = (paragraph(f"{row.site}, {row.truck}+{row.plow}, {number(row.timed_min, 1)} min: {row.why}", "- ")
            for row in rows)
    return [heading("Not compared"), "\n".join(told)]


def calibration_document(found: Calibration) -> dict[str, Any]:
    """What --json prints: the record in inner units, and the lines for case.toml that follow from it."""
    fits = (found.fit, found.without_outliers)
    return {**asdict(found), "lines": [written for fit in fits if fit and (written := line(fit))]}

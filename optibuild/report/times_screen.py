"""Service times on the terminal: the fastest build at every site, what is out of reach, one stop's sheet."""

from optibuild.records import Builds, Case, OutOfReach, ServiceTimes
from optibuild.report.console import clean, heading, layout, number, paragraph
from optibuild.report.reach import Reached, reached_rows
from optibuild.report.remedies import remedies
from optibuild.report.tables import Column, Table, Units, count, minutes
from optibuild.units import conversion, shown, shown_unit

DECIMALS = {"time": 2, "mass": 1, "area": 3, "speed": 1, "areal_rate": 1, "count": 0, "number": 2}
LONG_M = 3.0
"""In US cases lengths from here on are shown in feet."""


def times_text(case: Case, builds: Builds, times: ServiceTimes, site: str | None) -> str:
    """One row for each work of each site, then the works out of reach with what would help."""
    rows = [row for row in reached_rows(case, times) if site in (None, row.site)]
    away = [row for row in times.out_of_reach if site in (None, row.site)]
    parts = [heading(f"Service times: {case.name}"), paragraph(
        "Minutes are those of one parcel in the design storm: arrive, look and log, plow, deice, and "
        "reloading what it uses. A build is counted where it can make that stop alone in time.")]
    within = [row for row in rows if row.crewed]
    if within:
        parts.append(layout(_table(builds, times, within)))
    if site is not None:
        parts += [_builds_at(case, builds, times, row) for row in within]
    if away:
        parts.append("\n\n".join([heading("Out of reach"), *(_away(case, row) for row in away)]))
    return "\n\n".join(parts)


def _table(builds: Builds, times: ServiceTimes, rows: list[Reached]) -> Table:
    columns = (Column("site"), Column("work"), count("parcels"), Column("cycle limit", "min", 0),
               Column("fastest build"), minutes("one parcel"), count("builds in reach"),
               Column("limited by"))
    return Table(columns, tuple(
        (row.site, row.work, row.parcels, row.limit_min, builds.name(times.build[row.crewed[k]]),
         float(row.minutes[row.crewed[k]]), len({int(times.build[c]) for c in row.crewed}), row.binds)
        for row in rows for k in [row.crewed.index(row.fastest)] if row.fastest is not None))


def _builds_at(case: Case, builds: Builds, times: ServiceTimes, row: Reached) -> str:
    """Every build that reaches one work, the fastest first."""
    columns = (Column("build"), count("ballast units"), Column("depot"), Column("cycle limit", "min", 0),
               minutes("one parcel"))
    ordered = sorted(row.crewed, key=lambda c: (float(row.minutes[c]), int(c)))
    table = Table(columns, tuple(
        (builds.name(times.build[c]), int(builds.units[times.build[c]]), case.depots[times.depot[c]].id,
         float(times.clocks_min[row.clock[c]]), float(row.minutes[c])) for c in ordered))
    return f"{heading(f'{clean(row.site)}, {row.work}: every build in reach')}\n\n{layout(table)}"


def away_words(case: Case, site: str, work: str, reason: str, nearest: str | None, over_by: float | None,
               unit: str | None) -> str:
    """What stands in the way of a work that no build can do, in one sentence."""
    if nearest is None or over_by is None:
        return f"{site}, {work}: {reason}"
    value, shown_as = Units(case.units).any(over_by, unit or "")
    return f"{site}, {work}: {reason} missed by {number(value, 1)} {shown_as}; nearest build {nearest}"


def _away(case: Case, row: OutOfReach) -> str:
    said = paragraph(away_words(case, row.site, row.work, row.reason, row.nearest, row.over_by, row.unit))
    helps = remedies(case, row.site, row.work, row.reason, row.over_by)
    return "\n".join([said, *(paragraph(text, "  - ") for text in helps)])


def stop_sheet(case: Case, site: str, build: str, lines: tuple[tuple[str, float | str, str], ...]) -> str:
    """Every figure of one stop, in the order of the arithmetic."""
    table = Table((Column("figure"), Column("value"), Column("unit")),
                  tuple((label, *_figure(case, value, dimension)) for label, value, dimension in lines))
    wide = max(len(str(row[1])) for row in table.rows)
    rows = tuple((row[0], str(row[1]).rjust(wide), row[2]) for row in table.rows)
    return f"{heading(f'{build} at {site}, one parcel')}\n\n{layout(Table(table.columns, rows))}"


def _figure(case: Case, value: float | str, dimension: str) -> tuple[str, str]:
    if isinstance(value, str):
        return value, ""
    if dimension in ("count", "number"):
        return number(value, DECIMALS[dimension]), ""
    if dimension == "length":
        return _length(case, value)
    return number(shown(value, dimension, case.units), DECIMALS[dimension]), shown_unit(dimension, case.units)


def _length(case: Case, value: float) -> tuple[str, str]:
    if case.units == "us" and value >= LONG_M:
        return number(conversion("ft", "length").from_inner(value), 1), "ft"
    return number(shown(value, "length", case.units), 1 if case.units == "us" else 2), shown_unit(
        "length", case.units)

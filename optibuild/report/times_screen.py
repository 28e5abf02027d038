"""Service times on the terminal: the fastest build at every site, what is out of reach, one stop's sheet."""

from collections.abc import Sequence

from optibuild.records import Builds, Case, OutOfReach, ServiceTimes
from optibuild.records.loop import Roundabout
from optibuild.report.console import clean, heading, layout, number, paragraph
from optibuild.report.reach import Reached, reached_rows
from optibuild.report.remedies import remedies
from optibuild.report.tables import Column, Table, Units, count, minutes
from optibuild.units import conversion, shown, shown_unit

DECIMALS = {"time": 3, "mass": 1, "area": 3, "speed": 2, "areal_rate": 2, "count": 0, "number": 4,
            "share": 1, "density": 2, "angle": 1, "mass_rate": 1}
LARGE_AREA = {"us": "acre", "si": "ha"}
"""Units of areas worked."""
CARRYING = "carrying: taking snow off one full blade at a time, as where the windrows cannot hold more."
MODEL = "These minutes are a model until you time a lot (table timings, times --calibrate)."
LONG_M = 3.0
"""In US cases lengths from here on are shown in feet."""


def times_text(case: Case, builds: Builds, times: ServiceTimes, ways: Sequence[Roundabout],
               sites: Sequence[str]) -> str:
    """One row for each work of each site, then the works out of reach with what would help.

    `sites` are those asked for, with every build that reaches them; all where there are none.
    """
    rows = [row for row in reached_rows(case, times) if not sites or row.site in sites]
    away = [row for row in times.out_of_reach if not sites or row.site in sites]
    parts = [heading(f"Service times: {case.name}"), paragraph(
        "Minutes are those of one parcel in the design storm, at the longest cycle limit at which a build "
        "can make that stop alone in time: arrive, look and log, plow, deice, and reloading what it uses, by "
        "the fastest build (--site ID lists every build, --explain SITE BUILD each figure). "
        "'working' is the area plowed and deiced in an hour, without the rest; "
        "'limited by' is what takes most of it.")]
    within = [row for row in rows if row.crewed]
    if within:
        parts.append(layout(_table(case, times, within)))
    if sites:
        parts += [_builds_at(case, builds, times, row) for row in within]
    parts += map(paragraph, _notes(case, within, bool(sites)))
    if away:
        parts.append("\n\n".join([heading("Out of reach"), *(_away(case, row) for row in away)]))
    if ways and not sites:
        parts.append(_roundabouts(case, ways))
    return "\n\n".join(parts)


def _notes(case: Case, rows: list[Reached], every_build: bool) -> list[str]:
    """What of the builds shown needs a word, and that the minutes are a model where nothing was timed."""
    told = {row.slowest_part(c) for row in rows for c in row.crewed if every_build or c == row.fastest}
    timed = bool(case.timings) or any(site.timed_min is not None for site in case.sites)
    return [CARRYING] * ("carrying" in told) + [MODEL] * (bool(rows) and not timed)


def _roundabouts(case: Case, ways: Sequence[Roundabout]) -> str:
    """Given legs that a way round beats, the worst by name."""
    worst = ways[0]
    legs = "1 leg" if len(ways) == 1 else f"{len(ways)} legs"
    slowed = " (minutes of the storm, slowdown included)" if case.storm.slowdown else ""
    said = (f"{legs} of the travel table can be driven faster by way of another place, and so trucks go. "
            f"Most is saved from {clean(worst.origin)} to {clean(worst.destination)}: "
            f"{number(worst.faster_min, 1)} min by way of {clean(worst.via)}, not "
            f"{number(worst.direct_min, 1)} min{slowed}. See that the table is right.")
    return f"{heading('Ways round')}\n{paragraph(said)}"


def _table(case: Case, times: ServiceTimes, rows: list[Reached]) -> Table:
    """One row for each work, with the figures of its fastest build."""
    columns = (Column("site"), Column("work"), count("parcels"), Column("cycle limit", "min", 0),
               minutes("one parcel"), area_rate(case), count("builds in reach"), Column("limited by"))
    return Table(columns, tuple(
        (row.site, row.work, row.parcels, row.told_at_min(times.clocks_min, c), float(row.minutes[c]),
         _per_hour(case, row, c), len({int(times.build[one]) for one in row.crewed}), row.slowest_part(c))
        for row in rows if (c := row.fastest) is not None))


def area_rate(case: Case) -> Column:
    """A column of area worked in an hour: plowing and deicing alone, without arriving and reloading."""
    return Column("working", f"{LARGE_AREA[case.units]}/h", 2)


def _per_hour(case: Case, row: Reached, crewed: int) -> float:
    return conversion(LARGE_AREA[case.units], "area").from_inner(row.area_rate(crewed))


def _builds_at(case: Case, builds: Builds, times: ServiceTimes, row: Reached) -> str:
    """Every build that reaches one work, the fastest first."""
    columns = (Column("build"), count("ballast units"), Column("depot"), Column("cycle limit", "min", 0),
               minutes("one parcel"), area_rate(case), Column("limited by"))
    ordered = sorted(row.crewed, key=lambda c: (-int(row.clock[c]), float(row.minutes[c]), int(c)))
    table = Table(columns, tuple(
        (builds.name(times.build[c]), int(builds.units[times.build[c]]), case.depots[times.depot[c]].id,
         row.told_at_min(times.clocks_min, c), float(row.minutes[c]), _per_hour(case, row, c),
         row.slowest_part(c))
        for c in ordered))
    return f"{heading(f'{clean(row.site)}, {row.work}: every build in reach')}\n\n{layout(table)}"


def away_words(case: Case, row: OutOfReach) -> str:
    """What stands in the way of a work that no build can do, in one sentence."""
    if row.nearest is None or row.over_by is None:
        return f"{row.site}, {row.work}: {row.reason}"
    value, unit = Units(case.units).any(row.over_by, row.unit or "")
    missed = f"missed by {number(value, 1)} {unit}; nearest build {row.nearest}"
    return f"{row.site}, {row.work}: {row.reason} {missed}"


def _away(case: Case, row: OutOfReach) -> str:
    return "\n".join([paragraph(away_words(case, row)), *(paragraph(text, "  - ")
                                                          for text in remedies(case, row))])


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

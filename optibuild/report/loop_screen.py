"""The best loop of one build over the sites asked for, by the clock."""

from dataclasses import asdict
from math import isfinite
from typing import Any

from optibuild.records import (
    Builds,
    Case,
    LoopReport,
    LoopTimes,
    OutOfReach,
    RoundTimes,
    ServiceTimes,
    Site,
)
from optibuild.report.console import clean, heading, layout, number, paragraph
from optibuild.report.tables import Cell, Column, Table, Units, minutes

SITES_ALONE = "Each of these sites can be done from some depot, but not all of them from one."


def loop_text(case: Case, builds: Builds, times: ServiceTimes, found: LoopReport) -> str:
    """The loop stop by stop, the last round beside it; or what stands in its way."""
    build = builds.name(found.build)
    if found.loop is None or found.crewed is None:
        return f"{heading(f'No loop of {build}')}\n{_no_loop(case, builds, found)}"
    depot, loop = case.depots[times.depot[found.crewed]].id, found.loop
    said = [_round(title, case, told) for title, told in (("Loop", loop), ("Last round", loop.end))
            if told is not None and told.leave_min.count(None) < len(loop.stops)]
    top = "\n".join([heading(f"Best loop of {build} from {depot}"), *said, _binds(case, times, loop)])
    return f"{top}\n\n{layout(_stops(case, times, loop, depot))}"


def _no_loop(case: Case, builds: Builds, found: LoopReport) -> str:
    name = builds.name(found.build)
    if not builds.fits[found.build]:
        return paragraph(f"It does not fit: `optibuild fit CASE --explain {name}` tells why.")
    if not found.out_of_reach:
        return paragraph(SITES_ALONE)
    return "\n".join([paragraph("What it misses at each of these sites alone, taken whole:"), "",
                      *(paragraph(_missed(case, row), "  - ") for row in found.out_of_reach)])


def _missed(case: Case, row: OutOfReach) -> str:
    missed = ""
    if row.over_by is not None:
        value, unit = Units(case.units).any(row.over_by, row.unit or "")
        missed = f", missed by {number(value, 1)} {unit}"
    return f"{row.site}, {row.work}: {row.reason}{missed}"


def _round(title: str, case: Case, told: RoundTimes) -> str:
    units = Units(case.units)
    reloads = f", {told.reloads} reload{'s' if told.reloads > 1 else ''}" if told.reloads else ""
    kept = f" beside the reserve of {number(case.solve.reserve_min, 0)} min" if case.solve.reserve_min else ""
    left = f"{number(abs(told.slack_min), 1)} min {'left' if told.in_time else 'too long'}{kept}"
    road = f"{number(units.meters_driven(told.distance_m), 1)} {units.road('').unit}"
    return paragraph(f"{number(told.duration_min, 1)} of {number(told.within_min, 0)} min, {left}; driving "
                     f"{number(told.drive_min, 1)} min over {road}{reloads}", f"{title:<12}")


def _binds(case: Case, times: ServiceTimes, loop: LoopTimes) -> str:
    """The limit that binds; where one is broken, that no order keeps all."""
    binds = loop.binds
    value, unit = Units(case.units).any(abs(binds.left), "kg" if binds.limit == "fill" else "min")
    after = {"deadline": " of ", "fill": " after "}.get(binds.limit, "")
    where = "" if binds.at is None else after + clean(case.sites[times.stops[loop.stops[binds.at]].site].id)
    amount = f"{binds.limit}{where}, {number(value, 1)} {unit}"
    if binds.left < 0:
        return paragraph(f"{amount} over. No order of these stops keeps all limits; this is the shortest.",
                         f"{'Broken':<12}")
    return paragraph(f"{amount} left", f"{'Binds':<12}")


def _stops(case: Case, times: ServiceTimes, loop: LoopTimes, depot: str) -> Table:
    """The stops in their order with reloads and the way home, the last round beside the others."""
    rows: list[tuple[Cell, ...]] = []
    for n, s in enumerate(loop.stops):
        rows += [(said, *(None,) * 6) for said in _reload(loop, n, depot)]
        site = case.sites[times.stops[s].site]
        rows.append((site.id, _work(site, times.stops[s].work), loop.arrive_min[n], loop.leave_min[n],
                     _deadline_min(case, times, loop, n), *_last(loop.end, n)))
    rows.append((f"{depot}, ready", None, None, loop.duration_min, None, None,
                 loop.end.duration_min if loop.end else None))
    columns = (Column("stop"), Column("work"), minutes("arrive"), minutes("leave"),
               Column("deadline", "min", 0), minutes("last round: arrive"), minutes("last round: leave"))
    return Table(columns, tuple(rows)) if loop.end else Table(columns[:5], tuple(row[:5] for row in rows))


def _reload(loop: LoopTimes, n: int, depot: str) -> list[str]:
    """Where a round reloads before a stop: which one does."""
    often, last = loop.reload_before[n], loop.end is not None and loop.end.reload_before[n]
    if not often and not last:
        return []
    if loop.end is None or (often and last):
        return [f"reload at {depot}"]
    return [f"reload at {depot}, {'the last round only' if last else 'not the last round'}"]


def _work(site: Site, work: str) -> str:
    """A stop's work; deicing that waits for the last round is marked."""
    if work == "plow" or not site.deiced_at_end:
        return work
    return "plow, deice last" if work == "both" else "deice last"


def _deadline_min(case: Case, times: ServiceTimes, loop: LoopTimes, n: int) -> float | None:
    """The deadline of a stop; None where it has none, or only the last round makes it."""
    deadline = case.sites[times.stops[loop.stops[n]].site].deadline_min
    return deadline if isfinite(deadline) and loop.arrive_min[n] is not None else None


def _last(end: RoundTimes | None, n: int) -> tuple[float | None, float | None]:
    return (None, None) if end is None else (end.arrive_min[n], end.leave_min[n])


def loop_document(case: Case, builds: Builds, times: ServiceTimes, found: LoopReport) -> dict[str, Any]:
    """The same for --json, with the names of plan.json; `loop` is null where there is none."""
    depot = None if found.crewed is None else case.depots[times.depot[found.crewed]].id
    return {"build": builds.name(found.build), "fits": bool(builds.fits[found.build]), "depot": depot,
            "loop": None if found.loop is None else _loop(case, times, found.loop),
            "out_of_reach": [_away(row) for row in found.out_of_reach]}


def _away(row: OutOfReach) -> dict[str, Any]:
    """A row as in `times`, without remedies: none are sought for one build alone."""
    return {name: value for name, value in asdict(row).items() if name != "remedies"}


def _loop(case: Case, times: ServiceTimes, loop: LoopTimes) -> dict[str, Any]:
    binds, end = loop.binds, loop.end
    return {
        "keeps_all_limits": binds.left >= 0, "cycle_limit_min": loop.within_min, **_sums(loop),
        "end_round": None if end is None else {"within_min": end.within_min, **_sums(end)},
        "binds": {"limit": binds.limit, "left": binds.left, "unit": "kg" if binds.limit == "fill" else "min",
                  "stop_no": None if binds.at is None else binds.at + 1},
        "stops": [_stop(case, times, loop, n) for n in range(len(loop.stops))]}


def _sums(told: RoundTimes) -> dict[str, Any]:
    return {name: getattr(told, name) for name in (
        "duration_min", "slack_min", "drive_min", "reload_min", "distance_m", "reloads")}


def _stop(case: Case, times: ServiceTimes, loop: LoopTimes, n: int) -> dict[str, Any]:
    stop, end = times.stops[loop.stops[n]], loop.end
    site, (arrive, leave) = case.sites[stop.site], _last(end, n)
    return {
        "site": site.id, "parcels": stop.parcels, "work": stop.work,
        "deice_when": None if stop.work == "plow" else site.deice_when,
        "reload_before": loop.reload_before[n], "arrive_min": loop.arrive_min[n],
        "leave_min": loop.leave_min[n], "deadline_min": _deadline_min(case, times, loop, n),
        "end_reload_before": None if end is None else end.reload_before[n], "end_arrive_min": arrive,
        "end_leave_min": leave}

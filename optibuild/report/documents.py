"""What --json prints for `check`, `fit` and `times`: plain trees of lists and numbers in inner units."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from optibuild.errors import Problem
from optibuild.records import NONE, BuildDetails, Builds, Case, OutOfReach, Reason, ServiceTimes, Verdict
from optibuild.records.loop import Roundabout
from optibuild.report.reach import Reached, reached_rows
from optibuild.report.remedies import remedies

COUNTED = ("trucks", "plows", "spreaders", "ballast", "materials", "depots", "sites", "season", "travel",
           "mounts", "timings", "past_winters", "contracts")


def counts(case: Case) -> dict[str, int]:
    """How many rows each table has."""
    return {name: len(getattr(case, name)) for name in COUNTED}


def check_document(case: Case | None, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """The result of `check`; counts are null where the case cannot be used."""
    return {"ok": case is not None, "problems": [asdict(row) for row in problems],
            "counts": counts(case) if case else None}


def fit_document(case: Case, builds: Builds, chosen: Iterable[int], verdicts: Mapping[int, Verdict],
                 near: Collection[int], details: Mapping[int, BuildDetails]) -> dict[str, Any]:
    """The result of `fit` for the chosen builds, with moments, sensitivity and remedies of those that have
    `details`."""
    return {"builds": [{**_build(case, builds, b, verdicts[b], b in near), **_details(details.get(b))}
                       for b in chosen]}


def _details(found: BuildDetails | None) -> dict[str, Any]:
    if found is None:
        return {}
    return {"moments": [asdict(row) for row in found.moments], "sensitivity": asdict(found.sensitivity),
            "would_fit": None if found.would_fit is None else asdict(found.would_fit)}


def _build(case: Case, builds: Builds, b: int, verdict: Verdict, near: bool) -> dict[str, Any]:
    plow, spreader, kit = int(builds.plow[b]), int(builds.spreader[b]), int(builds.kit[b])
    ballast = [] if kit == NONE else [
        {"id": case.ballast[kit].id, "count": int(builds.units[b]), "mass_kg": float(builds.ballast_kg[b])}]
    return {
        "build": builds.name(b), "truck": case.trucks[builds.truck[b]].id,
        "plow": None if plow == NONE else case.plows[plow].id,
        "spreader": None if spreader == NONE else case.spreaders[spreader].id,
        "fits": bool(builds.fits[b]), "near_rating": near, "binds": verdict.binds, "ballast": ballast,
        "rated_fill_kg": float(builds.rated_fill_kg[b]), "retained_fill_kg": float(builds.retained_kg[b]),
        "axle_loads": [asdict(row) for row in verdict.axle_loads],
        "reasons": [_reason(row) for row in verdict.reasons], "flags": list(verdict.flags),
    }


def _reason(row: Reason) -> dict[str, Any]:
    weighed = row.unit == "kg"
    return {"state": row.state or None, "crew": row.crew or None, "rating": row.rating,
            "load_kg": row.load if weighed else None, "rating_kg": row.limit if weighed else None,
            "over_kg": row.over if weighed else None, "load": row.load, "limit": row.limit,
            "over": row.over, "unit": row.unit}


def times_document(case: Case, builds: Builds, times: ServiceTimes, ways: Sequence[Roundabout],
                   sites: Sequence[str]) -> dict[str, Any]:
    """The result of `times`: minutes of every build at one parcel, the works out of reach, and legs of the
    travel table that a way round beats; of these sites, or of all where none is named."""
    rows = [row for row in reached_rows(case, times) if not sites or row.site in sites]
    away = [row for row in times.out_of_reach if not sites or row.site in sites]
    return {"times": [entry for row in rows for entry in _minutes(case, builds, times, row)],
            "out_of_reach": [_away(case, row) for row in away],
            "ways_round": [asdict(row) for row in ways]}


def stop_document(site: str, build: str, lines: Sequence[tuple[str, float | str, str]]) -> dict[str, Any]:
    """The sheet of one stop."""
    rows = [{"figure": label, "value": value, "dimension": kind} for label, value, kind in lines]
    return {"site": site, "build": build, "lines": rows}


def _minutes(case: Case, builds: Builds, times: ServiceTimes, row: Reached) -> Iterable[dict[str, Any]]:
    for c in row.crewed:
        yield {"site": row.site, "parcels": row.parcels, "work": row.work,
               "build": builds.name(times.build[c]), "depot": case.depots[times.depot[c]].id,
               "cycle_limit_min": row.told_at_min(times.clocks_min, c), "minutes": float(row.minutes[c]),
               "area_m2_per_hour": row.area_rate(c), "binds": row.slowest_part(c)}


def _away(case: Case, row: OutOfReach) -> dict[str, Any]:
    changes = [asdict(remedy) for remedy in row.remedies]
    return {**asdict(row), "remedies": list(remedies(case, row)), "changes": changes}

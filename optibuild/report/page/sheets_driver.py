"""A driver's sheet: the stops of a truck's loop in order, by the clock, with all that holds there."""

from collections.abc import Mapping, Sequence
from math import isfinite

from optibuild.cautions import COLD, PLAN, SPLIT
from optibuild.records import Case, Plan, PlannedStop, PlannedTruck, Site
from optibuild.report.console import number
from optibuild.report.page.blocks import Grid, Lines, Under, Words
from optibuild.report.page.sheets_words import (
    Blanks,
    Sheet,
    amount,
    depth,
    fill_lines,
    in_minutes,
    spreader_of,
)
from optibuild.report.plan_tables import Round, rounds
from optibuild.report.tables import Cell, Column, Table, Units, without_empty

EACH = "Repeat it through the storm. Minutes are counted from its start; a deadline holds in the first one."
LAST = "It is driven once, instead of the last of the rounds above. Minutes are counted from its own start."
ONLY = "It is driven once a storm. Minutes are counted from its start."


def driver_sheet(truck: PlannedTruck, plan: Plan, case: Case, sites: Mapping[str, Site],
                 parcels: Mapping[str, int]) -> Sheet:
    """Stops in order with their minutes, works, limits and reloads; the last round where it differs.

    `sites` and `parcels`: every site of the case, and into how many parcels the plan divides it, by id.
    """
    fill, told = fill_lines(truck, case), rounds(truck.loop)
    tables = [_round(one, truck, plan, case, sites, parcels, len(told) > 1) for one in told]
    return Sheet(
        "driver", f"driver-{truck.truck_no}", "For the driver",
        f"Driver of truck {truck.truck_no}",
        f"{truck.build}, from {truck.depot}",
        [*([] if fill is None else [fill]), Lines([("Shift", _shift(case))]),
         Blanks(("Driver", "Date", "Started at")), *tables,
         Words("", _cautions(truck, plan, sites), quiet=True)])


def _shift(case: Case) -> str:
    """How long a storm may keep the driver, and when another takes over."""
    longest = max((event.duration_min for event in case.season), default=0.0)
    relief = (f"another driver takes over after {number(case.crew.shift_min / 60.0, 1)} h"
              if isfinite(case.crew.shift_min) else "no limit is set: plan rest and relief")
    return f"the longest event expected lasts {number(longest / 60.0, 1)} h; {relief}"


def _round(told: Round, truck: PlannedTruck, plan: Plan, case: Case, sites: Mapping[str, Site],
           parcels: Mapping[str, int], both: bool) -> Grid:
    """One kind of round: its stops and reloads, the way home, what it takes and by when it must be over.

    Few columns, and what does not fit beside them under the stop: the sheet is read on a phone as well.
    """
    kind, visits, limit_min, takes = told
    each, units = kind == "each", Units(case.units)
    title = (f"Every round: starts again within {in_minutes(limit_min)}" if each
             else f"Last round of a storm: over within {in_minutes(limit_min)}")
    columns = (Column("stop"), *(Column(word, "min", 0) for word in ("arrive by", "leave by", "deadline")))
    rows: list[tuple[Cell, ...]] = []
    under: list[Under | None] = []
    kept = [stop for stop in truck.loop.stops if not each or stop.arrive_min is not None]
    for no, (stop, (_, reload)) in enumerate(zip(kept, visits, strict=True), 1):
        if reload:
            rows.append((f"reload at {truck.depot}", None, None, None))
            under.append(None)
        site = sites[stop.site]
        rows.append((f"{no}. {site.name or site.id}", *(
            (stop.arrive_min, stop.leave_min, stop.deadline_min) if each
            else (stop.end_arrive_min, stop.end_leave_min, None))))
        under.append(_under(stop, each, truck, site, case, _parcels(stop, truck, plan, parcels[stop.site])))
    full = ", reloaded" if takes.reloads > sum(reload for _, reload in visits) else ""
    rows.append((f"back at {truck.depot}{full}", takes.duration_min, None, None))
    road = f"{number(units.meters_driven(takes.distance_m), 1)} {units.road('').unit}"
    said = f"{in_minutes(takes.drive_min)} of driving over {road}. {EACH if each else LAST if both else ONLY}"
    return Grid(title, without_empty(Table(columns, tuple(rows))), said, under=(*under, None))


def _parcels(stop: PlannedStop, truck: PlannedTruck, plan: Plan, in_all: int) -> str:
    """How many parcels of how many, and which trucks do the same work at the rest."""
    if in_all == 1:
        return "the whole site"
    told = f"{stop.parcels} of {in_all} parcels"
    others = [str(row.truck_no) for row in plan.trucks if row is not truck and any(
        other.site == stop.site and (other.work == stop.work or "both" in (other.work, stop.work))
        for other in row.loop.stops)]
    if stop.parcels == in_all or not others:
        return told
    return f"{told}, the rest: truck{'s' if len(others) > 1 else ''} {', '.join(others)}"


def _under(stop: PlannedStop, each: bool, truck: PlannedTruck, site: Site, case: Case, parcels: str) -> Under:
    """Works of a stop in one kind of round, parcels, material, the tightest of their limits, and where it is;
    what waits for the last round is left to that."""
    plows, spreads = stop.work != "deice", stop.work != "plow" and (not each or stop.deice_when == "each")
    spreader = spreader_of(truck, case)
    works = [f"plow from {depth(site.trigger_m, case)}"] if plows else []
    works += ["deice"] if spreads else []
    material = ([f"{amount(stop.material_kg, 'mass', case, 0)} of {case.material(spreader).id}"]
                if spreads and spreader is not None else [])
    limits = [limit for limit, asked in ((site.plow_every_min, plows), (site.deice_every_min, spreads))
              if asked and limit is not None]
    limit = [f"cycle limit {in_minutes(min(limits))}"] if each and limits else []
    return Under("; ".join((", ".join(works), parcels, *material, *limit)), site.lat_deg, site.lon_deg)


def _cautions(truck: PlannedTruck, plan: Plan, sites: Mapping[str, Site]) -> Sequence[str]:
    """Fatigue and salt first; those of the plan that touch this truck."""
    shared = any(sites[stop.site].split_works for stop in truck.loop.stops)
    return [*PLAN, *([SPLIT] if shared else []),
            *([COLD] if truck.spreader is not None and COLD in plan.cautions else [])]

"""Coverage: every work of every site served is done on all its parcels, and the site rows say so."""

from collections.abc import Iterator

from optibuild.plan.recheck_loops import Driven
from optibuild.plan.recheck_margins import MINUTE, Margin, at_least, claim, same
from optibuild.plan.recheck_tasks import Task, in_every_round
from optibuild.records import Case, Plan, PlannedSite, PlannedStop, ServedWork, Site


def coverage_margins(plan: Plan, case: Case, loops: list[Driven]) -> Iterator[Margin]:
    """Parcels of every work of every site served; a site that must be served is listed as served."""
    rows = {row.id: row for row in plan.sites}
    for site in case.sites:
        row = rows.get(site.id)
        yield claim(row is not None and (row.served or not site.must_serve), f"site {site.id}, served")
        if row is not None:
            yield from _parcel_margins(row, site, loops)


def _parcel_margins(row: PlannedSite, site: Site, loops: list[Driven]) -> Iterator[Margin]:
    done = {"plow": _parcels(site, loops, "plow"), "deice": _parcels(site, loops, "deice")}
    asked = [work for work, wanted in (("plow", site.plowed), ("deice", site.deiced)) if wanted]
    if row.served:
        yield from (at_least(done[work], row.parcels, f"site {site.id}, {work}") for work in asked)
    else:
        left_out = any(done[work] < row.parcels for work in asked)
        yield claim(left_out, f"site {site.id}, listed as left out")


def _parcels(site: Site, loops: list[Driven], work: str) -> int:
    return sum(stop.parcels for loop in loops for _, stop, job in loop.stops()
               if job.site is site and (job.plows if work == "plow" else job.deices))


def stop_margins(plan: Plan, case: Case, loops: list[Driven]) -> Iterator[Margin]:
    """Every stop does a work that its site asks, in one of the ways allowed, on parcels that are there, and
    deices in the rounds that the site asks."""
    parcels = {row.id: row.parcels for row in plan.sites}
    for loop in loops:
        for where, stop, job in loop.stops():
            yield claim(stop.work in _ways(job.site), where + ", work")
            yield claim(1 <= stop.parcels <= parcels.get(stop.site, 0), where + ", parcels")
            yield claim(stop.deice_when == (job.site.deice_when if job.deices else None),
                        where + ", deiced when")


def _ways(site: Site) -> tuple[str, ...]:
    if site.work != "both":
        return (site.work,)
    return ("both", "plow", "deice") if site.split_works else ("both",)


def parcel_count_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """A site has as many parcels as the user says, else from 1 to the most allowed."""
    sites = {site.id: site for site in case.sites}
    for row in plan.sites:
        given = sites[row.id].parcels
        allowed = (given, given) if given is not None else (1, case.assumptions.most_parcels)
        yield claim(allowed[0] <= row.parcels <= allowed[1], f"site {row.id}")


def site_row_margins(plan: Plan, loops: list[Driven]) -> Iterator[Margin]:
    """Each site lists exactly the stops made there, with the loop's cycle limit and duration; a stop of the
    end round alone has neither."""
    for row in plan.sites:
        made = sorted((_served(loop, stop, job) for loop in loops for _, stop, job in loop.stops()
                       if stop.site == row.id), key=_work)
        listed = sorted(row.works, key=_work)
        where = f"site {row.id}"
        yield claim([_work(found) for found in made] == [_work(stated) for stated in listed], where)
        for found, stated in zip(made, listed, strict=False):
            yield same(stated.cycle_limit_min, found.cycle_limit_min, where + ", cycle limit", MINUTE)
            yield same(stated.revisit_min, found.revisit_min, where + ", revisit", MINUTE)


def _served(loop: Driven, stop: PlannedStop, job: Task) -> ServedWork:
    often = in_every_round(job) is not None
    return ServedWork(stop.work, stop.parcels, loop.unit.planned.truck_no,
                      job.clock_min if often else None, loop.plain.duration_min if often else None)


def _work(row: ServedWork) -> tuple[str, int, int]:
    return row.work, row.parcels, row.truck_no

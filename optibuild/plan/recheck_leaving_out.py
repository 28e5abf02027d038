"""At most how much less the plan could cost without a site: never less than its own stops left out save."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from optibuild.plan.recheck_items import owning_usd, used_of, yearly_usd
from optibuild.plan.recheck_loops import Driven, drive_loop
from optibuild.plan.recheck_margins import SAME, Margin, at_least, claim
from optibuild.plan.recheck_money import Season, truck_season
from optibuild.plan.recheck_rounds import Round
from optibuild.plan.recheck_trucks import Key, Mounted, catalog
from optibuild.records import Case, Plan, PlannedStop


def marginal_margins(plan: Plan, loops: list[Driven], seasons: list[Season], case: Case) -> Iterator[Margin]:
    """What is said of a site is no less than what the plan saves with its stops left out and everything else
    as it is: that plan keeps every promise to the others [USD]. Nothing is said of a site left out, nor where
    contract value comes first."""
    noise = SAME * max(1.0, owning_usd(plan, case) + sum(season.usd for season in seasons))
    for row in plan.sites:
        if row.marginal_most_usd is not None:
            saved = _saved_usd(plan, row.id, loops, seasons, case)
            yield claim(row.served and case.question != "value", f"site {row.id}")
            yield at_least(row.marginal_most_usd, max(0.0, saved), f"site {row.id}", noise)


def _saved_usd(plan: Plan, site: str, loops: list[Driven], seasons: list[Season], case: Case) -> float:
    """What the plan costs less where nobody stops at a site [USD]."""
    saved, kept = 0.0, []
    for loop, season in zip(loops, seasons, strict=True):
        rest = _without(loop, site, plan, case)
        if rest is not loop:
            saved += season.usd - (truck_season(rest, case).usd if rest else 0.0)
        kept += [loop.unit] if rest else []
    return saved + _spared_usd(plan, kept, case)


def _spared_usd(plan: Plan, kept: list[Mounted], case: Case) -> float:
    """A year of the items of trucks that have no stops left [USD]; of a row that others use too, new ones are
    spared before owned ones."""
    used: Counter[Key] = used_of(kept)
    rows, usd = catalog(case), 0.0
    for row in plan.items:
        key = (row.table, row.id)
        spared = row.bought + row.owned_used - used[key]
        new = min(row.bought, spared)
        usd += yearly_usd(new, spared - new, rows[key], case.money.interest)
    return usd


def _without(loop: Driven, site: str, plan: Plan, case: Case) -> Driven | None:
    """The loop driven without its stops at a site, by the longest of ways that tie; None where it has
    no other."""
    if all(job.site.id != site for job in loop.tasks):
        return loop
    planned = loop.unit.planned
    stops = _stops_left(planned.loop.stops, site)
    if not stops:
        return None
    rest = drive_loop(replace(loop.unit, planned=replace(planned, loop=replace(planned.loop, stops=stops))),
                      plan, loop.roads, case)
    last = planned.loop.end_round
    end = None if rest.end is None or last is None else replace(last, distance_m=_longest_m(rest.end))
    driven = replace(rest.unit.planned.loop, distance_m=_longest_m(rest.plain), end_round=end)
    return replace(rest, unit=replace(rest.unit, planned=replace(planned, loop=driven)))


def _longest_m(found: Round) -> float:
    return sum(road.most_m for road in found.roads)


def _stops_left(stops: tuple[PlannedStop, ...], site: str) -> tuple[PlannedStop, ...]:
    """The stops elsewhere. A reload before one left out comes before the next; none before the first."""
    left: list[PlannedStop] = []
    reload, end_reload = False, False
    for stop in stops:
        reload, end_reload = reload or stop.reload_before, end_reload or bool(stop.end_reload_before)
        if stop.site != site:
            left.append(replace(stop, reload_before=reload and bool(left),
                                end_reload_before=end_reload and bool(left)))
            reload, end_reload = False, False
    return tuple(left)

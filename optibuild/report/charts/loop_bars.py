"""Loops by the clock against their cycle limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from optibuild.records import Plan, PlannedEndRound, PlannedLoop, PlannedStop, PlannedTruck
from optibuild.report.charts.chart import Chart, cut, foremost, shown_of
from optibuild.report.charts.lying_bars import Bars, Row, Span, lying_bars
from optibuild.report.console import clean, number
from optibuild.report.tables import Column, Table, count, minutes, without_empty

PLOW, DEICE, DRIVE, RELOAD, OTHER = range(5)
PARTS = ("plow", "deice", "drive", "reload", "other")
BARS = Bars(PARTS, "minutes from the start of the loop", "limit")
NOISE_MIN = 1e-6
LONGEST_SITE = 16
"""Columns of the name of a site beside its bar."""


class Visit(NamedTuple):
    """A stop in one round: when, and the minutes of its works there."""

    arrive_min: float
    leave_min: float
    plow_min: float
    deice_min: float
    site: str
    deadline_min: float | None
    reload_before: bool


@dataclass(frozen=True)
class Driven:
    """One round of a truck, piece by piece, and the minutes it may take."""

    truck: PlannedTruck
    last: bool
    limit_min: float
    duration_min: float
    spans: tuple[Span, ...]
    due: tuple[float, float, str] | None
    """Its tightest deadline: minutes left to it, when it is [min], at which site."""

    @property
    def slack_min(self) -> float:
        """What is left."""
        return self.limit_min - self.duration_min

    @property
    def name(self) -> str:
        """Truck and round."""
        return f"truck {self.truck.truck_no}{', last round' if self.last else ''}"

    def minutes(self, part: int) -> float:
        """All minutes of a part."""
        return sum(span.end - span.begin for span in self.spans if span.part == part)


def loop_bars(plan: Plan) -> Chart | None:
    """Every loop piece by piece against its cycle limit, its tightest deadline in words; None where no truck
    drives."""
    rounds = [one for truck in plan.trucks for one in _rounds(truck)]
    if not rounds:
        return None
    shown = foremost(rounds, lambda one: -one.slack_min)
    told = ("A bar for each loop by the clock: plowing, deicing, driving, reloading and what else a stop "
            "takes (other). A mark stands at its cycle limit or, for a last round, where that must be over. "
            "Behind its slack stands what is left to its tightest deadline.")
    rows = [Row(one.name, _note(one), one.spans, one.limit_min) for one in shown]
    return lying_bars("loops", _title(rounds) + shown_of(shown, rounds, "rounds with the least slack"), told,
                      _table(rounds), BARS, rows)


def _note(one: Driven) -> str:
    """What is left of the limit, and to the tightest deadline."""
    slack = f"slack {number(one.slack_min, 1)} min"
    if one.due is None:
        return slack
    left, _, site = one.due
    late = "late " if left < -NOISE_MIN else ""
    return f"{slack}, {number(abs(left), 1)} {late}at {cut(clean(site), LONGEST_SITE)}"


def _title(rounds: Sequence[Driven]) -> str:
    late = sum(one.slack_min < -NOISE_MIN for one in rounds)
    if late:
        return f"{late} of {len(rounds)} rounds take longer than they may."
    least = min(rounds, key=lambda one: one.slack_min)
    return (f"Every truck is back in time; {least.name} has the least slack, {number(least.slack_min, 1)} of "
            f"{number(least.limit_min, 0)} min.")


def _table(rounds: Sequence[Driven]) -> Table:
    columns = (count("truck"), Column("round"), Column("build"), *map(minutes, PARTS), minutes("loop"),
               minutes("limit"), minutes("slack"), minutes("deadline, left"), Column("deadline", "min", 0),
               Column("at"))
    return without_empty(Table(columns, tuple(
        (one.truck.truck_no, "last" if one.last else "each", one.truck.build,
         *(one.minutes(part) for part in range(len(PARTS))), one.duration_min, one.limit_min, one.slack_min,
         *(one.due or (None,) * 3)) for one in rounds)))


def _rounds(truck: PlannedTruck) -> list[Driven]:
    """The round that repeats, where it stops anywhere, and the last one where there is one."""
    loop = truck.loop
    each = [Visit(stop.arrive_min, stop.leave_min, stop.plow_min,
                  0.0 if stop.deice_when == "end" else stop.deice_min, stop.site, stop.deadline_min,
                  stop.reload_before)
            for stop in loop.stops if stop.arrive_min is not None and stop.leave_min is not None]
    found = [_driven(truck, loop, loop.cycle_limit_min, each)] if each else []
    if loop.end_round is not None:
        last = [_last(stop) for stop in loop.stops if stop.end_arrive_min is not None]
        found.append(_driven(truck, loop.end_round, loop.end_round.within_min, last))
    return found


def _last(stop: PlannedStop) -> Visit:
    return Visit(stop.end_arrive_min or 0.0, stop.end_leave_min or 0.0, stop.plow_min, stop.deice_min,
                 stop.site, None, bool(stop.end_reload_before))


def _driven(truck: PlannedTruck, told: PlannedLoop | PlannedEndRound, limit_min: float,
            visits: Sequence[Visit]) -> Driven:
    """A round in pieces. A plan tells the reloads' minutes in all; each takes as long as another. One on the
    way is drawn in the middle of the way, one at the end at the end."""
    each = told.reload_min / told.reloads if told.reloads else 0.0
    spans: list[Span] = []
    at = 0.0
    for visit in visits:
        spans += _way(at, visit.arrive_min, each if visit.reload_before else 0.0, 0.5)
        spans += _stay(visit)
        at = visit.leave_min
    ends_full = told.reloads > sum(visit.reload_before for visit in visits)
    spans += _way(at, told.duration_min, each if ends_full else 0.0, 1.0)
    due = min(((visit.deadline_min - visit.leave_min, visit.deadline_min, visit.site) for visit in visits
               if visit.deadline_min is not None), default=None)
    return Driven(truck, isinstance(told, PlannedEndRound), limit_min, told.duration_min, _kept(spans),
                  due)


def _way(begin: float, end: float, reload_min: float, before: float) -> list[Span]:
    """Driving with a reload in it; `before` is the share of the driving that comes before that."""
    at = begin + before * (end - begin - reload_min)
    return [Span(DRIVE, begin, at), Span(RELOAD, at, at + reload_min), Span(DRIVE, at + reload_min, end)]


def _stay(visit: Visit) -> list[Span]:
    """Arriving and looking, then plowing, then deicing."""
    deice = visit.leave_min - visit.deice_min
    plow = deice - visit.plow_min
    return [Span(OTHER, visit.arrive_min, plow), Span(PLOW, plow, deice), Span(DEICE, deice, visit.leave_min)]


def _kept(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Pieces that take time, those of a part that follow one another as one."""
    kept: list[Span] = []
    for span in spans:
        if span.end - span.begin > NOISE_MIN:
            if kept and kept[-1].part == span.part and abs(kept[-1].end - span.begin) < NOISE_MIN:
                span = Span(span.part, kept.pop().begin, span.end)
            kept.append(span)
    return tuple(kept)

"""Fit on the terminal: builds with what binds, rejected ones with their first reason, flags."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from optibuild.records import NONE, Builds, Case, MomentLine, Reason, Verdict
from optibuild.report.console import heading, layout, number, paragraph
from optibuild.report.tables import Cell, Column, Table, Units

FRONT_HEAVY = "front axle carries"
"""How the flag begins that depends on the build; every other flag goes with the truck."""
CREW_WORDS = {"driver": "driver alone", "full": "full crew"}

REASON_COLUMNS = (Column("breaks"), Column("crew"), Column("load", "", 0), Column("allowed", "", 0),
                  Column("over by", "", 0), Column("unit"))

Verdicts = Mapping[int, Verdict]


def fit_text(case: Case, builds: Builds, chosen: Sequence[int], rejected: bool, verdicts: Verdicts,
             cautions: tuple[str, ...]) -> str:
    """The chosen builds: those that fit, the rejected ones where asked, flags and cautions.

    `verdicts` holds those of the builds that are shown.
    """
    fitting = [b for b in chosen if builds.fits[b]]
    out = [b for b in chosen if not builds.fits[b]]
    told = {b: verdicts[b].flags for b in fitting}
    heavy = {b for b, words in told.items() if any(flag.startswith(FRONT_HEAVY) for flag in words)}
    parts = [heading(f"Fit: {case.name}"), _counts(case, builds, fitting, out, rejected)]
    for title, rows in _by_truck(case, builds, fitting):
        parts.append(f"{heading(title)}\n\n{_fitting(case, builds, rows, verdicts, heavy)}")
    for title, rows in _by_truck(case, builds, out) if rejected else ():
        titled = heading(f"{title}: rejected, with the first reason")
        parts.append(f"{titled}\n\n{_rejected(case, builds, rows, verdicts)}")
    if told:
        parts.append(_flags(case, builds, told, len(heavy)))
    return "\n\n".join([*parts, cautions_text(cautions)])


def _by_truck(case: Case, builds: Builds, rows: list[int]) -> Iterator[tuple[str, list[int]]]:
    for t, some in groupby(rows, key=lambda b: int(builds.truck[b])):
        truck = case.trucks[t]
        yield f"{truck.id}, {truck.size}" if truck.size else truck.id, list(some)


def _mounted(case: Case, builds: Builds, b: int) -> str:
    """What a build carries: its name without the truck."""
    return builds.name(b).removeprefix(f"{case.trucks[builds.truck[b]].id}+")


def cautions_text(cautions: tuple[str, ...]) -> str:
    """Cautions as a list."""
    return "\n".join([heading("Cautions"), *(paragraph(text, "- ") for text in cautions)])


def _counts(case: Case, builds: Builds, fitting: list[int], out: list[int], rejected: bool) -> str:
    names = {builds.name(b) for b in fitting}
    kits = f" ({number(len(fitting), 0)} counting each ballast kit)" if len(names) < len(fitting) else ""
    ask = "" if rejected or not out else "; --rejected lists why"
    reserve = case.fit.axle_reserve_kg
    kept = f" A reserve of {_mass(case, reserve)} is kept within every rating." if reserve else ""
    return paragraph(f"{number(len(names), 0)} builds fit{kits}, {number(len(out), 0)} do not{ask}. "
                     f"Margins are the least over all load states, to the ratings of the label.{kept}")


def _mass(case: Case, kg: float) -> str:
    value, unit = Units(case.units).any(kg, "kg")
    return f"{number(value, 0)} {unit}"


def _ballast(case: Case, builds: Builds, b: int) -> str | None:
    return None if builds.kit[b] == NONE else f"{builds.units[b]} {case.ballast[builds.kit[b]].id}"


def _fill(builds: Builds, b: int, units: Units) -> float | None:
    return None if builds.spreader[b] == NONE else units.kg(float(builds.rated_fill_kg[b]))


def _fitting(case: Case, builds: Builds, rows: list[int], verdicts: Verdicts, heavy: set[int]) -> str:
    units = Units(case.units)
    columns = (Column("plow+spreader"), Column("ballast"), units.mass("ballast"), units.mass("rated fill"),
               units.mass("front margin"), units.mass("rear margin"), units.mass("gross margin"),
               Column("binds"))
    return layout(Table(columns, tuple(
        _fitting_row(case, builds, b, verdicts[b], b in heavy, units) for b in rows)))


def _fitting_row(case: Case, builds: Builds, b: int, verdict: Verdict, heavy: bool,
                 units: Units) -> tuple[Cell, ...]:
    margins = [units.kg(min(getattr(row, f"{name}_margin_kg") for row in verdict.axle_loads))
               for name in ("front", "rear", "gross")]
    mass = None if builds.kit[b] == NONE else units.kg(float(builds.ballast_kg[b]))
    return (_mounted(case, builds, b) + ("*" if heavy else ""), _ballast(case, builds, b), mass,
            _fill(builds, b, units), *margins, verdict.binds)


def _rejected(case: Case, builds: Builds, rows: list[int], verdicts: Verdicts) -> str:
    columns = (Column("plow+spreader"), *REASON_COLUMNS)
    return layout(Table(columns, tuple(
        (_mounted(case, builds, b), *_reason_cells(case, verdicts[b].reasons[0])) for b in rows)))


def _reason_cells(case: Case, row: Reason) -> tuple[Cell, ...]:
    units = Units(case.units)
    values = [units.any(value, row.unit)[0] for value in (row.load, row.limit, row.over)]
    breaks = ", ".join(part for part in (row.rating, row.state) if part)
    return breaks, row.crew or None, *values, units.any(row.over, row.unit)[1]


def _flags(case: Case, builds: Builds, told: dict[int, tuple[str, ...]], heavy: int) -> str:
    trucks: dict[str, dict[str, None]] = {}
    for b, words in told.items():
        for flag in words:
            if not flag.startswith(FRONT_HEAVY):
                trucks.setdefault(flag, {})[case.trucks[builds.truck[b]].id] = None
    lines = [paragraph(f"{flag}: {', '.join(ids)}", "- ") for flag, ids in sorted(trucks.items())]
    if heavy:
        lines.append(paragraph("front axle above 63 % of gross in some load state (a truck maker's figure "
                               f"in a 1988 letter to NHTSA, not a rule): {number(heavy, 0)} builds, marked *",
                               "- "))
    return "\n".join([heading("Flags (not verdicts)"), *lines])


def build_sheet(case: Case, builds: Builds, b: int, lines: tuple[MomentLine, ...],
                told: Verdict) -> str:
    """One build in full: the moments of its heaviest corner, every load state, what it breaks, flags."""
    ballast = _ballast(case, builds, b) or "no ballast"
    verdict = f"fits; binds: {told.binds}" if builds.fits[b] else "does not fit"
    fill = "" if builds.spreader[b] == NONE else f", rated fill {_mass(case, float(builds.rated_fill_kg[b]))}"
    parts = [heading(f"{builds.name(b)}, {ballast}"), paragraph(f"{verdict}{fill}"),
             _moments(case, builds, b, lines, told), _states(case, builds, b, told)]
    if told.reasons:
        parts.append(_reasons(case, told.reasons))
    return "\n\n".join([*parts, "\n".join(paragraph(flag, "- ") for flag in told.flags)])


def _moments(case: Case, builds: Builds, b: int, lines: tuple[MomentLine, ...], told: Verdict) -> str:
    heaviest = max(told.axle_loads, key=lambda row: row.gross_kg)
    units = Units(case.units)
    length = units.any(0.0, "m")[1]
    table = Table((Column("mass"), units.mass("weight"), Column("behind front axle", length, 1 if
                   case.units == "us" else 2), units.mass("on front"), units.mass("on rear")), tuple(
        (row.item, units.kg(row.mass_kg), units.any(row.place_m, "m")[0], units.kg(row.front_kg),
         units.kg(row.rear_kg)) for row in lines))
    wheelbase, unit = units.any(case.trucks[builds.truck[b]].wheelbase_m, "m")
    where = f"{heaviest.state}, {CREW_WORDS[heaviest.crew]}"
    return (paragraph(f"Heaviest: {where}. A weight at x behind the front axle puts x / wheelbase of itself "
                      f"on the rear axle; wheelbase {number(wheelbase, 2)} {unit}.") + f"\n\n{layout(table)}")


def _states(case: Case, builds: Builds, b: int, told: Verdict) -> str:
    units, truck = Units(case.units), case.trucks[builds.truck[b]]
    columns = (Column("load state"), Column("crew"), *(units.mass(name) for name in (
        "front", "rear", "gross", "front margin", "rear margin", "gross margin")))
    rows: list[tuple[Cell, ...]] = [
        (row.state, CREW_WORDS[row.crew], *(units.kg(value) for value in (
            row.front_kg, row.rear_kg, row.gross_kg, row.front_margin_kg, row.rear_margin_kg,
            row.gross_margin_kg))) for row in told.axle_loads]
    rows.append(("ratings", None, *map(units.kg, (truck.gawr_front_kg, truck.gawr_rear_kg, truck.gvwr_kg)),
                 None, None, None))
    return layout(Table(columns, tuple(rows)))


def _reasons(case: Case, reasons: tuple[Reason, ...]) -> str:
    return layout(Table(REASON_COLUMNS, tuple(_reason_cells(case, row) for row in reasons)))

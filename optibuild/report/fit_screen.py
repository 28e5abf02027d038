"""Fit on the terminal: builds with what binds, rejected ones with their first reason, flags."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import groupby

from optibuild.records import NONE, Builds, Case, Reason, Verdict
from optibuild.report.console import heading, layout, number, paragraph
from optibuild.report.tables import Cell, Column, Table, Units

FRONT_HEAVY = "front axle carries"
COUNTED_FLAGS = {
    FRONT_HEAVY:
        "front axle above 63 % of gross in some load state (a truck maker's figure in a 1988 letter to "
        "NHTSA, not a rule): {} builds, marked *",
    "new load label":
        "mount, spreader and ballast above the lesser of 1.5 % of GVWR and 100 lb: who adds them before the "
        "first retail sale corrects the load label (FMVSS 110; 72 FR 68442): {} builds",
}
"""How the flags begin that depend on the build, and what is said of all such builds; the others go with the
truck."""
NEAR = "; near rating"
"""What a near rating is marked by, after what binds or breaks."""

REASON_COLUMNS = (Column("breaks"), Column("crew"), Column("found", "", 0), Column("limit", "", 0),
                  Column("off by", "", 0), Column("unit"))

Verdicts = Mapping[int, Verdict]


def fit_text(case: Case, builds: Builds, chosen: Sequence[int], rejected: bool, verdicts: Verdicts,
             near: Collection[int], cautions: tuple[str, ...]) -> str:
    """The chosen builds: those that fit, or the rejected ones where these are asked, flags and cautions.

    `verdicts` holds those of the builds that are shown, `near` which of them are near a rating.
    """
    fitting = [b for b in chosen if builds.fits[b]]
    out = [b for b in chosen if not builds.fits[b]]
    parts = [heading(f"Fit: {case.name}"), _counts(case, builds, fitting, out, rejected)]
    if rejected:
        shown, told, ending, table = out, {}, ": rejected, with the first reason", _rejected
    else:
        shown, told, ending, table = fitting, {b: verdicts[b].flags for b in fitting}, "", _fitting
    for title, rows in _by_truck(case, builds, shown):
        parts.append(f"{heading(title + ending)}\n\n{table(case, builds, rows, verdicts, near)}")
    if any(b in near for b in shown):
        parts.append(paragraph(near_words(case)))
    if told:
        parts.append(_flags(case, builds, told))
    return "\n\n".join([*parts, cautions_text(cautions)])


def near_words(case: Case) -> str:
    """What near rating means."""
    share = number(100 * case.assumptions.catalog_uncertainty, 1).removesuffix(".0")
    return ("Near rating: the verdict, the ballast, or what limits the fill is another one when catalog "
            f"weights move by {share} %. Weigh before you rely on it.")


def _by_truck(case: Case, builds: Builds, rows: list[int]) -> Iterator[tuple[str, list[int]]]:
    for t, some in groupby(rows, key=lambda b: int(builds.truck[b])):
        truck = case.trucks[t]
        yield f"{truck.id}, {truck.size}" if truck.size else truck.id, list(some)


def mounted(case: Case, builds: Builds, b: int) -> str:
    """What a build carries: its name without the truck."""
    return builds.name(b).removeprefix(f"{case.trucks[builds.truck[b]].id}+")


def cautions_text(cautions: tuple[str, ...]) -> str:
    """Cautions as a list."""
    return "\n".join([heading("Cautions"), *(paragraph(text, "- ") for text in cautions)])


def _counts(case: Case, builds: Builds, fitting: list[int], out: list[int], rejected: bool) -> str:
    if rejected:
        return paragraph(f"{number(len(out), 0)} builds do not fit.")
    names = {builds.name(b) for b in fitting}
    kits = f" ({number(len(fitting), 0)} counting each ballast kit)" if len(names) < len(fitting) else ""
    ask = "; --rejected lists these" if out else ""
    reserve = case.fit.axle_reserve_kg
    kept = f" A reserve of {mass_text(case, reserve)} is kept within every rating." if reserve else ""
    return paragraph(f"{number(len(names), 0)} builds fit{kits}, {number(len(out), 0)} do not{ask}. "
                     f"Margins are the least over all load states, to the ratings of the label.{kept}")


def mass_text(case: Case, kg: float) -> str:
    """A mass with its unit as shown."""
    value, unit = Units(case.units).any(kg, "kg")
    return f"{number(value, 0)} {unit}"


def ballast_text(case: Case, builds: Builds, b: int) -> str | None:
    """The ballast of a build, and when it is taken out; None without."""
    if builds.kit[b] == NONE:
        return None
    carried = f"{builds.units[b]} {case.ballast[builds.kit[b]].id}"
    retained = float(builds.retained_kg[b])
    return f"{carried}, out above {mass_text(case, retained)}" if retained else carried


def _fill(builds: Builds, b: int, units: Units) -> float | None:
    return None if builds.spreader[b] == NONE else units.kg(float(builds.rated_fill_kg[b]))


def _fitting(case: Case, builds: Builds, rows: list[int], verdicts: Verdicts, near: Collection[int]) -> str:
    units = Units(case.units)
    columns = (Column("plow+spreader"), Column("ballast"), units.mass("ballast"), units.mass("rated fill"),
               units.mass("front margin"), units.mass("rear margin"), units.mass("gross margin"),
               Column("binds"))
    return layout(Table(columns, tuple(
        _fitting_row(case, builds, b, verdicts[b], b in near, units) for b in rows)))


def _fitting_row(case: Case, builds: Builds, b: int, verdict: Verdict, near: bool,
                 units: Units) -> tuple[Cell, ...]:
    margins = [units.kg(min(getattr(row, f"{name}_margin_kg") for row in verdict.axle_loads))
               for name in ("front", "rear", "gross")]
    mass = None if builds.kit[b] == NONE else units.kg(float(builds.ballast_kg[b]))
    heavy = any(flag.startswith(FRONT_HEAVY) for flag in verdict.flags)
    return (mounted(case, builds, b) + ("*" if heavy else ""), ballast_text(case, builds, b), mass,
            _fill(builds, b, units), *margins, verdict.binds + NEAR * near)


def _rejected(case: Case, builds: Builds, rows: list[int], verdicts: Verdicts, near: Collection[int]) -> str:
    columns = (Column("plow+spreader"), *REASON_COLUMNS)
    return layout(Table(columns, tuple(_rejected_row(case, builds, b, verdicts[b], b in near) for b in rows)))


def _rejected_row(case: Case, builds: Builds, b: int, verdict: Verdict, near: bool) -> tuple[Cell, ...]:
    breaks, *rest = reason_cells(case, verdict.reasons[0])
    return (mounted(case, builds, b), f"{breaks}{NEAR * near}", *rest)


def reason_cells(case: Case, row: Reason) -> tuple[Cell, ...]:
    """What is broken, with which crew, load, limit, excess and unit: the cells of REASON_COLUMNS."""
    units = Units(case.units)
    values = [units.any(value, row.unit)[0] for value in (row.load, row.limit, row.over)]
    breaks = ", ".join(part for part in (row.rating, row.state) if part)
    return breaks, row.crew or None, *values, units.any(row.over, row.unit)[1]


def _flags(case: Case, builds: Builds, told: dict[int, tuple[str, ...]]) -> str:
    trucks: dict[str, dict[str, None]] = {}
    for b, words in told.items():
        for flag in words:
            if not flag.startswith(tuple(COUNTED_FLAGS)):
                trucks.setdefault(flag, {})[case.trucks[builds.truck[b]].id] = None
    lines = [paragraph(f"{flag}: {', '.join(ids)}", "- ") for flag, ids in sorted(trucks.items())]
    for begins, told_as in COUNTED_FLAGS.items():
        count = sum(any(flag.startswith(begins) for flag in flags) for flags in told.values())
        if count:
            lines.append(paragraph(told_as.format(number(count, 0)), "- "))
    return "\n".join([heading("Flags (not verdicts)"), *lines])

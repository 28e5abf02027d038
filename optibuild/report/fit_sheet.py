"""One build in full on the terminal: moments, load states, margins, what would turn or mend the verdict."""

from optibuild.records import (
    NONE,
    BuildDetails,
    Builds,
    Case,
    MomentSheet,
    Reason,
    Replacement,
    Sensitivity,
    Verdict,
    WouldFit,
)
from optibuild.report.console import heading, layout, number, paragraph
from optibuild.report.fit_screen import REASON_COLUMNS, ballast_text, mass_text, near_words, reason_cells
from optibuild.report.tables import Cell, Column, Table, Units

CREW_WORDS = {"driver": "driver alone", "full": "full crew"}
EXTRA_KG = 10.0
MAKER = ("Only the vehicle's maker, a final-stage maker or an alterer gives a rating (49 CFR 567.4-567.7). "
         "Stronger springs or tires do not change one: look for a truck that is rated so.")


def build_sheet(case: Case, builds: Builds, b: int, details: BuildDetails) -> str:
    """One build in full: the moments of its heaviest corners, every load state, what it breaks, how far it is
    from another verdict, what would make it fit, flags."""
    told = details.verdict
    ballast = ballast_text(case, builds, b) or "no ballast"
    parts = [heading(f"{builds.name(b)}, {ballast}"), _summary(case, builds, b, details),
             _explanation(case, builds, b)]
    parts += [_moments(case, sheet) for sheet in details.moments]
    parts.append(_states(case, builds, b, told))
    if told.reasons:
        parts.append(_reasons(case, told.reasons))
    parts.append(_turns(case, builds, b, details.sensitivity))
    if details.would_fit is not None:
        parts.append(_mends(case, details.would_fit))
    return "\n\n".join([*parts, _listed("Flags (not verdicts)", told.flags)])


def _listed(title: str, lines: list[str] | tuple[str, ...]) -> str:
    return "\n".join([heading(title), *(paragraph(line, "- ") for line in lines)])


def _summary(case: Case, builds: Builds, b: int, details: BuildDetails) -> str:
    told = details.verdict
    lines = [f"fits; binds: {told.binds}" if builds.fits[b] else "does not fit"]
    if builds.spreader[b] != NONE:
        lines[0] += f", rated fill {mass_text(case, float(builds.rated_fill_kg[b]))}"
    retained = float(builds.retained_kg[b])
    if retained:
        at, kit = mass_text(case, retained), case.ballast[builds.kit[b]].id
        lines.append(f"Take {builds.units[b]} {kit} out above {at} of material, put them back below.")
    if details.near_rating:
        lines.append(near_words(case))
    return "\n".join(map(paragraph, lines))


def _explanation(case: Case, builds: Builds, b: int) -> str:
    wheelbase, unit = Units(case.units).any(case.trucks[builds.truck[b]].wheelbase_m, "m")
    return paragraph("A weight at x behind the front axle puts x / wheelbase of itself on the rear axle; "
                     f"wheelbase {number(wheelbase, 2)} {unit}.")


def _moments(case: Case, sheet: MomentSheet) -> str:
    units = Units(case.units)
    length = units.any(0.0, "m")[1]
    decimals = 1 if case.units == "us" else 2
    table = Table((Column("mass"), units.mass("weight"), Column("behind front axle", length, decimals),
                   units.mass("on front"), units.mass("on rear")), tuple(
        (row.item, units.kg(row.mass_kg), units.any(row.place_m, "m")[0], units.kg(row.front_kg),
         units.kg(row.rear_kg)) for row in sheet.lines))
    where = f"{sheet.state}, {CREW_WORDS[sheet.crew]}"
    return paragraph(f"Heaviest {' and '.join(sheet.heaviest)}: {where}.") + f"\n\n{layout(table)}"


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
    return layout(Table(REASON_COLUMNS, tuple(reason_cells(case, row) for row in reasons)))


def _turns(case: Case, builds: Builds, b: int, found: Sensitivity) -> str:
    """Least margins, and how far the build is from another verdict."""
    margins = ", ".join(f"{name} {mass_text(case, value)}" for name, value in (
        ("front axle", found.front_margin_kg), ("rear axle", found.rear_margin_kg),
        ("gross", found.gross_margin_kg)))
    lines = [f"Least margin over all load states and crews: {margins}.", *_blade_lines(case, found),
             *_hopper_lines(case, bool(builds.fits[b]), found)]
    return _listed("How far from another verdict", lines)


def _blade_lines(case: Case, found: Sensitivity) -> list[str]:
    lines = []
    if found.blade_heavier_kg is not None:
        heavier = mass_text(case, found.blade_heavier_kg)
        lines.append(f"With this ballast the blade may weigh {heavier} more before the build no longer fits.")
    if found.blade_lighter_kg is not None:
        lines.append(f"With a blade {mass_text(case, found.blade_lighter_kg)} lighter it would fit.")
    if found.fill_lost_per_10_kg is not None:
        lost = mass_text(case, found.fill_lost_per_10_kg)
        lines.append(f"{mass_text(case, EXTRA_KG)} more blade cost {lost} of fill.")
    return lines


def _hopper_lines(case: Case, fits: bool, found: Sensitivity) -> list[str]:
    units, lines = Units(case.units), []
    for by, way in ((found.hopper_forward_m, "forward"), (found.hopper_rearward_m, "to the rear")):
        if by is not None:
            length, unit = units.any(by, "m")
            moved = f"hopper {number(length, 1 if case.units == 'us' else 3)} {unit} further {way}"
            lines.append(f"With its {moved} it would {'no longer fit' if fits else 'fit'}.")
    return lines


def _mends(case: Case, found: WouldFit) -> str:
    """What would make a rejected build fit, one thing at a time."""
    lines = [f"Ballast: {row.units} {row.id}, more than the {row.most_units} that the kit has room for."
             for row in found.ballast]
    for kind, rows in (("lighter plow", found.plows), ("other spreader", found.spreaders)):
        lines += [f"{kind.capitalize()}: {_replacement(case, row)}." for row in rows]
    if found.least_fill_kg is not None:
        lines.append(_fill_line(case, found.fill_kg, found.least_fill_kg))
    if found.ratings:
        needs = ", ".join(f"{row.rating} {mass_text(case, row.needs_kg)} (has {mass_text(case, row.has_kg)})"
                          for row in found.ratings)
        lines.append(f"Ratings, with the ballast tried: {needs}. {MAKER}")
    return _listed("What would make it fit", lines or ["Nothing in the catalog, and no ballast."])


def _fill_line(case: Case, fill_kg: float | None, least_kg: float) -> str:
    if fill_kg is None:
        return "Fill: none helps, it does not pass with its hopper empty."
    least = mass_text(case, least_kg)
    return f"Fill: it could spread {mass_text(case, fill_kg)}; less than {least} counts as not useful."


def _replacement(case: Case, row: Replacement) -> str:
    ballast = f" with {row.units} {row.kit}" if row.kit else ""
    fill = "" if row.fill_kg is None else f", {mass_text(case, row.fill_kg)} of fill"
    return f"{row.id}{ballast}{fill}"

"""How fast plows work at several depths of snow, on the terminal and as a document."""

from collections.abc import Sequence
from typing import Any

from optibuild.records import Case
from optibuild.records.loop import WorkingRate
from optibuild.report.console import clean, heading, layout, number, paragraph
from optibuild.report.tables import Column, Table
from optibuild.units import conversion

DEPTHS = {"us": (("1 in", 0.0254), ("2 in", 0.0508), ("3 in", 0.0762), ("4 in", 0.1016)),
          "si": (("25 mm", 0.025), ("50 mm", 0.050), ("75 mm", 0.075), ("100 mm", 0.100))}
"""Depths shown, with what they are in meters."""
AREA = {"us": "acre", "si": "ha"}
AREAS = {"us": "acres", "si": "hectares"}
WIDTH = {"us": "ft", "si": "m"}


def depths_m(case: Case) -> tuple[float, ...]:
    """The depths shown [m]."""
    return tuple(depth for _, depth in DEPTHS[case.units])


def middle_site(case: Case) -> int:
    """The plowed site of middle area, or the site of middle area where none is plowed."""
    plowed = [n for n, site in enumerate(case.sites) if site.plowed] or list(range(len(case.sites)))
    return sorted(plowed, key=lambda n: (case.sites[n].area_m2, n))[(len(plowed) - 1) // 2]


def depths_text(case: Case, site: int, rates: Sequence[WorkingRate]) -> str:
    """A table for each layout: a row for each plow, a column for each depth."""
    place, unit = case.sites[site], AREA[case.units]
    area = number(conversion(unit, "area").from_inner(place.area_m2), 2)
    said = (f"{AREAS[case.units]} an hour at {clean(place.id)} ({area} {unit}), plowing alone, each plow on "
            "its fastest truck. Snow of storm.snow_density, as deep as the heading says when the truck "
            "comes.")
    if not rates:
        return f"{heading('Working rates by depth')}\n{paragraph('No build with a plow fits.')}"
    parts = [f"{heading('Working rates by depth')}\n{paragraph(said)}"]
    parts.append(f"{heading('Snow to the side')}\n{layout(_table(case, rates, 'to_side'))}")
    parts.append(f"{heading('Snow to the end')}\n{layout(_table(case, rates, 'to_end'))}")
    return "\n\n".join(parts)


def _table(case: Case, rates: Sequence[WorkingRate], way: str) -> Table:
    per_hour = conversion(AREA[case.units], "area").from_inner
    columns = (Column("plow"), Column("width", WIDTH[case.units], 1), Column("truck"),
               *(Column(depth, f"{AREA[case.units]}/h", 2) for depth, _ in DEPTHS[case.units]))
    wide = {row.id: conversion(WIDTH[case.units], "length").from_inner(row.width_m) for row in case.plows}
    return Table(columns, tuple((row.plow, wide[row.plow], row.truck, *map(per_hour, getattr(row, way)))
                                for row in rates))


def depths_document(case: Case, site: int, rates: Sequence[WorkingRate]) -> dict[str, Any]:
    """The same in meters and square meters an hour."""
    return {"site": case.sites[site].id, "depths_m": list(depths_m(case)),
            "rates": [{"plow": row.plow, "truck": row.truck, "to_side_m2_per_hour": list(row.to_side),
                       "to_end_m2_per_hour": list(row.to_end)} for row in rates]}

"""Catalog rows whose values, each likely, do not go together."""

from collections.abc import Iterator, Mapping

from optibuild.inputs.checking.checks import CENTERS, is_far_from_beds
from optibuild.inputs.checking.doubts_scale import column_scale
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.tables import Row, Table

MOST_CURB = 0.95
LEAST_CURB = 0.25
LEAST_RESALE = 0.01
HEAVY = 4.0
BEHIND_BED_M = 1.0
"""Shares of gvwr that curb weights have; a plow's load over what the best front axle has left; how far behind
the bed's end a load may be centered. Common practice, no source."""
_CURB = ("curb_front_kg", "curb_rear_kg", "gvwr_kg")


def _known(table: Table, *fields: str) -> Iterator[tuple[Row, list[float]]]:
    """The rows in which all of some fields are known, with their values."""
    for row in table.rows:
        values = [row.values.get(field) for field in fields]
        if None not in values:
            yield row, [float(value) for value in values if value is not None]


def doubt_trucks(tables: Mapping[str, Table], collector: Collector) -> None:
    """A curb weight that leaves no payload, or is far too light for the gross rating."""
    trucks = tables.get("trucks")
    if trucks is None:
        return
    for row, (front, rear, gross) in _known(trucks, *_CURB):
        curb = front + rear
        if MOST_CURB * gross < curb <= gross or curb < LEAST_CURB * gross:
            code = "doubt.payload" if curb > gross / 2 else "doubt.curb"
            scale = column_scale(trucks, "gvwr_kg")
            why = "a truck carries a crew and a load" if curb > gross / 2 else "an empty truck weighs so much"
            text = f"curb_front + curb_rear is {scale.said(curb)}, {100 * curb / gross:.0f} % of gvwr"
            collector.add(code, text, *(trucks.place(row, field) for field in _CURB), value=scale.said(curb),
                          expected=f"{scale.span(LEAST_CURB * gross, MOST_CURB * gross)}: {why}")


def doubt_resale(tables: Mapping[str, Table], collector: Collector) -> None:
    """A resale above nothing and below one percent of the price: 0.25 for a quarter."""
    for name in ("trucks", "plows", "spreaders"):
        table = tables.get(name)
        for row in table.rows if table else ():
            kind, resale = row.values.get("resale_usd") or ("", 0.0)
            if table and kind == "share" and 0.0 < resale < LEAST_RESALE:
                collector.add("doubt.value", f"resale {100 * resale:.6g} % looks mistyped",
                              table.place(row, "resale_usd"), value=f"{100 * resale:.6g} %",
                              expected="0, or 1 to 100 %: 0.25 in a column of percent is a quarter of one")


def doubt_plows(tables: Mapping[str, Table], collector: Collector) -> None:
    """A plow many times too heavy for every front axle, or whose weight is typed twice."""
    plows, trucks = tables.get("plows"), tables.get("trucks")
    if plows is None:
        return
    for row, (blade, mount) in _known(plows, "blade_mass_kg", "mount_mass_kg"):
        if blade == mount:
            said = column_scale(plows, "blade_mass_kg").said
            collector.add("doubt.twice", f"blade_mass and mount_mass are both {said(blade)}",
                          plows.place(row, "mount_mass_kg"), plows.place(row, "blade_mass_kg"),
                          value=said(mount), expected=f"below {said(blade)}: mounts weigh less than blades")
    if trucks is not None:
        _doubt_heavy(plows, trucks, collector)


def _doubt_heavy(plows: Table, trucks: Table, collector: Collector) -> None:
    """Front-axle load m (1 + d / L) of a mass d ahead of the axle, against the strongest front axle."""
    fields = ("gawr_front_kg", "curb_front_kg", "wheelbase_m", "front_axle_to_bumper_m")
    strongest = max(_known(trucks, *fields), key=lambda found: found[1][0] - found[1][1], default=None)
    if strongest is None or strongest[1][0] <= strongest[1][1]:
        return
    truck, (rating, curb, wheelbase, bumper) = strongest
    left = rating - curb
    for row, (blade, mount, ahead) in _known(plows, "blade_mass_kg", "mount_mass_kg", "center_ahead_m"):
        load = blade * (1 + (bumper + ahead) / wheelbase) + mount * (1 + bumper / wheelbase)
        if load >= HEAVY * left:
            said = column_scale(plows, "blade_mass_kg").said
            text = f"the plow puts {said(load)} on a front axle, and none has more than {said(left)} left"
            collector.add("doubt.heavy", text, plows.place(row, "blade_mass_kg"),
                          trucks.place(truck, "gawr_front_kg"), value=said(load),
                          expected=f"below {said(HEAVY * left)}: {HEAVY:.0f} times what the front axle of "
                                   f"'{truck.values.get('id', '')}' has left")


def doubt_centers(tables: Mapping[str, Table], collector: Collector) -> None:
    """Loads centered where no truck has its bed. Tailgate spreaders hang behind it; others lie in it."""
    trucks = tables.get("trucks")
    beds = [bed for _, (bed,) in _known(trucks, "bed_length_m")] if trucks else []
    for name, fields in CENTERS:
        if beds and name in tables:
            for field in fields:
                _doubt_center(tables[name], field, max(beds), collector)


def _doubt_center(table: Table, field: str, bed: float, collector: Collector) -> None:
    for row, (center,) in _known(table, field):
        in_bed = row.values.get("kind") in ("hopper", "tank") and table.columns["kind"][1] is not None
        last = 0.0 if in_bed else BEHIND_BED_M
        if center > last and not is_far_from_beds(center, bed):
            scale = column_scale(table, field)
            hint = "Ahead of the bed's end it is negative." if -bed <= -center <= last else ""
            text = f"{field.removesuffix('_m')} {scale.said(center)} lies outside every bed"
            collector.add("doubt.center", text, table.place(row, field), value=scale.said(center),
                          expected=f"{scale.span(-bed, last)}: the longest bed of the case", hint=hint)

"""Checks within a row: what a truck's label, a price or a site's promises must agree on."""

from collections.abc import Mapping
from itertools import product
from math import asin, cos
from typing import Any

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Row, Table
from optibuild.units import shown, shown_unit

# a sum of weights in pounds may differ from the label by the noise of conversion only
_NOISE = 1e-9
FARTHEST_BEHIND_M = 3.048
"""A load centered 10 ft or more behind the bed's end is on no truck (common practice, no source)."""
CENTERS = (("spreaders", ("center_m", "material_center_m")), ("ballast", ("center_m",)))
"""Where loads on the bed are placed: tables and their columns."""
TIMED = ("timed_min", "timed_truck", "timed_plow", "timed_depth_m")


def check_trucks(trucks: Table, settings: Settings, collector: Collector) -> None:
    """Ratings, curb weights, turning circle and seats of every truck, and where they are."""
    for row in trucks.rows:
        _check_ratings(trucks, row, settings, collector)
        _check_curb(trucks, row, settings, collector)
        _check_turning(trucks, row, settings, collector)
        _check_seats(trucks, row, settings, collector)
        _check_seat(trucks, row, settings, collector)


def _known(row: Row, *names: str) -> list[Any] | None:
    """The values of some fields, if all of them could be read and are not blank."""
    values = [row.values.get(name) for name in names]
    return None if None in values else values


def _places(table: Table, row: Row, *names: str) -> list[Place]:
    return [table.place(row, name) for name in names]


def _said(value: float, dimension: str, settings: Settings) -> str:
    """A value in the case's own units."""
    system = settings.values.get("case.units", "us")
    return f"{shown(value, dimension, system):.6g} {shown_unit(dimension, system)}"


def _check_ratings(trucks: Table, row: Row, settings: Settings, collector: Collector) -> None:
    names = ("gvwr_kg", "gawr_front_kg", "gawr_rear_kg")
    known = _known(row, *names)
    if known and known[1] + known[2] < known[0] * (1 - _NOISE):
        axles, gross = (_said(mass, "mass", settings) for mass in (known[1] + known[2], known[0]))
        collector.add("truck.ratings", f"gawr_front + gawr_rear is {axles}, gvwr is {gross}",
                      *_places(trucks, row, *names), value=axles, expected=f"at least {gross}")


def _check_curb(trucks: Table, row: Row, settings: Settings, collector: Collector) -> None:
    names = ("gvwr_kg", "curb_front_kg", "curb_rear_kg")
    known = _known(row, *names)
    if known and known[1] + known[2] > known[0] * (1 + _NOISE):
        curb, gross = (_said(mass, "mass", settings) for mass in (known[1] + known[2], known[0]))
        collector.add("truck.curb", f"curb_front + curb_rear is {curb}, gvwr is {gross}",
                      *_places(trucks, row, *names), value=curb, expected=f"at most {gross}")
    for axle in ("front", "rear"):
        _check_curb_axle(trucks, row, axle, settings, collector)


def _check_curb_axle(trucks: Table, row: Row, axle: str, settings: Settings, collector: Collector) -> None:
    names = (f"curb_{axle}_kg", f"gawr_{axle}_kg")
    known = _known(row, *names)
    if known and known[0] > known[1] * (1 + _NOISE):
        curb, rating = (_said(mass, "mass", settings) for mass in known)
        collector.add("truck.curb_axle", f"the {axle} axle weighs {curb}, its rating is {rating}",
                      *_places(trucks, row, *names), value=curb, expected=f"at most {rating}")


def _check_turning(trucks: Table, row: Row, settings: Settings, collector: Collector) -> None:
    known = _known(row, "wheelbase_m", "turning_circle_m", "track_m")
    if known and steer_angle(*known) is None:
        circle, least = (_said(x, "length", settings) for x in (known[1], 2 * known[0] + known[2]))
        collector.add("truck.turning", f"no steer angle turns this wheelbase in {circle}",
                      *_places(trucks, row, "turning_circle_m", "wheelbase_m"), value=circle,
                      expected=f"above {least} (twice the wheelbase and the track)")


def steer_angle(wheelbase_m: float, turning_circle_m: float, track_m: float) -> float | None:
    """Steer angle [rad] of a turning circle [m], curb to curb; None where no angle turns so tight.

    The center of the truck runs on half the circle less half the track.
    """
    radius_m = turning_circle_m / 2 - track_m / 2
    return asin(wheelbase_m / radius_m) if radius_m > wheelbase_m else None


def _check_seats(trucks: Table, row: Row, settings: Settings, collector: Collector) -> None:
    seats, occupants = row.values.get("seats"), settings.values.get("crew.occupants")
    if seats is not None and occupants is not None and occupants > seats:
        collector.add("truck.seats", f"seats is {seats}, and crew.occupants is {occupants}",
                      trucks.place(row, "seats"), settings.place("crew.occupants"), value=str(seats),
                      expected=f"at least {occupants}")


def _check_seat(trucks: Table, row: Row, settings: Settings, collector: Collector) -> None:
    names = ["wheelbase_m", "seat_m"]
    known = _known(row, *names)
    if known and known[1] > known[0] * (1 + _NOISE):
        wheelbase, seat = (_said(x, "length", settings) for x in known)
        # where no seat is given, the wheelbase is the likelier slip
        if trucks.columns["seat_m"][1] is not None:
            names.reverse()
        collector.add("truck.seat", f"seat is {seat} behind the front axle, wheelbase is {wheelbase}",
                      *_places(trucks, row, *names), value=seat, expected=f"at most {wheelbase}")


def is_far_from_beds(center_m: float, longest_bed_m: float) -> bool:
    """Whether a load lies further ahead of the bed's end than any bed is long, or 10 ft behind it."""
    return center_m < -longest_bed_m * (1 + _NOISE) or center_m > FARTHEST_BEHIND_M * (1 + _NOISE)


def check_centers(tables: Mapping[str, Table | None], settings: Settings, collector: Collector) -> None:
    """Spreaders, their material and ballast lie near the bed of some truck."""
    longest = _longest_bed_m(tables["trucks"])
    if longest is None:
        return
    for name, fields in CENTERS:
        if table := tables[name]:
            for row, field in product(table.rows, fields):
                _check_center(table, row, field, longest, settings, collector)


def _longest_bed_m(trucks: Table | None) -> float | None:
    """The longest bed; None where a bed could not be read, or there is none."""
    beds = [_known(row, "bed_length_m") for row in trucks.rows] if trucks else []
    return None if None in beds else max((bed[0] for bed in beds if bed), default=None)


def _check_center(table: Table, row: Row, field: str, bed_m: float, settings: Settings,
                  collector: Collector) -> None:
    center = row.values.get(field)
    if center is not None and is_far_from_beds(center, bed_m):
        said, bed, behind = (_said(x, "length", settings) for x in (center, -bed_m, FARTHEST_BEHIND_M))
        collector.add("spreader.center", f"{field.removesuffix('_m')} {said} lies far from every bed",
                      table.place(row, field), value=said,
                      expected=f"{bed} to {behind}: the longest bed of the case, and 10 ft behind it")




def check_sites(sites: Table, collector: Collector) -> None:
    """A cycle limit for every work of every round, timings and pay that are whole."""
    for row in sites.rows:
        _check_limits(sites, row, collector)
        _check_timed(sites, row, collector)
        _check_pay(sites, row, collector)


def _check_limits(sites: Table, row: Row, collector: Collector) -> None:
    if not {"work", "plow_every_min", "deice_every_min", "deice_when"} <= row.values.keys():
        return
    work, plow_every = row.values["work"], row.values["plow_every_min"]
    if plow_every is None and work != "deice":
        column = "plow_every_min"
    elif (plow_every is None and row.values["deice_every_min"] is None
          and row.values["deice_when"] == "each"):
        column = "deice_every_min"
    else:
        return
    collector.add("site.limit", f"work is {work}, but {column.removesuffix('_min')} is blank",
                  sites.place(row, column), value="", expected="a time above 0")


def _check_timed(sites: Table, row: Row, collector: Collector) -> None:
    if not set(TIMED) <= row.values.keys():
        return
    blank = [name for name in TIMED if row.values[name] is None]
    if 0 < len(blank) < len(TIMED):
        said = blank[0].removesuffix("_min").removesuffix("_m")
        collector.add("site.timed", f"{said} is blank", sites.place(row, blank[0]), value="",
                      expected="the minutes, and the truck, the plow and the depth they were timed with")


def check_timed_plows(tables: Mapping[str, Table | None], settings: Settings, collector: Collector) -> None:
    """Sites are timed with blades that reach farther across than passes overlap."""
    sites, plows, overlap = tables["sites"], tables["plows"], settings.values.get("assumptions.overlap")
    if sites is None or plows is None or overlap is None:
        return
    by_id = {plow.values["id"]: plow for plow in plows.rows if "id" in plow.values}
    for row in sites.rows:
        plow = by_id.get(row.values.get("timed_plow"))
        if plow is not None and _known(row, *TIMED, "snow_goes"):
            _check_reach(sites, row, plows, plow, overlap, settings, collector)


def _check_reach(sites: Table, row: Row, plows: Table, plow: Row, overlap_m: float, settings: Settings,
                 collector: Collector) -> None:
    blade = _known(plow, "width_m", "angle_rad")
    if blade is None:
        return
    name, goes = row.values["timed_plow"], row.values["snow_goes"]
    # a blade is straight where snow goes to the end of the pass
    reach_m = blade[0] * (cos(blade[1]) if goes == "side" else 1.0)
    if reach_m <= overlap_m:
        reach, overlap = (_said(x, "length", settings) for x in (reach_m, overlap_m))
        collector.add("site.timed", f"'{name}', snow going to the {goes}, reaches {reach} across, and passes "
                      f"overlap by {overlap}", sites.place(row, "timed_plow"), plows.place(plow, "width_m"),
                      settings.place("assumptions.overlap"), value=name,
                      expected=f"a plow that reaches more than {overlap} across",
                      remedy="Correct timed_plow, width and angle of the plow, or assumptions.overlap.")


def _check_pay(sites: Table, row: Row, collector: Collector) -> None:
    if not {"pay_by", "pay_usd"} <= row.values.keys():
        return
    pay_by, pay = row.values["pay_by"], row.values["pay_usd"]
    if (pay_by is None) != (pay is None):
        missing = "pay_by" if pay_by is None else "pay_usd"
        collector.add("site.pay", f"{missing.removesuffix('_usd')} is blank", sites.place(row, missing),
                      value="", expected="season, event or push, and the amount")

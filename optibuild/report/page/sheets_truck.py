"""A truck's sheet for the shop: what is mounted where, how full it may be, what the scale must show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optibuild.cautions import FIT, SLOSHING
from optibuild.records import AxleLoads, Case, Item, Plan, PlannedTruck, Truck
from optibuild.report.page.blocks import Grid, Lines, Words
from optibuild.report.page.sheets_words import (
    WRITE,
    Blanks,
    Sheet,
    fill_lines,
    length,
    near_words,
    spreader_of,
)
from optibuild.report.plan_screen import taken_out
from optibuild.report.tables import Cell, Column, Table, Units, count, without_empty

PLACES = "Places are those of the center of mass."
RAISED = "Raised: the plow is carried; off: it is on the ground or taken off."
FULL = "Full: the rated fill is loaded; empty: nothing."
RATED = "No figure may be above its rating."
PARTS = ("front", "rear", "gross")


@dataclass(frozen=True)
class Part:
    """Something on the truck: how many of it, how heavy one is, where it sits."""

    word: str
    row: Item
    many: int
    kg: float
    where: str | None


def truck_sheet(truck: PlannedTruck, plan: Plan, case: Case) -> Sheet:
    """Parts and ballast with their places, rated fill, axle loads in every load state, blanks to write in."""
    spreader, fill = spreader_of(truck, case), fill_lines(truck, case)
    near = near_words(truck, case)
    tank = spreader is not None and spreader.kind == "tank"
    rated = next(row for row in case.trucks if row.id == truck.truck)
    return Sheet(
        "truck", f"truck-{truck.truck_no}", "For the shop", f"Truck {truck.truck_no}",
        f"{truck.build}, depot {truck.depot}",
        [Grid("Parts", _parts(_mounted(truck, rated, case), case), PLACES), *_fill(fill, truck, plan, case),
         Grid("Axle loads to verify on the scale", _loads(truck.axle_loads, rated, case),
              " ".join([*([RAISED] if truck.plow else []), *([FULL] if spreader else []), RATED])),
         Blanks(("Weighed by", "Date and time", "Scale")),
         *([Words(near, quiet=True)] if near else []),
         Words("", [*FIT, *([SLOSHING] if tank else [])], quiet=True)])


def _fill(fill: Lines | None, truck: PlannedTruck, plan: Plan, case: Case) -> list[Lines | Words]:
    """How much may be loaded; and when ballast comes out."""
    told = [] if fill is None else [fill]
    return [*told, *map(Words, taken_out(replace(plan, trucks=(truck,)), case))]


def _parts(parts: Sequence[Part], case: Case) -> Table:
    units = Units(case.units)
    columns = (Column("part"), Column("id"), Column("what"), count("how many"), units.mass("mass of one"),
               units.mass("mass in all"), Column("where"))
    return without_empty(Table(columns, tuple(
        (part.word, part.row.id, part.row.description or None, part.many, units.kg(part.kg),
         units.kg(part.many * part.kg), part.where) for part in parts)))


def _mounted(truck: PlannedTruck, rated: Truck, case: Case) -> list[Part]:
    """All that is on the truck, itself first; the plow's mount, which stays on, apart from the blade."""
    parts = [Part("truck", rated, 1, rated.curb_kg, None)]
    for plow in case.plows:
        if plow.id == truck.plow:
            if plow.mount_mass_kg > 0.0:
                parts.append(Part("mount of the plow", plow, 1, plow.mount_mass_kg, "at the bumper"))
            parts.append(Part("plow", plow, 1, plow.blade_mass_kg,
                              f"{length(plow.center_ahead_m, case)} ahead of the bumper"))
    spreader = spreader_of(truck, case)
    if spreader is not None:
        parts.append(Part("spreader, empty", spreader, 1, spreader.empty_mass_kg,
                          _where(spreader.center_m, rated, case)))
    return [*parts, *_ballast(truck, rated, case)]


def _ballast(truck: PlannedTruck, rated: Truck, case: Case) -> Iterator[Part]:
    kits = {row.id: row for row in case.ballast}
    for told in truck.ballast:
        kit = kits[told.id]
        yield Part("ballast", kit, told.count, kit.unit_mass_kg, _where(kit.center_m, rated, case))


def _where(center_m: float, rated: Truck, case: Case) -> str:
    """A place in the bed [m from its end], told from there and from the rear axle."""
    return "; ".join(f"{length(abs(m), case)} {'behind' if m >= 0 else 'ahead of'} {datum}" for m, datum in (
        (center_m, "the bed's end"), (rated.rear_axle_to_bed_end_m + center_m, "the rear axle")))


def _loads(loads: Sequence[AxleLoads], rated: Truck, case: Case) -> Table:
    """Loads to expect in every load state, each beside a cell to write in, under the ratings."""
    units = Units(case.units)
    columns = [Column("load state"), Column("aboard")]
    for part in PARTS:
        columns += [units.mass(part), Column(f"{part}, weighed")]
    ratings = (rated.gawr_front_kg, rated.gawr_rear_kg, rated.gvwr_kg)
    rows: list[tuple[Cell, ...]] = [("rating", None, *_pairs(ratings, None, units))]
    people = {"driver": min(1, case.crew.occupants), "full": case.crew.occupants}
    rows += [(row.state, str(people[row.crew]),
              *_pairs([getattr(row, f"{part}_kg") for part in PARTS], WRITE, units)) for row in loads]
    return Table(tuple(columns), tuple(rows))


def _pairs(masses: Sequence[float], beside: Cell, units: Units) -> Iterator[Cell]:
    for kg in masses:
        yield units.kg(kg)
        yield beside

"""A picture of the axle loads of a build: front, rear and gross in every load state against the rating, and
the rated fill. One scale for all of it, so that gross is as long as front and rear together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from optibuild.records import Case, Plan, PlannedTruck, Spreader
from optibuild.records.plan import AxleLoads
from optibuild.report.charts.chart import cut, named
from optibuild.report.charts.hatch import hatched
from optibuild.report.charts.palette import COLORS, INK, QUIET
from optibuild.report.console import number
from optibuild.report.page.blocks import Picture
from optibuild.report.page.sheets_words import near_words, spreader_of, vessel
from optibuild.report.page.svg import element, picture, told, words
from optibuild.report.tables import Column, Table, Units

WIDTH = 328.0
ROW, BAR, HEAD = 17.0, 10.0, 38.0
LETTER = 6.2
"""Usual width of a letter of the labels."""
VALUE = 66.0
"""Room for a mass at the right edge."""
FREE = 1.04
"""The longest bar or rating takes one part in so many of the room for bars."""
SIZE, SMALL = 12.5, 11.5
LOADS = (("front", "Front axle"), ("rear", "Rear axle"), ("gross", "Gross"))


@dataclass(frozen=True)
class Sheet:
    """Where bars begin, how long one kg is, and how masses are told."""

    left: float
    per_kg: float
    units: Units

    def mass(self, kg: float) -> str:
        """A mass as told."""
        return f"{number(self.units.kg(kg), 0)} {self.units.mass('').unit}"


def axle_pictures(plan: Plan, case: Case) -> list[Picture]:
    """A picture for each build with its ballast, however many trucks are built so."""
    alike: dict[tuple[object, ...], list[PlannedTruck]] = {}
    for truck in plan.trucks:
        alike.setdefault((truck.build, truck.ballast, truck.axle_loads), []).append(truck)
    return [axle_picture(trucks, case, f"axles{k}") for k, trucks in enumerate(alike.values(), 1)]


def axle_picture(trucks: Sequence[PlannedTruck], case: Case, name: str) -> Picture:
    """The picture of trucks that are built alike; `name` begins its ids."""
    truck = trucks[0]
    crews = len({row.crew for row in truck.axle_loads}) > 1
    labels = [_label(row, crews) for row in truck.axle_loads]
    left = min(180.0, LETTER * max(map(len, labels)) + 6.0)
    longest = max(max(row.gross_kg, row.gross_kg + row.gross_margin_kg) for row in truck.axle_loads)
    sheet = Sheet(left, (WIDTH - VALUE - left) / (FREE * longest), Units(case.units))
    drawn: list[Element] = []
    y = 0.0
    for part, heading in LOADS:
        drawn += _panel(sheet, truck.axle_loads, labels, part, heading, y)
        y += HEAD + ROW * len(labels) + 4.0
    truck_spreader = spreader_of(truck, case)
    if truck_spreader is not None:
        drawn += _fill(sheet, truck, truck_spreader, case, y)
        y += HEAD + ROW
    title = f"{named(truck.build)}: {_numbers(trucks)}"
    shown = ("Bars of the load on the front axle, on the rear axle and of both in every load state, with a "
             "line at the rating; below them the rated fill. The figures are in the table.")
    return Picture(picture(name, title, shown, WIDTH, y, drawn), title, _table(truck, sheet.units),
                   f"{_carried(truck)} {near_words(truck, case)}".strip())


def _numbers(trucks: Sequence[PlannedTruck]) -> str:
    numbers = ", ".join(str(one.truck_no) for one in trucks)
    return f"truck{'s' if len(trucks) > 1 else ''} {numbers}"


def _carried(truck: PlannedTruck) -> str:
    kits = ", ".join(f"{kit.count} {named(kit.id)}" for kit in truck.ballast)
    return f"Ballast: {kits}." if kits else "No ballast."


def _label(row: AxleLoads, crews: bool) -> str:
    return f"{row.state}, {'full crew' if row.crew == 'full' else row.crew}" if crews else row.state


def _hatch(state: str) -> str:
    """Hatch of an empty hopper or tank and of one that holds the retained fill; a full one is solid."""
    return "/" if "empty" in state else "x" if "retained" in state else ""


def _panel(sheet: Sheet, loads: Sequence[AxleLoads], labels: Sequence[str], part: str, heading: str,
           top: float) -> Iterator[Element]:
    """One axle, or both: a bar for each state, a line at the rating, the least margin in words."""
    tightest = min(range(len(loads)), key=lambda k: float(getattr(loads[k], f"{part}_margin_kg")))
    rating = float(getattr(loads[0], f"{part}_kg")) + float(getattr(loads[0], f"{part}_margin_kg"))
    least = float(getattr(loads[tightest], f"{part}_margin_kg"))
    yield words(0.0, top + 14.0, f"{heading}, rating {sheet.mass(rating)}", font_size=SIZE, font_weight="600",
                fill=INK)
    yield words(0.0, top + 29.0, cut(f"least left {sheet.mass(least)}: {labels[tightest]}", 50),
                font_size=SMALL, fill=QUIET)
    for k, (row, label) in enumerate(zip(loads, labels, strict=True)):
        kg = float(getattr(row, f"{part}_kg"))
        yield from _bar(sheet, label, kg, top + HEAD + ROW * k, _hatch(row.state), part)
    yield _line(sheet, rating, top + HEAD - 3.0, ROW * len(loads) + 2.0, part)


def _bar(sheet: Sheet, label: str, kg: float, y: float, hatch: str, part: str) -> Iterator[Element]:
    """A bar, solid or filled with lines; not with a pattern, which a printing browser makes a picture of."""
    wide = max(0.0, kg) * sheet.per_kg
    yield words(0.0, y + 9.5, cut(label, (sheet.left - 4.0) / LETTER), label, font_size=SMALL, fill=INK)
    yield element("rect", x=sheet.left, y=y, width=wide, height=BAR, fill="none" if hatch else COLORS[0],
                  stroke=COLORS[0], data_load=part, data_kg=repr(kg))
    lines = hatched(hatch, (sheet.left, sheet.left + wide, y, y + BAR))
    if lines:
        yield element("path", d="".join(f"M{told(x)} {told(z)}L{told(u)} {told(v)}"
                                        for (x, z), (u, v) in lines), stroke=COLORS[0], stroke_width=1.1)
    yield words(WIDTH, y + 9.5, sheet.mass(kg), font_size=SMALL, fill=INK, text_anchor="end")


def _line(sheet: Sheet, kg: float, y: float, height: float, part: str) -> Element:
    x = sheet.left + kg * sheet.per_kg
    return element("path", d=f"M{x:.3f} {y:.3f}v{height:.3f}", stroke=INK, stroke_width=2.0,
                   data_rating=part, data_kg=repr(kg))


def _fill(sheet: Sheet, truck: PlannedTruck, spreader: Spreader, case: Case, top: float) -> Iterator[Element]:
    """The rated fill against what the hopper or tank holds, struck level: volume by bulk density."""
    fill = truck.rated_fill_kg
    holds_kg = spreader.volume_m3 * case.material(spreader).bulk_density_kg_per_m3
    yield words(0.0, top + 14.0, f"Rated fill {sheet.mass(fill)}", font_size=SIZE, font_weight="600",
                fill=INK)
    said = f"the {vessel(spreader)} holds {sheet.mass(holds_kg)}"
    if truck.retained_fill_kg > 0.0:
        said += f"; ballast is out above {sheet.mass(truck.retained_fill_kg)}"
    yield words(0.0, top + 29.0, said, font_size=SMALL, fill=QUIET)
    yield from _bar(sheet, "material", fill, top + HEAD, "", "fill")
    if sheet.left + holds_kg * sheet.per_kg <= WIDTH - VALUE:
        yield _line(sheet, holds_kg, top + HEAD - 3.0, ROW + 2.0, "fill")


def _table(truck: PlannedTruck, units: Units) -> Table:
    masses = [f"{part}{margin}" for part, _ in LOADS for margin in ("", "_margin")]
    columns = (Column("load state"), Column("crew"), *(units.mass(one.replace("_margin", ", left"))
                                                       for one in masses))
    return Table(columns, tuple(
        (row.state, row.crew, *(units.kg(float(getattr(row, f"{one}_kg"))) for one in masses))
        for row in truck.axle_loads))

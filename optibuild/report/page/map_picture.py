"""The map: sites and loops to scale from their coordinates. Each stop is marked by truck and stop, and tells
its minutes where it is pointed at, tapped or given the focus."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from xml.etree.ElementTree import Element

from optibuild.records import Case, Depot, Plan, PlannedTruck, Site
from optibuild.report.charts.chart import cut, named
from optibuild.report.charts.palette import COLORS, INK, QUIET
from optibuild.report.console import number
from optibuild.report.page.blocks import Block, Keys, Picture
from optibuild.report.page.labels import Box, Named, apart, placed
from optibuild.report.page.projection import WIDTH, Projection, projection, scale_bar
from optibuild.report.page.stops import Visit, route, visits
from optibuild.report.page.svg import element, picture, told, words
from optibuild.report.tables import Cell, Column, Table, Units, count, minutes

DASHES = ("", "6 3", "2 2.5", "9 3 2 3", "5 2 1 2 1 2", "12 4", "3 5", "8 2 3 2")
"""Eight, and as many as there are loops that look different."""
MANY = 60
"""With more stops than this, only the first of each loop is marked with the truck's number."""
TALL = 14.0
TIP = 54.0
"""Room below the map for what a stop tells."""
NARROW, WIDE = 1.12, 0.56
"""Marks are so much larger on a phone and smaller where the page is wide, as page.css has it."""
LONGEST = 18
"""Letters of a name on the map; the whole of it is told by the stop."""
HINT = "Point at, tap or tab to a stop: what it takes is told here."
SAID = "Straight lines in the order of the stops; roads are longer. "
FEW_SAID = "A mark says truck and stop: {} is the {} stop of truck {}."
MANY_SAID = "A mark with a number is the first stop of that truck, one without a later stop."


@dataclass(frozen=True)
class Mark:
    """One mark at a site, its left edge and its middle so far to the right of it and below it."""

    visit: Visit
    text: str
    at: float
    wide: float
    down: float = 0.0


def map_blocks(plan: Plan, case: Case) -> list[Block]:
    """The map with its legend."""
    sheet = projection([*case.depots, *case.sites])
    found = visits(plan)
    names = {site.id: site.name for site in case.sites}
    few = len(found) <= MANY
    said = SAID + (_example(found) if few else MANY_SAID) if found else ""
    lines = _loops(plan, case, sheet)
    title = (f"{len(case.sites)} sites, {len(case.depots)} depot{'s' if len(case.depots) > 1 else ''}, "
             f"{len(plan.trucks)} loop{'' if len(plan.trucks) == 1 else 's'}")
    drawn = [*(_line(truck, lines[truck.truck_no]) for truck in plan.trucks), *_depots(case, sheet),
             *_scale(sheet, Units(case.units)),
             words(WIDTH / 2, sheet.height + 28.0, HINT if found else "", class_="hint", fill=QUIET,
                   text_anchor="middle"),
             *_sites(plan, case, sheet, found, lines)]
    # a group, not an image: what stands inside an image takes no focus
    svg = picture("map", title, " ".join(("A map to scale.", said, "The figures are in the table.")).strip(),
                  WIDTH, sheet.height + TIP, drawn, "group", class_="map" if few else "map many",
                  data_units_per_m=repr(sheet.per_m))
    keys = [(_sample(truck), f"Truck {truck.truck_no}: {named(truck.build)}, {_stops(truck)}, "
             f"{number(truck.loop.duration_min, 1)} min") for truck in plan.trucks]
    return [Picture(svg, title, _table(plan, found, names), said),
            *([Keys(keys)] if keys else [])]


def _example(found: Sequence[Visit]) -> str:
    """What a mark of this map says: the last truck's second stop, or where no truck has two its first."""
    one = max(found, key=lambda visit: (visit.place == 2, visit.truck.truck_no, -visit.place))
    return FEW_SAID.format(one.label, "second" if one.place == 2 else "first", one.truck.truck_no)


def _stops(truck: PlannedTruck) -> str:
    return f"{len(truck.loop.stops)} stop{'' if len(truck.loop.stops) == 1 else 's'}"


def _line(truck: PlannedTruck, d: str, kind: str = "loop") -> Element:
    place = truck.truck_no - 1
    return element("path", d=d, class_=kind, stroke=COLORS[place % len(COLORS)],
                   stroke_dasharray=DASHES[place % len(DASHES)], data_truck=str(truck.truck_no))


def _sample(truck: PlannedTruck) -> str:
    """The line of a loop as the legend shows it."""
    name = f"key{truck.truck_no}"
    return picture(name, f"Truck {truck.truck_no}", "The line of its loop on the map.", 40.0, 10.0,
                   [_line(truck, "M1 5H39")], class_="sample")


def _loops(plan: Plan, case: Case, sheet: Projection) -> dict[int, str]:
    """The line of each truck's loop."""
    places: list[Site | Depot] = [*case.sites, *case.depots]
    spots = {place.id: sheet.place(place.lat_deg, place.lon_deg) for place in places}
    return {truck.truck_no: "M" + " ".join(f"{told(x)} {told(y)}" for x, y in map(
        spots.__getitem__, route(truck))) for truck in plan.trucks}


def _depots(case: Case, sheet: Projection) -> Iterator[Element]:
    for depot in case.depots:
        x, y = sheet.place(depot.lat_deg, depot.lon_deg)
        square = element("rect", [element("title", text=f"depot {depot.id}")], x=-7.0, y=-7.0, width=14.0,
                         height=14.0, fill=INK, stroke="white")
        yield element("g", [element("g", [square], class_="mark")],
                      transform=f"translate({told(x)} {told(y)})", data_depot=depot.id)


def _scale(sheet: Projection, units: Units) -> Iterator[Element]:
    long, said = scale_bar(sheet.per_m, units)
    y = sheet.height - 8.0
    yield element("path", d=f"M4 {told(y - 4)}V{told(y)}H{told(4 + long)}V{told(y - 4)}", fill="none",
                  stroke=INK, stroke_width=1.2, data_scale=said, data_length=repr(long))
    yield words(10.0 + long, y + 1.0, said, class_="small", fill=INK)


def _sites(plan: Plan, case: Case, sheet: Projection, found: Sequence[Visit],
           lines: dict[int, str]) -> Iterator[Element]:
    """Dots at every site with the names that have room, then the marks of the stops over them."""
    few, names = len(found) <= MANY, {site.id: site.name for site in case.sites}
    at_site: dict[str, list[Visit]] = {}
    for visit in found:
        at_site.setdefault(visit.stop.site, []).append(visit)
    marks = {site.id: _marks(at_site.get(site.id, []), few) for site in case.sites}
    spots = {site.id: sheet.place(site.lat_deg, site.lon_deg) for site in case.sites}
    yield from (_dot(site, spots[site.id], site.id in at_site) for site in case.sites)
    if few:
        marks = _apart(marks, spots, [sheet.place(depot.lat_deg, depot.lon_deg) for depot in case.depots])
        yield from _names(plan, case, spots, marks, sheet)
    yield from (_mark(mark, spots[mark.visit.stop.site], names[mark.visit.stop.site],
                      lines[mark.visit.truck.truck_no], sheet) for mark in sorted(
        (mark for row in marks.values() for mark in row),
        key=lambda mark: (mark.visit.truck.truck_no, mark.visit.place)))


def _marks(found: Sequence[Visit], few: bool) -> list[Mark]:
    """The marks of one site, side by side; a mark without text is a dot."""
    made: list[Mark] = []
    at = 0.0
    for visit in found:
        text = visit.label if few else str(visit.truck.truck_no) if visit.place == 1 else ""
        wide = 6.0 * len(text) + 7.0 if text else 8.0
        at = at if made else -0.5 * wide
        made.append(Mark(visit, text, at, wide))
        at += wide + 1.0
    return made


def _apart(marks: dict[str, list[Mark]], spots: dict[str, tuple[float, float]],
           depots: Sequence[tuple[float, float]]) -> dict[str, list[Mark]]:
    """The marks of sites close together side by side; the dots tell where the sites are."""
    there = [Named("", *spots[site], _box(row)) for site, row in marks.items() if row]
    steps = apart(there, [Box(x - 8.0, y - 8.0, x + 8.0, y + 8.0) for x, y in depots], NARROW)
    moved = dict(zip((site for site, row in marks.items() if row), steps, strict=True))
    return {site: [replace(mark, at=mark.at + moved[site][0], down=moved[site][1]) for mark in row]
            for site, row in marks.items()}


def _dot(site: Site, spot: tuple[float, float], served: bool) -> Element:
    x, y = spot
    left_out = "" if served else ", not served"
    return element("circle", [element("title", text=f"{site.id}{left_out}")], cx=repr(x), cy=repr(y),
                   r=2.0 if served else 3.5, data_site=site.id, fill=INK if served else "white",
                   stroke="none" if served else QUIET)


def _names(plan: Plan, case: Case, spots: dict[str, tuple[float, float]], marks: dict[str, list[Mark]],
           sheet: Projection) -> Iterator[Element]:
    """Names of depots, then of sites with parcel counts, those with most parcels first: once for narrow pages
    and once for wide ones."""
    parcels = {site.id: site.parcels for site in plan.sites}
    depots = {depot.id: sheet.place(depot.lat_deg, depot.lon_deg) for depot in case.depots}
    named = [Named(cut(f"depot {name}", LONGEST), *spot, Box(-8.0, -8.0, 8.0, 8.0))
             for name, spot in depots.items()]
    named += [Named(_named(name, parcels.get(name, 1)), *spots[name], _box(marks[name]))
              for name in sorted(spots, key=lambda name: -parcels.get(name, 1))]
    dots = [Box(x - 2.0, y - 2.0, x + 2.0, y + 2.0) for x, y in spots.values()]
    roads = [leg for truck in plan.trucks
             for leg in pairwise(map((spots | depots).__getitem__, route(truck)))]
    frame = Box(1.0, 1.0, WIDTH - 1.0, sheet.height - 18.0)
    for scale, width in ((NARROW, "narrow"), (WIDE, "broad")):
        for name, place in zip(named, placed(named, scale, frame, dots, roads), strict=True):
            if place is not None:
                text = words(place.x, place.base, name.text, class_=f"name {width}", fill=QUIET,
                             text_anchor=place.anchor)
                yield element("g", [element("g", [text], class_="mark")], aria_hidden="true",
                              transform=f"translate({told(name.x)} {told(name.y)})")


def _named(name: str, parcels: int) -> str:
    return cut(name, LONGEST) + (f" ({parcels} parcels)" if parcels > 1 else "")


def _box(marks: Sequence[Mark]) -> Box:
    if not marks:
        return Box(-5.0, -5.0, 5.0, 5.0)
    middle = marks[0].down
    return Box(marks[0].at, middle - 0.5 * TALL, marks[-1].at + marks[-1].wide, middle + 0.5 * TALL)


def _mark(mark: Mark, spot: tuple[float, float], name: str, line: str, sheet: Projection) -> Element:
    """A mark that takes the focus; with it its loop stands out, and what it tells comes up below the map."""
    visit = mark.visit
    color = COLORS[(visit.truck.truck_no - 1) % len(COLORS)]
    said = [f"{visit.stop.site} {name}".strip(),
            f"truck {visit.truck.truck_no}, stop {visit.place}: {visit.stop.work}, {visit.parcels}",
            visit.minutes]
    tall = TALL if mark.text else mark.wide
    shape = [element("rect", x=mark.at, y=mark.down - 0.5 * tall, width=mark.wide, height=tall, rx=4.0,
                     fill="white", stroke=color, stroke_width=1.8)]
    if mark.text:
        shape.append(words(mark.at + 0.5 * mark.wide, mark.down + 3.6, mark.text, text_anchor="middle",
                           fill=INK))
    tip = element("foreignObject", [element("div", [element("p", text=line, dir="auto") for line in said],
                                            class_="tip")],
                  x=0.0, y=sheet.height, width=WIDTH, height=TIP, class_="told")
    x, y = spot
    marked = element("g", [element("g", shape, class_="mark")], transform=f"translate({told(x)} {told(y)})")
    return element("g", [_line(visit.truck, line, "told loop"), marked, tip], class_="stop", tabindex="0",
                   role="img", aria_label=". ".join(said), data_stop=visit.label, data_at=visit.stop.site)


def _table(plan: Plan, found: Sequence[Visit], names: dict[str, str]) -> Table:
    """Every stop, and the sites left out."""
    columns = (count("truck"), count("stop"), Column("site"), Column("name"), Column("work"),
               count("parcels"), count("of"), minutes("arrives"), minutes("leaves"),
               minutes("arrives, last round"), minutes("leaves, last round"), Column("deadline", "min", 0))
    rows: list[tuple[Cell, ...]] = [
        (visit.truck.truck_no, visit.place, visit.stop.site, names.get(visit.stop.site, ""), visit.stop.work,
         visit.stop.parcels, visit.of, visit.stop.arrive_min, visit.stop.leave_min, visit.stop.end_arrive_min,
         visit.stop.end_leave_min, visit.stop.deadline_min) for visit in found]
    rows += [(None, None, site.id, names.get(site.id, ""), "not served", *(None,) * 7) for site in plan.sites
             if not site.served]
    return Table(columns, tuple(rows))

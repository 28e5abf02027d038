"""Columns of the tables about the work, and `TABLES`: every column of every table, declared once."""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache

from optibuild.inputs.declared.catalog_columns import BALLAST, MATERIALS, MOUNTS, PLOWS, SPREADERS, TRUCKS
from optibuild.inputs.declared.declaration import NO_LIMIT, Declaration

LAT = Declaration("lat", "latitude in degrees, north positive", "number", needed=True, low="-90", high="90",
                  stored_as="lat_deg")
LON = Declaration("lon", "longitude in degrees, east positive", "number", needed=True, low="-180", high="180",
                  stored_as="lon_deg")

DEPOTS = (
    Declaration("id", "name of the depot", "id", needed=True),
    LAT,
    LON,
    Declaration("reload_time", "fixed minutes of a reload", "time", default="8 min",
                likely=("0 min", "120 min"), because="a reload takes minutes"),
    Declaration("reload_rate", "material loaded in a minute", "mass_rate", default="600 lb/min",
                above_low=True,
                likely=("20 lb/min", "20000 lb/min"), because="shovels to large loaders"),
)

SITES = (
    Declaration("id", "name of the site in tables and plans", "id", needed=True),
    Declaration("name", "words for the reader", "text"),
    LAT,
    LON,
    Declaration("area", "plowable area", "area", needed=True, above_low=True,
                likely=("200 sq ft", "50 acre"), because="contracted sites are walks to large lots"),
    Declaration("pass_length", "mean length of one plowing pass", "length", above_low=True,
                derived="square root of the area",
                usual="ft", likely=("10 ft", "1 mi"), because="no longer than the site"),
    Declaration("clear_width", "free width for turning at the end of a pass", "length", default="60 ft",
                above_low=True, high="10 km", usual="ft",
                likely=("6 ft", "1000 ft"), because="no narrower than a truck, no wider than the site"),
    Declaration("snow_goes", "side (windrowed away) or end (stacked at the end of the pass)", "word",
                default="side", choices=("side", "end")),
    Declaration("work", "what is contracted", "word", default="plow", choices=("plow", "deice", "both")),
    Declaration("plow_every", "longest time between two plowings", "time", above_low=True,
                derived="needed where work is plow or both",
                usual="h", likely=("15 min", "24 h"), because="contracts ask for service in hours"),
    Declaration("deice_every", "longest time between two deicings", "time", above_low=True,
                derived="plow_every",
                usual="h", likely=("15 min", "24 h"), because="contracts ask for service in hours"),
    Declaration("deice_when", "each: deiced in every round; end: once, in the last round of a storm", "word",
                default="each", choices=("each", "end")),
    Declaration("end_within", "longest time that the last round may take where deice_when is end", "time",
                default="4 h", above_low=True,
                usual="h", likely=("15 min", "24 h"), because="a last round takes hours"),
    Declaration("split_works", "yes = plow and deice may be done by two trucks", "yes_no", default="no"),
    Declaration("deadline", "first service finished so long after the start", "time", default=NO_LIMIT,
                above_low=True,
                usual="h", likely=("10 min", "48 h"), because="contracts ask for service in hours"),
    Declaration("trigger", "snowfall from which it is plowed, and the depth of a push", "length",
                default="1 in", high="3 m",
                likely=("0 in", "12 in"), because="contracts begin at 1 or 2 in"),
    Declaration("deice_rate", "dry deicer on an area; a liquid takes more by its strength", "areal_rate",
                derived="table by pavement temperature",
                likely=("0.75 lb/1000 ft^2", "30 lb/1000 ft^2"),
                because="lots take 3 to 8 (DuPage River / Salt Creek Workgroup), roads 50 lb of salt to "
                "1,800 lb of abrasives a lane-mile (TRB Special Report 235, NCHRP Report 526)"),
    Declaration("stop_time", "arrive, look, log", "time", default="3 min",
                likely=("0 min", "60 min"), because="to arrive, look and log takes minutes"),
    Declaration("timed", "time that one plowing of the whole site took, without arriving", "time",
                above_low=True, derived="not timed", usual="min",
                likely=("1 min", "24 h"), because="lots take minutes to hours"),
    Declaration("timed_truck", "id of the truck it was timed with", "item_id", derived="not timed"),
    Declaration("timed_plow", "id of its plow", "item_id", derived="not timed"),
    Declaration("timed_depth", "depth of snow when it was timed", "length", above_low=True,
                derived="not timed", likely=("0.25 in", "24 in"), because="storms bring inches"),
    Declaration("most_gross", "heaviest truck let in", "mass", default=NO_LIMIT, above_low=True,
                likely=("3000 lb", "100000 lb"), because="no truck is lighter, no road bears more"),
    Declaration("most_width", "widest truck let in", "length", default=NO_LIMIT, above_low=True,
                likely=("4 ft", "40 ft"), because="gates and ways that a truck passes"),
    Declaration("most_turning_circle", "widest turn there is room for", "length", default=NO_LIMIT,
                above_low=True,
                usual="ft", likely=("15 ft", "300 ft"), because="the turns that trucks need"),
    Declaration("parcels", "equal parts that several trucks may share", "count", low="1", high="1000",
                derived="as few as the smallest useful build needs",
                likely=("1", "60"), because="each part should be worth a stop"),
    Declaration("must_serve", "no = may be left out", "yes_no", default="yes"),
    Declaration("pay_by", "what the pay is for", "word", choices=("season", "event", "push"),
                derived="no pay known"),
    Declaration("pay", "pay for one season, event or push", "money", derived="no pay known",
                likely=("0 USD", "2000000 USD"), because="one site pays less in a season"),
)

SEASON = (
    Declaration("id", "name of the event class", "id", needed=True),
    Declaration("count", "how many are expected in a season", "number", needed=True, high="1000",
                derived="may be blank where there are past_winters: their mean",
                likely=("0", "200"), because="a season has fewer events"),
    Declaration("duration", "how long one lasts", "time", needed=True, above_low=True,
                usual="h", likely=("15 min", "120 h"), because="events last hours"),
    Declaration("snowfall", "snow that falls in one", "length", needed=True, high="10 m",
                likely=("0 in", "60 in"), because="events bring inches, not feet"),
    Declaration("pavement", "pavement temperature", "temperature", needed=True,
                likely=("-40 degF", "50 degF"), because="snow and ice lie on colder pavement"),
)

TRAVEL = (
    Declaration("from", "id of a site or depot", "id", needed=True, stored_as="origin"),
    Declaration("to", "id of a site or depot", "id", needed=True, stored_as="destination"),
    Declaration("time", "time to drive", "time", derived="needed where there is a way",
                likely=("0 min", "300 min"), because="a loop's drives take minutes"),
    Declaration("distance", "length of the way", "length", derived="not known",
                usual="mi", likely=("0 mi", "200 mi"), because="a loop stays near its depot"),
    Declaration("passable", "no = there is no way from the one to the other", "yes_no", default="yes"),
)

TIMINGS = (
    Declaration("site", "id of the site that was plowed whole", "id", needed=True),
    Declaration("truck", "id of the truck", "item_id", needed=True),
    Declaration("plow", "id of its plow", "item_id", needed=True),
    Declaration("depth", "depth of snow", "length", needed=True, above_low=True,
                likely=("0.25 in", "24 in"), because="storms bring inches"),
    Declaration("time", "time that it took, without arriving", "time", needed=True, above_low=True,
                likely=("1 min", "24 h"), because="lots take minutes to hours"),
)

WINTER = Declaration("winter", "name of the winter: 2023-24", "id", needed=True, stored_as="id")
EVENT = Declaration("EVENT", "how many events of the class EVENT it had: one column for each row of season, "
                    "headed by its id", "count", needed=True, high="1000", stored_as="counts",
                    likely=("0", "200"), because="a winter has fewer events")

CONTRACTS = (
    Declaration("site", "id of the site; its own rows of a form go before those for every site", "id",
                derived="every site"),
    Declaration("form", "what is paid for: a season, an event that is served (by bands of its snowfall), a "
                "push, an inch of snow or an hour at the site", "word", needed=True,
                choices=("season", "event", "push", "inch", "hour")),
    Declaration("amount", "pay for one of these", "money", derived="priced by the bid",
                likely=("0 USD", "2000000 USD"), because="one site pays less in a season"),
    Declaration("from_depth", "form event: least snowfall of an event that it is paid for; snowfall is "
                "rounded to 0.01 in first, halves up, so that 6.995 in counts as 7.00", "length",
                default="0 in", high="10 m",
                likely=("0 in", "60 in"), because="events bring inches, not feet"),
    Declaration("to_depth", "form event: snowfall from which it is paid for no more", "length",
                default=NO_LIMIT, above_low=True, high="10 m",
                likely=("0.1 in", "60 in"), because="events bring inches, not feet"),
    Declaration("cap", "form season: events that the amount includes", "count", default=NO_LIMIT,
                high="1000"),
    Declaration("overage", "form season with a cap: pay for each event beyond", "money",
                derived="priced by the bid",
                likely=("0 USD", "200000 USD"), because="one event pays less at a site"),
)

TABLES: dict[str, tuple[Declaration, ...]] = {
    "trucks": TRUCKS, "plows": PLOWS, "spreaders": SPREADERS, "ballast": BALLAST, "materials": MATERIALS,
    "depots": DEPOTS, "sites": SITES, "season": SEASON, "travel": TRAVEL,
    "mounts": MOUNTS, "timings": TIMINGS, "past_winters": (WINTER, EVENT), "contracts": CONTRACTS,
}
# tables that may be absent; of plows and spreaders one must be there, and spreaders need materials
OPTIONAL = ("plows", "spreaders", "ballast", "materials", "travel", "mounts", "timings", "past_winters",
            "contracts")


def columns_of(table: str, events: Iterable[str]) -> tuple[Declaration, ...]:
    """The columns of a table; in past_winters EVENT becomes one column for each event of the season.

    An event called as the first column has none: `checking.winters` says so.
    """
    if table != "past_winters":
        return TABLES[table]
    return (WINTER, *(count_column(event) for event in dict.fromkeys(events) if event != WINTER.name))


@cache
def count_column(event: str) -> Declaration:
    """The column of past_winters that counts one event; its field is no other column's, whatever the id."""
    return replace(EVENT, name=event, meaning=f"how many events of the class '{event}' it had",
                   stored_as=f"count_{event}")

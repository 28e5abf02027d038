"""Columns of the tables about the work, and `TABLES`: every column of every table, declared once."""

from optibuild.inputs.catalog_columns import BALLAST, MATERIALS, PLOWS, SPREADERS, TRUCKS
from optibuild.inputs.declaration import NO_LIMIT, Declaration

LAT = Declaration("lat", "latitude in degrees, north positive", "number", needed=True, low="-90", high="90",
                  stored_as="lat_deg")
LON = Declaration("lon", "longitude in degrees, east positive", "number", needed=True, low="-180", high="180",
                  stored_as="lon_deg")

DEPOTS = (
    Declaration("id", "name of the depot", "id", needed=True),
    LAT,
    LON,
    Declaration("reload_time", "fixed minutes of a reload", "time", default="8 min"),
    Declaration("reload_rate", "material loaded in a minute", "mass_rate", default="600 lb/min",
                above_low=True),
)

SITES = (
    Declaration("id", "name of the site in tables and plans", "id", needed=True),
    Declaration("name", "words for the reader", "text"),
    LAT,
    LON,
    Declaration("area", "plowable area", "area", needed=True, above_low=True),
    Declaration("pass_length", "mean length of one plowing pass", "length", above_low=True,
                derived="square root of the area"),
    Declaration("clear_width", "free width for turning at the end of a pass", "length", default="60 ft",
                above_low=True, high="10 km"),
    Declaration("snow_goes", "side (windrowed away) or end (stacked at the end of the pass)", "word",
                default="side", choices=("side", "end")),
    Declaration("work", "what is contracted", "word", default="plow", choices=("plow", "deice", "both")),
    Declaration("plow_every", "longest time between two plowings", "time", above_low=True,
                derived="needed where work is plow or both"),
    Declaration("deice_every", "longest time between two deicings", "time", above_low=True,
                derived="plow_every"),
    Declaration("split_works", "yes = plow and deice may be done by two trucks", "yes_no", default="no"),
    Declaration("deadline", "first service finished so long after the start", "time", default=NO_LIMIT,
                above_low=True),
    Declaration("trigger", "snowfall from which it is plowed, and the depth of a push", "length",
                default="1 in", high="3 m"),
    Declaration("deice_rate", "material on an area", "areal_rate",
                derived="table by pavement temperature"),
    Declaration("stop_time", "arrive, look, log", "time", default="3 min"),
    Declaration("most_gross", "heaviest truck let in", "mass", default=NO_LIMIT, above_low=True),
    Declaration("most_width", "widest truck let in", "length", default=NO_LIMIT, above_low=True),
    Declaration("most_turning_circle", "widest turn there is room for", "length", default=NO_LIMIT,
                above_low=True),
    Declaration("parcels", "equal parts that several trucks may share", "count", low="1", high="1000",
                derived="as few as the smallest useful build needs"),
    Declaration("must_serve", "no = may be left out", "yes_no", default="yes"),
    Declaration("pay_by", "what the pay is for", "word", choices=("season", "event", "push"),
                derived="no pay known"),
    Declaration("pay", "pay for one season, event or push", "money", derived="no pay known"),
)

SEASON = (
    Declaration("id", "name of the event class", "id", needed=True),
    Declaration("count", "how many are expected in a season", "number", needed=True, high="1000"),
    Declaration("duration", "how long one lasts", "time", needed=True, above_low=True),
    Declaration("snowfall", "snow that falls in one", "length", needed=True, high="10 m"),
    Declaration("pavement", "pavement temperature", "temperature", needed=True),
)

TRAVEL = (
    Declaration("from", "id of a site or depot", "id", needed=True, stored_as="origin"),
    Declaration("to", "id of a site or depot", "id", needed=True, stored_as="destination"),
    Declaration("time", "time to drive", "time", needed=True),
    Declaration("distance", "length of the way", "length", derived="not known"),
)

TABLES: dict[str, tuple[Declaration, ...]] = {
    "trucks": TRUCKS, "plows": PLOWS, "spreaders": SPREADERS, "ballast": BALLAST, "materials": MATERIALS,
    "depots": DEPOTS, "sites": SITES, "season": SEASON, "travel": TRAVEL,
}
# tables that may be absent; of plows and spreaders one must be there, and spreaders need materials
OPTIONAL = ("plows", "spreaders", "ballast", "materials", "travel")

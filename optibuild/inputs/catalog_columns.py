"""Columns of the catalog tables: trucks, plows, spreaders, ballast, materials."""

from optibuild.inputs.declaration import NO_LIMIT, Declaration

LONGEST = "30 m"
BACK = "-30 m"

ITEM_ID = Declaration("id", "name of the row, as it appears in builds and plans", "item_id", needed=True)
DESCRIPTION = Declaration("description", "words for the reader", "text")
COUNTS = (
    Declaration("owned", "how many are owned already", "count", default="0", high="100000"),
    Declaration("available", "how many new ones can be bought", "count", default=NO_LIMIT, high="100000"),
)
PRICE = Declaration("price", "price of a new one", "money", needed=True,
                    derived="may be blank where available = 0")
MIN_GVWR = Declaration("min_gvwr", "least gross rating of a truck it may go on", "mass", default="0 lb")


def _length(name: str, meaning: str, default: str | None = None, **more: bool | str) -> Declaration:
    return Declaration(name, meaning, "length", default=default, high=LONGEST, **more)  # type: ignore[arg-type]


def _life(default: str) -> Declaration:
    return Declaration("life", "years until it is replaced", "life", default=default, above_low=True)


def _resale(default: str) -> Declaration:
    return Declaration("resale", "worth at the end of its life: % of price, or USD", "share", default=default,
                       or_dimension="money")


UPKEEP = Declaration("upkeep", "insurance, registration, fixed service in a year", "money_per_year",
                     default="0 USD/year")


def _wear(default: str) -> Declaration:
    return Declaration("wear", "wear and repair while working", "money_per_time", default=default)


TRUCKS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("size", "your word for the class (half-ton, ...), for grouping in reports", "text"),
    Declaration("gvwr", "gross rating, from the certification label", "mass", needed=True, above_low=True),
    Declaration("gawr_front", "front axle rating, from the label", "mass", needed=True, above_low=True),
    Declaration("gawr_rear", "rear axle rating, from the label", "mass", needed=True, above_low=True),
    Declaration("curb_front", "front axle as weighed, full of fuel, nobody aboard", "mass", needed=True,
                above_low=True),
    Declaration("curb_rear", "rear axle as weighed, full of fuel, nobody aboard", "mass", needed=True,
                above_low=True),
    _length("wheelbase", "axle to axle", needed=True, above_low=True),
    _length("front_axle_to_bumper", "bumper ahead of the front axle, a positive length", "38 in"),
    _length("rear_axle_to_bed_end", "bed's end behind the rear axle", "48 in"),
    _length("bed_length", "inside length of the bed", "96 in"),
    _length("seat", "occupants' center behind the front axle", "62 in"),
    Declaration("seats", "seats, the driver's among them", "count", default="3", low="1", high="100"),
    _length("width", "widest point without attachments", "80 in", above_low=True),
    _length("track", "left to right wheel", "68 in", above_low=True),
    Declaration("steer_angle", "steer angle of the front wheels at full lock", "angle", default="36 deg",
                above_low=True),
    _length("turning_circle", "diameter, curb to curb; wins over steer_angle", derived="from steer_angle",
            above_low=True),
    Declaration("drive", "driven axles", "word", default="all", choices=("all", "rear")),
    Declaration("plow_allowed", "no = the maker does not allow a plow", "yes_no", default="yes"),
    Declaration("tire_capacity_front", "sum of the front axle's tires", "mass", default=NO_LIMIT,
                above_low=True),
    Declaration("tire_capacity_rear", "sum of the rear axle's tires", "mass", default=NO_LIMIT,
                above_low=True),
    PRICE,
    _life("8 year"),
    _resale("20 %"),
    UPKEEP,
    Declaration("snow_share", "share of owning it that is charged to this work", "share", default="100 %"),
    Declaration("fuel", "fuel it burns; its price is money.fuel.NAME in case.toml", "id", default="gas"),
    Declaration("city", "fuel use on city roads", "fuel_use", default="14 mi/gal"),
    Declaration("highway", "fuel use on highways", "fuel_use", default="18 mi/gal"),
    Declaration("work_fuel", "fuel while working", "fuel_rate", default="3 gal/h"),
    _wear("4 USD/h"),
    *COUNTS,
    Declaration("owned_value", "worth of an owned one; used in bids only", "money", derived="half of price"),
    Declaration("remaining_life", "years left in an owned one; used in bids only", "life", above_low=True,
                derived="half of life"),
)

PLOWS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("kind", "words only: width and angle decide", "word", default="straight",
                choices=("straight", "vee", "winged")),
    _length("width", "width of the blade at the setting used", needed=True, above_low=True),
    _length("height", "height of the blade", "29 in", above_low=True),
    Declaration("angle", "from straight across, when snow goes to the side", "angle", default="30 deg"),
    Declaration("blade_mass", "what comes off the truck", "mass", needed=True, above_low=True),
    Declaration("mount_mass", "what stays on, at the bumper", "mass", default="0 lb"),
    _length("center_ahead", "blade's center ahead of the bumper, a positive length", "28 in"),
    MIN_GVWR,
    PRICE,
    _life("7 year"),
    _resale("15 %"),
    UPKEEP,
    _wear("2 USD/h"),
    *COUNTS,
)

SPREADERS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("kind", "words only", "word", default="hopper", choices=("tailgate", "hopper", "tank")),
    Declaration("empty_mass", "mass without material", "mass", needed=True, above_low=True),
    Declaration("volume", "struck volume of the hopper or tank", "volume", needed=True, above_low=True),
    _length("center", "its center from the bed's end, positive to the rear", needed=True, low=BACK),
    _length("material_center", "the material's center from the bed's end", derived="center", low=BACK),
    _length("spread_width", "width it covers in one pass", "20 ft", above_low=True),
    Declaration("discharge", "most it puts out", "mass_rate", default="120 lb/min", above_low=True),
    Declaration("material", "id of the material it holds", "id", derived="the only row of materials"),
    _length("length", "length on the bed", derived="not checked against the bed", above_low=True),
    MIN_GVWR,
    PRICE,
    _life("7 year"),
    _resale("15 %"),
    UPKEEP,
    _wear("2 USD/h"),
    *COUNTS,
)

BALLAST = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("unit_mass", "mass of one unit", "mass", needed=True, above_low=True),
    _length("center", "its center from the bed's end, positive to the rear", needed=True, low=BACK),
    Declaration("most_units", "most units on one truck", "count", default="20", high="1000"),
    Declaration("price", "price of one unit", "money", default="0 USD"),
    _life("5 year"),
    *COUNTS,
)

MATERIALS = (
    Declaration("id", "name of the material", "id", needed=True),
    Declaration("bulk_density", "mass of a heaped volume", "density", needed=True, above_low=True),
    Declaration("price", "price of the material", "money_per_mass", default="0 USD/ton"),
)

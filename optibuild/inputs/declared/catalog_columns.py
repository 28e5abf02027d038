"""Columns of the catalog tables: trucks, plows, spreaders, ballast, materials, mounts."""

from typing import Any

from optibuild.inputs.declared.declaration import NO_LIMIT, Declaration

LONGEST = "30 m"
BACK = "-30 m"

ITEM_ID = Declaration("id", "name of the row, as it appears in builds and plans", "item_id", needed=True)
DESCRIPTION = Declaration("description", "words for the reader", "text")
COUNTS = (
    Declaration("owned", "how many are owned already", "count", default="0", high="100000",
                likely=("0", "1000"), because="one fleet owns no more of one row"),
    Declaration("available", "how many new ones can be bought", "count", default=NO_LIMIT, high="100000"),
)
PRICE = Declaration("price", "price of a new one", "money", needed=True,
                    derived="may be blank where available = 0, or it is leased or hired",
                    likely=("500 USD", "600000 USD"),
                    because="neither trucks nor their attachments sell new for other money")
MIN_GVWR = Declaration("min_gvwr", "least gross rating of a truck it may go on", "mass", default="0 lb",
                       likely=("0 lb", "66000 lb"), because="heavier trucks are highway plows")


def _length(name: str, meaning: str, default: str | None = None, **more: Any) -> Declaration:
    return Declaration(name, meaning, "length", default=default, high=LONGEST, **more)


def _life(default: str) -> Declaration:
    return Declaration("life", "years until it is replaced", "life", default=default, above_low=True,
                       likely=("1 year", "30 year"), because="equipment in salt lasts no longer")


def _resale(default: str) -> Declaration:
    return Declaration("resale", "worth at the end of its life: % of price, or USD", "share", default=default,
                       or_dimension="money")


def _yearly(name: str, meaning: str) -> Declaration:
    return Declaration(name, meaning, "money_per_year", default="0 USD/year",
                       likely=("0 USD/year", "60000 USD/year"),
                       because="no more than a new item costs in a year")


UPKEEP = _yearly("upkeep", "fixed service and all else that a year costs, however much it works")
SNOW_SHARE = Declaration("snow_share", "share of owning it that is charged to this work", "share",
                         default="100 %", likely=("1 %", "100 %"),
                         because="0.5 in a column of percent means half of one percent")
OWNERSHIP = (
    Declaration("life_hours", "hours of work until it is replaced, where that comes before life", "time",
                default=NO_LIMIT, above_low=True, high="1000000 h", usual="h", stored_as="worked_life_min",
                likely=("100 h", "50000 h"), because="trucks and what they carry work no longer"),
    Declaration("hours_per_year", "hours that it works in a year, to compare with life_hours", "time",
                above_low=True, usual="h", derived="hours of the season's storms",
                stored_as="worked_min_per_year",
                likely=("5 h", "5000 h"), because="snow work takes hundreds of hours a year"),
    Declaration("value_falls", "how its worth falls from price to resale over its life: straight (every year "
                "the same sum) or declining (every year the same share)", "word",
                choices=("straight", "declining"), derived="half of price is left in an owned one"),
    Declaration("loan_rate", "yearly interest of the loan that buys a new one", "share",
                derived="paid at once", likely=("0 %", "30 %"), because="loans cost less"),
    Declaration("loan_years", "years of its equal payments", "life", above_low=True,
                derived="needed where there is loan_rate", stored_as="loan_term_year",
                likely=("1 year", "15 year"), because="loans for equipment last no longer"),
    Declaration("loan_down", "share of price paid at purchase, which is all that counts toward the budget",
                "share", default="0 %", likely=("0 %", "90 %"), because="the rest would be no loan"),
    Declaration("lease", "yearly cost of leasing a new one instead of buying it: nothing is paid at once and "
                "nothing is left to sell", "money_per_year", above_low=True,
                derived="not leased", likely=("50 USD/year", "100000 USD/year"),
                because="no more than a new item costs"),
)


def _wear(default: str) -> Declaration:
    return Declaration("wear", "wear and repair while working", "money_per_time", default=default,
                       likely=("0 USD/h", "100 USD/h"), because="wear is a small part of what an hour costs")


TRUCKS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("size", "your word for the class (half-ton, ...), for grouping in reports", "text"),
    Declaration("gvwr", "gross rating, from the certification label", "mass", needed=True, above_low=True,
                likely=("4000 lb", "66000 lb"),
                because="pickups begin near 4,000 lb; classes 1 to 7 end at 33,000 lb (FHWA, from memory)"),
    Declaration("gawr_front", "front axle rating, from the label", "mass", needed=True, above_low=True,
                likely=("2000 lb", "24000 lb"), because="front axles from light pickups to heavy trucks"),
    Declaration("gawr_rear", "rear axle rating, from the label", "mass", needed=True, above_low=True,
                likely=("2000 lb", "50000 lb"), because="rear axles from light pickups to tandems"),
    Declaration("curb_front", "front axle as weighed, full of fuel, nobody aboard", "mass", needed=True,
                above_low=True,
                likely=("1200 lb", "18000 lb"),
                because="front axles of empty pickups to heavy trucks weigh so"),
    Declaration("curb_rear", "rear axle as weighed, full of fuel, nobody aboard", "mass", needed=True,
                above_low=True,
                likely=("800 lb", "25000 lb"),
                because="rear axles of empty pickups to heavy trucks weigh so"),
    _length("wheelbase", "axle to axle", needed=True, above_low=True,
            likely=("90 in", "300 in"), because="pickups and medium trucks measure so axle to axle"),
    _length("front_axle_to_bumper", "bumper ahead of the front axle, a positive length", "38 in",
            likely=("12 in", "84 in"), because="the front overhang of pickups and medium trucks"),
    _length("rear_axle_to_bed_end", "bed's end behind the rear axle", "48 in",
            likely=("0 in", "150 in"), because="the rear overhang of pickups and medium trucks"),
    _length("bed_length", "inside length of the bed", "96 in",
            likely=("36 in", "300 in"), because="beds of crew cabs to dump bodies"),
    _length("seat", "occupants' center behind the front axle", "62 in",
            likely=("0 in", "140 in"), because="seats lie over or behind the front axle"),
    Declaration("seats", "seats, the driver's among them", "count", default="3", low="1", high="100",
                likely=("1", "9"), because="a crew cab seats six"),
    _length("width", "widest point without attachments", "80 in", above_low=True,
            likely=("55 in", "108 in"),
            because="102 in is the most that roads allow (23 CFR 658.15), mirrors aside"),
    _length("track", "left to right wheel", "68 in", above_low=True,
            likely=("45 in", "96 in"), because="wheels stand inside the body's width"),
    Declaration("steer_angle", "steer angle of the front wheels at full lock", "angle", default="36 deg",
                above_low=True,
                likely=("15 deg", "60 deg"), because="front wheels turn so far"),
    _length("turning_circle", "diameter, curb to curb; wins over steer_angle", derived="from steer_angle",
            above_low=True, usual="ft",
            likely=("25 ft", "98 ft"), because="diameters of pickups and medium trucks, curb to curb"),
    Declaration("drive", "driven axles", "word", default="all", choices=("all", "rear")),
    Declaration("plow_allowed", "no = the maker does not allow a plow", "yes_no", default="yes"),
    Declaration("tire_capacity_front", "sum of the front axle's tires", "mass", default=NO_LIMIT,
                above_low=True,
                likely=("2000 lb", "30000 lb"), because="two tires of pickups to heavy trucks"),
    Declaration("tire_capacity_rear", "sum of the rear axle's tires", "mass", default=NO_LIMIT,
                above_low=True,
                likely=("2000 lb", "60000 lb"), because="two to eight tires"),
    PRICE,
    _life("8 year"),
    _resale("20 %"),
    UPKEEP,
    _yearly("insurance", "insurance of a year"),
    _yearly("registration", "registration and taxes of a year"),
    SNOW_SHARE,
    Declaration("fuel", "fuel it burns; its price is money.fuel.NAME in case.toml", "id", default="gas"),
    Declaration("city", "fuel use on city roads", "fuel_use", default="14 mi/gal",
                likely=("2 mi/gal", "45 mi/gal"), because="heavy trucks to light pickups"),
    Declaration("highway", "fuel use on highways", "fuel_use", default="18 mi/gal",
                likely=("3 mi/gal", "55 mi/gal"), because="heavy trucks to light pickups"),
    Declaration("work_fuel", "fuel while working", "fuel_rate", default="3 gal/h",
                likely=("0.1 gal/h", "20 gal/h"), because="idling pickups to heavy trucks at work"),
    _wear("4 USD/h"),
    *COUNTS,
    Declaration("owned_value", "worth of an owned one; used in bids only", "money",
                derived="half of price, or what value_falls leaves of it",
                likely=("0 USD", "600000 USD"), because="no more than a new one costs"),
    Declaration("remaining_life", "years left in an owned one; used in bids only", "life", above_low=True,
                derived="half of life",
                likely=("0.1 year", "30 year"), because="equipment in salt lasts no longer"),
    *OWNERSHIP,
    Declaration("hired", "rate of a truck hired with its driver, for hours at work, on the road and "
                "reloading, in place of wage, fuel and wear of the truck; leave price blank. It counts "
                "toward crew.drivers like any truck", "money_per_time", above_low=True, derived="not hired",
                likely=("20 USD/h", "500 USD/h"),
                because="Baltimore County paid 132 USD a truck-hour plowing, 264 salting (2015-16)"),
)

# what plows and spreaders have alike
ATTACHMENT = (MIN_GVWR, PRICE, _life("7 year"), _resale("15 %"), UPKEEP, SNOW_SHARE, _wear("2 USD/h"),
              *COUNTS, *OWNERSHIP)

PLOWS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("kind", "words only: width and angle decide", "word", default="straight",
                choices=("straight", "vee", "winged")),
    _length("width", "width of the blade at the setting used", needed=True, above_low=True,
            likely=("5 ft", "16 ft"), because="plows for pickups and medium trucks"),
    _length("height", "height of the blade", "29 in", above_low=True,
            likely=("10 in", "60 in"), because="plows for pickups and medium trucks"),
    Declaration("angle", "from straight across, when snow goes to the side", "angle", default="30 deg",
                likely=("0 deg", "50 deg"), because="blades swing no farther"),
    Declaration("blade_mass", "what comes off the truck", "mass", needed=True, above_low=True,
                likely=("100 lb", "3000 lb"), because="plows for pickups and medium trucks"),
    Declaration("mount_mass", "what stays on, at the bumper", "mass", default="0 lb",
                likely=("0 lb", "1500 lb"), because="mounts weigh less than blades"),
    _length("center_ahead", "blade's center ahead of the bumper, a positive length", "28 in",
            likely=("0 in", "100 in"), because="blades hang close to the bumper"),
    *ATTACHMENT,
)

SPREADERS = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("kind", "words only", "word", default="hopper", choices=("tailgate", "hopper", "tank")),
    Declaration("empty_mass", "mass without material", "mass", needed=True, above_low=True,
                likely=("20 lb", "8000 lb"), because="tailgate spreaders to dump-body hoppers"),
    Declaration("volume", "struck volume of the hopper or tank", "volume", needed=True, above_low=True,
                likely=("0.5 ft^3", "450 ft^3"), because="tailgate spreaders to dump-body hoppers"),
    _length("center", "its center from the bed's end, positive to the rear", needed=True, low=BACK),
    _length("material_center", "the material's center from the bed's end", derived="center", low=BACK),
    _length("spread_width", "width it covers in one pass", "20 ft", above_low=True,
            usual="ft", likely=("3 ft", "60 ft"), because="a spinner throws no farther"),
    Declaration("discharge", "most it puts out", "mass_rate", default="120 lb/min", above_low=True,
                likely=("1 lb/min", "2500 lb/min"), because="tailgate spreaders to highway spreaders"),
    Declaration("material", "id of the material it holds", "id", derived="the only row of materials"),
    _length("length", "length on the bed", derived="not checked against the bed", above_low=True,
            likely=("6 in", "300 in"), because="no longer than a bed"),
    *ATTACHMENT,
)

BALLAST = (
    ITEM_ID,
    DESCRIPTION,
    Declaration("unit_mass", "mass of one unit", "mass", needed=True, above_low=True,
                likely=("5 lb", "6000 lb"), because="a bag to a slab"),
    _length("center", "its center from the bed's end, positive to the rear", needed=True, low=BACK),
    Declaration("most_units", "most units on one truck", "count", default="20", high="1000",
                likely=("1", "200"), because="more would fill the bed"),
    Declaration("removable", "yes = may be taken out while the hopper holds enough, and put back below that",
                "yes_no", default="no"),
    Declaration("price", "price of one unit", "money", default="0 USD",
                likely=("0 USD", "20000 USD"), because="a bag to a slab"),
    _life("5 year"),
    *COUNTS,
)

MATERIALS = (
    Declaration("id", "name of the material", "id", needed=True),
    Declaration("bulk_density", "mass of a heaped volume", "density", needed=True, above_low=True,
                likely=("30 lb/ft^3", "130 lb/ft^3"), because="salt, sand and brine lie between"),
    Declaration("price", "price of the material", "money_per_mass", default="0 USD/ton",
                likely=("0 USD/ton", "2000 USD/ton"), because="salt, sand and brine sell for less"),
    Declaration("delivery", "cost of its delivery", "money_per_mass", default="0 USD/ton",
                likely=("0 USD/ton", "500 USD/ton"), because="it costs less than the material"),
    Declaration("waste", "share of what is bought that never reaches a site", "share", default="0 %",
                below_high=True, likely=("0 %", "40 %"), because="piles lose less"),
    Declaration("strength", "dry deicer in the material, as a share of its mass", "share", default="100 %",
                above_low=True, likely=("5 %", "100 %"), because="brines hold 20 to 30 %"),
)

MOUNTS = (
    Declaration("truck", "id of a truck", "item_id", needed=True),
    Declaration("attachment", "id of a plow or spreader", "item_id", needed=True),
    Declaration("allowed", "no = the attachment may not be mounted on the truck", "yes_no", needed=True),
)

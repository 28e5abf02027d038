"""`KEYS`: every key of case.toml, declared once."""

from optibuild.assumptions import ASSUMPTIONS, Assumption
from optibuild.inputs.declaration import NO_LIMIT, Declaration

ANY_SHARE = "1000 %"
FUEL = Declaration("money.fuel.NAME", "price of a fuel; NAME is what the trucks' column fuel says",
                   "money_per_volume")
FUELS = {"gas": "3.50 USD/gal", "diesel": "4.00 USD/gal"}
# these may be zero: everything else an assumption names divides something or is a least size
ZERO_ALLOWED = ("occupant_mass", "least_useful_fill", "catalog_uncertainty", "direction_change", "overlap")

_CASE = (
    Declaration("case.name", "name of the case in reports", "text", derived="name of the folder"),
    Declaration("case.question", "cover: least cost for all sites; value: most contract value "
                "within the budget; profit: most contract value less cost", "word", default="cover",
                choices=("cover", "value", "profit")),
    Declaration("case.units", "units of what is printed", "word", default="us", choices=("us", "si")),
)
_STORM = (
    Declaration("storm.snowfall_rate", "snow that falls in the design storm", "speed", default="1 in/h",
                high="1000 mm/h"),
    Declaration("storm.snow_density", "density of the fresh snow", "density", default="100 kg/m^3",
                above_low=True, high="917 kg/m^3"),
    Declaration("storm.pavement", "pavement temperature in the design storm", "temperature",
                default="25 degF"),
    Declaration("storm.travel_speed", "speed on the road between sites", "speed", default="22 mph",
                above_low=True),
)
_MONEY = (
    Declaration("money.budget", "most that may be spent on new items", "money", default=NO_LIMIT),
    Declaration("money.wage", "wage of the crew of one truck", "money_per_time", default="25 USD/h"),
    Declaration("money.burden", "taxes and insurance on top of the wage", "share", default="25 %",
                high=ANY_SHARE),
    Declaration("money.paid", "working: minutes of the rounds; storm: the whole event", "word",
                default="working", choices=("working", "storm")),
    Declaration("money.cleanup_round", "whether one more round follows each event", "yes_no", default="yes"),
    Declaration("money.road_wear", "wear of driving on the road", "money_per_length", default="0.12 USD/mi"),
    Declaration("money.interest", "yearly interest on capital", "share", default="7 %"),
    Declaration("money.overhead", "overhead as a share of cost", "share", default="12 %", high=ANY_SHARE),
    Declaration("money.profit_margin", "profit as a share of the price", "share", default="15 %",
                below_high=True),
)
_CREW = (
    Declaration("crew.occupants", "people in a truck, the driver among them", "count", default="1",
                high="100"),
    Declaration("crew.drivers", "trucks that can be driven at the same time", "count", default=NO_LIMIT),
    Declaration("crew.start_minutes", "paid before and after a loop, per event", "time", default="30 min"),
)
_FIT = (
    Declaration("fit.min_front_share", "least share of the weight on the front axle", "share",
                default="20 %"),
    Declaration("fit.max_front_share", "greatest share on the front axle", "share", derived="no check"),
    Declaration("fit.front_share_of", "what max_front_share is a share of", "word", default="gross",
                choices=("gross", "curb")),
    Declaration("fit.min_rear_share", "least share on the rear axle, plow raised, hopper empty, driver alone",
                "share", derived="no check"),
    Declaration("fit.axle_reserve", "kept free of every rating", "mass", default="0 lb"),
)
_SOLVE = (
    Declaration("solve.gap", "search ends when the plan is proved this near to the best", "share",
                default="0.5 %"),
    Declaration("solve.time_limit", "search ends after this time", "time", default="2 min", above_low=True,
                stored_as="time_limit_s"),
    Declaration("solve.seed", "start of the random choices", "count", default="1", high="1000000"),
    Declaration("solve.reserve", "slack kept in every loop", "time", default="0 min"),
)


def _assumption(row: Assumption) -> Declaration:
    return Declaration(f"assumptions.{row.name}", f"see the assumptions; source: {row.source}", row.dimension,
                       default=row.default, above_low=row.name not in ZERO_ALLOWED, stored_as=row.field,
                       high="1000" if row.dimension == "count" else "")


KEYS: dict[str, Declaration] = {
    declared.name: declared
    for declared in (*_CASE, *_STORM, *_MONEY, FUEL, *_CREW, *_FIT, *_SOLVE, *map(_assumption, ASSUMPTIONS))
}

"""`KEYS`: every key of case.toml, declared once."""

from optibuild.assumptions import ASSUMPTIONS, Assumption
from optibuild.inputs.declared.declaration import NO_LIMIT, Declaration

ANY_SHARE = "1000 %"
FUEL = Declaration("money.fuel.NAME", "price of a fuel; NAME is what the trucks' column fuel says",
                   "money_per_volume",
                   likely=("0.5 USD/gal", "20 USD/gal"), because="fuel sells so")
FUELS = {"gas": "3.50 USD/gal", "diesel": "4.00 USD/gal"}

_CASE = (
    Declaration("case.name", "name of the case in reports", "text", derived="name of the folder"),
    Declaration("case.question", "cover: least cost for all sites; value: most contract value "
                "within the budget; profit: most contract value less cost", "word", default="cover",
                choices=("cover", "value", "profit")),
    Declaration("case.units", "units of what is printed", "word", default="us", choices=("us", "si")),
)
_STORM = (
    Declaration("storm.snowfall_rate", "snow that falls in the design storm", "speed", default="1 in/h",
                high="1000 mm/h",
                usual="in/h", likely=("0 in/h", "6 in/h"), because="hardly any hour brings more"),
    Declaration("storm.snow_density", "density of the fresh snow", "density", default="100 kg/m^3",
                above_low=True, high="917 kg/m^3",
                usual="kg/m^3", likely=("20 kg/m^3", "500 kg/m^3"), because="fresh powder to wet snow"),
    Declaration("storm.pavement", "pavement temperature in the design storm", "temperature",
                default="25 degF",
                likely=("-40 degF", "50 degF"), because="snow and ice lie on colder pavement"),
    Declaration("storm.travel_speed", "speed on the road between sites", "speed", default="22 mph",
                above_low=True,
                likely=("5 mph", "65 mph"), because="roads between sites are town roads in snow"),
    Declaration("storm.slowdown", "what the storm adds to the times of the travel table", "share",
                default="0 %", high=ANY_SHARE,
                likely=("0 %", "200 %"), because="a slower road is hardly passable"),
    Declaration("storm.fit_circuity", "yes = circuity is fitted to the distances of the travel table",
                "yes_no", default="no"),
)
_MONEY = (
    Declaration("money.budget", "most that may be spent on new items", "money", default=NO_LIMIT),
    Declaration("money.wage", "wage of the crew of one truck", "money_per_time", default="25 USD/h",
                likely=("7 USD/h", "300 USD/h"), because="7.25 USD/h is the federal least wage (29 USC 206)"),
    Declaration("money.burden", "taxes and insurance on top of the wage", "share", default="25 %",
                high=ANY_SHARE,
                likely=("0 %", "150 %"), because="taxes and insurance cost less than wages twice over"),
    Declaration("money.paid", "working: minutes of the rounds; storm: the whole event", "word",
                default="working", choices=("working", "storm")),
    Declaration("money.standby", "share of the wage paid for the hours of an event not worked; all of it if "
                "money.paid is storm", "share", default="0 %",
                likely=("0 %", "100 %"), because="nobody is paid more for waiting"),
    Declaration("money.overtime_after", "hours on duty in an event from which overtime is paid", "time",
                default=NO_LIMIT, usual="h", likely=("4 h", "24 h"), because="days of work last so long"),
    Declaration("money.overtime", "what overtime is paid on top of the wage", "share", default="50 %",
                high=ANY_SHARE, likely=("0 %", "200 %"),
                because="half is the least for hours over 40 a week (29 USC 207, from memory)"),
    Declaration("money.cleanup_round", "whether one more round follows each event", "yes_no", default="yes"),
    Declaration("money.road_wear", "wear of driving on the road", "money_per_length", default="0.12 USD/mi",
                likely=("0 USD/mi", "5 USD/mi"), because="wear is a small part of what a mile costs"),
    Declaration("money.interest", "yearly interest on capital", "share", default="7 %",
                likely=("0 %", "30 %"), because="loans cost less"),
    Declaration("money.overhead", "overhead as a share of cost", "share", default="12 %", high=ANY_SHARE,
                likely=("0 %", "150 %"), because="overhead costs less than the work twice over"),
    Declaration("money.profit_margin", "profit as a share of the price", "share", default="15 %",
                below_high=True,
                likely=("0 %", "60 %"), because="hardly any price is mostly profit"),
)
_CREW = (
    Declaration("crew.occupants", "people in a truck, the driver among them", "count", default="1",
                high="100",
                likely=("1", "6"), because="somebody drives, and a crew cab seats six"),
    Declaration("crew.drivers", "drivers there are; a truck takes one, or as many as its shifts in an event",
                "count", default=NO_LIMIT),
    Declaration("crew.start_minutes", "paid before and after a loop, per event and driver", "time",
                default="30 min",
                likely=("0 min", "240 min"), because="getting ready takes less than half a day"),
    Declaration("crew.shift", "longest that one driver stays on in an event; then another takes the truck",
                "time", default=NO_LIMIT, above_low=True, usual="h", likely=("4 h", "24 h"),
                because="12 h is recommended (Utah DOT study UT-16.06), 16 h allowed in Boston"),
)
_FIT = (
    Declaration("fit.min_front_share", "least share of the weight on the front axle", "share",
                default="20 %",
                likely=("0 %", "50 %"), because="trucks with more on the front axle are rare"),
    Declaration("fit.max_front_share", "greatest share on the front axle", "share", derived="no check",
                likely=("40 %", "100 %"), because="trucks with less on the front axle are rare"),
    Declaration("fit.front_share_of", "what max_front_share is a share of", "word", default="gross",
                choices=("gross", "curb")),
    Declaration("fit.min_rear_share", "least share on the rear axle, driver alone, hopper empty, plow raised "
                "(off where a build has none)", "share", derived="no check",
                likely=("0 %", "60 %"), because="trucks with more on the rear axle, empty, are rare"),
    Declaration("fit.axle_reserve", "kept free of every rating", "mass", default="0 lb",
                likely=("0 lb", "3000 lb"), because="more would leave no payload"),
)
_SOLVE = (
    Declaration("solve.gap", "search ends when the plan is proved this near to the best", "share",
                default="0.5 %", below_high=True,
                likely=("0 %", "25 %"), because="a wider gap says little of a plan"),
    Declaration("solve.time_limit", "search ends after this time", "time", default="2 min", above_low=True,
                stored_as="time_limit_s",
                likely=("1 s", "48 h"), because="searches take minutes"),
    Declaration("solve.seed", "start of the random choices", "count", default="1", high="1000000"),
    Declaration("solve.reserve", "reserve kept in every loop", "time", default="0 min",
                likely=("0 min", "120 min"), because="more would leave no time to work"),
)

_BID = (
    Declaration("bid.chance_of_loss", "share of seasons that may end in a loss at the safe price", "share",
                default="10 %", above_low=True, below_high=True,
                likely=("0.5 %", "50 %"), because="a price that loses in most seasons is not safe"),
    Declaration("bid.seasons", "seasons that are drawn to judge the risk", "count", default="10000",
                low="10000", high="1000000"),
)


def _assumption(row: Assumption) -> Declaration:
    return Declaration(f"assumptions.{row.name}", f"see the assumptions; source: {row.source}", row.dimension,
                       default=row.default, low=row.allowed[0], high=row.allowed[1], stored_as=row.field,
                       usual=row.default.partition(" ")[2])


KEYS: dict[str, Declaration] = {
    declared.name: declared
    for declared in (*_CASE, *_STORM, *_MONEY, FUEL, *_CREW, *_FIT, *_SOLVE, *_BID,
                     *map(_assumption, ASSUMPTIONS))
}

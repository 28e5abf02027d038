"""The cautions that go with every fit and every plan. They warn and defer; none of them is a verdict."""

FIT = (
    "Loads are estimates from catalog data: weigh the finished truck on a certified scale, axle by axle, "
    "before it works.",
    "The vehicle maker's own equipment guidance, the certification label and local law govern; whoever "
    "alters a vehicle may have to certify it.",
    "A rated fill is what the ratings leave for material. It is not a statement of law.",
)
PLAN = (
    "Driving-hour and fatigue rules apply to everyone who plows: check your state's and your country's, and "
    "plan rest and relief drivers.",
    "Follow local rules on salt and other deicers, and on keeping records of their use.",
)
PROVED = (
    "What is proved is the best among plans in which one truck repeats one loop and serves every stop of it "
    "each round, or once in the last round where a site asks for that.",
)
BID = (
    "Prices rest on the costs, counts of events and hours of this case alone: compare them with your own "
    "books before you sign.",
    "Seasons drawn from few winters, or from expected counts, understate how far real ones differ.",
    "Contract, wage and tax law differ from place to place: have a licensed adviser read what you offer.",
)
SPLIT = "Where two trucks share a site, no order is kept between the one that plows and the one that deices."
COLD = "The pavement is colder than the published table for dry salt goes: salt alone may not work."
"""Said where the design storm's pavement, or an event's, is below 5 F."""
SLOSHING = ("Liquid in a tank is weighed as if it stood still: sloshing is ignored, and a tank that is "
            "partly full sloshes most.")
"""Said where a build carries a tank."""

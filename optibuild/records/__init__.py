"""The nouns: frozen records that stages hand to one another."""

from optibuild.records.build import (
    CREWS,
    LOAD_STATES,
    NONE,
    RETAINED_STATES,
    Builds,
    MomentLine,
    Reason,
    Verdict,
)
from optibuild.records.case import (
    Assumptions,
    Case,
    Crew,
    Event,
    FitLimits,
    Leg,
    Money,
    Site,
    SolveSettings,
    Storm,
    Work,
)
from optibuild.records.catalog import Ballast, Depot, Item, Material, Mount, Plow, Spreader, Truck
from optibuild.records.fit_details import (
    BuildDetails,
    EnoughBallast,
    MomentSheet,
    NeededRating,
    Replacement,
    Sensitivity,
    WouldFit,
)
from optibuild.records.loop import (
    Choice,
    ChosenLoop,
    LoopCosts,
    OutOfReach,
    SeasonRounds,
    ServiceTimes,
    Stop,
    Travel,
)
from optibuild.records.plan import (
    AxleLoads,
    Check,
    LeastBudget,
    Looser,
    Outcome,
    Plan,
    PlannedBallast,
    PlannedCase,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    Recheck,
    ServedWork,
    Shortfall,
    SitePrice,
    TruckSeason,
    Unreachable,
    UsedAssumption,
)

__all__ = [
    "CREWS", "LOAD_STATES", "NONE", "RETAINED_STATES",
    "Assumptions", "AxleLoads", "Ballast", "BuildDetails", "Builds", "Case", "Check", "Choice", "ChosenLoop",
    "Crew", "Depot", "EnoughBallast", "Event", "FitLimits", "Item", "LeastBudget", "Leg", "LoopCosts",
    "Looser", "Material", "MomentLine", "MomentSheet", "Money", "Mount", "NeededRating", "OutOfReach",
    "Outcome", "Plan", "PlannedBallast", "PlannedCase", "PlannedItem", "PlannedLoop", "PlannedMoney",
    "PlannedSite", "PlannedStop", "PlannedTruck", "Plow", "Reason", "Recheck", "Replacement", "SeasonRounds",
    "Sensitivity", "ServedWork", "ServiceTimes", "Shortfall", "Site", "SitePrice", "SolveSettings",
    "Spreader", "Stop", "Storm", "Travel", "Truck", "TruckSeason", "Unreachable", "UsedAssumption",
    "Verdict", "Work", "WouldFit",
]

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
from optibuild.records.calibration import (
    FEW_TIMINGS,
    Calibration,
    ComparedTiming,
    EfficiencyFit,
    SiteRatio,
    Slope,
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
    Timing,
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
    LIMITS,
    Choice,
    ChosenLoop,
    EndTimes,
    LoopCosts,
    ParcelFigures,
    ParcelRow,
    Roundabout,
    SeasonRounds,
    ServiceTimes,
    Stop,
    Travel,
    WorkingRate,
)
from optibuild.records.loop_times import LoopReport, LoopTimes, RoundTimes
from optibuild.records.plan import (
    AxleLoads,
    Check,
    LeastBudget,
    Looser,
    Outcome,
    OutOfReach,
    Plan,
    PlannedBallast,
    PlannedCase,
    PlannedEndRound,
    PlannedItem,
    PlannedLoop,
    PlannedMoney,
    PlannedSite,
    PlannedStop,
    PlannedTruck,
    Recheck,
    Remedy,
    ServedWork,
    Shortfall,
    SitePrice,
    TruckSeason,
    UsedAssumption,
)

__all__ = [
    "Assumptions", "AxleLoads", "Ballast", "BuildDetails", "Builds", "CREWS", "Calibration", "Case",
    "Check", "Choice", "ChosenLoop", "ComparedTiming", "Crew", "Depot", "EfficiencyFit", "EndTimes",
    "EnoughBallast", "Event", "FEW_TIMINGS", "FitLimits", "Item", "LIMITS", "LOAD_STATES", "LeastBudget",
    "Leg", "LoopCosts", "LoopReport", "LoopTimes", "Looser", "Material", "MomentLine", "MomentSheet",
    "Money", "Mount", "NONE", "NeededRating", "OutOfReach", "Outcome", "ParcelFigures", "ParcelRow", "Plan",
    "PlannedBallast", "PlannedCase", "PlannedEndRound", "PlannedItem", "PlannedLoop", "PlannedMoney",
    "PlannedSite", "PlannedStop", "PlannedTruck", "Plow", "RETAINED_STATES", "Reason", "Recheck", "Remedy",
    "Replacement", "RoundTimes", "Roundabout", "SeasonRounds", "Sensitivity", "ServedWork", "ServiceTimes",
    "Shortfall", "Site", "SitePrice", "SiteRatio", "Slope", "SolveSettings", "Spreader", "Stop", "Storm",
    "Timing", "Travel", "Truck", "TruckSeason", "UsedAssumption", "Verdict", "Work", "WorkingRate",
    "WouldFit",
]

"""The nouns: frozen records that stages hand to one another."""

from optibuild.records.bid import (
    Bid,
    FormPrice,
    ListBid,
    Marginal,
    PricedContract,
    Risk,
    Simulation,
    SiteBid,
    SiteCost,
    SiteEvents,
    Terms,
)
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
from optibuild.records.catalog import (
    Ballast,
    Depot,
    Item,
    Material,
    Mount,
    Ownership,
    Plow,
    Spreader,
    Truck,
)
from optibuild.records.contracts import BidSettings, Contract, ContractForm, Winter, hundredths
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
    SLOWEST,
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
    MoneyByKind,
    Outcome,
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
    ServedWork,
    SitePrice,
    TruckSeason,
    UsedAssumption,
)
from optibuild.records.shortfall import (
    LeastBudget,
    Looser,
    LostValue,
    OutOfReach,
    Remedy,
    Shortfall,
)
from optibuild.records.variant import Variant
from optibuild.records.why import (
    Confirmed,
    EntryPrice,
    LimitTried,
    LoopReason,
    NextBest,
    PriceTried,
    SiteLimit,
    Standing,
    Why,
)

__all__ = [
    "Assumptions", "AxleLoads", "Ballast", "Bid", "BidSettings", "BuildDetails", "Builds", "CREWS",
    "Calibration", "Case", "Check", "Choice", "ChosenLoop", "ComparedTiming", "Confirmed", "Contract",
    "ContractForm", "Crew", "Depot", "EfficiencyFit", "EndTimes", "EnoughBallast", "EntryPrice", "Event",
    "FEW_TIMINGS", "FitLimits", "FormPrice", "Item", "LOAD_STATES", "LeastBudget", "Leg", "LimitTried",
    "ListBid", "LoopCosts", "LoopReason", "LoopReport", "LoopTimes", "Looser", "LostValue", "Marginal",
    "Material", "MomentLine", "MomentSheet", "Money", "MoneyByKind", "Mount", "NONE", "NeededRating",
    "NextBest", "OutOfReach", "Outcome", "Ownership", "ParcelFigures", "ParcelRow", "Plan", "PlannedBallast",
    "PlannedCase", "PlannedEndRound", "PlannedItem", "PlannedLoop", "PlannedMoney", "PlannedSite",
    "PlannedStop", "PlannedTruck", "Plow", "PriceTried", "PricedContract", "RETAINED_STATES", "Reason",
    "Recheck", "Remedy", "Replacement", "Risk", "RoundTimes", "Roundabout", "SLOWEST", "SeasonRounds",
    "Sensitivity", "ServedWork", "ServiceTimes", "Shortfall", "Simulation", "Site", "SiteBid", "SiteCost",
    "SiteEvents", "SiteLimit", "SitePrice", "SiteRatio", "Slope", "SolveSettings", "Spreader", "Standing",
    "Stop", "Storm", "Terms", "Timing", "Travel", "Truck", "TruckSeason", "UsedAssumption", "Variant",
    "Verdict", "Why", "Winter", "Work", "WorkingRate", "WouldFit", "hundredths",
]

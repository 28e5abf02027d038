"""What other commands found of a plan, and the files that they wrote it to."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose
from typing import Any

from optibuild.errors import UsageError
from optibuild.records import Bid, Marginal, Plan, PlannedCase, Simulation, SiteBid, Why
from optibuild.records.bid import ListBid
from optibuild.records.comparison import Comparison
from optibuild.records.drill import Drill
from optibuild.records.frontier import Frontier
from optibuild.report import bid_screen, drill_screen, frontier_screen, vary_screen, why_screen

SAME = 1e-6
"""What a cost worked out twice may differ by, as a share of it or in dollars."""
VARIATIONS_FILE = "variations.toml"
"""What a case has beside its files, of which only its variations depend."""


@dataclass(frozen=True)
class Found:
    """What has been asked of a plan or its case beside the plan itself; None or empty where it was not."""

    bid: Bid | None = None
    marginal: tuple[Marginal, ...] = ()
    why: Why | None = None
    drill: Drill | None = None
    comparison: Comparison | None = None
    frontiers: tuple[Frontier, ...] = ()


@dataclass(frozen=True)
class PricedSite(SiteBid):
    """A site of bid.json: its part of the bid, and what the plan would save without it."""

    marginal: Marginal | None


@dataclass(frozen=True)
class BidDocument:
    """bid.json, which calls the whole list `totals`."""

    sites: tuple[PricedSite, ...]
    totals: ListBid
    simulation: Simulation


@dataclass(frozen=True)
class FoundFile:
    """A file that a command writes: the record in it, its format, and what it is in a word."""

    name: str
    kind: type[Any]
    format: str
    word: str


FOUND_FILES = (
    FoundFile("bid.json", BidDocument, bid_screen.FORMAT, "bid"),
    FoundFile("why.json", Why, why_screen.FORMAT, "list of reasons"),
    FoundFile("drill.json", Drill, drill_screen.FORMAT, "drill"),
    FoundFile("vary.json", Comparison, vary_screen.FORMAT, "comparison"),
    *(FoundFile(f"frontier_{key}.json", Frontier, frontier_screen.FORMAT, "frontier")
      for key in ("budget", "drivers", "rate")),
)


def collected(read: Mapping[str, Any], plan: Plan) -> Found:
    """The records read from files, by the names of these; UsageError where one is of another plan or case."""
    for name, row in read.items():
        if not _of_this(row, plan):
            of = "case" if isinstance(row, (Comparison, Frontier)) else "plan"
            command = name.removesuffix(".json").replace("frontier_", "frontier --key ")
            raise UsageError(f"{name} is of another {of}; run `optibuild {command}` again")
    bid: BidDocument | None = read.get("bid.json")
    return Found(None if bid is None else Bid(bid.sites, bid.totals, bid.simulation),
                 () if bid is None else tuple(row.marginal for row in bid.sites if row.marginal),
                 read.get("why.json"), read.get("drill.json"), read.get("vary.json"),
                 tuple(row for name, row in read.items() if name.startswith("frontier_")))


def _of_this(row: Any, plan: Plan) -> bool:
    """Whether a record tells of this plan, as far as it says; a bid by the sites served and their costs."""
    if isinstance(row, BidDocument):
        planned = {site.id: site.cost_usd for site in plan.sites if site.cost_usd is not None}
        told = {site.site: site.cost.cost_usd for site in row.sites}
        return told.keys() == planned.keys() and all(
            isclose(told[name], planned[name], rel_tol=SAME, abs_tol=SAME) for name in told)
    if isinstance(row, (Why, Drill)):
        return (row.of_plan.case.inputs, row.of_plan.outcome) == (plan.case.inputs, plan.outcome)
    return row.case is not None and _same_case(row.case.inputs, plan.case)


def _same_case(inputs: Mapping[str, str], case: PlannedCase) -> bool:
    """Whether a case has these files; a variation may have others in the place of some of them."""
    theirs = {name: digest for name, digest in case.inputs.items() if name != VARIATIONS_FILE}
    if case.variation is None:
        return theirs == inputs
    both = inputs.keys() & theirs.keys()
    return bool(both) and all(inputs[name] == theirs[name] for name in both)

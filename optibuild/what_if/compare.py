"""Plans of a case and its variations side by side: what differs, and what of it is sure."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from hashlib import sha256
from math import inf, isfinite
from re import sub

from optibuild.integer_program import PROVED_GAP
from optibuild.records import Case, Plan, PlannedTruck, Variant
from optibuild.records.comparison import (
    Compared,
    Comparison,
    Difference,
    ItemChange,
    Swap,
    TightestPromise,
    Verdict,
)
from optibuild.records.provenance import OfCase
from optibuild.what_if.sizes import size_maps, size_of

LEAST_USD = 0.01
"""Differences are none below the share, of the objective or of this sum, up to which a gap is none."""
LONGEST_FOLDER = 60
NOT_FOUND = "no plan found"


def compare(variants: Sequence[Variant], plans: Sequence[Plan | None], rounds: int = 0) -> Comparison:
    """Every case beside the base, which is the first; None stands for a search that ended without a plan."""
    homes = plan_folders([row.name for row in variants])
    base = plans[0]
    rows = tuple(_compared(variant, plan, base, home, first=not n)
                 for n, (variant, plan, home) in enumerate(zip(variants, plans, homes, strict=True)))
    undecided = tuple(row.name for row in rows if row.difference.verdict == "undecided")
    of = OfCase(variants[0].case.name, dict(variants[0].case.inputs))
    return Comparison(rows, undecided, size_maps(variants, rows), rounds, case=of)


def _compared(variant: Variant, plan: Plan | None, base: Plan | None, home: str, first: bool) -> Compared:
    case = variant.case
    against = Difference("base", None, None) if first else difference(base, plan)
    row = Compared(
        variant.name, variant.changed, variant.at, case.question, "none", NOT_FOUND,
        None, None, None, None, None, None, {}, 0, len(case.sites), (), (), (), None, against, None)
    if plan is None:
        return row
    found, money = plan.outcome, plan.money
    row = replace(row, proof=found.proof, stopped=found.stopped, plan=f"{home}/plan.json")
    if money is None:
        return row
    both = base is not None and base.money is not None
    return replace(
        row, objective_usd=found.objective_usd, cost_usd=found.cost_usd, bound_usd=found.bound_usd,
        gap=found.gap, capital_usd=money.capital_usd, contract_value_usd=money.contract_value_usd,
        trucks=trucks_by_size(case, plan.trucks), served=sum(site.served for site in plan.sites),
        left_out=tuple(site.id for site in plan.sites if not site.served),
        swapped=swapped(base.trucks, plan.trucks) if base and both else (),
        items=item_changes(base, plan) if base and both else (), tightest=tightest_promise(plan.trucks))


def plan_folders(names: Iterable[str]) -> tuple[str, ...]:
    """For each name a folder that every file system takes: letters, digits, `.`, `_` and `-`, with signs of
    numbers in words. Where two would be the same but for letter case, the later one ends in the beginning of
    a SHA-256."""
    found: dict[str, str] = {}
    for name in names:
        signed = sub(r"(?<![A-Za-z0-9._])[-\u2212](?=\s*[$.0-9])", "minus", name.replace("+", "plus"))
        safe = sub(r"[^A-Za-z0-9._-]+", "-", signed).strip("-.")
        safe = f"case-{safe}" if _is_device(safe) else safe
        folder = safe = safe[:LONGEST_FOLDER].strip("-.")
        key = name
        while not folder or folder.casefold() in found:
            key = sha256(key.encode()).hexdigest()
            folder = f"{safe}-{key[:8]}".lstrip("-")
        found[folder.casefold()] = f"plans/{folder}"
    return tuple(found.values())


def _is_device(name: str) -> bool:
    """Whether a name is one that Windows keeps for its devices."""
    stem = name.partition(".")[0].casefold()
    return stem in ("con", "prn", "aux", "nul") or stem[:3] in ("com", "lpt") and stem[3:].isdigit()


def trucks_by_size(case: Case, trucks: Iterable[PlannedTruck]) -> dict[str, int]:
    """How many trucks of each size a plan has, in the order of the catalog."""
    size = {row.id: size_of(row) for row in case.trucks}
    counted = Counter(size[truck.truck] for truck in trucks)
    return {word: counted[word] for word in dict.fromkeys(size.values()) if counted[word]}


def difference(base: Plan | None, plan: Plan | None) -> Difference:
    """What is sure of the objective of a plan less that of the base.

    The best plan of a case costs at least its bound and at most what its plan does: where these ranges do not
    overlap the difference is sure. Both proved best and overlapping: equal.
    """
    if base is None or plan is None:
        return Difference("undecided", None, None)
    if base.case.question != plan.case.question:
        return Difference("another question", None, None)
    if plan.outcome.objective_usd is None:
        return Difference("no plan", None, None)
    if base.outcome.objective_usd is None:
        return Difference("base has no plan", None, None)
    least, most = objective_range(plan)
    base_least, base_most = objective_range(base)
    low, high = least - base_most, most - base_least
    noise = PROVED_GAP * max(LEAST_USD, abs(most), abs(base_most))
    verdict: Verdict = "undecided"
    if low > noise or high < -noise:
        verdict = "more" if low > noise else "less"
    elif base.outcome.proof == plan.outcome.proof == "proved best":
        verdict = "equal"
    return Difference(verdict, low if isfinite(low) else None, high if isfinite(high) else None)


def objective_range(plan: Plan) -> tuple[float, float]:
    """Between what and what the objective of a case's best plan lies, going by a plan of it."""
    found = plan.outcome
    return (-inf if found.bound_usd is None else found.bound_usd,
            inf if found.objective_usd is None else found.objective_usd)


def swapped(base: Sequence[PlannedTruck], here: Sequence[PlannedTruck]) -> tuple[Swap, ...]:
    """The builds of the base that are no longer there, each with what came for it.

    Paired are first those that have most in common of truck, plow and spreader; of these the ones whose loops
    share most sites.
    """
    gone, come = _beyond(base, here), _beyond(here, base)
    pairs = sorted((-_alike(a, b), -len(_sites(a) & _sites(b)), m, n)
                   for m, a in enumerate(gone) for n, b in enumerate(come))
    found: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, m, n in pairs:
        if m not in found and n not in taken:
            found[m] = n
            taken.add(n)
    told: list[tuple[str | None, str | None]] = [
        (gone[m].build, come[found[m]].build if m in found else None) for m in range(len(gone))]
    told += [(None, one.build) for n, one in enumerate(come) if n not in taken]
    return tuple(Swap(count, before, after) for (before, after), count in Counter(told).items())


def _beyond(of: Sequence[PlannedTruck], other: Sequence[PlannedTruck]) -> list[PlannedTruck]:
    """The trucks whose build `other` has not, or not so often: those whose loops share fewest sites with its
    trucks of that build."""
    left = Counter(row.build for row in other)
    theirs: dict[str, set[str]] = {}
    for row in other:
        theirs.setdefault(row.build, set()).update(_sites(row))
    kept: list[PlannedTruck] = []
    for row in sorted(of, key=lambda one: -len(_sites(one) & theirs.get(one.build, set()))):
        if left[row.build]:
            left[row.build] -= 1
        else:
            kept.append(row)
    return sorted(kept, key=lambda one: one.truck_no)


def _alike(one: PlannedTruck, other: PlannedTruck) -> int:
    return sum(a == b for a, b in ((one.truck, other.truck), (one.plow, other.plow),
                                   (one.spreader, other.spreader)))


def _sites(truck: PlannedTruck) -> set[str]:
    return {stop.site for stop in truck.loop.stops}


def item_changes(base: Plan, here: Plan) -> tuple[ItemChange, ...]:
    """The catalog rows of which not as many are bought, or owned ones used, in both."""
    of_base, of_here = ({(row.table, row.id): (row.bought, row.owned_used) for row in plan.items}
                        for plan in (base, here))
    found = []
    for table, name in dict.fromkeys((*of_base, *of_here)):
        before, after = (of.get((table, name), (0, 0)) for of in (of_base, of_here))
        if before != after:
            found.append(ItemChange(name, table, before[0], after[0], before[1], after[1]))
    return tuple(found)


def tightest_promise(trucks: Iterable[PlannedTruck]) -> TightestPromise | None:
    """The promise of time of which the least share is left; None where no time is limited."""
    return min((row for truck in trucks for row in _promises(truck)), default=None,
               key=lambda row: row.left_min / row.limit_min)


def _promises(truck: PlannedTruck) -> Iterator[TightestPromise]:
    loop = truck.loop
    if any(stop.arrive_min is not None for stop in loop.stops) and isfinite(loop.cycle_limit_min):
        yield TightestPromise("cycle limit", truck.truck_no, None, loop.cycle_limit_min - loop.duration_min,
                              loop.cycle_limit_min)
    last = loop.end_round
    if last is not None and isfinite(last.within_min):
        yield TightestPromise("last round", truck.truck_no, None, last.within_min - last.duration_min,
                              last.within_min)
    for stop in loop.stops:
        if stop.deadline_min is not None and stop.leave_min is not None:
            yield TightestPromise("deadline", truck.truck_no, stop.site, stop.deadline_min - stop.leave_min,
                                  stop.deadline_min)

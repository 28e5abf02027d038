"""A frontier on the terminal, as a document and as files: steps, what each buys and which sites it gains."""

import json
from collections import Counter
from dataclasses import asdict
from typing import Any

from optibuild.records import Case
from optibuild.records.frontier import SAME_USD, Frontier, FrontierStep
from optibuild.report.console import clean, heading, layout, number, paragraph, usd
from optibuild.report.csv_tables import csv_text
from optibuild.report.tables import Cell, Column, Table, count, dollars
from optibuild.report.workbook import workbook_bytes
from optibuild.units import conversion

FORMAT = "optibuild-frontier/1"
NAMES = {"budget": "budget", "drivers": "drivers", "rate": "snowfall rate"}
UNITS = {"budget": "USD", "drivers": "drivers", "rate": "m/min"}
RATE_UNITS = {"us": "in/h", "si": "mm/h"}
DECIMALS = {"budget": 2, "drivers": 0, "rate": 3}
NO_STEPS = ("No plan exists: not every site that must be served can be, whatever the {name}. "
            "`optibuild plan` tells what stands in the way.")
UNPAID = "No site has pay (pay_by, pay), so that all contract values are 0."
ONE_STEP = ("Every site must be served, so that there is one step: all of them, or no plan. To see what else "
            "could be covered, let sites be left out (must_serve = no).")
MORE_IS_EASIER = ("From each {name} on, so much contract value can be covered; below the first there is no "
                  "plan, or none was found.")
LESS_IS_EASIER = ("Up to each {name}, so much contract value can be covered; steps are known to within 1 %. "
                  "Looked at from {low} to {high}, with each site cut as at the case's own rate; cut finer, "
                 "more may be covered.")
BAND = ("At most: nothing covers more before the next row. No sooner: proved, or the nearest {name} at which "
        "this much is proved out of reach; between the two it may be covered as well.")
PROVED = "Proved: nothing covers more before the next row, and no row is covered any sooner."
MOST = ("The search ended after {n} searches (--most): between the rows there may be more, up to what no row "
        "exceeds.")
INTERRUPTED = "Interrupted: what was known by then. Plans without a cost were not rechecked."


def frontier_text(found: Frontier, case: Case) -> str:
    """All steps, and what is proved of them."""
    name = NAMES[found.key]
    title = heading(f"Frontier: {clean(case.name)}, contract value by {name}")
    if not found.steps:
        return f"{title}\n{paragraph(NO_STEPS.format(name=name))}"
    return "\n\n".join([f"{title}\n{paragraph(answer_words(found))}", layout(step_table(found, case)),
                        paragraph(notes(found, case))])


def frontier_document(found: Frontier) -> dict[str, Any]:
    """The result as a tree: values in USD, drivers or m/min; each step with what it changes."""
    tree = asdict(found)
    steps = [{**row, **_changes(found, k)} for k, row in enumerate(tree.pop("steps"))]
    return {"format": FORMAT, "key": tree.pop("key"), "unit": UNITS[found.key], **tree, "steps": steps}


def frontier_files(found: Frontier, case: Case) -> dict[str, str | bytes]:
    """File name to content: JSON, CSV and workbook, named by the key."""
    text = json.dumps(frontier_document(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    name, table = f"frontier_{found.key}", _csv(found, case)
    return {f"{name}.json": text, f"{name}.csv": csv_text(table),
            f"{name}.xlsx": workbook_bytes({name: table})}


def step_table(found: Frontier, case: Case) -> Table:
    """Each step with its bound, what is bought beyond the step before, and sites gained and lost."""
    columns = (_key_column(found, case), dollars("contract value"), dollars("at most"),
               Column("more bought"), Column("sites gained"), Column("no sooner"))
    return Table(columns, tuple(
        (_shown(found, case, row.value), row.contract_value_usd, row.bound_usd, _bought(found, k),
         _sites(found, k), _no_sooner(found, case, row)) for k, row in enumerate(found.steps)))


def _csv(found: Frontier, case: Case) -> Table:
    key = _key_column(found, case)
    columns = (key, dollars("contract_value"), dollars("bound"), Column("fails_at", key.unit, key.decimals),
               Column("exact"), dollars("cost"), dollars("capital"), count("trucks"), Column("more_bought"),
               Column("gained"), Column("lost"), Column("sites"))
    rows: list[tuple[Cell, ...]] = []
    for k, row in enumerate(found.steps):
        change = _changes(found, k)
        fails = None if row.fails_at is None else _shown(found, case, row.fails_at)
        rows.append((_shown(found, case, row.value), row.contract_value_usd, row.bound_usd, fails,
                     "yes" if row.exact else "no", row.cost_usd, row.capital_usd, row.trucks,
                     _bought(found, k), " ".join(change["gained"]), " ".join(change["lost"]),
                     " ".join(row.sites)))
    return Table(columns, tuple(rows))


def _key_column(found: Frontier, case: Case) -> Column:
    unit = {"budget": "USD", "drivers": "", "rate": RATE_UNITS[case.units]}[found.key]
    whole = found.key == "budget" and all(row.value == round(row.value) for row in found.steps)
    return Column(NAMES[found.key], unit, 0 if whole else DECIMALS[found.key])


def _shown(found: Frontier, case: Case, value: float) -> float:
    if found.key != "rate":
        return value
    return conversion(RATE_UNITS[case.units], "speed").from_inner(value)


def _changes(found: Frontier, k: int) -> dict[str, Any]:
    """What the k-th step buys beyond the one before, sites that it gains and loses; of the first one all."""
    now, before = found.steps[k], found.steps[k - 1] if k else None
    bought = Counter({row.id: row.bought for row in now.items})
    bought.subtract({row.id: row.bought for row in before.items} if before else {})
    then = before.sites if before else ()
    return {"bought_more": {name: n for name, n in bought.items() if n},
            "gained": [name for name in now.sites if name not in then],
            "lost": [name for name in then if name not in now.sites]}


def _bought(found: Frontier, k: int) -> str:
    more = _changes(found, k)["bought_more"]
    signed = sorted(more.items(), key=lambda row: row[1] < 0)
    return ", ".join(f"{n} {name}" for name, n in signed) or ("nothing" if k else "nothing bought")


def _sites(found: Frontier, k: int) -> str:
    change = _changes(found, k)
    if not k:
        return f"{len(found.steps[0].sites)} served"
    return ", ".join([*change["gained"], *(f"-{name}" for name in change["lost"])])


def _no_sooner(found: Frontier, case: Case, row: FrontierStep) -> str:
    if row.exact:
        return "proved"
    if row.value == found.looked_to:
        return "not looked beyond"
    if row.fails_at is None:
        return "not known"
    return number(_shown(found, case, row.fails_at), _key_column(found, case).decimals or 0)


def answer_words(found: Frontier) -> str:
    """Least and most in one sentence."""
    first, last = found.steps[0], found.steps[-1]
    steps = f"{len(found.steps)} step{'s' if len(found.steps) > 1 else ''}"
    return (f"{steps}, from {usd(first.contract_value_usd)} to {usd(last.contract_value_usd)} of the "
            f"{usd(found.offered_usd)} that all sites would pay a season; {found.searches} "
            f"search{'es' if found.searches != 1 else ''}.")


def notes(found: Frontier, case: Case) -> str:
    """What the steps mean and how far they are proved."""
    unit = RATE_UNITS[case.units]
    name = "number of drivers" if found.key == "drivers" else NAMES[found.key]
    if found.looked_from is not None and found.looked_to is not None:
        low, high = (f"{number(_shown(found, case, rate), DECIMALS['rate'])} {unit}"
                     for rate in (found.looked_from, found.looked_to))
        told = [LESS_IS_EASIER.format(name=name, low=low, high=high)]
    else:
        told = [MORE_IS_EASIER.format(name=name)]
    sure = all((row.exact or row.value == found.looked_to)
               and row.bound_usd <= row.contract_value_usd + SAME_USD for row in found.steps)
    told.append(PROVED if sure else BAND.format(name=name))
    if found.ended != "all known":
        told.append(MOST.format(n=found.searches) if found.ended == "most searches" else INTERRUPTED)
    told += [UNPAID] * (not found.offered_usd) + [ONE_STEP] * (not found.optional)
    return " ".join(told)

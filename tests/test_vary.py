"""Variations side by side: what differs, what of it is sure, and what is solved further. All by hand.

The plans are the one that `small_plan` works out, with other outcomes, trucks and items put in.
"""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO
from typing import Any

import jsonschema
import pytest
import small_plan as sp
from openpyxl import load_workbook
from python_calamine import CalamineWorkbook

from optibuild.errors import OptibuildError
from optibuild.records import Case, Plan, PlannedItem, PlannedTruck, SolveSettings, Truck, Variant
from optibuild.records.comparison import (
    Comparison,
    Difference,
    ItemChange,
    Swap,
    TightestPromise,
)
from optibuild.report import vary_document, vary_files, vary_text
from optibuild.report.console import wrap
from optibuild.report.vary_tables import answers_table, differences_table, grid_table, in_order
from optibuild.what_if import plan_folders, vary
from optibuild.what_if.compare import compare, difference, item_changes, swapped, tightest_promise
from optibuild.what_if.workers import Lost

HALF, ONE = sp.TRUCK, replace(sp.TRUCK, id="heavy", size="one-ton")


def planned(bound: float | None, objective: float, proof: Any = "best found", question: str = "cover",
            **changes: Any) -> Plan:
    """A plan between a bound and what it costs."""
    gap = None if bound is None else (objective - bound) / objective
    outcome = replace(sp.PLAN.outcome, proof=proof, bound_usd=bound, objective_usd=objective,
                      cost_usd=objective, gap=gap)
    return replace(sp.PLAN, outcome=outcome, case=replace(sp.PLAN.case, question=question), **changes)


def best(objective: float, **changes: Any) -> Plan:
    """A plan that is proved best."""
    return planned(objective, objective, "proved best", **changes)


NONE_EXISTS = replace(sp.PLAN, money=None, trucks=(), items=(), sites=(), outcome=replace(
    sp.PLAN.outcome, proof="none", stopped="no plan exists", objective_usd=None, bound_usd=None, gap=None,
    cost_usd=None))


def variant(name: str, at: tuple[tuple[str, str], ...] = (), trucks: tuple[Truck, ...] = (HALF, ONE),
            case: Case = sp.CASE) -> Variant:
    """A variation by name; only its place in sweeps, its trucks and its settings are looked at."""
    return Variant(name, (f"{name} changed",), at, replace(case, trucks=trucks))


# ---- what is sure


@pytest.mark.parametrize(("base", "here", "verdict", "low", "high"), [
    # [90, 100] and [110, 120]: between 110 - 100 and 120 - 90
    (planned(90, 100), planned(110, 120), "more", 10, 30),
    (planned(110, 120), planned(90, 100), "less", -30, -10),
    # 100 and 95 overlap by 5: the plan costs 10 more, less than the gaps of 10 and 15 together
    (planned(90, 100), planned(95, 110), "undecided", -5, 20),
    # ranges that only touch: the best plans may cost the same
    (planned(90, 100), planned(100, 110), "undecided", 0, 20),
    (best(100), best(100), "equal", 0, 0),
    (best(100), best(100.00005), "equal", 0.00005, 0.00005),  # a millionth of 100 is 0.0001
    (best(100), best(100.1), "more", 0.1, 0.1),
    (best(100), planned(100, 101), "undecided", 0, 1),
    # the base costs 100 at most, whatever its bound
    (planned(None, 100), best(110), "more", 10, None),
    (planned(None, 100), best(90), "undecided", -10, None),
    (best(100), planned(None, 90), "less", None, -10),
    # contract value of 600 against 500: the objective is what the question asks for the least of
    (best(-500, question="value"), best(-600, question="value"), "less", -100, -100),
    (best(100), best(-600, question="value"), "another question", None, None),
    (best(100), NONE_EXISTS, "no plan", None, None),
    (NONE_EXISTS, best(100), "base has no plan", None, None),
    (NONE_EXISTS, NONE_EXISTS, "no plan", None, None),
    (best(100), None, "undecided", None, None),
])
def test_a_difference_is_sure_where_the_ranges_do_not_overlap(
        base: Plan, here: Plan | None, verdict: str, low: float | None, high: float | None) -> None:
    """Constructed ranges from bound to plan: apart they decide, and say between what and what the difference
    lies; overlapping they do not, unless both plans are proved best."""
    found = difference(base, here)
    assert found.verdict == verdict
    assert (found.from_usd, found.to_usd) == (
        None if low is None else pytest.approx(low), None if high is None else pytest.approx(high))


# ---- swaps, items, promises


def truck(number: int, build: str, sites: str = "ab") -> PlannedTruck:
    """A truck with the build TRUCK+PLOW+SPREADER whose loop visits these sites."""
    name, *rest = build.split("+")
    plow, spreader = (None if part == "-" else part for part in rest)
    stop = sp.LOOP_1.stops[0]
    return replace(sp.PLAN.trucks[0], truck_no=number, build=build, truck=name, plow=plow, spreader=spreader,
                   loop=replace(sp.LOOP_1, stops=tuple(replace(stop, site=site) for site in sites)))


@pytest.mark.parametrize(("base", "here", "told"), [
    (["t1+p+s", "t1+p+s"], ["t1+p+s", "t1+p+s"], []),
    # two parts in common with t2+p+s, one with t1+q+-
    (["t1+p+s"], ["t1+q+-", "t2+p+s"], [(1, "t1+p+s", "t2+p+s"), (1, None, "t1+q+-")]),
    (["t1+p+s", "t1+p+s", "t1+q+-"], ["t1+p+s", "t2+q+-"], [(1, "t1+p+s", None), (1, "t1+q+-", "t2+q+-")]),
    (["t1+p+s", "t1+p+s"], ["t2+p+s", "t2+p+s"], [(2, "t1+p+s", "t2+p+s")]),
    (["t1+p+s"], [], [(1, "t1+p+s", None)]),
])
def test_swaps_build_by_build_by_hand(base: list[str], here: list[str],
                                      told: list[tuple[int, str | None, str | None]]) -> None:
    """Builds that both plans have are no swap; the others go in pairs by what they have in common, and what
    finds no other stands alone."""
    before, after = ([truck(n, build) for n, build in enumerate(builds, 1)] for builds in (base, here))
    assert swapped(before, after) == tuple(Swap(*row) for row in told)


def test_of_builds_as_much_alike_those_on_the_same_sites_are_swapped() -> None:
    """Both new builds have one part in common with the old one; the second visits its sites a and b."""
    gone, come = [truck(1, "t1+p+s", "ab")], [truck(1, "t1+q+-", "cd"), truck(2, "t2+p+-", "ab")]
    assert swapped(gone, come) == (Swap(1, "t1+p+s", "t2+p+-"), Swap(1, None, "t1+q+-"))


def test_items_that_differ_by_hand() -> None:
    """Two blades instead of three, an owned truck no longer used, a hopper that the base has not; what is the
    same in both is not told."""
    base = replace(sp.PLAN, items=(
        PlannedItem("light", "trucks", 1, 1, 10_000, 1), PlannedItem("blade", "plows", 3, 0, 10, 1),
        PlannedItem("bag", "ballast", 2, 0, 10, 1)))
    here = replace(sp.PLAN, items=(
        PlannedItem("light", "trucks", 1, 0, 10_000, 1), PlannedItem("blade", "plows", 2, 0, 10, 1),
        PlannedItem("hopper", "spreaders", 1, 0, 10, 1), PlannedItem("bag", "ballast", 2, 0, 99, 1)))
    assert item_changes(base, here) == (
        ItemChange("light", "trucks", 1, 1, 1, 0), ItemChange("blade", "plows", 3, 2, 0, 0),
        ItemChange("hopper", "spreaders", 0, 1, 0, 0))


@pytest.mark.parametrize(("deadline", "told"), [
    # loops take 34 of 60 and 79 of 90 min; 11/90 is the least share, until a deadline of 71 leaves 1/71
    (None, TightestPromise("cycle limit", 2, None, 11, 90)),
    (71.0, TightestPromise("deadline", 2, "a", 1, 71)),
])
def test_the_tightest_promise_by_hand(deadline: float | None, told: TightestPromise) -> None:
    """Of loops and deadlines that were worked out by hand, the one of which the least share is left; the
    deadlines of 80 min leave 55 and 10."""
    plan = sp.PLAN if deadline is None else sp.with_stop(2, 1, deadline_min=deadline)
    assert tightest_promise(plan.trucks) == told


def test_the_row_of_a_case_by_hand() -> None:
    """The plan worked out by hand as a row: two half-ton trucks, sites a and b of three served, the figures
    of its outcome and money."""
    row = compare([variant("base")], [sp.PLAN]).rows[0]
    assert (row.trucks, row.served, row.sites, row.left_out) == ({"half-ton": 2}, 2, 3, ("c",))
    assert (row.capital_usd, row.contract_value_usd) == (10_000 + 9282 + 928.2, 2700)
    assert row.cost_usd == pytest.approx(sp.COST_USD) and row.gap == 0.01
    assert row.objective_usd == pytest.approx(sp.COST_USD + 500)
    assert row.difference == Difference("base", None, None) and row.plan == "plans/base/plan.json"
    assert row.swapped == () == row.items


def test_a_case_without_a_plan_is_a_row_that_says_so() -> None:
    """A case that has none, and one whose search ended too soon: rows without figures, the first with a
    plan.json, which tells what is out of reach, and only the second undecided."""
    found = compare([variant("base"), variant("none"), variant("late")], [best(100), NONE_EXISTS, None])
    _, none, late = found.rows
    assert [(row.stopped, row.difference.verdict, row.plan, row.cost_usd) for row in (none, late)] == [
        ("no plan exists", "no plan", "plans/none/plan.json", None),
        ("no plan found", "undecided", None, None)]
    assert found.undecided == ("late",)


# ---- solved further


class Scripted:
    """Gives for each case the plans that were written down for it, one after the other, and notes what was
    asked: (name of the case, gap, time limit)."""

    def __init__(self, **plans: Sequence[Plan | None]) -> None:
        self.plans = {name: list(rows) for name, rows in plans.items()}
        self.asked: list[list[tuple[str, float, float]]] = []

    def __call__(self, cases: Sequence[Case]) -> list[Plan | None]:
        names = [case.assumptions.overridden[0] for case in cases]
        self.asked.append([(name, case.solve.gap, case.solve.time_limit_s)
                           for name, case in zip(names, cases, strict=True)])
        return [self.plans[name].pop(0) for name in names]


def marked(*names: str, at: tuple[tuple[str, str], ...] = ()) -> list[Variant]:
    """Variants of a gap of 0.04 and a time limit of 10 s; each case carries its name for the solver."""
    return [Variant(name, (), at if n else (), replace(
        sp.CASE, solve=SolveSettings(0.04, 10, 1, 0),
        assumptions=replace(sp.CASE.assumptions, overridden=(name,)))) for n, name in enumerate(names)]


def test_what_is_undecided_is_solved_further_until_it_is_decided() -> None:
    """`a` is sure at once and not asked again. `b` overlaps the base until both are asked with half the gap
    in twice the time; `c` until the base is proved best and it too, at a gap of 0: they are equal."""
    solver = Scripted(base=[planned(90, 100), planned(95, 100), best(100)], a=[planned(110, 120)],
                      b=[planned(99, 110), planned(101, 110)],
                      c=[planned(90, 105), planned(95, 105), best(100)])
    found = vary(marked("base", "a", "b", "c"), solver, True).comparison
    assert solver.asked == [
        [("base", 0.04, 10), ("a", 0.04, 10), ("b", 0.04, 10), ("c", 0.04, 10)],
        [("base", 0.02, 20), ("b", 0.02, 20), ("c", 0.02, 20)],
        [("base", 0.0, 40), ("c", 0.0, 40)]]
    assert [row.difference.verdict for row in found.rows] == ["base", "more", "more", "equal"]
    assert (found.undecided, found.rounds) == ((), 2)
    assert (found.rows[2].difference.from_usd, found.rows[2].difference.to_usd) == (1, 10)


def test_what_stays_undecided_is_told() -> None:
    """After three rounds, the last with eight times the time, `b` is undecided still. The base, proved best,
    is given again as it was asked. Of the plans of `b` the one with the least gap is kept, not the last."""
    solver = Scripted(base=[best(100)] * 4,
                      b=[planned(90, 110), planned(98, 110), planned(97, 110), planned(60, 109)])
    varied = vary(marked("base", "b"), solver, True)
    assert [asked[1][1:] for asked in solver.asked] == [(0.04, 10), (0.02, 20), (0.0, 40), (0.0, 80)]
    assert {asked[0] for asked in solver.asked} == {("base", 0.04, 10)}
    assert (varied.comparison.undecided, varied.comparison.rounds) == (("b",), 3)
    kept = varied.plans[1]
    assert kept is not None and kept.outcome.bound_usd == 98
    assert "1 is still undecided" in vary_text(varied.comparison, "case")


def test_nothing_is_solved_further_unless_asked() -> None:
    """Without `settle` what is undecided is told after one solve, with the option that would go on."""
    found = vary(marked("base", "b"), Scripted(base=[planned(90, 100)], b=[planned(95, 110)])).comparison
    assert (found.undecided, found.rounds) == (("b",), 0)
    assert "--settle" in vary_text(found, "case")


def test_a_search_without_a_plan_is_given_more_time_and_one_that_has_none_is_not() -> None:
    """`late` is stopped before any plan and found in the second round; `none` has no plan, which is sure."""
    solver = Scripted(base=[best(100), best(100)], none=[NONE_EXISTS], late=[None, best(120)])
    found = vary(marked("base", "none", "late"), solver, True).comparison
    assert [row.difference.verdict for row in found.rows] == ["base", "no plan", "more"]


def test_an_interruption_while_solving_further_keeps_what_is_known() -> None:
    """Ctrl-C in the second round: the plans of the first stand."""
    def solve(cases: Sequence[Case]) -> Sequence[Plan | None]:
        if solver.asked:
            raise KeyboardInterrupt
        return solver(cases)

    solver = Scripted(base=[planned(90, 100)], b=[planned(95, 110)])
    found = vary(marked("base", "b"), solve, True).comparison
    assert (found.undecided, found.rounds, found.interrupted) == (("b",), 0, True)
    assert "Interrupted while solving further" in " ".join(vary_text(found, "case").split())


@pytest.mark.parametrize("lost_at_once", [True, False])
def test_a_variation_whose_process_is_lost_is_named(lost_at_once: bool) -> None:
    """The solver knows cases by numbers only: the third of four is lost at once, and the base and the third
    are asked further in the second round, of which the second is lost. Both are named as in
    variations.toml."""
    def solve(cases: Sequence[Case]) -> Sequence[Plan | None]:
        if len(cases) == 2 or lost_at_once:
            raise Lost({1 if len(cases) == 2 else 2: ""}, "3 times")
        return [planned(90, 100), best(200), planned(95, 110), best(300)]

    with pytest.raises(OptibuildError, match="^'c' was not solved: .* ended 3 times"):
        vary(marked("base", "b", "c", "d"), solve, True)


def test_a_plan_names_its_variation_and_its_files_and_is_solved_without_them() -> None:
    """The solver sees neither name nor files, so that a result does not depend on them; the plans tell both,
    and that of the base no variation."""
    seen: list[Case] = []

    def solve(cases: Sequence[Case]) -> Sequence[Plan | None]:
        seen.extend(cases)
        return [best(100)] * len(cases)

    rows = [replace(row, case=replace(row.case, name="lots", given_as="home", inputs=(("a.csv", "00"),)))
            for row in (variant("base"), variant("dear"))]
    plans = vary(rows, solve).plans
    assert {(case.name, case.given_as, case.inputs) for case in seen} == {("", "", ())}
    assert [plan and (plan.case.name, plan.case.given_as, plan.case.inputs, plan.case.variation)
            for plan in plans] == [("lots", "home", {"a.csv": "00"}, name) for name in (None, "dear")]


# ---- which size leads


def two_way(*cells: tuple[str, str, list[str], bool]) -> tuple[list[Variant], list[Plan]]:
    """A base and cells (price, area, builds, whether proved best) of a sweep over both."""
    rows, plans = [variant("base")], [best(100)]
    for y, x, builds, proved in cells:
        rows.append(variant(f"{y}/{x}/{len(rows)}", (("price", y), ("area", x))))
        trucks = tuple(truck(n, build) for n, build in enumerate(builds, 1))
        plans.append(replace(best(100) if proved else planned(90, 100), trucks=trucks))
    return rows, plans


def test_the_map_of_answers_by_hand() -> None:
    """A price goes down the map and an area across: trucks by size are counted, the most of a size lead, two
    sizes may lead together, and what is not proved best is not decided. A cell may be missing."""
    light, heavy = "light+p+s", "heavy+p+s"
    rows, plans = two_way(("low", "small", [light, light, heavy], True), ("low", "big", [heavy, light], True),
                          ("high", "small", [heavy], False))
    (found,) = compare(rows, plans).maps
    assert (found.down, found.across, found.down_values, found.across_values, found.sizes) == (
        "price", "area", ("low", "high"), ("small", "big"), ("half-ton", "one-ton"))
    assert [(cell.down, cell.across, cell.trucks, cell.leading, cell.decided) for cell in found.cells] == [
        ("low", "small", {"half-ton": 2, "one-ton": 1}, ("half-ton",), True),
        ("low", "big", {"half-ton": 1, "one-ton": 1}, ("half-ton", "one-ton"), True),
        ("high", "small", {"one-ton": 1}, ("one-ton",), False)]
    text = vary_text(compare(rows, plans), "case")
    assert "low    half-ton   half-ton = one-ton\nhigh   one-ton ?  -" in text


def test_two_combinations_of_the_same_sweeps_make_two_maps() -> None:
    """Both have a cell at the same values: each goes into a map of its own."""
    rows, plans = two_way(("low", "small", ["light+p+s"], True), ("high", "small", ["light+p+s"], True),
                          ("low", "small", ["heavy+p+s"], True), ("high", "small", ["heavy+p+s"], True))
    first, second = compare(rows, plans).maps
    leading = [[cell.leading for cell in one.cells] for one in (first, second)]
    assert leading == [[("half-ton",)] * 2, [("one-ton",)] * 2]


def test_cells_that_are_not_proved_are_solved_further() -> None:
    """A cell that surely costs more than the base, but whose plan is not proved best, is asked until it
    is."""
    rows = marked("base", "cell", at=(("price", "low"), ("area", "big")))
    solver = Scripted(base=[best(100)] * 2, cell=[planned(150, 160), best(155)])
    (found,) = vary(rows, solver, True).comparison.maps
    assert [cell.decided for cell in found.cells] == [True]
    assert solver.asked[1] == [("base", 0.04, 10), ("cell", 0.02, 20)]


def test_a_truck_without_a_size_counts_by_its_id() -> None:
    """A blank size: the truck is a class of its own."""
    row = variant("base", trucks=(replace(HALF, size=""),))
    assert compare([row], [sp.PLAN]).rows[0].trucks == {"light": 2}


# ---- names of folders


def test_folders_are_safe_and_differ() -> None:
    """Slashes, dots and letters of other scripts become `-`; names that differ in letter case only, that are
    nothing else, that Windows keeps for devices or that are too long still get folders of their own."""
    names = ["base", "Base", "a/b", "a:b", "../up", "..", "con", "цена", "é", "x" * 90, "x" * 91,
             "a b = 1.5"]
    found = plan_folders(names)
    assert len({folder.casefold() for folder in found}) == len(names)
    assert all(folder.startswith("plans/") and set(folder[6:]) <= set(
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-") for folder in found)
    assert all(0 < len(folder[6:]) <= 69 and folder[6] not in ".-" and folder[-1] not in ".-"
               for folder in found)
    assert (found[0], found[2], found[11]) == ("plans/base", "plans/a-b", "plans/a-b-1.5")
    assert found[6] == "plans/case-con"


def test_folders_keep_signs_apart() -> None:
    """More and less of a price are told in words, a device with an ending is kept too, and names that differ
    in nothing that a folder may have all find one, also where the one with a hash is taken."""
    assert plan_folders(["price = +5 %", "price = -5 %", "price = 5 %", "a-5", "price = - 5 %"])[:4] == (
        "plans/price-plus5", "plans/price-minus5", "plans/price-5", "plans/a-5")
    assert plan_folders(["nul.txt", "COM1", "common"]) == (
        "plans/case-nul.txt", "plans/case-COM1", "plans/common")
    taken = plan_folders(["a", "a?"])[1].removeprefix("plans/")
    found = plan_folders(["a", taken, "a?", "a!", "A"])
    assert len({folder.casefold() for folder in found}) == 5


# ---- screen and files


def comparison(count: int = 3, question: str = "cover") -> Comparison:
    """A base at 1,000 and variations, the n-th 100 n more, with odd and long names."""
    sign = 1.0 if question == "cover" else -1.0
    rows, plans = [variant("base")], [best(sign * 1000, question=question)]
    for n in range(1, count + 1):
        name = {1: "=cmd()", 2: "w" * 100}.get(n, f"variation number {n} with a long name of many words")
        rows.append(variant(name, (("price", str(n)), ("area", "big"))))
        plans.append(best(sign * (1000 + 100 * n), question=question))
    return compare([replace(row, case=replace(row.case, question=question)) for row in rows], plans)


@pytest.mark.parametrize("count", [0, 3, 60])
def test_the_screen_has_eighty_columns_and_ends(count: int) -> None:
    """Whatever the names, no line is longer; of many rows some forty a table are shown, and how many more
    there are."""
    text = vary_text(comparison(count), "case " * 30)
    assert max(map(len, text.splitlines())) <= 80
    assert len(text.splitlines()) < 700
    assert ("And 21 rows more" in text) == (count == 60)  # 61 cases, 40 shown
    assert "The plan of the least cost is that of 'base': 1,000 USD." in " ".join(text.split())


@pytest.mark.parametrize(("question", "said"), [
    ("cover", "Variations against the base: more cost 3. The plan of the least cost is that of 'base': "
              "1,000 USD."),
    ("value", "Variations against the base: more contract value 3. The plan of the most contract value is "
              "that of 'variation number 3 with a long name of many words': 1,300 USD."),
    ("profit", "Variations against the base: more profit 3. The plan of the most profit is that of "
               "'variation number 3 with a long name of many words': 1,300 USD."),
])
def test_the_screen_says_what_the_question_asks_for(question: str, said: str) -> None:
    """The objective of `value` and `profit` is negative: 1,300 of value is told as such, and is the most."""
    assert said in " ".join(vary_text(comparison(3, question), "case").split())


def test_a_difference_of_contract_value_is_told_from_the_less_to_the_more() -> None:
    """Value of 500 in the base's plan and 550 at most, 600 here and 700 at most: from 600 - 550 = 50 to
    700 - 500 = 200 more."""
    plans = [planned(-550, -500, question="value"), planned(-700, -600, question="value")]
    rows = compare([variant("base"), variant("b")], plans).rows
    table = differences_table(rows, "value")
    assert table.rows == (("b", "more contract value", 50, 200),)
    assert [column.title for column in table.columns[2:]] == [
        "contract value differs, from [USD]", "to [USD]"]


def test_rows_are_sorted_with_those_without_a_plan_last() -> None:
    """By cost, by capital, by name whatever the letter case; a row without a plan comes last but by name."""
    rows = compare([variant(name) for name in ("base", "Beta", "alpha", "none")],
                   [best(300), best(100), best(200), NONE_EXISTS]).rows
    capital = {"base": 1.0, "Beta": 3.0, "alpha": 2.0, "none": None}
    rows = tuple(replace(row, capital_usd=capital[row.name]) for row in rows)
    order = {sort: [row.name for row in in_order(rows, sort)] for sort in ("cost", "capital", "name")}
    assert order == {"cost": ["Beta", "alpha", "base", "none"], "capital": ["base", "alpha", "Beta", "none"],
                     "name": ["alpha", "base", "Beta", "none"]}


@pytest.mark.parametrize(("text", "width", "lines"), [
    ("price = +15 %", 9, ["price =", "+15 %"]), ("price = + 15 %", 9, ["price =", "+ 15 %"]),
    ("+$15 more", 6, ["+$15", "more"]), ("a +b", 3, ["a +", "b"]),
    ("half+15+hopper", 8, ["half+15+", "hopper"]),
    ("half+15+hopper", 6, ["half+", "15+", "hopper"]),
])
def test_a_sign_stays_with_its_number(text: str, width: int, lines: list[str]) -> None:
    """A plus before a number, as names of variations have it, ends no line; one in the name of a build
    does."""
    assert wrap(text, width) == lines


def asking(variants: Sequence[Variant], *questions: str) -> list[Variant]:
    """Variants each with a question of its own."""
    return [replace(row, case=replace(row.case, question=question))
            for row, question in zip(variants, questions, strict=True)]


def test_cases_of_another_question_are_not_measured_by_that_of_the_base() -> None:
    """The base asks for contract value: 900 of it, at least in bound 950. `cheap` covers as much for less
    cost and comes first of the two; `cover` costs 500, its objective is no contract value, so that its value
    of 2,700 stands there without bound and gap, after the others; `none` has no plan and is last."""
    def valued(cost: float) -> Plan:
        plan = planned(-950, -900, question="value")
        money = replace(plan.money, contract_value_usd=900.0)  # type: ignore[type-var]
        return replace(plan, money=money, outcome=replace(plan.outcome, cost_usd=cost, gap=0.05))

    names = ("base", "none", "cover", "cheap")
    rows = compare(asking([variant(name) for name in names], "value", "value", "cover", "value"),
                   [valued(400), NONE_EXISTS, best(500), valued(300)]).rows
    ordered = in_order(rows, "cost")
    assert [row.name for row in ordered] == ["cheap", "base", "cover", "none"]
    told = {row[0]: row[1:5] for row in answers_table(ordered, "value").rows}
    assert told == {"cheap": (900, 300, 950, 5), "base": (900, 400, 950, 5), "cover": (2700, 500, None, None),
                    "none": (None, None, None, None)}
    text = " ".join(vary_text(compare(asking([variant(name) for name in names], "value", "value", "cover",
                                             "value"), [valued(400), None, best(500), valued(300)]),
                              "case").split())
    assert "The plan of the most contract value is that of 'cheap': 900 USD." in text
    assert "Only contract value is compared here; costs stand above." in text
    assert "Only contract value" not in vary_text(comparison(3), "case")


def test_profit_of_a_case_that_asks_for_none_is_blank() -> None:
    """The base earns 300; the cost of 500 of another question is no loss of 500."""
    rows = compare(asking([variant("base"), variant("cover")], "profit", "cover"),
                   [best(-300, question="profit"), best(500)]).rows
    assert [row[:4] for row in answers_table(in_order(rows, "cost"), "profit").rows] == [
        ("base", 300, -300, 300), ("cover", None, 500, None)]


def test_a_plan_without_trucks_is_no_missing_plan() -> None:
    """A cell whose best plan serves nobody is `none`; one without a plan is `no plan`."""
    rows, plans = two_way(("low", "small", [], True), ("low", "big", ["light+p+s"], True))
    plans[2] = NONE_EXISTS
    (found,) = compare(rows, plans).maps
    assert grid_table(found).rows == (("low", "none", "no plan"),)


def test_the_tables_read_back() -> None:
    """Every CSV and every sheet of the workbook hold the same figures under the same headings, by two readers
    of workbooks; what looks like a formula is text; the same comparison gives the same bytes."""
    found = comparison()
    files = vary_files(found)
    assert list(files) == ["vary.json", "vary.csv", "vary_swaps.csv", "vary_items.csv", "vary_sizes.csv",
                           "vary.xlsx"]
    assert files == vary_files(found)
    rows = list(csv.DictReader(io.StringIO(str(files["vary.csv"]))))
    assert [(row["name"], row["against the base"], float(row["objective [USD]"]), row["trucks: half-ton"])
            for row in rows] == [
        ("base", "base", 1000, "2"), ("'=cmd()", "more", 1100, "2"), ("w" * 100, "more", 1200, "2"),
        ("variation number 3 with a long name of many words", "more", 1300, "2")]
    book = bytes(files["vary.xlsx"])  # type: ignore[arg-type]
    sheets = load_workbook(BytesIO(book))
    assert sheets.sheetnames == ["vary", "vary_swaps", "vary_items", "vary_sizes"]
    told = list(sheets["vary"].values)
    assert list(rows[0]) == list(told[0])
    objective = told[0].index("objective [USD]")
    assert [row[objective] for row in told[1:]] == [1000, 1100, 1200, 1300]
    assert sheets["vary"]["A3"].data_type == "s" and told[2][0] == "=cmd()"
    again = CalamineWorkbook.from_filelike(BytesIO(book)).get_sheet_by_name("vary_sizes").to_python()
    assert again[0][:5] == ["sweep down", "value down", "sweep across", "value across", "name"]
    assert [row[1] for row in again[1:]] == ["1", "2", "3"]


NUMBER = {"type": ["number", "null"]}
WORD = {"type": "string"}
COUNT = {"type": "integer", "minimum": 0}


def obj(**properties: Any) -> dict[str, Any]:
    """Exactly these keys."""
    return {"type": "object", "properties": properties, "required": [*properties],
            "additionalProperties": False}


def rows_of(row: Any) -> dict[str, Any]:
    """A list."""
    return {"type": "array", "items": row}


SIZES = {"type": "object", "additionalProperties": {"type": "integer", "minimum": 1}}
SCHEMA = obj(
    format={"const": "optibuild-vary/1"}, undecided=rows_of(WORD), rounds=COUNT,
    interrupted={"type": "boolean"},
    case=obj(name=WORD, inputs={"type": "object", "additionalProperties": WORD}),
    rows=rows_of(obj(
        name=WORD, changes=rows_of(WORD), at=rows_of({"type": "array", "items": WORD, "minItems": 2,
                                                      "maxItems": 2}),
        question={"enum": ["cover", "value", "profit"]}, stopped=WORD,
        proof={"enum": ["proved best", "within the asked gap", "best found", "none"]},
        objective_usd=NUMBER, cost_usd=NUMBER, bound_usd=NUMBER, gap=NUMBER, capital_usd=NUMBER,
        contract_value_usd=NUMBER, trucks=SIZES, served=COUNT, sites=COUNT, left_out=rows_of(WORD),
        swapped=rows_of(obj(count={"type": "integer", "minimum": 1}, base={"type": ["string", "null"]},
                            here={"type": ["string", "null"]})),
        items=rows_of(obj(id=WORD, table={"enum": ["trucks", "plows", "spreaders", "ballast"]},
                          base_bought=COUNT, here_bought=COUNT, base_owned=COUNT, here_owned=COUNT)),
        tightest={"anyOf": [{"type": "null"}, obj(
            promise={"enum": ["cycle limit", "last round", "deadline"]}, truck_no={"type": "integer"},
            site={"type": ["string", "null"]}, left_min={"type": "number"}, limit_min={"type": "number"})]},
        difference=obj(verdict={"enum": ["base", "less", "more", "equal", "undecided", "no plan",
                                         "base has no plan", "another question"]},
                       from_usd=NUMBER, to_usd=NUMBER),
        plan={"type": ["string", "null"]})),
    maps=rows_of(obj(
        down=WORD, across=WORD, down_values=rows_of(WORD), across_values=rows_of(WORD), sizes=rows_of(WORD),
        cells=rows_of(obj(name=WORD, down=WORD, across=WORD, trucks=SIZES, leading=rows_of(WORD),
                          objective_usd=NUMBER, cost_usd=NUMBER, proof=WORD, decided={"type": "boolean"})))))


def test_the_document_keeps_its_schema() -> None:
    """The JSON holds these keys and no others, of these types, with and without plans, swaps and maps."""
    swap = (Swap(1, None, "x"), Swap(2, "y", "x"))
    found = comparison()
    odd = compare([variant("base"), variant("none"), variant("late")], [best(100), NONE_EXISTS, None])
    items = (ItemChange("x", "plows", 0, 1, 0, 0),)
    rows = tuple(replace(row, swapped=swap, items=items) for row in found.rows)
    assert found.maps[0].cells
    for one in (found, replace(found, rows=rows), odd):
        jsonschema.validate(json.loads(json.dumps(vary_document(one))), SCHEMA)
        assert json.loads(str(vary_files(one)["vary.json"])) == json.loads(json.dumps(vary_document(one)))

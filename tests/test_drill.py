"""A truck of the plan is lost: the least lateness of the others, the best spare, the number of spares."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product
from math import inf, isfinite
from pathlib import Path

import pytest
import small_plan as sp
from click.testing import CliRunner, Result
from drill_cases import CASE, fleet_case, fleet_plan, hand_plan

from optibuild.assumptions import BY_NAME
from optibuild.cli import main
from optibuild.explain import drill
from optibuild.explain.drill import _idle, spares_needed
from optibuild.pipeline import Progress
from optibuild.plan.recheck_roads import Roads, fastest_roads
from optibuild.plan.recheck_service import material_kg, stop_min
from optibuild.plan.recheck_tasks import Task
from optibuild.plan.recheck_trucks import Mounted, mounted
from optibuild.records import Case, Leg, Mount, Plan
from optibuild.records.drill import Drill, LateStop, LostTruck, PartlyServed, Replanned
from optibuild.report import drill_text

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
TABLES = ("drill_trucks", "drill_late", "drill_spares", "drill_withstands", "drill_broken")
LATER = (0, 1, 2, 4, 8, 16, 32)


def hand_drill() -> Drill:
    """The drill of the case worked out by hand."""
    return drill(CASE, hand_plan())


def of_spreader(found: Drill, name: str) -> LostTruck:
    """What the loss of the truck with this spreader leaves."""
    return next(row for row in found.lost if row.build.endswith(f"+{name}"))


def late_by_site(lost: LostTruck) -> dict[str, LateStop]:
    """The late stops by their sites, each of which has one."""
    assert len({row.site for row in lost.left.late}) == len(lost.left.late)
    return {row.site: row for row in lost.left.late}


def without_legs_of(site: str) -> tuple[Leg, ...]:
    """The travel of the hand case without one of its sites."""
    return tuple(leg for leg in CASE.travel if site not in (leg.origin, leg.destination))


# ---- by hand


def test_the_plan_to_drill_is_as_worked_out() -> None:
    """The narrow spreader does q and p in 58 min, the wide one r in 45."""
    loops = {truck.spreader: truck.loop for truck in hand_plan().trucks}
    assert {name: [stop.site for stop in loop.stops] for name, loop in loops.items()} == {
        "narrow": ["q", "p"], "wide": ["r"]}
    assert loops["narrow"].duration_min == pytest.approx(58)
    assert loops["wide"].duration_min == pytest.approx(45)


@pytest.mark.parametrize(("lost", "round_min", "r_late_min", "counted_min"), [
    # wide for all: 10 + 20 + 30 + 30 + 5 = 95; q done at 25, r at 25 + 40 = 65 of 36. Of the steps of
    # 120/32 = 3.75, 95 takes 26: 97.5, three times 37.5 late; 29 takes 8: 30
    ("narrow", 95.0, 29.0, 3 * 37.5 + 30),
    # narrow for all: 4.5 more, 99.5; q at 26.5, r at 26.5 + 10 + 31.5 = 68. 27 steps: 101.25, three times
    # 41.25 late; 32 takes 16 of the steps that deadlines go by: 60. r first would be late by 0.5 (3.75) and
    # q at 68, by 38 (60)
    ("wide", 99.5, 32.0, 3 * 41.25 + 60),
])
def test_one_truck_for_three_sites(lost: str, round_min: float, r_late_min: float,
                                   counted_min: float) -> None:
    """With one truck left every site is late by its loop beyond 60 min, and r by its deadline beside."""
    row = of_spreader(hand_drill(), lost)
    late = late_by_site(row)
    assert set(late) == {"p", "q", "r"} and not row.left.not_served
    for stop in late.values():
        assert (stop.limit_min, stop.every_min) == (60, pytest.approx(round_min))
        assert stop.late_min == pytest.approx(round_min - 60)
        assert stop.deadline_late_min == pytest.approx(r_late_min if stop.site == "r" else 0.0)
    assert row.left.late_min == pytest.approx(3 * (round_min - 60) + r_late_min)
    assert row.left.counted_min == pytest.approx(counted_min)
    assert row.left.proved and row.left.bound_min == pytest.approx(counted_min)


def test_the_wide_spare_repairs_everything_and_the_narrow_one_nearly() -> None:
    """With a second wide truck nothing is late whoever is lost; with a second narrow one r is done at 36.5
    of 36 when the wide one is lost. Prices and years are the truck's and the wide spreader's, worked out in
    `small_plan`."""
    wide, narrow = hand_drill().spares
    assert (wide.build, narrow.build) == ("light+-+wide", "light+-+narrow")
    assert (wide.late_min, wide.not_served, wide.proved) == (0.0, 0, True)
    assert narrow.late_min == pytest.approx(0.5)
    assert wide.price_usd == pytest.approx(10_000 + 928.2)
    truck_year = (9000 * 0.14641 / 0.4641 + 100 + 200) * 0.5
    assert wide.annual_usd == pytest.approx(truck_year + 292.82 + 10)
    assert wide.can_be_had and narrow.can_be_had


def test_spares_in_the_price_of_the_bid() -> None:
    """Two trucks take ceil(0.4) = 1 spare; its year with 12 % overhead and 15 % margin is x 1.12 / 0.85."""
    kept = hand_drill().spare_trucks
    truck_year = (9000 * 0.14641 / 0.4641 + 100 + 200) * 0.5
    assert (kept.required, kept.count, kept.build) == (2, 1, "light+-+wide")
    assert kept.bid_usd == pytest.approx((truck_year + 302.82) * 1.12 / 0.85)


def test_an_idle_owned_item_costs_its_upkeep_and_its_capital_in_the_bid() -> None:
    """A third truck that is owned, worth 4641 over 4 years, would be the spare: no price, 200 x 0.5 a year,
    and 4641 x 0.14641/0.4641 x 0.5 = 732.05 of capital in the bid."""
    case = replace(CASE, trucks=(replace(CASE.trucks[0], owned=3, owned_value_usd=4641,
                                         remaining_life_year=4),))
    kept = drill(case, hand_plan(case)).spare_trucks
    assert kept.price_usd == pytest.approx(928.2)
    assert kept.annual_usd == pytest.approx(100 + 302.82)
    assert kept.bid_usd == pytest.approx((100 + 302.82 + 732.05) * 1.12 / 0.85)


def test_a_spare_whose_items_run_out_is_told_last() -> None:
    """With one wide spreader in the world there is no second: the narrow one is the best to be had."""
    wide, narrow = CASE.spreaders
    case = replace(CASE, spreaders=(replace(wide, available=1), narrow))
    best, other = drill(case, hand_plan(case)).spares
    assert (best.build, best.can_be_had) == ("light+-+narrow", True)
    assert (other.build, other.can_be_had) == ("light+-+wide", False)


def test_a_site_that_nobody_else_can_serve_is_not_served() -> None:
    """The narrow spreader rides on a second kind of truck, too wide for r: the loss of the other truck leaves
    r out, and q and p keep their loop of 58 min."""
    big = replace(CASE.trucks[0], id="big", width_m=2.4, price_usd=2000, resale_usd=0)
    only = tuple((big.id, name, name == "narrow") for name in ("wide", "narrow")) + tuple(
        ("light", name, name == "wide") for name in ("wide", "narrow"))
    sites = tuple(replace(site, most_width_m=2.2) if site.id == "r" else site for site in CASE.sites)
    case = replace(CASE, trucks=(*CASE.trucks, big), sites=sites, mounts=tuple(Mount(*row) for row in only))
    lost = of_spreader(drill(case, hand_plan(case)), "wide")
    assert lost.left.not_served == ("r",)
    assert (lost.left.late, lost.left.late_min, lost.left.proved) == ((), 0.0, True)


def test_the_only_truck_lost_leaves_everything_out() -> None:
    """A plan of one truck without it serves nobody; a spare of its own build repairs that."""
    sites = tuple(replace(site, deice_every_min=180, deadline_min=inf) for site in CASE.sites)
    case = replace(CASE, sites=sites)
    found = drill(case, hand_plan(case))
    (lost,), (spare,) = found.lost, found.spares
    assert lost.left.not_served == ("p", "q", "r")
    assert (spare.not_served, spare.late_min) == (0, 0.0)


def test_trucks_alike_are_drilled_once() -> None:
    """Two trucks with the wide spreader, the only one there is: either lost leaves the same."""
    case = replace(CASE, spreaders=CASE.spreaders[:1])
    (lost,) = drill(case, hand_plan(case)).lost
    assert lost.truck_nos == (1, 2)
    assert lost.left.late_min == pytest.approx(3 * 35 + 29)


@pytest.mark.parametrize(("width_m", "left_out"), [(0.22, ()), (0.216, ("r",))])
def test_site_just_beyond_the_longest_round_is_told_so(width_m: float, left_out: tuple[str, ...]) -> None:
    """Limits of 60 min and no deadline: rounds of up to 120 are looked at. p has a tenth of its lot: 12 kg,
    0.05 min to reload. A spreader of w m goes 250 m/min: 2400/(250 w)/0.8 = 12/w at r, 1.2/w at p. Alone it
    does both in 5 + 7.05 + 1.2/w + 10 + 27.5 + 12/w + 5 + 5 = 59.55 + 13.2/w: 119.55 at 0.22 m, 120.66 at
    0.216 m. Then r is left out, for p is in time: 30.05 - 8 + 1.2/w. The wide one does r in 45."""
    wide, narrow = CASE.spreaders
    sites = tuple(replace(site, deadline_min=inf, area_m2=240 if site.id == "p" else 2400)
                  for site in CASE.sites if site.id != "q")
    case = replace(CASE, sites=sites, travel=without_legs_of("q"),
                   spreaders=(replace(wide, available=1), replace(narrow, spread_width_m=width_m)))
    found = drill(case, hand_plan(case))
    left = of_spreader(found, "wide").left
    assert found.horizon_min == pytest.approx(120.0)
    assert (left.not_served, left.proved) == (left_out, True)
    assert {stop.site for stop in left.late} == (set() if left_out else {"p", "r"})
    said = " ".join(drill_text(found, case, False).split())
    assert "Rounds of up to 120 min were looked at" in said
    assert ("not wholly served within 120 min: r." in said) is bool(left_out)


@pytest.mark.parametrize(("lost", "round_min"), [("narrow", 95.0), ("wide", 99.5)])
def test_works_of_the_last_round_are_late_by_it(lost: str, round_min: float) -> None:
    """The same lots salted in the last round alone, which must be over in 60 min: there is no other round.
    With one narrow spreader in the world, each does some; alone the wide one takes 95 min for all, the narrow
    one 99.5. Each of three sites is late by what is beyond 60, counted by 16 steps of 120/32: 60."""
    wide, narrow = CASE.spreaders
    sites = tuple(replace(site, deice_when="end", deice_every_min=None, end_within_min=60, deadline_min=inf)
                  for site in CASE.sites)
    case = replace(CASE, sites=sites, spreaders=(wide, replace(narrow, available=1)))
    left = of_spreader(drill(case, hand_plan(case)), lost).left
    assert {(row.site, row.limit_min, row.late_min, row.deadline_late_min) for row in left.late} == {
        (site, None, 0.0, 0.0) for site in "pqr"}
    assert [row.end_late_min for row in left.late] == [pytest.approx(round_min - 60)] * 3
    assert (left.late_min, left.counted_min) == (
        pytest.approx(3 * (round_min - 60)), pytest.approx(180.0))
    assert left.proved and not left.not_served


def test_site_partly_served_says_what_is_missing() -> None:
    """p is plowed by a truck that can only plow and salted by one that can only salt. Without the second p is
    not wholly served, and its salting is missing; q, which is salted only, is not served at all."""
    pusher = replace(CASE.trucks[0], id="pusher")
    only = (("light", "blade", False), ("light", "wide", True), ("pusher", "blade", True),
            ("pusher", "wide", False))
    p, q, _ = (replace(site, deadline_min=inf, deice_every_min=120) for site in CASE.sites)
    sites = (replace(p, work="both", split_works=True, plow_every_min=240), q)
    case = replace(CASE, sites=sites, travel=without_legs_of("r"), trucks=(*CASE.trucks, pusher),
                   plows=(sp.PLOW,), ballast=(sp.SANDBAG,),
                   spreaders=CASE.spreaders[:1], mounts=tuple(Mount(*row) for row in only))
    plan = hand_plan(case)
    assert {truck.truck: {(stop.site, stop.work) for stop in truck.loop.stops} for truck in plan.trucks} == {
        "pusher": {("p", "plow")}, "light": {("p", "deice"), ("q", "deice")}}
    found = drill(case, plan)
    left = of_spreader(found, "wide").left
    assert (left.not_served, left.partly) == (("p", "q"), (PartlyServed("p", "deice", 1, 1),))
    assert "p (deicing missing), q." in " ".join(drill_text(found, case, False).split())


def test_spare_beyond_what_is_left_of_the_budget_is_told() -> None:
    """The plan takes two trucks of 10,000 and spreaders of 928.20 and 100 USD. A wide spare costs 10,928.20:
    one cent less than that beyond the plan's is not enough, a narrow one of 10,100 is within it."""
    plan_usd, wide_usd = 2 * 10_000 + 928.2 + 100, 10_000 + 928.2
    case = replace(CASE, money=replace(CASE.money, budget_usd=plan_usd + wide_usd - 1))
    found = drill(case, hand_plan(case))
    assert [(row.build, row.can_be_had, row.within_budget) for row in found.spares] == [
        ("light+-+wide", True, False), ("light+-+narrow", True, True)]
    said = " ".join(drill_text(found, case, False).split())
    assert not found.spare_trucks.within_budget and "more than the plan leaves of the budget" in said
    assert hand_drill().spares[0].within_budget


def test_plan_that_leaves_the_spare_idle_carries_the_proof_of_its_search() -> None:
    """A plan without the spare, late by 10 and counted 12, with the fleet's search at 8 to 9 counted: it is
    not proved, and 8 is the bound; where the search proved 12, it is."""
    alone = Replanned((), (), (), 10.0, 12.0, 12.0, True)
    better = Replanned((), (), (), 11.0, 9.0, 8.0, False)
    assert _idle(alone, better) == replace(alone, bound_min=8.0, proved=False)
    assert _idle(alone, replace(better, proved=True)).proved is False
    assert _idle(alone, replace(better, counted_min=12.0, bound_min=12.0, proved=True)).proved


def test_drill_that_the_user_ends_tells_nothing() -> None:
    """Ctrl-C at the first step of a search ends the drill, and no other search begins."""
    begun = []

    def end(at: Progress) -> None:
        begun.append(at)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drill(CASE, hand_plan(), end)
    assert len(begun) == 1


def test_no_reserve_is_asked_of_the_others() -> None:
    """A plan with 2 min in reserve (58 + 2 = 60 still fits) is late by the same minutes: a reserve is for
    such days."""
    case = replace(CASE, solve=replace(CASE.solve, reserve_min=2))
    lost = of_spreader(drill(case, hand_plan(case)), "wide")
    assert lost.left.late_min == pytest.approx(3 * 39.5 + 32)


# ---- how many spares


@pytest.mark.parametrize(("required", "spares"), [(100, 20), (110, 22), (7, 2), (1, 1), (5, 1), (6, 2)])
def test_spares_are_a_share_of_the_trucks_required(required: int, spares: int) -> None:
    """20 % of vehicles required at peak, rounded up, at least 1: 100 take 20 and 110 take 22 (FTA Circular
    9030.1; FTA's published answers on the spare ratio); 7 take ceil(1.4) = 2."""
    assert spares_needed(0.20, required) == spares


def test_the_base_is_not_the_whole_fleet() -> None:
    """100 required and 20 spare are a ratio of 20/100, not of 20/120: a fleet of 120 required takes 24."""
    assert spares_needed(20 / 100, 100) == 20
    assert spares_needed(20 / 100, 120) == 24


def test_the_share_is_an_assumption() -> None:
    """It stands in the table of assumptions with its default, and another one counts: 60 % of 2 are 2."""
    assert BY_NAME["spare_share"].default == "20 %"
    case = replace(CASE, assumptions=replace(CASE.assumptions, spare_share=0.6))
    assert drill(case, hand_plan(CASE)).spare_trucks.count == 2


# ---- by enumeration


def clocks_of(case: Case) -> tuple[list[float], float]:
    """The clocks a loop may hold in a drill, by the description: the case's limits and grid, and of 32 steps
    up to twice the longest promise those beyond the shortest limit."""
    asked = {limit for site in case.sites for limit in site.cycle_limits_min}
    limits = [site.cycle_limit_min for site in case.sites]
    promised = [*limits, *(site.deadline_min for site in case.sites if isfinite(site.deadline_min))]
    step = 2 * max(promised) / 32
    grid = [60.0 * n for n in range(1, int(max(asked) / 60) + 1)]
    return sorted({*asked, *grid, *(step * n for n in range(1, 33) if step * n > min(limits))}), step


def orders(sites: tuple[int, ...]) -> Iterator[tuple[tuple[int, ...], tuple[bool, ...]]]:
    """Every order of some sites with every choice of reloads between them."""
    for order in permutations(sites):
        for reloads in product((False, True), repeat=max(0, len(order) - 1)):
            yield order, (False, *reloads)


def late_of(case: Case, unit: Mounted, sites: tuple[int, ...], roads: Roads) -> float:
    """The least lateness, as counted, of one truck that serves these sites: every clock, order and reload;
    inf where it cannot. Minutes by the recheck's own formulas, in snow of the whole clock."""
    clocks, step = clocks_of(case)
    depot, best = unit.depot, inf
    for clock in clocks if sites else []:
        rows = {n: case.sites[n] for n in sites}
        jobs = {n: Task(unit, site, 1.0, clock, site.plowed, site.deiced) for n, site in rows.items()}
        minutes = {n: stop_min(job, case) for n, job in jobs.items()}
        load = {n: material_kg(job, case.storm.pavement_degc, case) if unit.spreader or not site.deiced
                else inf for (n, job), site in zip(jobs.items(), rows.values(), strict=True)}
        for order, reloads in orders(sites):
            now, held, here, late = 0.0, 0.0, depot.id, 0.0
            for n, reload in zip(order, reloads, strict=True):
                site = rows[n]
                if reload:
                    now += roads[here, depot.id].minutes + depot.reload_time_min
                    held, here = 0.0, depot.id
                now += roads[here, site.id].minutes + minutes[n]
                held, here = held + load[n], site.id
                if held > unit.planned.rated_fill_kg * (1 + 1e-9):
                    now = inf
                over = now - site.deadline_min
                late += max(0.0, clock - min(site.cycle_limits_min)) + next(
                    (step * k for k in LATER if over <= step * k + 1e-6), inf)
            now += roads[here, depot.id].minutes
            now += depot.reload_time_min if sum(load.values()) > 0 else 0.0
            if now <= clock + 1e-6:
                best = min(best, late)
    return best if sites else 0.0


def least_late(case: Case, units: list[Mounted]) -> tuple[int, float]:
    """Fewest sites left out and the least late: every way to give the sites to the trucks or to nobody."""
    roads = fastest_roads(case, {row.id for row in (*case.sites, *case.depots)})
    known: dict[tuple[int, tuple[int, ...]], float] = {}
    best = (len(case.sites) + 1, inf)
    for given in product(range(len(units) + 1), repeat=len(case.sites)):
        total = 0.0
        for k, unit in enumerate(units):
            sites = tuple(n for n, who in enumerate(given) if who == k)
            if (k, sites) not in known:
                known[k, sites] = late_of(case, unit, sites, roads)
            total += known[k, sites]
        if isfinite(total):
            best = min(best, (given.count(len(units)), round(total, 6)))
    return best


def several(seeds: range) -> list[int]:
    """The seeds whose plans have two trucks or more."""
    return [seed for seed in seeds if fleet_plan(seed) is not None]


def test_least_lateness_is_that_of_every_assignment() -> None:
    """On seeded cases of four sites and two trucks or more, each lost truck leaves as many sites out and as
    much late, as the search counts it, as the best of all assignments, orders, reloads and clocks."""
    drilled, late, left_out = 0, 0, 0
    for seed in several(range(12)):
        case, plan = fleet_case(seed), fleet_plan(seed)
        assert plan is not None
        for lost in drill(case, plan).lost:
            rest = [unit for unit in mounted(plan, case) if unit.planned.truck_no != lost.truck_nos[0]]
            assert lost.left.proved
            found = (len(lost.left.not_served), lost.left.counted_min)
            assert found == pytest.approx(least_late(case, rest), abs=0.01)
            assert lost.left.late_min <= lost.left.counted_min + 1e-6
            drilled, late = drilled + 1, late + bool(lost.left.late)
            left_out += bool(lost.left.not_served)
    assert drilled >= 8 and late >= 3 and left_out >= 3


# ---- the command


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the small case and its plan."""
    home = tmp_path_factory.mktemp("made")
    shutil.copytree(SMALL, home / "case")
    assert run("plan", home / "case", "--out", home / "plan").exit_code == 0
    return home


def test_screen_is_at_most_80_wide_and_says_what_is_proved(made: Path) -> None:
    """Every part is printed, no line is longer than 80, and nothing goes to standard error."""
    done = run("drill", made / "plan", "--spares")
    assert done.exit_code == 0 and done.stderr == ""
    for head in ("Drill: small", "One truck lost", "One spare truck, over all losses",
                 "Spare trucks to keep", "What the plan withstands"):
        assert head in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "They add" in done.stdout and "They add" not in run("drill", made / "plan").stdout


def test_hand_screen_tells_the_minutes() -> None:
    """The screen of the hand case has the minutes worked out above."""
    text = " ".join(drill_text(hand_drill(), CASE, True).split())
    assert "3 sites are then late, 150.5 min in all. Of 2 trucks, 0 can be lost" in text
    assert "at least" not in text.split("Spare trucks to keep")[0]
    assert "20 % of the 2 trucks required" in text


def test_files_and_document(made: Path, tmp_path: Path) -> None:
    """--out writes JSON, a CSV for each table and a workbook; --json prints the same tree as drill.json."""
    done = run("drill", made / "plan", "--json", "--out", tmp_path / "out")
    assert done.exit_code == 0
    written = {path.name for path in (tmp_path / "out").iterdir()}
    assert written == {"drill.json", "drill.xlsx", *(f"{name}.csv" for name in TABLES)}
    tree = json.loads(done.stdout)
    assert tree == json.loads((tmp_path / "out" / "drill.json").read_text(encoding="utf-8"))
    assert tree["format"] == "optibuild-drill/1"
    plan = json.loads((made / "plan" / "plan.json").read_text(encoding="utf-8"))
    of = tree["of_plan"]
    assert (of["case"], of["outcome"], of["version"]) == (plan["case"], plan["outcome"], plan["version"])
    assert {row["change"] for row in tree["endurance"]} == {
        "snowfall rate", "snow density", "travel speed", "catalog weights"}


def test_foreign_files_are_left_alone(made: Path, tmp_path: Path) -> None:
    """A drill_late.csv that is not ours is not written over: exit 2."""
    (tmp_path / "drill_late.csv").write_text("mine", encoding="utf-8")
    assert run("drill", made / "plan", "--out", tmp_path).exit_code == 2
    assert (tmp_path / "drill_late.csv").read_text(encoding="utf-8") == "mine"


def test_a_plan_that_fails_its_recheck_is_not_drilled(made: Path, tmp_path: Path) -> None:
    """A loop said to be a minute shorter than it is: exit 6."""
    folder = shutil.copytree(made / "plan", tmp_path / "plan")
    tree = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    tree["trucks"][0]["loop"]["duration_min"] -= 1
    (folder / "plan.json").write_text(json.dumps(tree), encoding="utf-8")
    assert run("drill", folder).exit_code == 6


def test_a_plan_without_trucks_is_not_drilled(tmp_path: Path) -> None:
    """A case that has no plan: exit 2, and the reason."""
    shutil.copytree(SMALL, tmp_path / "case")
    with (tmp_path / "case" / "case.toml").open("a", encoding="utf-8") as case:
        case.write("\n[fit]\nmin_front_share = \"95 %\"\n")
    assert run("plan", tmp_path / "case", "--out", tmp_path / "plan").exit_code == 4
    done = run("drill", tmp_path / "plan")
    assert done.exit_code == 2 and "no trucks" in done.stderr


def test_same_text_in_two_processes(made: Path) -> None:
    """Two processes with other hash seeds print the same bytes."""
    def text(seed: str) -> bytes:
        done = subprocess.run([sys.executable, "-m", "optibuild", "drill", str(made / "plan"), "--spares"],
                              capture_output=True, timeout=300, cwd=ROOT,
                              env={**os.environ, "PYTHONHASHSEED": seed})
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert text("1") == text("2")


def test_drill_needs_trucks() -> None:
    """A plan without trucks is refused by the function, too."""
    empty: Plan = replace(hand_plan(), trucks=())
    with pytest.raises(ValueError, match="no trucks"):
        drill(CASE, empty)

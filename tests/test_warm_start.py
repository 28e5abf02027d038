"""An earlier plan as a start: which of its loops are still possible, and what the search makes of them."""

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import end_plan as ep
import pytest
import small_plan as sp
from click.testing import CliRunner, Result
from towns import town

from optibuild import pipeline
from optibuild.cli import main
from optibuild.inputs import read_case
from optibuild.records import Case, ChosenLoop, Plan, PlannedBallast

SMALL = Path(__file__).parent / "data" / "small"
# fit has the truck carry one bag, so these plans do; no minute of theirs depends on it
BAG = (PlannedBallast("sandbag", 1, 40),)
PLAN = replace(sp.PLAN, trucks=tuple(replace(truck, ballast=BAG) for truck in sp.PLAN.trucks))
END_PLAN = replace(ep.PLAN, trucks=(replace(ep.PLAN.trucks[0], ballast=BAG),))
CASE = sp.case_site(0, parcels=2)
LOT_A = CASE.sites[0]


def again(case: Case, plan: Plan) -> tuple[pipeline.Stages, list[list[ChosenLoop]]]:
    """The stages of a case, and the loops that each truck of an earlier plan may be there."""
    made = pipeline.stages(case)
    return made, [list(loops) for loops in pipeline.earlier_loops(made, plan)]


def told(made: pipeline.Stages, loop: ChosenLoop) -> list[tuple[str, int, bool]]:
    """Site, parcels and reload before each stop of a loop."""
    stops = [made.times.stops[s] for s in loop.stops]
    return [(made.case.sites[stop.site].id, stop.parcels, reload)
            for stop, reload in zip(stops, loop.reload_before, strict=True)]


def lot_a(**changes: Any) -> Case:
    """The case worked out by hand with its lot a changed."""
    return replace(CASE, sites=(replace(LOT_A, **changes), *CASE.sites[1:]))


def without(case: Case, gone: str) -> Case:
    """The case without a site and the ways to it."""
    return replace(case, sites=tuple(site for site in case.sites if site.id != gone),
                   travel=tuple(leg for leg in case.travel if gone not in (leg.origin, leg.destination)))


def sites(**changes: Any) -> Case:
    """The case worked out by hand with all its sites changed."""
    return replace(CASE, sites=tuple(replace(site, **changes) for site in CASE.sites))


def test_nothing_changed_keeps_every_loop_as_it_was() -> None:
    """In the case worked out by hand both loops are kept, with their clocks, stops and reloads, and last the
    34 and 79 min worked out there; the second would be over sooner without its reload. A loop of two trucks
    is told twice."""
    made, found = again(CASE, PLAN)
    ((one,), (two,)) = found
    assert [made.times.clocks_min[loop.clock] for loop in (one, two)] == [60, 90]
    assert told(made, one) == [("a", 1, False)]
    assert told(made, two) == [("b", 1, False), ("a", 1, True)]
    columns = pipeline.measured(made.problem, [one, two, one])
    assert [column.duration_min for column in columns] == pytest.approx([34, 79, 34])


@pytest.mark.parametrize(("deadline_min", "reloads"), [(70, [False, True]), (69, [False, False]), (64, None)])
def test_reloads_are_kept_while_they_break_nothing(deadline_min: float, reloads: list[bool] | None) -> None:
    """The second truck leaves lot a after 70 min, by hand 6 + 28 + 6 + 5 + 4 + 21; without the reload it goes
    the shortest way, by the yard, and leaves after 65. A deadline between these costs it the reload, one
    below them the loop; the first truck leaves after 25 and is kept."""
    _, (one, two) = again(lot_a(deadline_min=deadline_min), PLAN)
    assert len(one) == 1
    assert [list(loop.reload_before) for loop in two] == ([] if reloads is None else [reloads])


def test_a_clock_that_is_gone_gives_way_to_the_longest() -> None:
    """With limits of 100 min and steps of 50 there are neither 60 nor 90 any more. The loop of 34 min could
    ride in both clocks and takes the longer. The other has only that one: lot b's 25 min of carrying snow are
    25 x 100/90 at the most there, some 83 min in all and 10 in reserve."""
    case = replace(sites(plow_every_min=100, deice_every_min=100),
                   assumptions=replace(CASE.assumptions, tau_step_min=50))
    made, (one, two) = again(case, PLAN)
    assert made.times.clocks_min.tolist() == [50, 100]
    assert [made.times.clocks_min[loop.clock] for loop in (*one, *two)] == [100, 100]


def test_a_loop_longer_than_its_limit_is_left_out() -> None:
    """With lot a back within 60 min, less 10 in reserve, the loop of 34 min remains. The other takes more
    than 50 without any snow at lot b: driving 20, two reloads 10, arriving 3 + 3 and 18 at work at lot a."""
    _, (one, two) = again(lot_a(plow_every_min=60, deice_every_min=60), PLAN)
    assert (len(one), len(two)) == (1, 0)


def test_a_loop_keeps_the_stops_that_are_still_there() -> None:
    """Without lot b its loop is lot a alone, without the reload on the way: the first truck's loop at 90 min,
    which is as long at any limit (34 min: lot a's snow goes to the side)."""
    made, (one, two) = again(without(CASE, "b"), PLAN)
    assert told(made, one[0]) == told(made, two[0]) == [("a", 1, False)]
    assert made.times.clocks_min[two[0].clock] == 90
    assert pipeline.measured(made.problem, two)[0].duration_min == pytest.approx(34)


def test_a_loop_without_any_stop_left_is_left_out() -> None:
    """Without lot a the first truck has nothing to do, and the second has lot b."""
    made, (one, two) = again(without(CASE, "a"), PLAN)
    assert one == []
    assert told(made, two[0]) == [("b", 1, False)]


@pytest.mark.parametrize(("cut", "parcels"), [(4, 2), (3, 2), (1, 1)])
def test_a_stop_keeps_its_share_of_a_site(cut: int, parcels: int) -> None:
    """One of two parcels is two of four; two of three and one of one, where that share has to be rounded up.
    Such a share is more work, so limits are eased here."""
    case = lot_a(parcels=cut, deadline_min=400, plow_every_min=400, deice_every_min=400)
    made, (one, _) = again(case, PLAN)
    assert told(made, one[0]) == [("a", parcels, False)]


@pytest.mark.parametrize("gone", ["trucks", "plows", "spreaders", "ballast", "depots"])
def test_a_build_that_is_gone_takes_its_loops_along(gone: str) -> None:
    """Where a truck, plow, spreader, kit or depot of that id is no more, no loop is left; the case has others
    that would do."""
    travel = tuple(replace(leg, origin=leg.origin.replace("yard", "new"),
                           destination=leg.destination.replace("yard", "new")) for leg in CASE.travel)
    renamed = replace(CASE, travel=travel if gone == "depots" else CASE.travel,
                      **{gone: tuple(replace(row, id="new") for row in getattr(CASE, gone))})
    made, found = again(renamed, PLAN)
    assert found == [[], []]
    assert made.times.possible().any()


def test_another_number_of_bags_is_another_build() -> None:
    """Fit has the truck carry one bag; the plan as worked out by hand, with two, is of other builds."""
    assert again(CASE, sp.PLAN)[1] == [[], []]


def test_another_kit_is_another_build() -> None:
    """Where there is a second kit with bags of the same kind, only the plan's own is taken."""
    case = replace(CASE, ballast=(replace(sp.SANDBAG, id="spare"), sp.SANDBAG))
    made, (one, two) = again(case, PLAN)
    for loop in (*one, *two):
        build = made.times.build[loop.crewed]
        assert case.ballast[made.builds.kit[build]].id == "sandbag"
    assert (len(one), len(two)) == (1, 1)


def test_the_last_round_has_its_own_reloads() -> None:
    """Where deicing waits for the last round, the loop worked out by hand comes back with the reload before
    lot c in that round only, and with its 65 and 93.5 min. Without lot c the last round needs none: 4 + 21
    + 9 + 28 + 6 + 5 = 73 min."""
    made, ((loop,),) = again(ep.CASE, END_PLAN)
    assert (loop.reload_before, loop.end_reload_before) == ((False,) * 3, (False, True, False))
    (column,) = pipeline.measured(made.problem, [loop])
    assert (column.duration_min, column.end_duration_min) == pytest.approx((65, 93.5))
    made, ((loop,),) = again(without(ep.CASE, "c"), END_PLAN)
    (column,) = pipeline.measured(made.problem, [loop])
    assert (column.duration_min, column.end_duration_min) == pytest.approx((65, 73))


@pytest.mark.parametrize(("rate", "reload", "minutes"), [(0.3, False, 86.5), (0.33, True, 94.25)])
def test_a_loop_reloads_where_its_fill_has_become_too_small(rate: float, reload: bool,
                                                            minutes: float) -> None:
    """The same loop without a reload on its way: 120 + 300 of salt are within the 445 of its fill (straight
    from lot a to lot c takes 5 min where 4 + 5 + 3 went by the yard: 93.5 - 7 = 86.5 min). At a tenth more
    for lot c, 120 + 330 are not: it reloads before lot c, whose stop takes 3 + 6.875 + 1.375 min, 0.75 more
    than the 10.5 it took."""
    stops = tuple(replace(stop, end_reload_before=False) for stop in ep.LOOP.stops)
    truck = replace(END_PLAN.trucks[0], loop=replace(ep.LOOP, stops=stops))
    made, ((loop,),) = again(ep.case_site(2, deice_rate_kg_per_m2=rate), replace(END_PLAN, trucks=(truck,)))
    assert loop.end_reload_before == (False, reload, False)
    assert pipeline.measured(made.problem, [loop])[0].end_duration_min == pytest.approx(minutes)


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def outcome(folder: Path) -> dict[str, Any]:
    """The outcome in a written plan."""
    tree: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["outcome"]
    return tree


def edited(folder: Path, edits: list[tuple[str, str, str]]) -> Path:
    """A case with edits: (file, pattern, new text)."""
    for file, pattern, new in edits:
        text, count = re.subn(pattern, new, (folder / file).read_text(encoding="utf-8"), count=1)
        assert count == 1
        (folder / file).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def small(tmp_path: Path) -> Callable[..., Path]:
    """Makes a copy of the small case under a name, with edits."""
    def copy(name: str, *edits: tuple[str, str, str]) -> Path:
        shutil.copytree(SMALL, tmp_path / name)
        return edited(tmp_path / name, list(edits))
    return copy


NOTE = "{} of {} loops of the earlier plan are still possible and were given to the search."


@pytest.mark.parametrize(("question", "edits"), [
    ("cover", []), ("value", [("case.toml", r"\[money\]\n", '[money]\nbudget = "60000 USD"\n')]),
    ("profit", [])])
def test_any_question_may_begin_with_an_earlier_plan(question: str, edits: list[tuple[str, str, str]],
                                                     small: Callable[..., Path], tmp_path: Path) -> None:
    """A plan of the small case, two loops of half-tons, starts each of the three questions: the answer costs
    what it costs without a start, and the note counts the loops. The folder may be the plan's own."""
    before, plain = tmp_path / "before", tmp_path / "plain"
    assert run("plan", small("first"), "--out", before).exit_code == 0
    case = small("second", ("case.toml", '"cover"', f'"{question}"'), *edits)
    assert run("plan", case, "--out", plain).exit_code == 0
    done = run("plan", case, "--out", before, "--start", before)
    assert done.exit_code == 0, done.output
    assert NOTE.format(2, 2) in " ".join(done.stderr.split())
    for figure in ("objective_usd", "cost_usd"):
        assert outcome(before)[figure] == pytest.approx(outcome(plain)[figure], rel=1e-6)
    assert outcome(before)["proof"] == outcome(plain)["proof"] == "proved best"


def test_the_note_counts_what_is_still_possible(small: Callable[..., Path], tmp_path: Path) -> None:
    """The loop with the spreader serves clinic and school; without that spreader it is gone, and the other
    one stays. An earlier plan that is none has no loops."""
    out = tmp_path / "plan"
    assert run("plan", small("first"), "--out", out).exit_code == 0
    case = small("second", ("spreaders.csv", r"(?m)^tg,.*\n", ""))
    done = run("plan", case, "--out", out, "--start", out)
    assert NOTE.format(1, 2) in " ".join(done.stderr.split())
    none = small("third", ("case.toml", r"\[money\]\n", '[money]\nbudget = "40000 USD"\n'))
    assert run("plan", none, "--out", out).exit_code == 4
    done = run("plan", case, "--out", tmp_path / "other", "--start", out, "--json")
    assert NOTE.format(0, 0) in " ".join(done.stderr.split())
    assert json.loads(done.stdout)["trucks"]


@pytest.mark.parametrize(("text", "words"), [
    (None, "cannot be read"), (b"{", "not readable as JSON"), (b'{"format": "other/1"}', "the format"),
    (b"\xff\xfe", "not UTF-8"), (b'{"format": "optibuild-plan/1"}', "lacks"),
])
def test_a_start_that_is_no_plan_ends_with_2(text: bytes | None, words: str, tmp_path: Path) -> None:
    """A folder without a plan, with a broken one, or with something else ends the command before the search,
    naming the file; nothing is written."""
    start = tmp_path / "start"
    start.mkdir()
    if text is not None:
        (start / "plan.json").write_bytes(text)
    done = run("plan", SMALL, "--out", tmp_path / "plan", "--start", start)
    assert done.exit_code == 2
    said = "".join(done.stderr.split())
    assert "".join(str(start / "plan.json").split()) in said and words.replace(" ", "") in said
    assert [entry.name for entry in tmp_path.iterdir()] == ["start"]


def test_the_optimum_is_the_same_where_the_case_has_changed(tmp_path: Path) -> None:
    """A town of 12 sites, then two sites fewer, a truck fewer that the plan used, and a plow dearer: with and
    without the earlier plan the search proves the same cost."""
    case = town(tmp_path / "case", 12)
    earlier = pipeline.make_plan(read_case(case))
    used = earlier.trucks[0].truck
    edited(case, [("sites.csv", r"(?m)^s0003,.*\n", ""), ("sites.csv", r"(?m)^s0007,.*\n", ""),
                  ("trucks.csv", rf"(?m)^{used},.*\n", "")])
    changed = read_case(case)
    dearer = earlier.trucks[-1].plow
    changed = replace(changed, plows=tuple(
        replace(plow, price_usd=1.2 * plow.price_usd) if plow.id == dearer else plow
        for plow in changed.plows))
    begun, plain = (pipeline.make_plan(changed, None, start) for start in (earlier, None))
    kept = sum(map(bool, pipeline.earlier_loops(pipeline.stages(changed), earlier)))
    assert 0 < kept < len(earlier.trucks)
    assert begun.outcome.proof == plain.outcome.proof == "proved best"
    assert begun.outcome.objective_usd == pytest.approx(plain.outcome.objective_usd, rel=2e-6)


def test_a_search_cut_short_is_no_dearer_than_its_start(tmp_path: Path) -> None:
    """In a town of 25 sites a twentieth of a second proves nothing and finds a dear plan; begun with the
    plan of a longer search, it has that one at least."""
    case = read_case(town(tmp_path / "case", 25, gap="0.02"))
    earlier = pipeline.make_plan(case)
    hasty = replace(case, solve=replace(case.solve, time_limit_s=0.05))
    plain, begun = (pipeline.make_plan(hasty, None, start) for start in (None, earlier))
    assert plain.outcome.stopped == begun.outcome.stopped == "time limit"
    assert plain.outcome.cost_usd > 1.05 * earlier.outcome.cost_usd
    assert begun.outcome.cost_usd <= earlier.outcome.cost_usd * (1 + 1e-9)

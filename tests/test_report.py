"""Screens and CSV tables: the numbers are those of the records, and every line fits 80 columns."""

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import end_plan as ep
import pytest
import small_plan as sp
from click.testing import CliRunner

from optibuild import Case, Plan
from optibuild.cli import main
from optibuild.plan import recheck
from optibuild.records.loop import WorkingRate
from optibuild.report import depths_text, plan_text
from optibuild.report.console import display_width, layout, number, paragraph, wrap
from optibuild.report.csv_tables import plan_csv_files
from optibuild.report.tables import Column, Table

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
US = replace(sp.CASE, units="us")
CHECKED = replace(sp.PLAN, recheck=recheck(sp.PLAN, sp.CASE))


def rows_of(text: str) -> list[dict[str, str]]:
    """A CSV text as rows by heading."""
    return list(csv.DictReader(io.StringIO(text)))


def screen(plan: Plan = CHECKED, case: Case = sp.CASE) -> str:
    """The plan's screen with its blanks squeezed."""
    return " ".join(plan_text(plan, case).split())


def test_answer_lines_are_the_plan_s_money() -> None:
    """What is bought costs 10,000 + 2 x 4,641 + 928.2 = 20,210 of a budget of 21,000; owning and season sum
    to the cost; the gap asked was reached at 1 %."""
    shown = screen()
    assert "Buy 1 truck (1 half-ton), 2 plows, 1 spreader: 20,210 USD of a budget of 21,000 USD" in shown
    assert "and use what is owned: 1 truck (1 half-ton), 1 spreader, 4 ballast units" in shown
    assert f"Cost {round(sp.COST_USD):,} USD a season: owning {round(sp.OWNING_USD):,} + work " in shown
    assert "within the asked gap" in shown and "gap 1.00 %" in shown


def test_loop_table_shows_the_clock() -> None:
    """Truck 2 is at lot b from 6 to 34, reloads, is at lot a from 49 to 70 and ready at 79 of 90 min."""
    shown = screen()
    assert "79.0 of 90 min; driving 20.0 min over 11.2 km, 2 reloads" in shown
    assert "b plow 1 of 1 6.0 34.0 - -" in shown
    assert "reload at yard" in shown
    assert "a both 1 of 2 49.0 70.0 80 120" in shown
    assert "yard, reloaded - - - 79.0" in shown


def test_truck_table_shows_fill_and_slack() -> None:
    """Truck 1 has two bags, a rated fill of 400 kg and 60 - 34 = 26 min of slack."""
    assert "1 light+blade+hopper 2 sandbag 400 yard 34.0 60 26.0 1" in screen()


END_ONLY = ep.with_loop(cycle_limit_min=60, duration_min=0, stops=tuple(
    replace(stop, arrive_min=None, leave_min=None) for stop in ep.LOOP.stops))


@pytest.mark.parametrize(("plan", "told"), [
    (ep.PLAN, "93.5 105 11.5"), (ep.with_end_round(within_min=200), "65.0 90 25.0"),
    (END_ONLY, "93.5 105 11.5")], ids=["the last round", "the rounds before", "the last round only"])
def test_truck_table_shows_the_round_with_least_slack(plan: Plan, told: str) -> None:
    """90 - 65 = 25 min are left of the cycle limit and 105 - 93.5 = 11.5 min of the last round's time: the
    lesser is told with its own loop and limit; of a loop that the last round alone drives, that round's."""
    assert f"1 light+blade+hopper 2 sandbag 400 yard {told} 3" in screen(plan, ep.CASE)


def test_margins_tell_what_is_left_to_the_last_round() -> None:
    """With 10 min in reserve 105 - 93.5 - 10 = 1.5 min are left to the end round; a plan without one has no
    such line."""
    shown = screen(replace(ep.PLAN, recheck=recheck(ep.PLAN, ep.CASE)), ep.CASE)
    assert "end round within its time kept 1.5 min" in shown
    assert "end round" not in screen()


@pytest.mark.parametrize(("case", "words", "column", "rate"), [
    (sp.CASE, "hectares an hour at a (0.48 ha)", "[ha/h]", "0.40"),
    (US, "acres an hour at a (1.19 acre)", "[acre/h]", "0.99")], ids=["si", "us"])
def test_depths_are_told_in_whole_words(case: Case, words: str, column: str, rate: str) -> None:
    """The sentence spells areas out and the columns keep the unit: lot a has 4800 m^2, 0.48 ha or
    4800 / 4046.86 = 1.19 acre, and 4000 m^2/h are 0.40 ha/h or 0.99 acre/h."""
    text = depths_text(case, 0, [WorkingRate("blade", "light", (4000.0,) * 4, (4000.0,) * 4)])
    shown = " ".join(text.split())
    assert words in shown and column in shown and rate in shown
    assert max(map(display_width, text.splitlines())) <= 80


def test_us_cases_show_pounds_and_miles() -> None:
    """400 kg are 400 / 0.45359237 = 881.8 lb, 11.2 km are 11,200 / 1609.344 = 6.96 mi."""
    shown = screen(case=US)
    assert "2 sandbag 882 yard" in shown
    assert "over 7.0 mi" in shown


def test_sites_left_out_are_named() -> None:
    """Lot c is left out and named with the 500 USD a season that it would pay; served lots are not."""
    head = r"Sites left out -+ would pay for site name \[USD\] each "
    assert re.search(head + "(-+ ){4}c Lot c 500 season Items", screen())


def test_margins_and_cautions_are_told() -> None:
    """The least margins of the recheck and every caution of the plan are on the screen."""
    shown = screen()
    checks = CHECKED.recheck.checks  # type: ignore[union-attr]
    apply = sum(row.worst is not None for row in checks)
    assert 0 < apply < len(checks) and f"all {apply} checks that apply passed" in shown
    assert "- Weigh the truck." in shown


@pytest.mark.parametrize(("question", "words"), [
    ("value", "contract value at most 2,700 USD in any such plan"),
    ("profit", "profit at most 2,700 USD in any such plan"),
])
def test_bound_is_told_in_the_terms_of_the_question(question: str, words: str) -> None:
    """What is maximized is minimized with its sign turned; the screen turns it back."""
    plan = sp.with_outcome(bound_usd=-2700.0)
    assert words in screen(replace(plan, case=replace(plan.case, question=question)))


def test_what_is_proved_is_said_once() -> None:
    """A proof within the asked gap ends its line with the gap; where the time ended the search, that and the
    seconds are told."""
    assert "in any such plan, value of sites left out included, gap 1.00 % Trucks" in screen()
    assert "gap 1.00 % (time limit, 1.5 s)" in screen(sp.with_outcome(proof="best found",
                                                                      stopped="time limit"))


def test_parts_of_the_cost_add_up_as_they_are_read() -> None:
    """1000.4 and 2000.4 make 3000.8: read 3,001, owning 1,000 and the rest 2,001, though that alone rounds to
    2,000."""
    plan = sp.with_money(owning_usd=1000.4, season_usd=2000.4)
    assert "3,001 USD a season: owning 1,000 + work 2,001;" in screen(plan)


def test_csv_holds_the_records_in_the_units_of_the_case() -> None:
    """The stops of truck 2 by the clock, masses in kg in a metric case and in lb in a US one."""
    stops = rows_of(plan_csv_files(sp.PLAN, "si")["stops.csv"])
    assert [(row["site"], float(row["arrive [min]"]), float(row["leave [min]"]), row["reload_before"])
            for row in stops if row["truck_no"] == "2"] == [("b", 6, 34, "no"), ("a", 49, 70, "yes")]
    assert float(stops[0]["material [kg]"]) == 120
    pounds = rows_of(plan_csv_files(sp.PLAN, "us")["stops.csv"])
    assert float(pounds[0]["material [lb]"]) == pytest.approx(120 / 0.45359237, abs=1e-3)


def test_csv_has_a_row_for_every_axle_load_and_site() -> None:
    """Two trucks with eight corners each; lot a has two works, lot c, left out, has an empty one."""
    tables = plan_csv_files(sp.PLAN, "si")
    loads = rows_of(tables["axle_loads.csv"])
    assert len(loads) == 16
    assert float(loads[0]["front_margin [kg]"]) == 1750 - 1690
    sites = rows_of(tables["sites.csv"])
    assert [row["site"] for row in sites] == ["a", "a", "b", "c"]
    assert (sites[3]["served"], sites[3]["work"]) == ("no", "")


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_csv_text_is_no_formula(start: str) -> None:
    """An id that a spreadsheet would run gets an apostrophe; numbers, negative ones too, stay numbers."""
    text = plan_csv_files(sp.with_stop(1, 0, site=f"{start}1+1"), "si")["stops.csv"]
    assert rows_of(text)[0]["site"] == f"'{start}1+1"
    early = plan_csv_files(sp.with_stop(1, 0, arrive_min=-4.0), "si")["stops.csv"]
    assert rows_of(early)[0]["arrive [min]"] == "-4.0"


def test_numbers_have_separators_and_no_negative_zero() -> None:
    """Thousands are separated, rounding leaves no '-0'."""
    assert number(1234567.4, 0) == "1,234,567"
    assert number(-0.04, 1) == "0.0"
    assert number(-0.06, 1) == "-0.1"


def test_text_wraps_after_blanks_and_plus_signs() -> None:
    """A build's name breaks after its plus signs; a word too long for a line breaks anywhere."""
    assert wrap("half+plow+hopper", 10) == ["half+plow+", "hopper"]
    assert wrap("one two", 5) == ["one", "two"]
    assert wrap("abcdef", 4) == ["abcd", "ef"]
    assert paragraph("a + b") == "a + b"


def test_control_characters_never_reach_the_terminal() -> None:
    """An escape sequence in a text is shown as question marks."""
    assert "\x1b" not in paragraph("red \x1b[31m") and "?" in paragraph("red \x1b[31m")
    assert "\x1b" not in layout(Table((Column("a"),), (("x\x1b[2J",),)))


def test_wide_characters_keep_columns_in_line() -> None:
    """A character that takes two columns counts as two."""
    table = Table((Column("site"), Column("n", "", 0)), (("東京", 1.0), ("abcd", 2.0)))
    assert {display_width(line) for line in layout(table).splitlines()} == {7}


LONG = "a-very-long-name-of-more-than-thirty-letters"


@pytest.mark.parametrize("words", [
    ("check", "{}"), ("fit", "{}", "--rejected"), ("fit", "{}", "--explain", f"{LONG}+p75+tg"),
    ("fit", "{}", "--explain", f"{LONG}+p90+hop"), ("fit", "{}", "--near-rating"),
    ("times", "{}"), ("times", "{}", "--site", "clinic"),
    ("times", "{}", "--explain", "clinic", f"{LONG}+p75+tg"), ("plan", "{}", "--out", "{}/plan"),
], ids=" ".join)
def test_every_screen_fits_80_columns(words: tuple[str, ...], tmp_path: Path) -> None:
    """No line is wider than 80 columns, even with an id of 44 letters."""
    for file in SMALL.iterdir():
        text = file.read_text(encoding="utf-8")
        (tmp_path / file.name).write_text(text.replace("\nht,", f"\n{LONG},"), encoding="utf-8")
    done = CliRunner().invoke(main, [word.format(tmp_path) for word in words])
    assert done.exit_code == 0, done.output
    assert max(map(display_width, done.stdout.splitlines())) <= 80


@pytest.mark.parametrize("case", sorted(path.parent.name for path in ROOT.glob("examples/*/case.toml")))
@pytest.mark.parametrize("command", ["fit", "times"])
def test_screens_of_the_examples_fit_80_columns(case: str, command: str) -> None:
    """The examples' screens fit as well."""
    done = CliRunner().invoke(main, [command, str(ROOT / "examples" / case)])
    assert done.exit_code == 0
    assert max(map(display_width, done.stdout.splitlines())) <= 80

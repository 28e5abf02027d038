"""Charts show what the records hold: lengths, places and tables against numbers worked out by hand."""

from dataclasses import replace
from itertools import groupby
from typing import Any

import end_plan
import pytest
import small_plan as sp
from chart_reading import LEFT, WIDE, Box, boxes, lines, record, words

from optibuild.records.bid import Bid, ListBid, PricedContract, Risk, SiteBid, SiteCost
from optibuild.records.comparison import Compared, Comparison, Difference, SizeCell, SizeMap
from optibuild.records.drill import Drill, LateStop, LostTruck, Replanned
from optibuild.records.frontier import Frontier, FrontierStep
from optibuild.report.charts import (
    Chart,
    form_risks,
    frontier_steps,
    loop_bars,
    plan_money,
    site_money,
    site_prices,
    size_map,
    truck_losses,
    truck_money,
    variation_costs,
)
from optibuild.report.tables import Units

NEAR = 0.02
"""Coordinates have two decimals."""
NO_PLAN = replace(sp.PLAN, trucks=(), items=(), sites=(), money=None)


def there(chart: Chart | None) -> Chart:
    """A chart that must be."""
    assert chart is not None
    return chart


def by_row(chart: Chart, part: str) -> list[list[Box]]:
    """A part's boxes, row by row from above."""
    return [list(row) for _, row in groupby(boxes(chart, part), key=lambda box: box.y)]


def close(found: Any, wanted: Any) -> bool:
    """Whether coordinates are the same but for their rounding."""
    return bool(found == pytest.approx(wanted, abs=NEAR))


# ---- loops


def test_loop_bars_are_as_long_as_the_minutes_of_the_loop() -> None:
    """Pieces of both loops have the lengths and places of their minutes on a scale that ends at the limit.

    Truck 2, by hand in small_plan: 6 out, 3 + 25 at b, 6 to the yard, 5 to reload and 4 out (the reload drawn
    half way of the 10 driven), 3.5 + 15 + 2.5 at a, 4 home, 5 to reload. The longest is its limit, 90.
    """
    chart, unit = there(loop_bars(sp.PLAN)), WIDE / 90
    spans = {"drive": [(0, 6), (34, 39), (44, 49), (70, 74)], "reload": [(39, 44), (74, 79)],
             "plow": [(9, 34), (52.5, 67.5)], "deice": [(67.5, 70)], "other": [(6, 9), (49, 52.5)]}
    for part, wanted in spans.items():
        row = by_row(chart, part)[1]
        assert close([box.x for box in row], [LEFT + begin * unit for begin, _ in wanted]), part
        assert close([box.width for box in row], [(end - begin) * unit for begin, end in wanted]), part
        assert [box.value for box in row] == pytest.approx([end - begin for begin, end in wanted]), part


def test_limits_stand_at_their_minutes() -> None:
    """Marks are at the limits 60 and 90, one for each loop, and nowhere else."""
    chart = there(loop_bars(sp.PLAN))
    assert close([line[0][0] for line in lines(chart, "limit")], [LEFT + WIDE * at / 90 for at in (60, 90)])
    assert lines(chart, "deadline") == []


def test_slack_is_written_and_the_least_is_the_title() -> None:
    """Slack is 60 - 34 and 90 - 79 minutes; trucks leave lot a, due at 80, at 25 and at 70. The title names
    the loop with the lesser slack."""
    chart = there(loop_bars(sp.PLAN))
    assert {"truck 1", "slack 26.0 min, 55.0 at a", "truck 2",
            "slack 11.0 min, 10.0 at a"} <= {*words(chart)}
    assert chart.title == "Every truck is back in time; truck 2 has the least slack, 11.0 of 90 min."
    late = there(loop_bars(sp.with_loop(1, cycle_limit_min=33.0)))
    assert late.title == "1 of 2 rounds take longer than they may."
    tardy = there(loop_bars(sp.with_stop(2, 1, deadline_min=67.5)))  # two and a half minutes before it leaves
    assert "slack 11.0 min, 2.5 late at a" in words(tardy)


def test_the_tightest_deadline_is_the_one_with_least_left() -> None:
    """Truck 2 leaves b at 34, a at 70: due at b at 60 it has 26 left there, 10 at a, which is due at 80."""
    chart = there(loop_bars(sp.with_stop(2, 0, deadline_min=60)))
    assert "slack 11.0 min, 10.0 at a" in words(chart)
    assert chart.table.rows[1][-3:] == (10, 80, "a")


def test_loop_table_sums_each_part() -> None:
    """The table has both loops' minutes by part: truck 1 drives 8, reloads 5, plows 15, deices 2.5 of 34;
    and the deadline of 80 min at a, which they leave at 25 and at 70."""
    figures = ((15, 2.5, 8, 5, 3.5, 34, 60, 26, 55, 80), (40, 2.5, 20, 10, 6.5, 79, 90, 11, 10, 80))
    assert there(loop_bars(sp.PLAN)).table.rows == tuple(
        (no, "each", "light+blade+hopper", *map(pytest.approx, row), "a")
        for no, row in enumerate(figures, 1))


def test_last_round_has_a_bar_of_its_own() -> None:
    """Where deicing waits, the plain round has none of it and the last round all, by hand in end_plan.

    Plain: 15 + 25 plowed, 19 driven, 3 + 3 to arrive = 65 of 90. Last: 40 plowed, 2.5 + 6.25 deiced, 24
    driven, 10 reloading, 3.5 + 4.25 + 3 else = 93.5 of 105.
    """
    rows = there(loop_bars(end_plan.PLAN)).table.rows
    assert [row[1] for row in rows] == ["each", "last"]
    plain, last = (40, 0, 19, 0, 6, 65, 90, 25, 58, 80), (40, 8.75, 24, 10, 10.75, 93.5, 105, 11.5)
    assert rows[0][3:] == (*map(pytest.approx, plain), "a")
    assert rows[1][3:] == (*map(pytest.approx, last), *(None,) * 3)


def test_a_picture_shows_thirty_rows_and_the_table_all() -> None:
    """Of 300 loops the 30 with the least slack are drawn, which the title says; the table has all 300."""
    trucks = tuple(replace(sp.PLAN.trucks[0], truck_no=n, loop=replace(sp.LOOP_1, cycle_limit_min=400.0 - n))
                   for n in range(1, 301))
    chart = there(loop_bars(replace(sp.PLAN, trucks=trucks)))
    drawn = {word for word in words(chart) if word.startswith("truck")}
    assert drawn == {f"truck {n}" for n in range(271, 301)}
    assert chart.title.endswith("Shown are the 30 of 300 rounds with the least slack.")
    assert len(chart.table.rows) == 300


# ---- money


def test_money_of_the_plan_is_drawn_by_kind() -> None:
    """Five bars as long as owning, labor 1112, fuel 361.296, wear 96.66 and salt 456; owning the longest."""
    chart = there(plan_money(sp.PLAN))
    values = (sp.OWNING_USD, 1112, 361.296, 96.66, 456)
    unit = WIDE / sp.OWNING_USD
    assert close([box.width for box in boxes(chart, "cost")], [value * unit for value in values])
    assert [row[1] for row in chart.table.rows] == pytest.approx(values)
    assert sum(float(row[2] or 0) for row in chart.table.rows) == pytest.approx(100)


def test_money_of_trucks_is_drawn_by_kind_and_adds_up_to_the_plan() -> None:
    """Truck 1: half of owning, labor 445, fuel 128.8, wear 34, salt 240, laid end to end in this order; truck
    2: 667, 232.496, 62.66, 216. Both together are the plan's cost."""
    half = sp.OWNING_USD / 2
    kinds = ((half, 445, 128.8, 34, 240), (half, 667, 232.496, 62.66, 216))
    chart = there(truck_money(sp.PLAN))
    assert [row[2:] for row in chart.table.rows] == [pytest.approx((*row, sum(row))) for row in kinds]
    assert sum(float(row[-1] or 0) for row in chart.table.rows) == pytest.approx(sp.COST_USD)
    unit = WIDE / (half + 1178.156)
    for place, kind in enumerate(("owning", "labor", "fuel", "wear", "material")):
        found = boxes(chart, kind)
        assert close([box.width for box in found], [row[place] * unit for row in kinds]), kind
        assert close([box.x for box in found], [LEFT + sum(row[:place]) * unit for row in kinds]), kind


def test_money_of_sites_is_drawn_by_kind_with_a_mark_at_what_they_save() -> None:
    """Lots a and b, the dearer first, bear the plan's cost, of which 456 of lot a are salt and lot b has
    none; marks stand at what the plan saves without."""
    chart = there(site_money(sp.PLAN))
    assert [row[1:] for row in chart.table.rows] == [
        pytest.approx((sp.KINDS_A.owning_usd, 445 + 114 + 3 / 7 * 450, 128.8 + 87.6 + 3 / 7 * 62.496,
                       34 + 21.9 + 3 / 7 * 20.16, 456, sp.COST_A, sp.SAVED_A)),
        pytest.approx((sp.KINDS_B.owning_usd, 103 + 4 / 7 * 450, 82.4 + 4 / 7 * 62.496,
                       20.6 + 4 / 7 * 20.16, 0, sp.COST_B, 500))]
    unit = WIDE / sp.COST_A
    assert close([box.width for box in boxes(chart, "material")], [456 * unit])
    assert close([box.x + box.width for box in boxes(chart, "wear")],
                 [LEFT + (sp.COST_A - 456) * unit, LEFT + sp.COST_B * unit])
    marks = lines(chart, "saved without it")
    assert close([mark[0][0] for mark in marks], [LEFT + sp.SAVED_A * unit, LEFT + 500 * unit])


@pytest.mark.parametrize(("many", "drawn", "said"),
                         [(25, 25, None), (30, 30, None), (100, 30, 70), (300, 30, 270)])
def test_a_picture_of_sites_says_how_many_more_the_table_has(many: int, drawn: int, said: int | None) -> None:
    """Of 25, 100 and 300 sites the 30 that are dearest are drawn, those that cost money and those of a bid;
    where some are left out, title and last line say how many and where they are; the table has them all."""
    sites = tuple(replace(sp.PLAN.sites[0], id=f"s{n:03}", by_kind=replace(sp.KINDS_A, owning_usd=9e3 - n))
                  for n in range(many))
    offered = tuple(SiteBid(f"s{n:03}", SiteCost(20, 10, 15, 5), 9e3 - n, (), (), 90, None)
                    for n in range(many))
    bid = record(Bid, sites=offered, whole=record(ListBid, price_usd=1e6))
    for chart in (there(site_money(replace(sp.PLAN, sites=sites))), there(site_prices(bid))):
        names = {word for word in words(chart) if word[0] == "s" and word[1:].isdigit()}
        assert names == {f"s{n:03}" for n in range(drawn)}
        assert len(chart.table.rows) == many
        lines_left = [word for word in words(chart) if word.startswith("and ")]
        assert lines_left == ([] if said is None else [f"and {said} more: in the figures below"])
        assert (f"Shown are the 30 of {many} sites" in chart.title) == (said is not None)


def test_no_chart_where_nothing_is_planned() -> None:
    """Where no plan exists there is no chart of loops or money rather than an empty one."""
    assert [draw(NO_PLAN) for draw in (loop_bars, plan_money, truck_money, site_money)] == [None] * 4


# ---- bids


def a_bid() -> Bid:
    """Two sites, and two forms of contract for the list."""
    risks = (Risk("push", 2, 40.0, 1.0, -60.0, 0.25, None, None),
             Risk("season", 2, 40.0, 1.0, -20.0, 0.1, None, None))
    sites = (SiteBid("b", SiteCost(20, 10, 15, 5), 80, (), (), 90, None),
             SiteBid("a", SiteCost(100, 40, 50, 10), 260, (), (), 300,
                     PricedContract("season", 130, -70, -0.5)))
    return record(Bid, sites=sites, whole=record(ListBid, price_usd=340, risks=risks))


def test_prices_of_sites_are_laid_end_to_end() -> None:
    """Site a: service 100, driving 40, owning 50, owned 10 and so 60 for overhead and profit of a price of
    260; its contract of 130 is marked half way. Site b comes after it."""
    chart, unit = there(site_prices(a_bid())), WIDE / 260
    ends = {"service": (0, 100), "driving and idle": (100, 40), "owning": (140, 50),
            "capital of owned": (190, 10), "overhead and profit": (200, 60)}
    for part, (begin, length) in ends.items():
        first = boxes(chart, part)[0]
        assert close((first.x, first.width), (LEFT + begin * unit, length * unit)), part
    assert close(lines(chart, "contract as it stands")[0][0][0], LEFT + WIDE / 2)
    assert chart.table.rows == (("a", 100, 40, 50, 10, 60, 260, 130), ("b", 20, 10, 15, 5, 30, 80, None))
    assert "is 76 % of that" in chart.title  # 260 of 340


def test_forms_reach_from_the_worst_tenth_to_the_mean() -> None:
    """From -60 to 40 and from -20 to 40 on a scale from -60 to 40; the mildest is named."""
    chart = there(form_risks(a_bid()))
    found = boxes(chart, "worst tenth to mean")
    assert close([box.x for box in found], [LEFT, LEFT + 0.4 * WIDE])
    assert close([box.width for box in found], [WIDE, 0.6 * WIDE])
    assert close([line[0][0] for line in lines(chart, "mean")], [LEFT + WIDE] * 2)
    assert "“season”" in chart.title and "a loss of 20 USD" in chart.title
    assert chart.table.rows[0][:3] == ("push", 2, 40.0)


# ---- drill


def a_drill(*lost: tuple[tuple[int, ...], float, tuple[str, ...], bool]) -> Drill:
    """Trucks lost with minutes late, sites left out, and whether that is proved."""
    stop = record(LateStop, site="b", late_min=1.0, deadline_late_min=0.0, end_late_min=0.0)
    left = [record(Replanned, late=(stop,) if late else (), not_served=missed, partly=(), late_min=late,
                   proved=proved) for _, late, missed, proved in lost]
    return record(Drill, horizon_min=480.0, lost=tuple(
        LostTruck(numbers, "x+y+-", one) for (numbers, *_), one in zip(lost, left, strict=True)))


def test_losses_are_drawn_worst_first() -> None:
    """A site left out is worse than any minutes late; bars are as long as the minutes, unproved ones say
    so."""
    lost = (((1, 2), 40.0, (), True), ((3,), 10.0, ("a",), False), ((4,), 0.0, (), True))
    chart = there(truck_losses(a_drill(*lost)))
    assert close([box.width for box in boxes(chart, "late")], [WIDE / 4, WIDE])
    notes = ["10.0 min, 1 not served (not proved)", "40.0 min", "0.0 min"]
    assert [word for word in words(chart) if " min" in word and "minutes" not in word] == notes
    assert chart.title.startswith("Worst to lose: truck 3. 1 site is then not served within 480 min; 1 is "
                                  "late, 10.0 min in all.")
    assert [row[4:6] for row in chart.table.rows] == [(40.0, 0), (10.0, 1), (0.0, 0)]


def test_losses_without_a_late_minute_are_not_drawn() -> None:
    """Where sites are left out or every promise is kept, but nothing comes late, there is no bar to draw."""
    assert truck_losses(a_drill(((1, 2), 0.0, ("a", "b"), True))) is None
    assert truck_losses(a_drill(((1, 2), 0.0, (), True))) is None
    chart = there(truck_losses(a_drill(((1,), 0.0, ("a",), True), ((2,), 40.0, (), True))))
    notes = [word for word in words(chart) if word.endswith(("served", " min"))]
    assert notes == ["1 not served", "40.0 min"]


# ---- variations


def compared(name: str, objective: float | None, bound: float | None, verdict: str,
             question: str = "cover") -> Compared:
    """A row of a comparison."""
    return record(Compared, name=name, question=question, stopped="time limit", objective_usd=objective,
                  bound_usd=bound, difference=record(Difference, verdict=verdict))


def test_variations_are_drawn_cheapest_first_with_a_line_to_their_bound() -> None:
    """Bars of 80, 100 and 160; lines from the bound to the cost, none where both are one; no bar, but a word,
    without a plan, and none of another question."""
    rows = (compared("base", 100, 90, "base"), compared("dear", 160, 160, "more"),
            compared("cheap", 80, 60, "less"), compared("none", None, None, "no plan"),
            compared("other", -5, -5, "another question", "value"))
    chart = there(variation_costs(Comparison(rows, (), (), 0)))
    assert close([box.width for box in boxes(chart, "cost")], [WIDE / 2, WIDE * 100 / 160, WIDE])
    ends = [at for line in lines(chart, "to what no plan can beat") for at in (line[0][0], line[-1][0])]
    assert close(ends, [LEFT + WIDE * at / 160 for at in (60, 80, 90, 100)])
    assert {"none", "no plan (time limit)"} <= {*words(chart)} and "other" not in words(chart)
    assert chart.table.rows == (("cheap", 80, 60, "less cost"), ("base", 100, 90, "base"),
                                ("dear", 160, 160, "more cost"), ("none", None, None, "no plan"))
    assert "cost 80 USD against 100 USD in the base" in chart.title


def test_what_is_asked_for_most_is_drawn_the_right_way_round() -> None:
    """Contract values of 500 and 600, whose objectives are less than nothing, are bars of 500 and 600."""
    rows = (compared("base", -500, -550, "base", "value"), compared("more", -600, -600, "less", "value"))
    chart = there(variation_costs(Comparison(rows, (), (), 0)))
    assert close([box.width for box in boxes(chart, "contract value")], [WIDE, WIDE * 500 / 600])
    assert "500, at most 550" in words(chart)


def a_map() -> SizeMap:
    """Two by two cells, of which one is shared, one is not proved and one is missing."""
    def cell(down: str, across: str, leading: tuple[str, ...], decided: bool) -> SizeCell:
        return record(SizeCell, down=down, across=across, trucks=dict.fromkeys(leading, 2), leading=leading,
                      decided=decided)

    cells = (cell("-10 %", "18 ft", ("half-ton",), True), cell("0 %", "24 ft", ("heavier",), False),
             cell("-10 %", "24 ft", ("half-ton", "heavier"), True))
    return SizeMap("price", "width", ("-10 %", "0 %"), ("18 ft", "24 ft"), ("half-ton", "one-ton", "heavier"),
                   cells)


def test_cells_have_the_color_and_letter_of_the_size_that_leads() -> None:
    """Strips of half-ton in the first row, of the heavier in both rows of the second column; a shared cell's
    strip is halved; `?` where it is not proved; no strip where there is no cell."""
    chart = there(size_map(a_map()))
    half, heavy = boxes(chart, "half-ton"), boxes(chart, "heavier")
    assert len({box.y for box in half}) == 1 and half[0].y == heavy[0].y < heavy[1].y
    assert half[0].width == pytest.approx(2 * half[1].width, abs=0.1) and heavy[0].x > half[1].x > half[0].x
    assert heavy[1].x == half[1].x and not boxes(chart, "one-ton")
    told = words(chart)
    assert [told.count(word) for word in ("A", "AC", "C?", "A half-ton", "C heavier")] == [1] * 5
    assert len(chart.table.rows) == 3 and "\u2068half-ton\u2069 leads in 2 of 3 cells" in chart.title


# ---- frontier


def step(value: float, covered: float, most: float) -> FrontierStep:
    """A step of a frontier."""
    return record(FrontierStep, value=value, contract_value_usd=covered, bound_usd=most, capital_usd=value,
                  trucks=2, sites=("a",))


def test_frontier_steps_up_at_the_budgets_that_buy_more() -> None:
    """100 from 1000 on, 300 from 3000 on and 400 from 5000 on: corners lie in these proportions, and a band
    of 50 stands on the second step, where a plan that covers 350 is not ruled out."""
    steps = (step(1000, 100, 100), step(3000, 300, 350), step(5000, 400, 400))
    chart = there(frontier_steps(record(Frontier, key="budget", steps=steps, offered_usd=500), Units("us")))
    (line,) = lines(chart, "covered by a plan")
    xs, ys = [x for x, _ in line], [y for _, y in line]
    unit, money = (xs[-2] - xs[0]) / 4000, (ys[0] - ys[-1]) / 300
    assert close(xs[:5], [xs[0] + unit * by for by in (0, 2000, 2000, 4000, 4000)])
    assert close(ys, [ys[0] - money * by for by in (0, 0, 200, 200, 300, 300)])
    (band,) = boxes(chart, "neither found nor ruled out")
    assert close((band.x, band.width, band.height), (xs[0] + unit * 2000, unit * 2000, money * 50))
    assert band.value == 50 and "takes a budget of 5,000 USD" in chart.title


def test_drivers_are_counted_whole() -> None:
    """Two trucks with two drivers each are four drivers, not two; the axis has whole figures only, and the
    step is drawn on to the fifth."""
    steps = (replace(step(4, 300, 300), trucks=2),)
    chart = there(frontier_steps(record(Frontier, key="drivers", steps=steps, offered_usd=300), Units("us")))
    assert "that takes 4 drivers" in chart.title
    assert {"4", "5"} <= {*words(chart)} and not [word for word in words(chart) if "." in word]


def test_a_lighter_snowfall_covers_more() -> None:
    """Rates run back: 300 is covered up to 1 in/h and 100 up to 2 in/h, so the line falls to the right."""
    inch = 0.0254 / 60
    steps = (step(2 * inch, 100, 100), step(inch, 300, 300))
    chart = there(frontier_steps(record(Frontier, key="rate", steps=steps, offered_usd=300), Units("us")))
    (line,) = lines(chart, "covered by a plan")
    assert [x for x, _ in line] == sorted(x for x, _ in line) and line[0][1] < line[-1][1]
    assert [row[0] for row in chart.table.rows] == pytest.approx([2, 1])
    assert "holds up to 1.00 in/h" in chart.title

"""Charts are safe in a page of a strict policy, the same on every run, and seen without full color vision."""

import os
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import small_plan as sp
from chart_reading import record, root, words
from test_charts import a_bid, a_drill, a_map, compared, step

from optibuild.records.comparison import Comparison
from optibuild.records.frontier import Frontier
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
from optibuild.report.charts.hatch import hatched
from optibuild.report.charts.palette import COLORS, HATCHES, INK, QUIET
from optibuild.report.tables import Units

TAGS = {"svg", "title", "desc", "g", "path", "rect", "text"}
ODD = {"markup": "<script>alert(1)</script>", "formula": "$x^_{2}$", "quotes": '"><b onload=x>',
       "sum": "=cmd()", "alphabets": "\u05e9\u05dc\u05d5\u05dd & \u96ea \u2744 \U0001f69c",
       "long": "n" * 300, "unseen": "\u202eturned\x00\ud800"}


def every_chart(name: str = "a") -> list[Chart]:
    """Each chart, with a name of the user's in every place where one can stand."""
    trucks = tuple(replace(row, build=name) for row in sp.PLAN.trucks)
    sites = (replace(sp.PLAN.sites[0], id=name), *sp.PLAN.sites[1:])
    plan, bid = replace(sp.PLAN, trucks=trucks, sites=sites), a_bid()
    bid = replace(bid, sites=tuple(replace(row, site=name) for row in bid.sites))
    drill = a_drill(((1,), 40.0, ("b",), True))
    drill = replace(drill, lost=tuple(replace(row, build=name) for row in drill.lost))
    cases = Comparison((compared("base", 100, 90, "base"), compared(name, 80, 70, "less")), (), (), 0)
    cells = tuple(replace(cell, down={"0 %": name}.get(cell.down, cell.down),
                          leading=tuple({"heavier": name}.get(size, size) for size in cell.leading))
                  for cell in a_map().cells)
    sizes = replace(a_map(), down=name, across=name, down_values=("-10 %", name),
                    sizes=("half-ton", "one-ton", name), cells=cells)
    found = record(Frontier, key="drivers", steps=(step(1, 100, 150), step(3, 300, 300)), offered_usd=300)
    charts = (loop_bars(plan), plan_money(plan), truck_money(plan), site_money(plan), site_prices(bid),
              form_risks(bid), truck_losses(drill), variation_costs(cases), size_map(sizes),
              frontier_steps(found, Units("us")))
    return [chart for chart in charts if chart]


class Read(HTMLParser):
    """Elements with their attributes, and all text, as a page has them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.said = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {key: value or "" for key, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.said += data


@pytest.mark.parametrize("name", ODD.values(), ids=ODD)
def test_odd_names_stay_text(name: str) -> None:
    """Whatever a name is, a picture has only its own elements, and nothing that turns or hides text."""
    charts = every_chart(name)
    assert len(charts) == 10
    for chart in charts:
        assert {tag for tag, _ in Read(chart.svg).tags} <= TAGS
        chart.svg.encode()
        assert not {*"\x00\u202e\ud800"} & {*chart.svg, *chart.title, *chart.alternative}


def test_names_are_read_back_as_they_were() -> None:
    """A name with markup and dollar signs is seen letter by letter; of a long one as much as there is room
    for, and all of it comes up on it."""
    name = "<b>$x_1$ & y</b>"
    chart = next(chart for chart in every_chart(name) if "site-prices" in chart.svg)
    assert name in words(chart)
    long = next(chart for chart in every_chart("n" * 300) if "site-prices" in chart.svg)
    shown = next(text for text in root(long).iter("text") if "n…" in (text.text or ""))
    assert len(shown.text or "") < 60 and [title.text for title in shown] == ["n" * 300]


def test_strict_policy_forbids_nothing_in_a_chart() -> None:
    """No script, style sheet, style attribute, handler of events, address or outer reference in any chart."""
    for chart in every_chart():
        for tag, attributes in Read(chart.svg).tags:
            assert tag not in ("script", "style", "image", "use", "a", "foreignobject")
            assert not [key for key in attributes if key.startswith("on") or "href" in key or key == "style"]
        assert not [mark for mark in ("url(", "://", "<?", "<!") if mark in chart.svg]


def test_ids_of_a_page_full_of_charts_are_unique_and_found() -> None:
    """No two elements of all charts share an id, and a chart's title and words are found by theirs."""
    charts = every_chart()
    ids = [element.get("id") for chart in charts for element in root(chart).iter() if element.get("id")]
    assert len(ids) == len({*ids}) == 2 * len(charts)
    for chart in charts:
        top = root(chart)
        assert [one.get("id") for one in top][:2] == [top.get("aria-labelledby"),
                                                      top.get("aria-describedby")]


def test_a_chart_says_what_it_is_to_those_who_do_not_see_it() -> None:
    """A picture is one image with its title and alternative text, as wide as its place, and its words are
    text: as many as there are rows, at the least."""
    for chart in every_chart():
        top = root(chart)
        assert (top.get("role"), top.get("width"), (top.get("viewBox") or "").split()[:3]) == (
            "img", "100%", ["0", "0", "328"])
        assert [(one.tag, one.text) for one in top][:2] == [("title", chart.title),
                                                            ("desc", chart.alternative)]
        assert chart.table.rows and len(words(chart)) > len(chart.table.rows)
        assert {len(row) for row in chart.table.rows} == {len(chart.table.columns)}


def test_same_bytes_in_every_process_whatever_the_user_has_set(tmp_path: Path) -> None:
    """Two processes with other hash seeds write the same pictures, one of them with settings of the drawing
    library that would change everything."""
    (tmp_path / "matplotlibrc").write_text("font.size: 30\nsvg.fonttype: path\nhatch.color: red\n")
    code = ("import hashlib, sys\nfrom test_charts_look import every_chart\n"
            "text = ''.join(chart.svg for chart in every_chart())\n"
            "sys.stdout.write(hashlib.sha256(text.encode()).hexdigest())\n")
    told = {subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                           timeout=120, cwd=Path(__file__).parent,
                           env={**os.environ, "PYTHONHASHSEED": seed, **more}).stdout
            for seed, more in (("1", {}), ("2", {"MATPLOTLIBRC": str(tmp_path)}))}
    assert len(told) == 1 and len(told.pop()) == 64


def test_charts_import_the_drawing_library_only_to_draw() -> None:
    """Importing the charts does not import matplotlib, which would slow every command down."""
    code = "import sys, optibuild.report.charts\nprint('matplotlib' in sys.modules)\n"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=60)
    assert done.stdout == b"False\n"


# ---- colors


def linear(color: str) -> np.ndarray:
    """Linear light of a color "#rrggbb" (IEC 61966-2-1)."""
    coded = np.array([int(color[k:k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.asarray(np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4))


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2): (L1 + 0.05) / (L2 + 0.05) of the relative luminances, the lighter first."""
    light, dark = sorted((float(linear(color) @ (0.2126, 0.7152, 0.0722)) for color in (one, other)),
                         reverse=True)
    return (light + 0.05) / (dark + 0.05)


# Machado, Oliveira, Fernandes 2009, "A physiologically-based model for simulation of color vision
# deficiency", tables of severity 1.0, in linear light
VISION = {
    "full": np.eye(3),
    "without red cones": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                                   [-0.003882, -0.048116, 1.051998]]),
    "without green cones": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                                     [-0.011820, 0.042940, 0.968881]]),
}


def lab(light: np.ndarray) -> np.ndarray:
    """L*a*b* (CIE 1976, white D65) of linear sRGB light."""
    to_xyz = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                       [0.0193339, 0.1191920, 0.9503041]])
    x, y, z = (to_xyz @ np.clip(light, 0.0, 1.0)) / (0.95047, 1.0, 1.08883)
    fx, fy, fz = (np.cbrt(v) if v > (6 / 29) ** 3 else v / (3 * (6 / 29) ** 2) + 4 / 29 for v in (x, y, z))
    return np.array([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)])


def test_the_measures_of_color_give_published_values() -> None:
    """White on black is 21:1 and #767676 on white 4.54:1 (WCAG); white is L* 100 and pure red L* 53.2,
    a* 80.1, b* 67.2 (published sRGB conversions)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert lab(linear("#ffffff")) == pytest.approx([100, 0, 0], abs=0.02)
    assert lab(linear("#ff0000")) == pytest.approx([53.2, 80.1, 67.2], abs=0.1)


def test_colors_stand_out_from_paper_and_text_more_so() -> None:
    """Every color of a bar has 3:1 or more on white, and so have its white hatches; texts have 4.5:1."""
    assert [color for color in COLORS if contrast(color, "#ffffff") < 3.0] == []
    assert min(contrast(color, "#ffffff") for color in (INK, QUIET)) >= 4.5


@pytest.mark.parametrize("vision", VISION)
def test_colors_differ_for_every_kind_of_color_vision(vision: str) -> None:
    """Any two colors lie at least 30 apart in L*a*b*, simulated for who has no red or no green cones too."""
    seen = [lab(VISION[vision] @ linear(color)) for color in COLORS]
    assert min(float(np.linalg.norm(one - other)) for one, other in combinations(seen, 2)) >= 30.0


def test_colors_never_stand_alone() -> None:
    """Every color has a hatch of its own, and a picture has lines over every part but the first."""
    assert len({*HATCHES}) == len(HATCHES) == len(COLORS)
    chart = loop_bars(sp.PLAN)
    assert chart is not None
    parts = {group.get("data-part"): list(group.iter()) for group in root(chart).iter("g")}
    for part, color in zip(("plow", "deice", "drive", "reload", "other"), COLORS, strict=False):
        assert {box.get("fill") for box in parts[part] if box.tag == "rect"} == {color}
        assert (f"{part}, hatch" in parts) == (part != "plow")


@pytest.mark.parametrize(("kind", "lines"), [
    # a box 9 wide and 4.5 high: upright lines at 0, 4.5, 9, lying ones at 0 and 4.5
    ("|", [((0, 0), (0, 4.5)), ((4.5, 0), (4.5, 4.5)), ((9, 0), (9, 4.5))]),
    ("-", [((0, 0), (9, 0)), ((0, 4.5), (9, 4.5))]),
    # aslant 4.5 apart is 4.5 root 2 = 6.36 across: x + y = 6.36 and 12.73 cut the box, the latter at its side
    ("/", [((1.864, 4.5), (6.364, 0)), ((8.228, 4.5), (9, 3.728))]),
    ("\\", [((0, 0), (4.5, 4.5)), ((6.364, 0), (9, 2.636))]),
    ("", []),
])
def test_hatches_end_at_the_edges_of_their_box(kind: str, lines: list[tuple[tuple[float, ...], ...]]) -> None:
    """Lines of a hatch, by hand, for a box from 0, 0 to 9, 4.5."""
    found = hatched(kind, (0.0, 9.0, 0.0, 4.5))
    assert [*np.ravel(found)] == pytest.approx([*np.ravel(lines)], abs=0.001)


def test_crossed_lines_are_those_of_both_slants() -> None:
    """Half of a crossed hatch rises and half falls, each line from edge to edge of a large box."""
    found = hatched("x", (0.0, 90.0, 0.0, 45.0))
    slopes = [(v - y) / (u - x) for (x, y), (u, v) in found]
    assert {round(slope, 9) for slope in slopes} == {1.0, -1.0}
    assert all(min(x, y, abs(90.0 - x), abs(45.0 - y)) < 1e-9 for line in found for x, y in line)

"""The pages in a real browser: what it asks for, shows, lets the keyboard reach, prints, makes of odd names.

Without Chromium and its driver these tests are skipped, on a build machine (CI=true) they fail instead.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import small_plan as sp
from browser import DESK, PHONE, Browser, browser
from click.testing import CliRunner
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from test_page import NONE_EXISTS, PLAIN, _luminance

from optibuild.cli import main
from optibuild.report import page

SMALL = Path(__file__).parent / "data" / "small"
LB = 0.45359237
SCRIPT, FORMULA, LONG = "<script>alert(1)</script>", "=cmd()", "w" * 300
HEBREW = "\u05d0\u05ea\u05e8 \u05e9\u05dc\u05d2"
PAGES = ("report.html", "sheets.html", "odd.html", "none.html")
FOUND = [*PLAIN[:PLAIN.index("assumptions")], "drill", *PLAIN[PLAIN.index("assumptions"):]]


def odd_page() -> str:
    """The small plan with names that a page may stumble over: markup as the case and a site, a formula as
    a truck, Hebrew as a depot and ballast, 300 letters as another site."""
    names = {"a": SCRIPT, "b": LONG}
    trucks = sp.PLAN.trucks
    for old, new in names.items():
        trucks = tuple(replace(row, loop=replace(row.loop, stops=tuple(
            replace(stop, site=new) if stop.site == old else stop for stop in row.loop.stops)))
            for row in trucks)
    trucks = tuple(replace(row, build=f"{FORMULA}+{LONG}+hopper", truck=FORMULA, depot=HEBREW, ballast=tuple(
        replace(kit, id=HEBREW) for kit in row.ballast)) for row in trucks)
    items = tuple(replace(row, id={"trucks": FORMULA, "ballast": HEBREW}.get(row.table, row.id))
                  for row in sp.PLAN.items)
    plan = replace(sp.PLAN, case=replace(sp.PLAN.case, name=SCRIPT), trucks=trucks, items=items,
                   cautions=(SCRIPT, LONG),
                   sites=tuple(replace(row, id=names.get(row.id, row.id)) for row in sp.PLAN.sites))
    case = replace(sp.CASE, name=SCRIPT, depots=(replace(sp.YARD, id=HEBREW),), sites=tuple(
        replace(row, id=names.get(row.id, row.id), name=HEBREW) for row in sp.CASE.sites))
    return page(plan, case)


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """One window for all tests."""
    with browser(tmp_path_factory.mktemp("profile")) as opened:
        yield opened


@pytest.fixture(scope="module")
def folder(window: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan of the small case with bid, reasons and drill on its page, a page with odd names, and one of a
    case without a plan."""
    made = tmp_path_factory.mktemp("pages")
    for call in (["plan", SMALL, "--out"], ["bid", made, "--out"], ["why", made, "--out"],
                 ["drill", made, "--out"], ["report"]):
        done = CliRunner().invoke(main, [*map(str, call), str(made)])
        assert done.exit_code == 0, done.output
    (made / "odd.html").write_text(odd_page(), encoding="utf-8")
    (made / "none.html").write_text(page(NONE_EXISTS, sp.CASE), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def plan(folder: Path) -> Any:
    """plan.json of the small case."""
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))


# ---- opened


@pytest.mark.parametrize("name", PAGES)
def test_page_opens_from_disk_and_asks_for_nothing(window: Browser, folder: Path, name: str) -> None:
    """The browser has no complaint and asks for the file alone, however it is looked at."""
    window.open(folder / name)
    window.open_details()
    window.js("scrollTo(0, document.body.scrollHeight)")
    assert window.noticed() == ([], [(folder / name).as_uri()])


def test_every_section_can_be_seen(window: Browser, folder: Path) -> None:
    """Each section has a height and a heading that is drawn, and its link leads to it."""
    window.open(folder / "report.html")
    sections = window.driver.find_elements(By.CSS_SELECTOR, "main > section")
    assert [one.get_attribute("id") for one in sections] == FOUND
    assert all(one.size["height"] > 60 and one.find_element(By.TAG_NAME, "h2").is_displayed()
               for one in sections)
    window.driver.find_element(By.CSS_SELECTOR, 'nav a[href="#cautions"]').click()
    assert window.js("return document.querySelector(':target').id") == "cautions"
    # a browser scrolls by whole pixels
    assert -1 < window.js("return document.querySelector('#cautions').getBoundingClientRect().top") < 800


def rows_of(window: Browser, heading: str) -> list[list[str | None]]:
    """What a table under a heading shows, each number as its unrounded value."""
    return list(window.js("""
        const found = document.querySelector(`.scroll[aria-label="${arguments[0]}"] tbody`)
        return [...found.rows].map(row => [...row.cells].map(one => one.dataset.value ?? one.innerText))
        """, heading))


def test_figures_on_the_page_are_those_of_the_plan(window: Browser, folder: Path, plan: Any) -> None:
    """Loops, rated fills in pounds, money and arrivals as the browser has them are those of plan.json, and
    the figures seen are these, rounded."""
    window.open(folder / "report.html")
    window.open_details()
    trucks = rows_of(window, "Trucks")
    assert [float(row[5]) for row in trucks] == [row["loop"]["duration_min"] for row in plan["trucks"]]
    fills = [0.0 if row[3] == "–" else float(row[3] or 0) for row in trucks]
    assert fills == pytest.approx([row["rated_fill_kg"] / LB for row in plan["trucks"]])
    answer = window.js("return {...document.querySelector('#answer dl').dataset}")
    assert {name: float(value) for name, value in answer.items()} == pytest.approx({
        "capitalUsd": plan["money"]["capital_usd"], "owningUsd": plan["money"]["owning_usd"],
        "seasonUsd": plan["money"]["season_usd"], "boundUsd": plan["outcome"]["bound_usd"]})
    stops = [stop for row in plan["trucks"] for stop in row["loop"]["stops"]]
    map_title = window.js("return document.querySelector('#map figcaption').innerText")
    arrivals = [row[7] for row in rows_of(window, map_title) if row[4] != "not served"]
    assert [float(at or 0) for at in arrivals] == [stop["arrive_min"] for stop in stops]
    seen = window.js("""return [...document.querySelectorAll('td[data-value], th[data-value]')].map(
one => [Number(one.dataset.value), one.innerText.replaceAll(',', '')])""")
    assert len(seen) > 100
    for value, text in seen:
        assert float(text) == pytest.approx(value, abs=0.5000001 * 10.0 ** -len(text.partition(".")[2]))


# ---- the map


def tips(window: Browser) -> list[str]:
    """What the stops tell that can be seen."""
    return list(window.js("return [...document.querySelectorAll('.tip')].filter(one => one.checkVisibility())"
                          ".map(one => one.innerText)"))


def stop_minutes(plan: Any) -> list[str]:
    """From when to when each stop is worked at, as the map says it."""
    return [f"from {stop['arrive_min']:.1f} to {stop['leave_min']:.1f} min"
            for row in plan["trucks"] for stop in row["loop"]["stops"]]


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("how", ["hover", "tap", "focus"])
def test_a_stop_tells_its_minutes(window: Browser, folder: Path, plan: Any, how: str, width: int) -> None:
    """Pointing at a stop, tapping it or giving it the focus shows its minutes, of that stop alone, uncut, and
    on the same screen, 800 px high, as the whole map."""
    window.open(folder / "report.html", width)
    assert tips(window) == []
    last = window.driver.find_elements(By.CSS_SELECTOR, "g.stop")[-1]
    mark = last.find_element(By.TAG_NAME, "rect")
    window.js("document.querySelector('.map').scrollIntoView({block: 'center'})")
    if how == "hover":
        ActionChains(window.driver).move_to_element(mark).perform()
    elif how == "focus":
        window.js("arguments[0].focus()", last)
    else:
        window.tap(mark)
    told = tips(window)
    assert len(told) == 1 and stop_minutes(plan)[-1] in told[0]
    assert window.js("return [...arguments[0].querySelectorAll('.tip p')].every("
                     "one => one.scrollWidth <= one.clientWidth)", last)
    top, bottom = window.js("""const box = document.querySelector('.map').getBoundingClientRect()
        return [box.top, arguments[0].querySelector('.tip').getBoundingClientRect().bottom]""", last)
    assert 0 <= top < bottom <= 800


def test_keyboard_reaches_stops_and_opens_what_is_closed(window: Browser, folder: Path, plan: Any) -> None:
    """Tab goes through links, the stops of the map in their order, each telling its minutes, and on to the
    figures behind it, which Enter opens; wherever the focus is, it can be seen."""
    window.open(folder / "report.html")
    links = len(window.driver.find_elements(By.CSS_SELECTOR, "nav a"))
    for _ in range(links):
        window.press(Keys.TAB)
        assert window.js("return document.activeElement.matches('nav a:focus-visible') &&"
                         "getComputedStyle(document.activeElement).outlineStyle") == "solid"
    for minutes in stop_minutes(plan):
        window.press(Keys.TAB)
        assert [minutes in one for one in tips(window)] == [True]
    window.press(Keys.TAB)
    assert tips(window) == []
    assert window.js("return document.activeElement.matches('#map summary')")
    behind = window.driver.find_element(By.CSS_SELECTOR, "#map details table")
    assert not behind.is_displayed()
    window.press(Keys.ENTER)
    assert behind.is_displayed()
    window.press(Keys.TAB)
    assert window.js("return document.activeElement.matches('#map details .scroll')")


# ---- narrow, printed, odd


@pytest.mark.parametrize("name", PAGES)
def test_a_phone_scrolls_downward_only(window: Browser, folder: Path, name: str) -> None:
    """At 360 px and with everything open nothing sticks out of the page, even with names of 300 letters."""
    window.open(folder / name, PHONE)
    window.open_details()
    assert window.js("return innerWidth") == PHONE
    assert window.js("return document.documentElement.scrollWidth") <= PHONE
    assert window.js("return document.body.scrollWidth") <= PHONE


def test_a_driver_reads_all_of_a_stop_on_a_phone(window: Browser, folder: Path) -> None:
    """At 360 px no driver's table has to be scrolled sideways, nor on a desk; with a cell that may not wrap,
    planted, it has to. What is under a stop stands within the screen, its coordinates too."""
    beyond = """return [...document.querySelectorAll('[data-sheet=driver] .scroll')].map(
        one => one.scrollWidth - one.clientWidth)"""
    for width in (DESK, PHONE):
        window.open(folder / "sheets.html", width)
        found = window.js(beyond)
        assert len(found) >= 2 and set(found) == {0}
    ends = window.js("""return [...document.querySelectorAll('[data-sheet=driver] a[href^="geo:"]')].map(
        one => one.getBoundingClientRect().right)""")
    assert len(ends) >= 3 and max(ends) <= PHONE
    window.js("""const one = document.querySelector('[data-sheet=driver] .under td')
        one.style.whiteSpace = 'nowrap'
        one.append('w'.repeat(90))""")
    assert max(window.js(beyond)) > 0


@pytest.mark.parametrize("name", ["report.html", "odd.html"])
def test_words_of_pictures_are_legible_on_a_phone(window: Browser, folder: Path, name: str) -> None:
    """At 360 px no word of map, charts and axle pictures is smaller than 11 px as drawn, and none sticks out
    of its picture; a word planted in an eighth of that size, and one at the far edge, are found."""
    script = """return [...document.querySelectorAll('main svg text')].filter(
        one => one.getClientRects().length).map(one => {
            const box = one.getBoundingClientRect(), all = one.ownerSVGElement.getBoundingClientRect()
            return [one.textContent, parseFloat(getComputedStyle(one).fontSize) * one.getScreenCTM().a,
                    Math.min(box.left - all.left, all.right - box.right)]})"""
    window.open(folder / name, PHONE)
    found = window.js(script)
    assert len(found) > 50
    assert [row for row in found if row[1] < 11.0] == []
    assert [row for row in found if row[2] < -1.0] == []
    window.js("""const [small, far] = document.querySelectorAll('figure svg[viewBox] text:not(.name)')
        small.style.fontSize = '1.4px'
        far.setAttribute('transform', 'translate(9000 0)')""")
    assert [sum(row[k] < least for row in window.js(script)) for k, least in ((1, 11.0), (2, -1.0))] == [1, 1]


def test_the_first_printed_page_has_answer_and_map(window: Browser, folder: Path) -> None:
    """The first page of the print has the words of the answer, the names on the map and what is said under
    it: it is not left half empty."""
    window.open(folder / "report.html")
    first = window.printed()[0].pages[0].extract_text()
    at = [first.index(word) for word in ("Answer", "Proof", "Map", "clinic", "Straight lines in the order")]
    assert at == sorted(at)


def test_every_sheet_is_a_page(window: Browser, folder: Path, plan: Any) -> None:
    """In print there are as many pages as sheets: one for each truck and driver, and for each site served."""
    window.open(folder / "sheets.html")
    kinds = window.js("return [...document.querySelectorAll('section.sheet')].map(one => one.dataset.sheet)")
    served = sum(site["served"] for site in plan["sites"])
    assert [kinds.count(kind) for kind in ("truck", "driver", "site")] == [
        len(plan["trucks"]), len(plan["trucks"]), served]
    printed, _ = window.printed()
    assert len(printed.pages) == len(kinds)


def test_report_prints_as_lines_and_letters(window: Browser, folder: Path) -> None:
    """No picture of dots in print, less than 2 MB, and words to the last page."""
    window.open(folder / "report.html")
    printed, size = window.printed()
    assert not [image.name for sheet in printed.pages for image in sheet.images]
    assert "sha256" in "".join(sheet.extract_text() for sheet in printed.pages[-2:])
    assert 10_000 < size < 2_000_000


def test_every_loop_by_the_clock_is_printed(window: Browser, folder: Path, plan: Any) -> None:
    """What has to be opened on the screen stands in print under its heading: each loop with its stops in
    order and the minute it is back at."""
    window.open(folder / "report.html")
    printed, _ = window.printed()
    words = " ".join(sheet.extract_text() for sheet in printed.pages).split()
    loops = " ".join(words).split("Loop of truck ")
    assert len(loops) == 1 + len(plan["trucks"])
    for text, truck in zip(loops[1:], plan["trucks"], strict=True):
        at = [text.index(f" {stop['site']} ") for stop in truck["loop"]["stops"]]
        assert at == sorted(at) and f"{truck['loop']['duration_min']:.1f} of " in text


def test_odd_names_do_no_harm(window: Browser, folder: Path) -> None:
    """Markup as a name runs nothing and makes no element, Hebrew is set from the right, and a name is seen
    as typed."""
    window.open(folder / "odd.html")
    window.open_details()
    assert window.js("return document.querySelectorAll('script, img').length") == 0
    title = window.driver.find_element(By.TAG_NAME, "h1")
    assert title.text == SCRIPT
    assert {SCRIPT, LONG} <= {row[2] for row in rows_of(window, "3 sites, 1 depot, 2 loops")}
    depots = window.js("""return [...document.querySelectorAll('[aria-label="Trucks"] td')]
        .filter(one => one.innerText === arguments[0]).map(one => getComputedStyle(one).direction)""", HEBREW)
    assert depots == ["rtl"] * 2
    window.driver.find_element(By.CSS_SELECTOR, "body").click()  # an alert would stand in the way


# ---- for everybody


@pytest.mark.parametrize("name", ["report.html", "sheets.html", "none.html"])
def test_accessibility_check_finds_nothing_serious(window: Browser, folder: Path, name: str) -> None:
    """axe-core finds nothing serious or critical on a phone and on a desk, with everything open; colors, the
    same on both, are looked at once. A grey heading and an unnamed picture, planted, are found."""
    for width in (PHONE, DESK):
        window.open(folder / name, width)
        window.open_details()
        found = window.findings("document", colors=width == PHONE)
        assert [(row["id"], row["nodes"][0]["html"]) for row in found
                if row["impact"] in ("serious", "critical")] == []
    window.js("""const title = document.querySelector('h1')
        title.style.color = '#bbb'
        title.append(document.createElement('img'))""")
    planted = {row["id"]: row["impact"] for row in window.findings("'h1'", colors=True)}
    assert planted == {"color-contrast": "serious", "image-alt": "critical"}


@pytest.mark.parametrize("name", ["report.html", "none.html"])
def test_words_of_pictures_stand_out(window: Browser, folder: Path, name: str) -> None:
    """axe-core does not look into pictures: their words, as the browser paints them, stand out from white by
    4.5 to 1 (WCAG 2.2, 1.4.3), and those of a stop from its mark while it has the focus."""
    window.open(folder / name)
    window.open_details()
    fills = window.js("""return [...new Set([...document.querySelectorAll('svg text')].map(one => {
        const style = getComputedStyle(one)
        return [style.fill, style.opacity, style.fillOpacity].join(' ')}))]""")
    assert len(fills) >= 2
    for fill in fills:
        assert fill.endswith(") 1 1"), fill
        assert contrast(fill, "rgb(255, 255, 255)") >= 4.5
    for stop in window.driver.find_elements(By.CSS_SELECTOR, "g.stop")[:1]:
        window.js("arguments[0].focus()", stop)
        assert contrast(*(stop.find_element(By.TAG_NAME, tag).value_of_css_property("fill")
                          for tag in ("text", "rect"))) >= 4.5


def contrast(one: str, other: str) -> float:
    """Contrast of two colors as the browser writes them, rgb(r, g, b)."""
    parts = [re.findall(r"\d+", color)[:3] for color in (one, other)]
    low, high = sorted(_luminance("#" + "".join(f"{int(part):02x}" for part in found)) for found in parts)
    return (high + 0.05) / (low + 0.05)

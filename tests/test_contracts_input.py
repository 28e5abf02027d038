"""Past winters, contracts and the keys of a bid: read as typed, told where wrong, written back the same."""

import csv
import shutil
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf
from pathlib import Path
from random import Random

import pytest
from openpyxl import Workbook, load_workbook

from optibuild.errors import Problem
from optibuild.inputs import TABLES, check_case, read_case, write_case
from optibuild.inputs.writing.folder import write_template
from optibuild.records import Case, Contract, Winter, hundredths
from optibuild.units import allowed_units, quantity

SMALL = Path(__file__).parent / "data" / "small"
SEASON = (SMALL / "season.csv").read_text(encoding="utf-8")
BLANK_COUNTS = SEASON.replace("light,12,", "light,,").replace("medium,6,", "medium,,").replace(
    "heavy,2,", "heavy,,")
EVENTS = ("light", "medium", "heavy")
# means: light (10 + 14 + 11 + 13 + 12)/5 = 12, medium 30/5 = 6, heavy 10/5 = 2, as the small case expects
WINTERS = ("winter,light,medium,heavy\n2020-21,10,5,2\n2021-22,14,7,1\n2022-23,11,6,3\n2023-24,13,6,2\n"
           "2024-25,12,6,2\n")
FORMS = "site,form,amount [USD],from_depth [in],to_depth [in],cap,overage [USD]\n"
INCH = 0.0254
Rows = Sequence[Sequence[object]]


def laid(folder: Path, **files: str) -> Path:
    """The small case with some tables replaced or added; a key `more` goes before the keys of case.toml."""
    case = Path(shutil.copytree(SMALL, folder / "case"))
    keys = files.pop("more", "")
    text = (SMALL / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(keys + text, encoding="utf-8")
    for name, text in files.items():
        (case / f"{name}.csv").write_text(text, encoding="utf-8")
    return case


def told(folder: Path, **files: str) -> list[tuple[str, str, int, str]]:
    """Code, file, row and column of every problem."""
    return [at(problem) for problem in check_case(laid(folder, **files))[1]]


def at(problem: Problem) -> tuple[str, str, int, str]:
    """Code, file, row and column of a problem."""
    place = problem.places[0]
    return problem.code, place.file, place.row, place.column


def same(case: Case) -> Case:
    """A case without where it was read from."""
    return replace(case, given_as="", inputs=())


# --- past winters


def test_winters_are_read_in_the_order_of_the_season(tmp_path: Path) -> None:
    """Columns in any order, and notes between them, become counts in the order of the season's rows."""
    table = "heavy,note,winter,medium,note of mine,light\n2,x,2020-21,5,,10\n1,,2021-22,7,y,14\n"
    case = read_case(laid(tmp_path, past_winters=table))
    assert [event.id for event in case.season] == [*EVENTS]
    assert case.past_winters == (Winter("2020-21", (10.0, 5.0, 2.0)), Winter("2021-22", (14.0, 7.0, 1.0)))


def test_a_blank_count_is_the_mean_of_the_winters(tmp_path: Path) -> None:
    """With light 10, 14, 11, 13, 12 and a blank count, (10 + 14 + 11 + 13 + 12)/5 = 12 are expected."""
    case, problems = check_case(laid(tmp_path, past_winters=WINTERS, season=BLANK_COUNTS))
    assert case is not None and problems == ()
    assert [event.count for event in case.season] == [12.0, 6.0, 2.0]


def test_a_blank_count_without_winters_is_a_problem(tmp_path: Path) -> None:
    """Without past winters, or with a table of headings alone, a blank count is missing, as ever."""
    missing = [("value.missing", "season.csv", row, "count") for row in (2, 3, 4)]
    assert told(tmp_path / "a", season=BLANK_COUNTS) == missing
    heading = WINTERS.splitlines()[0] + "\n"
    assert told(tmp_path / "b", season=BLANK_COUNTS, past_winters=heading) == missing


@pytest.mark.parametrize(("count", "light", "warned"), [
    # the mean of light is (10 + 14 + 11 + 13 + 18)/5 = 13.2, and 0.5 % of it 0.066
    ("13.2", "18", False), ("13.26", "18", False), ("13.14", "18", False), ("13.27", "18", True),
    ("13.13", "18", True), ("0", "18", True), ("12", "12", False)])
def test_a_typed_count_far_from_the_mean_is_warned_about_and_used(count: str, light: str, warned: bool,
                                                                  tmp_path: Path) -> None:
    """A count within 0.5 % of the mean passes, another is warned about at its cell; it is used as typed."""
    winters = WINTERS.replace("2024-25,12,", f"2024-25,{light},")
    season = SEASON.replace("light,12,", f"light,{count},")
    case, problems = check_case(laid(tmp_path, past_winters=winters, season=season))
    assert [at(one) for one in problems] == [("winter.count", "season.csv", 2, "count")] * warned
    assert all("13.2" in (one.expected or "") for one in problems)
    assert case is not None and case.season[0].count == float(count)


@pytest.mark.parametrize(("count", "warned"), [("0", False), ("0.1", True)])
def test_events_that_no_winter_had(count: str, warned: bool, tmp_path: Path) -> None:
    """Where no winter had a heavy storm, expecting none agrees with them, and a tenth of one does not."""
    winters = "\n".join(line.rpartition(",")[0] + (",heavy" if k == 0 else ",0")
                        for k, line in enumerate(WINTERS.splitlines()))
    found = told(tmp_path, past_winters=winters, season=SEASON.replace("heavy,2,", f"heavy,{count},"))
    assert found == [("winter.count", "season.csv", 4, "count")] * warned


@pytest.mark.parametrize(("given", "warned"), [(1, True), (4, True), (5, False)])
def test_few_winters_are_warned_about(given: int, warned: bool, tmp_path: Path) -> None:
    """Fewer than five winters are used, with a warning; five are not warned about."""
    lines = WINTERS.splitlines()[:1 + given]
    case, problems = check_case(laid(tmp_path, past_winters="\n".join(lines), season=BLANK_COUNTS))
    assert [at(one) for one in problems] == [("winter.few", "past_winters.csv", 0, "")] * warned
    assert case is not None and len(case.past_winters) == given


@pytest.mark.parametrize(("old", "new", "found"), [
    ("light", "ligt", [("heading.missing", 1, "light"), ("heading.unknown", 1, "ligt")]),
    ("winter,light", "note,light", [("heading.missing", 1, "winter")]),
    ("light", "light [in]", [("unit.unwanted", 1, "light [in]")]),
    ("medium", "light", [("heading.missing", 1, "medium"), ("heading.twice", 1, "light")]),
    ("2020-21,10", "2020-21,10.5", [("value.whole", 2, "light")]),
    ("2020-21,10", "2020-21,-1", [("value.range", 2, "light")]),
    ("2020-21,10", "2020-21,1001", [("value.range", 2, "light")]),
    ("2020-21,10", "2020-21,", [("value.missing", 2, "light")]),
    ("2020-21,10", "2020-21,few", [("value.number", 2, "light")]),
    ("2020-21,10", ",10", [("value.missing", 2, "winter")]),
    ("2021-22", "2020-21", [("id.twice", 3, "winter")]),
    ("2020-21,10", "2020-21,210", [("winter.count", 2, "count"), ("doubt.value", 2, "light")]),
])
def test_what_is_wrong_with_winters_is_told_in_its_place(old: str, new: str,
                                                         found: list[tuple[str, int, str]],
                                                         tmp_path: Path) -> None:
    """Columns that are no event, events without a column, and cells that are no count."""
    problems = told(tmp_path, past_winters=WINTERS.replace(old, new, 1))
    assert sorted((code, row, column) for code, _, row, column in problems) == sorted(found)


def test_an_unknown_column_of_winters_names_the_nearest_event(tmp_path: Path) -> None:
    """hevy is no event class: heavy was probably meant."""
    found = check_case(laid(tmp_path, past_winters=WINTERS.replace("heavy", "hevy")))[1]
    unknown, = [problem for problem in found if problem.code == "heading.unknown"]
    assert "Did you mean 'heavy'?" in unknown.remedy and unknown.expected == "winter, light, medium, heavy"


@pytest.mark.parametrize("season", [
    "id,count\n", "nothing\n", SEASON.replace("light,", "=light,"), SEASON.replace("id,", "note,"), '"'])
def test_winters_beside_an_unreadable_season_are_told_for_what_is_wrong_with_them_alone(
        season: str, tmp_path: Path) -> None:
    """Where the events are not known, no column is called unknown or missing, and a wrong cell still is."""
    winters = WINTERS.replace("winter,", "Winter,").replace("-21,10", "-21,ten").replace("\n", ",ours\n")
    winters = winters.replace("ours", "notes", 1)
    found = told(tmp_path, season=season, past_winters=winters)
    assert [one for one in found if one[1] == "past_winters.csv"] == [
        ("value.number", "past_winters.csv", 2, "light")]
    assert any(file == "season.csv" for _, file, _, _ in found)


def test_an_event_called_winter_is_told(tmp_path: Path) -> None:
    """The column winter names the winters: an event of that name has no column, and needs another one."""
    season = SEASON.replace("light,", "winter,")
    winters = WINTERS.replace("light,", "", 1).replace("10,", "").replace("14,", "").replace(
        "11,", "").replace("13,", "").replace("12,", "")
    assert told(tmp_path / "a", season=season, past_winters=winters) == [("value.id", "season.csv", 2, "id")]
    assert told(tmp_path / "b", season=season) == []


def test_problems_of_all_tables_are_told_in_one_run(tmp_path: Path) -> None:
    """A wrong season, wrong winters and a wrong contract are all in the list of one check."""
    found = told(tmp_path, season=SEASON.replace("light,12,", "light,-12,"),
                 past_winters=WINTERS.replace("2020-21,10", "2020-21,1.5"),
                 contracts=FORMS + "bnk,push,150,,,,\n")
    assert sorted(found) == [("id.unknown", "contracts.csv", 2, "site"),
                             ("value.range", "season.csv", 2, "count"),
                             ("value.whole", "past_winters.csv", 2, "light")]


def test_winters_between_semicolons_are_read(tmp_path: Path) -> None:
    """A table between semicolons, its winters called as somebody likes, holds the same counts."""
    table = WINTERS.replace(",", ";").replace("2020-21", "the one of 2020,5")
    case = read_case(laid(tmp_path, past_winters=table))
    assert case.past_winters[0] == Winter("the one of 2020,5", (10.0, 5.0, 2.0))


# Storms of 1 in, 2 in and 4 in or more in each winter from 1991/92 to 2019/20, days of snow on end being one
# storm: NOAA National Centers for Environmental Information, GHCN-Daily, station USW00014839 (US government,
# public domain)
STORMS = """1991 11 5 2, 1992 11 8 5, 1993 12 9 7, 1994 7 6 3, 1995 12 10 4, 1996 11 8 5, 1997 8 6 3,
1998 9 8 3, 1999 10 6 4, 2000 9 6 4, 2001 6 4 3, 2002 6 4 3, 2003 9 7 3, 2004 9 8 2, 2005 11 8 4,
2006 8 8 5, 2007 18 14 9, 2008 14 13 7, 2009 9 6 3, 2010 13 9 4, 2011 7 6 3, 2012 11 8 4, 2013 15 10 5,
2014 9 6 3, 2015 11 6 3, 2016 7 5 3, 2017 10 7 4, 2018 12 7 6, 2019 11 8 3"""


def test_a_real_record_of_winters_has_its_published_means(tmp_path: Path) -> None:
    """29 winters of a weather station: 10.2 storms of 1 in or more, 7.4 of 2 in, 4.0 of 4 in in the mean.

    296, 216 and 117 storms in 29 winters. As classes, each storm counts once: 296 - 216 = 80 from 1 to 2 in,
    216 - 117 = 99 from 2 to 4 in, 117 above.
    """
    winters = [[*map(int, one.split())] for one in STORMS.split(",")]
    rows = "".join(f"{year}-{(year + 1) % 100:02d},{one - two},{two - four},{four}\n"
                   for year, one, two, four in winters)
    case, problems = check_case(laid(tmp_path, past_winters=f"winter,{','.join(EVENTS)}\n{rows}",
                                     season=BLANK_COUNTS))
    assert case is not None and problems == () and len(case.past_winters) == 29
    counts = [event.count for event in case.season]
    assert counts == pytest.approx([80 / 29, 99 / 29, 117 / 29], rel=1e-12)
    assert (round(sum(counts), 1), round(sum(counts[1:]), 1), round(counts[2], 1)) == (10.2, 7.4, 4.0)
    assert case.past_winters[16] == Winter("2007-08", (4.0, 5.0, 9.0))


# --- contracts


def test_contracts_arrive_in_inner_units(tmp_path: Path) -> None:
    """Bands of 3 and 7 in are 0.0762 and 0.1778 m; blanks are every site, no bound, no cap, to be priced."""
    rows = ("bank,season,\"$9,000\",,,20,400\nclinic,Event,300,,3,,\nclinic,event,450,3,7,,\n"
            "clinic,event,,7,,,\n,push,,,,,\n,inch,55,,,,\nschool,hour,140,,,,\n")
    case, problems = check_case(laid(tmp_path, contracts=FORMS + rows))
    assert case is not None and problems == ()
    three, seven = 3 * INCH, 7 * INCH
    assert case.contracts == (
        Contract("bank", "season", 9000.0, cap=20.0, overage_usd=400.0),
        Contract("clinic", "event", 300.0, to_depth_m=pytest.approx(three)),
        Contract("clinic", "event", 450.0, pytest.approx(three), pytest.approx(seven)),
        Contract("clinic", "event", None, pytest.approx(seven)), Contract(None, "push", None),
        Contract(None, "inch", 55.0), Contract("school", "hour", 140.0))
    assert read_case(SMALL).contracts == () and read_case(SMALL).past_winters == ()


SOUND = "bank,event,300,,3,,\nbank,event,450,3,7,,\nbank,event,700,7,,,\n"


@pytest.mark.parametrize(("rows", "code", "row", "column"), [
    ("bnk,push,150,,,,\n", "id.unknown", 2, "site"),
    ("bank,puch,150,,,,\n", "value.word", 2, "form"),
    ("bank,,150,,,,\n", "value.missing", 2, "form"),
    ("bank,push,-150,,,,\n", "value.range", 2, "amount [USD]"),
    ("bank,event,150,-1,,,\n", "value.range", 2, "from_depth [in]"),
    ("bank,event,150,,0,,\n", "value.range", 2, "to_depth [in]"),
    ("bank,season,150,,,-1,\n", "value.range", 2, "cap"),
    ("bank,season,150,,,2.5,\n", "value.whole", 2, "cap"),
    ("bank,season,150,,,20,-1\n", "value.range", 2, "overage [USD]"),
    ("bank,event,150,7,3,,\n", "contract.band", 2, "to_depth [in]"),
    ("bank,event,150,3,3,,\n", "contract.band", 2, "to_depth [in]"),
    # both are 3.00 in, rounded
    ("bank,event,150,3,3.004,,\n", "contract.band", 2, "to_depth [in]"),
    ("bank,push,150,3,,,\n", "contract.band", 2, "from_depth [in]"),
    ("bank,season,150,,7,,\n", "contract.band", 2, "to_depth [in]"),
    ("bank,event,150,,,20,\n", "contract.cap", 2, "cap"),
    ("bank,push,150,,,,400\n", "contract.cap", 2, "overage [USD]"),
    ("bank,season,150,,,,400\n", "contract.cap", 2, "cap"),
    (SOUND + "bank,event,500,5,9,,\n", "contract.band", 5, "from_depth [in]"),
    (SOUND + "bank,event,500,6.99,7,,\n", "contract.band", 5, "from_depth [in]"),
    (SOUND + "bank,event,500,,,,\n", "contract.band", 5, "from_depth [in]"),
    # the wide band reaches over both that follow it
    ("bank,event,300,,9,,\nbank,event,450,3,4,,\nbank,event,500,5,6,,\n", "contract.band", 4,
     "from_depth [in]"),
    ("bank,hour,140,,,,\n,hour,150,,,,\nbank,hour,160,,,,\n", "contract.twice", 4, "form"),
    (",hour,140,,,,\n,hour,150,,,,\n", "contract.twice", 3, "form"),
])
def test_what_is_wrong_with_a_contract_is_told_in_its_place(rows: str, code: str, row: int, column: str,
                                                            tmp_path: Path) -> None:
    """Each slip in a contract makes one kind of problem, at its cell."""
    problems = told(tmp_path, contracts=FORMS + rows)
    assert {one[0] for one in problems} == {code} and (code, "contracts.csv", row, column) in problems


@pytest.mark.parametrize("rows", [
    SOUND, SOUND + ",event,500,5,9,,\n", SOUND + "clinic,event,500,5,9,,\n",
    # a gap between bands: nothing is paid there, as public contracts have it below their least band
    "bank,event,300,3,7,,\nbank,event,450,7,,,\n", "bank,push,150,,,,\n,push,160,,,,\n",
    "bank,push,150,,,,\nbank,inch,50,,,,\n", "bank,season,9000,,,20,\n", "bank,season,,,,0,\n",
    # a default that is typed says nothing new
    "bank,push,150,0,,,\n"])
def test_contracts_that_agree_are_told_nothing(rows: str, tmp_path: Path) -> None:
    """Bands that meet, other sites' bands, a site's own row beside every site's, two forms of a site."""
    assert told(tmp_path, contracts=FORMS + rows) == []


def test_an_unknown_site_of_a_contract_names_the_nearest(tmp_path: Path) -> None:
    """bnk is no site: bank was probably meant."""
    problem, = check_case(laid(tmp_path, contracts=FORMS + "bnk,push,150,,,,\n"))[1]
    assert "Did you mean 'bank'?" in problem.remedy


@pytest.mark.parametrize(("inches", "counted"), [
    ("2.99", 299), ("2.994", 299), ("2.995", 300), ("3", 300), ("6.99", 699), ("6.994", 699), ("6.995", 700),
    ("7", 700), ("10.99", 1099), ("10.995", 1100), ("11", 1100), ("14.99", 1499), ("14.995", 1500)])
def test_depths_are_compared_in_hundredths_of_an_inch(inches: str, counted: int) -> None:
    """The edges of a public request for quotes (bands 3-6.99, 7-10.99, 11-14.99 in): halves count up."""
    assert hundredths(quantity(f"{inches} in", "length")) == counted


def test_every_hundredth_of_an_inch_is_its_own() -> None:
    """From 0 to 60 in each depth of two decimals, typed in inches, is counted as typed; no limit stays so."""
    assert [hundredths(quantity(f"{k / 100} in", "length")) for k in range(6001)] == [*range(6001)]
    assert hundredths(inf) == inf


# --- keys of the bid


def test_a_bid_is_drawn_from_ten_thousand_seasons_and_loses_in_a_tenth_of_them(tmp_path: Path) -> None:
    """The defaults are 10 % and 10,000; what is typed is taken."""
    assert (read_case(SMALL).bid.chance_of_loss, read_case(SMALL).bid.seasons) == (0.1, 10_000)
    typed = read_case(laid(tmp_path, more='bid.chance_of_loss = "2.5 %"\nbid.seasons = 50000\n')).bid
    assert (typed.chance_of_loss, typed.seasons) == (0.025, 50_000)


@pytest.mark.parametrize(("key", "value"), [
    ("chance_of_loss", '"0 %"'), ("chance_of_loss", '"100 %"'), ("chance_of_loss", "-0.1"),
    ("seasons", "9999"), ("seasons", "1000001")])
def test_a_bid_key_out_of_range_is_told(key: str, value: str, tmp_path: Path) -> None:
    """No chance at all, certain loss, and fewer or more seasons than can be drawn are refused."""
    assert told(tmp_path, more=f"bid.{key} = {value}\n") == [("value.range", "case.toml", 1, f"bid.{key}")]


# --- folder, workbook, and back


def as_book(folder: Path, path: Path) -> Path:
    """The tables and keys of a folder as one workbook, cells as somebody types them: numbers as numbers."""
    book = Workbook()
    keys = book.worksheets[0]
    keys.title = "case"
    keys.append(["key", "value"])
    keys.append(["case.name", "small"])
    keys.append(["money.wage", "24 USD/h"])
    keys.append(["solve.gap", 0])
    for file in sorted(folder.glob("*.csv")):
        sheet = book.create_sheet(file.stem)
        with open(file, encoding="utf-8", newline="") as lines:
            for row in csv.reader(lines):
                sheet.append([float(cell) if cell.replace(".", "", 1).isdigit() else cell or None
                              for cell in row])
    book.save(path)
    return path


def test_winters_and_contracts_of_a_workbook_are_those_of_a_folder(tmp_path: Path) -> None:
    """Both forms of one case hold the same winters, contracts and expected counts."""
    folder = laid(tmp_path, past_winters=WINTERS, season=BLANK_COUNTS,
                  contracts=FORMS + SOUND + ",push,,,,,\n")
    text, book = read_case(folder), read_case(as_book(folder, tmp_path / "book.xlsx"))
    assert text.past_winters == book.past_winters and len(book.past_winters) == 5
    assert text.contracts == book.contracts and len(book.contracts) == 4
    assert text.season == book.season


def test_a_wrong_count_in_a_workbook_is_told_by_its_cell(tmp_path: Path) -> None:
    """A fraction under heavy in the first winter stands in past_winters!D2."""
    folder = laid(tmp_path, past_winters=WINTERS)
    book = load_workbook(as_book(folder, tmp_path / "book.xlsx"))
    book["past_winters"]["D2"] = 2.5
    book.save(tmp_path / "book.xlsx")
    problem, = check_case(tmp_path / "book.xlsx")[1]
    assert problem.code == "value.whole"
    assert str(problem.places[0]) == "book.xlsx, past_winters!D2, heavy"


NAMES = ("Light", "light", "007", "#N/A", "a,b;c", 'a "b"', "note", "noted storm", "_x000D_", "id", "counts",
         "EVENT", "storm [in]", "0-2 in", "café 雪", "'x", "TRUE", "a.b", "b", "count_id", "Winter", "1e5")


def _drawn(rng: Random, case: Case) -> Case:
    """The small case with events of odd names, some winters and contracts, drawn from a seed."""
    names = rng.sample(NAMES, rng.randint(1, 6))
    winters = tuple(Winter(f"{1990 + k}", tuple(float(rng.randint(0, 30)) for _ in names))
                    for k in range(rng.randint(0, 8)))
    means = [sum(winter.counts[e] for winter in winters) / max(1, len(winters)) for e in range(len(names))]
    season = tuple(replace(rng.choice(case.season), id=name, count=mean if rng.random() < 0.5 else 3.5)
                   for name, mean in zip(names, means, strict=True))
    sites = [site.id for site in case.sites]
    contracts = [Contract(site, form, *_terms(rng, form))
                 for site in (*rng.sample(sites, 2), None)
                 for form in rng.sample(("season", "push", "inch", "hour"), 2)]
    edges = [0.0, *sorted(_inner(rng, k) for k in range(1, rng.randint(1, 5))), inf]
    banded = rng.choice(sites)
    contracts += [Contract(banded, "event", _usd(rng), *band) for band in pairwise(edges)]
    return replace(case, season=season, past_winters=winters, contracts=tuple(contracts))


def _usd(rng: Random) -> float | None:
    return None if rng.random() < 0.3 else float(f"{rng.uniform(1, 20_000):.{rng.randint(1, 17)}g}")


def _terms(rng: Random, form: str) -> tuple[float | None, float, float, float, float | None]:
    cap = float(rng.randint(0, 40)) if form == "season" and rng.random() < 0.6 else inf
    return _usd(rng), 0.0, inf, cap, None if cap == inf else _usd(rng)


def _inner(rng: Random, about: float) -> float:
    """A depth of some inches as typed in any unit of length."""
    unit = rng.choice([unit for unit in allowed_units("length") if unit not in ("mi", "km")])
    return quantity(f"{3 * about * INCH / quantity(f'1 {unit}', 'length'):.{rng.randint(3, 17)}g} {unit}",
                    "length")


@pytest.mark.parametrize("kind", ["folder", "book.xlsx"])
@pytest.mark.parametrize("seed", range(15))
def test_a_written_bid_is_the_same_bid(seed: int, kind: str, tmp_path: Path) -> None:
    """Winters, contracts, counts and keys come back as they were, whatever the events are called; written
    once more, the whole case does."""
    rng = Random(seed)
    case = _drawn(rng, read_case(SMALL))
    case = replace(case, bid=replace(case.bid, chance_of_loss=rng.uniform(0.01, 0.5),
                                     seasons=rng.randint(10_000, 99_999)))
    write_case(case, tmp_path / kind)
    found = read_case(tmp_path / kind)
    assert (found.past_winters, found.season) == (case.past_winters, case.season)
    assert (found.contracts, found.bid) == (case.contracts, case.bid)
    write_case(found, tmp_path / f"again-{kind}")
    assert same(read_case(tmp_path / f"again-{kind}")) == same(found)


def test_a_count_that_followed_the_winters_is_written_blank(tmp_path: Path) -> None:
    """A count that is the winters' mean is not written out, so that another winter gives another mean."""
    season = BLANK_COUNTS.replace("heavy,,", "heavy,3,")
    write_case(read_case(laid(tmp_path, past_winters=WINTERS, season=season)), tmp_path / "written")
    with open(tmp_path / "written" / "season.csv", newline="", encoding="utf-8") as file:
        assert [row["count"] for row in csv.DictReader(file)] == ["", "", "3"]


def test_the_case_to_begin_from_has_winters_and_contracts(tmp_path: Path) -> None:
    """`new` writes five invented winters whose means are the typed counts: dusting 65/5 = 13, snowfall 35/5 =
    7, big-storm 10/5 = 2."""
    write_template(tmp_path)
    case, problems = check_case(tmp_path)
    assert case is not None and problems == () and len(case.past_winters) == 5
    sums = [sum(counts) for counts in zip(*(winter.counts for winter in case.past_winters), strict=True)]
    assert sums == [65, 35, 10] and [event.count for event in case.season] == [13, 7, 2]
    assert {row.form for row in case.contracts} == {"season", "push", "event"}
    assert [*TABLES][-2:] == ["past_winters", "contracts"]

"""The command `bid`: exit codes, what it prints and writes, what it leaves alone."""

import csv
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import BytesIO
from math import isfinite
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from click.testing import CliRunner, Result
from hand_bid import CASE, PAID, bid
from openpyxl import load_workbook

from optibuild.cli import main
from optibuild.pipeline import from_json, to_json
from optibuild.records import Bid, Marginal
from optibuild.report import bid_files, bid_text, site_bid_text

ROOT = Path(__file__).parents[1]
SMALL = ROOT / "tests" / "data" / "small"
TABLES = {"bid_sites", "bid_prices", "bid_risk", "bid_without"}
WRITTEN = {"bid.json", "bid.xlsx"} | {f"{name}.csv" for name in TABLES}
CONTRACTS = "site,form,amount [USD],cap,overage [USD]\n,event,400,,\nbank,season,\"8,000\",20,150\n"
WINTERS = "winter,light,medium,heavy\n" + "".join(
    f"20{n}-{n + 1},{10 + n % 5},{4 + n % 5},{n % 5}\n" for n in range(15, 25))
Row = dict[str, str]


def run(*words: object) -> Result:
    """One command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def process(*words: object, **extra: str) -> subprocess.CompletedProcess[bytes]:
    """One command in a process of its own."""
    return subprocess.run([sys.executable, "-m", "optibuild", *map(str, words)], capture_output=True,
                          timeout=120, env={**os.environ, **extra}, cwd=ROOT)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the small case, an own contract and one for every site and ten past winters added to it,
    and its plan."""
    home = tmp_path_factory.mktemp("made")
    shutil.copytree(SMALL, home / "case")
    (home / "case" / "contracts.csv").write_text(CONTRACTS, encoding="utf-8")
    (home / "case" / "past_winters.csv").write_text(WINTERS, encoding="utf-8")
    assert run("plan", home / "case", "--out", home / "plan").exit_code == 0
    return home


@pytest.fixture
def plan(made: Path, tmp_path: Path) -> Path:
    """The plan in a folder of its own; its case stays where it was made."""
    return Path(shutil.copytree(made / "plan", tmp_path / "plan"))


@pytest.fixture(scope="module")
def bidden(made: Path) -> tuple[Path, Result]:
    """A folder with the bid, solved again without the bank, and what the command printed as JSON."""
    out = made / "out"
    return out, run("bid", made / "plan", "--without", "bank", "--out", out, "--json")


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}


# ---- what is printed


def test_screen(made: Path) -> None:
    """Without options all tables are printed, in order, and nothing goes to standard error; a pipe gets the
    same from a process of its own."""
    done = run("bid", made / "plan")
    assert done.exit_code == 0 and done.stderr == ""
    heads = ["Bid: small", "Cost of a season", "Price of a season", "Prices by form of contract",
             "Price of an event by depth of its snow", "Risk of each form over the seasons drawn, whole list",
             "10,000 seasons drawn with seed 1, from 10 past winters", "Without one site", "Cautions"]
    lines = done.stdout.splitlines()
    at = [next(n for n, line in enumerate(lines) if line.startswith(head)) for head in heads]
    assert at == sorted(at)
    assert "case has" not in done.stdout
    assert process("bid", made / "plan").stdout.decode() == done.stdout


def test_single_sites(made: Path) -> None:
    """Asked for sites, the screen tells what each form risks there, and of no other site."""
    done = run("bid", made / "plan", "--site", "clinic", "--site", "school")
    assert done.exit_code == 0
    assert done.stdout.count("Risk at ") == 2 and "Risk at clinic" in done.stdout
    assert "bank" not in done.stdout


SITE_KEYS = {"site", "cost_usd", "cost", "price_usd", "prices", "risks", "safe_season_usd", "contract",
             "marginal"}
PRICE_KEYS = {"form", "unit", "price_usd", "from_depth_m", "to_depth_m", "cap", "overage_usd"}
RISK_KEYS = {"form", "sites", "mean_usd", "error_usd", "worst_tenth_usd", "chance_of_loss",
             "break_even_events", "loss_above", "loss_until_events"}
KINDS = {"service_usd", "driving_usd", "owning_usd", "held_usd"}


def test_json_has_every_key(bidden: tuple[Path, Result]) -> None:
    """`--json` prints what bid.json holds, and every record has all its keys."""
    out, done = bidden
    assert done.exit_code == 0
    assert done.stdout == (out / "bid.json").read_text(encoding="utf-8")
    tree = json.loads(done.stdout)
    assert set(tree) == {"format", "sites", "totals", "simulation", "cautions"}
    assert tree["format"] == "optibuild-bid/1" and len(tree["cautions"]) == 3
    assert tree["simulation"] == {"seasons": 10_000, "seed": 1, "past_winters": 10, "chance_of_loss": 0.10}
    assert set(tree["totals"]) == (SITE_KEYS - {"site", "prices", "marginal"}) | {
        "spread", "paid_min", "billable_min"}
    for site in tree["sites"]:
        assert set(site) == SITE_KEYS and set(site["cost"]) == KINDS
        assert set(site["contract"]) == {"form", "revenue_usd", "profit_usd", "profit_margin"}
        assert set(site["marginal"]) == {"site", "share_usd", "most_usd", "saved_usd"}
        assert all(set(row) == PRICE_KEYS for row in site["prices"])
        assert all(set(row) == RISK_KEYS for row in [*site["risks"], *tree["totals"]["risks"]])
        assert (site["marginal"]["saved_usd"] is not None) == (site["site"] == "bank")
    assert [site["site"] for site in tree["sites"]] == ["bank", "clinic", "yard", "school"]


# ---- what is written


def rows_of(out: Path, name: str) -> list[Row]:
    """A CSV table."""
    with open(out / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def in_json(tree: Any) -> dict[str, list[Row]]:
    """The tables as bid.json has them: by title of the column, numbers as text, nothing as blank."""
    every = [*tree["sites"], {"site": "whole list", **tree["totals"]}]
    tables: dict[str, list[dict[str, Any]]] = {
        "bid_sites": [{"site": one["site"], "service [USD]": one["cost"]["service_usd"],
                       "driving and idle [USD]": one["cost"]["driving_usd"],
                       "owning [USD]": one["cost"]["owning_usd"],
                       "capital of owned [USD]": one["cost"]["held_usd"],
                       "cost to recover [USD]": one["cost_usd"], "season's price [USD]": one["price_usd"],
                       "safe season [USD]": one["safe_season_usd"],
                       "contract [USD]": one["contract"]["revenue_usd"],
                       "profit [USD]": one["contract"]["profit_usd"],
                       "profit margin [%]": 100 * one["contract"]["profit_margin"]} for one in every],
        "bid_prices": [{"site": one["site"], "form": row["form"], "for each": row["unit"],
                        "from [in]": _inches(row["from_depth_m"]), "to [in]": _inches(row["to_depth_m"]),
                        "price [USD]": row["price_usd"], "events included": row["cap"],
                        "each beyond [USD]": row["overage_usd"]}
                       for one in tree["sites"] for row in one["prices"]],
        "bid_risk": [{"site": one["site"], "form": row["form"], "sites": row["sites"],
                      "mean profit [USD]": row["mean_usd"], "+/- [USD]": row["error_usd"],
                      "mean of worst tenth [USD]": row["worst_tenth_usd"],
                      "chance of loss [%]": 100 * row["chance_of_loss"],
                      "break-even events": row["break_even_events"],
                      "loss": {None: None, True: "above", False: "below"}[row["loss_above"]]}
                     for one in every for row in one["risks"]],
        "bid_without": [{"site": one["site"], "share of cost [USD]": one["marginal"]["share_usd"],
                         "saves at most [USD]": one["marginal"]["most_usd"],
                         "saves, solved again [USD]": one["marginal"]["saved_usd"]} for one in tree["sites"]]}
    return {name: [{key: "" if cell is None else str(cell) for key, cell in row.items()} for row in rows]
            for name, rows in tables.items()}


def _inches(depth_m: float | None) -> float | None:
    return None if depth_m is None else depth_m / 0.0254


def differing(left: list[Row], right: list[Row], within: float) -> Iterator[tuple[str, str, str]]:
    """Cells that are not the same text, nor numbers this near to each other."""
    for one, other in zip(left, right, strict=True):
        assert list(one) == list(other)
        for key, cell in one.items():
            try:
                same = abs(float(cell) - float(other[key])) <= within
            except ValueError:
                same = cell == other[key]
            if not same:
                yield key, cell, other[key]


@pytest.mark.parametrize("name", sorted(TABLES))
def test_tables_hold_the_numbers_of_the_json(name: str, bidden: tuple[Path, Result]) -> None:
    """Every table says in CSV and in the workbook what bid.json says, money at least to the cent."""
    out, done = bidden
    expected = in_json(json.loads(done.stdout))[name]
    assert list(differing(rows_of(out, name), expected, 0.005)) == []
    titles, *rows = load_workbook(out / "bid.xlsx")[name].iter_rows(values_only=True)
    book = [dict(zip(map(str, titles), ("" if cell is None else str(cell) for cell in row), strict=True))
            for row in rows]
    assert list(differing(book, expected, 1e-6)) == []


def test_files(bidden: tuple[Path, Result]) -> None:
    """The folder holds JSON, four CSV tables and a workbook of the same tables, which are named."""
    out, done = bidden
    assert set(contents(out)) == WRITTEN
    assert set(load_workbook(out / "bid.xlsx").sheetnames) == TABLES
    told = " ".join(done.stderr.split())
    assert all(name in told for name in WRITTEN)


@pytest.mark.parametrize("ident", ["=1+1", "@SUM(A1)", "+7", "-2", "'=x"])
def test_a_formula_as_id_stays_text(ident: str) -> None:
    """Where a caller's own records call a site as a formula (case files may not), it has an apostrophe before
    it in every CSV; in the workbook it is text in a quoted cell, and no cell of any sheet is a formula."""
    found = bid(PAID)
    found = replace(found, sites=(replace(found.sites[0], site=ident), *found.sites[1:]))
    files = bid_files(found, [Marginal(ident, 1.0, 2.0, None)], "us")
    book = load_workbook(BytesIO(files["bid.xlsx"]))
    for name in TABLES:
        assert f"\n'{ident}," in files[f"{name}.csv"]
        cells = [cell for row in book[name] for cell in row]
        ids = [cell for cell in cells if cell.value == ident]
        assert ids and all(cell.data_type == "s" and cell.quotePrefix for cell in ids)
        assert all(cell.data_type != "f" for cell in cells)
    with ZipFile(BytesIO(files["bid.xlsx"])) as parts:
        assert not any(b"<f>" in parts.read(name) for name in parts.namelist())


def test_same_bytes_in_two_processes(made: Path, tmp_path: Path) -> None:
    """Two processes with different hash seeds, at different times, write the same bytes."""
    found = []
    for seed in ("1", "2"):
        assert process("bid", made / "plan", "--out", tmp_path / seed, PYTHONHASHSEED=seed).returncode == 0
        found.append(contents(tmp_path / seed))
        time.sleep(2.1)  # a zip file tells times in steps of two seconds
    assert found[0] == found[1]
    assert set(found[0]) == set(WRITTEN)


# ---- where it must not write


def test_the_folder_of_the_plan_will_do(plan: Path) -> None:
    """Written beside the plan the bid leaves every file of the plan as it is, and once more replaces its own
    alone."""
    before = contents(plan)
    for _ in range(2):
        assert run("bid", plan, "--out", plan).exit_code == 0
        after = contents(plan)
        assert set(after) == set(before) | WRITTEN
        assert {name: after[name] for name in before} == before
        (plan / "bid_sites.csv").write_text("spoiled")


def taken(out: Path) -> None:
    """A table that is not ours."""
    (out / "bid_risk.csv").write_text("mine")


def other_bid(out: Path) -> None:
    """A table beside a bid.json that is not ours."""
    (out / "bid.xlsx").write_text("mine")
    (out / "bid.json").write_text("{}")


def folder_in_the_way(out: Path) -> None:
    """A folder where one of the files should be, seen only when all the others are done."""
    (out / "bid.json").mkdir()


@pytest.mark.parametrize("lay", [taken, other_bid, folder_in_the_way])
def test_files_of_others_are_left_alone(lay: Callable[[Path], None], plan: Path, tmp_path: Path) -> None:
    """A folder that holds what is not ours under one of our names is refused with 2: it stays as it was, and
    nothing half written lies beside it."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    lay(out)
    before = contents(out), sorted(entry.name for entry in tmp_path.iterdir())
    done = run("bid", plan, "--out", out)
    assert done.exit_code == 2 and done.stdout == ""
    assert "Error:" in done.stderr and "Traceback" not in done.output
    assert (contents(out), sorted(entry.name for entry in tmp_path.iterdir())) == before


# ---- when there is no bid


def test_the_help_shows_an_example() -> None:
    """The help holds one example that begins with the command."""
    assert "Example: optibuild bid " in run("bid", "--help").output


@pytest.mark.parametrize(("words", "said"), [
    (("nowhere",), "plan.json"), (("{case}",), "plan.json"),
    (("{plan}", "--site", "banc"), "did you mean 'bank'?"),
    (("{plan}", "--without", "banc"), "did you mean 'bank'?"),
    (("{plan}", "--case", "elsewhere"), "'elsewhere'"),
    (("{plan}", "--out", "{plan}/plan.json"), "is a file"),
])
def test_wrong_usage_ends_with_2(words: tuple[str, ...], said: str, made: Path, plan: Path) -> None:
    """A folder without plan, a site that the plan does not serve, a case that is not there and a file in
    place of a folder end with 2 and a message that says which, wherever its lines are broken; nothing is
    printed or written."""
    before = contents(plan)
    done = run("bid", *(word.format(case=made / "case", plan=plan) for word in words))
    assert done.exit_code == 2 and done.stdout == ""
    assert "".join(said.split()) in "".join(done.stderr.split())
    assert contents(plan) == before


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"format": "optibuild-plan/9"}'])
def test_a_plan_that_cannot_be_read_ends_with_2(text: str, plan: Path) -> None:
    """A plan.json that is none ends with 2 and names the file."""
    (plan / "plan.json").write_text(text)
    done = run("bid", plan)
    assert done.exit_code == 2 and "plan.json" in done.stderr and "Traceback" not in done.output


def test_a_plan_without_trucks_ends_with_2(plan: Path, tmp_path: Path) -> None:
    """Neither a case without a plan nor a plan that leaves out every site can be bid for."""
    case = Path(shutil.copytree(SMALL, tmp_path / "poor"))
    text = (case / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(text.replace("[money]\n", '[money]\nbudget = "1000 USD"\n'))
    assert run("plan", case, "--out", tmp_path / "none").exit_code == 4
    found = from_json((plan / "plan.json").read_text(encoding="utf-8"))
    (plan / "plan.json").write_text(to_json(replace(found, trucks=(), items=())), encoding="utf-8")
    for folder in (tmp_path / "none", plan):
        done = run("bid", folder)
        assert done.exit_code == 2 and done.stdout == ""
        assert "no fleet to work with" in done.stderr


@pytest.mark.parametrize("file", ["case.toml", "season.csv", "contracts.csv", "past_winters.csv"])
def test_a_changed_input_ends_with_6(file: str, made: Path, plan: Path, tmp_path: Path) -> None:
    """Where a file is not what the plan was made from, or is gone, the command ends with 6 and names it; with
    the old bytes at another place `--case` finds them."""
    case = Path(shutil.copytree(made / "case", tmp_path / "moved"))
    moved = run("bid", plan, "--case", case)
    assert moved.exit_code == 0 and moved.stdout == run("bid", plan).stdout
    with open(case / file, "a", encoding="utf-8") as text:
        text.write("\n")
    for _ in range(2):
        done = run("bid", plan, "--case", case, "--out", tmp_path / "out")
        assert done.exit_code == 6 and done.stdout == ""
        assert file in done.stderr and not (tmp_path / "out").exists()
        (case / file).unlink(missing_ok=True)


@pytest.mark.parametrize(("file", "old", "new", "place"), [
    ("case.toml", "[money]\n", '[money]\nprofit_margin = "100 %"\n', "money.profit_margin: '100 %'"),
    ("case.toml", "[crew]\n", '[bid]\nchance_of_loss = "0 %"\n[crew]\n', "bid.chance_of_loss: '0 %'"),
    ("contracts.csv", "400", "-400", "row 2, amount [USD]: '-400'"),
    ("contracts.csv", ",20,", ",-20,", "row 3, cap: '-20'"),
    ("past_winters.csv", "10,4,0", "-10,4,0", "row 2, light: '-10'"),
])
def test_bad_bid_inputs_end_with_3(file: str, old: str, new: str, place: str, made: Path,
                                   tmp_path: Path) -> None:
    """A margin of 100 %, no chance of a loss at all, a negative amount, cap or count are told with their
    place and a remedy, before any plan."""
    case = Path(shutil.copytree(made / "case", tmp_path / "case"))
    text = (case / file).read_text(encoding="utf-8")
    assert old in text
    (case / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    done = run("plan", case, "--out", tmp_path / "out")
    assert done.exit_code == 3 and not (tmp_path / "out").exists()
    said = done.stderr.splitlines()
    assert said[0] == "1 error in the input" and said[2] == file
    assert place in said[3] and "remedy:" in done.stderr


# ---- how wide it is


def enlarged(found: Bid, ident: str) -> Bid:
    """The bid worked by hand with long ids, 9,999,999 USD everywhere, lost or won."""
    def large(row: Any, usd: float, **more: Any) -> Any:
        names = [name for name, value in vars(row).items()
                 if name.endswith("_usd") and isinstance(value, float)]
        return replace(row, **dict.fromkeys(names, usd) | more)

    sites = tuple(
        large(one, 9_999_999.0, site=f"{ident}{n}", cost=large(one.cost, 2_499_999.0),
              prices=tuple(large(row, 9_999_999.0) if row.unit != "season" else
                           large(row, 9_999_999.0, overage_usd=None if row.cap is None else 9_999_999.0)
                           for row in one.prices),
              risks=tuple(large(row, -9_999_999.0) for row in one.risks),
              contract=large(one.contract, -9_999_999.0, profit_margin=-9.999))
        for n, one in enumerate(found.sites))
    whole = large(found.whole, 9_999_999.0, cost=large(found.whole.cost, 2_499_999.0),
                  risks=tuple(large(row, -9_999_999.0) for row in found.whole.risks),
                  contract=large(found.whole.contract, -9_999_999.0, profit_margin=-9.999))
    return replace(found, sites=sites, whole=whole)


@pytest.mark.parametrize("ident", ["a", "warehouse-by-the-rails-", "m" * 23])
def test_no_line_is_wider_than_the_screen(ident: str) -> None:
    """With ids of 24 characters, prices of 9,999,999 USD in every form no line of the bid
    or of a single site is wider than 80 columns, and no number is cut."""
    large = enlarged(bid(PAID), ident)
    saved = tuple(Marginal(site.site, 9_999_999.0, 9_999_999.0, 9_999_999.0) for site in large.sites)
    text = "\n".join([bid_text(large, saved, CASE), *(site_bid_text(site, CASE) for site in large.sites)])
    assert max(map(len, text.splitlines())) <= 80
    assert all(usd in text for usd in ("9,999,999", "-9,999,999", "-999.9"))
    assert isfinite(large.whole.price_usd)

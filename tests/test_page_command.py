"""The command `report`, the files that it reads, and `why --out`."""

import csv
import json
import shutil
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from page_reading import Node, read, table, under

from optibuild.cli import main
from optibuild.errors import UsageError
from optibuild.pipeline import from_json, record_from_json
from optibuild.records import Why
from optibuild.report import FOUND_FILES, collected

SMALL = Path(__file__).parent / "data" / "small"


def run(*call: str | Path, fails: int = 0) -> Result:
    """The command with an exit code that is expected."""
    done = CliRunner().invoke(main, [str(part) for part in call])
    assert done.exit_code == fails, done.output
    return done


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan of the small case, with its bid and its reasons in the same folder and its drill in another."""
    folder = tmp_path_factory.mktemp("page")
    run("plan", SMALL, "--out", folder / "plan")
    run("bid", folder / "plan", "--out", folder / "plan")
    run("why", folder / "plan", "--out", folder / "plan")
    run("drill", folder / "plan", "--out", folder / "drill")
    return folder


@pytest.fixture
def folder(asked: Path, tmp_path: Path) -> Path:
    """A copy to work on."""
    shutil.copytree(asked, tmp_path / "page")
    return tmp_path / "page"


def sections(path: Path) -> dict[str, Node]:
    """The sections of a page by their anchors."""
    return {node.attributes["id"]: node for node in read(path.read_text(encoding="utf-8")).all("section")}


def test_report_shows_what_was_asked_of_the_plan(folder: Path) -> None:
    """Bid and reasons in the folder of the plan, the drill in another one: all are on the page, in order, and
    a price, an entry price and a late minute are those of the JSON files, whose sha256 the page names."""
    told = run("report", folder / "plan", "--with", folder / "drill").stderr
    assert "".join(told.split()) == (
        f"Writtento{folder / 'plan'}:report.html,sheets.html,withbid.json,why.json,drill.json.")
    found = sections(folder / "plan" / "report.html")
    assert list(found) == ["answer", "map", "loops", "axles", "money", "bid", "binds", "changes", "drill",
                           "assumptions", "cautions", "provenance"]
    bid, why, drill = (json.loads((folder / name).read_text(encoding="utf-8"))
                       for name in ("plan/bid.json", "plan/why.json", "drill/drill.json"))
    prices = table(under(found["bid"], "Price of a season"))[2]
    assert [row[1] for row in prices] == [*(row["price_usd"] for row in bid["sites"]),
                                          bid["totals"]["price_usd"]]
    entries = table(under(found["changes"], "Items that the plan does not use"))
    assert [row[0] for row in entries[1]] == [row["item"] for row in why["items"]]
    at = entries[0].index("price [USD]")
    assert [row[at] for row in entries[2]] == [row["price_usd"] for row in why["items"]]
    spares = table(under(found["drill"], "One spare truck, over all losses"))[2]
    assert [row[1] for row in spares] == [row["price_usd"] for row in drill["spares"]]
    read_beside = table(under(found["provenance"], "Results read beside the plan"))[1]
    assert read_beside == [[path.name, sha256(path.read_bytes()).hexdigest()] for path in (
        folder / "plan" / "bid.json", folder / "drill" / "drill.json", folder / "plan" / "why.json")]
    # no table stands twice: the risks are behind their chart alone
    labels = [node.attributes["aria-label"] for node in found["bid"].all("div", class_="scroll")]
    heads = [table(node)[0] for node in found["bid"].all("div", class_="scroll")]
    assert len(labels) == len({*labels})
    assert len([head for head in heads if "chance of loss [%]" in head]) == 1


def test_page_of_the_plan_alone_tells_what_else_may_be_asked(folder: Path) -> None:
    """Without these files the page has the plan's own prices and names the commands."""
    for name in ("bid.json", "why.json"):
        (folder / "plan" / name).unlink()
    run("report", folder / "plan")
    found = sections(folder / "plan" / "report.html")
    assert "drill" not in found
    assert "optibuild bid" in found["bid"].text and "optibuild why" in found["changes"].text


def test_files_of_another_plan_are_refused(folder: Path) -> None:
    """Reasons of another search, a bid in which a site costs a dollar more, and one for other sites end the
    command; the page is not written."""
    why, bid = folder / "plan" / "why.json", folder / "plan" / "bid.json"
    (folder / "plan" / "report.html").unlink()
    tree = json.loads(why.read_text(encoding="utf-8"))
    tree["of_plan"]["outcome"]["seconds"] += 1.0
    why.write_text(json.dumps(tree), encoding="utf-8")
    told = run("report", folder / "plan", fails=2).stderr
    assert "why.json is of another plan; run `optibuild why` again" in " ".join(told.split())
    why.unlink()
    tree = json.loads(bid.read_text(encoding="utf-8"))
    tree["sites"][0]["cost"]["service_usd"] += 1.0
    bid.write_text(json.dumps(tree), encoding="utf-8")
    assert "bid.json is of another plan" in " ".join(run("report", folder / "plan", fails=2).stderr.split())
    tree["sites"][0]["cost"]["service_usd"] -= 1.0
    tree["sites"].pop()
    bid.write_text(json.dumps(tree), encoding="utf-8")
    assert "bid.json is of another plan" in " ".join(run("report", folder / "plan", fails=2).stderr.split())
    assert not (folder / "plan" / "report.html").exists()


def test_a_comparison_and_a_frontier_of_another_case_are_refused(folder: Path) -> None:
    """Both are taken beside the plan of their case, and a comparison beside the plan of a variation, whose
    variations.toml is no file of the case; with another sites.csv each ends the command, which names the one
    that mends it."""
    case = Path(shutil.copytree(SMALL, folder / "case"))
    (case / "variations.toml").write_text(
        '[[variation]]\nname = "dear"\nset = { "money.wage" = "30 USD/h" }\n', encoding="utf-8")
    run("vary", case, "--out", folder / "more")
    run("frontier", case, "--key", "drivers", "--out", folder / "more")
    for plan in (folder / "plan", folder / "more" / "plans" / "base", folder / "more" / "plans" / "dear"):
        told = run("report", plan, "--with", folder / "more").stderr
        assert "".join(told.split()).endswith("vary.json,frontier_drivers.json.")
    for name, command in (("frontier_drivers.json", "frontier --key drivers"), ("vary.json", "vary")):
        path = folder / "more" / name
        tree = json.loads(path.read_text(encoding="utf-8"))
        tree["case"]["inputs"]["sites.csv"] = "00"
        path.write_text(json.dumps(tree), encoding="utf-8")
        for plan in ("plan", "more/plans/dear"):
            told = " ".join(run("report", folder / plan, "--with", folder / "more", fails=2).stderr.split())
            assert f"{name} is of another case; run `optibuild {command}` again" in told
        path.unlink()


@pytest.mark.parametrize(("text", "said"), [
    ("{", "this is no drill: not readable as JSON"),
    ('{"format": "optibuild-drill/9"}', "this is no drill: it does not carry the format optibuild-drill/1"),
    ('{"format": "optibuild-drill/1"}', "this is no drill: the file lacks of_plan"),
])
def test_what_is_no_drill_is_named(folder: Path, text: str, said: str) -> None:
    """A file that is not what its name says ends the command with what is wrong with it."""
    (folder / "drill" / "drill.json").write_text(text, encoding="utf-8")
    told = run("report", folder / "plan", "--with", folder / "drill", fails=2).stderr
    assert said in " ".join(told.split())


def test_a_folder_without_results_is_refused(folder: Path) -> None:
    """--with names a folder that holds nothing of ours."""
    (folder / "empty").mkdir()
    told = run("report", folder / "plan", "--with", folder / "empty", fails=2).stderr
    assert "holds none of bid.json, why.json, drill.json, vary.json" in " ".join(told.split())


def test_a_page_of_somebody_else_is_left_alone(folder: Path) -> None:
    """Where plan.json is not ours there is no plan to draw, and what lies there stays."""
    (folder / "other").mkdir()
    (folder / "other" / "report.html").write_text("mine", encoding="utf-8")
    run("report", folder / "other", fails=2)
    assert (folder / "other" / "report.html").read_text(encoding="utf-8") == "mine"


def test_sheets_have_the_prices_of_the_bid_where_a_form_is_asked_for(tmp_path: Path) -> None:
    """The bank asks for a price by the event: its sheet waits for it until there is a bid, then has the
    figure of bid.json to the cent; a bid of another plan is refused and the sheets stay as they are."""
    case, plan = tmp_path / "case", tmp_path / "plan"
    shutil.copytree(SMALL, case)
    (case / "sites.csv").write_text((case / "sites.csv").read_text(encoding="utf-8").replace(
        'season,"9,000"', ","), encoding="utf-8")
    (case / "contracts.csv").write_text("site,form,amount [USD]\nbank,event,\n", encoding="utf-8")
    run("plan", case, "--out", plan)

    def bank() -> str:
        document = read((plan / "sheets.html").read_text(encoding="utf-8"))
        return next(" ".join(node.text.split()) for node in document.all("section", data_sheet="site")
                    if "Invented Bank" in node.text)

    run("report", plan)
    assert "for an event: price to follow" in bank()
    run("bid", plan, "--out", plan)
    run("report", plan)
    sites = json.loads((plan / "bid.json").read_text(encoding="utf-8"))["sites"]
    event = next(line["price_usd"] for row in sites if row["site"] == "bank" for line in row["prices"]
                 if line["form"] == "event")
    assert f"an event{event:,.2f}" in bank() and "to follow" not in bank()
    told = (plan / "bid.json").read_text(encoding="utf-8").replace('"service_usd": ', '"service_usd": 1')
    (plan / "bid.json").write_text(told, encoding="utf-8")
    run("report", plan, fails=2)
    assert f"an event{event:,.2f}" in bank()


def test_results_read_back_are_the_same_document(asked: Path) -> None:
    """Bid, reasons and drill as records hold every figure of their files."""
    trees, records = {}, {}
    for row in FOUND_FILES[:3]:
        text = (asked / ("drill" if row.word == "drill" else "plan") / row.name).read_text(encoding="utf-8")
        trees[row.name] = json.loads(text)
        records[row.name] = record_from_json(row.kind, text, row.format, row.word)
    plan = from_json((asked / "plan" / "plan.json").read_text(encoding="utf-8"))
    found = collected(records, plan)
    assert found.bid and found.why and found.drill
    bid = trees["bid.json"]
    assert [row.cost.bid_usd for row in found.bid.sites] == [row["cost_usd"] for row in bid["sites"]]
    assert found.bid.whole.cost.bid_usd == bid["totals"]["cost_usd"]
    assert [row.most_usd for row in found.marginal] == [row["marginal"]["most_usd"] for row in bid["sites"]]
    assert [row.left for row in found.why.loops] == [row["left"] for row in trees["why.json"]["loops"]]
    assert [row.left.late_min for row in found.drill.lost] == [
        row["left"]["late_min"] for row in trees["drill.json"]["lost"]]


def test_a_record_of_the_wrong_shape_is_named() -> None:
    """The first field that is missing or of another kind is named with its place."""
    with pytest.raises(UsageError, match="this is no list of reasons: the file lacks"):
        record_from_json(Why, '{"format": "x"}', "x", "list of reasons")


def test_why_writes_what_it_prints(folder: Path) -> None:
    """why.json is what --json prints, each table is a CSV, and all are sheets of one workbook."""
    written = json.loads((folder / "plan" / "why.json").read_text(encoding="utf-8"))
    assert written == json.loads(run("why", folder / "plan", "--json").stdout)
    rows = list(csv.DictReader((folder / "plan" / "why_loops.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["truck"] for row in rows] == [str(row["truck_no"]) for row in written["loops"]]
    assert (folder / "plan" / "why.xlsx").read_bytes()[:2] == b"PK"
    assert not (folder / "plan" / "why_confirmed.csv").exists()

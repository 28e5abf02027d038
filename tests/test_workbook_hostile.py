"""Workbooks whose parts disagree: whatever a library would believe is refused, in little memory."""

import subprocess
import sys
from pathlib import Path

import pytest
from books import read
from hostile_books import READ, REFUSED, by_hand, cell, sharing, texts, with_part, zipped

from optibuild.inputs.reading import workbook_guard, workbook_sheet
from optibuild.inputs.reading.raw_table import Marked

TEXTS = "xl/sharedStrings.xml"
MOST_MB = 300
# the most memory that reading all of them took beyond what starting takes, in MB
MEASURE = """
import resource, sys
from pathlib import Path
from optibuild.inputs.reading.files import SourceFile
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.workbook import open_workbook
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in sys.argv[1:]:
    open_workbook(SourceFile("book.xlsx", Path(path).read_bytes(), ""), Collector())
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000)
"""


@pytest.mark.parametrize("name", REFUSED)
def test_what_parts_hide_is_refused(name: str) -> None:
    """Each is one problem of the whole workbook, with what is wrong and what to do, and never a traceback."""
    maker, code, word = REFUSED[name]
    table, problems = read(maker())
    assert table is None
    assert [(problem.code, problem.places[0].file) for problem in problems] == [(code, "book.xlsx")]
    assert word in problems[0].text and problems[0].remedy and problems[0].expected


@pytest.mark.parametrize("name", READ)
def test_what_is_only_odd_is_read(name: str) -> None:
    """Blank rows cost nothing, and what belongs to other programs may be written in any way."""
    table, problems = read(READ[name]())
    assert table is not None and problems == []
    assert table.headings == ("id", "name") and table.rows == ((2, ["1", ""]),)


def test_none_of_them_takes_much_memory(tmp_path: Path) -> None:
    """All of them, some of which would unpack to GB, are dealt with in 300 MB."""
    for number, make in enumerate([*(row[0] for row in REFUSED.values()), *READ.values()]):
        (tmp_path / f"{number}.xlsx").write_bytes(make())
    done = subprocess.run([sys.executable, "-W", "error", "-c", MEASURE, *tmp_path.iterdir()], text=True,
                          capture_output=True, timeout=300)
    assert (done.returncode, done.stderr) == (0, "")
    assert float(done.stdout) < MOST_MB


def test_many_small_parts_are_counted_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where 2 MB are the most, two parts of 0.9 MB may be unpacked, three may not."""
    monkeypatch.setattr(workbook_guard, "MOST_UNPACKED", 2_000_000)
    parts = {f"xl/media/{number}.png": bytes(900_000) for number in range(3)}
    assert [problem.code for problem in read(zipped({**by_hand(), **parts}))[1]] == ["file.unsafe"]
    parts.popitem()
    assert read(zipped({**by_hand(), **parts}))[1] == []


def test_a_long_text_in_few_cells_is_read() -> None:
    """A text of a million letters in two cells beside 2,000 short ones makes 2 million, which is little."""
    rows = sharing(2000, 0) + "".join(cell(f"B{row}", "<v>1</v>", t="s") for row in (2001, 2002))
    table, problems = read(with_part(TEXTS, texts(3, 1_000_000), rows))
    assert table is not None and problems == []
    assert table.rows[0] == (2, ["xxx", ""])
    assert [len(cells[1]) for _, cells in table.rows[-2:]] == [10**6, 10**6]


@pytest.mark.parametrize(("rows", "of_sheet"), [
    ("".join(cell(f"A{row}", "<v>#N/A</v>", t="e") for row in range(2, 13)), {}),
    ("".join(cell(f"A{row}", "<f>1+1</f>") for row in range(2, 13)), {}),
    (cell("A2"), {"after": "<mergeCells>" + '<mergeCell ref="A1:B1"/>' * 11 + "</mergeCells>"}),
    (cell("A2"), {"before": "<cols>" + '<col min="1" max="9" hidden="1"/>' * 11 + "</cols>"})])
def test_more_special_cells_than_problems_are_too_many(rows: str, of_sheet: dict[str, str],
                                                       monkeypatch: pytest.MonkeyPatch) -> None:
    """Where ten errors, formulas, merged or hidden ranges are the most, eleven end the reading."""
    monkeypatch.setattr(workbook_sheet, "MOST_SPECIAL", 11)
    assert "file.large" not in [problem.code for problem in read(zipped(by_hand(rows, **of_sheet)))[1]]
    monkeypatch.setattr(workbook_sheet, "MOST_SPECIAL", 10)
    assert [problem.code for problem in read(zipped(by_hand(rows, **of_sheet)))[1]] == ["file.large"]


def test_a_truth_in_pieces_of_text_is_still_text() -> None:
    """A text may hold codes and begin with digits where it is no number's cell: only values are looked at."""
    table, problems = read(zipped(by_hand(cell("A2", "<is><t>1&#50;</t></is>", t="inlineStr"))))
    assert table is not None and problems == [] and table.rows == ((2, ["12", ""]),)
    assert not any(isinstance(one, Marked) for one in table.rows[0][1])

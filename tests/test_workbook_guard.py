"""Workbooks that are damaged, or made to do harm: told in one line, at little cost, and never a traceback."""

import subprocess
import sys
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from random import Random
from struct import pack_into
from zipfile import ZIP_BZIP2, ZIP_DEFLATED, ZIP_STORED, ZipFile

import pytest
from books import parts_of, read, saved, sheet_xml, small_book, zipped

from optibuild.inputs import check_case

SHEET1 = "xl/worksheets/sheet1.xml"
HEADING = '<row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c></row>'
PLAIN = parts_of({"sites": HEADING})
MOST_SECONDS, MOST_MB = 20.0, 400.0
MEASURE = """
import resource, sys, time
from pathlib import Path
from optibuild.inputs.reading.files import SourceFile
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.workbook import open_workbook
content, collector = Path(sys.argv[1]).read_bytes(), Collector()
before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
book = open_workbook(SourceFile("book.xlsx", content, ""), collector)
tables = [book.table(name, collector) for name in book.sheet_names[:1]] if book else []
print(time.process_time() - start, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000,
      *sorted({problem.code for problem in collector.problems}))
"""


def codes(content: bytes) -> set[str]:
    """The codes of what is told of a workbook."""
    return {problem.code for problem in read(content)[1]}


def with_part(name: str, part: bytes, parts: Mapping[str, bytes] = PLAIN) -> bytes:
    """A small workbook with one part more, or another one."""
    return zipped({**parts, name: part})


def zeros(name: str, megabytes: int) -> bytes:
    """A small workbook with a part of so many MB of zeros, which are packed into less than a thousandth."""
    content = BytesIO(zipped(PLAIN))
    with ZipFile(content, "a", ZIP_DEFLATED, compresslevel=1) as book, book.open(name, "w") as part:
        for _ in range(megabytes):
            part.write(bytes(1_000_000))
    return content.getvalue()


def lying(content: bytes) -> bytes:
    """The last part of a zip says in both of its headers that it unpacks to 10 bytes (PKWARE APPNOTE 4.3)."""
    changed = bytearray(content)
    central = changed.rfind(b"PK\x01\x02")
    pack_into("<I", changed, central + 24, 10)
    pack_into("<I", changed, int.from_bytes(changed[central + 42:central + 46], "little") + 22, 10)
    return bytes(changed)


def test_the_small_workbook_of_these_tests_is_read() -> None:
    """What is spoiled below is read without a word before it is spoiled."""
    found, problems = read(zipped(PLAIN))
    assert found is not None and found.headings == ("id",) and not problems


@pytest.mark.parametrize(("content", "said"), [
    (b"", "no workbook"), (b"id,area\na,1\n", "no workbook"), (b"\xd0\xcf\x11\xe0" + bytes(600), "password"),
    (zipped({"a.txt": b"a"}), "no workbook"), (zipped(PLAIN)[:-30], "no workbook"),
    (zipped(PLAIN)[:200], "no workbook")])
def test_what_is_no_workbook_is_told_so(content: bytes, said: str) -> None:
    """An empty file, text, an encrypted or old file, another zip and half a workbook are told as such."""
    found, problems = read(content)
    assert found is None and [problem.code for problem in problems] == ["file.workbook"]
    assert said in problems[0].text and problems[0].remedy


@pytest.mark.parametrize("name", ["xl/workbook.xml", "xl/_rels/workbook.xml.rels", SHEET1])
def test_a_workbook_without_a_needed_part_is_told(name: str) -> None:
    """A part that is not there makes one line, and no traceback."""
    assert codes(zipped({other: part for other, part in PLAIN.items() if other != name})) == {"file.workbook"}


@pytest.mark.parametrize("part", [
    b"<worksheet", b"<worksheet><sheetData><row r='1'><c r='A1'><v>1</v></c></sheetData></worksheet>",
    PLAIN[SHEET1].replace(b'r="A1"', b'r="A0"'), PLAIN[SHEET1].replace(b'r="A1"', b'r="1"'),
    PLAIN[SHEET1].replace(b'r="A1"', b'r="A99999999999999999999"'), PLAIN[SHEET1].replace(b"id", b"\xff")])
def test_a_sheet_that_is_no_proper_xml_is_refused(part: bytes) -> None:
    """Tags that are not closed, cells that stand nowhere and bytes that are no UTF-8 are never guessed at."""
    found, problems = read(with_part(SHEET1, part))
    assert found is None and {problem.code for problem in problems} <= {"file.workbook", "file.large"}
    assert problems


@pytest.mark.parametrize("compression", [ZIP_BZIP2])
def test_a_part_packed_in_another_way_is_refused(compression: int) -> None:
    """Spreadsheets store or deflate parts, nothing else."""
    content = BytesIO()
    with ZipFile(content, "w", compression) as book:
        for name, part in PLAIN.items():
            book.writestr(name, part)
    assert codes(content.getvalue()) == {"file.workbook"}


DECLARED = '<?xml version="1.0" encoding="UTF-16"?>'


@pytest.mark.parametrize(("name", "part"), [
    (SHEET1, b'<!DOCTYPE x [<!ENTITY a "' + b"a" * 100 + b'">]>' + PLAIN[SHEET1]),
    ("xl/sharedStrings.xml", b'<!DOCTYPE sst SYSTEM "file:///etc/passwd"><sst/>'),
    ("docProps/core.xml", b"\xef\xbb\xbf  <!DOCTYPE x><x/>"),
    ("custom.bin", b'<?xml version="1.0"?><!DOCTYPE x><x/>')])
def test_declared_entities_are_refused(name: str, part: bytes) -> None:
    """No part may declare a document type, whatever its name: entities make a small text a huge one."""
    assert codes(with_part(name, part)) == {"file.unsafe"}


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32", "utf-7", "cp037"])
def test_parts_in_other_encodings_are_refused(encoding: str) -> None:
    """A document type written in another encoding is not overlooked: only UTF-8 is read."""
    text = DECLARED.replace("UTF-16", encoding) + '<!DOCTYPE x [<!ENTITY a "b">]>' + PLAIN[SHEET1].decode()
    found, problems = read(with_part(SHEET1, text.encode(encoding)))
    assert found is None and {problem.code for problem in problems} <= {"file.unsafe", "file.workbook"}
    assert problems


@pytest.mark.parametrize("name", ["../a.xml", "/a.xml", "xl/../../a.xml", "C:/a.xml", "..\\a.xml"])
def test_parts_outside_the_workbook_are_refused(name: str) -> None:
    """No part's name may lead out of the zip."""
    assert codes(with_part(name, b"<a/>")) == {"file.unsafe"}


@pytest.mark.parametrize("name", [SHEET1, SHEET1.upper()])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_parts_of_one_name_are_refused(name: str) -> None:
    """Which of two parts a program reads is its own choice, so neither is."""
    content = BytesIO(zipped(PLAIN))
    with ZipFile(content, "a") as book:
        book.writestr(name, PLAIN[SHEET1])
    assert codes(content.getvalue()) == {"file.unsafe"}


def test_too_many_parts_are_refused() -> None:
    """2,000 parts are more than any workbook has."""
    assert codes(zipped({**PLAIN, **{f"xl/media/{n}.png": b"" for n in range(2001)}})) == {"file.unsafe"}


def test_pictures_macros_and_links_are_left_alone() -> None:
    """A picture that is XML with a document type, a macro and a link to another file change nothing."""
    parts = {**PLAIN, "xl/media/image1.svg": b'<!DOCTYPE svg><svg xmlns="x"/>',
             "xl/vbaProject.bin": b"\xd0\xcf", "xl/externalLinks/externalLink1.xml": b"<externalLink/>"}
    assert read(zipped(parts)) == read(zipped(PLAIN))


def test_a_table_wider_than_any_is_refused() -> None:
    """1,000 columns are read, 1,001 are not."""
    def row(count: int) -> str:
        cells = "<c><v>1</v></c>" * count
        return f"<row>{cells}</row>"

    found, _ = read(zipped(parts_of({"sites": row(1000)})))
    assert found is not None and len(found.headings) == 1000
    assert codes(zipped(parts_of({"sites": row(1001)}))) == {"file.large"}


def test_blank_cells_far_out_do_not_count() -> None:
    """A formatted cell without a value in the last column and row of a sheet is no part of the table."""
    far = '<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    found, problems = read(zipped(parts_of({"sites": HEADING + far})))
    assert found is not None and found.headings == ("id",) and not found.rows and not problems


FAR = '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
BEFORE = '<dimension ref="A1:XFD1048576"/><cols><col min="1" max="16384" width="9" hidden="1"/></cols>'
AFTER = '<mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
HOSTILE: dict[str, tuple[Callable[[], bytes], set[str]]] = {
    "zeros in a sheet": (lambda: zeros("xl/worksheets/sheet2.xml", 700), {"file.unsafe"}),
    "zeros in a picture": (lambda: zeros("xl/media/image1.png", 300), {"file.unsafe"}),
    "zeros that lie": (lambda: lying(zeros("xl/media/image1.png", 300)), {"file.unsafe"}),
    "a cell far out": (lambda: zipped(parts_of({"sites": HEADING + FAR})), {"file.large"}),
    "cells far out in two directions": (lambda: zipped(parts_of({"sites": HEADING + (
        '<row r="2"><c r="ALL2"><v>1</v></c></row><row r="900000"><c r="A900000"><v>1</v></c></row>')})),
        {"file.large"}),
    "a huge extent": (lambda: with_part(SHEET1, sheet_xml(HEADING, AFTER, BEFORE).encode()),
                      {"sheet.merged", "sheet.hidden"}),
    "2 million rows without cells": (lambda: zipped(parts_of({"sites": HEADING + "<row/>" * 2_000_000})),
                                     {"file.unsafe"}),
    "500,000 hidden rows": (lambda: zipped(parts_of({"sites": HEADING + "".join(
        f'<row r="{n}" hidden="1"/>' for n in range(2, 500_000))})), set()),
    "deep XML": (lambda: with_part(SHEET1, sheet_xml(HEADING, "<x>" * 200_000 + "</x>" * 200_000).encode()),
                 set()),
    "1,900 sheets": (lambda: zipped(parts_of({f"s{n}": HEADING for n in range(1900)})), set()),
    "a long tag": (lambda: with_part(SHEET1, sheet_xml(HEADING, f'<x a="{"a" * 9_000_000}"/>').encode()),
                   set()),
    "a count of texts that lies": (lambda: with_part(
        "xl/sharedStrings.xml", b'<sst xmlns="x" uniqueCount="4294967295"/>'), {"file.unsafe"}),
    "a long shared text": (lambda: with_part(
        "xl/sharedStrings.xml", b'<sst xmlns="x"><si><t>' + b"a" * 9_000_000 + b"</t></si></sst>", parts_of(
            {"sites": HEADING + "<row>" + '<c t="s"><v>0</v></c>' * 900 + "</row>"})), {"file.large"}),

}


@pytest.mark.parametrize("name", sorted(HOSTILE))
def test_a_hostile_workbook_costs_little(name: str, tmp_path: Path) -> None:
    """Bombs and extents that are far larger than the file take seconds and some MB, and are told."""
    make, told = HOSTILE[name]
    path = tmp_path / "book.xlsx"
    path.write_bytes(make())
    assert path.stat().st_size < 20_000_000
    ended = subprocess.run([sys.executable, "-c", MEASURE, path], capture_output=True, text=True, timeout=120)
    assert ended.returncode == 0, ended.stderr
    seconds, megabytes, *found = ended.stdout.split()
    assert set(found) == told
    assert float(seconds) < MOST_SECONDS and float(megabytes) < MOST_MB


def test_flipped_bytes_never_end_in_a_traceback(tmp_path: Path) -> None:
    """Of 60 workbooks with three flipped bytes each one is either read or told, whatever was hit."""
    content = saved(small_book())
    stored = BytesIO()
    with ZipFile(BytesIO(content)) as old, ZipFile(stored, "w", ZIP_STORED) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    rng, told = Random(5), 0
    for whole in (content, stored.getvalue()) * 30:
        changed = bytearray(whole)
        for _ in range(3):
            changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
        (tmp_path / "book.xlsx").write_bytes(changed)
        case, problems = check_case(tmp_path / "book.xlsx")
        assert case is not None or problems
        told += case is None
    assert told > 30

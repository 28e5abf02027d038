"""Workbooks for tests: of a case's tables by openpyxl, and of parts written out by hand."""

import csv
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl import Workbook

from optibuild.errors import Problem
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.files import SourceFile
from optibuild.inputs.reading.raw_table import RawTable
from optibuild.inputs.reading.workbook import open_workbook

SMALL = Path(__file__).parent / "data" / "small"
TABLES = sorted(path.stem for path in SMALL.glob("*.csv"))
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_LINK_TYPE = "application/vnd.openxmlformats-package.relationships+xml"
_BOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"


def rows_of(table: str) -> list[list[str]]:
    """A table of the small case, as text."""
    with open(SMALL / f"{table}.csv", encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def key_rows() -> list[list[Any]]:
    """The keys of the small case, under the headings of a sheet `case`."""
    tree = tomllib.loads((SMALL / "case.toml").read_text(encoding="utf-8"))
    found = [[name, value] for name, value in tree.items() if not isinstance(value, dict)]
    for section, keys in tree.items():
        if isinstance(keys, dict):
            found += [[f"{section}.{name}", value] for name, value in keys.items()]
    return [["key", "value"], *found]


def typed(text: str) -> Any:
    """What somebody who types the text into a spreadsheet gets: a number where it looks like one."""
    try:
        return float(text.replace(",", "")) if text else None
    except ValueError:
        return text


def small_book() -> Workbook:
    """The small case as one workbook, its numbers as numbers."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in {"case": key_rows(), **{table: rows_of(table) for table in TABLES}}.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([typed(cell) if isinstance(cell, str) else cell for cell in row])
    return book


def saved(book: Workbook) -> bytes:
    """The bytes of a workbook."""
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def book_of(rows: Iterable[Sequence[Any]], name: str = "sites") -> Workbook:
    """A workbook of one sheet."""
    book = Workbook()
    book.worksheets[0].title = name
    for row in rows:
        book.worksheets[0].append(row)
    return book


def parts_of(sheets: Mapping[str, str]) -> dict[str, bytes]:
    """The parts of a workbook whose sheets' rows are written out: `<row r="1">...</row>`."""
    numbered = list(enumerate(sheets, start=1))
    listed = "".join(f'<sheet name="{name}" sheetId="{n}" r:id="rId{n}"/>' for n, name in numbered)
    links = "".join(f'<Relationship Id="rId{n}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>'
                    for n, _ in numbered)
    types = "".join(f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_SHEET_TYPE}"/>'
                    for n, _ in numbered)
    texts = {
        "[Content_Types].xml":
            f'<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" ContentType="{_LINK_TYPE}"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_BOOK_TYPE}"/>{types}</Types>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
                       f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml":
            f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels":
            f'<Relationships xmlns="{_PACKAGE}/relationships">{links}</Relationships>',
        **{f"xl/worksheets/sheet{n}.xml": sheet_xml(sheets[name]) for n, name in numbered}}
    return {name: text.encode() for name, text in texts.items()}


def sheet_xml(rows: str, after: str = "", before: str = "") -> str:
    """A sheet's part of its rows, with what stands before and after them."""
    return f'<worksheet xmlns="{_MAIN}">{before}<sheetData>{rows}</sheetData>{after}</worksheet>'


def zipped(parts: Mapping[str, bytes]) -> bytes:
    """Parts to the bytes of a workbook."""
    content = BytesIO()
    with ZipFile(content, "w", ZIP_DEFLATED) as book:
        for name, part in parts.items():
            book.writestr(name, part)
    return content.getvalue()


def read(content: bytes, sheet: str = "sites") -> tuple[RawTable | None, list[Problem]]:
    """A sheet of a workbook as a raw table, and every problem on the way."""
    collector = Collector()
    book = open_workbook(SourceFile("book.xlsx", content, ""), collector)
    found = book.find(sheet) if book else None
    return (book.table(found, collector) if book and found else None), collector.problems

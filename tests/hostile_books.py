"""Workbooks whose parts disagree or hide something, made to fill the memory or to be misread."""

import re
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from zipfile import ZipFile

from books import parts_of, sheet_xml, zipped

Maker = Callable[[], bytes]
SHEET, STYLES, TEXTS = "xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/sharedStrings.xml"
HEADING = '<row r="1"><c r="A1" t="str"><v>id</v></c><c r="B1" t="str"><v>name</v></c></row>'


def by_hand(rows: str = "", **of_sheet: str) -> dict[str, bytes]:
    """The parts of a workbook with the sheet `sites`: headings id and name, and these rows."""
    return {**parts_of({"sites": ""}), SHEET: sheet_xml(HEADING + rows, **of_sheet).encode()}


def one_cell(inside: str, **attributes: str) -> bytes:
    """A workbook with one cell below its heading."""
    return zipped(by_hand(cell("A2", inside, **attributes)))


def with_part(name: str, part: bytes, rows: str = "") -> bytes:
    """A good workbook with one part more, or another one."""
    return zipped({**by_hand(rows), name: part})


def cell(address: str, inside: str = "<v>1</v>", **attributes: str) -> str:
    """One cell in its row."""
    said = "".join(f' {name}="{value}"' for name, value in attributes.items())
    return f'<row r="{re.sub("[A-Z]", "", address)}"><c r="{address}"{said}>{inside}</c></row>'


def texts(*lengths: int) -> bytes:
    """The part of shared texts, of so many letters each."""
    listed = "".join(f"<si><t>{'x' * length}</t></si>" for length in lengths)
    return f'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">{listed}</sst>'.encode()


def sharing(count: int, index: int) -> str:
    """Rows whose cells share one text."""
    return "".join(cell(f"A{row}", f"<v>{index}</v>", t="s") for row in range(2, 2 + count))


def lying(shown: int, check_sum_too: bool) -> bytes:
    """A sheet that goes on for 9 MB of blanks behind the size that the zip tells of it."""
    parts = by_hand(cell("A2"))
    whole = parts[SHEET] + b" " * 9_000_000
    content = zipped({**parts, SHEET: whole})
    told = ZipFile(BytesIO(content)).getinfo(SHEET)
    check = zlib.crc32(whole[:shown]) if check_sum_too else told.CRC
    return content.replace(struct.pack("<III", told.CRC, told.compress_size, told.file_size),
                           struct.pack("<III", check, told.compress_size, shown))


def locked() -> bytes:
    """A zip whose parts are marked as encrypted, as zip programs do it."""
    return re.sub(b"(PK\x03\x04..|PK\x01\x02....)\x00", rb"\1" + b"\x01", zipped(by_hand()), flags=re.DOTALL)


def two_sheets(old: str, new: str) -> bytes:
    """The sheets sites and depots, the parts of which are spoiled."""
    parts = parts_of({"sites": HEADING, "depots": HEADING})
    return zipped({name: part.replace(old.encode(), new.encode()) for name, part in parts.items()})


def many_styles() -> bytes:
    """Styles of 60 MB, which are no bomb for their size alone: they do not pack that well."""
    return with_part(STYLES, b"<a>" + b"".join(b"<b%d%s/>" % (n * 7919 % 99_991, b"x" * 500)
                                               for n in range(120_000)) + b"</a>")


# what it is -> how it is made, the problem's code, a word of the problem
REFUSED: dict[str, tuple[Maker, str, str]] = {
    "a size and check sum that lie": (lambda: lying(len(by_hand(cell("A2"))[SHEET]), True),
                                      "file.workbook", "damaged"),
    "a size that lies": (lambda: lying(1000, False), "file.unsafe", "unpacks"),
    "styles of 60 MB": (many_styles, "file.unsafe", "unpacks"),
    "two sheets of one name": (lambda: two_sheets('name="depots"', 'name="sites"'), "file.unsafe", "two"),
    "two sheets of one part": (lambda: two_sheets("sheet2.xml", "sheet1.xml"), "file.unsafe", "two"),
    "two sheets of one link": (lambda: two_sheets('r:id="rId2"', 'r:id="rId1"'), "file.unsafe", "two"),
    "a sheet in another place": (lambda: two_sheets('Target="worksheets/sheet1', 'Target="https://x.invalid/a'),
                                 "file.workbook", "sites"),
    "styles a million deep": (lambda: with_part(STYLES, b"<a>" * 1_000_000), "file.unsafe", "deep"),
    "a sheet a million deep": (lambda: zipped(by_hand("<f>" * 1_000_000)), "file.unsafe", "deep"),
    "a long text in many cells": (lambda: with_part(TEXTS, texts(1, 1_000_000), sharing(2000, 1)),
                                  "file.large", "more text"),
    "a long text in cells that are hard to find": (
        lambda: with_part(TEXTS, texts(1, 1_000_000), sharing(2000, 1).replace(' t="s"', "\tt\n=\n's'")),
        "file.large", "more text"),
    "a formula in the last cell": (lambda: zipped(by_hand(cell("XFD1048576", "<f>1</f>"))),
                                   "file.large", "row"),
    "an error in the last cell": (lambda: zipped(by_hand(cell("XFD1048576", t="e"))), "file.large", "row"),
    "a row of thirty digits": (lambda: zipped(by_hand(cell("A" + "9" * 30))), "file.large", "row"),
    "a row of five thousand digits": (lambda: zipped(by_hand(cell("A" + "9" * 5000))), "file.workbook", ""),
    "a number and a comment": (lambda: one_cell("<v>1<!-- 0 -->2</v>"), "file.workbook", "pieces"),
    "a number and a code": (lambda: one_cell("<v>1&#50;</v>"), "file.workbook", "pieces"),
    "a number set apart": (lambda: one_cell("<v><![CDATA[12]]></v>"), "file.workbook", "pieces"),
    "a number and an order": (lambda: one_cell("<v>1<?a b?>2</v>"), "file.workbook", "pieces"),
    "a text that is not there": (lambda: with_part(TEXTS, texts(1), sharing(1, 7)),
                                 "file.workbook", "damaged"),
    "a password of the zip": (locked, "file.workbook", "damaged"),
}

# what it is -> how it is made: odd, but harmless, and read
READ: dict[str, Maker] = {
    "many blank rows": lambda: zipped(by_hand(
        cell("A2") + "".join(f'<row r="{n}" ht="15"/>' for n in range(900_000, 1_048_577)))),
    "a stored query in UTF-16": lambda: with_part(
        "customXml/item1.xml", '<?xml version="1.0" encoding="utf-16"?><q/>'.encode("utf-16"), cell("A2")),
    "a drawing that is no XML": lambda: with_part(
        "xl/drawings/vmlDrawing1.vml", b"<xml><br></xml>", cell("A2")),
    "a part named in capitals": lambda: zipped({name.upper() if name == SHEET else name: part for name, part
                                                in by_hand(cell("A2")).items()}),
    "rows from the last to the first": lambda: zipped({**by_hand(), SHEET: sheet_xml(
        cell("A2") + HEADING).encode()}),
}

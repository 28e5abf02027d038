"""Tables as the sheets of one workbook: numbers as numbers, the unit in the heading, nothing calculated.

The parts are written as text (ECMA-376, part 1: SpreadsheetML): a tenth of the time that a library takes, and
sheets of another workbook stay as they are to the last style and comment.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from io import BytesIO
from xml.sax.saxutils import escape, quoteattr
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from optibuild.report.tables import Cell, Column, Table

NARROWEST, WIDEST = 9, 44
MOST_IN_CELL = 32_767
"""Characters that a cell can hold."""
PROPERTIES = "docProps/core.xml"
TYPES, RELATIONS = "[Content_Types].xml", "xl/_rels/workbook.xml.rels"
BOOK, STYLES = "xl/workbook.xml", "xl/styles.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
EMPTY = {
    TYPES: f'<Types xmlns="{PACKAGE}/content-types">'
           '<Default Extension="rels" '
           'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
           '<Default Extension="xml" ContentType="application/xml"/>'
           f'<Override PartName="/{BOOK}" ContentType="{KIND}.sheet.main+xml"/>'
           f'<Override PartName="/{STYLES}" ContentType="{KIND}.styles+xml"/></Types>',
    "_rels/.rels":
        f'<Relationships xmlns="{PACKAGE}/relationships">'
        f'<Relationship Id="rId1" Type="{OFFICE}/officeDocument" Target="{BOOK}"/></Relationships>',
    RELATIONS: f'<Relationships xmlns="{PACKAGE}/relationships">'
               f'<Relationship Id="rId1" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>',
    BOOK: f'<workbook xmlns="{MAIN}"><bookViews><workbookView/></bookViews><sheets></sheets></workbook>',
    STYLES: f'<styleSheet xmlns="{MAIN}">'
            '<fonts count="1"><font><sz val="11"/><name val="Calibri"/></font></fonts>'
            '<fills count="2"><fill><patternFill patternType="none"/></fill>'
            '<fill><patternFill patternType="gray125"/></fill></fills>'
            '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
            '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
            '<cellXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/></cellXfs>'
            '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>'
            '</styleSheet>',
}
BOLD = '<font><b/><sz val="11"/><name val="Calibri"/></font>'
FIRST_FORMAT = 900
"""Number of our first number format: far above those that other writers count from 164 on."""
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def workbook_bytes(tables: Mapping[str, Table], case_book: bytes | None = None) -> bytes:
    """The workbook, a sheet for each table by its name, before those of `case_book` as `inputs` writes it.

    Text is text, whatever it looks like. No time of day is in it, so that the same tables are the same bytes.
    """
    parts = dict(EMPTY) if case_book is None else _parts(case_book)
    decimals = sorted({column.decimals for table in tables.values() for column in table.columns
                       if column.decimals is not None})
    styles = _Styles(parts, decimals)
    _list_sheets(parts, [*tables])
    for number, table in enumerate(tables.values(), start=1):
        parts[_path(number)] = HEAD + "".join(_sheet(table, styles, number == 1))
    return _zipped(parts)


def _parts(book: bytes) -> dict[str, str]:
    """The parts of a workbook as text, without the time it was made at."""
    with ZipFile(BytesIO(book)) as found:
        parts = {name: found.read(name).decode() for name in found.namelist()}
    if PROPERTIES in parts:
        parts[PROPERTIES] = _TIME.sub("2000-01-01T00:00:00Z", parts[PROPERTIES])
    return parts


def _zipped(parts: Mapping[str, str]) -> bytes:
    content = BytesIO()
    with ZipFile(content, "w") as book:
        for name, text in parts.items():
            book.writestr(ZipInfo(name), text.encode(), ZIP_DEFLATED)
    return content.getvalue()


def _path(number: int) -> str:
    return f"xl/worksheets/table{number}.xml"


def _list_sheets(parts: dict[str, str], names: Iterable[str]) -> None:
    """The sheets entered in the lists of the package: what they are, where they lie, their order."""
    taken = max(map(int, re.findall(r'sheetId="(\d+)"', parts[BOOK])), default=0)
    kinds, relations, sheets = "", "", ""
    for number, name in enumerate(names, start=1):
        kinds += f'<Override PartName="/{_path(number)}" ContentType="{KIND}.worksheet+xml"/>'
        relations += (f'<Relationship Id="table{number}" Type="{OFFICE}/worksheet" '
                      f'Target="/{_path(number)}"/>')
        sheets += (f'<sheet xmlns:r="{OFFICE}" name={quoteattr(name)} sheetId="{taken + number}" '
                   f'r:id="table{number}"/>')
    parts[TYPES] = parts[TYPES].replace("</Types>", f"{kinds}</Types>")
    parts[RELATIONS] = parts[RELATIONS].replace("</Relationships>", f"{relations}</Relationships>")
    parts[BOOK] = parts[BOOK].replace("<sheets>", f"<sheets>{sheets}")


class _Styles:
    """Our styles behind those that a workbook has: of headings, of text, of numbers by their decimals."""

    def __init__(self, parts: dict[str, str], decimals: Iterable[int]) -> None:
        self._text = parts[STYLES]
        if "</numFmts>" not in self._text:
            none = re.sub("<numFmts[^>]*/>", "", self._text)
            self._text = none.replace("<fonts", '<numFmts count="0"></numFmts><fonts', 1)
        bold = self._add("fonts", BOLD)
        self.heading = self._style(0, bold, ' quotePrefix="1" applyFont="1"')
        self.text = self._style(0, 0, ' quotePrefix="1"')
        self.numbers: dict[int | None, int] = {None: self._style(0, 0, "")}
        for places in decimals:
            shape = "#,##0" + ("." + "0" * places if places else "")
            self._add("numFmts", f'<numFmt numFmtId="{FIRST_FORMAT + places}" formatCode="{shape}"/>')
            self.numbers[places] = self._style(FIRST_FORMAT + places, 0, ' applyNumberFormat="1"')
        parts[STYLES] = self._text

    def _style(self, shape: int, font: int, more: str) -> int:
        return self._add("cellXfs", f'<xf numFmtId="{shape}" fontId="{font}" fillId="0" borderId="0" xfId="0"'
                                    f'{more}/>')

    def _add(self, group: str, one: str) -> int:
        """One more member of a group; its place there."""
        found = re.search(f'<{group} count="([0-9]+)"', self._text)
        assert found is not None, group
        there = int(found.group(1))
        self._text = (f'{self._text[:found.start()]}<{group} count="{there + 1}"{self._text[found.end():]}'
                      .replace(f"</{group}>", f"{one}</{group}>"))
        return there


def _sheet(table: Table, styles: _Styles, selected: bool) -> Iterator[str]:
    """The part of a sheet: headings that stay in sight, widths, cells."""
    yield (f'<worksheet xmlns="{MAIN}"><sheetViews><sheetView tabSelected="{selected:d}" workbookViewId="0">'
           '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/>'
           '<selection pane="bottomLeft"/></sheetView></sheetViews><cols>')
    for index, column in enumerate(table.columns):
        yield (f'<col min="{index + 1}" max="{index + 1}" width="{_width(column, table, index)}" '
               'customWidth="1"/>')
    letters = [_letters(index) for index in range(len(table.columns))]
    yield '</cols><sheetData><row r="1">'
    for letter, column in zip(letters, table.columns, strict=True):
        yield _text_cell(f"{letter}1", styles.heading, column.title)
    yield "</row>"
    numbers = [styles.numbers[column.decimals] for column in table.columns]
    for row, cells in enumerate(table.rows, start=2):
        yield f'<row r="{row}">'
        for letter, style, value in zip(letters, numbers, cells, strict=True):
            if isinstance(value, str):
                yield _text_cell(f"{letter}{row}", styles.text, value)
            elif value is not None:
                yield f'<c r="{letter}{row}" s="{style}"><v>{value!r}</v></c>'
        yield "</row>"
    yield "</sheetData></worksheet>"


def _letters(index: int) -> str:
    """The letters of a column counted from 0: A, ..., Z, AA, ..."""
    above, last = divmod(index, 26)
    return (_letters(above - 1) if above else "") + chr(ord("A") + last)


def _text_cell(at: str, style: int, value: str) -> str:
    """Text in place; what XML cannot hold becomes a question mark, what reads like an escape stays itself."""
    text = _ESCAPE.sub("_x005F_", _NOT_IN_XML.sub("?", value[:MOST_IN_CELL])).replace("\r", "_x000D_")
    return f'<c r="{at}" s="{style}" t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def _width(column: Column, table: Table, index: int) -> int:
    """Characters that the longest cell takes, within bounds."""
    longest = max((_length(row[index], column) for row in table.rows), default=0)
    return min(WIDEST, max(NARROWEST, 2 + longest, 2 + len(column.title)))


def _length(value: Cell, column: Column) -> int:
    if value is None:
        return 0
    return len(value) if isinstance(value, str) else len(f"{value:,.{column.decimals or 0}f}")

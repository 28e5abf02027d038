"""A look at a workbook's parts before any library opens them: what is unsafe, and what needs the careful reader.

An .xlsx file is a zip of XML parts (ECMA-376, part 2). They are unpacked here piece by piece, so that neither
their number, nor their size, nor a table of a million blank columns can fill the memory later.
"""

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from zipfile import BadZipFile, ZipFile, ZipInfo

from optibuild.inputs.csv_reader import MOST_CELLS, MOST_ROWS

MOST_PARTS = 2_000
MOST_UNPACKED = 300_000_000
MOST_CAREFUL = 60_000_000
"""Bytes of all parts, and of those that the careful reader, which is slow and takes much memory, may get."""
MOST_RATIO = 1000
"""A part that unpacks to more than this many times its size is a bomb; deflate reaches 1032 on zeros."""
MOST_GRID = 20_000_000
_PIECE, _OVERLAP = 1 << 20, 400
_OLE = b"\xd0\xcf\x11\xe0"
_ENTITIES = (b"<!DOCTYPE", b"<!ENTITY")
_OTHER_ENCODING = re.compile(rb"<\?xml[^>]*encoding=[\"'](?!utf-8|us-ascii)", re.IGNORECASE)
# formulas, errors, hidden rows and columns, merged cells: what the fast reader would pass over in silence
_CAREFUL = (b"<f>", b"<f ", b"<f/", b't="e"', b"hidden=", b"mergeCell", b"='")
_FORMATS = (b"<numFmt ", b'numFmtId="9"', b'numFmtId="10"', b"='")
_PREFIXED = re.compile(rb"<\w+:(?:worksheet|styleSheet)\b")
_COLUMN = re.compile(rb"\sr=[\"']([A-Za-z]+)")
_ROW = re.compile(rb"\sr=[\"']([0-9]+)[\"']")


class Refused(Exception):
    """Why a workbook is not opened: the problem's code, what to say, what was expected."""

    def __init__(self, code: str, text: str, expected: str = "a workbook with tables") -> None:
        super().__init__(text)
        self.code, self.text, self.expected = code, text, expected


@dataclass
class Looked:
    """What was seen: whether a sheet needs the careful reader, and the bytes of all sheets."""

    careful: bool = False
    sheet_bytes: int = 0
    unpacked: int = 0
    columns: set[bytes] = field(default_factory=set)
    last_row: int = 0


def look(content: bytes) -> Looked:
    """Every part unpacked once and looked through; Refused where the workbook may not be opened."""
    if content.startswith(_OLE):
        raise Refused("file.workbook", "it is protected by a password, or an old .xls file",
                      "an .xlsx workbook without a password")
    looked = Looked()
    try:
        with ZipFile(BytesIO(content)) as parts:
            infos = parts.infolist()
            _check_names(infos)
            for info in infos:
                _look_at(parts, info, looked)
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as error:
        raise Refused("file.workbook", f"it is no workbook, or a damaged one ({error})") from None
    if looked.careful and looked.sheet_bytes > MOST_CAREFUL:
        raise Refused("file.large", "it is too large for a workbook with formulas, number formats, merged or "
                      "hidden cells", f"plain values only, or sheets of at most {MOST_CAREFUL // 1_000_000} MB")
    return looked


def _check_names(infos: list[ZipInfo]) -> None:
    names = [info.filename for info in infos]
    if len(names) > MOST_PARTS:
        raise Refused("file.unsafe", f"it has {len(names):,} parts", f"at most {MOST_PARTS:,}")
    if len(set(names)) < len(names):
        raise Refused("file.unsafe", "it has two parts of one name")
    for name in names:
        if name.startswith(("/", "\\")) or ".." in name.replace("\\", "/").split("/") or ":" in name:
            raise Refused("file.unsafe", "a part lies outside the workbook", "parts inside it")
    if "[Content_Types].xml" not in names:
        raise Refused("file.workbook", "it is a zip file, but no workbook")


def _look_at(parts: ZipFile, info: ZipInfo, looked: Looked) -> None:
    name = info.filename.lower()
    is_xml = name.endswith((".xml", ".rels"))
    is_sheet = name.startswith("xl/worksheets/") and name.endswith(".xml")
    looked.columns, looked.last_row = set(), 0
    size = 0
    for piece in _pieces(parts, info):
        fresh = len(piece) if size == 0 else len(piece) - _OVERLAP
        size += fresh
        looked.unpacked += fresh
        _check_size(info, size, looked)
        if is_xml:
            _check_xml(piece, first=size == fresh)
        if is_sheet:
            _look_at_sheet(piece, looked)
        elif name == "xl/styles.xml":
            looked.careful = looked.careful or _marked(piece, _FORMATS)
    if is_sheet:
        looked.sheet_bytes += size


def _pieces(parts: ZipFile, info: ZipInfo) -> Iterator[bytes]:
    """The unpacked bytes in pieces, each beginning with the end of the last, so that no mark is cut in two."""
    with parts.open(info) as part:
        tail = b""
        while piece := part.read(_PIECE):
            yield tail + piece
            tail = piece[-_OVERLAP:].rjust(_OVERLAP, b" ")


def _check_size(info: ZipInfo, size: int, looked: Looked) -> None:
    if looked.unpacked > MOST_UNPACKED or size > MOST_RATIO * max(info.compress_size, 1000):
        raise Refused("file.unsafe", "it unpacks to far more than it seems to hold",
                      f"at most {MOST_UNPACKED // 1_000_000} MB unpacked")


def _check_xml(piece: bytes, first: bool) -> None:
    if any(mark in piece for mark in _ENTITIES):
        raise Refused("file.unsafe", "it declares entities, which no spreadsheet does", "plain XML parts")
    if first and (piece.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in piece[:64]
                  or _OTHER_ENCODING.match(piece)):
        raise Refused("file.unsafe", "a part is not written in UTF-8", "parts in UTF-8, as spreadsheets write")


def _look_at_sheet(piece: bytes, looked: Looked) -> None:
    looked.careful = looked.careful or _marked(piece, _CAREFUL)
    looked.columns.update(_COLUMN.findall(piece))
    looked.last_row = max(looked.last_row, *map(int, _ROW.findall(piece)), 0)
    width = max(map(_number_of, looked.columns), default=0)
    if width > MOST_CELLS or looked.last_row > MOST_ROWS or width * looked.last_row > MOST_GRID:
        raise Refused("file.large", f"a sheet has cells as far as column {width:,} and row {looked.last_row:,}",
                      f"at most {MOST_CELLS:,} columns and {MOST_GRID:,} cells")


def _marked(piece: bytes, marks: tuple[bytes, ...]) -> bool:
    """Whether one of the marks is there, or the marks may be written in another way: with a prefix."""
    return any(mark in piece for mark in marks) or bool(_PREFIXED.search(piece[:2000]))


def _number_of(letters: bytes) -> int:
    """The number of a column: A is 1, AA is 27."""
    number = 0
    for letter in letters.upper()[:8]:
        number = 26 * number + letter - 64
    return number

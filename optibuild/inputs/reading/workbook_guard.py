"""A look at a workbook's parts before any library opens them: what is unsafe, and what libraries do not say.

An .xlsx file is a zip of XML parts (ECMA-376). Every part is unpacked here, piece by piece and counted, so
that neither the number nor the size of the parts, nor a sheet with a cell far out, can fill the memory later.
"""

import re
import zlib
from collections import Counter
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, field
from io import BytesIO
from xml.parsers import expat
from xml.parsers.expat import ExpatError
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from optibuild.inputs.reading.workbook_parts import Links, Refused, Styles, Texts, read_xml
from optibuild.inputs.reading.workbook_sheet import PlainLook, Sheet, look_slowly

MOST_PARTS = 2_000
MOST_UNPACKED = 400_000_000
SMALL, MOST_RATIO = 10_000_000, 200
"""A part of more bytes than this, and more than so many times its packed size, is a bomb: sheets reach 50."""
MOST_CELLS = 10_000_000
"""Cells of all sheets, blank ones among them counted: the tables of the largest cases have 4 million."""
MOST_OTHER = 50_000_000
"""Bytes of a part that is neither a sheet nor the texts of cells: large ones have a few million."""
MOST_TEXT = 300_000_000
"""Characters of all cells together, those of a text that many cells share counted for each of them."""
_PIECE, _LONGEST_TAG = 1 << 20, 1 << 23
_OLE = b"\xd0\xcf\x11\xe0"
_XML = re.compile(rb"(?:\xef\xbb\xbf)?\s*<|\xff\xfe|\xfe\xff|\x00")
_SHEET = re.compile(rb"<(?:\w+:)?worksheet[\s>]")
# whatever belongs to other programs, and may be written in any way: pictures, old drawings, stored queries
_NEVER_OPENED = ("xl/media/", "xl/drawings/", "customxml/")
# a number in pieces, of which the reader of values would take the first
_IN_PIECES = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>[-+0-9.eE\s]*(?:&#|<[!?])")
_TEXT_INDEX = re.compile(rb' t="s"[^>]*><v>([0-9]{1,9})</v>')
_WORKBOOK, _LINKS, _STYLES = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml"
_TEXTS = "xl/sharedstrings.xml"
_WHAT = "an .xlsx workbook, as a spreadsheet saves it"


@dataclass
class Looked:
    """What was seen: the details of each sheet's part, and which part each sheet is."""

    styles: Styles = field(default_factory=Styles)
    links: Links = field(default_factory=Links)
    texts: Texts = field(default_factory=Texts)
    sheets: dict[str, Sheet] = field(default_factory=dict)
    text_cells: int = 0
    unpacked: int = 0

    def sheet(self, name: str) -> Sheet:
        """The details of a sheet; Refused where its part was not seen, so that nothing is read unseen."""
        part = self.links.part(name)
        if part not in self.sheets:
            raise Refused("file.workbook", f"the sheet '{name}' is not in it", _WHAT)
        return self.sheets[part]


def look(content: bytes) -> Looked:
    """Every part unpacked once and looked through; Refused where the workbook may not be opened."""
    if content.startswith(_OLE):
        raise Refused("file.workbook", "it is protected by a password, or an .xls file of old",
                      "an .xlsx workbook without a password")
    looked = Looked()
    try:
        with ZipFile(BytesIO(content)) as parts:
            infos = parts.infolist()
            _check_names(infos)
            # the formats are known first: which cells need care depends on them
            for info in sorted(infos, key=lambda info: _name(info) != _STYLES):
                _look_at(parts, info, looked)
            if not looked.links.are_apart():
                raise Refused("file.unsafe", "two of its sheets have one name or one part", "each sheet once")
            _check_text(parts, infos, looked)
    except ExpatError as error:
        raise Refused("file.workbook", f"a part of it is damaged ({error})", _WHAT) from None
    except (BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, KeyError, OSError) as error:
        raise Refused("file.workbook", f"it is no workbook, or a damaged one ({error})", _WHAT) from None
    return looked


def _name(info: ZipInfo) -> str:
    return info.filename.replace("\\", "/").lower()


def _check_names(infos: list[ZipInfo]) -> None:
    names = [_name(info) for info in infos]
    if len(names) > MOST_PARTS:
        raise Refused("file.unsafe", f"it has {len(names):,} parts", f"at most {MOST_PARTS:,}")
    if len(set(names)) < len(names):
        raise Refused("file.unsafe", "it has two parts of one name", "each part once")
    if any(name.startswith("/") or ".." in name.split("/") or ":" in name for name in names):
        raise Refused("file.unsafe", "a part lies outside the workbook", "parts inside it")
    if _WORKBOOK not in names:
        raise Refused("file.workbook", "it is a zip file, but no workbook", _WHAT)
    if any(info.compress_type not in (ZIP_STORED, ZIP_DEFLATED) for info in infos):
        raise Refused("file.workbook", "a part is packed in a way that no spreadsheet uses", _WHAT)


def _look_at(parts: ZipFile, info: ZipInfo, looked: Looked) -> None:
    pieces = _counted(parts, info, looked)
    first = next(pieces, b"")
    name = _name(info)
    if name.startswith(_NEVER_OPENED) or not _XML.match(first):
        for _ in pieces:  # it is only counted
            pass
    elif _SHEET.search(first[:4000]):
        looked.sheets[name] = _sheet(parts, info, looked, first, pieces)
    elif name == _TEXTS:
        read_xml(_joined(first, pieces), looked.texts.start, looked.texts.text)
    elif info.file_size > MOST_OTHER:
        raise _bomb()
    else:
        starts = {_STYLES: looked.styles.start, _WORKBOOK: looked.links.start, _LINKS: looked.links.start}
        read_xml(_joined(first, pieces), starts.get(name))


def _sheet(parts: ZipFile, info: ZipInfo, looked: Looked, first: bytes, pieces: Iterator[bytes]) -> Sheet:
    """The details of a sheet: by a quick look where it has none, else by reading it element by element."""
    most = MOST_CELLS - sum(sheet.cells for sheet in looked.sheets.values())
    plain = PlainLook(looked.styles, most)
    # the compiled reader passes over damage that this parser, which tells nobody anything, does not
    parser = expat.ParserCreate("utf-8")
    for piece in _joined(first, pieces):
        if (b"&#" in piece or b"<!" in piece or b"<?" in piece) and _IN_PIECES.search(piece):
            raise Refused("file.workbook", "a number in it is written in pieces", _WHAT)
        looked.text_cells += piece.count(b's"') + piece.count(b"s'")  # no fewer than have t="s"
        plain.see(piece)
        if plain.is_plain:
            parser.Parse(piece)
    if plain.is_plain:
        parser.Parse(b"", True)
        return plain.sheet
    with parts.open(info) as part:
        return look_slowly(iter(lambda: part.read(_PIECE), b""), looked.styles, most)


def _joined(first: bytes, pieces: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    yield from pieces


def _counted(parts: ZipFile, info: ZipInfo, looked: Looked) -> Iterator[bytes]:
    """The unpacked bytes in pieces that end behind a tag, so that no mark is cut in two.

    The size that the zip tells may be a lie, and zipfile would stop there, where others go on: so the part is
    unpacked to its end.
    """
    size, rest = 0, b""
    _check_size(info, info.file_size, looked)
    endless = copy(info)
    endless.file_size = MOST_UNPACKED + 1
    with parts.open(endless) as part:
        while piece := part.read(_PIECE):
            size += len(piece)
            looked.unpacked += len(piece)
            _check_size(info, size, looked)
            whole, bracket, rest = (rest + piece).rpartition(b">")
            if bracket:
                yield whole + bracket
            elif len(rest) > _LONGEST_TAG:
                yield rest
                rest = b""
        if rest:
            yield rest
    if size != info.file_size:
        raise _bomb()


def _check_size(info: ZipInfo, size: int, looked: Looked) -> None:
    if max(size, looked.unpacked) > MOST_UNPACKED or size > max(SMALL, MOST_RATIO * info.compress_size):
        raise _bomb()


def _check_text(parts: ZipFile, infos: list[ZipInfo], looked: Looked) -> None:
    """Refused where cells that share long texts would hold far more than the file; most are seen not to."""
    longest = max(looked.texts.lengths, default=0)
    if looked.text_cells * longest <= MOST_TEXT:
        return
    shared: Counter[bytes] = Counter()
    for info in infos:
        if _name(info) in looked.sheets:
            for piece in _counted(parts, info, Looked()):
                shared.update(_TEXT_INDEX.findall(piece))
    lengths = dict(enumerate(looked.texts.lengths))
    size = sum(count * lengths.get(int(index), 0) for index, count in shared.items())
    if size + (looked.text_cells - shared.total()) * longest > MOST_TEXT:
        raise Refused("file.large", "its cells hold more text than tables do",
                      f"at most {MOST_TEXT // 1_000_000} million characters")


def _bomb() -> Refused:
    return Refused("file.unsafe", "it unpacks to far more than a workbook with tables holds",
                   f"at most {MOST_UNPACKED // 1_000_000} MB unpacked")

"""The parts of a workbook, element by element: XML without surprises, formats, which part is which sheet.

Element and attribute names are those of ECMA-376, part 1, chapter 18 (SpreadsheetML); a namespace's prefix is
passed over.
"""

from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from posixpath import join, normpath
from typing import Any
from xml.parsers import expat

from optibuild.inputs.reading.workbook_cells import BUILT_IN, shows_as_typed

Start = Callable[[str, dict[str, str]], None]
DEEPEST = 100
"""Elements inside elements: those of a workbook lie about ten deep, and each takes memory until it ends."""
MOST_TEXTS = 10_000_000


class Refused(Exception):
    """Why a workbook is not opened: the problem's code, what to say, what was expected."""

    def __init__(self, code: str, text: str, expected: str) -> None:
        super().__init__(text)
        self.code, self.text, self.expected = code, text, expected


def read_xml(pieces: Iterable[bytes], start: Start | None = None,
             text: Callable[[str], None] | None = None) -> None:
    """Each element told to `start` and each text to `text`; Refused where a small part could become large."""
    parser = safe_parser(start)
    parser.CharacterDataHandler = text
    parse(parser, pieces)


def safe_parser(start: Start | None) -> expat.XMLParserType:
    """A parser that tells each element to `start`; Refused for declared entities, depth, other encodings."""
    parser = expat.ParserCreate("utf-8")
    parser.StartDoctypeDeclHandler = _refuse_entities
    parser.XmlDeclHandler = _refuse_encoding
    depth = 0

    def begun(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > DEEPEST:
            raise Refused("file.unsafe", f"a part has elements more than {DEEPEST} deep", "parts as "
                          "spreadsheets write them")
        if start:
            start(name, attributes)

    def ended(_: str) -> None:
        nonlocal depth
        depth -= 1

    parser.StartElementHandler, parser.EndElementHandler = begun, ended
    return parser


def parse(parser: expat.XMLParserType, pieces: Iterable[bytes]) -> None:
    """All pieces of a part to a parser; ExpatError where they are no XML."""
    for piece in pieces:
        parser.Parse(piece)
    parser.Parse(b"", True)


def _refuse_entities(*_: Any) -> None:
    raise Refused("file.unsafe", "a part declares a document type, as no spreadsheet does", "plain XML parts")


def _refuse_encoding(_: str, encoding: str | None, __: int) -> None:
    if encoding and encoding.lower() not in ("utf-8", "utf8", "us-ascii"):
        raise Refused("file.unsafe", f"a part is written in {encoding[:20]}",
                      "parts in UTF-8, as spreadsheets write")


@dataclass
class Styles:
    """The number format of each style, by its index; only those that change what a number looks like."""

    special: dict[int, str] = field(default_factory=dict)
    named: dict[str, str] = field(default_factory=dict)
    in_cells: bool = False
    count: int = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element of the part styles."""
        local = name.rpartition(":")[2]
        if local == "numFmt":
            self.named[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")
        elif local in ("cellXfs", "cellStyleXfs", "cellStyles", "dxfs"):
            self.in_cells = local == "cellXfs"
        elif local == "xf" and self.in_cells:
            number = attributes.get("numFmtId", "0")
            shown = self.named.get(number, BUILT_IN.get(number, "" if number == "0" else f"number {number}"))
            if not shows_as_typed(shown):
                self.special[self.count] = shown
            self.count += 1


@dataclass
class Links:
    """Which part each sheet is: the ids of the sheets by name, the targets of the ids."""

    sheets: dict[str, str] = field(default_factory=dict)
    targets: dict[str, str] = field(default_factory=dict)
    count: int = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element of the part workbook or of its relations."""
        local = name.rpartition(":")[2]
        if local == "sheet":
            ids = [value for key, value in attributes.items() if key.endswith(":id")]
            self.sheets[attributes.get("name", "")] = ids[0] if ids else ""
            self.count += 1
        elif local == "Relationship":
            self.targets[attributes.get("Id", "")] = attributes.get("Target", "")

    def part(self, name: str) -> str:
        """The name of a sheet's part, in small letters; nothing real where there is none."""
        target = self.targets.get(self.sheets.get(name, ""), "")
        return normpath(target.lstrip("/") if target.startswith("/") else join("xl", target)).lower()

    def are_apart(self) -> bool:
        """Whether no two sheets have one name or one part."""
        return self.count == len(self.sheets) == len({self.part(name) for name in self.sheets})


@dataclass
class Texts:
    """How many characters each of the texts has that cells share, by its index."""

    lengths: "array[int]" = field(default_factory=lambda: array("L"))

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element of the part shared strings; Refused where there are too many."""
        local = name.rpartition(":")[2]
        if local == "si":
            self.lengths.append(0)
        elif local == "sst" and int(attributes.get("uniqueCount", "0")) > MOST_TEXTS:
            # the reader of values makes room for so many before it has seen any, and ends the program
            raise Refused("file.unsafe", "it says that it holds more texts than fit in it",
                          f"at most {MOST_TEXTS:,} texts")

    def text(self, text: str) -> None:
        """Characters of the last text."""
        if self.lengths:
            self.lengths[-1] += len(text)

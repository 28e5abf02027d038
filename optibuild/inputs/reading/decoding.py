"""The bytes of a text file to text: UTF-8, UTF-16, or Windows-1252, which is said where it is assumed."""

import codecs
import re

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.files import SourceFile

# a well-formed sequence of two bytes or more: what UTF-8 text has and Windows-1252 text hardly ever does
_SEQUENCE = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_KNOWN = "UTF-8 text (UTF-16 and Windows-1252 are read too)"


def decoded(source: SourceFile, collector: Collector) -> str | None:
    """The text of a file; None, with a problem noted, where it is no text that can be told."""
    encoding = _encoding(source.content)
    text: str | None
    try:
        text = source.content.decode(encoding)
    except UnicodeDecodeError as error:
        text = _windows(source, error, collector) if encoding == "utf-8" else None
        if text is None:
            _refuse(source, error.start, collector)
    if text is None:
        return None
    if "\x00" in text:
        row = text.count("\n", 0, text.index("\x00")) + 1
        collector.add("file.text", f"'{source.name}' holds a zero byte", Place(source.name, row=row),
                      expected=_KNOWN)
        return None
    return text


def _encoding(content: bytes) -> str:
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            return encoding
    return _unmarked_utf16(content[:2000]) or "utf-8"


def _unmarked_utf16(head: bytes) -> str:
    """UTF-16 without its mark: plain letters have a zero byte at every other place, UTF-8 has none at all."""
    even, odd = head[::2].count(0), head[1::2].count(0)
    half = len(head) // 4
    if half and odd > half and not even:
        return "utf-16-le"
    return "utf-16-be" if half and even > half and not odd else ""


def _windows(source: SourceFile, error: UnicodeDecodeError, collector: Collector) -> str | None:
    """The text as Windows-1252, with a warning; None where it is a mixture or no such text either."""
    if _SEQUENCE.search(source.content):
        return None
    try:
        text = source.content.decode("cp1252")
    except UnicodeDecodeError:
        return None
    line = text[text.rfind("\n", 0, error.start) + 1:].partition("\n")[0]
    collector.add("file.encoding", f"'{source.name}' is not UTF-8 and is read as Windows-1252",
                  Place(source.name, row=text.count("\n", 0, error.start) + 1), value=line.strip()[:60],
                  expected=_KNOWN)
    return text


def _refuse(source: SourceFile, start: int, collector: Collector) -> None:
    row = source.content.count(b"\n", 0, start) + 1
    collector.add("file.text", f"'{source.name}' holds a byte that belongs to no text",
                  Place(source.name, row=row), value=f"0x{source.content[start]:02x}", expected=_KNOWN)

"""Finding and reading the files of a case, and nothing outside what it may name."""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath, PureWindowsPath

from optibuild.errors import Place
from optibuild.inputs.problems import Collector


@dataclass(frozen=True)
class SourceFile:
    """A file as read: its name as reached from the case folder, its text, its hash."""

    name: str
    text: str
    sha256: str


def path_fault(name: str) -> str:
    """Why a table's path is refused, or nothing."""
    if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive or name.startswith("\\"):
        return "is an absolute path"
    if not name.isprintable() or "\\" in name:
        return "has characters that do not belong in a path"
    return "" if name.lower().endswith(".csv") else "does not end in .csv"


def is_linked(folder: Path, name: str) -> bool:
    """Whether the file or a folder on the way to it, from the case folder, is a symbolic link."""
    way = folder
    for part in PurePosixPath(name).parts:
        way = way / part
        if part != ".." and way.is_symlink():
            return True
    return False


def read_file(folder: Path, name: str, collector: Collector) -> SourceFile | None:
    """A file of the case as text; None, with a problem noted, where it cannot be had."""
    place = Place(name)
    try:
        if is_linked(folder, name):
            collector.add("file.path", f"'{name}' is reached by a symbolic link", place, value=name)
            return None
        content = _content(folder / name)
    except OSError as error:
        why = error.strerror or error
        collector.add("file.missing", f"'{name}' cannot be read: {why}", place, value=name)
        return None
    return _decoded(name, content, collector)


def _content(path: Path) -> bytes:
    # a pipe or a device may never end
    if path.exists() and not path.is_file():
        raise OSError("not a file")
    return path.read_bytes()


def _decoded(name: str, content: bytes, collector: Collector) -> SourceFile | None:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        collector.add("file.text", f"'{name}' holds a byte that is not UTF-8", Place(name, row=row),
                      value=f"0x{content[error.start]:02x}", expected="UTF-8 text")
        return None
    if "\x00" in text:
        collector.add("file.text", f"'{name}' holds a zero byte", Place(name), expected="UTF-8 text")
        return None
    return SourceFile(name, text, sha256(content).hexdigest())

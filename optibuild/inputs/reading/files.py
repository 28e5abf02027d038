"""Finding and reading the files of a case, and nothing outside what it may name."""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath, PureWindowsPath

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector

# 100,000 sites take about 10 MB: what is larger is no table somebody keeps
MOST_BYTES = 50_000_000
ENDINGS = (".csv", ".xlsx")


@dataclass(frozen=True)
class SourceFile:
    """A file as read: its name as reached from the case's folder, its bytes, their hash."""

    name: str
    content: bytes
    sha256: str


def path_fault(name: str) -> str:
    """Why a table's path is refused, or nothing. A workbook may be followed by `#sheet`."""
    path, sheet_mark, _ = name.partition("#")
    if PurePosixPath(path).is_absolute() or PureWindowsPath(path).drive or path.startswith("\\"):
        return "is an absolute path"
    if not name.isprintable() or "\\" in path:
        return "has characters that do not belong in a path"
    if sheet_mark and not path.lower().endswith(".xlsx"):
        return "names a sheet of a file that is no workbook"
    return "" if path.lower().endswith(ENDINGS) else "ends neither in .csv nor in .xlsx"


def is_linked(folder: Path, name: str) -> bool:
    """Whether the file or a folder on the way to it, from the case folder, is a symbolic link."""
    way = folder
    for part in PurePosixPath(name).parts:
        way = way / part
        if part != ".." and way.is_symlink():
            return True
    return False


def read_file(folder: Path, name: str, collector: Collector) -> SourceFile | None:
    """The bytes of a file of the case; None, with a problem noted, where they cannot be had."""
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
    if len(content) > MOST_BYTES:
        collector.add("file.large", f"'{name}' is larger than any table of a case", place,
                      expected=f"at most {MOST_BYTES // 1_000_000} MB")
        return None
    return SourceFile(name, content, sha256(content).hexdigest())


def _content(path: Path) -> bytes:
    """At most one byte more than is allowed: a file may grow, or have no end."""
    # a pipe or a device may never end
    if path.exists() and not path.is_file():
        raise OSError("not a file")
    with open(path, "rb") as file:
        return file.read(MOST_BYTES + 1)

"""Writing a folder of results: all files or none, and only files of ours are replaced."""

import os
import shutil
import tempfile
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from optibuild.cli.streams import STAGES, note
from optibuild.errors import UsageError


@dataclass(frozen=True)
class Kind:
    """A kind of result: the tables that others may have too, replaced only beside a file `named` of ours,
    which says so in its first line or two (`mark`)."""

    tables: tuple[str, ...]
    named: str
    mark: str


def check_writable(folder: Path, read: Container[Path], kind: Kind) -> None:
    """UsageError, before the work, where no result can be written, or only over a file the case reads."""
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"--out '{folder}' is a file; name a folder")
    taken = [name for name in (*kind.tables, kind.named) if (folder / name).resolve() in read]
    if taken:
        raise UsageError(f"--out '{folder}' holds {', '.join(taken)}, which the case reads; "
                         "name another folder")
    foreign = [name for name in kind.tables if (folder / name).exists()]
    if foreign and not _is_ours(folder / kind.named, kind.mark):
        raise UsageError(f"--out '{folder}' holds {', '.join(foreign)} and no {kind.named} of ours; "
                         "name another folder")
    home = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    if not home.is_dir():
        raise UsageError(f"--out '{folder}' cannot be written: '{home}' is a file; name another folder")
    if not os.access(home, os.W_OK | os.X_OK):
        raise UsageError(f"--out '{folder}' cannot be written: you may not write to '{home}'; "
                         "name another folder")


def _is_ours(path: Path, mark: str) -> bool:
    return path.is_file() and mark in path.read_text(errors="replace")[:200]


def write_told(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write the files, and tell where and which."""
    from optibuild.report import paragraph

    write_folder(folder, files)
    note(paragraph(f"Written to {folder}: {', '.join(files)}."))


def write_folder(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write the files, by their paths from `folder`, beside it first, then move them in; UsageError leaves
    `folder` as it was."""
    try:
        _write(folder.absolute(), files)
    except OSError as error:
        raise UsageError(f"'{folder}' was not written: {error.strerror or error}; name another folder"
                         ) from None
    STAGES.info("files written")


def _write(folder: Path, files: Mapping[str, str | bytes]) -> None:
    for name in files:
        if (folder / name).is_dir():
            raise IsADirectoryError(0, f"{name} in it is a folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        for name, content in files.items():
            (made / name).parent.mkdir(parents=True, exist_ok=True)
            (made / name).write_bytes(content.encode() if isinstance(content, str) else content)
        _move(made, folder, files)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _move(made: Path, folder: Path, files: Iterable[str]) -> None:
    """The finished files into place; a new folder gets the usual rights, which mkdtemp does not give."""
    if not folder.exists():
        folder.mkdir()
    for name in files:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        os.replace(made / name, folder / name)

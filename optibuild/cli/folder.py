"""Writing a plan's folder: all files or none, and only files of ours are replaced."""

import os
import shutil
import tempfile
from collections.abc import Container, Mapping
from pathlib import Path

from optibuild.errors import UsageError

TABLES = ("items.csv", "trucks.csv", "stops.csv", "sites.csv", "axle_loads.csv")
"""Files of a plan that a case may have too: they are replaced only beside a plan.json of ours."""


def check_writable(folder: Path, read: Container[Path]) -> None:
    """UsageError, before the search, where no plan can be written, or only over a file the case reads."""
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"--out '{folder}' is a file; name a folder")
    taken = [name for name in TABLES if (folder / name).resolve() in read]
    if taken:
        raise UsageError(f"--out '{folder}' holds {', '.join(taken)}, which the case reads; "
                         "name another folder")
    plan = folder / "plan.json"
    foreign = [name for name in TABLES if (folder / name).exists()]
    if foreign and not (plan.is_file() and "optibuild-plan/" in plan.read_text(errors="replace")[:200]):
        raise UsageError(f"--out '{folder}' holds {', '.join(foreign)} and no plan of ours; "
                         "name another folder")
    home = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    if not home.is_dir() or not os.access(home, os.W_OK | os.X_OK):
        raise UsageError(f"--out '{folder}' cannot be written: '{home}' does not allow it")


def write_folder(folder: Path, files: Mapping[str, str]) -> None:
    """Write the files beside `folder` first, then move them in; UsageError leaves `folder` as it was."""
    try:
        _write(folder.absolute(), files)
    except OSError as error:
        raise UsageError(f"'{folder}' was not written: {error.strerror or error}") from None


def _write(folder: Path, files: Mapping[str, str]) -> None:
    for name in files:
        if (folder / name).is_dir():
            raise IsADirectoryError(0, f"{name} in it is a folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        for name, text in files.items():
            (made / name).write_text(text, encoding="utf-8", newline="")
        _move(made, folder, files)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _move(made: Path, folder: Path, files: Mapping[str, str]) -> None:
    """The finished files into place; a new folder gets the usual rights, which mkdtemp does not give."""
    if not folder.exists():
        folder.mkdir()
    for name in files:
        os.replace(made / name, folder / name)

"""The results folder of a sweep: one file a case that is done, named by all that its result depends on.

Files are written beside their place and then moved into it, so that none is ever half; one that cannot be
read all the same counts as not there. None is ever deleted.
"""

import hashlib
import json
import os
from dataclasses import astuple
from pathlib import Path
from typing import Any

from optibuild.errors import UsageError
from optibuild.records import Case
from optibuild.records.sweep import NamedLoop, NamedStop, Start
from optibuild.what_if.sharing import digest
from optibuild.what_if.solving import Solved, made_with


def key_of(case: Case, start: Start | None) -> str:
    """The name of a result: sha256 of the case, of what its search begins with, and of the versions."""
    parts = (digest(case), _start_text(start), made_with())
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def keep(folder: Path, key: str, solved: Solved) -> None:
    """Write a result; UsageError where that cannot be, which leaves no file of that name."""
    body = "\n".join((_start_text(solved.start), solved.made_with, solved.plan or "")).encode()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _write(folder / f"{key}.result", hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
    except OSError as error:
        raise UsageError(f"a result was not written to '{folder}': {error.strerror or error}. What was done "
                         "before is kept") from None


def _write(path: Path, content: bytes) -> None:
    """All of a file or nothing of it, even where the machine stops."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with open(beside, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        os.replace(beside, path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def kept(folder: Path, key: str) -> Solved | None:
    """A result that was written; None where there is none that is whole."""
    try:
        said, body = (folder / f"{key}.result").read_bytes().split(b"\n", 1)
    except (OSError, ValueError):
        return None
    if hashlib.sha256(body).hexdigest().encode() != said:
        return None
    start, made, plan = body.decode().split("\n", 2)
    return Solved(plan or None, _start_of(start), made)


def _start_text(start: Start | None) -> str:
    return json.dumps(None if start is None else astuple(start))


def _start_of(text: str) -> Start | None:
    tree = json.loads(text)
    return None if tree is None else Start(tree[0], *(tuple(map(_loop, rows)) for rows in tree[1:]))


def _loop(row: list[Any]) -> NamedLoop:
    return NamedLoop(*[*row[:-1], tuple(NamedStop(*stop) for stop in row[-1])])

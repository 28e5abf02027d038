"""The commands that the READMEs show, and a copy of the checkout in which they are run as shown."""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
STARTS = (".venv/bin/", "cp ", "python3 ", "bash ")
SET_UP = "python3 -m venv .venv && "


def fenced(page: Path, language: str = "") -> list[str]:
    """The fenced blocks of a page that name this language, in order."""
    return [text for named, text in FENCE.findall(page.read_text(encoding="utf-8")) if named == language]


def commands(page: Path) -> list[str]:
    """Every line of a page's fenced blocks that begins as a command does, in order."""
    return [line for block in fenced(page) for line in block.splitlines() if line.startswith(STARTS)]


def copy_checkout(folder: Path) -> Path:
    """What a user's commands touch, copied: the examples, the catalogs and the small case."""
    for part in ("catalogs", "examples"):
        shutil.copytree(ROOT / part, folder / part)
    return folder


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command run in a folder with 80 columns, with this environment in place of .venv and the package of
    the checkout, as in all tests: an installed copy would compile its inner loop a second time."""
    words = [str(Path(sys.executable).parent / word.removeprefix(".venv/bin/"))
             if word.startswith(".venv/bin/") else word for word in shlex.split(command)]
    return subprocess.run(words, cwd=folder, capture_output=True, text=True, timeout=300,
                          env={"COLUMNS": "80", "PATH": "/usr/bin:/bin", "HOME": str(folder),
                               "PYTHONPATH": str(ROOT)})

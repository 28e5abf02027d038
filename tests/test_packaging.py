"""What is installed stands on its own: the package needs nothing beside it, and the ranges have ends."""

import re
import shutil
import subprocess
import sys
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "optibuild"
TABLE = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = sorted({line for lines in TABLE["optional-dependencies"].values() for line in lines
                 if not line.startswith("optibuild[")})
ELSEWHERE = """
import sys
sys.path.insert(0, sys.argv.pop(1))
import optibuild
from optibuild.cli import main
print(optibuild.__file__, file=sys.stderr)
main()
"""


def test_the_package_alone_makes_a_case_and_reads_it(tmp_path: Path) -> None:
    """Copied away from the checkout, the package writes a case into an empty folder, as text tables and as a
    workbook, and reads it without a word on standard error."""
    site, empty = tmp_path / "site", tmp_path / "empty"
    shutil.copytree(PACKAGE, site / "optibuild", ignore=shutil.ignore_patterns("__pycache__"))
    empty.mkdir()
    for words in (["new", "case"], ["check", "case"], ["new", "book", "--workbook"],
                  ["check", "book/case.xlsx"]):
        done = subprocess.run([sys.executable, "-c", ELSEWHERE, site, *words], cwd=empty, timeout=120,
                              capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        assert done.stderr.strip() == str(site / "optibuild" / "__init__.py")


def test_nothing_of_the_package_is_left_out_of_the_wheel() -> None:
    """What .gitignore names is not built in (from the documentation of hatchling, "VCS"): nothing in the
    package has such a name, caches aside; and the files beside the modules are where they are looked for."""
    ignored = [line.strip("/") for line in (ROOT / ".gitignore").read_text(encoding="utf-8").split()]
    names = {part for path in PACKAGE.rglob("*") if "__pycache__" not in path.parts
             for part in path.relative_to(PACKAGE).parts}
    assert ignored and names >= {"py.typed", "plan.schema.json", "page.html.jinja", "page.css"}
    assert not [name for name in names for one in ignored if fnmatch(name, one)]


@pytest.mark.parametrize("line", TABLE["dependencies"])
def test_what_users_need_has_a_lowest_and_a_highest_version(line: str) -> None:
    """A lowest version, so that the oldest ones can be tried, and an end before a major version to come."""
    assert re.fullmatch(r"[a-z0-9-]+>=\d+(\.\d+)*,<\d+", line)


@pytest.mark.parametrize("line", EXTRAS)
def test_what_extras_need_has_a_lowest_version(line: str) -> None:
    """Without one, whatever is oldest would be tried."""
    assert re.match(r"[a-z0-9-]+>=\d", line)

"""The house rules of the source tree: who may import whom, how big modules are, what starts quickly."""

import ast
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "optibuild"
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "optibuild", "catalogs", "tests", "examples"}
MADE_BY_TOOLS = {"build", "dist"}
MODULES = sorted(PACKAGE.rglob("*.py"))
# nouns only: their modules may be imported by name, every other part through its __init__
OPEN_PARTS = {"records"}
SLOW = {"highspy", "jinja2", "matplotlib", "numba", "numpy", "openpyxl", "pandas", "pint", "pulp",
        "python_calamine"}
MOST_LINES, USUAL_LINES = 310, 250
# each is one algorithm, which would not read better in pieces
LONGER = {"optibuild.integer_program.labelling": 400, "optibuild.integer_program.master": 400,
          "optibuild.integer_program.search": 400, "optibuild.pipeline": 330}


def part_of(module: str) -> str:
    """The part that a dotted module name belongs to: `optibuild.fit.builds` -> `fit`, `optibuild` -> ``."""
    return (module.split(".") + [""])[1]


def name_of(path: Path) -> str:
    """The dotted name of a module's file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {name_of(path): path for path in MODULES}


@cache
def offered(package: str) -> set[str]:
    """The names that a package's own __init__ imports: `flags` may be a function there and a module too."""
    path = NAMES.get(package)
    tree = ast.parse(path.read_text(encoding="utf-8") if path else "")
    return {alias.asname or alias.name for node in tree.body if isinstance(node, ast.ImportFrom)
            for alias in node.names}


def _targets(node: ast.AST) -> Iterator[str]:
    """The modules that one import statement names; a name that is only a module counts as that module."""
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom) and node.module:
        for alias in node.names:
            inner = f"{node.module}.{alias.name}"
            yield inner if inner in NAMES and alias.name not in offered(node.module) else node.module


@cache
def imports(path: Path) -> tuple[str, ...]:
    """Every module that a file imports, wherever in the file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return tuple(target for node in ast.walk(tree) for target in _targets(node))


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def import_table() -> dict[str, tuple[set[str], set[str]]]:
    """The import table of DEVELOPERS.md: part -> (parts it may import, third parties it may import)."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    lines = text.partition("| part |")[2].partition("\n\n")[0].splitlines()[2:]
    found = {}
    for parts, own, third in (_cells(line) for line in lines):
        rule = ({*re.findall(r"\w+", own)}, {*re.findall(r"\w+", third)})
        found |= dict.fromkeys(re.findall(r"\w+", parts), rule)
    return found


TABLE = import_table()


def test_every_part_has_a_row_in_the_import_table() -> None:
    """The table of DEVELOPERS.md names every folder and module of the package, and nothing else."""
    there = {part_of(name) for name in NAMES} - {"", "__main__"}
    assert there == set(TABLE)


@pytest.mark.parametrize("part", sorted({part_of(name) for name in NAMES} - {"", "__main__"}))
def test_part_imports_only_what_the_table_allows(part: str) -> None:
    """A part imports the parts and third parties in its row, and beside them the standard library only."""
    own, third = TABLE[part]
    for path in (path for name, path in NAMES.items() if part_of(name) == part):
        for target in imports(path):
            top = target.split(".")[0]
            if top == "optibuild":
                assert part_of(target) in {*own, part}, f"{path.name} imports {target}"
            elif top not in sys.stdlib_module_names:
                assert top in third, f"{path.name} imports {target}"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_are_absolute_and_enter_parts_by_the_front_door(path: Path) -> None:
    """No relative import; another part is imported as a whole, only the records by their modules too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.level]
    own = part_of(name_of(path))
    for target in imports(path):
        if target.startswith("optibuild.") and part_of(target) not in {own, *OPEN_PARTS}:
            assert target.count(".") == 1, f"{path.name} imports {target}"


def test_no_module_and_no_part_imports_in_a_circle() -> None:
    """Modules can be put in an order in which each imports only earlier ones, and so can parts."""
    modules = {name: {target for target in imports(path) if target in NAMES and target != name}
               for name, path in NAMES.items()}
    parts: dict[str, set[str]] = {}
    for name, targets in modules.items():
        parts.setdefault(part_of(name), set()).update(part_of(target) for target in targets)
    within = {part: targets - {part, ""} for part, targets in parts.items() if part}
    assert len([*TopologicalSorter(modules).static_order()]) == len(modules)
    assert {*TopologicalSorter(within).static_order()} == set(within)


def test_top_level_is_exactly_as_agreed() -> None:
    """The repository's top level holds seven entries, dot-files, and folders with a plan or a new case."""
    written = ("plan.json", "case.toml", "case.xlsx")
    found = {entry.name for entry in ROOT.iterdir()
             if not entry.name.startswith(".") and not any((entry / name).exists() for name in written)}
    assert found - MADE_BY_TOOLS == TOP_LEVEL


@pytest.mark.parametrize("name", sorted(NAMES))
def test_module_can_be_read_in_one_sitting(name: str) -> None:
    """No module has more than 310 lines, three of the integer program aside."""
    assert len(NAMES[name].read_text(encoding="utf-8").splitlines()) <= LONGER.get(name, MOST_LINES)


def test_most_modules_are_short() -> None:
    """At least nine modules in ten have 250 lines or fewer."""
    short = [path for path in MODULES if len(path.read_text(encoding="utf-8").splitlines()) <= USUAL_LINES]
    assert len(short) >= 0.9 * len(MODULES)


@pytest.mark.parametrize("call", [["--help"], ["--version"], ["plan", "--help"]], ids=" ".join)
def test_help_starts_without_the_heavy_libraries(call: list[str]) -> None:
    """Help and version are printed without numpy, solver, compiler or unit library being imported."""
    code = ("import json, sys\nfrom optibuild.cli import main\n"
            f"try:\n    main({call!r})\nexcept SystemExit as end:\n    assert not end.code\n"
            "print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert not SLOW & set(json.loads(done.stdout.splitlines()[-1]))


def test_importing_the_package_is_light() -> None:
    """`import optibuild` alone imports none of the heavy libraries: public names load when first used."""
    code = "import json, sys, optibuild\nprint(json.dumps(sorted({n.split('.')[0] for n in sys.modules})))\n"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert not SLOW & set(json.loads(done.stdout))


def test_types_are_shipped() -> None:
    """The package says that its types may be relied on."""
    assert (PACKAGE / "py.typed").exists()

"""The house rules of docstrings: what every public name of the engine says of itself.

Public is what has no underscore: functions and classes of a module, methods of such a class. The rules are
read off the source and never run it.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "optibuild"
PARTS = ("fit", "cycle_time", "cost", "integer_program", "plan", "records", "explain", "what_if", "inputs")
MODULES = sorted(path for part in PARTS for path in (PACKAGE / part).rglob("*.py"))
# plain formulas of the trade and of the rules: each function, or its module, says where it comes from
FORMULAS = ("fit/axle_loads", "fit/flags", "cycle_time/plowing", "cycle_time/deicing", "cycle_time/turning",
            "cycle_time/traction", "cost/owning", "cost/pay", "cost/simulation")
KEYED = {"dict", "Mapping", "Callable"}
ARRAYS = {"Floats", "Ints", "Bools", "NDArray", "ndarray", "ArrayLike"}
FIGURES = {"float", "Floats"}
UNIT_ENDING = re.compile(r"(^|_)(kg|m|m2|m3|min|usd|year|rad|deg|degc|l|lb|in|s)$")
# names that are a unit, or a bare number that needs none
PLAIN_NAMES = {"minutes", "meters", "hours", "seconds", "share", "gap", "ratio", "count", "counts",
               "weight", "weights", "interest", "job_efficiency", "spreading_efficiency", "circuity",
               "chance_of_loss", "overhead"}
# fields of a table or of case.toml: the column guide explains each, and a test holds that the names agree
GUIDED = ("records/catalog", "records/case", "records/contracts")
UNITS = {"kg", "m", "m^2", "m^3", "min", "h", "s", "year", "USD", "lb", "rad", "deg", "share", "L/m", "USD/L",
         "kg/m^2", "kg/m^3", "m/min", "m^2/h", "USD/kg", "USD/min", "USD/m", "USD/year", "1/year",
         "USD a season"}
IN_WORDS = re.compile(
    r"\b(minutes?|hours?|years?|seconds?|meters|inches|pounds|kilograms|kg|dollars?|USD|inner units"
    r"|shares?|ratio|factor|score|deviations?|weights?|numbers?|count|how (many|often|much)"
    r"|passes|rounds|pushes|events|drivers|persons|trucks|units|columns|works|loops|cost|objective)\b", re.I)
SOURCED = re.compile(r"Source|CFR|FMVSS|NHTSA|from\s+memory|common\s+practice|[Oo]ur form|SAE |textbook")
AXIS = re.compile(r"\.\.\.|\d+|([A-Z])'?( \+ \d)?|([a-z]|rows|steps|words|labels|place|set)( ?\+ ?\d| each)?")


@dataclass(frozen=True)
class Told:
    """A public name with what its docstring says; `around` is what its class and its module say too."""

    where: str
    node: ast.FunctionDef | ast.ClassDef
    doc: str
    around: str
    functions: dict[str, ast.FunctionDef]

    @property
    def name(self) -> str:
        """The name alone."""
        return self.node.name

    def figures(self) -> Iterator[tuple[str, ast.expr | None]]:
        """Parameters of a function or fields of a class, with their types."""
        if isinstance(self.node, ast.ClassDef):
            yield from ((field.target.id, field.annotation) for field in self.node.body
                        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name))
            return
        given = self.node.args
        yield from ((one.arg, one.annotation) for one in (*given.posonlyargs, *given.args, *given.kwonlyargs))

    def returned(self) -> ast.expr | None:
        """What a function returns."""
        return self.node.returns if isinstance(self.node, ast.FunctionDef) else None


def _public(tree: ast.Module, path: Path) -> Iterator[Told]:
    module = ast.get_docstring(tree) or ""
    where = path.relative_to(PACKAGE).with_suffix("").as_posix()
    functions = {node.name: node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
            continue
        doc = ast.get_docstring(node) or ""
        yield Told(f"{where}.{node.name}", node, doc, module, functions)
        for inner in node.body if isinstance(node, ast.ClassDef) else ():
            if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                yield Told(f"{where}.{node.name}.{inner.name}", inner, ast.get_docstring(inner) or "",
                           f"{doc}\n{module}", functions)


TOLD = [told for path in MODULES for told in _public(ast.parse(path.read_text(encoding="utf-8")), path)]
CALLS = [told for told in TOLD if isinstance(told.node, ast.FunctionDef)]


def _types(annotation: ast.expr | None) -> set[str]:
    """Every name in an annotation."""
    return set(re.findall(r"\w+", ast.unparse(annotation))) if annotation else set()


def _brackets(doc: str) -> list[list[str]]:
    """The entries of every bracket: axes first, then perhaps a unit. Names and code that is shown are left
    out, so that a unit that a field tells, [`unit`], is an empty bracket."""
    plain = re.sub(r"`[^`]*`", "", re.sub(r"(?m)^    .*$", "", doc))
    inside = [found for found in re.findall(r"\[([^\[\]]*)\]", plain) if found]
    return [[entry.strip() for entry in re.sub(r"\s+", " ", one).split(",")] for one in inside]


def _raised(told: Told) -> set[str]:
    """Errors that a function raises itself or through private functions of its module, by name.

    A call that makes the error counts as what it returns; private errors are caught where they are made.
    """
    found: set[str] = set()
    queue, seen = [told.node], {told.name}
    while queue:
        for node in ast.walk(queue.pop()):
            if isinstance(node, ast.Raise) and node.exc is not None:
                made = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
                name = made.attr if isinstance(made, ast.Attribute) else getattr(made, "id", "")
                maker = told.functions.get(name)
                found |= _types(maker.returns) if maker else {name}
            called = getattr(getattr(node, "func", None), "id", "")
            if called.startswith("_") and called in told.functions and called not in seen:
                seen.add(called)
                queue.append(told.functions[called])
    return {name for name in found if name[:1].isupper()} - _caught(told.node)


def _caught(node: ast.AST) -> set[str]:
    """Errors that a function itself turns into something else than an error."""
    return {name for handler in ast.walk(node) if isinstance(handler, ast.ExceptHandler)
            and not any(isinstance(inner, ast.Raise) for inner in ast.walk(handler))
            for name in _types(handler.type)}


def test_there_is_something_to_read() -> None:
    """Every part of the engine has public functions and classes: an empty list would prove nothing."""
    assert {told.where.split("/")[0] for told in TOLD} == set(PARTS)
    assert len(CALLS) > 500


@pytest.mark.parametrize("part", PARTS)
def test_every_public_name_has_a_docstring(part: str) -> None:
    """Each public function, method and class says what it is, in a sentence that ends."""
    bare = [told.where for told in TOLD if told.where.startswith(f"{part}/")
            and not re.search(r"[.:)]\s*$|[.:]\s*\n", told.doc)]
    assert not bare


@pytest.mark.parametrize("part", PARTS)
def test_what_holds_arrays_names_their_axes(part: str) -> None:
    """Where arrays go in, come out or are held, the docstring has their axes in brackets, or says, it or its
    module, that they broadcast or that the axes are another record's."""
    silent = []
    for told in (told for told in TOLD if told.where.startswith(f"{part}/")):
        held = [annotation for _, annotation in told.figures()] + [told.returned()]
        if not any(_types(annotation) & ARRAYS for annotation in held):
            continue
        axes = any(AXIS.fullmatch(entries[0]) for entries in _brackets(told.doc))
        if not axes and not re.search(r"broadcast|axes\s+(as|of|are)", f"{told.doc}\n{told.around}"):
            silent.append(told.where)
    assert not silent


def test_brackets_hold_known_axes_and_units_only() -> None:
    """An entry in brackets is an axis or a unit; a capital for an axis is explained in DEVELOPERS.md, in the
    docstring, or in that of its class or module."""
    conventions = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("Axes of arrays:")[2]
    common = set(re.findall(r"\b([A-Z])\b", conventions.partition("A docstring names")[0]))
    unknown = []
    for told in TOLD:
        outside = re.sub(r"\[[^\[\]]*\]", "", f"{told.doc}\n{told.around}")
        known = common | set(re.findall(r"\b([A-Z])\b", outside))
        for entry in (entry for entries in _brackets(told.doc) for entry in entries):
            axis = AXIS.fullmatch(entry)
            if entry not in UNITS and (axis is None or (axis[1] and axis[1] not in known)):
                unknown.append((told.where, entry))
    assert not unknown


@pytest.mark.parametrize("part", PARTS)
def test_a_figure_returned_has_a_unit(part: str) -> None:
    """A function that returns a figure ends in its unit, or its docstring has the unit in brackets or in
    words, or says what is counted."""
    bare = [told.where for told in CALLS if told.where.startswith(f"{part}/")
            and _types(told.returned()) & FIGURES and not UNIT_ENDING.search(told.name)
            and not any(entry in UNITS for entries in _brackets(told.doc) for entry in entries)
            and not IN_WORDS.search(told.doc)]
    assert not bare


@pytest.mark.parametrize("part", PARTS)
def test_a_figure_without_a_unit_in_its_name_is_explained(part: str) -> None:
    """A parameter or field that is a figure ends in its unit, or the docstring (or its class's or module's)
    names it and says what it is."""
    unsaid = []
    for told in (told for told in TOLD if told.where.startswith(f"{part}/")):
        if told.where.startswith(GUIDED):
            continue
        text = f"{told.doc}\n{told.around}"
        unsaid += [(told.where, name) for name, annotation in told.figures()
                   if _types(annotation) & FIGURES and not _types(annotation) & KEYED
                   and not UNIT_ENDING.search(name)
                   and name not in PLAIN_NAMES and not re.search(rf"\b{name}\b", text)]
    assert not unsaid


@pytest.mark.parametrize("part", PARTS)
def test_errors_are_named(part: str) -> None:
    """A function that raises an error, itself or in a private function of its module, names it."""
    silent = [(told.where, error) for told in CALLS if told.where.startswith(f"{part}/")
              for error in sorted(_raised(told)) if not re.search(rf"\b{error}\b", told.doc)]
    assert not silent


@pytest.mark.parametrize("module", FORMULAS)
def test_formulas_say_where_they_come_from(module: str) -> None:
    """Every public formula has a source, its own or its module's; what is ours or from memory says so."""
    unsourced = [told.where for told in CALLS if told.where.startswith(f"{module}.")
                 and not SOURCED.search(f"{told.doc}\n{told.around}")]
    assert not unsourced

"""A case and its variations, each checked as a case of its own would be."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from optibuild.errors import InputProblems, Place, Problem, UsageError
from optibuild.inputs.case import Reading, concluded, no_garbage_sought, read_files
from optibuild.inputs.declared.problems import MOST_PROBLEMS, Collector
from optibuild.inputs.reading.case_file import toml_tree
from optibuild.inputs.reading.sources import Sources
from optibuild.inputs.varying.changing import Changed, Replacements
from optibuild.inputs.varying.forms import BASE, Written
from optibuild.inputs.varying.listing import Planned, listed
from optibuild.inputs.varying.parsing import read_forms
from optibuild.inputs.varying.toml_rows import rows_of
from optibuild.records import Case, Variant

VARIATIONS_FILE = "variations.toml"
SUCH_AS = '[[variation]] / name = "dearer drivers" / set = { "money.wage" = "32 USD/h" }'


def read_variants(path: str | Path) -> tuple[Variant, ...]:
    """The case and its variations; UsageError without variations.toml, InputProblems with all faults.

    Beside the case lies a file as this one (a workbook's lies beside the workbook):

        [[variation]]
        name = "prices up"
        change = [
          { table = "trucks", where = { size = "three-quarter-ton" }, column = "price", add = "2500 USD" },
          { table = "plows", where = { id = "straight-*" }, column = "price", scale = "+5 %" },
          { table = "trucks", where = { id = "one-ton-1" }, drop = true },
          { table = "trucks", where = { id = "half-ton-1" }, copy = "{id}-used",
            set = { price = "21000 USD" } },
          { table = "season", replace = "hard-season.csv" },
        ]

        [[variation]]
        name = "prices up, short of money"
        inherit = "prices up"
        set = { "money.budget" = "250000 USD" }

        [[sweep]]
        name = "budget"
        key = "money.budget"
        values = ["200000 USD", "300000 USD", "400000 USD"]

        [[combination]]
        name = "grid"
        of = [["base", "prices up"], "budget"]
    """
    variants, problems = check_variants(path)
    if variants is None:
        raise InputProblems(problems)
    return variants


def check_variants(path: str | Path) -> tuple[tuple[Variant, ...] | None, tuple[Problem, ...]]:
    """The case, named base, and its variations in the order of the file, with all problems of all of them.

    None where any problem is an error. A problem that the base has too is told once; one that it has not
    names the variation. UsageError where there is no case, or no variations.toml beside it.
    """
    folder = Path(path).parent if Path(path).is_file() else Path(path)
    with no_garbage_sought():
        collector = Collector()
        base = read_files(Path(path), str(path), collector)
        if not (folder / VARIATIONS_FILE).exists():
            raise UsageError(f"there is no {VARIATIONS_FILE} beside the case '{path}': write what to "
                             f"vary into one, such as (a line for each part) {SUCH_AS}")
        if base is None:
            return None, collector.in_order()
        return _Check(base, collector).all()


@dataclass
class _Told:
    """A problem of a variation: the one that has it first, and all that have it."""

    problem: Problem
    first: str
    names: set[str]


@dataclass
class _Check:
    base: Reading
    collector: Collector
    told: dict[tuple[object, ...], _Told] = field(default_factory=dict)

    def all(self) -> tuple[tuple[Variant, ...] | None, tuple[Problem, ...]]:
        """Every case with every problem."""
        case = concluded(self.base, self.collector)
        known = set(self.collector.problems)
        sources = replace(self.base.sources, digests={})
        planned = listed(_written(sources, self.collector), self.collector)
        digest = tuple(sources.digests.items())
        variants = [] if case is None else [Variant(BASE, (), (), case)]
        replacements = Replacements(self.base)
        for one in planned:
            variant = self._one(one, replacements, known)
            if variant:
                inputs = tuple(sorted((*variant.case.inputs, *digest)))
                variants.append(replace(variant, case=replace(variant.case, inputs=inputs)))
        self._note_same(planned, variants)
        self._tell()
        found = self.collector.in_order()
        return None if self.collector.failed or case is None else tuple(variants), found

    def _one(self, planned: Planned, replacements: Replacements, known: set[Problem]) -> Variant | None:
        collector = Collector()
        changed = Changed(self.base, replacements, collector)
        for step in planned.steps:
            changed.make(step)
        changed.note_copies()
        reading = changed.reading()
        # what the base has wrong is wrong here too, and not noted twice
        case = None if collector.failed or self.collector.failed else concluded(reading, collector)
        for problem in collector.problems:
            if problem not in known:
                self._add(problem, planned, changed)
        return None if case is None else Variant(planned.name, tuple(changed.said), planned.at, case)

    def _add(self, problem: Problem, planned: Planned, changed: Changed) -> None:
        """One problem more, with a place in variations.toml; the same in another variation is counted."""
        cause = _cause(problem, planned, changed)
        places = dict.fromkeys(replace(cause, column=place.column) if _is_copied(place, changed) else place
                               for place in problem.places)
        if not any(place.file == VARIATIONS_FILE for place in places):
            places[cause] = None
        problem = replace(problem, places=tuple(places))
        key = (problem.code, problem.text, problem.places[:1], problem.value)
        if key in self.told:
            self.told[key].names.add(planned.name)
        elif len(self.told) < MOST_PROBLEMS:
            self.told[key] = _Told(problem, planned.name, {planned.name})
        else:
            self.collector.unlisted += 1

    def _note_same(self, planned: Sequence[Planned], variants: Sequence[Variant]) -> None:
        """Two values of a sweep, or of a combination, that make the same case."""
        makers = {one.name: one for one in planned if one.maker}
        first: dict[tuple[str, Case], str] = {}
        for variant in variants:
            if one := makers.get(variant.name):
                other = first.setdefault((one.maker, variant.case), variant.name)
                if other != variant.name:
                    self.collector.add("variation.same", f"'{other}' and '{variant.name}' are the same case",
                                       one.place, value=variant.name)

    def _tell(self) -> None:
        """The problems of all variations, each with the name of the first that has it."""
        for told in self.told.values():
            more = f" and {len(told.names) - 1:,} more" if len(told.names) > 1 else ""
            self.collector.problems.append(
                replace(told.problem, text=f"in '{told.first}'{more}: {told.problem.text}"))


def _written(sources: Sources, collector: Collector) -> list[Written]:
    """What variations.toml holds, as far as it is understood."""
    text = sources.text(VARIATIONS_FILE)
    tree = None if text is None else toml_tree(VARIATIONS_FILE, text, collector)
    if tree is None or text is None:
        return []
    try:
        return read_forms(tree, rows_of(text), VARIATIONS_FILE, collector)
    except RecursionError:
        collector.add("file.toml", f"'{VARIATIONS_FILE}' is nested too deep", Place(VARIATIONS_FILE))
        return []


def _is_copied(place: Place, changed: Changed) -> bool:
    return (place.file, place.sheet, place.row) in changed.copied


def _cause(problem: Problem, planned: Planned, changed: Changed) -> Place:
    """The last change to the row, or else to the table, of a problem; or else the whole variation."""
    rows = {(place.file, place.sheet, place.row) for place in problem.places}
    tables = {(file, sheet) for file, sheet, _ in rows}
    for file, sheet, numbers, place in reversed(changed.touched):
        if any((file, sheet, number) in rows for number in numbers):
            return place
    for file, sheet, _, place in reversed(changed.touched):
        if (file, sheet) in tables:
            return place
    return planned.place

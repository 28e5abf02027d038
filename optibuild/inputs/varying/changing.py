"""A case as text, changed step by step, and read again as far as it changed."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from optibuild.errors import Place, Problem
from optibuild.inputs.case import Reading, events, raw_table, read_raw, settings_of
from optibuild.inputs.declared.columns import TABLES, columns_of
from optibuild.inputs.declared.declaration import Declaration, blank_value
from optibuild.inputs.declared.keys import FUEL, FUELS, KEYS
from optibuild.inputs.declared.problems import Collector, Fault
from optibuild.inputs.reading.case_file import Entry, Settings
from optibuild.inputs.reading.cells import key_value
from optibuild.inputs.reading.files import path_fault
from optibuild.inputs.reading.raw_table import Marked, RawTable
from optibuild.inputs.reading.tables import Table
from optibuild.inputs.varying.editing import edited
from optibuild.inputs.varying.finding import said_values
from optibuild.inputs.varying.forms import Change, SetKey, Step, shown

_TABLES = "tables."
_PLACES = (("travel", "from"), ("travel", "to"))
_NAMED_IN: dict[str, tuple[tuple[str, str], ...]] = {
    "trucks": (("mounts", "truck"), ("timings", "truck"), ("sites", "timed_truck")),
    "plows": (("mounts", "attachment"), ("timings", "plow"), ("sites", "timed_plow")),
    "spreaders": (("mounts", "attachment"),), "sites": (*_PLACES, ("timings", "site")), "depots": _PLACES}
"""Where the rows of a table are named by their ids: a copy has none of that."""


@dataclass
class Replacements:
    """The tables that variations put in the place of others, each read once."""

    base: Reading
    read: dict[tuple[str, str], tuple[RawTable | None, tuple[Problem, ...]]] = field(default_factory=dict)

    def table(self, name: str, path: str, columns: Sequence[Declaration],
              collector: Collector) -> RawTable | None:
        """The table of a path, or the case's own for a blank one; None where it cannot be had."""
        if (name, path) not in self.read:
            found = Collector()
            sources = replace(self.base.sources, collector=found)
            given = {f"{_TABLES}{name}": Place()} if path else {}
            settings = Settings(self.base.settings.file, given=given, paths={name: path} if path else {})
            raw = raw_table(name, sources, settings, columns, found)
            self.read[name, path] = raw, tuple(found.problems)
        raw, problems = self.read[name, path]
        collector.problems += problems
        return raw


@dataclass
class Changed:
    """The text of a case on its way from step to step.

    `touched`: the file, sheet and rows (none: all) that a step changed, and its place; `copied`: rows that no
    file has; `copies`: table, id and id of the copy; `said`: every change in plain words.
    """

    base: Reading
    replacements: Replacements
    collector: Collector
    entries: dict[str, Entry] = field(default_factory=dict)
    raws: dict[str, RawTable | None] = field(default_factory=dict)
    touched: list[tuple[str, str, tuple[int, ...], Place]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    copied: set[tuple[str, str, int]] = field(default_factory=set)
    copies: list[tuple[str, str, str, Place]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.entries = {entry.key: entry for entry in self.base.entries}
        self.raws = {name: table.raw if table else None for name, table in self.base.tables.items()}

    def make(self, step: Step) -> None:
        """One step; what cannot be made is noted at its place, and what changes nothing."""
        before = len(self.said)
        try:
            if isinstance(step, SetKey):
                self._set(step)
                what = f"'{step.key}' is so already"
            else:
                self._change(step)
                what = f"the cells of '{step.table}' that it finds are so already"
        except Fault as fault:
            self.collector.add(fault.code, fault.text, step.place, expected=fault.expected, hint=fault.hint)
            return
        if len(self.said) == before and not step.swept and not self.collector.failed:
            self.collector.add("variation.nothing", what, step.place)

    def _set(self, step: SetKey) -> None:
        old = self.entries.get(step.key)
        leaves_out = step.value == "" and (old is not None or step.key in KEYS)
        if not _means_the_same(step.key, old, step.value):
            new = _shown_key(step.key) if leaves_out else shown(step.value)
            self.said.append(f"{step.key}: {_shown_key(step.key, old)} -> {new}")
        if leaves_out:
            self.entries.pop(step.key, None)
        else:
            self.entries[step.key] = Entry(step.key, step.value, step.place)
        name = step.key.removeprefix(_TABLES)
        if step.key.startswith(_TABLES) and name in TABLES:
            self._replace(name, step)

    def _replace(self, name: str, step: SetKey) -> None:
        if not isinstance(step.value, str) or (step.value and path_fault(step.value)):
            return  # reading the keys tells what is wrong with it
        raw = self.replacements.table(name, step.value, self._columns(name), self.collector)
        self.raws[name] = raw
        if raw:
            self.touched.append((raw.file, raw.sheet, (), step.place))

    def _change(self, change: Change) -> None:
        raw = self.raws[change.table]
        if raw is None:
            return  # the base tells why it cannot be read
        after = edited(raw, change, self._columns(change.table))
        if change.copy is not None:
            self.copied |= {(raw.file, raw.sheet, row) for row in after.rows}
            self.copies += [(change.table, *pair, change.place) for pair in after.copies]
        self.raws[change.table] = after.raw
        self.said += after.said
        self.touched.append((raw.file, raw.sheet, after.rows, change.place))

    def _columns(self, table: str) -> tuple[Declaration, ...]:
        if table != "past_winters":
            return TABLES[table]
        season = read_raw("season", self.raws["season"], {}, Collector())
        return columns_of(table, events({"season": season}) or ())

    def note_copies(self) -> None:
        """Note copies of which no rows tell what other rows tell of those that they were copied from."""
        for table, name, copy, place in self.copies:
            for other in dict.fromkeys(other for other, _ in _NAMED_IN.get(table, ())):
                named = self._named_in(other, table)
                if name in named and copy not in named:
                    text = f"rows of {other} name '{name}'; the copy '{copy}' has none"
                    self.collector.add("variation.copied", text, place, value=copy)

    def _named_in(self, other: str, table: str) -> set[str]:
        """The ids that a table has of rows of another one."""
        raw = self.raws.get(other)
        return set() if raw is None else {
            name for where, column in _NAMED_IN[table] if where == other
            for name in said_values(raw, column, self._columns(other))}

    def reading(self) -> Reading:
        """The changed case as read; what did not change is not read again."""
        base, settings = self.base, self.base.settings
        entries = tuple(self.entries.values())
        if entries != base.entries:
            settings = settings_of(entries, base.sources, self.collector)
        tables: dict[str, Table | None] = {}
        for name, before in base.tables.items():
            raw = self.raws[name]
            same = raw is before.raw if before else raw is None
            if same and (name != "past_winters" or tables["season"] is base.tables["season"]):
                tables[name] = before
            else:
                tables[name] = read_raw(name, raw, tables, self.collector)
        return replace(base, entries=entries, settings=settings, tables=tables)


def _declared(key: str) -> Declaration | None:
    prefix = FUEL.name.removesuffix("NAME")
    return FUEL if key.startswith(prefix) and key != FUEL.name else KEYS.get(key)


def _default(key: str, declared: Declaration) -> str:
    """What a key that is left out means, in words."""
    fuel = FUELS.get(key.rpartition(".")[2], "") if declared is FUEL else ""
    return fuel or declared.default or declared.derived or "not given"


def _shown_key(key: str, entry: Entry | None = None) -> str:
    """The value of a key in words: as written, or its default."""
    declared = _declared(key)
    if entry is not None:
        return shown(_typed(entry))
    return _default(key, declared) if declared else "not given"


def _typed(entry: Entry | None) -> Any:
    if entry is None:
        return ""
    return entry.value.text if isinstance(entry.value, Marked) else entry.value


def _means_the_same(key: str, old: Entry | None, new: Any) -> bool:
    """Whether a new value changes nothing; one that cannot be read changes something."""
    declared = _declared(key)
    if declared is None:
        return old is not None and bool(_typed(old) == new)
    try:
        return bool(_value(key, _typed(old), declared) == _value(key, new, declared))
    except Fault:
        return False


def _value(key: str, value: Any, declared: Declaration) -> Any:
    """A value of a key in inner units; a blank one is the default."""
    if value != "":
        return key_value(value, declared)
    fuel = FUELS.get(key.rpartition(".")[2]) if declared is FUEL else None
    return key_value(fuel, declared) if fuel else blank_value(declared)

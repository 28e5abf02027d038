"""The text of variations.toml to what it may hold; what is not understood is noted."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from optibuild.errors import Place
from optibuild.inputs.declared.columns import TABLES
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.reading.case_file import flat
from optibuild.inputs.varying.forms import BASE, HOW, Cells, Change, SetKey, Step, Written, has_ids, shown
from optibuild.inputs.varying.toml_rows import Path, row_of

LONGEST_NAME = 100
MOST_NUMBER = 10**15
CHANGE_KEYS = ("table", "where", "column", *HOW, "drop", "copy", "replace")
SWEEP_HOW = {"values": "set", "add": "add", "scale": "scale"}
KINDS: dict[str, tuple[str, ...]] = {
    "variation": ("name", "inherit", "set", "change"),
    "sweep": ("name", "key", "table", "where", "column", *SWEEP_HOW),
    "combination": ("name", "of"),
}
_SCALAR = (str, int, float, bool)


class _NotUnderstood(Exception):
    """What is wrong with a part of the file, the path of that part, a hint."""

    def __init__(self, text: str, *path: str | int, hint: str = "", code: str = "variation.form") -> None:
        super().__init__(text)
        self.text, self.path, self.hint, self.code = text, path, hint, code


def read_forms(tree: Mapping[str, Any], rows: Mapping[Path, int], file: str,
               collector: Collector) -> list[Written]:
    """Everything in the file that is understood, in its order; the rest is noted."""
    return _Forms(dict(rows), file, collector).read(tree)


@dataclass
class _Forms:
    rows: dict[Path, int]
    file: str
    collector: Collector
    found: dict[str, Written] = field(default_factory=dict)

    def read(self, tree: Mapping[str, Any]) -> list[Written]:
        for kind, written in tree.items():
            if kind.startswith("note"):
                continue
            if kind not in KINDS:
                self._note(_NotUnderstood(f"'{kind}' is neither a variation nor a sweep nor a combination",
                                          kind, 0, hint=did_you_mean(kind, KINDS)))
            elif not isinstance(written, list) or not all(isinstance(one, dict) for one in written):
                self._note(_NotUnderstood(f"'{kind}' is no list of tables", kind, 0,
                                          hint=f"Begin each with [[{kind}]]."))
            else:
                for index, one in enumerate(written):
                    self._one(kind, one, (kind, index))
        return sorted(self.found.values(), key=lambda one: one.place.row)

    def _one(self, kind: str, one: Mapping[str, Any], path: Path) -> None:
        make = {"variation": self._variation, "sweep": self._sweep, "combination": self._combination}[kind]
        try:
            _known(one, KINDS[kind], path, f"a {kind}")
            name = _name(one.get("name"), kind, path)
            if other := self.found.get(name):
                self.collector.add("variation.twice", f"the name '{name}' is there twice",
                                   self._place(*path, "name"), other.place, value=name)
                return
            self.found[name] = make(name, one, path)
        except _NotUnderstood as error:
            self._note(error)

    def _note(self, error: _NotUnderstood) -> None:
        self.collector.add(error.code, error.text, self._place(*error.path), hint=error.hint)

    def _place(self, *path: str | int) -> Place:
        return Place(self.file, row=row_of(self.rows, *path))

    def _variation(self, name: str, one: Mapping[str, Any], path: Path) -> Written:
        keys = one.get("set", {})
        if not isinstance(keys, dict):
            raise _NotUnderstood("'set' of a variation is no table of keys", *path, "set",
                                 hint='Write set = { "money.budget" = "250000 USD" }.')
        changes = one.get("change", [])
        if isinstance(changes, dict):
            changes = [changes]
        if not isinstance(changes, list) or not all(isinstance(change, dict) for change in changes):
            raise _NotUnderstood("'change' is no list of tables", *path, "change",
                                 hint='Write change = [{ table = "trucks", ... }].')
        steps: list[Step] = []
        for key, value in flat(keys):
            at = (*path, "set", *key.split("."))
            steps.append(SetKey(key, _scalar(value, f"'{key}'", at), self._key_place(key, *path, "set")))
        for index, change in enumerate(changes):
            steps.append(self._change(change, (*path, "change", index)))
        inherit = _names(one.get("inherit", []), "inherit", path)
        return Written("variation", name, self._place(*path), inherit, tuple(steps))

    def _key_place(self, key: str, *path: str | int) -> Place:
        row = self.rows.get((*path, key)) or row_of(self.rows, *path, *key.split("."))
        return Place(self.file, row=row, column=key)

    def _change(self, change: Mapping[str, Any], path: Path) -> Step:
        _known(change, CHANGE_KEYS, path, "a change")
        table = _table(change, path)
        if "replace" in change:
            if set(change) - {"table", "replace"}:
                raise _NotUnderstood("'replace' stands beside 'table' alone", *path)
            value = _scalar(change["replace"], "'replace'", (*path, "replace"))
            return SetKey(f"tables.{table}", value, self._key_place(f"tables.{table}", *path))
        drop, cells = change.get("drop", False), tuple(_cells(change, path))
        if not isinstance(drop, bool):
            raise _NotUnderstood("'drop' is neither true nor false", *path, "drop")
        copy = _copy(change, table, path)
        if drop and (cells or copy is not None):
            raise _NotUnderstood("rows that are dropped are not changed or copied too", *path)
        if not drop and not cells and copy is None:
            raise _NotUnderstood("a change says what it does: column with set, add or scale; drop = true; "
                                 "copy; or replace", *path)
        return Change(table, self._place(*path), _where(change, path), cells, drop, copy)

    def _sweep(self, name: str, one: Mapping[str, Any], path: Path) -> Written:
        given = [key for key in SWEEP_HOW if key in one]
        if len(given) != 1:
            raise _NotUnderstood("a sweep has one list: values, add or scale", *path)
        values = one[given[0]]
        if not isinstance(values, list) or not values:
            raise _NotUnderstood(f"'{given[0]}' of a sweep is no list of values", *path, given[0])
        typed = [_scalar(value, f"'{given[0]}'", (*path, given[0])) for value in values]
        options = zip(map(shown, typed), self._steps(one, given[0], typed, path), strict=True)
        return Written("sweep", name, self._place(*path), options=tuple(options))

    def _steps(self, one: Mapping[str, Any], how: str, values: Sequence[Any], path: Path) -> Iterator[Step]:
        place = self._place(*path, how)
        if "key" not in one:
            table, where, column = _table(one, path), _where(one, path), _text(one, "column", path)
            return (Change(table, place, where, (Cells(column, SWEEP_HOW[how], value),), swept=True)
                    for value in values)
        key = _text(one, "key", path)
        if how != "values" or {"table", "where", "column"} & set(one):
            raise _NotUnderstood("a sweep of a key has 'key' and 'values' alone", *path)
        return (SetKey(key, value, Place(self.file, row=place.row, column=key), True) for value in values)

    def _combination(self, name: str, one: Mapping[str, Any], path: Path) -> Written:
        axes = one.get("of")
        if not isinstance(axes, list) or not axes:
            raise _NotUnderstood("a combination has 'of': a list of names of sweeps and variations", *path,
                                 "of")
        return Written("combination", name, self._place(*path),
                       axes=tuple(_names(axis, "of", path) for axis in axes))


def _known(one: Mapping[str, Any], keys: Sequence[str], path: Path, what: str) -> None:
    for key in one:
        if key not in keys and not key.startswith("note"):
            raise _NotUnderstood(f"'{key}' is no part of {what}: {', '.join(keys)}", *path, key,
                                 hint=did_you_mean(key, keys))


def _name(value: Any, kind: str, path: Path) -> str:
    name = value.strip() if isinstance(value, str) else ""
    if not name or name.casefold() == BASE or not name.isprintable() or len(name) > LONGEST_NAME:
        said = f"{value[:LONGEST_NAME]!a} cannot be the name of a {kind}" if isinstance(value, str) else \
            f"a {kind} has no name that is text"
        raise _NotUnderstood(said, *path, "name", code="variation.name")
    return name


def _names(value: Any, key: str, path: Path) -> tuple[str, ...]:
    """One name or a list of them."""
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names) or (
            key == "of" and not names):
        raise _NotUnderstood(f"'{key}' holds something that is no name", *path, key)
    return tuple(name.strip() for name in names)


def _scalar(value: Any, what: str, path: Path) -> Any:
    if not isinstance(value, _SCALAR):
        raise _NotUnderstood(f"{what} is neither text nor a number", *path)
    if isinstance(value, int) and abs(value) > MOST_NUMBER:
        raise _NotUnderstood(f"{what} is too large a number", *path)
    return value


def _text(one: Mapping[str, Any], key: str, path: Path) -> str:
    value = one.get(key)
    if not isinstance(value, str) or not value.strip():
        raise _NotUnderstood(f"'{key}' is missing or no text", *path, key)
    return value.strip()


def _table(one: Mapping[str, Any], path: Path) -> str:
    table = _text(one, "table", path)
    if table not in TABLES:
        raise _NotUnderstood(f"there is no table '{table}': {', '.join(TABLES)}", *path, "table",
                             hint=did_you_mean(table, TABLES), code="variation.unknown")
    return table


def _where(one: Mapping[str, Any], path: Path) -> tuple[tuple[str, tuple[Any, ...]], ...]:
    """Columns and the values that a row may have there, each a list."""
    where = one.get("where", {})
    if not isinstance(where, dict):
        raise _NotUnderstood("'where' is no table of columns and values", *path, "where",
                             hint='Write where = { size = "half-ton" }.')
    found = []
    for column, value in where.items():
        values = value if isinstance(value, list) else [value]
        at = (*path, "where")
        found.append((column, tuple(_scalar(one, f"'{column}' in where", at) for one in values)))
    return tuple(found)


def _cells(change: Mapping[str, Any], path: Path) -> Iterator[Cells]:
    """Cells that a change sets, adds to or scales: set = { column = value }, or one column."""
    given = [how for how in HOW if how in change]
    if isinstance(change.get("set"), dict):
        given.remove("set")
        yield from (Cells(column, "set", _scalar(value, f"'{column}' in set", path))
                    for column, value in change["set"].items())
    if ("column" in change) != (len(given) == 1):
        raise _NotUnderstood("'column' goes with one of set, add and scale", *path)
    if given:
        yield Cells(_text(change, "column", path), given[0],
                    _scalar(change[given[0]], f"'{given[0]}'", path))


def _copy(change: Mapping[str, Any], table: str, path: Path) -> str | None:
    """The id of copies, with {id} for that of the row; "" in a table without ids; None where none is made."""
    if "copy" not in change:
        return None
    copy = change["copy"]
    if has_ids(table):
        if not isinstance(copy, str) or not copy.strip():
            raise _NotUnderstood("'copy' is no id for the copies", *path, "copy",
                                 hint="Write copy = \"{id}-2\": {id} stands for the id of the row.")
        return copy.strip()
    if copy is not True:
        raise _NotUnderstood(f"the rows of '{table}' have no ids", *path, "copy", hint="Write copy = true.")
    return ""

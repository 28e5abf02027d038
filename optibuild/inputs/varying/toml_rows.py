"""On which line of a TOML text each key, table and element of a list stands; the TOML reader does not say."""

import re
from dataclasses import dataclass, field

Path = tuple[str | int, ...]
_TOKEN = re.compile(r'"""(?:\\.|[^\\])*?"{3,5}|' r"'''.*?'{3,5}|" r'"(?:\\.|[^"\\\n])*"|' r"'[^'\n]*'"
                    r"|#[^\n]*|[\[\]{}=\n]|[^\s\[\]{}=#\"']+", re.DOTALL)


def rows_of(text: str) -> dict[Path, int]:
    """The line of every path, as ("variation", 0, "change", 1); of a text that has been read as TOML."""
    rows = _Rows()
    row, depth = 1, 0
    statement: list[tuple[str, int]] = []
    for token in _TOKEN.findall(text):
        if token == "\n" and depth == 0:
            rows.take(statement)
            statement = []
        elif token != "\n" and token[0] != "#":
            statement.append((token, row))
            depth += (token in "[{") - (token in "]}")
        row += token.count("\n")
    rows.take(statement)
    return rows.found


def row_of(rows: dict[Path, int], *path: str | int) -> int:
    """The line of a path, or of the nearest one above it; 0 where none is known."""
    while path and path not in rows:
        path = path[:-1]
    return rows.get(path, 0)


@dataclass
class _Rows:
    found: dict[Path, int] = field(default_factory=dict)
    section: Path = ()
    counts: dict[Path, int] = field(default_factory=dict)

    def take(self, statement: list[tuple[str, int]]) -> None:
        """One statement: a heading in brackets, or a key and its value."""
        if not statement:
            return
        tokens, row = [token for token, _ in statement], statement[0][1]
        if tokens[0] == "[":
            names = _names([token for token in tokens if token not in "[]"])
            self._heading(names, tokens[:2] == ["[", "["], row)
        elif "=" in tokens:
            at = tokens.index("=")
            path = (*self.section, *_names(tokens[:at]))
            self.found.setdefault(path, row)
            self._elements(path, statement[at + 1:])

    def _heading(self, names: list[str], is_list: bool, row: int) -> None:
        path: Path = ()
        for name in names[:-1]:
            path = (*path, name)
            if path in self.counts:
                path = (*path, self.counts[path])
        path = (*path, *names[-1:])
        if is_list:
            self.counts[path] = self.counts.get(path, -1) + 1
            path = (*path, self.counts[path])
        self.found.setdefault(path, row)
        self.section = path

    def _elements(self, path: Path, value: list[tuple[str, int]]) -> None:
        """The tables in a list that is a value."""
        depth = count = 0
        for token, row in value:
            if token == "{" and depth == 1 and value[0][0] == "[":
                self.found.setdefault((*path, count), row)
                count += 1
            depth += (token in "[{") - (token in "]}")


def _names(tokens: list[str]) -> list[str]:
    """The names of a dotted key; what stands in quotes is one name, dots and all."""
    names: list[str] = []
    for token in tokens:
        if token[0] in "\"'":
            names.append(token[1:-1])
        else:
            names += [name for name in token.split(".") if name]
    return names

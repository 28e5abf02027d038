"""Where the tables of a case come from: files of a folder, or sheets of workbooks, each file read once."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from optibuild.inputs.declared.declaration import Declaration
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.reading.csv_reader import read_rows
from optibuild.inputs.reading.decoding import decoded
from optibuild.inputs.reading.files import SourceFile, read_file
from optibuild.inputs.reading.raw_table import RawTable

if TYPE_CHECKING:
    from optibuild.inputs.reading.workbook import Workbook


@dataclass
class Sources:
    """The files that a case reads, relative to its folder; what is wrong with one is noted once.

    `home` is the workbook that the case itself is, if it is one.
    """

    folder: Path
    collector: Collector
    home: str = ""
    digests: dict[str, str] = field(default_factory=dict)
    books: "dict[str, Workbook | None]" = field(default_factory=dict)

    def text(self, name: str) -> str | None:
        """The text of a file; None, with a problem noted, where it cannot be had."""
        source = self._file(name)
        return decoded(source, self.collector) if source else None

    def book(self, name: str) -> "Workbook | None":
        """A workbook; None, with a problem noted, where it cannot be had."""
        if name not in self.books:
            from optibuild.inputs.reading.workbook import open_workbook

            source = self._file(name)
            self.books[name] = open_workbook(source, self.collector) if source else None
        return self.books[name]

    def is_there(self, name: str) -> bool:
        """Whether something lies under a name in the folder; a link counts, and reading it says so."""
        path = self.folder / name
        return path.exists() or path.is_symlink()

    def table(self, name: str, path: str, columns: Sequence[Declaration]) -> RawTable | None:
        """The table of a path `file.csv`, `book.xlsx` (the sheet of its own name) or `book.xlsx#sheet`."""
        file, _, sheet = path.partition("#")
        if not file.lower().endswith(".xlsx"):
            text = self.text(file)
            return None if text is None else read_rows(file, text, columns, self.collector)
        book = self.book(file)
        return self._sheet(book, sheet or name) if book else None

    def _sheet(self, book: "Workbook", sheet: str) -> RawTable | None:
        found = book.find(sheet)
        if found is None:
            names = book.sheet_names
            self.collector.add("sheet.missing", f"'{book.name}' has no sheet '{sheet}'", book.place(),
                               expected=", ".join(names), hint=did_you_mean(sheet, names))
            return None
        return book.table(found, self.collector)

    def _file(self, name: str) -> SourceFile | None:
        source = read_file(self.folder, name, self.collector)
        if source is not None:
            self.digests[source.name] = source.sha256
        return source

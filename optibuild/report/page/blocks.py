"""What a section of the page is made of. The template knows how each kind of block looks."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from optibuild.report.charts import Chart
from optibuild.report.tables import Table, without_empty

LONG = 60
"""Tables with more rows have to be opened."""


@dataclass(frozen=True)
class Words:
    """A paragraph, and the list under it, which may be empty; one for the screen alone is not printed."""

    text: str
    under: Sequence[str] = ()
    quiet: bool = False
    screen: bool = False
    kind: ClassVar[str] = "words"


@dataclass(frozen=True)
class Lines:
    """Lines that each begin with a word; `values` are the figures in them, by name and in inner units."""

    rows: Sequence[tuple[str, str]]
    values: dict[str, float] = field(default_factory=dict)
    kind: ClassVar[str] = "lines"


@dataclass(frozen=True)
class Under:
    """A second line under a row of a table, and the coordinates [degrees] that it ends with."""

    text: str
    lat_deg: float
    lon_deg: float

    @property
    def spot(self) -> str:
        """Latitude and longitude as the `geo` URI writes them (RFC 5870): to about a meter."""
        return f"{self.lat_deg:.5f},{self.lon_deg:.5f}"


@dataclass(frozen=True)
class Grid:
    """A table with its heading and what it means; `behind` puts it where the reader has to open it, `under`
    has a second line for each row that needs one (none for the whole table: empty)."""

    title: str
    table: Table
    said: str = ""
    behind: bool = False
    under: Sequence[Under | None] = ()
    kind: ClassVar[str] = "grid"


@dataclass(frozen=True)
class Picture:
    """An SVG element, what it shows in a sentence, and the table behind it."""

    svg: str
    title: str
    table: Table
    said: str = ""
    kind: ClassVar[str] = "picture"


@dataclass(frozen=True)
class Gallery:
    """Small pictures side by side where there is room."""

    pictures: Sequence[Picture]
    kind: ClassVar[str] = "gallery"


@dataclass(frozen=True)
class Keys:
    """A legend: each entry an SVG sample and what it stands for."""

    entries: Sequence[tuple[str, str]]
    kind: ClassVar[str] = "keys"


Block = Words | Lines | Grid | Picture | Gallery | Keys


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it; `name` is its anchor."""

    name: str
    title: str
    blocks: Sequence[Block]


def grids(*blocks: Grid) -> list[Grid]:
    """The tables that have rows, without columns in which nothing stands; long ones have to be opened."""
    return [Grid(one.title, without_empty(_told(one.table)), one.said,
                 one.behind or len(one.table.rows) > LONG) for one in blocks if one.table.rows]


def _told(table: Table) -> Table:
    """The table with nothing where a text is empty: on the page there is no cell to write in."""
    return Table(table.columns, tuple(tuple(None if cell == "" else cell for cell in row)
                                      for row in table.rows))


def pictures(*charts: Chart | None) -> list[Picture]:
    """The charts that there are."""
    return [Picture(one.svg, one.title, one.table) for one in charts if one is not None]

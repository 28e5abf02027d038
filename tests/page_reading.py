"""The page read back by the standard library's HTML parser, which shares nothing with what wrote it."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

EMPTY = {"meta", "link", "br", "hr", "img", "input", "base"}


@dataclass
class Node:
    """An element: its tag, its attributes, and what is in it in order."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    inside: list["Node | str"] = field(default_factory=list)

    def all(self, tag: str = "", **wanted: str) -> list["Node"]:
        """Every element under this one of a tag with these attributes; `class_` asks for one class of it."""
        return [node for node in self._below() if tag in ("", node.tag) and all(
            value in node.attributes.get("class", "").split() if name == "class_"
            else node.attributes.get(name.replace("_", "-")) == value for name, value in wanted.items())]

    def one(self, tag: str = "", **wanted: str) -> "Node":
        """The only such element."""
        found = self.all(tag, **wanted)
        assert len(found) == 1, (tag, wanted, len(found))
        return found[0]

    @property
    def text(self) -> str:
        """All text in it."""
        return "".join(part if isinstance(part, str) else part.text for part in self.inside)

    def _below(self) -> Iterator["Node"]:
        for part in self.inside:
            if isinstance(part, Node):
                yield part
                yield from part._below()


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open = [Node("")]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(node)
        if tag not in EMPTY:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)


def read(html: str) -> Node:
    """The document; an AssertionError where elements do not close one another in order."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert len(reader.open) == 1
    return reader.open[0]


def table(node: Node) -> tuple[list[str], list[list[str]], list[list[float | None]]]:
    """Headings, texts and unrounded values of the only table in a node."""
    found = node.one("table")
    head = [" ".join(cell.text.split()) for cell in found.one("thead").all("th")]
    rows = [[part for part in row.inside if isinstance(part, Node)] for row in found.one("tbody").all("tr")]
    values = [[float(cell.attributes["data-value"]) if "data-value" in cell.attributes else None
               for cell in row] for row in rows]
    return head, [[cell.text for cell in row] for row in rows], values


def under(section: Node, heading: str) -> Node:
    """The table of a section under a heading of its own, or behind one that opens."""
    return next(node for node in section.all("div", class_="scroll")
                if node.attributes["aria-label"] == heading)

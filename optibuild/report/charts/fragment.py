"""The library's SVG document as a fragment for a page of a strict content policy, and much smaller.

Style attributes become presentation attributes, which no policy forbids (Content Security Policy Level 3,
`style-src-attr`); ids, metadata and style sheets go; figures come in as data-*.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree as Tree

_PLACE = re.compile(r"w(\d+)_*")
_NUMBER = re.compile(r"-?\d+\.\d+")
_BOX = re.compile(r"M (\S+) (\S+) L (\S+) (\S+) L (\S+) (\S+) L (\S+) (\S+)(?: L \1 \2)? z")
_NAME = re.compile(r"\{.*\}")
_FAMILY = "system-ui, sans-serif"
WIDTH, SIZE, LETTER = 328.0, 12.0, 6.4
"""Width of every picture, size of its text, and usual width of a letter, a little on the safe side, in units
of the picture. A small phone shows it at this width: its 360 less the page's edges."""

HALO = {"stroke": "#ffffff", "stroke-width": "3", "paint-order": "stroke"}
"""White around letters, so that lines of the grid do not run through them."""


@dataclass(frozen=True)
class Word:
    """A text of the picture, and all of it where the picture has room for a part only."""

    shown: str
    whole: str


@dataclass
class Contents:
    """What a picture says: its words by number, and for each group by its id the name of what its shapes show
    and the value of each shape, in their order."""

    words: list[Word] = field(default_factory=list)
    groups: dict[str, tuple[str, Sequence[float]]] = field(default_factory=dict)

    def place(self, shown: str, whole: str = "") -> str:
        """Stands for a word until the picture is drawn: the library sees no text but this."""
        self.words.append(Word(shown, whole or shown))
        return f"w{len(self.words) - 1}".ljust(len(shown), "_")


def fragment(document: str, name: str, title: str, alternative: str, contents: Contents) -> str:
    """The <svg> element as text; `name` begins every id in it."""
    root = Tree.fromstring(document)
    _tidy(root, contents)
    box = root.get("viewBox", "")
    root.attrib.clear()
    root.attrib |= {"viewBox": box, "width": "100%", "role": "img", "font-family": _FAMILY,
                    "font-size": f"{SIZE:g}", "stroke-linejoin": "round",
                    "aria-labelledby": f"{name}-title",
                    "aria-describedby": f"{name}-desc"}
    for place, (tag, text) in enumerate((("title", title), ("desc", alternative))):
        said = Tree.Element(tag, {"id": f"{name}-{tag}"})
        said.text = text
        root.insert(place, said)
    return Tree.tostring(root, encoding="unicode")


def _tidy(parent: Tree.Element, contents: Contents) -> None:
    """Everything below one element as the page wants it."""
    parent.tag = _NAME.sub("", parent.tag)
    parent.text = parent.text.strip() if parent.text else None
    for child in list(parent):
        child.tail = None
        if _NAME.sub("", child.tag) in ("metadata", "style"):
            parent.remove(child)
        else:
            _tidy(child, contents)
            if child.tag in ("g", "defs") and not len(child):
                parent.remove(child)
    known = contents.groups.get(parent.get("id", ""))
    if known:
        _tell(parent, *known)
    parent.attrib.pop("id", None)
    _present(parent)
    _shape(parent)
    if parent.tag == "text" and (match := _PLACE.fullmatch(parent.text or "")):
        _write(parent, contents.words[int(match[1])])


def _tell(group: Tree.Element, what: str, values: Sequence[float]) -> None:
    """Name a group, and give each of its shapes its value."""
    group.set("data-part", what)
    shapes = [shape for shape in group.iter() if shape.tag in ("path", "rect")]
    for shape, value in zip(shapes, values, strict=bool(values)):
        shape.set("data-value", repr(float(value)))


def _write(text: Tree.Element, word: Word) -> None:
    """A word in its place; where it is cut, all of it as what is shown on it."""
    text.text = word.shown
    text.attrib |= HALO
    if word.whole != word.shown:
        Tree.SubElement(text, "title").text = word.whole


def _present(element: Tree.Element) -> None:
    """A style attribute as presentation attributes; the font is that of the whole picture."""
    for rule in element.attrib.pop("style", "").split(";"):
        key, _, value = (part.strip() for part in rule.partition(":"))
        if key in ("font", "font-size"):
            element.attrib |= _size(value)
        elif key and not key.startswith("font-"):
            element.set(key, value)
    if element.get("transform", "").startswith("rotate(-0 "):
        del element.attrib["transform"]


def _size(value: str) -> dict[str, str]:
    """The size of a text where it is not that of the whole picture; font, or its size, as a style has it."""
    size = re.search(r"([\d.]+)px", value)
    return {} if size is None or float(size[1]) == SIZE else {"font-size": size[1]}


def _short(found: re.Match[str]) -> str:
    return f"{float(found[0]):.2f}".rstrip("0").rstrip(".")


def _shape(element: Tree.Element) -> None:
    """Coordinates with two decimals; a path around an upright box as that box."""
    for key in ("d", "x", "y", "transform"):
        if key in element.attrib:
            element.set(key, _NUMBER.sub(_short, " ".join(element.attrib[key].split())))
    match = _BOX.fullmatch(element.get("d", ""))
    if match:
        xs, ys = ({float(edge) for edge in match.groups()[first::2]} for first in (0, 1))
        if len(xs) == len(ys) == 2:
            element.tag = "rect"
            del element.attrib["d"]
            sizes = {"x": min(xs), "y": min(ys), "width": max(xs) - min(xs), "height": max(ys) - min(ys)}
            element.attrib |= {key: f"{round(size, 2):g}" for key, size in sizes.items()}

"""Elements of our own pictures. Text is escaped when the tree is written out."""

from collections.abc import Iterable, Mapping
from xml.etree.ElementTree import Element, tostring

from optibuild.report.console import clean

ISOLATES = "\u2068\u2069"
"""Marks that keep the direction of a text inside a sentence to itself."""


def harmless(text: str) -> str:
    """A text without marks that move the cursor or turn the direction of what follows, isolates aside."""
    if text.isprintable():
        return text
    return "".join(mark if mark in ISOLATES else clean(mark) for mark in text)


def element(tag: str, children: Iterable[Element] = (), text: str = "", **attributes: float | str) -> Element:
    """An element; `class_` and `stroke_width` become class and stroke-width."""
    made = _made(tag, attributes, text)
    made.extend(children)
    return made


def _made(tag: str, attributes: Mapping[str, float | str], text: str = "") -> Element:
    made = Element(tag, {name.rstrip("_").replace("_", "-"): told(value)
                         for name, value in attributes.items()})
    made.text = harmless(text) or None
    return made


def told(value: float | str) -> str:
    """An attribute: text as it is without what moves the cursor, numbers to a thousandth of a unit."""
    if isinstance(value, str):
        return harmless(value)
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def words(x: float, y: float, shown: str, whole: str = "", **attributes: float | str) -> Element:
    """A text of the picture; where it is cut, the whole of it comes up on it."""
    made = _made("text", {"x": x, "y": y, **attributes}, shown)
    if whole and whole != shown:
        made.insert(0, element("title", text=whole))
        made[0].tail, made.text = made.text, None
    return made


def picture(name: str, title: str, described: str, width: float, height: float,
            children: Iterable[Element], role: str = "img", **attributes: float | str) -> str:
    """The whole <svg> as text. `name` begins its ids; `role` is "group" where parts of it take the focus."""
    labels = [element("title", text=title, id=f"{name}-title"),
              element("desc", text=described, id=f"{name}-desc")]
    root = _made("svg", {"viewBox": f"0 0 {told(width)} {told(height)}", "role": role,
                         "aria_labelledby": f"{name}-title", "aria_describedby": f"{name}-desc",
                         **attributes})
    root.extend([*labels, *children])
    return tostring(root, encoding="unicode")

"""SVG as values: elements that nest, and one function that writes them.

Attribute names take underscores for hyphens and may end in one where Python claims the word
(``class_``). Numbers are written to two decimals, so the same picture gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias
from xml.sax.saxutils import escape, quoteattr

import msgspec

from feedscript.tongues.tongue import IN_ENGLISH, Tongue
from feedscript.visible import visible

Value: TypeAlias = str | float | int
Point: TypeAlias = tuple[float, float]

#: Fonts of about the same width, so that text keeps its room wherever it is shown.
FONTS = "DejaVu Sans, Verdana, Bitstream Vera Sans, Helvetica, Arial, sans-serif"


class Element(msgspec.Struct, frozen=True):
    """One element with its attributes and what stands inside: elements, or text."""

    name: str
    attributes: tuple[tuple[str, str], ...]
    inside: tuple[Element | str, ...] = ()


def number(value: float) -> str:
    """A number as short as two decimals allow; never ``-0``."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def element(name: str, *inside: Element | str, **attributes: Value | None) -> Element:
    """An element; attributes that are None are left out."""
    written = tuple(
        (key.rstrip("_").replace("_", "-"), value if isinstance(value, str) else number(value))
        for key, value in attributes.items()
        if value is not None
    )
    return Element(name, written, inside)


def group(inside: Iterable[Element], **attributes: Value | None) -> Element:
    """A ``g`` around the elements."""
    return element("g", *inside, **attributes)


def line(start: Point, end: Point, **attributes: Value | None) -> Element:
    """A straight line."""
    return element("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **attributes)


def polyline(points: Iterable[Point], **attributes: Value | None) -> Element:
    """A line through the points, not filled."""
    return element("polyline", points=_points(points), fill="none", **attributes)


def polygon(points: Iterable[Point], **attributes: Value | None) -> Element:
    """A closed shape."""
    return element("polygon", points=_points(points), **attributes)


def rectangle(corner: Point, width: float, height: float, **attributes: Value | None) -> Element:
    """A rectangle from its upper left corner."""
    return element("rect", x=corner[0], y=corner[1], width=width, height=height, **attributes)


def circle(centre: Point, radius: float, **attributes: Value | None) -> Element:
    """A circle."""
    return element("circle", cx=centre[0], cy=centre[1], r=radius, **attributes)


def text(place: Point, words: str, **attributes: Value | None) -> Element:
    """Words whose baseline begins (or, by ``text_anchor``, ends or centres) at the place."""
    return element("text", words, x=place[0], y=place[1], **attributes)


def title(words: str) -> Element:
    """What a viewer shows when the pointer rests on the element around it."""
    return element("title", words)


def width_of(words: str, size_px: float) -> float:
    """Room for the words in the widest of FONTS; an estimate that errs to the wide side."""
    return 0.64 * size_px * len(words)


def document(
    width: float, height: float, inside: Iterable[Element], *, label: str, **attributes: Value
) -> Element:
    """A whole picture; ``label`` says in words what it shows."""
    return element(
        "svg",
        title(label),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        font_family=FONTS,
        **attributes,
    )


def write(root: Element, indent: int = 0, tongue: Tongue = IN_ENGLISH) -> str:
    """The element as text in a language, one element a line."""
    room = " " * indent
    attributes = "".join(
        f" {key}={quoteattr(_printable(tongue(value)))}" for key, value in root.attributes
    )
    if not root.inside:
        return f"{room}<{root.name}{attributes}/>\n"
    if all(isinstance(part, str) for part in root.inside):
        words = "".join(escape(_printable(tongue(part))) for part in root.inside)
        return f"{room}<{root.name}{attributes}>{words}</{root.name}>\n"
    parts = "".join(
        write(part, indent + 1, tongue)
        if isinstance(part, Element)
        else escape(_printable(tongue(part)))
        for part in root.inside
    )
    return f"{room}<{root.name}{attributes}>\n{parts}{room}</{root.name}>\n"


def _points(points: Iterable[Point]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _printable(words: str) -> str:
    """Without what XML 1.0 cannot hold, nor any other character that is not seen."""
    return visible(words)

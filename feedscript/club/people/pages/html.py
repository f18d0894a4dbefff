"""HTML as a tree: every text in it is escaped, and told in a language, where it is written out."""

from __future__ import annotations

from html import escape
from typing import TypeAlias

import msgspec

from feedscript.tongues.tongue import Tongue
from feedscript.visible import on_one_line, visible


class Node(msgspec.Struct, frozen=True):
    """An element. A child that is None is none."""

    name: str
    attributes: tuple[tuple[str, str], ...]
    children: tuple[Child, ...]


class Lines(msgspec.Struct, frozen=True):
    """A text of several lines, which stay so."""

    text: str


Child: TypeAlias = Node | Lines | str | None

_EMPTY = frozenset(("br", "hr", "input", "link", "meta"))


def el(name: str, /, *children: Child, **attributes: str | bool | int | None) -> Node:
    """An element; ``class_`` and ``for_`` lose their stroke, ``aria_label`` has a hyphen. What is
    False or None is left out, and True is an attribute without a value."""
    told = [
        (key.rstrip("_").replace("_", "-"), "" if value is True else _as_words(value))
        for key, value in attributes.items()
        if value is not None and value is not False
    ]
    return Node(name, tuple(told), children)


def _as_words(value: str | int) -> str:
    return value if isinstance(value, str) else str(value)


def written(child: Child, tongue: Tongue) -> str:
    """As HTML in a language."""
    if child is None:
        return ""
    if isinstance(child, Lines):
        return escape(visible(child.text))
    if isinstance(child, str):
        return _text(child, tongue)
    attributes = "".join(
        f' {name}="{_text(value, tongue)}"' if value else f" {name}"
        for name, value in child.attributes
    )
    if child.name in _EMPTY:
        return f"<{child.name}{attributes}>"
    inside = "".join(written(one, tongue) for one in child.children)
    return f"<{child.name}{attributes}>{inside}</{child.name}>"


def _text(text: str, tongue: Tongue) -> str:
    return escape(on_one_line(tongue(text)))

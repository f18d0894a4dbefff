"""When two trees say the same."""

from __future__ import annotations

from typing import Any

from feedscript.language.parse.token import Token
from feedscript.language.parse.tree.values import SyntaxNode, Text

_SAME = {"\u2212": "-", "\u2013": "-", "\u00d7": "*", "\u00f7": "/", "\u2264": "<=", "\u2265": ">="}


def shape(node: Any) -> Any:
    """The tree without its places: equal for two texts that say the same in the same order."""
    if isinstance(node, Text):
        return ("Text", node.raw[1:-1] if node.closed else node.raw[1:], node.closed)
    if isinstance(node, SyntaxNode):
        fields = type(node).__struct_fields__[2:]
        return (type(node).__name__, *(shape(getattr(node, name)) for name in fields))
    if isinstance(node, tuple):
        return tuple(shape(part) for part in node)
    if isinstance(node, Token):
        if node.type in ("NAME", "UNIT"):
            return str(node)
        return " ".join(_SAME.get(word, word.lower()) for word in node.split())
    return _SAME.get(node, node) if isinstance(node, str) else node

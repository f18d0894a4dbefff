"""What stands somewhere inside a tree or a lesson, however deep."""

from __future__ import annotations

from typing import Any

from msgspec.structs import astuple

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.program_pages import UNCLOSED_TEXT
from feedscript.language.resolve.scope import Scope


def check_texts(scope: Scope) -> None:
    """Report every text without its closing mark."""
    stack: list[Any] = list(scope.tree.items)
    while stack:
        node = stack.pop()
        kind = type(node)
        if kind is t.Text:
            if not node.closed:
                message = "the words have no closing quotation mark on their line"
                scope.report(UNCLOSED_TEXT, node, message, 'put a `"` where they end')
        elif kind is tuple:
            stack.extend(node)
        elif kind not in _NO_TEXT and isinstance(node, t.SyntaxNode):
            stack.extend(astuple(node)[2:])


_NO_TEXT: frozenset[type] = frozenset((
    t.SendSyntax, t.ShowSyntax, t.RestSyntax, t.Feed, t.Let, t.CallSyntax, t.Place,
    t.Name, t.Quantity, t.Chain, Token, type(None), bool,
))  # fmt: skip


def names_in(value: Any) -> list[str]:
    """The names in an expression that are not another file's."""
    found: list[str] = []
    stack = [value]
    while stack:
        node = stack.pop()
        if isinstance(node, t.Name):
            if node.file is None:
                found.append(node.text)
        elif isinstance(node, t.Chain):
            stack.extend(reversed(node.values))
        elif isinstance(node, t.Grouped | t.Signed):
            stack.append(node.value)
    return found


_HOLDERS = (p.StatementNode, p.OptionStatement, p.StationStatement)
_HELD = {tuple, p.RecordCondition}


def feeds_in(steps: tuple[Any, ...]) -> list[str]:
    """Every feed and progression that steps send, show or ask about, however deep."""
    found: dict[str, None] = {}
    stack: list[Any] = [steps]
    while stack:
        node = stack.pop()
        kind = type(node)
        if kind is tuple:
            stack.extend(node)
        elif kind is p.SendStatement:
            found[node.feed] = None
            found.update(dict.fromkeys(node.by_level.values()))
        elif kind is p.ShowSpeedStatement:
            found[node.feed] = None
        elif isinstance(node, p.MoveStatement):
            found[node.progression] = None
        elif isinstance(node, p.RecordCondition):
            if node.feed is not None:
                found[node.feed] = None
        elif isinstance(node, _HOLDERS):
            for name in kind.__struct_fields__:
                value = getattr(node, name)
                if type(value) in _HELD and name != "calls":
                    stack.append(value)
    return list(found)

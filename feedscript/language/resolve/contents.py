"""What stands somewhere inside a tree or a lesson, however deep."""

from __future__ import annotations

from typing import Any

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.program_pages import UNCLOSED_TEXT
from feedscript.language.resolve.scope import Scope


def check_texts(scope: Scope) -> None:
    """Report every text without its closing mark."""
    stack: list[Any] = list(scope.tree.items)
    while stack:
        node = stack.pop()
        if isinstance(node, t.Text):
            if not node.closed:
                message = "the words have no closing quotation mark on their line"
                scope.report(UNCLOSED_TEXT, node, message, 'put a `"` where they end')
        elif isinstance(node, tuple):
            stack.extend(node)
        elif isinstance(node, t.SyntaxNode) and type(node) not in _NO_TEXT:
            stack.extend(getattr(node, name) for name in type(node).__struct_fields__[2:])


_NO_TEXT = {t.SendSyntax, t.ShowSyntax, t.RestSyntax, t.Feed, t.Let, t.CallSyntax, t.Place}


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


def feeds_in(steps: tuple[Any, ...]) -> list[str]:
    """Every feed and progression that steps send, show or ask about, however deep."""
    found: dict[str, None] = {}
    stack: list[Any] = [steps]
    while stack:
        node = stack.pop()
        if isinstance(node, tuple):
            stack.extend(node)
        elif isinstance(node, p.SendStatement | p.ShowSpeedStatement):
            found[node.feed] = None
            if isinstance(node, p.SendStatement):
                found.update(dict.fromkeys(node.by_level.values()))
        elif isinstance(node, p.MoveStatement):
            found[node.progression] = None
        elif isinstance(node, p.RecordCondition):
            if node.feed is not None:
                found[node.feed] = None
        elif isinstance(node, p.StatementNode | p.OptionStatement | p.StationStatement):
            for name in type(node).__struct_fields__:
                value = getattr(node, name)
                if isinstance(value, tuple | p.RecordCondition) and name != "calls":
                    stack.append(value)
    return list(found)

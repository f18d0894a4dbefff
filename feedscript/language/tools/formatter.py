"""The formatter: the same program in the usual layout.

Only blanks, line ends, capital letters in words of the language and the shape of quotation marks
change; comments stay with what they stand beside. A statement that stands on one line stays on one
line when it fits; otherwise each line of its blocks gets a line of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from feedscript.diagnostics import Diagnostic
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.parse.token import Token
from feedscript.language.syntax import parse
from feedscript.language.words import is_keyword

INDENT = "    "
WIDTH = 100

_EMPTY = re.compile(r"\s*\}").match
_COMMENT = re.compile(r"#[^\n]*")
_TIGHT_BEFORE = {"COMMA", "COLON", "RPAR", "DOT"}
_TIGHT_AFTER = {"LPAR", "DOT"}
_WORDS = (
    "PLACE_WORD",
    "SPIN_WORD",
    "IN_A_ROW",
    "IN_TARGET",
    "BY_LEVEL",
    "WHEN_COACH_TAPS",
    "COLLECT_BETWEEN",
    "STEP_UP",
    "STEP_DOWN",
)
_PLAIN = {
    "\u2212": "-",
    "\u2013": "-",
    "\u00d7": "*",
    "\u00f7": "/",
    "\u2264": "<=",
    "\u2265": ">=",
}


def format_text(text: str, source_name: str) -> tuple[str | None, tuple[Diagnostic, ...]]:
    """The text in the usual layout; None, and why, for a text with syntax errors."""
    parsed = parse(Source(source_name, text))
    if parsed.diagnostics:
        return None, parsed.diagnostics
    return _Layout(text, parsed.tree, parsed.tokens).run(), ()


def statements(tree: t.Tree) -> Iterator[t.SyntaxNode]:
    """Every node that gets a line of its own, however deep, without recursion."""
    stack: list[Any] = list(tree.items)
    while stack:
        node = stack.pop()
        if isinstance(node, tuple):
            stack.extend(node)
        elif isinstance(node, t.OptionSyntax):
            yield node
            # A single step without braces stays beside its weight.
            inner = node.body.steps
            bare = len(inner) == 1 and inner[0].start == node.body.start
            stack.extend(_parts(inner[0]) if bare else inner)
        elif isinstance(node, t.Block):
            stack.extend(node.steps)
        elif isinstance(node, t.SyntaxNode):
            yield node
            stack.extend(_parts(node))


def _parts(node: t.SyntaxNode) -> list[Any]:
    """What stands in the blocks of a statement."""
    found: list[Any] = []
    for name in type(node).__struct_fields__[2:]:
        value = getattr(node, name)
        if isinstance(value, t.Block):
            found.append(value)
        elif name in ("properties", "options", "feeds", "stations", "expectations", "notes"):
            found.extend(value)
    return found


class _Layout:
    """One text on its way into the usual layout."""

    def __init__(self, text: str, tree: t.Tree, tokens: list[Token]) -> None:
        self.text = text
        self.tokens = tokens
        self.ends = {node.start: node.end for node in statements(tree)}
        self.unary = set(_unary(tree))
        #: The steps of a progression stay on one line.
        self.in_a_line = {
            brace.start_pos
            for word, _, brace in zip(tokens, tokens[1:], tokens[2:], strict=False)
            if word.type == "PROGRESSION"
        }
        self.out: list[str] = []  # finished lines
        self.line = ""
        self.depth = 0
        self.flat_until = -1  # up to here everything stays on the line
        self.multi: list[bool] = []  # for each open block, whether its lines stand apart

    def run(self) -> str:
        previous: Token | None = None
        for index, token in enumerate(self.tokens):
            start = token.start_pos
            gap = self.text[previous.end_pos if previous else 0 : start]
            begins = start in self.ends
            closes = token.type == "RBRACE"
            self._gap(gap, previous, begins=begins, closes=closes)
            if begins and start >= self.flat_until and self._fits(index, start):
                self.flat_until = self.ends[start]
            self._place(previous, token, begins=begins, closes=closes)
            previous = token
        tail = self.text[previous.end_pos if previous else 0 :]
        self._gap(tail, previous, begins=True, closes=False)
        self._end_line()
        return "\n".join(self.out).strip("\n") + "\n" if self.out else ""

    # --- comments and blank lines

    def _gap(self, gap: str, previous: Token | None, *, begins: bool, closes: bool) -> None:
        """The comments between two tokens, and at most one blank line."""
        at = 0
        for comment in _COMMENT.finditer(gap):
            before = gap[at : comment.start()]
            words = comment[0].rstrip()
            if "\n" not in before and previous is not None:
                self.line += f"  {words}"
                self._end_line()
            else:
                self._end_line()
                self._blank(before)
                inside = self.depth + (0 if begins or closes else 1)
                self.out.append(INDENT * inside + words)
            at = comment.end()
        if begins and not self._flat() and gap[at:].count("\n") > 1:
            self._end_line()
            self._blank(gap[at:])

    def _blank(self, gap: str) -> None:
        opened = bool(self.out) and self.out[-1].endswith("{")
        if gap.count("\n") > 1 and self.out and self.out[-1] and not opened:
            self.out.append("")

    def _end_line(self) -> None:
        if self.line.strip():
            self.out.append(self.line.rstrip())
        self.line = ""

    # --- tokens

    def _flat(self) -> bool:
        return bool(self.multi) and not self.multi[-1]

    def _fits(self, index: int, start: int) -> bool:
        """Whether the statement stands on one line and stays within the width there."""
        end = self.ends[start]
        if "\n" in self.text[start:end]:
            return False
        length = len(INDENT) * self.depth
        while index < len(self.tokens) and self.tokens[index].start_pos < end:
            length += len(_spelt(self.tokens[index])) + 1
            index += 1
        return length <= WIDTH

    def _place(self, previous: Token | None, token: Token, *, begins: bool, closes: bool) -> None:
        start = token.start_pos
        inside_flat = start < self.flat_until
        if closes:
            apart = self.multi.pop()
            if apart:
                self.depth -= 1
                self._end_line()
        elif begins and not self._flat():
            self._end_line()
        self.line += self._joint(previous, token, begins=begins) + _spelt(token)
        if token.type == "LBRACE":
            empty = _EMPTY(self.text, token.end_pos) is not None
            in_a_line = inside_flat or start in self.in_a_line
            self.multi.append(not in_a_line and not empty)
            if self.multi[-1]:
                self.depth += 1

    def _joint(self, previous: Token | None, token: Token, *, begins: bool) -> str:
        """What stands between two tokens on a line."""
        if not self.line:
            middle = not begins and token.type != "RBRACE"
            return INDENT * (self.depth + (1 if middle else 0))
        if previous is None:
            return ""
        if begins and previous.type not in ("LBRACE", "COLON"):
            return "  "
        if token.type in _TIGHT_BEFORE or previous.type in _TIGHT_AFTER:
            return ""
        if token.type == "LPAR" and previous.type == "NAME":
            return ""
        return "" if previous.start_pos in self.unary and previous.type == "SIGN" else " "


def _unary(tree: t.Tree) -> Iterator[int]:
    """Where the signs stand that belong to one value."""
    stack: list[Any] = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, t.Signed):
            yield node.start
        if isinstance(node, t.SyntaxNode):
            stack.extend(getattr(node, name) for name in type(node).__struct_fields__[2:])
        elif isinstance(node, tuple):
            stack.extend(node)


def _spelt(token: Token) -> str:
    """A token in the usual spelling."""
    if token.type == "STRING":
        inner = token[1:-1]
        return f'"{inner}"' if '"' not in inner else str(token)
    if is_keyword(token.type) or token.type in _WORDS:
        return " ".join(token.lower().split())
    return _PLAIN.get(str(token), str(token))

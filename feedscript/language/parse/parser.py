"""The LALR(1) parser: a stack that the tables move, one token at a time."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeAlias

from feedscript.language.parse.builder import Builder
from feedscript.language.parse.stack import Several, Stack
from feedscript.language.parse.tables import END, tables
from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import Tree

#: What a reduction took off the stack: its states, its values, how long its list was before (-1:
#: it is no such list).
_Taken: TypeAlias = tuple[list[int], list[Any], int]


@functools.cache
def builders() -> list[Callable[[list[Any]], Any] | None]:
    """What makes the node of each rule of the tables; None for a list that grows in place."""
    builder = Builder()
    return [
        None if rule.build is None else getattr(builder, rule.build, _itself)
        for rule in tables().rules
    ]


def _itself(parts: list[Any]) -> Any:
    """For a rule that only names its alternatives, each of one part."""
    (part,) = parts
    return part


class Parser:
    """A parser at the start of a text."""

    def __init__(self) -> None:
        made = tables()
        self.actions, self.rules, self.build = made.actions, made.rules, builders()
        self.states: list[int] = [made.start]
        self.values: list[Any] = []

    def stack(self) -> Stack:
        """The stack, to ask what it would take."""
        return Stack(self.actions, self.rules, self.states, self.values)

    def feed(self, token: Token) -> bool:
        """Take a token; where that cannot be, the parser stands where it stood before.

        LALR tables find an error late: reductions may have been made in vain, and with them left
        in place the statement could not be repaired any more.
        """
        states, values, actions = self.states, self.values, self.actions
        kind = token.type
        taken: list[_Taken] = []
        while True:
            action = actions[states[-1]].get(kind)
            if action is None:
                self._undo(taken)
                return False
            if action > 0:
                states.append(action - 1)
                values.append(token)
                return True
            self._reduce(-action - 1, taken)

    def finish(self) -> Tree:
        """The tree of a text that may end here."""
        taken: list[_Taken] = []
        while not isinstance(self.values[-1] if self.values else None, Tree):
            self._reduce(-self.actions[self.states[-1]][END] - 1, taken)
        tree = self.values[-1]
        assert isinstance(tree, Tree)
        return tree

    def pop(self, count: int) -> tuple[list[int], list[Any]]:
        """Take so many values off the stack; their states and they themselves."""
        at = len(self.values) - count
        popped = self.states[at + 1 :], self.values[at:]
        del self.states[at + 1 :], self.values[at:]
        return popped

    def _reduce(self, number: int, taken: list[_Taken]) -> None:
        rule, build = self.rules[number], self.build[number]
        states, values, size = self.states, self.values, self.rules[number].size
        parts: list[Any] = []
        if size:
            parts = values[-size:]
            grown = len(parts[0]) if type(parts[0]) is Several else -1
            taken.append((states[-size:], parts, grown))
            del states[-size:], values[-size:]
        else:
            taken.append(([], parts, -1))
        states.append(self.actions[states[-1]][rule.origin] - 1)
        if build is None:
            values.append(_grown(parts))
            return
        flat = parts
        for part in parts:
            if type(part) is Several:
                flat = _flat(parts)
                break
        values.append(flat[0] if rule.single and len(flat) == 1 else build(flat))

    def _undo(self, taken: list[_Taken]) -> None:
        for old_states, parts, length in reversed(taken):
            del self.states[-1], self.values[-1]
            if length >= 0:  # a list that grew in place
                del parts[0][length:]
            self.states.extend(old_states)
            self.values.extend(parts)


def _grown(parts: list[Any]) -> Several:
    """The parts as one list; the first of them grows where it is such a list already."""
    if parts and type(parts[0]) is Several:
        parts[0].extend(_flat(parts[1:]))
        return parts[0]
    return Several(_flat(parts))


def _flat(parts: list[Any]) -> list[Any]:
    """The parts with the lists among them written out."""
    flat: list[Any] = []
    for part in parts:
        if type(part) is Several:
            flat.extend(part)
        else:
            flat.append(part)
    return flat

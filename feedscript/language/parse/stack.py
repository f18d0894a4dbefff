"""What the parser could take where it stands: its stack, looked at without moving it."""

from __future__ import annotations

from typing import Any

from feedscript.language.parse import tree as t
from feedscript.language.parse.tables import END, Rule
from feedscript.language.parse.token import Token


class Several(list[Any]):
    """Parts that come one after the other, while more of them are read."""


#: The word before a brace, and what the block between the braces holds.
BLOCKS = {
    "SUITS": "suits",
    "SEASON": "season",
    "WEEK": "week",
    "WEEKS": "week",
    "COURT": "court",
    "BALLS": "balls",
    "LAUNCHER": "launcher",
    "GROUP": "group",
    "COACH": "coach",
    "KEEP": "keep out",
    "TARGET": "target",
    "SCORE": "score",
    "FEED": "feed",
    "PROGRESSION": "progression",
    "EXPECT": "expect",
    "CHOOSE": "choose",
    "TOGETHER": "together",
}
_STEP_BLOCKS = {
    "LESSON",
    "PATTERN",
    "REPEAT",
    "SHUFFLE",
    "UNTIL",
    "WHEN",
    "OTHERWISE",
    "ROTATE",
    "FOR",
    "STATION",
}


class Stack:
    """A parser's stack at one moment."""

    def __init__(
        self,
        actions: list[dict[str, int]],
        rules: list[Rule],
        states: list[int],
        values: list[Any],
    ) -> None:
        self._actions, self._rules = actions, rules
        self._states, self._values = states, values

    def copy(self) -> Stack:
        """As it is now, whatever the parser does next."""
        return Stack(self._actions, self._rules, list(self._states), list(self._values))

    def takes(self, *kinds: str) -> bool:
        """Whether the parser would take tokens of these kinds, one after the other."""
        states = list(self._states)
        return all(self._shift(states, kind) for kind in kinds)

    def _shift(self, states: list[int], kind: str) -> bool:
        while True:
            action = self._actions[states[-1]].get(kind)
            if action is None:
                return False
            if action > 0:
                states.append(action - 1)
                return True
            rule = self._rules[-action - 1]
            if kind == END and rule.origin == "start":
                return True
            if rule.size:
                del states[-rule.size :]
            states.append(self._actions[states[-1]][rule.origin] - 1)

    def expected(self) -> list[str]:
        """Every kind of token that the parser would take now."""
        kinds = [kind for kind in self._actions[self._states[-1]] if kind.isupper()]
        return [kind for kind in kinds if self.takes(kind)]

    def depth(self) -> int:
        """How many braces are open."""
        opened = sum(1 for value in self._values if _is(value, "LBRACE"))
        return opened - sum(1 for value in self._values if _is(value, "RBRACE"))

    def open_brace(self) -> Token | None:
        """The innermost brace that is open."""
        index = self._brace_index()
        return None if index is None else self._values[index]

    def level(self) -> int:
        """How many values lie below the statement being read."""
        index = self._brace_index()
        at = 0 if index is None else index + 1
        while at < len(self._values) and isinstance(self._values[at], Several | t.Header):
            at += 1
        return at

    def begun(self) -> Any:
        """The first token or node of the statement being read; None before one."""
        at = self.level()
        return self._values[at] if at < len(self._values) else None

    def values(self) -> list[Any]:
        """What has been read of the statement so far."""
        return list(self._values[self.level() :])

    def block(self) -> str:
        """What the innermost open block holds: ``steps``, ``feed`` …; ``program`` outside any."""
        head = self.block_head()
        if head is None:
            return "program"
        return BLOCKS.get(head.type, "steps")

    def block_head(self) -> Token | None:
        """The word that opened the innermost block."""
        index = self._brace_index()
        if index is None:
            return None
        for value in reversed(self._values[:index]):
            if isinstance(value, Token) and (value.type in BLOCKS or value.type in _STEP_BLOCKS):
                return value
            if isinstance(value, Token) and value.type == "COLON":
                return Token("REPEAT", "option")
        return Token("REPEAT", "block")

    def at_level(self) -> Stack:
        """The stack without the statement being read."""
        other = self.copy()
        extra = len(other._values) - self.level()
        if extra:
            del other._values[-extra:]
            del other._states[-extra:]
        return other

    def _brace_index(self) -> int | None:
        closed = 0  # a block just closed may not be reduced yet
        for index in range(len(self._values) - 1, -1, -1):
            if _is(self._values[index], "RBRACE"):
                closed += 1
            elif _is(self._values[index], "LBRACE"):
                if closed == 0:
                    return index
                closed -= 1
        return None


def _is(value: object, kind: str) -> bool:
    return isinstance(value, Token) and value.type == kind

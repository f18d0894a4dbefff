"""The contextual lexer: the same letters are another token where the parser expects another.

``in`` behind a length is an inch, behind ``until 5`` a ball that was in; ``speed`` in a feed is
a line's word, elsewhere it may be a name. Which kinds may come is read off the parser's state.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable

from feedscript.language.parse.tables import END, Tables, tables
from feedscript.language.parse.token import Token

#: A character that is no token at all.
STRAY = "STRAY"

#: Kinds of this priority and more are tried first where they may come.
_SPECIAL = 4


class Lexer:
    """Reads tokens off a text, one at a time, for the state that the parser is in."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self._machine = machine()

    def next(self, state: int) -> Token:
        """The next token; at the end of the text one of kind END."""
        text, machine = self.text, self._machine
        skipped = machine.skip(text, self.at)
        at = skipped.end() if skipped is not None else self.at
        specials, words = machine.context(state)
        for kind, match in specials:
            found = match(text, at)
            if found is not None:
                self.at = end = found.end()
                return Token(kind, text[at:end], at, end)
        found = machine.plain(text, at)
        if found is None:
            if at >= len(text):
                self.at = at
                end = len(text.rstrip())
                return Token(END, "", end, end)
            self.at = at + 1
            return Token(STRAY, text[at], at, at + 1)
        self.at = end = found.end()
        written = found[0]
        kind = found.lastgroup or STRAY
        if kind == "NAME":
            kind = words.get(written.lower(), "NAME")
        elif kind == "MARK":
            kind = machine.marks[written]
        return Token(kind, written, at, end)


class _Machine:
    """The patterns, compiled once, and what each state of the parser lets come."""

    def __init__(self, source: Tables) -> None:
        self._tables = source
        flags = re.IGNORECASE
        patterns = source.patterns
        ignored = "|".join(patterns[kind][0] for kind in ("SPACE", "COMMENT"))
        self.skip = re.compile(f"(?:{ignored})+").match
        ranked = sorted(patterns.items(), key=lambda item: -item[1][1])
        self._specials: list[tuple[str, _Match]] = [
            (kind, re.compile(pattern, flags).match)
            for kind, (pattern, rank) in ranked
            if rank >= _SPECIAL
        ]
        marks = [word for word in source.words if not word[0].isalpha()]
        self.marks = {word: source.words[word] for word in marks}
        plain = [
            f"(?P<{kind}>{pattern})"
            for kind, (pattern, rank) in ranked
            if rank < _SPECIAL and kind not in ("SPACE", "COMMENT", "NAME", "COMPARE", *_SIGNS)
        ]
        # A reserved word is no name, but it is a word: which one is looked up.
        plain.append(r"(?P<NAME>[^\W\d]\w*(?:-[^\W\d]\w*)*)")
        plain += [f"(?P<{kind}>{patterns[kind][0]})" for kind in ("COMPARE", *_SIGNS)]
        by_length = sorted(marks, key=len, reverse=True)
        plain.append(f"(?P<MARK>{'|'.join(map(re.escape, by_length))})")
        self.plain = re.compile("|".join(plain), flags).match
        self._contexts: dict[int, _Context] = {}
        self._reserved = {word: source.words[word] for word in source.reserved}

    def context(self, state: int) -> _Context:
        """The special kinds that may come in a state, and the words that are no names there."""
        known = self._contexts.get(state)
        if known is None:
            row = self._tables.actions[state]
            specials: list[tuple[str, _Match]] = [
                (kind, match) for kind, match in self._specials if kind in row
            ]
            words = {word: kind for word, kind in self._tables.words.items() if kind in row}
            if "EQUAL" in row:
                specials.append(("EQUAL", _EQUAL))
            known = self._contexts[state] = (specials, {**self._reserved, **words})
        return known


_EQUAL = re.compile("=").match
_SIGNS = ("SIGN", "TIMES")
_Match = Callable[[str, int], "re.Match[str] | None"]
_Context = tuple[list[tuple[str, _Match]], dict[str, str]]


@functools.cache
def machine() -> _Machine:
    """The lexer's patterns for the language's tables."""
    return _Machine(tables())

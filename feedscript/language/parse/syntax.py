"""Text to syntax tree, with every slip reported and the parser set right after each.

A slip is mended in the cheapest way that lets the parser go on: a missing mark is put in, a
misspelt word is read as the word it is nearest to, one odd word is passed over; only when none of
these helps is the rest of the statement dropped. What was passed over or dropped is remembered as
damage, so that later stages do not report its consequences as further mistakes.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from feedscript.diagnostics import Diagnostic
from feedscript.language.parse import moment
from feedscript.language.parse.builder import Builder
from feedscript.language.parse.lexer import STRAY, Lexer
from feedscript.language.parse.source import Source
from feedscript.language.parse.stack import Several, Stack
from feedscript.language.parse.tables import END, tables
from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import Tree as SyntaxTree
from feedscript.language.syntax_errors.marks import opens_item
from feedscript.language.syntax_errors.recognise import look_at
from feedscript.language.words import spelling

#: After so many slips the rest of a text is left unread: it is hardly a program.
MOST_SLIPS = 100
#: The same for mends, of which one slip may need several.
MOST_MENDS = 400

#: Words behind which a name is given.
_DEFINERS = ("FEED", "PATTERN", "LET")

_WORD = re.compile(r"[^\W\d][\w-]*")


@dataclass(slots=True)
class Damage:
    """The stretches of a text that did not make it into the tree, and the names in them."""

    stretches: list[tuple[int, int]] = field(default_factory=list)
    words: set[str] = field(default_factory=set)
    hopeless: bool = False  # reading stopped early
    nameless: bool = False  # the name of a definition was lost
    unbalanced: bool = False  # a brace is missing, so blocks may begin and end elsewhere
    guessed_lines: set[int] = field(default_factory=set)  # what is said there is hardly meant

    def add(self, text: str, start: int, end: int) -> None:
        """Remember a stretch."""
        if end > start:
            self.stretches.append((start, end))
            self.words.update(_WORD.findall(text[start:end]))

    def touches(self, start: int, end: int) -> bool:
        """Whether any damage lies in or at the edge of this stretch."""
        return any(first <= end and start <= last for first, last in self.stretches)

    def follows(self, end: int) -> bool:
        """Whether what stands right behind this offset could not be read."""
        return any(end <= first <= end + 2 and last > first for first, last in self.stretches)


@dataclass(frozen=True, slots=True)
class Parsed:
    """A text's tree as far as it could be read, and its slips."""

    tree: SyntaxTree
    tokens: list[Token]  # those that are in the tree, in order
    diagnostics: tuple[Diagnostic, ...]
    damage: Damage


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


def parse(source: Source) -> Parsed:
    """The syntax tree of a text. Never raises: whatever the text, there is a tree."""
    reader = _Reader(source)
    tree = reader.run()
    return Parsed(tree, reader.seen, tuple(reader.diagnostics), reader.damage)


@dataclass(frozen=True, slots=True)
class Ahead:
    """What may be written at the end of a text that is not finished."""

    expected: tuple[str, ...]  # kinds of token
    block: str  # what the innermost block holds, as Stack.block says it
    tokens: list[Token]


def ahead(text: str) -> Ahead:
    """What may come next, for an editor to offer."""
    reader = _Reader(Source("", text))
    while True:
        slip = reader._go_on()
        if slip is None or slip.type == END or reader.slips >= MOST_MENDS:
            stack = reader._stack()
            return Ahead(tuple(stack.expected()), stack.block(), reader.seen)
        reader.slips += 1
        reader._set_right(slip)


class _Reader:
    """One text on its way through the parser."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.text = source.text
        self.diagnostics: list[Diagnostic] = []
        self.put_in: list[int] = []  # where an opening brace was put in
        self.guesses: list[tuple[Diagnostic, int]] = []
        self.lines: set[int] = set()  # that have a report
        self.damage = Damage()
        source_tables = tables()
        self.actions, self.rules = source_tables.actions, source_tables.rules
        self.states: list[int] = [source_tables.start]
        self.values: list[Any] = []
        self.lexer = Lexer(source.text)
        self.build = builders()
        self.seen: list[Token] = []  # tokens that the parser took, or that stand in for them
        self.at_last_slip = -1  # how many tokens had been seen then
        self.split_names: set[tuple[str, str]] = set()
        self.slips = 0
        self.stuck_at, self.stuck_for = -1, 0

    def run(self) -> SyntaxTree:
        """Drive the parser to the end of the text."""
        while True:
            slip = self._go_on()
            if slip is None:
                return self._finish()
            self.slips += 1
            if len(self.diagnostics) >= MOST_SLIPS or self.slips >= MOST_MENDS:
                self.damage.hopeless = True
                return self._give_up(slip)
            self._set_right(slip)

    def _go_on(self) -> Token | None:
        """Feed tokens until one does not fit; None at the end of the text."""
        feed, seen, states, read = self._feed, self.seen, self.states, self.lexer.next
        while True:
            token = read(states[-1])
            if token.type == END:
                return None if self._stack().takes(END) else token
            if not feed(token):
                return token
            seen.append(token)

    def _stack(self) -> Stack:
        return Stack(self.actions, self.rules, self.states, self.values)

    def _feed(self, token: Token) -> bool:
        """Let the parser take a token; if it cannot, it stands where it stood before.

        LALR tables find a slip late: reductions may have been made in vain, and with them left
        in place the statement could not be mended any more.
        """
        states, values, actions = self.states, self.values, self.actions
        kind = token.type
        undo: list[tuple[list[int], list[Any], int]] = []
        while True:
            action = actions[states[-1]].get(kind)
            if action is None:
                self._undo(undo)
                return False
            if action > 0:
                states.append(action - 1)
                values.append(token)
                return True
            self._reduce(-action - 1, undo)

    def _reduce(self, number: int, undo: list[tuple[list[int], list[Any], int]]) -> None:
        rule, build = self.rules[number], self.build[number]
        states, values, size = self.states, self.values, self.rules[number].size
        parts: list[Any] = []
        if size:
            parts = values[-size:]
            grown = len(parts[0]) if type(parts[0]) is Several else -1
            undo.append((states[-size:], parts, grown))
            del states[-size:], values[-size:]
        else:
            undo.append(([], parts, -1))
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

    def _undo(self, undo: list[tuple[list[int], list[Any], int]]) -> None:
        for old_states, parts, length in reversed(undo):
            del self.states[-1], self.values[-1]
            if length >= 0:  # a list that grew in place
                del parts[0][length:]
            self.states.extend(old_states)
            self.values.extend(parts)

    def _finish(self) -> SyntaxTree:
        undo: list[tuple[list[int], list[Any], int]] = []
        while not isinstance(self.values[-1] if self.values else None, SyntaxTree):
            self._reduce(-self.actions[self.states[-1]][END] - 1, undo)
        tree = self.values[-1]
        assert isinstance(tree, SyntaxTree)
        return tree

    def _give_up(self, slip: Token) -> SyntaxTree:
        """Close what is open, so that there is a tree of what was read."""
        self.damage.add(self.text, slip.start_pos, len(self.text))
        self._close_all()
        return self._finish()

    def _close_all(self) -> None:
        stack = self._stack()
        for _ in range(stack.depth()):
            self._drop_to_level(len(self.text))
            self._insert("RBRACE", "}", len(self.text))
        self._drop_to_level(len(self.text))

    # --- setting the parser right

    def _set_right(self, slip: Token) -> None:
        found = moment.Moment(
            source=self.source,
            slip=slip,
            seen=self.seen,
            stack=self._stack(),
            split_names=self.split_names,
        )
        finding = look_at(found)
        # A slip on the very spot of the last one is that one's echo.
        echo = len(self.seen) == self.at_last_slip and bool(self.diagnostics)
        if not echo:
            self._report(finding, slip)
        self._mend(self._moving(finding.mend, slip), slip)
        if self.at_last_slip != len(self.seen) or finding.diagnostic is not None:
            self.at_last_slip = len(self.seen)

    def _report(self, finding: moment.Finding, slip: Token) -> None:
        """Keep a report, unless an earlier one on its line explains it."""
        report = finding.diagnostic
        if report is None or report.span is None:
            return
        line = report.span.line
        before = self.seen[-1].type if self.seen else ""
        if finding.is_guess:
            if line in self.lines:
                return
            start = self.source.offset(line, 1)
            opening = self.text[start : slip.start_pos].split(maxsplit=1)
            heads = opening and opening[0].upper() in _DEFINERS and "{" not in opening[-1]
            if before in _DEFINERS or heads:
                self.damage.nameless = True
            self.damage.guessed_lines.add(line)
            self.guesses.append((report, slip.start_pos))
        if report.slug == "unclosed-brace":
            brace = self.source.offset(line, report.span.column)
            if any(at > brace for at in self.put_in):
                return  # the brace that was missing within has been reported
            self._forget_guesses(brace)
        self.lines.add(line)
        self.diagnostics.append(report)

    def _forget_guesses(self, brace: int) -> None:
        """Behind a brace that stays open, words were read in the wrong block."""
        self.damage.unbalanced = True
        for guess, at in self.guesses:
            if at > brace and guess in self.diagnostics:
                self.diagnostics.remove(guess)

    def _moving(self, mend: moment.Mend, slip: Token) -> moment.Mend:
        """The mend, unless mends at this very place have led nowhere: then the slip is left out."""
        same = self.stuck_at == slip.start_pos
        self.stuck_at, self.stuck_for = slip.start_pos, self.stuck_for + 1 if same else 0
        if self.stuck_for > self._stack().depth() + 3:
            return moment.PassOver(max(slip.end_pos, slip.start_pos + 1))
        return mend

    def _mend(self, mend: moment.Mend, slip: Token) -> None:
        match mend:
            case moment.PutIn(kind, words):
                self._insert(kind, words, slip.start_pos)
                self._again(slip)
            case moment.ReadAs(kind, words, end):
                self._take(Token(kind, words, slip.start_pos, end))
                self.lexer.at = end
            case moment.ReadPreviousAs(kind):
                previous = self.seen.pop()
                self._pop(1)
                self.lexer.at = previous.end_pos
                self._take(Token(kind, spelling(kind) or "", previous.start_pos, previous.end_pos))
            case moment.TakeBack(count):
                self.lexer.at = self.seen[-count].end_pos
                del self.seen[-count:]
                self._pop(count)
            case moment.StartOver(count):
                self.lexer.at = self.seen[-1].start_pos
                del self.seen[-count:]
                self._pop(count)
            case moment.PassOver(end):
                self.damage.add(self.text, slip.start_pos, end)
                self.lexer.at = end
            case moment.CloseBraces(count):
                for _ in range(count):
                    self._drop_to_level(slip.start_pos)
                    self._insert("RBRACE", "}", slip.start_pos)
                self._drop_to_level(slip.start_pos)
                self._again(slip)
            case moment.DropStatement():
                self._drop_statement(slip)

    def _again(self, slip: Token) -> None:
        """Read the slip's token anew, now that the parser stands elsewhere."""
        self.lexer.at = slip.start_pos

    def _insert(self, kind: str, words: str, at: int) -> None:
        if kind == "LBRACE":
            self.put_in.append(at)
        self._take(Token(kind, words, at, at))
        self.damage.stretches.append((at, at))

    def _take(self, token: Token) -> None:
        if self._feed(token):
            self.seen.append(token)

    def _pop(self, count: int) -> None:
        del self.states[len(self.states) - count :]
        del self.values[len(self.values) - count :]

    def _drop_to_level(self, until: int) -> None:
        """Take the half-read statement off the stack, unless it is whole as it stands."""
        stack = self._stack()
        if stack.takes("RBRACE") or (stack.depth() == 0 and stack.takes(END)):
            return
        extra = len(self.values) - stack.level()
        if extra:
            first = self.values[-extra]
            start = first.start_pos if isinstance(first, Token) else getattr(first, "start", until)
            self.damage.add(self.text, start or 0, until)
            self._pop(extra)

    def _drop_statement(self, slip: Token) -> None:
        """Pass over tokens until a statement can begin or the block can end."""
        start = slip.start_pos
        whole = self._stack()
        keep = whole.copy()
        level = len(self.values) - whole.level()
        self.lexer.at = start
        dropped = self.values[len(self.values) - level :] if level else []
        states = self.states[len(self.states) - level :] if level else []
        self._pop(level)
        begun = self._stack()
        nested = 0
        while True:
            token = self.lexer.next(self.states[-1])
            if token.type == END:
                break
            if token.type == "LBRACE":
                nested += 1
            elif token.type == "RBRACE":
                if nested == 0:
                    break
                nested -= 1
            elif nested == 0 and self._begins_statement(token, begun):
                break
        if keep.takes(token.type):
            self.states.extend(states)
            self.values.extend(dropped)
            self.damage.add(self.text, start, token.start_pos)
        else:
            first = dropped[0] if dropped else None
            begin = first.start_pos if isinstance(first, Token) else getattr(first, "start", start)
            self.damage.add(self.text, begin, token.start_pos)
        self.lexer.at = token.start_pos if token.type != END else len(self.text)

    def _begins_statement(self, token: Token, level: Stack) -> bool:
        if opens_item(token):
            return True
        if not level.takes(token.type):
            return False
        if token.type == "NAME":
            return bool(
                re.match(r"\s*(?:\.\s*\w+\s*)?\(", self.text[token.end_pos : token.end_pos + 80])
            )
        return token.type not in ("NUMBER", "BAD_NUMBER", "STRING", "BAD_STRING", STRAY)


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

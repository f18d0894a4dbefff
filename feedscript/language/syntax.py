"""Text to syntax tree, with every slip reported and the parser set right after each.

A slip is mended in the cheapest way that lets the parser go on: a missing mark is put in, a
misspelt word is read as the word it is nearest to, one odd word is passed over; only when none of
these helps is the rest of the statement dropped. What was passed over or dropped is remembered as
damage, so that later stages do not report its consequences as further mistakes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from lark import Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedToken
from lark.parsers.lalr_analysis import Shift
from lark.parsers.lalr_interactive_parser import InteractiveParser

from feedscript.diagnostics import Diagnostic
from feedscript.language import slips
from feedscript.language.source import Source
from feedscript.language.stack import END, STRAY, Stack
from feedscript.language.tables import parser
from feedscript.language.tree import Tree as SyntaxTree
from feedscript.language.words import spelling

#: After so many slips the rest of a text is left unread: it is hardly a program.
MOST_SLIPS = 100
#: The same for mends, of which one slip may need several.
MOST_MENDS = 400

_WORD = re.compile(r"[^\W\d][\w-]*")


@dataclass(slots=True)
class Damage:
    """The stretches of a text that did not make it into the tree, and the names in them."""

    stretches: list[tuple[int, int]] = field(default_factory=list)
    words: set[str] = field(default_factory=set)
    hopeless: bool = False  # reading stopped early

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


def parse(source: Source) -> Parsed:
    """The syntax tree of a text. Never raises: whatever the text, there is a tree."""
    reader = _Reader(source)
    tree = reader.run()
    return Parsed(tree, reader.seen, tuple(reader.diagnostics), reader.damage)


class _Reader:
    """One text on its way through the parser."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.text = source.text
        self.diagnostics: list[Diagnostic] = []
        self.damage = Damage()
        interactive: InteractiveParser = parser().parse_interactive(source.text)
        self.state = interactive.parser_state
        self.thread = interactive.lexer_thread
        assert self.thread.state is not None
        self.counter = self.thread.state.line_ctr
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
        feed, seen = self._feed, self.seen
        try:
            for token in self._tokens():
                if not feed(token):
                    return token
                seen.append(token)
        except UnexpectedToken as slip:
            return _token(slip)
        except UnexpectedCharacters:
            return self._stray()
        stack = Stack(self.state)
        return None if stack.takes(END) else self._end_token()

    def _feed(self, token: Token) -> bool:
        """Let the parser take a token; if it cannot, it stands where it stood before.

        lark's own loop leaves the reductions made in vain (LALR tables find a slip late), and
        with them gone the statement could not be mended any more.
        """
        states, values = self.state.state_stack, self.state.value_stack
        table, build = self.state.parse_conf.states, self.state.parse_conf.callbacks
        kind = token.type
        undo: list[tuple[list[int], tuple[Any, ...], int]] = []
        while True:
            step = table[states[-1]].get(kind)
            if step is None:
                self._undo(undo)
                return False
            action, target = step
            if action is Shift:
                states.append(target)
                values.append(token)
                return True
            size = len(target.expansion)
            parts: list[Any] = values[len(values) - size :]
            undo.append((states[len(states) - size :], tuple(parts), _grown(parts)))
            if size:
                del states[-size:], values[-size:]
            values.append(build[target](parts))
            states.append(table[states[-1]][target.origin.name][1])

    def _undo(self, undo: list[tuple[list[int], tuple[Any, ...], int]]) -> None:
        states, values = self.state.state_stack, self.state.value_stack
        for old_states, parts, length in reversed(undo):
            del states[-1], values[-1]
            if length >= 0:  # a list that lark grows in place
                del parts[0].children[length:]
            states.extend(old_states)
            values.extend(parts)

    def _finish(self) -> SyntaxTree:
        tree = self.state.feed_token(self._end_token(), True)
        assert isinstance(tree, SyntaxTree)
        return tree

    def _end_token(self) -> Token:
        end = len(self.text.rstrip())
        return Token(END, "", start_pos=end, end_pos=end)

    def _give_up(self, slip: Token) -> SyntaxTree:
        """Close what is open, so that there is a tree of what was read."""
        self.damage.add(self.text, _start(slip), len(self.text))
        self._close_all()
        return self._finish()

    def _close_all(self) -> None:
        stack = Stack(self.state)
        for _ in range(stack.depth()):
            self._drop_to_level(len(self.text))
            self._insert("RBRACE", "}", len(self.text))
        self._drop_to_level(len(self.text))

    # --- the lexer, put where it is needed

    def _tokens(self) -> Iterator[Token]:
        """Tokens from the lexer's place on, each read as the parser's state at the time asks."""
        lex: Callable[[object], Iterator[Token]] = self.thread.lex
        return lex(self.state)

    def _stray(self) -> Token:
        """The character at the lexer's place as a token of its own; the lexer steps over it."""
        counter = self.counter
        at = counter.char_pos
        character = self.text[at : at + 1]
        token = Token(STRAY, character, start_pos=at, end_pos=at + 1)
        counter.feed(character)
        return token

    def _move_to(self, offset: int) -> None:
        """Let the lexer go on from this offset."""
        counter = self.counter
        line, column = self.source.place(offset)
        counter.char_pos, counter.line, counter.column = offset, line, column
        counter.line_start_pos = offset - column + 1

    def _next(self) -> Token:
        """The next token, whether or not the parser could take it."""
        try:
            return next(self._tokens())
        except StopIteration:
            return self._end_token()
        except UnexpectedToken as slip:
            return _token(slip)
        except UnexpectedCharacters:
            return self._stray()

    # --- setting the parser right

    def _set_right(self, slip: Token) -> None:
        moment = slips.Moment(
            source=self.source,
            slip=slip,
            seen=self.seen,
            stack=Stack(self.state),
            split_names=self.split_names,
        )
        finding = slips.look_at(moment)
        # A slip on the very spot of the last one is that one's echo.
        echo = len(self.seen) == self.at_last_slip and bool(self.diagnostics)
        if finding.diagnostic is not None and not echo:
            self.diagnostics.append(finding.diagnostic)
        self._mend(self._moving(finding.mend, slip), slip)
        if self.at_last_slip != len(self.seen) or finding.diagnostic is not None:
            self.at_last_slip = len(self.seen)

    def _moving(self, mend: slips.Mend, slip: Token) -> slips.Mend:
        """The mend, unless mends at this very place have led nowhere: then the slip is left out."""
        same = self.stuck_at == _start(slip)
        self.slips = 0
        self.stuck_at, self.stuck_for = _start(slip), self.stuck_for + 1 if same else 0
        if self.stuck_for > Stack(self.state).depth() + 3:
            return slips.PassOver(max(slip.end_pos or 0, _start(slip) + 1))
        return mend

    def _mend(self, mend: slips.Mend, slip: Token) -> None:
        match mend:
            case slips.PutIn(kind, words):
                self._insert(kind, words, _start(slip))
                self._again(slip)
            case slips.ReadAs(kind, words, end):
                self._take(Token(kind, words, start_pos=_start(slip), end_pos=end))
                self._move_to(end)
            case slips.ReadPreviousAs(kind):
                previous = self.seen.pop()
                self._pop(1)
                self._move_to(previous.end_pos or 0)
                self._take(Token.new_borrow_pos(kind, spelling(kind) or "", previous))
            case slips.PassOver(end):
                self.damage.add(self.text, _start(slip), end)
                self._move_to(end)
            case slips.CloseBraces(count):
                for _ in range(count):
                    self._drop_to_level(_start(slip))
                    self._insert("RBRACE", "}", _start(slip))
                self._drop_to_level(_start(slip))
                self._again(slip)
            case slips.DropStatement():
                self._drop_statement(slip)

    def _again(self, slip: Token) -> None:
        """Read the slip's token anew, now that the parser stands elsewhere."""
        self._move_to(_start(slip))

    def _insert(self, kind: str, words: str, at: int) -> None:
        self._take(Token(kind, words, start_pos=at, end_pos=at))
        self.damage.stretches.append((at, at))

    def _take(self, token: Token) -> None:
        if self._feed(token):
            self.seen.append(token)

    def _pop(self, count: int) -> None:
        del self.state.state_stack[len(self.state.state_stack) - count :]
        del self.state.value_stack[len(self.state.value_stack) - count :]

    def _drop_to_level(self, until: int) -> None:
        """Take the half-read statement off the stack, unless it is whole as it stands."""
        stack = Stack(self.state)
        if stack.takes("RBRACE") or (stack.depth() == 0 and stack.takes(END)):
            return
        extra = len(self.state.value_stack) - stack.level()
        if extra:
            first = self.state.value_stack[-extra]
            start = first.start_pos if isinstance(first, Token) else getattr(first, "start", until)
            self.damage.add(self.text, start or 0, until)
            self._pop(extra)

    def _drop_statement(self, slip: Token) -> None:
        """Pass over tokens until a statement can begin or the block can end."""
        start = _start(slip)
        whole = Stack(self.state)
        keep = whole.copy()
        level = len(self.state.value_stack) - whole.level()
        self._move_to(start)
        dropped = self.state.value_stack[len(self.state.value_stack) - level :] if level else []
        states = self.state.state_stack[len(self.state.state_stack) - level :] if level else []
        self._pop(level)
        begun = Stack(self.state)
        nested = 0
        while True:
            token = self._next()
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
            self.state.state_stack.extend(states)
            self.state.value_stack.extend(dropped)
            self.damage.add(self.text, start, _start(token))
        else:
            first = dropped[0] if dropped else None
            begin = first.start_pos if isinstance(first, Token) else getattr(first, "start", start)
            self.damage.add(self.text, begin or start, _start(token))
        self._move_to(_start(token) if token.type != END else len(self.text))

    def _begins_statement(self, token: Token, level: Stack) -> bool:
        if slips.opens_item(token):
            return True
        if not level.takes(token.type):
            return False
        if token.type == "NAME":
            return bool(re.match(r"\s*(?:\.\s*\w+\s*)?\(", self.text[token.end_pos or 0 :][:80]))
        return token.type not in ("NUMBER", "BAD_NUMBER", "STRING", "BAD_STRING", STRAY)


def _grown(parts: list[Any]) -> int:
    """The length of the list that a reduction is about to grow, or -1 when it grows none."""
    return len(parts[0].children) if parts and type(parts[0]) is Tree else -1


def _token(slip: UnexpectedToken) -> Token:
    token = slip.token
    assert isinstance(token, Token)
    return token


def _start(token: Token) -> int:
    return token.start_pos or 0

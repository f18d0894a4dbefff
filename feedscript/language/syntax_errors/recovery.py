"""Reading a text to its end whatever is wrong with it: each syntax error reported and repaired.

An error is repaired in the cheapest way that lets the parser go on: a missing mark is put in, a
misspelt word is read as the word it is nearest to, one odd word is passed over; only when none of
these helps is the rest of the statement dropped. What was passed over or dropped is remembered as
damage.
"""

from __future__ import annotations

import re

from feedscript.diagnostics import Diagnostic
from feedscript.language.parse.lexer import STRAY, Lexer
from feedscript.language.parse.parser import Parser
from feedscript.language.parse.source import Source
from feedscript.language.parse.stack import Stack
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import Tree
from feedscript.language.syntax_errors import repairs
from feedscript.language.syntax_errors.damage import Damage
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding
from feedscript.language.syntax_errors.marks import opens_item
from feedscript.language.words import spelling

#: After so many errors the rest of a text is left unread: it is hardly a program.
MOST_ERRORS = 100
#: The same for repairs, of which one error may need several.
MOST_REPAIRS = 400

#: Words behind which a name is given.
_DEFINERS = ("FEED", "PATTERN", "LET")


class Reader:
    """One text on its way through the parser."""

    def __init__(self, source: Source) -> None:
        self.source, self.text = source, source.text
        self.lexer, self.parser = Lexer(source.text), Parser()
        self.seen: list[Token] = []  # tokens that the parser took, or that stand in for them
        self.diagnostics: list[Diagnostic] = []
        self.damage = Damage()
        self.repaired = 0
        self._reported_lines: set[int] = set()
        self._guesses: list[tuple[Diagnostic, int]] = []
        self._put_in: list[int] = []  # where an opening brace was put in
        self._split_names: set[tuple[str, str]] = set()
        self._at_last_error = -1  # how many tokens had been seen then
        self._stuck_at, self._stuck_for = -1, 0

    def run(self) -> Tree:
        """Drive the parser to the end of the text."""
        while (wrong := self.advance()) is not None:
            if len(self.diagnostics) >= MOST_ERRORS or self.repaired >= MOST_REPAIRS:
                return self._give_up(wrong)
            self.recover(wrong)
        return self.parser.finish()

    def advance(self) -> Token | None:
        """Feed tokens until one does not fit, which is given back; None at the text's end."""
        parser, seen, read = self.parser, self.seen, self.lexer.next
        feed, states = parser.feed, parser.states
        while True:
            token = read(states[-1])
            if token.type == END:
                return None if parser.stack().takes(END) else token
            if not feed(token):
                return token
            seen.append(token)

    def recover(self, wrong: Token) -> None:
        """Report the token that does not fit, and set the parser right behind it."""
        self.repaired += 1
        site = ErrorSite(self.source, wrong, self.seen, self.parser.stack(), self._split_names)
        # Most texts are right, and need nothing of what mistakes are told by.
        from feedscript.language.syntax_errors.recognise import recognise

        finding = recognise(site)
        # An error on the very spot of the last one is that one's echo.
        echo = len(self.seen) == self._at_last_error and bool(self.diagnostics)
        if not echo:
            self._report(finding, wrong)
        self._repair(self._moving(finding.repair, wrong), wrong)
        if self._at_last_error != len(self.seen) or finding.diagnostic is not None:
            self._at_last_error = len(self.seen)

    def _give_up(self, wrong: Token) -> Tree:
        """Close what is open, so that there is a tree of what was read."""
        self.damage.hopeless = True
        end = len(self.text)
        self.damage.add(self.text, wrong.start_pos, end)
        self._close(self.parser.stack().depth(), end)
        return self.parser.finish()

    # --- reporting

    def _report(self, finding: Finding, wrong: Token) -> None:
        """Keep a report, unless an earlier one on its line explains it."""
        report = finding.diagnostic
        if report is None or report.span is None:
            return
        line = report.span.line
        if finding.is_guess:
            if line in self._reported_lines:
                return
            self._note_guess(report, line, wrong)
        if report.slug == "unclosed-brace":
            brace = self.source.offset(line, report.span.column)
            if any(at > brace for at in self._put_in):
                return  # the brace that was missing within has been reported
            self._forget_guesses(brace)
        self._reported_lines.add(line)
        self.diagnostics.append(report)

    def _note_guess(self, report: Diagnostic, line: int, wrong: Token) -> None:
        before = self.seen[-1].type if self.seen else ""
        opening = self.text[self.source.offset(line, 1) : wrong.start_pos].split(maxsplit=1)
        heads = opening and opening[0].upper() in _DEFINERS and "{" not in opening[-1]
        if before in _DEFINERS or heads:
            self.damage.nameless = True
        self.damage.guessed_lines.add(line)
        self._guesses.append((report, wrong.start_pos))

    def _forget_guesses(self, brace: int) -> None:
        """Behind a brace that stays open, words were read in the wrong block."""
        self.damage.unbalanced = True
        for guess, at in self._guesses:
            if at > brace and guess in self.diagnostics:
                self.diagnostics.remove(guess)

    # --- repairs

    def _moving(self, repair: repairs.Repair, wrong: Token) -> repairs.Repair:
        """The repair; where those at this very place have led nowhere, leaving the token out."""
        same = self._stuck_at == wrong.start_pos
        self._stuck_at, self._stuck_for = wrong.start_pos, self._stuck_for + 1 if same else 0
        if self._stuck_for > self.parser.stack().depth() + 3:
            return repairs.PassOver(max(wrong.end_pos, wrong.start_pos + 1))
        return repair

    def _repair(self, repair: repairs.Repair, wrong: Token) -> None:
        start, lexer = wrong.start_pos, self.lexer
        match repair:
            case repairs.PutIn(kind, words):
                self._insert(kind, words, start)
                lexer.at = start
            case repairs.ReadAs(kind, words, end):
                self._take(Token(kind, words, start, end))
                lexer.at = end
            case repairs.ReadPreviousAs(kind):
                before = self.seen[-1]
                self._take_back(1)
                lexer.at = before.end_pos
                self._take(Token(kind, spelling(kind) or "", before.start_pos, before.end_pos))
            case repairs.TakeBack(count):
                lexer.at = self.seen[-count].end_pos
                self._take_back(count)
            case repairs.StartOver(count):
                lexer.at = self.seen[-1].start_pos
                self._take_back(count)
            case repairs.PassOver(end):
                self.damage.add(self.text, start, end)
                lexer.at = end
            case repairs.CloseBraces(count):
                self._close(count, start)
                lexer.at = start
            case repairs.DropStatement():
                self._drop_statement(start)

    def _take_back(self, count: int) -> None:
        del self.seen[-count:]
        self.parser.pop(count)

    def _insert(self, kind: str, words: str, at: int) -> None:
        if kind == "LBRACE":
            self._put_in.append(at)
        self._take(Token(kind, words, at, at))
        self.damage.parts.append((at, at))

    def _take(self, token: Token) -> None:
        if self.parser.feed(token):
            self.seen.append(token)

    def _close(self, count: int, at: int) -> None:
        """Close so many blocks as if braces stood here."""
        for _ in range(count):
            self._drop_half_read(at)
            self._insert("RBRACE", "}", at)
        self._drop_half_read(at)

    def _drop_half_read(self, until: int) -> None:
        """Take the half-read statement off the stack, unless it is whole as it stands."""
        stack = self.parser.stack()
        if stack.takes("RBRACE") or (stack.depth() == 0 and stack.takes(END)):
            return
        _, dropped = self.parser.pop(len(self.parser.values) - stack.level())
        if dropped:
            self.damage.add(self.text, _start(dropped[0], until), until)

    def _drop_statement(self, start: int) -> None:
        """Pass over tokens until a statement can begin or the block can end."""
        parser = self.parser
        whole = parser.stack().copy()
        states, dropped = parser.pop(len(parser.values) - whole.level())
        self.lexer.at = start
        token = self._next_statement()
        if whole.takes(token.type):
            parser.states.extend(states)
            parser.values.extend(dropped)
            self.damage.add(self.text, start, token.start_pos)
        else:
            begin = _start(dropped[0], start) if dropped else start
            self.damage.add(self.text, begin, token.start_pos)
        self.lexer.at = token.start_pos if token.type != END else len(self.text)

    def _next_statement(self) -> Token:
        """The token at which the block ends or its next statement begins."""
        begun, nested = self.parser.stack(), 0
        while True:
            token = self.lexer.next(self.parser.states[-1])
            if token.type == END:
                return token
            if token.type == "LBRACE":
                nested += 1
            elif nested == 0 and (token.type == "RBRACE" or self._begins(token, begun)):
                return token
            elif token.type == "RBRACE":
                nested -= 1

    def _begins(self, token: Token, level: Stack) -> bool:
        """Whether a statement can begin with this token."""
        if opens_item(token):
            return True
        if not level.takes(token.type):
            return False
        if token.type == "NAME":
            behind = self.text[token.end_pos : token.end_pos + 80]
            return re.match(r"\s*(?:\.\s*\w+\s*)?\(", behind) is not None
        return token.type not in ("NUMBER", "BAD_NUMBER", "STRING", "BAD_STRING", STRAY)


def _start(part: object, otherwise: int) -> int:
    """Where a token or node begins."""
    start = part.start_pos if isinstance(part, Token) else getattr(part, "start", otherwise)
    return start or 0

"""What a slip in the writing most likely is, and how the parser gets over it.

Each look is one kind of slip: a function from the moment at which the parser stopped to a finding,
or None when it is not that kind. They are tried in order, the surest first.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from feedscript.diagnostics import Diagnostic, Page
from feedscript.language import slip_pages as pages
from feedscript.language.lexer import STRAY
from feedscript.language.source import Source
from feedscript.language.stack import Stack
from feedscript.language.tables import END
from feedscript.language.token import Token
from feedscript.language.words import (
    ITEMS,
    PLACE_WORDS,
    in_words,
    is_keyword,
    kind_of,
    nearest,
    nearest_keyword,
    spelling,
)


@dataclass(frozen=True, slots=True)
class PutIn:
    """Act as if a mark or word stood before the slip."""

    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class ReadAs:
    """Take the text from the slip up to ``end`` for a token of this kind."""

    kind: str
    words: str
    end: int


@dataclass(frozen=True, slots=True)
class ReadPreviousAs:
    """Take the token before the slip for one of this kind."""

    kind: str


@dataclass(frozen=True, slots=True)
class TakeBack:
    """Take back so many tokens, leave the first of them out, and read on behind it."""

    count: int


@dataclass(frozen=True, slots=True)
class PassOver:
    """Leave the text from the slip up to ``end`` out."""

    end: int


@dataclass(frozen=True, slots=True)
class CloseBraces:
    """Act as if so many braces were closed before the slip."""

    count: int


@dataclass(frozen=True, slots=True)
class DropStatement:
    """Go on at the next statement."""


Mend: TypeAlias = (
    PutIn | ReadAs | ReadPreviousAs | TakeBack | PassOver | CloseBraces | DropStatement
)


@dataclass(frozen=True, slots=True)
class Finding:
    """The report (None where an earlier one covers it) and the way on."""

    diagnostic: Diagnostic | None
    mend: Mend


@dataclass(frozen=True, slots=True)
class Moment:
    """Where the parser stopped."""

    source: Source
    slip: Token
    seen: list[Token]
    stack: Stack
    split_names: set[tuple[str, str]]

    @property
    def start(self) -> int:
        return self.slip.start_pos

    @property
    def end(self) -> int:
        return self.slip.end_pos

    @property
    def before(self) -> Token | None:
        return self.seen[-1] if self.seen else None

    @property
    def text(self) -> str:
        return self.source.text

    def same_line(self) -> bool:
        """Whether the slip stands on the line of the token before it."""
        before = self.before
        return before is not None and "\n" not in self.text[before.end_pos : self.start]

    def report(
        self,
        page: Page,
        message: str,
        help: str,  # noqa: A002 - the word every reader of a diagnostic knows
        *,
        start: int | None = None,
        end: int | None = None,
    ) -> Diagnostic:
        """A diagnostic at the slip, or at ``start`` and ``end`` where they are given."""
        start = self.start if start is None else start
        end = self.end if end is None else end
        span = self.source.span(start, max(end, start))
        return page.report(message, help=help, span=span)


def opens_item(token: Token) -> bool:
    """Whether this token can only begin an item of a program."""
    return token.type in ITEMS and token.type not in ("SEED", "KEEP", "BALLS", "LAUNCHER", "GROUP")


def look_at(moment: Moment) -> Finding:
    """What the slip is."""
    for look in _LOOKS:
        finding = look(moment)
        if finding is not None:
            return finding
    return _unexpected(moment)


def _odd_character(m: Moment) -> Finding | None:
    rest = m.text[m.start :]
    if rest.startswith(("//", "/*", "--")):
        stop = m.text.find("\n", m.start)
        stop = len(m.text) if stop < 0 else stop
        message = f"`{rest[:2]}` does not begin a comment"
        return Finding(
            m.report(
                pages.STRAY, message, "begin a comment with `#`", start=m.start, end=m.start + 2
            ),
            PassOver(stop),
        )
    if m.slip.type not in (STRAY, "LPAR", "RPAR"):
        return None
    bracket = _bracket_for_brace(m)
    if bracket is not None:
        return bracket
    if m.slip.type != STRAY:
        return None
    quoted = re.match(
        r"['\u2018\u2019\u00b4`]([^'\u2018\u2019\u00b4`\n]*)['\u2018\u2019\u00b4`]", rest
    )
    if quoted and m.stack.takes("STRING"):
        end = m.start + quoted.end()
        message = f"{quoted[0]} is in single quotation marks"
        report = m.report(pages.STRAY, message, f'write "{quoted[1]}"', end=end)
        return Finding(report, ReadAs("STRING", f'"{quoted[1]}"', end))
    run = re.match(r"(.)\1*", rest, re.DOTALL)
    end = m.start + (run.end() if run else 1)
    character = m.slip[:1]
    shown = f"`{character}`" if character.isprintable() else f"the character U+{ord(character):04X}"
    return Finding(
        m.report(pages.STRAY, f"{shown} has no meaning here", _stray_help(character), end=end),
        PassOver(end),
    )


def _bracket_for_brace(m: Moment) -> Finding | None:
    """``lesson ( … )`` or ``repeat 2 [ … ]``: other brackets where braces belong."""
    if m.slip in ("(", "[") and m.stack.takes("LBRACE"):
        m.split_names.add((str(m.slip), ""))
        before = f"`{m.before} {m.slip}`" if m.before is not None else f"`{m.slip}`"
        message = f"{before} opens no block"
        report = m.report(pages.STRAY, message, "blocks stand in braces: { … }")
        return Finding(report, ReadAs("LBRACE", "{", m.end))
    opening = {")": "(", "]": "["}.get(str(m.slip))
    if opening and (opening, "") in m.split_names and m.stack.takes("RBRACE"):
        return Finding(None, ReadAs("RBRACE", "}", m.end))
    return None


def _stray_help(character: str) -> str:
    if character == ";":
        return "leave it out: nothing stands between two steps"
    if character in "[]":
        return "blocks stand in braces { }, values in brackets ( )"
    if character in "'\u2018\u2019`\u00b4":
        return 'words stand in double quotation marks: "…"'
    return "leave it out"


def _end_of_text(m: Moment) -> Finding | None:
    if m.slip.type != END:
        return None
    brace = m.stack.open_brace()
    if brace is None:
        before = m.before
        message = "the program ends in the middle of a statement"
        wanted = in_words(m.stack.expected())
        return Finding(
            m.report(
                pages.MISSING_VALUE,
                message,
                f"write on with {wanted}" if wanted else "finish the statement",
                start=before.start_pos if before else 0,
                end=(before.end_pos) if before else 0,
            ),
            DropStatement(),
        )
    return Finding(_unclosed(m, brace), CloseBraces(m.stack.depth()))


def _unclosed(m: Moment, brace: Token) -> Diagnostic:
    head = m.stack.block_head()
    at = brace.start_pos
    what = (
        f"the `{{` of `{head}`" if head is not None and head.start_pos is not None else "this `{`"
    )
    where = "before the program ends" if m.slip.type == END else f"before `{m.slip}`"
    line, _ = m.source.place(at)
    return m.report(
        pages.UNCLOSED_BRACE,
        f"{what} on line {line} is not closed {where}",
        "put a `}` where the block ends",
        start=at,
        end=at + 1,
    )


def _closing_brace(m: Moment) -> Finding | None:
    if m.slip.type != "RBRACE" or m.stack.depth() > 0:
        return None
    if not m.stack.takes(END):  # a half-read statement comes first
        return None
    return Finding(
        m.report(pages.EXTRA_BRACE, "this `}` closes nothing", "take it out, or put the `{` in"),
        PassOver(m.end),
    )


def _item_in_block(m: Moment) -> Finding | None:
    depth = m.stack.depth()
    before = m.before
    begins = m.source.first_on_line(m.start) or (before and before.type in ("LBRACE", "RBRACE"))
    opens = opens_item(m.slip) or (m.slip.type in ITEMS and m.source.first_on_line(m.start))
    if not opens or depth == 0 or not begins:
        return None
    brace = m.stack.open_brace()
    assert brace is not None
    rest = m.text[m.start :]
    if rest.count("}") - rest.count("{") < depth:
        # Every brace that is still open would be closed by braces that belong to later blocks.
        missing = depth - max(0, rest.count("}") - rest.count("{"))
        put_in = brace.start_pos == brace.end_pos  # its absence is reported already
        return Finding(None if put_in else _unclosed(m, brace), CloseBraces(max(1, missing)))
    if m.stack.values() and not _whole(m.stack):
        return None
    message = f"`{m.slip}` cannot stand inside `{m.stack.block_head()}`"
    report = m.report(
        pages.MISPLACED, message, "move it out of the block, to the top of the program"
    )
    return Finding(report, PassOver(_end_of_item(m)))


def _end_of_item(m: Moment) -> int:
    """Where the item at the slip ends: behind its block, or at the end of its line."""
    stop = m.text.find("\n", m.start)
    stop = len(m.text) if stop < 0 else stop
    brace = m.text.find("{", m.start, stop)
    if brace < 0:
        return stop
    depth = 0
    for at in range(brace, len(m.text)):
        if m.text[at] == "{":
            depth += 1
        elif m.text[at] == "}":
            depth -= 1
            if depth == 0:
                return at + 1
    return stop


def _unknown_unit(m: Moment) -> Finding | None:
    before = m.before
    if before is None or before.type != "NUMBER" or m.slip.type not in ("NAME", STRAY):
        return None
    if not m.same_line() or not m.stack.takes("UNIT"):
        return None
    word = re.match(r"[^\s{}(),;:#\"]+", m.text[m.start :])
    if word is None:
        return None
    unit = word[0]
    return Finding(
        pages.unknown_unit(unit, m.source.span(m.start, m.start + len(unit))),
        ReadAs("UNIT", unit, m.start + len(unit)),
    )


def _bad_name(m: Moment) -> Finding | None:
    before = m.before
    if before is None:
        return None
    if m.slip.type == "NAME" and before.type == "NAME":
        return _split_name(m, before)
    naming = before.type in ("FEED", "PATTERN", "LET", "AS") or _names_parameter(m)
    naming = naming and m.stack.takes("NAME")
    if not naming or m.slip.type == END or not m.same_line():
        return None
    word = re.match(r"[^\s{}(),;:=#]+", m.text[m.start :])
    if word is None:
        return None
    end = m.start + len(word[0])
    name = f"the_{word[0]}" if word[0][0].isdigit() else f"my_{word[0]}"
    if is_keyword(m.slip.type):
        message = f"`{word[0]}` is a word of the language and cannot be a name"
        name = f"{word[0].lower()}_1"
    elif m.slip.type in ("STRING", "BAD_STRING"):
        message = "a name stands without quotation marks"
        name = re.sub(r"\W+", "_", word[0]).strip("_") or "my_feed"
    else:
        message = f"`{word[0]}` cannot be a name: a name begins with a letter"
    report = m.report(pages.BAD_NAME, message, f"choose another, such as `{name}`", end=end)
    return Finding(report, ReadAs("NAME", word[0], end))


def _names_parameter(m: Moment) -> bool:
    """Whether the slip stands where a parameter is named, before its `:` or `=`."""
    before = m.before
    listed = before is not None and before.type in ("LPAR", "COMMA")
    return listed and re.match(r"\s*[:=]", m.text[m.end :]) is not None


def _split_name(m: Moment, before: Token) -> Finding | None:
    if not m.same_line():
        return None
    kind = kind_of(m.slip)
    if kind is not None and m.stack.takes("LBRACE", kind):
        return None  # no second word but a line of the block, whose brace is missing
    pair = (str(before), str(m.slip))
    if pair in m.split_names:
        return Finding(None, PassOver(m.end))
    earlier = m.seen[-2].type if len(m.seen) > 1 else ""
    if earlier not in ("FEED", "PATTERN", "LET"):
        return None
    m.split_names.add(pair)
    start, joined = before.start_pos, f"{before}_{m.slip}"
    message = f"`{before} {m.slip}` is two words, and a name is one"
    report = m.report(
        pages.BAD_NAME, message, f"write `{joined}`, here and where it is used", start=start
    )
    return Finding(report, PassOver(m.end))


def _odd_word(m: Moment) -> Finding | None:
    """A word that a later stage can judge better: a place or a spin that nobody knows."""
    if m.slip.type != "NAME" or not m.same_line():
        return None
    before = m.before
    if nearest_keyword(m.slip, m.stack.expected()) is not None:
        return None
    if m.stack.takes("SPIN_WORD"):
        return Finding(None, ReadAs("SPIN_WORD", str(m.slip), m.end))
    if not m.stack.takes("PLACE_WORD"):
        return None
    # Behind a place that is whole, a word like no other of the court begins the next line.
    open_end = before is None or before.lower() in _LEADS_ON
    if not open_end and _whole(m.stack) and not _likely_place_word(m):
        return None
    return Finding(None, ReadAs("PLACE_WORD", str(m.slip), m.end))


def _comma_between_lines(m: Moment) -> Finding | None:
    """``on centre line, speed 70 km/h``: a line's word was taken for the name of a distance."""
    if len(m.seen) < 2 or m.seen[-1].type != "NAME" or m.seen[-2].type != "COMMA":
        return None
    comma, word = m.seen[-2:]
    kind = kind_of(word)
    if kind is None or not m.stack.at_level().takes(kind):
        return None
    message = f"a comma does not stand before `{word}`"
    at = comma.start_pos
    report = m.report(pages.UNEXPECTED, message, "leave it out", start=at, end=at + 1)
    return Finding(report, TakeBack(2))


def _likely_place_word(m: Moment) -> bool:
    """Whether an unknown word resembles one of the court and does not begin a line of its own."""
    if nearest(m.slip, PLACE_WORDS) is None:
        return False
    line = m.text[m.end :].split("\n", 1)[0]
    follow = re.match(r"[ \t\u00a0]*([^\s,{}#]+)", line)
    return follow is None or kind_of(follow[1]) in m.stack.at_level().expected()


#: Words of a place after which another must come.
_LEADS_ON = frozenset(
    (
        *("inside", "outside", "behind", "past", "beyond", "on", "from", "ad", "deuce"),
        *("forehand", "backhand", "centre", "center", "service", "singles", "doubles", "base"),
    )
)


def _misspelt_before(m: Moment) -> Finding | None:
    """``sned deep after 4 s``: the word before was taken for a name."""
    before = m.before
    if before is None or before.type != "NAME" or m.slip.type in ("LPAR", "DOT"):
        return None
    begun = m.stack.begun()
    if begun is not before:
        return None
    level = m.stack.at_level()
    kinds = [kind for kind in level.expected() if level.takes(kind, m.slip.type)]
    kind = nearest_keyword(before, kinds) or nearest_keyword(before, level.expected())
    page, what = pages.unknown_here(m.stack.block())
    start, end = before.start_pos, before.end_pos
    if kind is None and re.search(rf"\bpattern\s+{re.escape(before)}\b", m.text):
        message = f"the pattern `{before}` is called without brackets"
        report = m.report(pages.MISSING_WORD, message, f"write `{before}()`", start=start, end=end)
        return Finding(report, PutIn("LPAR", "("))
    message = f"`{before}` is no {what}"
    if kind is None:
        help_text = f"known here: {in_words(filter(is_keyword, level.expected()), 20)}"
        return Finding(m.report(page, message, help_text, start=start, end=end), DropStatement())
    report = m.report(page, message, f"did you mean `{spelling(kind)}`?", start=start, end=end)
    return Finding(report, ReadPreviousAs(kind))


def _misspelt(m: Moment) -> Finding | None:
    """A word in the place of a fixed word that it resembles."""
    if m.slip.type != "NAME" and not is_keyword(m.slip.type):
        return None
    at_start = not m.stack.values()
    expected = m.stack.expected()
    kind = nearest_keyword(m.slip, expected) if m.slip.type == "NAME" or at_start else None
    page, what = pages.unknown_here(m.stack.block())
    begins = at_start or m.source.first_on_line(m.start) or (kind is None and _whole(m.stack))
    if begins and not at_start:
        level = m.stack.at_level()
        if not _whole(m.stack):
            return None
        expected = level.expected()
        kind = nearest_keyword(m.slip, expected)
    if kind is not None:
        begins = begins or m.stack.at_level().takes(kind)
        message = f"`{m.slip}` is no {what}" if begins else f"`{m.slip}` is not understood here"
        page = page if begins else pages.UNEXPECTED
        report = m.report(page, message, f"did you mean `{spelling(kind)}`?")
        return Finding(report, ReadAs(kind, spelling(kind) or "", m.end))
    if not begins:
        return None
    message = f"`{m.slip}` is no {what}"
    known = in_words(filter(is_keyword, expected), 20)
    return Finding(m.report(page, message, f"known here: {known}"), DropStatement())


def _whole(stack: Stack) -> bool:
    """Whether the statement being read could end here."""
    return stack.takes("RBRACE") or stack.takes(END)


def _missing_value(m: Moment) -> Finding | None:
    """``speed`` and then the next line: something had to come between."""
    before = m.before
    ends = m.slip.type in ("RBRACE", "LBRACE") or is_keyword(m.slip.type) or m.slip.type == "COMMA"
    if before is None or not ends or not m.stack.values():
        return None
    if _whole(m.stack) or (m.same_line() and m.slip.type not in ("RBRACE", "COMMA", "LBRACE")):
        return None
    wanted = [
        k for k in ("NUMBER", "STRING", "PLACE_WORD", "NAME", "SPIN_WORD") if m.stack.takes(k)
    ]
    if not wanted:
        return None
    start, end = before.start_pos, before.end_pos
    message = f"after `{before}` something is missing"
    return Finding(
        m.report(
            pages.MISSING_VALUE, message, pages.example_after(before, wanted), start=start, end=end
        ),
        DropStatement(),
    )


#: Marks and small words that may be put in where they alone are missing.
_GLUE = (
    "COMMA",
    "LBRACE",
    "RPAR",
    "LPAR",
    "COLON",
    "EQUAL",
    "OF",
    "AFTER",
    "BY",
    "AND",
    "SPEED",
    "GROUP",
    "EVERY",
    "EACH",
    "PLAYER",
    "OUT",
    "NET",
    "HIGH",
    "THAN",
    "BECAUSE",
    "LAST",
    "WITH",
    "MOST",
    "AT",
    "BALLS",
    "WITHIN",
    "COMPARE",
)


def _missing_glue(m: Moment) -> Finding | None:
    before = m.before
    if before is None or m.slip.type in (END, STRAY) or not m.stack.values():
        return None
    come = {m.slip.type, kind_of(m.slip) or m.slip.type}
    for kind in _GLUE:
        if kind == "SPEED" and before.type != "SHOW":
            continue
        if kind == "COMMA" and (not m.same_line() or m.slip.type == "NAME"):
            continue
        if any(m.stack.takes(kind, one) for one in come):
            mark = "=" if kind in ("COMPARE", "EQUAL") else spelling(kind) or ""
            break
    else:
        return None
    start = before.start_pos
    if m.slip.type == "RBRACE" and kind == "LBRACE":
        message = "this `}` closes nothing"
        return Finding(m.report(pages.EXTRA_BRACE, message, "put the `{` in"), PutIn(kind, mark))
    message = f"between `{before}` and `{m.slip}` a `{mark}` is missing"
    help_text = f"write `{before} {mark} {m.slip}`" if mark not in ",:)" else f"put the `{mark}` in"
    if mark == ",":
        help_text = f"write `{before}, {m.slip} …`"
    report = m.report(pages.MISSING_WORD, message, help_text, start=start)
    return Finding(report, PutIn(kind, mark))


def _unexpected(m: Moment) -> Finding:
    expected = m.stack.expected()
    wanted = in_words(expected)
    shown = str(m.slip) if m.slip.type != END else "the end"
    message = f"`{shown}` does not belong here"
    help_text = f"here may stand {wanted}" if wanted else "take it out"
    before = m.before
    if before is not None and m.same_line():
        message = f"`{shown}` does not belong after `{before}`"
    if before is not None and (m.slip in (":", "=")) and is_keyword(before.type):
        help_text = f"leave it out: what belongs to `{before}` follows directly"
    elif before is not None and m.stack.values() and not _whole(m.stack):
        help_text = pages.example_after(before, []) or help_text
    mend: Mend = DropStatement()
    if m.slip.type in ("SIGN", "TIMES", "COMMA", "DOT", "COLON", "EQUAL", "UNIT", "RPAR", "LPAR"):
        mend = PassOver(m.end)
    elif m.slip.type == "RBRACE" and m.stack.depth():
        mend = CloseBraces(0)
    return Finding(m.report(pages.UNEXPECTED, message, help_text), mend)


_Look: TypeAlias = Callable[[Moment], Finding | None]
_LOOKS: tuple[_Look, ...] = (
    _odd_character,
    _item_in_block,
    _end_of_text,
    _closing_brace,
    _unknown_unit,
    _bad_name,
    _misspelt_before,
    _comma_between_lines,
    _odd_word,
    _misspelt,
    _missing_value,
    _missing_glue,
)

"""Errors with marks: characters without a meaning, and braces that do not pair."""

from __future__ import annotations

import re

from feedscript.diagnostics import Diagnostic
from feedscript.language.parse.lexer import STRAY
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token
from feedscript.language.syntax_errors import pages
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding, whole
from feedscript.language.syntax_errors.repairs import CloseBraces, DropStatement, PassOver, ReadAs
from feedscript.language.words import ITEMS, in_words


def opens_item(token: Token) -> bool:
    """Whether this token can only begin an item of a program."""
    return token.type in ITEMS and token.type not in ("SEED", "KEEP", "BALLS", "LAUNCHER", "GROUP")


def odd_character(m: ErrorSite) -> Finding | None:
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
    if m.token.type not in (STRAY, "LPAR", "RPAR"):
        return None
    bracket = _bracket_for_brace(m)
    if bracket is not None:
        return bracket
    if m.token.type != STRAY:
        return None
    run = re.match(r"(.)\1*", rest, re.DOTALL)
    end = m.start + (run.end() if run else 1)
    character = m.token[:1]
    shown = f"`{character}`" if character.isprintable() else f"the character U+{ord(character):04X}"
    return Finding(
        m.report(pages.STRAY, f"{shown} has no meaning here", _stray_help(character), end=end),
        PassOver(end),
    )


def _bracket_for_brace(m: ErrorSite) -> Finding | None:
    """``lesson ( … )`` or ``repeat 2 [ … ]``: other brackets where braces belong."""
    if m.token in ("(", "[") and m.stack.takes("LBRACE"):
        m.split_names.add((str(m.token), ""))
        before = f"`{m.before} {m.token}`" if m.before is not None else f"`{m.token}`"
        message = f"{before} opens no block"
        report = m.report(pages.STRAY, message, "blocks stand in braces: { … }")
        return Finding(report, ReadAs("LBRACE", "{", m.end))
    opening = {")": "(", "]": "["}.get(str(m.token))
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


def end_of_text(m: ErrorSite) -> Finding | None:
    if m.token.type != END:
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


def _unclosed(m: ErrorSite, brace: Token) -> Diagnostic:
    head = m.stack.block_head()
    at = brace.start_pos
    what = (
        f"the `{{` of `{head}`" if head is not None and head.start_pos is not None else "this `{`"
    )
    where = "before the program ends" if m.token.type == END else f"before `{m.token}`"
    line, _ = m.source.place(at)
    return m.report(
        pages.UNCLOSED_BRACE,
        f"{what} on line {line} is not closed {where}",
        "put a `}` where the block ends",
        start=at,
        end=at + 1,
    )


def closing_brace(m: ErrorSite) -> Finding | None:
    if m.token.type != "RBRACE" or m.stack.depth() > 0:
        return None
    if not m.stack.takes(END):  # a half-read statement comes first
        return None
    return Finding(
        m.report(pages.EXTRA_BRACE, "this `}` closes nothing", "take it out, or put the `{` in"),
        PassOver(m.end),
    )


def nameless_block(m: ErrorSite) -> Finding | None:
    """``{`` where no block can begin: its word is missing, and with it what the block is."""
    if m.token.type != "LBRACE" or not whole(m.stack) or m.stack.takes("WITH", "LBRACE"):
        return None
    message = "no word before this `{` says what the block is"
    help_text = "write its word, such as `feed deep`, `lesson` or `repeat 4`"
    report = m.report(pages.MISSING_WORD, message, help_text)
    return Finding(report, PassOver(_end_of_item(m)))


def item_in_block(m: ErrorSite) -> Finding | None:
    depth = m.stack.depth()
    before = m.before
    begins = m.source.first_on_line(m.start) or (before and before.type in ("LBRACE", "RBRACE"))
    opens = opens_item(m.token) or (m.token.type in ITEMS and m.source.first_on_line(m.start))
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
    if m.stack.values() and not whole(m.stack):
        return None
    message = f"`{m.token}` cannot stand inside `{m.stack.block_head()}`"
    report = m.report(
        pages.MISPLACED, message, "move it out of the block, to the top of the program"
    )
    return Finding(report, PassOver(_end_of_item(m)))


def _end_of_item(m: ErrorSite) -> int:
    """Where the item at the wrong token ends: behind its block, or at the end of its line."""
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

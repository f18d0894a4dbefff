"""Errors with words: misspelt ones, names that cannot be names, units that nobody knows."""

from __future__ import annotations

import re

from feedscript.language.parse.lexer import STRAY
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token
from feedscript.language.syntax_errors import pages
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding, whole
from feedscript.language.syntax_errors.repairs import (
    DropStatement,
    PassOver,
    PutIn,
    ReadAs,
    ReadPreviousAs,
    TakeBack,
)
from feedscript.language.words import (
    PLACE_WORDS,
    in_words,
    is_keyword,
    kind_of,
    nearest_keyword,
    spelling,
)
from feedscript.nearest import nearest


def unknown_unit(m: ErrorSite) -> Finding | None:
    before = m.before
    if before is None or before.type != "NUMBER" or m.token.type not in ("NAME", STRAY):
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


def bad_name(m: ErrorSite) -> Finding | None:
    before = m.before
    if before is None:
        return None
    if m.token.type == "NAME" and before.type == "NAME":
        return _split_name(m, before)
    naming = before.type in ("FEED", "PATTERN", "LET", "AS") or _names_parameter(m)
    naming = naming and m.stack.takes("NAME")
    if not naming or m.token.type == END or not m.same_line():
        return None
    word = re.match(r"[^\s{}(),;:=#]+", m.text[m.start :])
    if word is None:
        return None
    end = m.start + len(word[0])
    name = f"the_{word[0]}" if word[0][0].isdigit() else f"my_{word[0]}"
    if is_keyword(m.token.type):
        message = f"`{word[0]}` is a word of the language and cannot be a name"
        name = f"{word[0].lower()}_1"
    elif m.token.type in ("STRING", "BAD_STRING"):
        message = "a name stands without quotation marks"
        name = re.sub(r"\W+", "_", word[0]).strip("_") or "my_feed"
    else:
        message = f"`{word[0]}` cannot be a name: a name begins with a letter"
    report = m.report(pages.BAD_NAME, message, f"choose another, such as `{name}`", end=end)
    return Finding(report, ReadAs("NAME", word[0], end))


def _names_parameter(m: ErrorSite) -> bool:
    """Whether the token stands where a parameter is named, before its `:` or `=`."""
    before = m.before
    listed = before is not None and before.type in ("LPAR", "COMMA")
    return listed and re.match(r"\s*[:=]", m.text[m.end :]) is not None


def _split_name(m: ErrorSite, before: Token) -> Finding | None:
    if not m.same_line():
        return None
    kind = kind_of(m.token)
    if kind is not None and m.stack.takes("LBRACE", kind):
        return None  # no second word but a line of the block, whose brace is missing
    pair = (str(before), str(m.token))
    if pair in m.split_names:
        return Finding(None, PassOver(m.end))
    earlier = m.seen[-2].type if len(m.seen) > 1 else ""
    if earlier not in ("FEED", "PATTERN", "LET"):
        return None
    m.split_names.add(pair)
    start, joined = before.start_pos, f"{before}_{m.token}"
    message = f"`{before} {m.token}` is two words, and a name is one"
    report = m.report(
        pages.BAD_NAME, message, f"write `{joined}`, here and where it is used", start=start
    )
    return Finding(report, PassOver(m.end))


def odd_word(m: ErrorSite) -> Finding | None:
    """A word that a later stage knows better: a place or a spin that nobody knows."""
    if m.token.type != "NAME" or not m.same_line():
        return None
    before = m.before
    if nearest_keyword(m.token, m.stack.expected()) is not None:
        return None
    if m.stack.takes("SPIN_WORD"):
        return Finding(None, ReadAs("SPIN_WORD", str(m.token), m.end))
    if not m.stack.takes("PLACE_WORD"):
        return None
    # Behind a place that is whole, a word like no other of the court begins the next line.
    open_end = before is None or before.lower() in _LEADS_ON
    if not open_end and whole(m.stack) and not _likely_place_word(m):
        return None
    return Finding(None, ReadAs("PLACE_WORD", str(m.token), m.end))


def comma_between_lines(m: ErrorSite) -> Finding | None:
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


def _likely_place_word(m: ErrorSite) -> bool:
    """Whether an unknown word resembles one of the court and does not begin a line of its own."""
    if nearest(m.token, PLACE_WORDS) is None:
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


def misspelt_before(m: ErrorSite) -> Finding | None:
    """``sned deep after 4 s``: the word before was taken for a name."""
    before = m.before
    if before is None or before.type != "NAME" or m.token.type in ("LPAR", "DOT"):
        return None
    begun = m.stack.begun()
    if begun is not before:
        return None
    level = m.stack.at_level()
    kinds = [kind for kind in level.expected() if level.takes(kind, m.token.type)]
    kind = nearest_keyword(before, kinds) or nearest_keyword(before, level.expected())
    page, what = pages.unknown_here(m.stack.block())
    start, end = before.start_pos, before.end_pos
    if kind is None and len(m.seen) > 2 and m.seen[-3].type in ("SEND", "MIRROR"):
        if nearest_keyword(before, ["AFTER"]) is not None:
            message = f"`{before}` is not understood here"
            asks = "did you mean `after`?"
            told = m.report(pages.UNEXPECTED, message, asks, start=start, end=end)
            return Finding(told, DropStatement())
        message = f"between `{m.seen[-2]}` and `{before}` an `after` is missing"
        help_text = f"write `{m.seen[-2]} after {before}`"
        report = m.report(pages.MISSING_WORD, message, help_text, start=start, end=end)
        return Finding(report, DropStatement())
    if kind is None and re.search(rf"\bpattern\s+{re.escape(before)}\b", m.text):
        message = f"the pattern `{before}` is called without brackets"
        report = m.report(pages.MISSING_WORD, message, f"write `{before}()`", start=start, end=end)
        return Finding(report, PutIn("LPAR", "("))
    message = f"`{before}` is no {what}"
    if kind is None:
        known = in_words(filter(is_keyword, level.expected()), 20)
        help_text = pages.known_here(m.stack.block(), known)
        return Finding(m.report(page, message, help_text, start=start, end=end), DropStatement())
    report = m.report(page, message, f"did you mean `{spelling(kind)}`?", start=start, end=end)
    return Finding(report, ReadPreviousAs(kind))


def misspelt(m: ErrorSite) -> Finding | None:
    """A word in the place of a fixed word that it resembles."""
    if m.token.type != "NAME" and not is_keyword(m.token.type):
        return None
    at_start = not m.stack.values()
    expected = m.stack.expected()
    kind = nearest_keyword(m.token, expected) if m.token.type == "NAME" or at_start else None
    page, what = pages.unknown_here(m.stack.block())
    begins = at_start or m.source.first_on_line(m.start) or (kind is None and whole(m.stack))
    if begins and not at_start:
        level = m.stack.at_level()
        if not whole(m.stack):
            return None
        kind = nearest_keyword(m.token, level.expected()) or nearest_keyword(m.token, expected)
        expected = level.expected()
    if kind is not None:
        begins = begins or m.stack.at_level().takes(kind)
        message = f"`{m.token}` is no {what}" if begins else f"`{m.token}` is not understood here"
        page = page if begins else pages.UNEXPECTED
        report = m.report(page, message, f"did you mean `{spelling(kind)}`?")
        return Finding(report, ReadAs(kind, spelling(kind) or "", m.end))
    if not begins:
        return None
    message = f"`{m.token}` is no {what}"
    known = in_words(filter(is_keyword, expected), 20)
    help_text = pages.known_here(m.stack.block(), known, m.token.type)
    return Finding(m.report(page, message, help_text), DropStatement())

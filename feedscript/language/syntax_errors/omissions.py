"""Errors of leaving out: a value, a mark, a small word; and whatever else does not fit."""

from __future__ import annotations

import re

from feedscript.language.parse.lexer import STRAY
from feedscript.language.parse.tables import END
from feedscript.language.syntax_errors import pages
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding, whole
from feedscript.language.syntax_errors.repairs import (
    CloseBraces,
    DropStatement,
    PassOver,
    PutIn,
    ReadAs,
    ReadPreviousAs,
    Repair,
    StartOver,
    TakeBack,
)
from feedscript.language.words import in_words, is_keyword, kind_of, spelling


def missing_value(m: ErrorSite) -> Finding | None:
    """``speed`` and then the next line: something had to come between."""
    before = m.before
    ends = (
        m.token.type in ("RBRACE", "LBRACE") or is_keyword(m.token.type) or m.token.type == "COMMA"
    )
    if before is None or not ends or not m.stack.values():
        return None
    if whole(m.stack) or (m.same_line() and m.token.type not in ("RBRACE", "COMMA", "LBRACE")):
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


#: Marks and small words that may be put in where they alone are missing, and behind which words
#: (behind any, where there are none).
_GLUE: dict[str, tuple[str, ...]] = {
    "COMMA": (),
    "LBRACE": (),
    "RPAR": (),
    "LPAR": (),
    "COLON": (),
    "EQUAL": (),
    "OF": (),
    "AFTER": (),
    "BY": ("NET",),
    "AND": (),
    "SPEED": ("SHOW",),
    "GROUP": ("ROTATE",),
    "EVERY": ("GROUP",),
    "EACH": ("FOR",),
    "PLAYER": ("EACH", "EVERY", "NO"),
    "OUT": ("KEEP",),
    "NET": ("CLEARS",),
    "HIGH": (),
    "THAN": ("LONGER", "MORE"),
    "BECAUSE": (),
    "LAST": ("OF",),
    "WITH": (),
    "MOST": ("AT",),
    "AT": (),
    "COMPARE": ("BALLS", "TIME", "FASTEST", "REST"),
}


def unquoted(m: ErrorSite) -> Finding | None:
    """``title Thursday juniors``: words for people without their quotation marks."""
    before = m.before
    if before is None or not m.same_line() or not m.stack.takes("STRING"):
        return None
    if m.token.type in ("BAD_STRING", "NUMBER", END, STRAY) or m.token in ("{", "}", "="):
        return None
    pattern = r"[^\s{}]+" if before.type in ("USE", "PROFILE") else r"[^{}\n#]+"
    words = re.match(pattern, m.text[m.start : m.start + 200])
    if words is None:
        return None
    if m.stack.takes("STRING", "COMMA"):
        return _unquoted_list(m, words[0])
    said = words[0].rstrip()
    end = m.start + len(said)
    message = f"`{said}` stands without quotation marks"
    report = m.report(pages.MISSING_WORD, message, f'write `{before} "{said}"`', end=end)
    return Finding(report, ReadAs("STRING", f'"{said}"', end))


def _unquoted_list(m: ErrorSite, words: str) -> Finding:
    """``players Ana, Ben``: marks around all of it would make one player of two."""
    begins = {*m.stack.at_level().expected()}
    for blank in re.finditer(r"(?<=[^\s,])\s+(\S+)", words):
        if kind_of(blank[1]) in begins:  # the block's next line, written on the same one
            words = words[: blank.start()]
            break
    said = words.rstrip(", \t")
    names = [one.strip().strip('"') for one in said.split(",")]
    in_marks = ", ".join(f'"{one}"' for one in names if one)
    before = "" if m.before is None or m.before.type == "COMMA" else f"{m.before} "
    message = f"`{said}` stands without quotation marks"
    end = m.start + len(said)
    report = m.report(pages.MISSING_WORD, message, f"write `{before}{in_marks}`", end=end)
    return Finding(report, ReadAs("STRING", in_marks, end))


def comma_at_end(m: ErrorSite) -> Finding | None:
    """``players "Ana", "Ben",`` and then the block's next line, or its end."""
    before = m.before
    if before is None or before.type != "COMMA" or not m.stack.values():
        return None
    kind = kind_of(m.token) or m.token.type
    if m.same_line() and m.token.type != "RBRACE":
        return None
    if not m.stack.at_level().takes(kind):
        return None
    at = before.start_pos
    message = "nothing comes after this comma"
    help_text = "leave it out, or write what comes after it"
    report = m.report(pages.UNEXPECTED, message, help_text, start=at, end=at + 1)
    return Finding(report, TakeBack(1))


def wait_for_whom(m: ErrorSite) -> Finding | None:
    """``wait 5 s``, or ``wait "…"``: only for the coach is waited."""
    before = m.before
    if before is None or before.type != "WAIT" or m.token.type == "FOR":
        return None
    message = "`wait` waits for the coach, without an end in time"
    start, end = before.start_pos, before.end_pos
    if m.token.type == "STRING":
        help_text = f"write `wait for coach {m.token}`"
        report = m.report(pages.MISSING_WORD, message, help_text, start=start)
        return Finding(report, DropStatement())
    help_text = "for a time without a ball write `rest 5 s`, to stop and talk `break 3 min`"
    if m.token.type == "NUMBER":
        written = re.match(r"[\d.]+\s*[^\W\d]*", m.text[m.start :])
        help_text = f"did you mean `rest {(written[0] if written else m.token).strip()}`?"
    report = m.report(pages.MISSING_WORD, message, help_text, start=start, end=end)
    return Finding(report, ReadPreviousAs("REST"))


def missing_choice(m: ErrorSite) -> Finding | None:
    """``surface altitude 640 m``: the next line's word was taken for this line's choice."""
    if len(m.seen) < 2 or m.seen[-1].type != "NAME" or not is_keyword(m.seen[-2].type):
        return None
    word, taken = m.seen[-2:]
    kind = kind_of(taken)
    level = m.stack.at_level()
    if m.stack.values() != [word, taken] or kind is None or not level.takes(kind):
        return None
    message = f"after `{word}` something is missing"
    help_text = pages.example_after(word, ["NAME"])
    at, end = word.start_pos, word.end_pos
    report = m.report(pages.MISSING_VALUE, message, help_text, start=at, end=end)
    return Finding(report, StartOver(2))


def missing_glue(m: ErrorSite) -> Finding | None:
    before = m.before
    if before is None or m.token.type in (END, STRAY) or not m.stack.values():
        return None
    come = {m.token.type, kind_of(m.token) or m.token.type}
    for kind, behind in _GLUE.items():
        if behind and before.type not in behind:
            continue
        if kind == "COMMA" and (not m.same_line() or m.token.type == "NAME"):
            continue
        if any(m.stack.takes(kind, one) for one in come):
            mark = "=" if kind in ("COMPARE", "EQUAL") else spelling(kind) or ""
            break
    else:
        return None
    start = before.start_pos
    if m.token.type == "RBRACE" and kind == "LBRACE":
        message = "this `}` closes nothing"
        return Finding(m.report(pages.EXTRA_BRACE, message, "put the `{` in"), PutIn(kind, mark))
    message = f"between `{before}` and `{m.token}` `{mark}` is missing"
    help_text = (
        f"write `{before} {mark} {m.token}`" if mark not in ",:)" else f"put the `{mark}` in"
    )
    if mark == ",":
        help_text = f"write `{before}, {m.token} …`"
    report = m.report(pages.MISSING_WORD, message, help_text, start=start)
    return Finding(report, PutIn(kind, mark))


def unexpected(m: ErrorSite) -> Finding:
    expected = m.stack.expected()
    wanted = in_words(expected)
    shown = str(m.token) if m.token.type != END else "the end"
    message = f"`{shown}` does not belong here"
    help_text = f"here may stand {wanted}" if wanted else "take it out"
    before = m.before
    if before is not None and m.same_line():
        message = f"`{shown}` does not belong after `{before}`"
    if before is not None and (m.token in (":", "=")) and is_keyword(before.type):
        help_text = f"leave it out: what belongs to `{before}` follows directly"
    elif m.token == "," and whole(m.stack):
        help_text = "leave it out: nothing stands between two statements"
    elif m.stack.takes("AT", "MOST"):
        help_text = "say how often at most: `until 5 in a row in, at most 20 { … }`"
    elif before is not None and before.type == "NAME" and expected == ["COLON"]:
        help_text = f"say its kind: `{before}: count` (or time, speed, feed …)"
    elif before is not None and m.stack.values() and not whole(m.stack):
        help_text = pages.example_after(before, []) or help_text
    repair: Repair = DropStatement()
    if m.token.type in ("SIGN", "TIMES", "COMMA", "DOT", "COLON", "EQUAL", "UNIT", "RPAR", "LPAR"):
        repair = PassOver(m.end)
    elif m.token.type == "RBRACE" and m.stack.depth():
        repair = CloseBraces(0)
    return Finding(m.report(pages.UNEXPECTED, message, help_text), repair)

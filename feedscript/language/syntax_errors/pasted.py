"""What comes along where a program was pasted from a message, and numbers written as on paper."""

from __future__ import annotations

import re

from feedscript.language.parse.lexer import STRAY
from feedscript.language.syntax_errors import pages
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding
from feedscript.language.syntax_errors.repairs import PassOver, ReadAs

#: Pairs of quotation marks that are in use somewhere and are none of the language: what opens, what
#: is said, what closes. Signs of feet, minutes and accents are written in their place too.
_OTHER_MARKS = re.compile(
    r"(?:['\u2018\u2019\u201a\u00b4`](?P<single>[^'\u2018\u2019\u00b4`\n]*)['\u2018\u2019\u00b4`]"
    r"|[\u00bb\u203a](?P<inward>[^\u00ab\u2039\n]*)[\u00ab\u2039]"
    r"|\u2039(?P<outward>[^\u203a\n]*)\u203a)"
)
_THOUSANDS = re.compile(r"(?:['\u2019.\u00b7]?\d{3})+(?![\w.,])")


def quoted_lines(m: ErrorSite) -> Finding | None:
    """``> feed deep {``: the lines of a message as its answer repeats them."""
    if not m.text.startswith(">", m.start) or not m.source.first_on_line(m.start):
        return None
    rest = re.compile(r"(?:>[ \t]*)+").match(m.text, m.start)
    way_on = PassOver(rest.end() if rest else m.end)
    if (">", "") in m.split_names:
        return Finding(None, way_on)  # said of the first, and meant of all
    m.split_names.add((">", ""))
    message = "the line begins with `>`, the sign of a message that is quoted"
    help_text = "take the `>` away at the beginning of every line"
    return Finding(m.report(pages.STRAY, message, help_text), way_on)


def fence(m: ErrorSite) -> Finding | None:
    """```` ```feedscript ````: what a message has around words that are shown as written."""
    found = re.compile(r"(?:```+|~~~+)[^\n]*").match(m.text, m.start)
    if found is None or not m.source.first_on_line(m.start):
        return None
    way_on = PassOver(found.end())
    if ("```", "") in m.split_names:
        return Finding(None, way_on)
    m.split_names.add(("```", ""))
    message = "this line belongs to the message around the program, not to the program"
    help_text = "leave it out, and the one like it at the end"
    return Finding(m.report(pages.STRAY, message, help_text, end=found.end()), way_on)


def other_quotation_marks(m: ErrorSite) -> Finding | None:
    """``'Ana'``, ``»Ana«``, ``‹Ana›``, ``‚Ana‘``."""
    found = _OTHER_MARKS.match(m.text, m.start)
    if found is None or m.token.type != STRAY or not m.stack.takes("STRING"):
        return None
    words = next(part for part in found.groups() if part is not None)
    kind = "other" if found["single"] is None else "single"
    message = f"{found[0]} is in {kind} quotation marks"
    report = m.report(pages.STRAY, message, f'write `"{words}"`', end=found.end())
    return Finding(report, ReadAs("STRING", f'"{words}"', found.end()))


def grouped_thousands(m: ErrorSite) -> Finding | None:
    """``1 200 rpm`` and ``1'200 rpm``."""
    before = m.before
    if before is None or before.type != "NUMBER" or not re.fullmatch(r"[1-9]\d{0,2}", before):
        return None
    found = _THOUSANDS.match(m.text, m.start)
    gap = m.text[before.end_pos : m.start]
    if found is None or "\n" in gap or (m.token.type == STRAY) == bool(gap):
        return None
    start, end = before.start_pos, found.end()
    digits = re.sub(r"\D", "", m.text[start:end])
    message = f"`{m.text[start:end]}` is not one number: thousands have no mark and no blank"
    page = pages.UNEXPECTED if gap else pages.STRAY
    report = m.report(page, message, f"write `{digits}`", start=start, end=end)
    return Finding(report, PassOver(end))


PASTED = (quoted_lines, fence, other_quotation_marks, grouped_thousands)

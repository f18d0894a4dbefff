"""The grammar as a reader wants it: EBNF (ISO/IEC 14977) and the pages, made from the sources.

``python -m feedscript.language.tools.ebnf`` writes both into the reference.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from feedscript.language.tools.parser_tables import grammar_text

REFERENCE = Path(__file__).parent.parent / "README.md"
BEGIN, END = "<!-- grammar: generated, do not edit -->", "<!-- end of the grammar -->"

_SECTION = re.compile(r"^// --- (.*)$")
_TOKEN = re.compile(r'\s*("(?:[^"\\]|\\.)*"|->\s*\w+|[()|]|[?*+]|\??[a-zA-Z_]\w*)')

#: What the tokens with many spellings look like, said in words.
_TOKENS = {
    "NUMBER": '"2", "2.5", ".5" or "1e3"',
    "NAME": 'a letter, then letters, figures and "_", also "-" before a letter; '
    "no word that begins a statement",
    "STRING": "words between quotation marks, straight or curly, on one line",
    "UNIT": "one of the units of section 2",
    "PLACE_WORD": "a word of section 4",
    "SPIN_WORD": '"top", "back", "side", "ad" or "deuce"',
    "COMPARE": '"<=", ">=", "<", ">" or "="',
    "IN_A_ROW": '"in a row"',
    "IN_TARGET": '"in target"',
    "BY_LEVEL": '"by level"',
    "WHEN_COACH_TAPS": '"when coach taps"',
    "COLLECT_BETWEEN": '"collect between"',
    "DATE": '"2027-01-11", year, month and day',
    "CLOCK": '"17:00", with 24 hours',
    "STEP_UP": '"step up"',
    "STEP_DOWN": '"step down"',
    "SIGN": '"+" or "-"',
    "TIMES": '"*" or "/"',
}
_WIDTH = 96
_LEFT_OUT = {"BAD_NUMBER", "BAD_STRING", "SPACE", "COMMENT"}


def grammar() -> str:
    """The whole grammar as EBNF."""
    out: list[str] = []
    for title, rules in _sections(grammar_text()):
        if rules:
            out += ["", f"(* {title} *)", "", *rules]
    out += ["", "(* tokens *)", ""]
    out += [f"{name} = ? {said} ? ;" for name, said in _TOKENS.items()]
    return "\n".join(out).strip() + "\n"


def _sections(text: str) -> Iterator[tuple[str, list[str]]]:
    title, rules, current = "a program", [], ""
    for line in [*text.split("\n"), "x:"]:
        heading = _SECTION.match(line)
        if current and (re.match(r"\??[a-z_]+:", line) or heading or line.startswith("//")):
            rules.append(_rule(current))
            current = ""
        if heading:
            yield title, rules
            title, rules = heading[1], []
        if line.startswith("//") or not line.strip() or title == "tokens":
            continue
        current += " " + line.strip()
    yield title, rules if title != "tokens" else []


def _rule(text: str) -> str:
    name, _, body = text.strip().partition(":")
    ways = _Body(body).ways()
    shown = f"{name.lstrip('?')} = {' | '.join(ways)} ;"
    if len(shown) > _WIDTH:
        shown = f"{name.lstrip('?')} =\n    " + "\n  | ".join(ways) + " ;"
    return shown


class _Body:
    """One rule's body on its way from lark's notation to EBNF."""

    def __init__(self, text: str) -> None:
        self.tokens = [m[1] for m in _TOKEN.finditer(text) if not m[1].startswith("->")]
        self.at = 0

    def ways(self) -> list[str]:
        """The alternatives, each in EBNF."""
        ways = [self._sequence()]
        while self._peek() == "|":
            self.at += 1
            ways.append(self._sequence())
        return [way for way in ways if way]

    def _peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def _sequence(self) -> str:
        parts = []
        while self._peek() not in ("", "|", ")"):
            part = self._part()
            if part:
                parts.append(part)
        return ", ".join(parts)

    def _part(self) -> str:
        token = self._peek()
        self.at += 1
        if token == "(":
            inner, single = " | ".join(self.ways()), False
            self.at += 1  # its closing bracket
        else:
            inner, single = "" if token in _LEFT_OUT else token, True
        sign = self._peek()
        if sign in ("?", "*", "+"):
            self.at += 1
        if not inner:
            return ""
        if sign == "?":
            return f"[ {inner} ]"
        if sign == "*":
            return f"{{ {inner} }}"
        if sign == "+":
            return f"{inner}, {{ {inner} }}" if single else f"( {inner} ), {{ {inner} }}"
        return inner if single else f"( {inner} )"


def with_grammar(reference: str) -> str:
    """The reference with the grammar of today in its place."""
    before, _, rest = reference.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n```ebnf\n{grammar()}```\n{END}{after}"


if __name__ == "__main__":
    REFERENCE.write_text(with_grammar(REFERENCE.read_text(encoding="utf-8")), encoding="utf-8")

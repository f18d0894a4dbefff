"""``suits { … }``: what a program is found by when a coach looks for one."""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.declarations import LEVELS, STAGES, Declarations, Lines
from feedscript.language.resolve.idle_facts import IDLE_FACT
from feedscript.language.resolve.properties import choice, gather, once, text_of
from feedscript.language.resolve.value_pages import OUT_OF_RANGE

#: Children by the colour of their ball, then everybody by how well they play.
WHO = (*STAGES, *LEVELS)
MOST_PLAYERS = 64


def read_suits(declared: Declarations, block: t.Declaration) -> p.SuitsDecl:
    """The block's facts; a block that says nothing is reported."""
    scope = declared.scope
    lines = gather(scope, block.properties)
    if not block.properties and not scope.damaged(block):
        help_text = 'write `suits { theme "depth"  stage club  players 2 to 6 }`, or take it out'
        scope.report(
            IDLE_FACT, block.word, "this says nothing of what the program suits", help_text
        )
    return p.SuitsDecl(
        themes=_texts(declared, lines, "theme"),
        stages=_stages(declared, lines),
        players=_players(declared, lines),
        needs=_texts(declared, lines, "needs"),
        span=scope.span(block),
    )


def _texts(declared: Declarations, lines: Lines, key: str) -> tuple[str, ...]:
    found: dict[str, t.Text] = {}
    for text in lines[key][0].parts if lines.get(key) else ():
        words = " ".join(text_of(text).split())
        if not words:
            message = f"`{key}` is followed by words between the quotation marks"
            declared.scope.report(IDLE_FACT, text, message, f'write `{key} "{_EXAMPLE[key]}"`')
        elif words.lower() in found:
            once(declared.scope, text, declared.scope.span(found[words.lower()]), f'"{words}"')
        found.setdefault(words.lower(), text)
    return tuple(" ".join(text_of(text).split()) for key, text in found.items() if key)


_EXAMPLE = {"theme": "depth", "needs": "cones"}


def _stages(declared: Declarations, lines: Lines) -> tuple[str, ...]:
    """Every stage and level that is meant, in their order."""
    meant: set[str] = set()
    for low, high in _spans(lines["stage"][0].parts if lines.get("stage") else ()):
        first = choice(declared.scope, low, WHO, "stage or level")
        last = first if high is None else choice(declared.scope, high, WHO, "stage or level")
        if first is None or last is None:
            continue
        if WHO.index(last) < WHO.index(first):
            message = f"`{low} to {high}` goes backwards"
            declared.scope.report(OUT_OF_RANGE, low, message, f"write `{high} to {low}`")
        elif first in STAGES and last in LEVELS:
            meant.update(STAGES[STAGES.index(first) :], LEVELS[: LEVELS.index(last) + 1])
        else:
            meant.update(WHO[WHO.index(first) : WHO.index(last) + 1])
    return tuple(word for word in WHO if word in meant)


def _spans(parts: tuple[Token, ...]) -> Iterator[tuple[Token, Token | None]]:
    """``green, improver to club`` as (green, None), (improver, club)."""
    words = list(parts)
    while words:
        low = words.pop(0)
        if words and words[0].type == "TO":
            yield low, words[1]
            del words[:2]
        else:
            yield low, None


def _players(declared: Declarations, lines: Lines) -> tuple[int, int] | None:
    if not lines.get("players"):
        return None
    line = lines["players"][0]
    evaluator, what = declared.evaluator, "a number of players"
    numbers = [part for part in line.parts if isinstance(part, t.Number)]
    low, *more = (
        evaluator.whole_of(one, evaluator.number(one), 1, MOST_PLAYERS, what) for one in numbers
    )
    high = more[0] if more else low
    if low is None or high is None:
        return None
    if high < low:
        message = f"{low} to {high} players goes backwards"
        declared.scope.report(OUT_OF_RANGE, line, message, f"write `players {high} to {low}`")
    return low, high

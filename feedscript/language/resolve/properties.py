"""The lines of a block: each at most once, and words from a fixed choice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from feedscript.diagnostics import Page, Related, Span
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.scope import Scope
from feedscript.language.words import listed
from feedscript.nearest import nearest

SAID_TWICE = Page(
    slug="said-twice",
    title="Said twice",
    why="""A block says each thing once, and a program has one lesson, one court and one title. The
second would overrule the first in silence, so it is refused.""",
    wrong=program(
        feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h  speed 80 km/h }"
    ),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }"),
)

UNKNOWN_CHOICE = Page(
    slug="unknown-choice",
    title="A word that is not among the choices",
    why="""Some lines take one word out of a few: a surface is hard, clay, grass or carpet, a stage
is red, orange, green or yellow.""",
    wrong=program(
        head='feedscript 1\ntitle "x"\ncourt { surface caly }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
    corrected=program(
        head='feedscript 1\ntitle "x"\ncourt { surface clay }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
)

#: Spellings of the same line.
_ALIASES = {
    "neighbours": "neighbour",
    "neighbor": "neighbour",
    "neighbors": "neighbour",
    "player": "players",
    "ages": "age",
    "themes": "theme",
}


def key_of(line: t.Property) -> str:
    """What a line speaks of, in one spelling."""
    word = str(line.word).lower()
    return _ALIASES.get(word, word)


def gather(
    scope: Scope, lines: Iterable[t.Property], several: frozenset[str] = frozenset()
) -> dict[str, list[t.Property]]:
    """The lines by what they speak of; all but ``several`` may come once (reported)."""
    found: dict[str, list[t.Property]] = {}
    for line in lines:
        key = key_of(line)
        earlier = found.setdefault(key, [])
        if earlier and key not in several:
            once(scope, line.word, scope.span(earlier[0].word), f"`{line.word}`")
            continue
        earlier.append(line)
    return found


def once(scope: Scope, again: Token | t.SyntaxNode, first: Span, what: str) -> None:
    """Report that something is said a second time."""
    scope.report(
        SAID_TWICE,
        again,
        f"{what} is said twice",
        "keep one of the two",
        (Related(first, "said first here"),),
    )


def spans_of(scope: Scope, found: Mapping[str, list[t.Property]]) -> dict[str, Span]:
    """The place of each line, by what it speaks of."""
    return {key: scope.span(lines[0]) for key, lines in found.items() if lines}


#: Words that a writer may bring along, and the choice that is meant.
_MEANT = {
    "slice": "back",
    "underspin": "back",
    "kick": "top",
    "concrete": "hard",
    "cement": "hard",
    "asphalt": "hard",
    "acrylic": "hard",
    "sand": "clay",
    "indoor": "carpet",
    "number": "count",
    "integer": "count",
    "distance": "length",
    "duration": "time",
    "lob": "high",
    "adult": "yellow",
    "english": "en",
    "german": "de",
    "deutsch": "de",
    "french": "fr",
    "français": "fr",
    "spanish": "es",
    "español": "es",
}


def choice(scope: Scope, word: Token, choices: Iterable[str], what: str) -> str | None:
    """The word if it is among the choices; None where it is not (reported)."""
    choices = tuple(choices)
    low = " ".join(str(word).lower().replace("-", " ").split())
    if low in choices:
        return low
    near = _MEANT.get(low)
    if near not in choices:
        near = nearest(low, choices)
    scope.report(
        UNKNOWN_CHOICE,
        word,
        f"`{word}` is no {what}",
        f"did you mean `{near}`?" if near else f"write {listed(f'`{c}`' for c in choices)}",
    )
    return None


def text_of(text: t.Text) -> str:
    """The words between the quotation marks, with their escapes read."""
    inner = text.raw[1:-1] if text.closed else text.raw[1:]
    out: list[str] = []
    escaped = False
    for character in inner:
        if escaped or character != "\\":
            out.append(character)
            escaped = False
        else:
            escaped = True
    return "".join(out)

"""Programs in colour wherever Pygments is: manuals, notebooks, ``pygmentize``.

Made of the colouring that the editors' extension has, so of the grammar.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

from pygments.lexer import RegexLexer
from pygments.token import Comment, Keyword, Name, Number, Punctuation, String, Text

from feedscript.editor.extension.generate import FILE

#: What Pygments calls a scope of the colouring, by the scope's beginning.
TOKENS: dict[str, Any] = {
    "comment.": Comment,
    "string.": String,
    "constant.numeric.": Number,
    "keyword.other.unit.": Keyword.Type,
    "keyword.control.": Keyword,
    "entity.name.function.": Name.Function,
    "support.type.": Name.Attribute,
    "support.constant.": Name.Constant,
}
_Piece = tuple[int, Any, str]


def _rules() -> list[tuple[str, Any]]:
    patterns = json.loads(FILE.read_text(encoding="utf-8"))["patterns"]
    rest = [(r"[^\W\d][\w-]*", Name), (r"[{}()\[\],:=<>+*/%-]", Punctuation), (r"\s+|.", Text)]
    return [_rule(one) for one in patterns] + rest


def _rule(pattern: dict[str, Any]) -> tuple[str, Any]:
    if "begin" in pattern:
        return rf"{pattern['begin']}(?:\\.|(?!{pattern['end']}).)*(?:{pattern['end']})", String
    # Pygments reads flags for all rules alike: a rule's own stands for its group alone.
    written = re.sub(r"^\(\?i\)(.*)$", r"(?i:\1)", pattern["match"])
    if "captures" in pattern:
        return written, _captured(pattern["captures"])
    return written, _token(pattern["name"])


def _token(scope: str) -> Any:
    return next(token for beginning, token in TOKENS.items() if scope.startswith(beginning))


def _captured(captures: dict[str, Any]) -> Callable[..., Iterator[_Piece]]:
    groups = [(int(number), _token(one["name"])) for number, one in captures.items()]

    def pieces(_lexer: Any, match: re.Match[str], _context: Any = None) -> Iterator[_Piece]:
        at = match.start()
        for number, token in groups:
            if match[number]:
                if at < match.start(number):
                    yield at, Text, match.string[at : match.start(number)]
                yield match.start(number), token, match[number]
                at = match.end(number)
        if at < match.end():
            yield at, Text, match.string[at : match.end()]

    return pieces


class FeedscriptLexer(RegexLexer):  # type: ignore[misc]  # Pygments has no types
    """Feedscript, for Pygments."""

    name = "feedscript"
    aliases = ("feedscript",)
    filenames = ("*.feed", "*.season")
    flags = re.MULTILINE
    tokens = {"root": _rules()}  # noqa: RUF012 - as Pygments takes it

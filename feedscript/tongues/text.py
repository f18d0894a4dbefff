"""Words of the program's own, marked so that they can be told in another language.

A :class:`Text` is the English words, so that it goes wherever words go, and it remembers what it is
made of. It is told in a language where it leaves the program (``tongue.Tongue``): two screens may
show the same lesson in two languages. Joined to other words by ``+`` or in an f-string it is plain
English again; ``joined`` keeps it. Babel finds the words by the names of these functions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

#: Between a context and the words, as gettext has it in its files.
CONTEXT_ENDS = "\x04"


class Made(NamedTuple):
    """What a text is made of: by ``key`` it stands in a catalogue ("" where it does not: then only
    its parts are told), and ``n`` chooses its form where there are several. ``language``: the one
    in which it is told wherever it is; "" where the screen's is meant."""

    key: str
    n: int | None
    parts: Mapping[str, Any]
    words: str
    language: str = ""


class Text(str):
    """English words that can be told in another language."""

    made: Made


def _text(key: str, words: str, n: int | None, parts: Mapping[str, Any]) -> Text:
    text = Text(words.format_map(parts))
    text.made = Made(key, n, parts, words)
    return text


def _(words: str, /, **parts: Any) -> Text:
    """Words with their parts in braces: ``_("{name} joins", name=name)``."""
    return _text(words, words, None, parts)


def p_(where: str, words: str, /, **parts: Any) -> Text:
    """The same, where English has one word for what other languages tell apart."""
    return _text(where + CONTEXT_ENDS + words, words, None, parts)


def n_(one: str, more: str, n: int, /, **parts: Any) -> Text:
    """The same for so many, ``{n}``: ``n_("{n} ball", "{n} balls", count)``."""
    return _text(one, one if n == 1 else more, n, {"n": n, **parts})


def figure(value: float, digits: int, unit: str = "") -> Text:
    """A number with so many decimals, before which a language puts its own mark, and its unit."""
    return _text("", f"{{value:.{digits}f}}{{unit}}", None, {"value": value, "unit": unit})


def in_language(language: str, text: str) -> str:
    """The same text, told in this language on every screen; as it is for ""."""
    if not language or not isinstance(text, Text):
        return text
    own = Text(text)
    own.made = text.made._replace(language=language)
    return own


def joined(mark: str, texts: Iterable[str]) -> Text:
    """Texts one after another; those that are empty are left out."""
    parts = {f"p{number}": text for number, text in enumerate(filter(None, texts))}
    return _text("", mark.join(f"{{{name}}}" for name in parts), None, parts)


def listed(names: Iterable[str]) -> str:
    """Names as a person lists them; "" for none."""
    *most, last = [*names] or [""]
    return _("{most} and {last}", most=joined(", ", most), last=last) if most else last


def plain(value: object) -> str:
    """The English words alone: for msgspec's ``enc_hook``, which knows strings only."""
    if isinstance(value, str):
        return str(value)
    raise NotImplementedError(f"{type(value).__name__} is no text")

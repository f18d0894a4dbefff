"""Two texts of the library beside each other: their words, what is proven of each, and pictures."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import SequenceMatcher
from typing import Any

import msgspec

from feedscript.club.library.look import Bounds, Looks
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: Longer texts are not laid line by line beside each other: it takes as long as the square of it.
MOST_LINES = 5_000


class Line(msgspec.Struct, frozen=True):
    """A line of either text: ``-`` in the first alone, ``+`` in the second alone, else both."""

    mark: str
    text: str


class Differs(msgspec.Struct, frozen=True):
    """A number of a launcher's profile, by its key, in each of two; None where there is none."""

    key: str
    one: Any
    other: Any


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """The differences; a text that passes the check no more has neither bounds nor picture."""

    words: tuple[Line, ...]
    bounds: tuple[Bounds | None, Bounds | None]
    numbers: tuple[Differs, ...]
    pictures: tuple[str, str]  # SVG, or empty


def compare(
    looks: Looks, one: tuple[str, bytes], other: tuple[str, bytes], tongue: Tongue = IN_ENGLISH
) -> Compared:
    """Both, each by its name and content. Takes seconds: not for an event loop."""
    first, second = looks.at(*one, tongue), looks.at(*other, tongue)
    return Compared(
        words=tuple(_lines(one[1].decode(), other[1].decode())),
        bounds=(first.bounds, second.bounds),
        numbers=tuple(_numbers(first.numbers, second.numbers)),
        pictures=(first.picture, second.picture),
    )


def _lines(one: str, other: str) -> Iterator[Line]:
    old, new = one.splitlines(), other.splitlines()
    if max(len(old), len(new)) > MOST_LINES:
        yield from (Line("-", text) for text in old)
        yield from (Line("+", text) for text in new)
        return
    for what, i, i_end, j, j_end in SequenceMatcher(None, old, new).get_opcodes():
        if what == "equal":
            yield from (Line(" ", text) for text in old[i:i_end])
            continue
        yield from (Line("-", text) for text in old[i:i_end])
        yield from (Line("+", text) for text in new[j:j_end])


def _numbers(one: dict[str, Any], other: dict[str, Any]) -> Iterator[Differs]:
    for key in dict.fromkeys((*one, *other)):
        if one.get(key) != other.get(key):
            yield Differs(key, one.get(key), other.get(key))

"""Something of the picture put elsewhere: the change of the words that means it.

Only the words of that one place change, and of them only the part that moved; it stays measured
from the line it was measured from. What a place rests on besides its own words (a value by a name,
another feed, another file) is said, and where there are two ways to have it, both are offered.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.editor.area_moves import AREAS, moved_area
from feedscript.editor.document import Document
from feedscript.editor.place_words import Spot, choices, said_anew
from feedscript.editor.wanted import Moved, Thing, Wanted
from feedscript.language.parse import tree as t
from feedscript.language.resolve.places import is_relative
from feedscript.language.resolve.properties import text_of


def moved(document: Document, wanted: Wanted) -> Moved:
    """How the words change so that the thing lies where it is wanted. Never raises."""
    program = document.verdict.program
    if program is None:
        return Moved(refused="mend the words first: as they are, nobody knows what they mean")
    court = COURTS[program.court.lines]
    if wanted.thing in AREAS:
        return moved_area(document, court, wanted)
    found = _spot(document, wanted)
    if isinstance(found, str):
        return Moved(refused=found)
    _, y_m = wanted.to_m
    if y_m * found.end.y_sign < 0.05:
        side = "receiver's" if found.end is End.RECEIVER else "launcher's"
        return Moved(refused=f"its place is on the {side} side of the net")
    said = said_anew(court, found, wanted.to_m, from_m=wanted.from_m, snapped=wanted.snapped)
    return Moved(tuple(choices(document, [said])), asks="Its distance is written by a name.")


# --- where the words of a thing's place stand


def _spot(document: Document, wanted: Wanted) -> Spot | str:
    if wanted.thing in (Thing.LANDING, Thing.WAITS):
        return _of_feed(document, wanted)
    if wanted.thing is Thing.RECEIVER:
        return _of_block(document, "group", "", "receiver", End.RECEIVER)
    if wanted.thing is Thing.LAUNCHER:
        return _of_block(document, "launcher", wanted.name, "stands", End.LAUNCHER)
    if wanted.thing is Thing.PLAYER:
        return _of_player(document, wanted.name)
    return f"nobody knows how to move a {wanted.thing}"


def _of_feed(document: Document, wanted: Wanted) -> Spot | str:
    name, mirrored, note = written_feed(wanted.name)
    feed = document.scope.defined(t.Feed).get(name)
    if feed is None:
        return f"`{name}` is written in another file: copy it here to change it"
    word = "land" if wanted.thing is Thing.LANDING else "receiver"
    own = _property(feed.properties, word)
    hands = _hands(document, feed, word)
    if own is not None:
        return Spot(own.parts[0], hands=hands, mirrored=mirrored, note=note)
    return _put_into(document, feed, word, Spot(None, hands=hands, mirrored=mirrored, note=note))


def written_feed(name: str) -> tuple[str, bool, str]:
    """The feed whose words decide, whether it is mirrored, and what to say of that."""
    plain = name.removesuffix(" (left-hander)")
    mirrored = plain != name
    while plain.startswith("mirror "):
        plain, mirrored = plain.removeprefix("mirror "), not mirrored
    note = "" if plain == name else f"this moves {plain}, of which it is the mirror"
    return plain, mirrored, note


def _hands(document: Document, feed: t.Feed, word: str) -> bool:
    """Whether the feed's place is said by the player's hands: its own, or its base's."""
    feeds = document.scope.defined(t.Feed)
    seen: set[str] = set()
    while str(feed.name) not in seen:
        seen.add(str(feed.name))
        own = _property(feed.properties, word)
        if own is not None:
            return is_relative(own.parts[0])
        base = feed.base
        name = base.name.text if isinstance(base, t.Mirrored) else base.text if base else ""
        if name not in feeds:
            return False
        feed = feeds[name]
    return False


def _put_into(document: Document, feed: t.Feed, word: str, spot: Spot) -> Spot:
    """A line of the feed's own: first in its block, or in a block that is made for it."""
    text = document.text
    brace = text.find("{", feed.name.end_pos, feed.end)
    if brace < 0:
        at = len(text[: feed.end].rstrip())
        return msgspec.structs.replace(spot, put_in_at=at, before=f" with {{ {word} ", after=" }")
    follows = text[brace + 1 : feed.end]
    if follows.lstrip(" \t").startswith("\n"):
        return msgspec.structs.replace(spot, put_in_at=brace + 1, before=f"\n    {word} ")
    return msgspec.structs.replace(spot, put_in_at=brace + 1, before=f" {word} ", after=" ")


def _declared(document: Document, word: str, name: str) -> t.Declaration | None:
    for one in document.scope.items(t.Declaration):
        called = text_of(one.name) if isinstance(one.name, t.Text) else str(one.name or "")
        if one.word.lower() == word and called == name:
            return one
    return None


def _of_block(document: Document, word: str, name: str, line: str, end: End) -> Spot | str:
    block = _declared(document, word, name)
    if block is None:
        return f"there is no `{word}` here to say it in: write `{word} {{ … }}` first"
    own = _property(block.properties, line)
    if own is not None:
        return Spot(own.parts[0], end)
    inner = document.text[block.start : block.end - 1].rstrip()
    apart = "\n    " if "\n" in inner else "  "
    return Spot(None, end, put_in_at=block.start + len(inner), before=f"{apart}{line} ")


def _of_player(document: Document, name: str) -> Spot | str:
    group = _declared(document, "group", "")
    for line in () if group is None else group.properties:
        if isinstance(line, t.PlayerLine) and text_of(line.parts[0]).strip() == name:
            own = _property(line.properties, "receiver")
            if own is not None:
                return Spot(own.parts[0], hands=is_relative(own.parts[0]))
    return f"{name} waits where the group does"


def _property(properties: Sequence[t.Property], word: str) -> t.Property | None:
    """The line that counts: the last of that word."""
    return next((one for one in reversed(properties) if one.word == word and one.parts), None)

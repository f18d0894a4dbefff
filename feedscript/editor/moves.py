"""Something of the picture put elsewhere: the change of the words that means it.

Only the words of that one place change, and of them only the part that moved; it stays measured
from the line it was measured from. What a place rests on besides its own words (a value by a name,
another feed, another file) is said, and where there are two ways to have it, both are offered.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum

import msgspec

from feedscript.court.landmarks import End, landmarks, plain_words
from feedscript.court.lines import COURTS, Court
from feedscript.court.saying import Way, depth_in_words, width_in_words
from feedscript.editor.document import Document
from feedscript.editor.fixes import Change
from feedscript.language.parse import tree as t
from feedscript.language.resolve.places import court_sides, is_relative, relation_and_landmark
from feedscript.units import UNITS, Dimension

Point = tuple[float, float]


class Thing(StrEnum):
    """What can be put elsewhere."""

    LANDING = "landing"  # of a feed
    WAITS = "waits"  # where the receiver of a feed waits
    RECEIVER = "receiver"  # where the group's receiver waits
    LAUNCHER = "launcher"
    KEEP_OUT = "keep out"  # one corner
    TARGET = "target"  # one corner


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What shall lie where. ``corner`` is that of an area: 0 or 1, as they are written.

    ``from_m``: where it lies now; a part of its place that says the same of both is left alone.
    """

    thing: Thing
    name: str = ""
    corner: int = 0
    from_m: Point | None = None
    to_m: Point
    snapped: bool = True


class Choice(msgspec.Struct, frozen=True):
    """One way to have it: what it is called, and its changes in the order of the text."""

    title: str
    changes: tuple[Change, ...]


class Moved(msgspec.Struct, frozen=True):
    """The ways to have it, the plainest first; none, and the reason, where there is none."""

    choices: tuple[Choice, ...] = ()
    refused: str = ""


class _Spot(msgspec.Struct, frozen=True):
    """A place in the words: its node, or where one can be put in and what stands before it."""

    place: t.Place | t.PlaceAt | None
    end: End = End.RECEIVER
    put_in_at: int = 0
    before: str = ""
    after: str = ""
    hands: bool = False
    mirrored: bool = False  # the words say the other side
    note: str = ""


def moved(document: Document, wanted: Wanted) -> Moved:
    """How the words change so that the thing lies where it is wanted. Never raises."""
    program = document.verdict.program
    if program is None:
        return Moved(refused="mend the words first: as they are, nobody knows what they mean")
    found = _spot(document, wanted)
    if isinstance(found, str):
        return Moved(refused=found)
    _, y_m = wanted.to_m
    court = COURTS[program.court.lines]
    if y_m * found.end.y_sign < 0.05:
        side = "receiver's" if found.end is End.RECEIVER else "launcher's"
        return Moved(refused=f"its place is on the {side} side of the net")
    return Moved(tuple(_choices(document, court, found, wanted)))


# --- where the words of a thing's place stand


def _spot(document: Document, wanted: Wanted) -> _Spot | str:
    if wanted.thing in (Thing.LANDING, Thing.WAITS):
        return _of_feed(document, wanted)
    if wanted.thing is Thing.RECEIVER:
        return _of_block(document, "group", "", "receiver", End.RECEIVER)
    if wanted.thing is Thing.LAUNCHER:
        return _of_block(document, "launcher", wanted.name, "stands", End.LAUNCHER)
    return _corner(document, wanted)


def _of_feed(document: Document, wanted: Wanted) -> _Spot | str:
    name, mirrored, note = _written_feed(wanted.name)
    feed = document.scope.defined(t.Feed).get(name)
    if feed is None:
        return f"`{name}` is written in another file: copy it here to change it"
    word = "land" if wanted.thing is Thing.LANDING else "receiver"
    own = _property(feed.properties, word)
    hands = _hands(document, feed, word)
    if own is not None:
        return _Spot(own.parts[0], hands=hands, mirrored=mirrored, note=note)
    return _put_into(document, feed, word, _Spot(None, hands=hands, mirrored=mirrored, note=note))


def _written_feed(name: str) -> tuple[str, bool, str]:
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


def _put_into(document: Document, feed: t.Feed, word: str, spot: _Spot) -> _Spot:
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
        called = "" if one.name is None else str(getattr(one.name, "raw", one.name)).strip('"“”„«»')
        if one.word == word and called == name:
            return one
    return None


def _of_block(document: Document, word: str, name: str, line: str, end: End) -> _Spot | str:
    block = _declared(document, word, name)
    if block is None:
        return f"there is no `{word}` here to say it in: write `{word} {{ … }}` first"
    own = _property(block.properties, line)
    if own is not None:
        return _Spot(own.parts[0], end)
    inner = document.text[block.start : block.end - 1].rstrip()
    apart = "\n    " if "\n" in inner else "  "
    return _Spot(None, end, put_in_at=block.start + len(inner), before=f"{apart}{line} ")


def _corner(document: Document, wanted: Wanted) -> _Spot | str:
    word = "keep" if wanted.thing is Thing.KEEP_OUT else "target"
    block = _declared(document, word, wanted.name) or _declared(
        document, wanted.thing.value, wanted.name
    )
    if block is None:
        return f"{wanted.name} is written elsewhere"
    corners = _property(block.properties, "between")
    if corners is None:
        return f"{wanted.name} is an area of the court: name another, or write `between … and …`"
    end = End.RECEIVER if wanted.thing is Thing.KEEP_OUT else End.LAUNCHER
    places = [one for one in corners.parts if isinstance(one, t.Place | t.PlaceAt)]
    return _Spot(places[min(max(wanted.corner, 0), len(places) - 1)], end)


def _property(properties: Sequence[t.Property], word: str) -> t.Property | None:
    """The line that counts: the last of that word."""
    return next((one for one in reversed(properties) if one.word == word and one.parts), None)


# --- the words of the new place


def _choices(document: Document, court: Court, spot: _Spot, wanted: Wanted) -> Iterator[Choice]:
    depth_m, ad_m = _measured(spot, wanted.to_m)
    plain = Way(hands=spot.hands, snapped=wanted.snapped)
    if isinstance(spot.place, t.PlaceAt):
        step = 0.1 if wanted.snapped else 0.01
        words = f"at {_to(ad_m, step):g} m, {max(_to(depth_m, step), step):g} m"
        yield _replacing(spot, words)
        return
    parts = [] if spot.place is None else [_Part.of(court, one) for one in spot.place.parts]
    depth = next((one for one in parts if one.line == "across"), None)
    width = next((one for one in parts if one.line == "along"), None)
    deep = _way(plain, depth, across=True)
    wide = _way(plain, width, across=False)
    new_depth = depth_in_words(court, depth_m, deep)
    new_width = width_in_words(court, ad_m, wide)
    if spot.place is None or depth is None or width is None or len(parts) != 2:
        yield _replacing(spot, f"{new_depth}, {new_width}")
        return
    edits = [(depth, new_depth), (width, new_width)]
    if wanted.from_m is not None:
        was_depth_m, was_ad_m = _measured(spot, wanted.from_m)
        was = {
            depth_in_words(court, max(was_depth_m, 0.0), deep),
            width_in_words(court, was_ad_m, wide),
        }
        edits = [one for one in edits if one[1] not in was]
    yield _of_parts(spot, edits)
    yield from _by_the_let(document, edits)


def _measured(spot: _Spot, point_m: Point) -> Point:
    """From the net and towards ad, as the words of this spot measure."""
    x_m, y_m = point_m
    return y_m * spot.end.y_sign, (-x_m if spot.mirrored else x_m) * spot.end.ad_x_sign


class _Part(msgspec.Struct, frozen=True):
    """One part of a place as written: which way it measures, and from which line."""

    node: t.PlacePart
    line: str  # "across": a depth; "along": a width; "": both, or none
    landmark: str

    @classmethod
    def of(cls, court: Court, node: t.PlacePart) -> _Part:
        words = court_sides(node.words.text)
        _, landmark = relation_and_landmark(words)
        if words in ("to ad", "to deuce"):
            landmark = "centre line"
        known = landmarks(court).get(plain_words(landmark))
        if known is None or (known.depth_m is not None and known.ad_m is not None):
            return cls(node, "", landmark)
        return cls(node, "along" if known.depth_m is None else "across", known.words)


def _way(plain: Way, part: _Part | None, *, across: bool) -> Way:
    """The old part's line and unit."""
    if part is None:
        return plain
    line = {"across": part.landmark} if across else {"along": part.landmark}
    unit = _unit(part.node.distance)
    return msgspec.structs.replace(plain, **line, unit=unit, metres=UNITS[unit].factor)


def _unit(distance: t.Value | None) -> str:
    """The unit that the old distance is written in; metres where it is written by a name."""
    if isinstance(distance, t.Quantity) and distance.unit is not None:
        known = UNITS.get(str(distance.unit))
        if known is not None and known.dimension is Dimension.LENGTH:
            return str(distance.unit)
    return "m"


def _of_parts(spot: _Spot, edits: Sequence[tuple[_Part, str]]) -> Choice:
    changes = sorted((_change(part.node, words) for part, words in edits), key=lambda c: c.start)
    named = next((_name_in(part) for part, _ in edits if _name_in(part)), "")
    title = spot.note or ("write the number here" if named else "move it")
    return Choice(title, tuple(changes))


def _change(node: t.SyntaxNode, words: str) -> Change:
    return Change(node.start, node.end, words)


def _name_in(part: _Part) -> str:
    """The name that the distance is written by."""
    distance = part.node.distance
    return distance.text if isinstance(distance, t.Name) and distance.file is None else ""


def _by_the_let(document: Document, edits: Sequence[tuple[_Part, str]]) -> Iterator[Choice]:
    """The same by another value of the name, where one name stands for the distance that moved
    and its direction stays."""
    named = [(part, words) for part, words in edits if _name_in(part)]
    if len(named) != 1:
        return
    part, words = named[0]
    name = _name_in(part)
    value = document.scope.defined(t.Let).get(name)
    old = court_sides(part.node.words.text)
    distance, _, rest = words.partition(" m ")
    if value is None or not rest or court_sides(rest) != old:
        return
    others = [_change(one.node, said) for one, said in edits if one is not part]
    changes = sorted([*others, _change(value.value, f"{distance} m")], key=lambda c: c.start)
    yield Choice(f"change {name} wherever it is used", tuple(changes))


def _replacing(spot: _Spot, words: str) -> Choice:
    """The whole place in new words, or put in where there was none."""
    if spot.place is not None:
        change = _change(spot.place, words)
    else:
        change = Change(spot.put_in_at, spot.put_in_at, f"{spot.before}{words}{spot.after}")
    return Choice(spot.note or "move it", (change,))


def _to(value: float, step: float) -> float:
    return round(round(value / step) * step, 2) + 0.0

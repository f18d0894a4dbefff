"""The words of a place that moves: only the part of them that does, and measured from the line that
it was measured from."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.court.landmarks import End, landmarks, plain_words
from feedscript.court.lines import Court
from feedscript.court.saying import Way, depth_in_words, width_in_words
from feedscript.editor.document import Document
from feedscript.editor.fixes import Change
from feedscript.editor.wanted import Choice, Point
from feedscript.language.parse import tree as t
from feedscript.language.resolve.places import court_sides, relation_and_landmark
from feedscript.units import UNITS, Dimension


class Spot(msgspec.Struct, frozen=True):
    """A place in the words: its node, or where one can be put in, and what stands before it.

    ``anew``: its depth, and its width, lies at a line, and is measured from whichever is nearest.
    """

    place: t.Place | t.PlaceAt | None
    end: End = End.RECEIVER
    put_in_at: int = 0
    before: str = ""
    after: str = ""
    hands: bool = False
    mirrored: bool = False  # the words say the other side
    note: str = ""
    anew: tuple[bool, bool] = (False, False)


class Part(msgspec.Struct, frozen=True):
    """One part of a place as written: which way it measures, and from which line."""

    node: t.PlacePart
    line: str  # "across": a depth; "along": a width; "": both, or none
    landmark: str

    @classmethod
    def of(cls, court: Court, node: t.PlacePart) -> Part:
        """The part at a node."""
        words = court_sides(node.words.text)
        _, landmark = relation_and_landmark(words)
        if words in ("to ad", "to deuce"):
            landmark = "centre line"
        known = landmarks(court).get(plain_words(landmark))
        if known is None or (known.depth_m is not None and known.ad_m is not None):
            return cls(node, "", landmark)
        return cls(node, "along" if known.depth_m is None else "across", known.words)

    @property
    def name(self) -> str:
        """The name that the distance is written by."""
        distance = self.node.distance
        return distance.text if isinstance(distance, t.Name) and distance.file is None else ""


class Said(msgspec.Struct, frozen=True):
    """A place said anew: all of it in ``whole``, or these of its parts."""

    spot: Spot
    whole: str = ""
    parts: tuple[tuple[Part, str], ...] = ()


def said_anew(
    court: Court, spot: Spot, to_m: Point, *, from_m: Point | None, snapped: bool
) -> Said:
    """The words of a place that shall lie at ``to_m``; no more of them than what moved."""
    depth_m, ad_m = _measured(spot, to_m)
    if isinstance(spot.place, t.PlaceAt):
        step = 0.1 if snapped else 0.01
        depth_m = _inward(depth_m) if spot.anew[0] else max(_to(depth_m, step), step)
        ad_m = _inward(ad_m) if spot.anew[1] else _to(ad_m, step)
        return Said(spot, f"at {ad_m:g} m, {depth_m:g} m")
    parts = [] if spot.place is None else [Part.of(court, one) for one in spot.place.parts]
    depth = next((one for one in parts if one.line == "across"), None)
    width = next((one for one in parts if one.line == "along"), None)
    plain = Way(hands=spot.hands, snapped=snapped)
    deep = _way(plain, depth, across=True, anew=spot.anew[0])
    wide = _way(plain, width, across=False, anew=spot.anew[1])
    new_depth = depth_in_words(court, depth_m, deep)
    new_width = width_in_words(court, ad_m, wide)
    if spot.place is None or depth is None or width is None or len(parts) != 2:
        return Said(spot, f"{new_depth}, {new_width}")
    edits = [(depth, new_depth), (width, new_width)]
    if from_m is not None:
        was_depth_m, was_ad_m = _measured(spot, from_m)
        was = {
            depth_in_words(court, max(was_depth_m, 0.0), deep),
            width_in_words(court, was_ad_m, wide),
        }
        edits = [one for one in edits if one[1] not in was]
    return Said(spot, parts=tuple(edits))


def choices(
    document: Document, places: Sequence[Said], around: t.SyntaxNode | None = None
) -> Iterator[Choice]:
    """The ways to have these places together; ``around`` says all of the thing that they are of."""
    edits = [one for place in places for one in place.parts]
    whole = [_replacing(place.spot, place.whole) for place in places if place.whole]
    named = any(part.name for part, _ in edits)
    note = next((place.spot.note for place in places if place.spot.note), "")
    title = note or ("write the number here" if named else "move it")
    yield Choice(title, _in_order([*whole, *(_change(part.node, words) for part, words in edits)]))
    words = "" if around is None else document.text[around.start : around.end]
    yield from _by_the_let(document, edits, whole, words)


def _in_order(changes: Sequence[Change]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=lambda one: one.start))


def _measured(spot: Spot, point_m: Point) -> Point:
    """From the net and towards ad, as the words of this spot measure."""
    x_m, y_m = point_m
    return y_m * spot.end.y_sign, (-x_m if spot.mirrored else x_m) * spot.end.ad_x_sign


def _way(plain: Way, part: Part | None, *, across: bool, anew: bool) -> Way:
    """The old part's line and unit."""
    if part is None:
        return plain
    line = {"across": part.landmark} if across else {"along": part.landmark}
    unit = _unit(part.node.distance)
    way = msgspec.structs.replace(plain, unit=unit, metres=UNITS[unit].factor)
    return way if anew else msgspec.structs.replace(way, **line)


def _unit(distance: t.Value | None) -> str:
    """The unit that the old distance is written in; metres where it is written by a name."""
    if isinstance(distance, t.Quantity) and distance.unit is not None:
        known = UNITS.get(str(distance.unit))
        if known is not None and known.dimension is Dimension.LENGTH:
            return str(distance.unit)
    return "m"


def _change(node: t.SyntaxNode, words: str) -> Change:
    return Change(node.start, node.end, words)


def _by_the_let(
    document: Document, edits: Sequence[tuple[Part, str]], whole: Sequence[Change], around: str
) -> Iterator[Choice]:
    """The same by another value of the name, where one name stands for the distance that moved
    and for nothing else ``around``, and its direction stays."""
    named = [(part, words) for part, words in edits if part.name]
    if len(named) != 1:
        return
    part, words = named[0]
    name = part.name
    value = document.scope.defined(t.Let).get(name)
    old = court_sides(part.node.words.text)
    distance, _, rest = words.partition(" m ")
    twice = len(re.findall(rf"\b{re.escape(name)}\b", around)) > 1
    if value is None or twice or not rest or court_sides(rest) != old:
        return
    others = [_change(one.node, said) for one, said in edits if one is not part]
    changes = _in_order([*others, *whole, _change(value.value, f"{distance} m")])
    yield Choice(f"change {name} wherever it is used", changes)


def _replacing(spot: Spot, words: str) -> Change:
    """The whole place in new words, or put in where there was none."""
    if spot.place is not None:
        return _change(spot.place, f"{spot.before}{words}")
    return Change(spot.put_in_at, spot.put_in_at, f"{spot.before}{words}{spot.after}")


def _inward(value: float) -> float:
    """To the millimetre, and never past a line that it lies on."""
    return math.trunc(value * 1000 + math.copysign(1e-6, value)) / 1000 + 0.0


def _to(value: float, step: float) -> float:
    return round(round(value / step) * step, 2) + 0.0

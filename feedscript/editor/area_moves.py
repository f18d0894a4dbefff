"""Areas of the picture put elsewhere, or made wider and deeper: targets, what is kept clear, and
where a coach or a station is.

An area between two corners keeps its corners, and each is said as a landing is. One that has a name
of the court's (``deuce alley``) becomes the area of another name, or one with corners of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
from msgspec.structs import astuple

from feedscript.court.landmarks import End, Region, zones
from feedscript.court.lines import Court
from feedscript.court.saying import SNAP_M, Way, point_in_words
from feedscript.editor.document import Document
from feedscript.editor.fixes import Change
from feedscript.editor.place_words import Said, Spot, choices, said_anew
from feedscript.editor.wanted import Choice, Moved, Point, Thing, Wanted
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.places import area, is_relative, point
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.values import Evaluator

AREAS = (Thing.KEEP_OUT, Thing.TARGET, Thing.COACH, Thing.STATION)
#: Less than this each way is no area to aim at or to stand in. Design value: a racket's length.
LEAST_M = 0.5
#: What is smaller is said to the centimetre.
_SNAPS_M = 1.0
#: An area of the court's is offered for one that is dragged this near to all its sides.
_ALIKE_M = 1.0
_BY_NAME = "It is called by an area of the court."
_BY_VALUE = "Its distance is written by a name."

Place = t.Place | t.PlaceAt


class WrittenArea(msgspec.Struct, frozen=True):
    """An area as it is written. ``part`` counts those of one thing and name.

    ``node`` is the line that says it; ``places`` are its two corners, the point that somebody
    stands at, or the area's name. ``corners_m`` is empty where it has none of its own.
    """

    thing: Thing
    name: str
    part: int
    node: t.SyntaxNode
    places: tuple[Place, ...]
    corners_m: tuple[Point, ...]
    box: Region

    @property
    def end(self) -> End:
        """The half of the court that it lies on."""
        return End.LAUNCHER if self.thing is Thing.TARGET else End.RECEIVER

    @property
    def plan_name(self) -> str:
        """What the plan calls it, where it is kept clear."""
        return {Thing.COACH: "coach", Thing.STATION: f"station {self.name}"}.get(
            self.thing, self.name
        )

    @property
    def between(self) -> bool:
        """Whether it lies between two corners."""
        return len(self.corners_m) == 2

    @property
    def resizable(self) -> bool:
        """Whether it can have corners of its own."""
        return self.thing in (Thing.TARGET, Thing.KEEP_OUT)


# --- what is written


def written_areas(document: Document, court: Court) -> tuple[WrittenArea, ...]:
    """Every area of this text, targets and places of stations among them; none of other files."""
    found: list[WrittenArea] = []
    counted: dict[tuple[Thing, str], int] = {}
    for thing, name, node, places in _lines(document):
        part = counted[thing, name] = counted.get((thing, name), -1) + 1
        one = _placed(document, court, WrittenArea(thing, name, part, node, places, (), _NOWHERE))
        if one is not None:
            found.append(one)
    return tuple(found)


_NOWHERE = Region(0.0, 0.0, 0.0, 0.0)
_THINGS = {"keep": Thing.KEEP_OUT, "target": Thing.TARGET}


def _lines(document: Document) -> Iterator[tuple[Thing, str, t.SyntaxNode, tuple[Place, ...]]]:
    for block in document.scope.items(t.Declaration):
        word = block.word.lower()
        if word == "coach":
            for line in block.properties:
                yield Thing.COACH, str(line.word).lower(), line, _places(line.parts)
        elif thing := next((_THINGS[one] for one in _THINGS if word.startswith(one)), None):
            name = text_of(block.name)
            for said in ("area", "between"):  # in the order of the program's outlines
                lines = (one for one in block.properties if one.word.lower() == said)
                yield from ((thing, name, line, _places(line.parts)) for line in lines)
    for station in _stations(document.scope.tree):
        if station.place is not None:
            yield Thing.STATION, text_of(station.name), station, (station.place,)


def _places(parts: Sequence[object]) -> tuple[Place, ...]:
    return tuple(part for part in parts if isinstance(part, t.Place | t.PlaceAt))


#: What most of a lesson is made of.
_NO_STATION = {t.SendSyntax, t.ShowSyntax, t.RestSyntax, t.CallSyntax, t.Text, Token, type(None)}


def _stations(tree: t.Tree) -> list[t.StationSyntax]:
    # No station stands in what declares or defines: most of a text is passed over.
    stack = [one for one in tree.items if not isinstance(one, t.Feed | t.Declaration)]
    found = []
    while stack:
        node = stack.pop()
        kind = type(node)
        if kind is tuple:
            stack.extend(node)
        elif kind not in _NO_STATION and isinstance(node, t.SyntaxNode):
            if isinstance(node, t.StationSyntax):
                found.append(node)
            stack.extend(astuple(node)[2:])
    return sorted(found, key=lambda one: one.start)


def _placed(document: Document, court: Court, one: WrittenArea) -> WrittenArea | None:
    """The area with its place in metres; None where it has none."""
    evaluator = Evaluator(document.scope, {})
    if _by_name(one):
        region = area(evaluator, court, one.end, one.places[0])
        return None if region is None else msgspec.structs.replace(one, box=region)
    found = [point(evaluator, court, one.end, place) for place in one.places]
    points = tuple(each.point_m for each in found if each is not None)
    if len(points) != len(one.places) or not points:
        return None
    xs, ys = zip(*points, strict=True)
    box = Region(min(xs), max(xs), min(ys), max(ys))
    return msgspec.structs.replace(one, corners_m=points, box=box)


def _by_name(one: WrittenArea) -> bool:
    """Whether it is said by an area of the court, as the language tells that from a point."""
    place = one.places[0]
    if one.thing is Thing.STATION:
        if isinstance(place, t.PlaceAt):
            return False
        return len(place.parts) == 1 and place.parts[0].distance is None
    stands = one.thing is Thing.COACH and one.name == "stands"
    return len(one.places) == 1 and not stands


# --- how the words change


def moved_area(document: Document, court: Court, wanted: Wanted) -> Moved:
    """The ways to have an area where it is wanted."""
    known = written_areas(document, court)
    key = (wanted.thing, wanted.name, wanted.part)
    one = next((each for each in known if (each.thing, each.name, each.part) == key), None)
    if one is None:
        return Moved(refused=f"{wanted.name or wanted.thing} is written in another file: copy it")
    if len(one.corners_m) == 1:
        return _point_moved(document, court, one, wanted)
    box = _box(court, one, wanted)
    if isinstance(box, str):
        return Moved(refused=box)
    if one.between:
        # Both sides of a small one might snap towards each other.
        snapped = wanted.snapped and _least_side_m(box) >= _SNAPS_M
        said = _corners(court, one, box, snapped=snapped)
        return Moved(tuple(choices(document, said, one.node)), asks=_BY_VALUE)
    return Moved(tuple(_named_anew(document, court, one, box, wanted)), asks=_BY_NAME)


def _point_moved(document: Document, court: Court, one: WrittenArea, wanted: Wanted) -> Moved:
    if wanted.to_m[1] < 0.05:
        return Moved(refused="its place is on the receiver's side of the net")
    spot = _spot(one.places[0], one.end)
    if one.thing is Thing.STATION and isinstance(spot.place, t.Place):
        spot = msgspec.structs.replace(spot, before="at ")  # it is a part of the place there
    said = said_anew(court, spot, wanted.to_m, from_m=one.corners_m[0], snapped=wanted.snapped)
    return Moved(tuple(choices(document, [said])), asks=_BY_VALUE)


def _spot(place: Place, end: End) -> Spot:
    return Spot(place, end, hands=is_relative(place))


def _box(court: Court, one: WrittenArea, wanted: Wanted) -> Region | str:
    """The area as wanted, held to where it may lie; or why it cannot."""
    x_m, y_m = wanted.to_m
    old, (x_grip, y_grip) = one.box, wanted.grip
    if wanted.grip == (0, 0):
        middle = old.centre_m
        by = x_m - middle[0], y_m - middle[1]
        edges = [old.x_min_m + by[0], old.x_max_m + by[0], old.y_min_m + by[1], old.y_max_m + by[1]]
    else:
        edges = [
            x_m if x_grip < 0 else old.x_min_m,
            x_m if x_grip > 0 else old.x_max_m,
            y_m if y_grip < 0 else old.y_min_m,
            y_m if y_grip > 0 else old.y_max_m,
        ]
    if (edges[2] + edges[3]) * one.end.y_sign < 0:
        side = "receiver's" if one.end is End.RECEIVER else "launcher's"
        return f"its place is on the {side} side of the net"
    edges = _held(court, one, edges, whole=wanted.grip == (0, 0))
    box = Region(*edges)
    if wanted.grip != (0, 0) and _least_side_m(box) < LEAST_M:
        return f"an area is at least {LEAST_M:g} m wide and deep"
    return box


def _least_side_m(box: Region) -> float:
    return min(box.x_max_m - box.x_min_m, box.y_max_m - box.y_min_m)


def _held(court: Court, one: WrittenArea, edges: list[float], *, whole: bool) -> list[float]:
    """Kept on its side of the net, and a target in court: a shot into it must be good."""
    target = one.thing is Thing.TARGET
    half_m = court.half_width_m if target else float("inf")
    far_m = court.half_length_m if target else float("inf")
    y_ends = (-far_m, 0.0) if one.end is End.LAUNCHER else (0.0, far_m)
    x_low, x_high = _pushed(edges[0], edges[1], -half_m, half_m, whole=whole)
    y_low, y_high = _pushed(edges[2], edges[3], *y_ends, whole=whole)
    return [x_low, x_high, y_low, y_high]


def _pushed(low: float, high: float, least: float, most: float, *, whole: bool) -> Point:
    """Two edges between two walls: moved together as far as that keeps their distance."""
    if whole:
        by = max(least - low, 0.0) - max(high - most, 0.0)
        low, high = low + by, high + by
    return max(low, least), min(high, most)


def _corners(court: Court, one: WrittenArea, box: Region, *, snapped: bool) -> list[Said]:
    """Its corners said anew, those that moved."""
    said = []
    for place, corner in zip(one.places, one.corners_m, strict=True):
        to_m = (
            box.x_min_m if corner[0] == one.box.x_min_m else box.x_max_m,
            box.y_min_m if corner[1] == one.box.y_min_m else box.y_max_m,
        )
        if to_m == corner:
            continue
        anew = _at_a_line(court, one, to_m)
        spot = msgspec.structs.replace(_spot(place, one.end), anew=anew)
        said.append(said_anew(court, spot, to_m, from_m=corner, snapped=snapped))
    return said


def _at_a_line(court: Court, one: WrittenArea, to_m: Point) -> tuple[bool, bool]:
    """Whether an area ends at the net, and a target at a line of the court, by depth and by width:
    a number rounded there, measured from another line, might lie past it."""
    x_m, y_m = abs(to_m[0]), abs(to_m[1])
    target = one.thing is Thing.TARGET
    deep = y_m <= SNAP_M or (target and court.half_length_m - SNAP_M <= y_m)
    return deep, target and court.half_width_m - SNAP_M <= x_m


# --- areas that are called by a name of the court's


def _named_anew(
    document: Document, court: Court, one: WrittenArea, box: Region, wanted: Wanted
) -> Iterator[Choice]:
    place = one.places[0]
    assert isinstance(place, t.Place)
    (name,), hands = place.parts, is_relative(place)
    named = _nearest_zone(court, one, box)
    if named is not None and wanted.grip == (0, 0):
        words = named.replace("ad ", "backhand ").replace("deuce ", "forehand ") if hands else named
        yield Choice(f"make it the {words}", (Change(name.start, name.end, words),))
    way = Way(hands=hands, snapped=wanted.snapped)
    if one.resizable:
        corners = ((box.x_min_m, box.y_min_m), (box.x_max_m, box.y_max_m))
        first, second = (point_in_words(court, one.end, corner, way) for corner in corners)
        words = f"between {first} and {second}"
        yield Choice("give it corners of its own", (Change(one.node.start, one.node.end, words),))
        return
    words = point_in_words(court, one.end, wanted.to_m, way)
    if one.thing is Thing.STATION:
        yield Choice("put it here", (Change(name.start, name.end, words),))
    elif not any(each.name == "stands" for each in written_areas(document, court)):
        yield Choice("stand here", (Change(one.node.start, one.node.end, f"stands {words}"),))


def _nearest_zone(court: Court, one: WrittenArea, box: Region) -> str | None:
    """The area of the court's that is most like it; for what has no corners whatever is nearest."""

    def apart_m(region: Region) -> float:
        return max(
            abs(region.x_min_m - box.x_min_m),
            abs(region.x_max_m - box.x_max_m),
            abs(region.y_min_m - box.y_min_m),
            abs(region.y_max_m - box.y_max_m),
        )

    # `court` is a word of the language's own, and opens its block.
    every = zones(court, one.end).items()
    known = {name: region for name, region in every if "court" not in name.split()}
    if one.thing is Thing.TARGET:
        known = {name: region for name, region in known.items() if _in_court(court, region)}
    name = min(known, key=lambda each: apart_m(known[each]))
    near = not one.resizable or apart_m(known[name]) <= _ALIKE_M
    return name if near and known[name] != one.box else None


def _in_court(court: Court, region: Region) -> bool:
    wide, deep = court.half_width_m, court.half_length_m
    return max(-region.x_min_m, region.x_max_m) <= wide and -region.y_min_m <= deep

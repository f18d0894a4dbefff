"""Places as written, turned into the court's own clauses and so into metres."""

from __future__ import annotations

import math
import re
from functools import lru_cache

import msgspec

from feedscript.court.landmarks import End, Region
from feedscript.court.lines import Court
from feedscript.court.pages import PLACE_DIRECTION
from feedscript.court.places import Clause, Relation, resolve, zone
from feedscript.diagnostics import Diagnostic, Page
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.program import Point
from feedscript.language.resolve.values import Evaluator
from feedscript.nearest import nearest
from feedscript.units import Dimension

NO_AREA = Page(
    slug="no-area",
    title="A point where an area belongs",
    why="""A coach walks in an area and a keep-out is one: `deuce alley`, `ad run-off`,
`backcourt`. A line or a point has no inside.""",
    wrong=program(more="coach { walks 1 m behind baseline, on centre line }"),
    corrected=program(more="coach { walks deuce alley }"),
)

ONLY_DEPTH = Page(
    slug="only-depth",
    title="A sweep that names a side",
    why="""A launcher that swings by itself sends its balls over its whole sweep; nobody chooses the
side. A feed for it says only how deep they land, `sweep 3 m inside baseline`, as they do where the
launcher faces; to the sides they land as far from the launcher.""",
    wrong=program(feed="feed deep { sweep 3 m inside baseline, on centre line  speed 70 km/h }"),
    corrected=program(feed="feed deep { sweep 3 m inside baseline  speed 70 km/h }"),
)

_RELATIONS = (
    ("in front of", Relation.IN_FRONT_OF),
    ("middle of", Relation.MIDDLE_OF),
    ("to ad of", Relation.AD_OF),
    ("to deuce of", Relation.DEUCE_OF),
    ("ad of", Relation.AD_OF),
    ("deuce of", Relation.DEUCE_OF),
    ("inside", Relation.INSIDE),
    ("outside", Relation.OUTSIDE),
    ("behind", Relation.BEHIND),
    ("past", Relation.PAST),
    ("beyond", Relation.BEYOND),
    ("from", Relation.FROM),
    ("on", Relation.ON),
)
#: For a right-hander who faces the net.
_HANDS = {"forehand": "deuce", "backhand": "ad"}
_HAND = re.compile(rf"\b(?:{'|'.join(_HANDS)})\b")


class Found(msgspec.Struct, frozen=True):
    """A place in metres, for a right-hander where it is player-relative."""

    point_m: Point
    relative: bool


def is_relative(place: t.Place | t.PlaceAt) -> bool:
    """Whether a place speaks of the player's forehand or backhand side."""
    if isinstance(place, t.PlaceAt):
        return False
    words = " ".join(part.words.text for part in place.parts)
    return _HAND.search(words) is not None


def point(evaluator: Evaluator, court: Court, end: End, place: t.Place | t.PlaceAt) -> Found | None:
    """The point that a place names; None where it does not (reported)."""
    if isinstance(place, t.PlaceAt):
        x_m = evaluator.want(place.x, Dimension.LENGTH, "a distance on the court")
        y_m = evaluator.want(place.y, Dimension.LENGTH, "a distance on the court")
        if math.isnan(x_m) or math.isnan(y_m):
            return None
        return Found((x_m * end.ad_x_sign, y_m * end.y_sign), False)
    clauses = [_clause(evaluator, part) for part in place.parts]
    good = [clause for clause in clauses if clause is not None]
    if len(good) < len(clauses):
        return None
    answer = resolve(court, end, good)
    evaluator.scope.findings.add(*answer.diagnostics)
    if answer.point_m is None:
        return None
    return Found(answer.point_m, is_relative(place))


def depth(evaluator: Evaluator, court: Court, end: End, place: t.Place | t.PlaceAt) -> float | None:
    """How far from the net the place of a sweep is, in metres; None where it is none (reported)."""
    clauses = [] if isinstance(place, t.PlaceAt) else [_clause(evaluator, p) for p in place.parts]
    good = [clause for clause in clauses if clause is not None]
    if len(good) < len(clauses):
        return None
    with_depth = [*good, Clause("baseline", Relation.ON)]
    if not good or any(resolve(court, end, one).point_m for one in (good, with_depth)):
        evaluator.scope.report(
            ONLY_DEPTH,
            place,
            f"`{evaluator.scope.written(place)}` says a side, and a sweep goes over all of them",
            "say only how deep: `sweep 3 m inside baseline`",
        )
        return None
    middle = Clause("centre line", Relation.ON, 0.0, evaluator.scope.span(place))
    answer = resolve(court, end, [*good, middle])
    evaluator.scope.findings.add(*answer.diagnostics)
    return None if answer.point_m is None else answer.point_m[1]


def _clause(evaluator: Evaluator, part: t.PlacePart) -> Clause | None:
    words = court_sides(part.words.text)
    relation, landmark = relation_and_landmark(words)
    offset_m = 0.0
    if part.distance is not None:
        offset_m = evaluator.want(part.distance, Dimension.LENGTH, "a distance on the court")
        if math.isnan(offset_m):
            return None
    if relation is None:
        if part.distance is not None:
            _no_relation(evaluator, part)
            return None
        relation = Relation.ON
    if not landmark and words in ("to ad", "to deuce"):
        landmark = "centre line"
        relation = Relation.AD_OF if words == "to ad" else Relation.DEUCE_OF
    return Clause(landmark, relation, offset_m, evaluator.scope.span(part))


@lru_cache(256)
def relation_and_landmark(words: str) -> tuple[Relation | None, str]:
    """The relation that the words of a part begin with, and what it stands to."""
    for said, relation in _RELATIONS:
        if words == said or words.startswith(said + " "):
            return relation, words[len(said) :].strip()
    if words in ("to ad", "to deuce"):
        return Relation.ON, ""
    return None, words


@lru_cache(256)  # a program says few places, again and again
def court_sides(words: str) -> str:
    """The words with the player's sides turned into the court's, as for a right-hander."""
    return _HAND.sub(lambda hand: _HANDS[hand[0]], words)


def _no_relation(evaluator: Evaluator, part: t.PlacePart) -> None:
    first = str(part.words.words[0])
    near = nearest(first, [said for said, _ in _RELATIONS])
    written = evaluator.scope.written(part)
    known = ", ".join(said for said, _ in _RELATIONS if " " not in said)
    evaluator.scope.report(
        PLACE_DIRECTION,
        part,
        f"`{written}` says a distance and no direction",
        f"did you mean `{near}`?" if near else f"write one of: {known}",
    )


def area(evaluator: Evaluator, court: Court, end: End, place: t.Place | t.PlaceAt) -> Region | None:
    """The area that a place names; None where it names none (reported)."""
    if isinstance(place, t.PlaceAt) or len(place.parts) > 1 or place.parts[0].distance is not None:
        evaluator.scope.report(
            NO_AREA,
            place,
            f"`{evaluator.scope.written(place)}` is a point, and an area belongs here",
            "name an area of the court, such as `deuce alley` or `ad run-off`",
        )
        return None
    words = place.parts[0].words
    found = zone(court, end, court_sides(words.text), evaluator.scope.span(words))
    if isinstance(found, Diagnostic):
        evaluator.scope.findings.add(found)
        return None
    return found

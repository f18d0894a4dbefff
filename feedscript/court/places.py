"""Places in words turned into metres, or into what is missing from the words.

A place is a list of clauses such as ``2 m inside baseline, 1 m inside ad sideline``. Each clause
fixes the depth (distance from the net), the width (distance from the middle), or both; together
they must fix each exactly once. Nothing is filled in that was not said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum

import msgspec

from feedscript.court.landmarks import (
    End,
    Landmark,
    Region,
    landmarks,
    plain_words,
    zones,
)
from feedscript.court.lines import COURTS, Court
from feedscript.court.pages import (
    PLACE_DIRECTION,
    PLACE_INCOMPLETE,
    PLACE_TWICE,
    UNKNOWN_PLACE,
)
from feedscript.diagnostics import Diagnostic, Related, Span
from feedscript.nearest import nearest


class Relation(StrEnum):
    """How a clause stands to its landmark."""

    ON = "on"
    MIDDLE_OF = "middle of"
    INSIDE = "inside"
    IN_FRONT_OF = "in front of"
    BEHIND = "behind"
    PAST = "past"
    BEYOND = "beyond"
    OUTSIDE = "outside"
    FROM = "from"
    AD_OF = "ad of"
    DEUCE_OF = "deuce of"


#: Towards the net, or away from it, for landmarks that have a depth.
_DEPTH_STEP = {
    Relation.ON: 0,
    Relation.INSIDE: -1,
    Relation.IN_FRONT_OF: -1,
    Relation.BEHIND: 1,
    Relation.PAST: 1,
    Relation.BEYOND: 1,
    Relation.OUTSIDE: 1,
}
#: From the net there is one way only.
_NET_STEP = {
    Relation.ON: 0,
    Relation.FROM: 1,
    Relation.BEHIND: 1,
    Relation.PAST: 1,
    Relation.BEYOND: 1,
    Relation.IN_FRONT_OF: 1,
}
#: Towards the middle (-1) or away from it, for lines along the court.
_WIDTH_STEP = {
    Relation.ON: 0,
    Relation.INSIDE: -1,
    Relation.OUTSIDE: 1,
    Relation.PAST: 1,
    Relation.BEYOND: 1,
}
_SIDE_STEP = {Relation.AD_OF: 1, Relation.DEUCE_OF: -1}


class Clause(msgspec.Struct, frozen=True):
    """One part of a place: so many metres in this relation to that landmark or area."""

    landmark: str
    relation: Relation = Relation.ON
    offset_m: float = 0.0
    span: Span | None = None


class Place(msgspec.Struct, frozen=True):
    """What the words came to: a point in court axes, or None with the reasons."""

    point_m: tuple[float, float] | None
    diagnostics: tuple[Diagnostic, ...] = ()


class _Fixed(msgspec.Struct, frozen=True):
    """What one clause fixes: (metres, firmly). A point holds its other coordinate loosely."""

    clause: Clause
    depth: tuple[float, bool] | None
    width: tuple[float, bool] | None  # towards ad


def resolve(court: Court, end: End, clauses: Sequence[Clause]) -> Place:
    """The point that the clauses name on this end of this court."""
    found = [_fix(court, clause) for clause in clauses]
    diagnostics = [one for one in found if isinstance(one, Diagnostic)]
    if diagnostics:
        return Place(None, tuple(diagnostics))
    fixed = [one for one in found if isinstance(one, _Fixed)]
    depth = _only("depth", [(f.clause, f.depth) for f in fixed], clauses)
    width = _only("width", [(f.clause, f.width) for f in fixed], clauses)
    if isinstance(depth, Diagnostic) or isinstance(width, Diagnostic):
        return Place(None, tuple(d for d in (depth, width) if isinstance(d, Diagnostic)))
    return Place((width * end.ad_x_sign, depth * end.y_sign))


def zone(court: Court, end: End, words: str, span: Span | None = None) -> Region | Diagnostic:
    """The area of that name on this end, such as ``deuce alley``."""
    areas = zones(court, end)
    found = areas.get(plain_words(words))
    return found if found is not None else _unknown(court, words, areas, span, "area")


def _fix(court: Court, clause: Clause) -> _Fixed | Diagnostic:
    if clause.offset_m < 0:
        return PLACE_DIRECTION.report(
            f"a distance of {clause.offset_m:g} m is less than nothing",
            help="turn it round: `inside` where it says `behind`, or `ad of` for `deuce of`",
            span=clause.span,
        )
    if clause.relation is Relation.MIDDLE_OF:
        area = zone(court, End.RECEIVER, clause.landmark, clause.span)
        if isinstance(area, Diagnostic):
            return area
        x_m, y_m = area.centre_m
        return _Fixed(clause, (y_m, True), (x_m, True))
    known = landmarks(court)
    landmark = known.get(plain_words(clause.landmark))
    if landmark is None:
        return _unknown(court, clause.landmark, known, clause.span, "line or point")
    return _step(clause, landmark)


def _step(clause: Clause, landmark: Landmark) -> _Fixed | Diagnostic:
    relation, depth, width = clause.relation, landmark.depth_m, landmark.ad_m
    if relation in _SIDE_STEP and width is not None:
        moved = width + clause.offset_m * _SIDE_STEP[relation]
        return _Fixed(clause, None if depth is None else (depth, False), (moved, True))
    if depth is not None:
        steps = _NET_STEP if depth == 0 else _DEPTH_STEP
        if relation in steps:
            moved = depth + clause.offset_m * steps[relation]
            loose = None if width is None else (width, relation is Relation.ON)
            return _Fixed(clause, (moved, True), loose)
    elif width and relation in _WIDTH_STEP:
        outward = 1 if width > 0 else -1
        return _Fixed(
            clause, None, (width + clause.offset_m * outward * _WIDTH_STEP[relation], True)
        )
    elif width == 0 and relation is Relation.ON:
        return _Fixed(clause, None, (0.0, True))
    return _wrong_way(clause, landmark)


def _wrong_way(clause: Clause, landmark: Landmark) -> Diagnostic:
    allowed: list[Relation] = []
    if landmark.depth_m is not None:
        allowed += list(_NET_STEP if landmark.depth_m == 0 else _DEPTH_STEP)
    elif landmark.ad_m:
        allowed += list(_WIDTH_STEP)
    else:
        allowed.append(Relation.ON)
    if landmark.ad_m is not None:
        allowed += list(_SIDE_STEP)
    return PLACE_DIRECTION.report(
        f"`{clause.relation} {landmark.words}` says no direction on a court",
        help=f"with {landmark.words} write one of: {', '.join(allowed)}",
        span=clause.span,
    )


def _only(
    what: str,
    found: Sequence[tuple[Clause, tuple[float, bool] | None]],
    clauses: Sequence[Clause],
) -> float | Diagnostic:
    """The one value that was said; a firm one overrules what a point holds loosely."""
    said = [(clause, value) for clause, value in found if value is not None]
    firm = [(clause, value[0]) for clause, value in said if value[1]]
    chosen = firm or [(clause, value[0]) for clause, value in said]
    if not chosen:
        return _missing(what, clauses)
    first, second = chosen[0], chosen[-1]
    if len(chosen) > 1 and len({round(value, 9) for _, value in chosen}) > 1:
        earlier = first[0].span
        return PLACE_TWICE.report(
            f"the {what} is said twice and differs: {first[1]:.2f} m and {second[1]:.2f} m",
            help=f"keep one of the two that fix the {what}",
            span=second[0].span,
            related=[Related(earlier, "said first here")] if earlier else [],
        )
    return first[1]


def _missing(what: str, clauses: Sequence[Clause]) -> Diagnostic:
    spans = [clause.span for clause in clauses if clause.span is not None]
    example = "2 m inside baseline" if what == "depth" else "1 m inside ad sideline"
    far = "far from the net" if what == "depth" else "far from the middle"
    other = "on service line" if what == "depth" else "on centre line"
    return PLACE_INCOMPLETE.report(
        f"the place does not say how {far} it is",
        help=f"add its {what}, for instance `{example}` or `{other}`",
        span=spans[0].to(spans[-1]) if spans else None,
    )


def _unknown(
    court: Court, words: str, known: Mapping[str, object], span: Span | None, kind: str
) -> Diagnostic:
    plain = plain_words(words)
    here = {*landmarks(court), *zones(court, End.RECEIVER)}
    if plain in here:
        return UNKNOWN_PLACE.report(
            f"{words!r} is not a {kind}, and a {kind} belongs here",
            help=f"write `middle of` before an area, or name one of: {', '.join(sorted(known))}",
            span=span,
        )
    elsewhere = [
        other.name
        for other in COURTS.values()
        if plain in landmarks(other) or plain in zones(other, End.RECEIVER)
    ]
    if elsewhere:
        return UNKNOWN_PLACE.report(
            f"the {court.name} court has no {words!r}",
            help=f"it is found on: {', '.join(elsewhere)}",
            span=span,
        )
    near = nearest(plain, known)
    return UNKNOWN_PLACE.report(
        f"{words!r} is no {kind} of the {court.name} court",
        help=f"did you mean `{near}`?" if near else f"known here: {', '.join(sorted(known))}",
        span=span,
    )

"""Areas and people of the picture: what is kept clear, what is aimed at, who waits apart."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.desk.open_text import OpenText, Words
from feedscript.editor.area_moves import WrittenArea
from feedscript.editor.wanted import Thing
from feedscript.language.program import ExerciseStatement, Program, TargetDecl
from feedscript.plan.model import Plan
from feedscript.plan.scene import Area
from feedscript.tongues import terms
from feedscript.tongues.text import _

Point = tuple[float, float]

#: Places come to the same by other sums; nothing on a court is told apart by less.
_HAIR_M = 1e-6


class Held(msgspec.Struct, frozen=True):
    """How a page asks for an area to be elsewhere; ``resizable`` where its sides move apart."""

    thing: Thing
    name: str
    part: int
    resizable: bool


class SeenArea(msgspec.Struct, frozen=True, kw_only=True):
    """Ground that is kept clear, or aimed at. ``held`` is null where its words are elsewhere."""

    name: str
    outline_m: tuple[Point, ...]
    height_m: float | None = None
    words: Words | None = None
    held: Held | None = None


class SeenPlayer(msgspec.Struct, frozen=True, kw_only=True):
    """A player who waits where the others do not."""

    name: str
    receiver_m: Point


def kept_clear(text: OpenText, plan: Plan, written: Sequence[WrittenArea]) -> Iterator[SeenArea]:
    """What the plan keeps clear, with its words where those are in this text."""
    for one in plan.keep_outs:
        area = SeenArea(
            name=terms.area(one.name),
            outline_m=one.outline_m,
            height_m=one.height_m,
            words=text.line(one.line),
        )
        yield _held(text, area, _kept_by(one, written))


def _kept_by(area: Area, written: Sequence[WrittenArea]) -> WrittenArea | None:
    named = (one for one in written if one.plan_name == area.name)
    return next((one for one in named if _lies(one, area.outline_m)), None)


def targets(
    text: OpenText, program: Program | None, written: Sequence[WrittenArea]
) -> Iterator[SeenArea]:
    """Each piece of each target once, then as it lies for left-handers where that differs.

    What is only the mirror image of what is written cannot be held.
    """
    found: dict[tuple[str, tuple[Point, ...]], SeenArea] = {}
    for target in _targets(program):
        for outline in target.outlines_m:
            area = SeenArea(name=target.name, outline_m=outline, words=text.words(target.span))
            here = _aimed_at(text, target, outline, written)
            found.setdefault((target.name, outline), _held(text, area, here))
    for target in _targets(program):
        for outline in target.outlines_m if target.relative and _any_left(program) else ():
            name = _("{area} (left-handed)", area=target.name)
            other = tuple((-x_m, y_m) for x_m, y_m in outline)
            area = SeenArea(name=name, outline_m=other, words=text.words(target.span))
            found.setdefault((name, other), area)
    yield from found.values()


def _targets(program: Program | None) -> Iterator[TargetDecl]:
    for step in () if program is None else program.lesson:
        if isinstance(step, ExerciseStatement) and step.target is not None:
            yield step.target


def _any_left(program: Program | None) -> bool:
    return program is not None and program.group.left_handed > 0


def _aimed_at(
    text: OpenText,
    target: TargetDecl,
    outline_m: tuple[Point, ...],
    written: Sequence[WrittenArea],
) -> WrittenArea | None:
    if target.span.source != text.source.name:
        return None
    named = (one for one in written if (one.thing, one.name) == (Thing.TARGET, target.name))
    return next((one for one in named if _lies(one, outline_m)), None)


def _lies(one: WrittenArea, outline_m: tuple[Point, ...]) -> bool:
    """Whether what is written is this; a person's place has room about it."""
    xs, ys = zip(*outline_m, strict=True)
    if len(one.corners_m) == 1:
        middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
        return math.dist(middle, one.corners_m[0]) < _HAIR_M
    box = (min(xs), max(xs), min(ys), max(ys))
    mine = (one.box.x_min_m, one.box.x_max_m, one.box.y_min_m, one.box.y_max_m)
    return all(abs(a - b) < _HAIR_M for a, b in zip(box, mine, strict=True))


def _held(text: OpenText, area: SeenArea, one: WrittenArea | None) -> SeenArea:
    """The area with its own words, and how to ask for it elsewhere."""
    if one is None:
        return area
    words = Words(text.units(one.node.start), text.units(one.node.end))
    held = Held(one.thing, one.name, one.part, one.resizable)
    return msgspec.structs.replace(area, words=words, held=held)


def players(plan: Plan) -> Iterator[SeenPlayer]:
    """Those who wait at places of their own."""
    for one in plan.group.players:
        if one.receiver_m is not None:
            yield SeenPlayer(name=one.name, receiver_m=one.receiver_m)

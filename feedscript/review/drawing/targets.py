"""Targets for the players' own shots, drawn from above: dotted, so that print tells them from areas
to keep out of, which are striped."""

from __future__ import annotations

from collections.abc import Iterable

from feedscript.plan.model import Exercise, Plan
from feedscript.review.drawing.frame import Frame
from feedscript.review.drawing.palette import INK, PAPER
from feedscript.review.drawing.svg import (
    Element,
    Point,
    Value,
    circle,
    element,
    group,
    polygon,
    rectangle,
    text,
    title,
    width_of,
)
from feedscript.tongues.text import _, joined, p_

_SIZE_PX = 11.0
Outline = tuple[tuple[float, float], ...]


def targets_of(plan: Plan) -> dict[tuple[Outline, ...], list[str]]:
    """The names of what lies where: exercises may share one place, or call two places the same."""
    found: dict[tuple[Outline, ...], list[str]] = {}
    hands = {player.left_handed for player in plan.group.players} or {False}
    for step in plan.steps:
        target = step.target if isinstance(step, Exercise) else None
        for left in sorted(hands) if target is not None else ():
            assert target is not None
            names = found.setdefault(target.outlines_for(left=left), [])
            name: str = target.name
            if left and target.left_outlines_m:
                name = _("{target} (left-handed)", target=target.name)
            if name not in names:
                names.append(name)
    return found


def drawn_targets(frame: Frame, plan: Plan) -> Iterable[Element]:
    """Each target once, with its name where there is room, and always as its title."""
    for outlines, names in targets_of(plan).items():
        words = joined(", ", names)
        for outline in outlines:
            yield _piece([frame.above(x_m, y_m) for x_m, y_m in outline], words)


def _piece(points: list[Point], words: str) -> Element:
    look: dict[str, Value | None] = {"stroke": INK, "stroke_width": 1.6, "stroke_dasharray": "8 3"}
    return group(
        [
            polygon(points, fill="url(#target)", **look),
            title(_("target: {targets}", targets=words)),
            *_label(points, words),
        ]
    )


def _label(points: list[Point], words: str) -> Iterable[Element]:
    """On a light ground in the middle: across, or else along the longer side."""
    wide = max(x for x, _y in points) - min(x for x, _y in points)
    tall = max(y for _x, y in points) - min(y for _x, y in points)
    room = width_of(words, _SIZE_PX) + 6
    if room > max(wide, tall):
        words = p_("picture", "target")
        room = width_of(words, _SIZE_PX) + 6
    if room > max(wide, tall):
        return
    x = sum(x for x, _y in points) / len(points)
    y = sum(y for _x, y in points) / len(points)
    turned = None if room <= wide else f"rotate(-90 {x:.2f} {y:.2f})"
    yield rectangle(
        (x - room / 2, y - 8), room, 16, fill=PAPER, stroke=INK, stroke_width=0.8, rx=3,
        transform=turned,
    )  # fmt: skip
    look: dict[str, Value | None] = {"fill": INK, "font_size": _SIZE_PX, "text_anchor": "middle"}
    yield text((x, y + 4), words, transform=turned, **look)


def dotting() -> Element:
    """The pattern of targets."""
    dots = [circle((at, at), 1.3, fill=INK, fill_opacity=0.55) for at in (2.5, 7.5)]
    return element(
        "defs",
        element("pattern", *dots, id="target", width=10, height=10, patternUnits="userSpaceOnUse"),
    )

"""The court of one exercise, upright and large enough to be read from where it hangs.

It lies as whoever stands behind the player sees it, or behind the launcher. Lengths are to scale;
marks and letters are not.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.court.lines import COURTS, Court
from feedscript.plan.model import Plan
from feedscript.plan.scene import Area
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import Reach, reach_of
from feedscript.review.drawing.labels import Box, place_labels
from feedscript.review.drawing.palette import INK, PAPER
from feedscript.review.drawing.svg import (
    Element,
    Point,
    Value,
    circle,
    document,
    element,
    group,
    line,
    polygon,
    rectangle,
    text,
    title,
    width_of,
)
from feedscript.review.sheet.blocks import Block, drawn
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, p_

#: Picture units a metre in a small picture, and in one that has a page's width to itself.
SMALL, LARGE = 10.0, 17.0
#: Room for the launcher's mark behind its mouth.
_BEHIND_M = 0.9
_AROUND, _INSIDE, _LINE = "#eef2f5", "#dfe8ef", "#46525c"
_TARGET, _CONE = "#ffe9a8", "#e06000"
_LETTER, _WORDS = 17.0, 14.0


class Upright(msgspec.Struct, frozen=True):
    """From court axes to the picture: the player's end below, or the launcher's."""

    reach: Reach
    behind_player: bool
    metre: float = SMALL

    @property
    def width(self) -> float:
        return (self.reach.x_max_m - self.reach.x_min_m) * self.metre

    @property
    def height(self) -> float:
        return (self.reach.y_max_m - self.reach.y_min_m) * self.metre

    @property
    def box(self) -> Box:
        return Box(0, 0, self.width, self.height)

    def at(self, x_m: float, y_m: float) -> Point:
        """Seen from behind the player, the receiver's ad side (+x) lies to the left."""
        across, along = x_m - self.reach.x_min_m, y_m - self.reach.y_min_m
        if self.behind_player:
            return (self.width - across * self.metre, along * self.metre)
        return (across * self.metre, self.height - along * self.metre)


def upright(
    plan: Plan, flights: Sequence[DrawnFlight], *, behind_player: bool, metre: float = SMALL
) -> Upright:
    """One frame for every exercise of a lesson, so that all courts have one scale."""
    court = COURTS[plan.court.kind]
    reach = reach_of(court, plan.launchers, flights, plan.keep_outs)
    roomy = msgspec.structs.replace(reach, y_min_m=reach.y_min_m - _BEHIND_M)
    return Upright(roomy, behind_player, metre)


def court_picture(plan: Plan, block: Block, frame: Upright) -> Element:
    """The picture of one block: its launchers, its feeds, where players wait, what to keep free."""
    court = COURTS[plan.court.kind]
    flights = drawn(block.fed)
    pattern = f"keep-out-{block.number}"  # several pictures stand in one page
    parts = [
        _hatching(pattern),
        rectangle((0, 0), frame.width, frame.height, fill=_AROUND),
        *_lines(frame, court),
        *_target(frame, plan, block),
        *(_area(frame, area, pattern) for area in plan.keep_outs),
        *(_way(frame, plan, one) for one in flights),
        *_receivers(frame, flights),
        *(_launcher(frame, plan, number) for number in block.launchers),
        *(one.style.draw_mark(frame.at(*one.feed.landing_m), 8) for one in flights),
        *_labels(frame, plan, block, flights),
    ]
    return document(frame.width, frame.height, parts, label=_in_words(flights))


def _hatching(pattern: str) -> Element:
    stripe = line((0, 0), (0, 8), stroke=INK, stroke_width=1.5, stroke_opacity=0.4)
    return element(
        "defs",
        element(
            "pattern", stripe, id=pattern, width=8, height=8,
            patternUnits="userSpaceOnUse", patternTransform="rotate(45)",
        ),
    )  # fmt: skip


def _lines(frame: Upright, court: Court) -> Iterable[Element]:
    back, half = court.half_length_m, court.half_width_m
    wide, inner = court.doubles_half_width_m or half, court.singles_half_width_m
    corners = [(-wide, -back), (wide, -back), (wide, back), (-wide, back)]
    outline = [frame.at(x, y) for x, y in corners]
    yield polygon(outline, fill=_INSIDE, stroke=_LINE, stroke_width=2)
    service = court.service_line_m
    for x0, y0, x1, y1 in (
        *((x, -back, x, back) for x in (-inner, inner) if wide > inner),
        *((-inner, y, inner, y) for y in (-service, service)),
        (0, -service, 0, service),
        *((0, y, 0, y - 0.4 * y / back) for y in (-back, back)),
    ):
        yield line(frame.at(x0, y0), frame.at(x1, y1), stroke=_LINE, stroke_width=1.8)
    net = court.net.support_x_m
    yield line(frame.at(-net, 0), frame.at(net, 0), stroke=INK, stroke_width=4)


def _target(frame: Upright, plan: Plan, block: Block) -> Iterable[Element]:
    """What the players' own shots should come down in; that of left-handers dashed."""
    for points, dash in _pieces(frame, plan, block):
        middle = _middle(points)
        parts = [
            polygon(
                points, fill=_TARGET, fill_opacity=0.75, stroke=INK, stroke_width=2,
                stroke_dasharray=dash,
            ),
            *(_cone(point) for point in points),
            circle(middle, 6, fill="none", stroke=INK, stroke_width=2),
            circle(middle, 2, fill=INK),
            title(_("target")),
        ]  # fmt: skip
        yield group(parts)


def _pieces(frame: Upright, plan: Plan, block: Block) -> list[tuple[list[Point], str | None]]:
    """Each piece of the target as it lies in the picture, and its dash."""
    target = None if block.exercise is None else block.exercise.target
    if target is None:
        return []
    hands = {player.left_handed for player in plan.group.players}
    left = target.left_outlines_m if True in hands else ()
    usual = () if left and hands == {True} else target.outlines_m
    both: list[tuple[tuple[Point, ...], str | None]] = [(one, None) for one in usual]
    both += [(one, "6 4") for one in left]
    return [([frame.at(x, y) for x, y in outline], dash) for outline, dash in both]


def _middles(frame: Upright, plan: Plan, block: Block) -> list[Point]:
    return [_middle(points) for points, _ in _pieces(frame, plan, block)]


def _middle(points: Sequence[Point]) -> Point:
    return (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))


def _cone(at: Point) -> Element:
    x, y = at
    return polygon(
        [(x, y - 5), (x + 4.5, y + 4), (x - 4.5, y + 4)], fill=_CONE, stroke=INK, stroke_width=0.8
    )


def _area(frame: Upright, area: Area, pattern: str) -> Element:
    points = [frame.at(x, y) for x, y in area.outline_m]
    xs, ys = [point[0] for point in points], [point[1] for point in points]
    middle = (sum(xs) / len(xs), sum(ys) / len(ys))
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    shape = polygon(
        points, fill=f"url(#{pattern})", stroke=INK, stroke_width=1.5, stroke_dasharray="6 4"
    )
    return group(
        [
            shape,
            title(_("keep out: {name}", name=terms.area(area.name))),
            *_named(terms.area(area.name), middle, wide, high),
        ]
    )


def _named(name: str, middle: Point, wide: float, high: float) -> Iterable[Element]:
    """The name across its area, or along it where that is longer."""
    x, y = middle
    room = width_of(name, _WORDS)
    turned = high > wide
    if room > max(wide, high):
        return
    turn = {"transform": f"rotate(-90 {x:.2f} {y:.2f})"} if turned else {}
    yield rectangle((x - room / 2, y - 8), room, 16, fill=PAPER, rx=3, **turn)
    yield text((x, y + 5), name, fill=INK, font_size=_WORDS, text_anchor="middle", **turn)


def _way(frame: Upright, plan: Plan, one: DrawnFlight) -> Element:
    mouth = plan.launchers[one.feed.launcher].mouth_m
    look: dict[str, Value | None] = {"stroke": one.style.colour, "stroke_width": 2.6}
    look["stroke_dasharray"] = one.style.dash
    if not len(one.path_m):
        return line(frame.at(*mouth[:2]), frame.at(*one.feed.landing_m), **look)
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in (frame.at(a, b) for a, b, _ in one.path_m))
    return element("polyline", points=points, fill="none", **look)


def _receivers(frame: Upright, flights: Sequence[DrawnFlight]) -> Iterable[Element]:
    for place in sorted({one.feed.receiver_m for one in flights if one.feed.receiver_m}):
        x, y = frame.at(*place)
        yield group(
            [
                circle((x, y), 8, fill=PAPER, stroke=INK, stroke_width=2.4),
                circle((x, y), 2.6, fill=INK),
                title(_("the player waits here")),
            ]
        )


def _launcher(frame: Upright, plan: Plan, number: int) -> Element:
    launcher = plan.launchers[number]
    x, y = frame.at(*launcher.mouth_m[:2])
    turn = launcher.heading_deg + (180 if frame.behind_player else 0)
    shape = polygon(
        [(0, 0), (-9, 14), (-9, 20), (9, 20), (9, 14)], fill=INK,
        transform=f"translate({x:.2f} {y:.2f}) rotate({turn:.2f})",
    )  # fmt: skip
    return group([shape, title(launcher.name or p_("picture", "launcher"))])


def _labels(
    frame: Upright, plan: Plan, block: Block, flights: Sequence[DrawnFlight]
) -> Iterable[Element]:
    """Each feed's letter; beside the launchers their names, where there are several."""
    mouths = [frame.at(*plan.launchers[number].mouth_m[:2]) for number in block.launchers]
    names = [plan.launchers[n].name for n in block.launchers if len(plan.launchers) > 1]
    anchors = [*(frame.at(*one.feed.landing_m) for one in flights), *mouths[: len(names)]]
    sizes = [(width_of(one.style.letter, _LETTER) + 10, 23.0) for one in flights]
    sizes += [(width_of(name, _WORDS), 18.0) for name in names]
    taken = [Box.around(mouth, 44, 44) for mouth in mouths]
    waiting = {one.feed.receiver_m for one in flights if one.feed.receiver_m}
    taken += [Box.around(frame.at(*place), 20, 20) for place in sorted(waiting)]
    taken += [Box.around(middle, 18, 18) for middle in _middles(frame, plan, block)]
    boxes = place_labels(anchors, sizes, frame.box, taken, first_reach=23.0)
    for one, anchor, box in zip(flights, anchors, boxes, strict=False):
        yield line(anchor, box.centre, stroke=one.style.colour, stroke_width=1.6)
        yield _letter(one, box)
    for name, box in zip(names, boxes[len(flights) :], strict=True):
        x, y = box.centre
        wide = box.right - box.left
        yield rectangle((box.left, box.top), wide, box.bottom - box.top, fill=PAPER, rx=3)
        yield text((x, y + 5), name, fill=INK, font_size=_WORDS, text_anchor="middle")


def _letter(one: DrawnFlight, box: Box) -> Element:
    x, y = box.centre
    return group(
        [
            rectangle(
                (box.left, box.top), box.right - box.left, box.bottom - box.top, rx=5,
                fill=PAPER, stroke=one.style.colour, stroke_width=2.4,
            ),
            text(
                (x, y + _LETTER * 0.36), one.style.letter, fill=INK, font_size=_LETTER,
                font_weight="bold", text_anchor="middle",
            ),
        ]
    )  # fmt: skip


def _in_words(flights: Sequence[DrawnFlight]) -> str:
    """What the picture shows, for who cannot see it."""
    lands = joined("; ", (_lands(one) for one in flights))
    return _("The court: {balls}", balls=lands) if lands else _("The court")


def _lands(one: DrawnFlight) -> str:
    x_m, y_m = one.feed.landing_m
    parts = {
        "letter": one.style.letter,
        "feed": terms.feed(one.wish),
        "along": y_m,
        "across": abs(x_m),
    }
    if x_m > 0:
        return _(
            "{letter} {feed} lands {along:.1f} m past the net, {across:.1f} m to the ad side",
            **parts,
        )
    return _(
        "{letter} {feed} lands {along:.1f} m past the net, {across:.1f} m to the deuce side",
        **parts,
    )

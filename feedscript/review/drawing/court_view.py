"""The court from above: lines to scale, every feed's path, landing and scatter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.court.lines import Court
from feedscript.plan.model import Plan
from feedscript.plan.scene import Area, PlacedLauncher
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import Frame
from feedscript.review.drawing.labels import Box, place_labels
from feedscript.review.drawing.palette import INK, PAPER, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    Value,
    circle,
    element,
    group,
    line,
    polygon,
    polyline,
    rectangle,
    text,
    title,
    width_of,
)
from feedscript.tongues import terms
from feedscript.tongues.text import _, p_
from feedscript.tongues.tongue import Tongue

_GROUND = {
    "clay": ("#f4e7dc", "#ead3c0"),
    "grass": ("#e8f1e2", "#d3e4c8"),
    "carpet": ("#ecebf2", "#dcdae8"),
}
_PLAIN_GROUND = ("#eaf0f5", "#d6e3ee")
_LINE = "#46525c"
_LABEL_PX = 13.0
#: The ellipses drawn: standard deviations, and how they are painted.
_SIGMAS = ((3.0, 0.0, "4 3"), (1.0, 0.28, None))


def with_areas_told(plan: Plan, tongue: Tongue) -> Plan:
    """The plan with the names of its areas in a language: how long they are says what room the
    ground behind them needs."""
    replace = msgspec.structs.replace
    areas = (replace(area, name=tongue(terms.area(area.name))) for area in plan.keep_outs)
    return replace(plan, keep_outs=tuple(areas))


def court_view(
    frame: Frame,
    court: Court,
    surface: str | None,
    launchers: Sequence[PlacedLauncher],
    flights: Sequence[DrawnFlight],
    areas: Sequence[Area] = (),
    targets: Iterable[Element] = (),
) -> Element:
    """The whole view from above, in the frame's strip."""
    return group(
        [
            *_ground(frame, court, surface),
            *targets,
            *(_area(frame, area) for area in areas),
            *_words_on_court(frame, court),
            *(_path(frame, one) for one in flights),
            *(part for one in flights for part in _scatter(frame, one)),
            *_receivers(frame, flights),
            *(_launcher(frame, one, len(launchers) > 1) for one in launchers),
            *(one.style.draw_mark(frame.above(*one.feed.landing_m)) for one in flights),
            *_letters(frame, launchers, [one for one in flights if one.leads]),
        ]
    )


def _ground(frame: Frame, court: Court, surface: str | None) -> Iterable[Element]:
    around, inside = _GROUND.get(surface or "", _PLAIN_GROUND)
    box = frame.box(frame.plan_height)
    yield rectangle((box.left, box.top), box.right - box.left, frame.plan_height, fill=around)
    back, half = court.half_length_m, court.half_width_m
    wide = court.doubles_half_width_m or half
    yield _rectangle(frame, -wide, -back, wide, back, fill=inside, stroke=_LINE, stroke_width=1.6)
    if wide > court.singles_half_width_m:
        for x_m in (-court.singles_half_width_m, court.singles_half_width_m):
            yield _court_line(frame, x_m, -back, x_m, back)
    inner = court.singles_half_width_m
    for y_m in (-court.service_line_m, court.service_line_m):
        yield _court_line(frame, -inner, y_m, inner, y_m)
    yield _court_line(frame, 0, -court.service_line_m, 0, court.service_line_m)
    for y_m, inward in ((-back, 1), (back, -1)):
        yield _court_line(frame, 0, y_m, 0, y_m + inward * max(court.centre_mark_m, 0.2))
    net = court.net.support_x_m
    yield _court_line(frame, -net, 0, net, 0, stroke=INK, stroke_width=2.6)
    for x_m in (-net, net):
        yield circle(frame.above(x_m, 0), 3.2, fill=INK)


def _rectangle(
    frame: Frame, x0: float, y0: float, x1: float, y1: float, **paint: str | float
) -> Element:
    corners = [frame.above(x, y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    return polygon(corners, **paint)


def _court_line(
    frame: Frame, x0: float, y0: float, x1: float, y1: float, **paint: str | float
) -> Element:
    look = {"stroke": _LINE, "stroke_width": 1.4, **paint}
    return line(frame.above(x0, y0), frame.above(x1, y1), **look)


def _words_on_court(frame: Frame, court: Court) -> Iterable[Element]:
    look: dict[str, Value | None] = {
        "fill": SOFT_INK,
        "font_size": 11.0,
        "text_anchor": "middle",
    }
    edge = (court.doubles_half_width_m or court.half_width_m) - 0.28
    middle = court.half_length_m - 1.5
    for side, x_m in ((_("deuce side"), -edge), (_("ad side"), edge)):
        x, y = frame.above(x_m, middle)
        yield text((x, y + 4), side, **look)
    x, y = frame.above(-court.net.support_x_m, 0)
    yield text((x + 8, y + 4), p_("line", "net"), **{**look, "text_anchor": "start"})


def _area(frame: Frame, area: Area) -> Element:
    points = [frame.above(x, y) for x, y in area.outline_m]
    middle = (
        sum(x for x, _ in points) / len(points),
        sum(y for _, y in points) / len(points) + 4,
    )
    wide = max(x for x, _ in points) - min(x for x, _ in points)
    parts = [
        polygon(points, fill="url(#keep-out)", stroke=INK, stroke_width=1, stroke_dasharray="5 3"),
        title(_keep_out(area)),
    ]
    size, name = 11.0, terms.area(area.name)
    if width_of(name, size) <= wide:
        room = width_of(name, size)
        parts += [
            rectangle((middle[0] - room / 2, middle[1] - 11), room, 15, fill=PAPER, rx=3),
            text(middle, name, fill=INK, font_size=size, text_anchor="middle"),
        ]
    return group(parts)


def _keep_out(area: Area) -> str:
    name = terms.area(area.name)
    if area.height_m is None:
        return _("keep out: {area}", area=name)
    return _("keep out: {area}, up to {height:g} m", area=name, height=area.height_m)


def _path(frame: Frame, one: DrawnFlight) -> Element:
    look: dict[str, str | float | None] = {
        "stroke": one.style.colour,
        "stroke_width": 1.5,
        "stroke_opacity": 0.85,
        "stroke_dasharray": one.style.dash,
    }
    parts = [polyline([frame.above(x, y) for x, y, _ in one.path_m], **look)]
    if one.after_m is not None:
        after = {**look, "stroke_dasharray": "1.5 4", "stroke_linecap": "round"}
        parts.append(
            polyline([frame.above(x, y) for x, y, _ in frame.while_inside(one.after_m)], **after)
        )
    return group(parts)


def _scatter(frame: Frame, one: DrawnFlight) -> Iterable[Element]:
    ellipse = one.feed.scatter
    x, y = frame.above(*one.feed.landing_m)
    # The picture's horizontal is court y, its vertical court x: a turn from x towards y is
    # a turn from the vertical towards the horizontal.
    turn = 90.0 - ellipse.turn_deg
    for sigmas, fill, dash in _SIGMAS:
        yield element(
            "ellipse",
            cx=x,
            cy=y,
            rx=ellipse.major_m * sigmas * frame.scale,
            ry=ellipse.minor_m * sigmas * frame.scale,
            transform=f"rotate({turn:.2f} {x:.2f} {y:.2f})",
            fill=one.style.colour if fill else "none",
            fill_opacity=fill or None,
            stroke=one.style.colour,
            stroke_width=1.1,
            stroke_dasharray=dash,
        )
    if one.feed.within_m is not None and one.leads:
        yield circle(
            (x, y), one.feed.within_m * frame.scale, fill="none", stroke=INK, stroke_width=1,
            stroke_dasharray="1 3",
        )  # fmt: skip


def _receivers(frame: Frame, flights: Sequence[DrawnFlight]) -> Iterable[Element]:
    places = sorted({one.feed.receiver_m for one in flights if one.feed.receiver_m is not None})
    for place in places:
        x, y = frame.above(*place)
        yield group(
            [
                circle((x, y), 7, fill=PAPER, stroke=INK, stroke_width=1.6),
                circle((x, y), 2, fill=INK),
                title(_("receiver at {x:.1f}, {y:.1f} m", x=place[0], y=place[1])),
            ]
        )


def _launcher(frame: Frame, launcher: PlacedLauncher, named: bool) -> Element:
    x_m, y_m, z_m = launcher.mouth_m
    x, y = frame.above(x_m, y_m)
    turn = launcher.heading_deg
    shape = polygon(
        [(0, 0), (-16, -9), (-22, -9), (-22, 9), (-16, 9)],
        fill=INK,
        transform=f"translate({x:.2f} {y:.2f}) rotate({turn:.2f})",
    )
    words = launcher.name if named else p_("picture", "launcher")
    parts = [
        shape,
        title(_("{launcher}: mouth {z:.2f} m above the ground", launcher=launcher.name, z=z_m)),
        text((x - 12, y + 26), words, fill=INK, font_size=12, text_anchor="middle"),
    ]
    return group(parts)


def _letters(
    frame: Frame, launchers: Sequence[PlacedLauncher], leading: Sequence[DrawnFlight]
) -> Iterable[Element]:
    anchors = [frame.above(*one.feed.landing_m) for one in leading]
    sizes = [(width_of(one.style.letter, _LABEL_PX) + 9, 18.0) for one in leading]
    taken = [Box.around(frame.above(p.mouth_m[0], p.mouth_m[1]), 50, 50) for p in launchers]
    boxes = place_labels(anchors, sizes, frame.box(frame.plan_height), taken)
    yield from pills(leading, anchors, boxes)


def pills(
    feeds: Sequence[DrawnFlight], anchors: Sequence[Point], boxes: Sequence[Box]
) -> Iterable[Element]:
    """Each feed's letter on a light ground; the lines to their marks lie beneath them all."""
    for one, anchor, box in zip(feeds, anchors, boxes, strict=True):
        yield line(anchor, box.centre, stroke=one.style.colour, stroke_width=1)
    for one, box in zip(feeds, boxes, strict=True):
        yield _pill(one, box)


def _pill(one: DrawnFlight, box: Box) -> Element:
    x, y = box.centre
    return group(
        [
            rectangle(
                (box.left, box.top), box.right - box.left, box.bottom - box.top, rx=5,
                fill=PAPER, stroke=one.style.colour, stroke_width=1.6,
            ),
            text(
                (x, y + _LABEL_PX * 0.36), one.style.letter, fill=INK, font_size=_LABEL_PX,
                font_weight="bold", text_anchor="middle",
            ),
            title(terms.feed(one.wish)),
        ]
    )  # fmt: skip

"""The court from the side: how high each ball flies, and by how much it clears the net."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feedscript.court.lines import Court
from feedscript.plan.scene import PlacedLauncher
from feedscript.review.drawing.court_view import pills
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import MARGIN_LEFT, Frame
from feedscript.review.drawing.labels import Box, place_labels
from feedscript.review.drawing.palette import INK, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    group,
    line,
    polygon,
    polyline,
    rectangle,
    text,
    width_of,
)
from feedscript.tongues.text import _, p_

_LABEL_PX = 13.0


def side_view(
    frame: Frame,
    court: Court,
    launchers: Sequence[PlacedLauncher],
    flights: Sequence[DrawnFlight],
) -> Element:
    """The whole side view, in the frame's strip, at the scale of the view from above."""
    return group(
        [
            *_grid(frame),
            *_marks_on_ground(frame, court),
            *_net(frame, court),
            *(_path(frame, one) for one in flights),
            *(_stand(frame, launcher) for launcher in launchers),
            *(one.style.draw_mark(_foot(frame, one), 4) for one in flights),
            *_letters(frame, [one for one in flights if one.leads and len(one.path_m)]),
        ]
    )


def _grid(frame: Frame) -> Iterable[Element]:
    box = frame.box(frame.side_height)
    yield rectangle((box.left, box.top), box.right - box.left, frame.side_height, fill="#f7f9fa")
    step = 1 if frame.reach.z_max_m <= 8 else 2
    for metres in range(0, int(frame.reach.z_max_m) + 1, step):
        y = frame.aside(0, metres)[1]
        ink = INK if metres == 0 else RULE
        yield line((box.left, y), (box.right, y), stroke=ink, stroke_width=1.6 if not metres else 1)
        yield text(
            (MARGIN_LEFT - 8, y + 4), f"{metres} m", fill=SOFT_INK, font_size=11, text_anchor="end"
        )


def _marks_on_ground(frame: Frame, court: Court) -> Iterable[Element]:
    names = (
        (_("baseline"), -court.half_length_m),
        (_("service line"), -court.service_line_m),
        (p_("line", "net"), 0.0),
        (_("service line"), court.service_line_m),
        (_("baseline"), court.half_length_m),
    )
    for name, y_m in names:
        x, y = frame.aside(y_m, 0)
        yield line((x, y), (x, y + 6), stroke=INK, stroke_width=1.4)
        yield text((x, y + 19), name, fill=SOFT_INK, font_size=11, text_anchor="middle")


def _net(frame: Frame, court: Court) -> Iterable[Element]:
    middle, foot = frame.aside(0, court.net.centre_m), frame.aside(0, 0)
    post = frame.aside(0, court.net.support_m)
    yield line(foot, post, stroke=SOFT_INK, stroke_width=1.2)
    yield line(foot, middle, stroke=INK, stroke_width=4)


def _path(frame: Frame, one: DrawnFlight) -> Element:
    look: dict[str, str | float | None] = {
        "stroke": one.style.colour,
        "stroke_width": 1.8,
        "stroke_dasharray": one.style.dash,
    }
    parts = [polyline([frame.aside(y, z) for _, y, z in one.path_m], **look)]
    if one.after_m is not None:
        after = {
            **look,
            "stroke_width": 1.4,
            "stroke_dasharray": "1.5 4",
            "stroke_linecap": "round",
        }
        parts.append(
            polyline([frame.aside(y, z) for _, y, z in frame.while_inside(one.after_m)], **after)
        )
    return group(parts)


def _stand(frame: Frame, launcher: PlacedLauncher) -> Element:
    _, y_m, z_m = launcher.mouth_m
    (x, mouth), (_, ground) = frame.aside(y_m, z_m), frame.aside(y_m, 0)
    shape = [(x, mouth - 4), (x, mouth + 4), (x - 8, mouth + 8), (x - 4, ground), (x - 18, ground),
             (x - 14, mouth + 8), (x - 16, mouth - 8)]  # fmt: skip
    return polygon(shape, fill=INK)


def _foot(frame: Frame, one: DrawnFlight) -> Point:
    return frame.aside(one.feed.landing_m[1], 0.033)


def _letters(frame: Frame, leading: Sequence[DrawnFlight]) -> Iterable[Element]:
    """Letters at the tops of the flights, each clear of the net's and the others' letters."""
    anchors = []
    for one in leading:
        top = one.path_m[one.path_m[:, 2].argmax()]
        anchors.append(frame.aside(float(top[1]), float(top[2])))
    sizes = [(width_of(one.style.letter, _LABEL_PX) + 9, 18.0) for one in leading]
    x, y = frame.aside(0, 0)
    net = Box(x - 6, y - 60, x + 6, y)
    boxes = place_labels(anchors, sizes, frame.box(frame.side_height), [net], first_reach=15)
    yield from pills(leading, anchors, boxes)
